"""The read-back of pages: what it takes for shown is what the HTML standard says is shown, however a page is spoilt.

The reference is tinyhtml5, which builds the tree of a page by the rules of the standard (WHATWG HTML, 13.2.6) as a
browser does; it shares no code with libxml2 or the parser of Python.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tinyhtml5
from hypothesis import given, settings
from hypothesis import strategies as st
from site_pages import page

from builder.compose.document import Document, Must
from builder.readback.site.page import read_back, shown_by

PAGE = "<!doctype html>\n<html lang=en><head><title>t</title></head><body>{}</body></html>\n"
GOOD = '<main id="main"><p>one</p><ul><li>two</li></ul><p><a href="#main">three</a><br>four</p></main>'
WORDS = "one two three four"


def by_the_standard(text: str) -> list[str]:
    """The words outside what is never shown, as a browser has them in its tree."""
    tree = tinyhtml5.parse(text, namespace_html_elements=False)
    return " ".join(_visible(tree)).split()


def _visible(element: Any) -> Iterator[str]:
    name = element.tag.rpartition("}")[2] if isinstance(element.tag, str) else "comment"
    silent = {"comment", "script", "style", "template", "title", "svg", "details", "dialog", "noscript", "iframe"}
    if name not in silent and "hidden" not in element.attrib:
        yield element.text or ""
        for kid in element:
            yield from _visible(kid)
            yield kid.tail or ""


def shown(body: str) -> list[str]:
    return " ".join(shown_by(PAGE.format(body).encode()).words).split()


def problems(body: str, folder: Path, *musts: str) -> tuple[str, ...]:
    path = folder / "page.html"
    path.write_text(PAGE.format(body), encoding="utf-8")
    told = tuple(Must("step", text, text) for text in musts)
    return read_back(Document("page", "", "page.html", "", musts=told), path).problems


def test_a_good_page_has_no_problems(tmp_path: Path) -> None:
    assert problems(GOOD, tmp_path, *WORDS.split()) == ()


@pytest.mark.parametrize(
    "body",
    [
        GOOD.replace("<p>one", "<p hidden>one"),
        GOOD.replace("<p>one", "<p hidden=until-found>one"),
        GOOD.replace("one", "<!-- one -->"),
        *(
            GOOD.replace("one", f"<{tag}>one</{tag}>")
            for tag in (
                "script", "style", "template", "svg", "details", "dialog", "noscript", "iframe", "object", "video",
                "audio", "canvas", "datalist", "title",
            )
        ),
        GOOD.replace("one", "<details><summary>more</summary><p>one</p></details>"),
        GOOD.replace("<main", "<details/><main"),
        GOOD.replace("<main", "<div hidden><main"),
        GOOD.replace("<main", "<template><main"),
        GOOD.replace("<p>one</p>", '<p title="one"></p>'),
        GOOD.replace("one", "<textarea>one</textarea>"),
        GOOD.replace("one", "").replace("main\">", "main\"><b hidden title='</'><p>one</p></b>", 1),
        GOOD.replace("one", "").replace("main\">", "main\"><b hidden><p>one</p><!-- </b> -->", 1),
        GOOD.replace("one", "o"),
    ],
)  # fmt: skip
def test_what_is_hidden_missing_or_out_of_order_is_named(body: str, tmp_path: Path) -> None:
    found = problems(body, tmp_path, *WORDS.split())
    assert any("(“one”) " in problem for problem in found), found


@pytest.mark.parametrize(
    ("body", "say"),
    [
        (GOOD.replace("<p>one</p>", "").replace("four", "four one"), "(“four”) stands before what it should follow"),
        ("<div><p>one</p>", "the tag <div> of line 2 is not closed where it should be"),
        ("<div><section>one</div></section>", "the tag <section> of line 2 is not closed where it should be"),
        ("<b><i>one</b></i>", "the tag <i> of line 2 is not closed where it should be"),
        ("one</div>", "the tag </div> in line 2 closes nothing"),
        ("<p>two<!-- > one --</p>", "the page ends within a tag or a comment that begins in line 2"),
        ('<p>one</p><a href="', "the page ends within a tag or a comment that begins in line 2"),
        ("<div/>one", "the tag <div> of line 2 is not closed where it should be"),
        ("<p>one<ul><li>x</li></ul></p></p>", "the tag </p> in line 2 closes nothing"),
        ('<p id="a">one</p><p id="a">x</p>', "the mark 'a' stands 2 times"),
        ('<a href="#b">one</a>', "the link '#b' leads nowhere"),
        ('<a href="#">one</a>', "the link '#' leads nowhere"),
        ('<a href="gone.html#x">one</a>', "the link 'gone.html#x' leads to a file that was not published"),
        ('<a href="/etc/hostname">one</a>', "the link '/etc/hostname' leads to a file that was not published"),
        ('one<img src="gone.png" alt="">', "'gone.png' is shown and was not published"),
        ('one<img src="//example.org/a.png" alt="">', "'//example.org/a.png' would be fetched from elsewhere"),
        ('one<script src="https://example.org/a.js"></script>', "would be fetched from elsewhere"),
        ('one<img src="https://example.org/a.png" alt=""/>', "would be fetched from elsewhere"),
    ],
)
def test_a_spoilt_page_is_caught_and_named(body: str, say: str, tmp_path: Path) -> None:
    found = problems(body, tmp_path, *(WORDS.split() if "four" in body else ["one"]))
    assert any(say in problem for problem in found), found


@pytest.mark.parametrize(
    "body",
    [
        "<ul><li>one<li>two</ul><p>three<p>four",
        "<b><p>one</p></b><p>two three</p>four",
        '<p title="</p><b">one</p>two three four',
        "<p>one &lt; two</p><!-- </div> < -->three<svg><g/><path d=''/></svg>four",
        "<table><tr><td>one<td>two</table>three<br/>four",
    ],
)
def test_what_the_standard_allows_is_no_problem(body: str, tmp_path: Path) -> None:
    assert problems(body, tmp_path, *WORDS.split()) == ()
    assert shown(body) == by_the_standard(PAGE.format(body))


def test_published_pages_show_what_a_browser_shows(site: Path) -> None:
    pages = list(site.rglob("*.html"))
    assert len(pages) > 5
    for path in pages:
        if path.name == "example.html":  # the single file, whose words are those of the page
            continue
        assert "".join(shown_by(path.read_bytes()).words).split() == "".join(_text(page(site, path))).split()


def _text(tree: Any) -> Iterator[str]:
    yield from tree.xpath(
        "//text()[not(ancestor::*[@hidden or self::script or self::style or self::title or self::template"
        " or self::details[not(@open)] or self::dialog or local-name()='svg'])]"
    )


_HTML = st.recursive(
    st.sampled_from(["w1 ", "w2 ", "w3 ", "<br>", "&amp; ", "<img alt=x src=y>", "<svg><path d=''/></svg>"]),
    lambda inner: st.tuples(
        st.sampled_from(
            ["p", "div", "section", "ul", "li", "b", "a", "details", "table", "td", "h2", "div hidden", "template"]
        ),
        st.lists(inner, max_size=4),
    ).map(lambda both: f"<{both[0]}>{''.join(both[1])}</{both[0].split()[0]}>"),
    max_leaves=20,
)


@settings(max_examples=400)
@given(body=_HTML, lost=st.sets(st.integers(0, 40), max_size=2), twice=st.sets(st.integers(0, 40), max_size=1))
def test_nothing_is_taken_for_shown_that_a_browser_hides(body: str, lost: set[int], twice: set[int]) -> None:
    """Tags are left out and doubled: either the page is called spoilt, or each word taken for shown is shown."""
    tags = re.findall(r"<[^>]*>|[^<]+", body)
    spoilt = "".join(tag * (2 if place in twice else 1) for place, tag in enumerate(tags) if place not in lost)
    raw = PAGE.format(spoilt)
    found = shown_by(raw.encode())
    if not found.spoilt:
        visible = by_the_standard(raw)
        for word in ("w1", "w2", "w3"):
            assert " ".join(found.words).split().count(word) <= visible.count(word), raw

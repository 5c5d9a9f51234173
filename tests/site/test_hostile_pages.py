"""What an educator, or someone who sent a module, writes is shown as text and never acts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from publishing import publish_site
from site_pages import page

# Names of the usual ways in, from memory of the OWASP XSS Filter Evasion Cheat Sheet.
PAYLOADS = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<svg onload=alert(1)>",
    "<svg><script>alert(1)</script></svg>",
    "<iframe src=javascript:alert(1)></iframe>",
    "<a href=javascript:alert(1)>x</a>",
    "<a href=' &#14; javascript:alert(1)'>x</a>",
    "<math><mtext></p><img src=x onerror=alert(1)></mtext></math>",
    "</div></div><script>alert(1)</script>",
    "</main><meta http-equiv=refresh content='0;url=//evil.example'>",
    "<base href=//evil.example>",
    "<form action=//evil.example><button>x</button></form>",
    "<style>@import '//evil.example'</style>",
    "<link rel=stylesheet href=//evil.example>",
    "<object data=//evil.example></object>",
    "<embed src=//evil.example>",
    "<details open ontoggle=alert(1)>x</details>",
    "<input autofocus onfocus=alert(1)>",
    "<video><source onerror=alert(1)></video>",
    "<body onload=alert(1)>",
    "<p style='position:fixed;inset:0'>x</p>",
    "<![CDATA[<script>alert(1)</script>]]>",
    "<!--><script>alert(1)</script>-->",
    "<noscript><p title='</noscript><img src=x onerror=alert(1)>'></noscript>",
    "{{ 7 * 7 }}{% raw %}",
    "{{ config.__class__ }}",
    "\\x3cscript\\x3ealert(1)",
    "' onmouseover='alert(1)",
    '" onmouseover="alert(1)',
    "[x](javascript:alert(1))",
    "![x](//evil.example/x.png)",
    "<x:script xmlns:x='http://www.w3.org/1999/xhtml'>alert(1)</x:script>",
    "\u2028alert(1)\u2029",
    "wzxhzdk:0 \\x02klzzwxh:0000\\x03",
)
PLACES = (
    ("content/procedures/example/procedure.md", "title"),
    ("content/procedures/example/procedure.md", "summary"),
    ("content/procedures/example/steps/open-canal.md", "title"),
    ("content/procedures/example/steps/open-canal.md", "cue"),
    ("content/procedures/example/cautions/nerve-injury.md", "hazard"),
    ("content/procedures/example/aftercare/drain-out.md", "patient_text"),
    ("content/department.md", "name"),
)
SAFE_TAGS = {
    "a", "abbr", "b", "blockquote", "body", "br", "caption", "circle", "code", "details", "div", "em", "figcaption",
    "figure", "footer", "g", "h1", "h2", "h3", "h4", "h5", "h6", "head", "header", "hr", "html", "i", "img", "li",
    "link", "main", "meta", "nav", "ol", "p", "path", "pre", "rect", "script", "section", "span", "strong", "sub",
    "summary", "sup", "svg", "table", "tbody", "td", "text", "th", "thead", "title", "tr", "ul",
}  # fmt: skip


def put(path: Path, key: str, value: str) -> None:
    quoted = value.replace("'", "''")
    text, count = re.subn(rf"^{key}: .*$", lambda _: f"{key}: '{quoted}'", path.read_text(), flags=re.MULTILINE)
    assert count == 1
    path.write_text(text)


def problems(to: Path, name: str) -> list[str]:
    tree = page(to, name)
    found = [f"<{one.tag}>" for one in tree.iter() if isinstance(one.tag, str) and one.tag not in SAFE_TAGS]
    found += [
        f"@{key}" for one in tree.iter() for key in one.attrib if key.startswith("on") or key in ("style", "srcdoc")
    ]
    found += [
        link
        for link in tree.xpath("//@href | //@src")
        if re.match(r"\s*(javascript|data|vbscript):|//", link, re.IGNORECASE)
    ]
    found += ["details"] * len(tree.xpath("//details[not(starts-with(@class, 'more'))]"))
    found += ["script"] * (len(tree.xpath("//script[not(@src)][not(@type='application/ld+json')]")))
    found += ["meta"] * len(tree.xpath("//body//meta | //body//link | //meta[@http-equiv]"))
    return found


@pytest.mark.parametrize("place", PLACES, ids=lambda place: f"{Path(place[0]).stem}-{place[1]}")
def test_front_matter_is_shown_as_it_was_written(base: Path, to: Path, place: tuple[str, str]) -> None:
    file, key = place
    value = " ".join(PAYLOADS)
    put(base / file, key, value)
    publish_site(base, to)
    for name in ("index.html", "example/index.html"):
        assert problems(to, name) == [], name
    shown = " ".join(page(to, "example/index.html").text_content().split())
    assert "<script>alert(1)</script>" in shown
    assert "{{ 7 * 7 }}" in shown


@pytest.mark.parametrize("payload", PAYLOADS)
def test_prose_is_cleaned(base: Path, to: Path, payload: str) -> None:
    for file in (
        "content/procedures/example/procedure.md",
        "content/procedures/example/steps/open-canal.md",
        "content/department.md",
    ):
        path = base / file
        path.write_text(f"{path.read_text()}\n\n{payload}\n\n- {payload}\n")
    publish_site(base, to)
    for name in ("index.html", "example/index.html"):
        assert problems(to, name) == [], name
    assert page(to, "example/index.html").xpath("//main//h2[@id='steps']"), "the page goes on behind the payload"

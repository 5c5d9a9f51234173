"""The phone card: the whole plan on one small page, which needs nothing and says until when it is good."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from cards import demo
from department import BASE, DEMO, DEMO_IDS
from papers import changed, library, renderer

from builder.compose.card import phone_card
from builder.compose.card.card_plan import LEVELS, plan_of
from builder.compose.document import Document
from builder.compose.site.hosting import hash_of
from builder.load.templates import load_templates
from builder.publish.build_report import FileRead
from builder.publish.site.site import SingleFiles
from builder.readback.card.phone_card import read_back


def proved(document: Document, text: str, folder: Path) -> FileRead:
    path = folder / "phone-card.html"
    path.write_text(text, encoding="utf-8")
    return read_back(document, path)


@pytest.mark.parametrize("id", DEMO_IDS)
def test_it_shows_the_whole_plan_in_at_most_60_kb(id: str, tmp_path: Path) -> None:
    procedure = demo().by_id[id]
    document = phone_card.compose(demo(), procedure, renderer(DEMO))
    assert proved(document, document.text, tmp_path).problems == ()
    assert len(document.text.encode()) <= 60_000
    plan = plan_of(demo(), procedure)
    shown = [must for must in document.musts if must.kind not in ("status", "good-until", "code")]
    assert shown == [must for line in plan for must in line.musts(LEVELS[-1])]
    for caution in procedure.cautions.values():
        assert caution.avoid in document.text.replace("&#39;", "'").replace("\u00a0", " ")


@pytest.mark.parametrize("id", DEMO_IDS)
def test_every_number_of_it_is_tapped_to_call(id: str) -> None:
    text = phone_card.compose(demo(), demo().by_id[id], renderer(DEMO)).text
    called = re.findall(r'<a href="tel:(\d+)">extension\s(\d+)</a>', text)
    assert called
    assert all(dialled == told for dialled, told in called)
    assert len(called) == len(re.findall(r"extension\s\d", text))


def test_it_says_until_when_it_is_good() -> None:
    procedure = demo().procedures[0]
    assert "Good until 31 May 2028" in phone_card.compose(demo(), procedure, renderer(DEMO)).text
    open_end = phone_card.compose(demo(), changed(procedure, review_by=None), renderer(DEMO))
    assert "No day is set until which this card is good" in open_end.text


def test_it_fetches_nothing_and_its_policy_lets_its_style_in() -> None:
    text = phone_card.compose(library(), library().procedures[0], renderer()).text
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert style
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy
    assert hash_of(style[1]) in policy[1].replace("&#39;", "'")
    assert not re.search(r"<(img|script|link|iframe)|url\(|@import", text)
    assert hash_of(style[1]) in SingleFiles(BASE, load_templates(BASE)).site_policy, "a server lets it in too"
    size = re.search(r"html \{ font: ([\d.]+)rem", style[1])
    assert size
    assert float(size[1]) > 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (r'<li id="caution-toxic-dose".*?</li>', "", "is not there"),
        (r'<p class="act">.*?</p>', "", "is not there"),
        (r'<p class="cue">.*?</p>', "", "is not there"),
        (r'<p class="until">.*?</p>', "", "good until"),
        (r'<ul>', "<details><summary>More</summary><ul>", "is not there"),
        (r"</main>", "<script>x</script></main>", "script"),
        (r"</main>", '<img alt="" src="https://example.org/x.png"></main>', "fetched from elsewhere"),
        (r"</main>", f"<p>{'x' * 60_000}</p></main>", "at most 60 kB"),
    ],
)  # fmt: skip
def test_a_phone_card_that_lost_something_is_refused(old: str, new: str, said: str, tmp_path: Path) -> None:
    document = phone_card.compose(library(), library().procedures[0], renderer())
    text, count = re.subn(old, new, document.text, count=1, flags=re.DOTALL)
    assert count == 1
    problems = proved(replace(document, text=text), text, tmp_path).problems
    assert any(said in problem for problem in problems), problems

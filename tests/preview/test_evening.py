"""A talk becomes a module that is published, in an evening: by plain forms, by keys alone, by touch alone on a phone.

The talks are those that were never learned from (``tests/drafts/talks/apart``) and two written for this (``talks/``).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from drafts.labelled import FOLDER, Talk, talks
from publishing import publish_site
from walks import Hand, KeyHand, PlainHand, TouchHand, Walk

_Told = tuple[str, str, dict[str, str]]
"""The operation, the words of the talk, and what was misheard with what was meant."""


def _with_times(talk: Talk) -> str:
    lines, at = [], 5
    for sentence in talk.sentences:
        lines.append(f"[{at // 60}:{at % 60:02}] {sentence.said}")
        at += max(3, len(sentence.said.split()) // 2)
    return "\n".join(lines)


def _talks() -> Iterator[tuple[str, _Told]]:
    for path in sorted((Path(__file__).parent / "talks").glob("*.md")):
        yield path.stem, (path.stem.replace("-", " ").capitalize(), path.read_text(encoding="utf-8"), {})
    for talk in talks(FOLDER / "apart"):
        meant = {heard: said for sentence in talk.sentences for heard, said in sentence.misheard}
        yield talk.name, (talk.head["operation"], _with_times(talk), meant)


TALKS = dict(_talks())


def walked(room: Any, hand: Hand, name: str, to: Path) -> Walk:
    """Go the whole way with a talk and publish what came of it."""
    title, words, meant = TALKS[name]
    walk = Walk(room, hand, title, meant)
    walk.all(words)
    print(f"{name}: {dict(hand.used)}, errors {walk.first} at first, {len(walk.errors())} at the end")
    assert walk.first > 0, "nothing was to be put right"
    assert walk.errors() == []
    made = {one.kind for one in publish_site(room.root, to, ("site", "card")).artefacts}
    assert {"page", "card"} <= made
    return walk


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(TALKS))
def test_every_talk_is_published_after_presses_alone(name: str, preview: Any, to: Path) -> None:
    walked(preview, PlainHand(preview), name, to)


@pytest.fixture
def phone(browser: Any, preview: Any) -> Iterator[Any]:
    """A phone of 390 px that has been let in; a press of a mouse fails the test."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    yield from _let_in(context, preview)


@pytest.fixture
def keys(browser: Any, preview: Any) -> Iterator[Any]:
    """A browser that has been let in and has no mouse."""
    yield from _let_in(browser.new_context(viewport={"width": 1280, "height": 900}), preview)


_NO_MOUSE = """addEventListener('pointerdown', event => {
  if (event.pointerType === 'mouse') { throw new Error('a mouse was used'); }
}, true);"""


def _let_in(context: Any, preview: Any) -> Iterator[Any]:
    opened, said = context.new_page(), []
    opened.add_init_script(_NO_MOUSE)
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.goto(preview.server.gate.address)
    opened.wait_for_url(f"{preview.home}/")
    opened.wait_for_selector("a[href$='/new']")
    yield opened
    context.close()
    assert said == []


@pytest.mark.slow
def test_keys_alone_lead_from_a_talk_to_a_site(keys: Any, preview: Any, to: Path) -> None:
    hand = KeyHand(preview, keys)
    walked(preview, hand, "meckels-diverticulectomy", to)
    assert set(hand.used) == {"keys"}


@pytest.mark.slow
def test_touch_alone_leads_from_a_talk_to_a_site(phone: Any, preview: Any, to: Path) -> None:
    hand = TouchHand(preview, phone)
    walked(preview, hand, "branchial-cyst-excision", to)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert hand.used["taps"] > 0

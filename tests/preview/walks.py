"""A whole evening in the preview, from a talk to a module that can be published, by different hands.

What is pressed is decided once (``Walk``), from what the screens offer: names are told apart, every step is read, what
was left unsaid is answered, and what was found is put right with the first answer that is offered, or the action that
nobody does is taken out. How it is pressed is up to the hand: plain forms without a script, keys alone, or touch alone.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import Any, Protocol
from urllib.parse import urlencode

from lxml import html

from builder.findings.finding import Severity

_DEEDS = ("sees.", "counts.", "controls.", "comes_out.", "comes_off.", "closes.", "went_in.")
_MOST = 400


class Hand(Protocol):
    """Presses what a screen shows, and counts it in ``used``."""

    used: Counter[str]

    def begin(self, title: str, talk: str) -> None:
        """Draft a procedure from words that are pasted."""

    def go(self, screen: str) -> None:
        """Go to another screen of the procedure."""

    def page(self) -> str:
        """Return what is shown."""

    def press(self, value: str) -> None:
        """Press the button of that value."""


class Walk:
    """One procedure on its way; ``meant`` are mishearings with what was said."""

    def __init__(self, room: Any, hand: Hand, title: str, meant: dict[str, str]) -> None:
        self.room, self.hand, self.title, self.meant = room, hand, title, meant
        self.first = self.pressed = 0

    def errors(self) -> list[str]:
        """Return what stops the procedure from being published."""
        return [str(one.message) for one in self.room.shop.state.findings if one.severity is Severity.ERROR]

    def all(self, talk: str) -> None:
        """Go the whole way."""
        self.hand.begin(self.title, talk)
        self.first = len(self.errors())
        self.tell_names_apart()
        self.read()
        self.hand.go("asked")
        self.answer()
        self.hand.go("found")
        self.put_right()
        self.hand.go("done")

    def _shown(self) -> html.HtmlElement:
        return html.fromstring(self.hand.page())

    def _press(self, value: str) -> None:
        self.pressed += 1
        assert self.pressed < _MOST, f"it never ends: {value}"
        self.hand.press(value)

    def tell_names_apart(self) -> None:
        """Answer what was misheard, and what new names are: the first kind that is offered."""
        while asked := self._shown().xpath("//button[@data-digit='1']/@value"):
            heard, is_misheard = asked[0].partition(":")[2], asked[0].startswith("meant:")
            name = self._shown().xpath("//button[@data-digit='1']")[0].text_content().partition("Yes, ")[2]
            is_right = any(heard.casefold() in one and name.casefold() in what for one, what in self.meant.items())
            self._press(asked[0] if is_right or not is_misheard else f"heard:{heard}")

    def read(self) -> None:
        """Accept every part as common practice, in order."""
        while parts := self._shown().xpath("//button[@data-key='p' or (@data-key='s' and not(../button[2]))]/@value"):
            self._press(parts[0])

    def answer(self) -> None:
        """Answer the questions that the analysis asks, each once."""
        tried: set[tuple[str, ...]] = set()
        while True:
            shown = self._shown()
            key, picks = shown.xpath("//input[@name='key']/@value"), shown.xpath("//button[@data-digit='1']/@value")
            here = tuple(shown.xpath("//h2/label/text()"))
            if not picks or not key[0].startswith(_DEEDS) or here in tried:
                return
            tried.add(here)
            self._press(picks[0])

    def put_right(self) -> None:
        """Answer beside each error; where the first answer does not help, the next, and at last take the action out."""
        tried: set[tuple[str, ...]] = set()
        while asked := self._shown().xpath("//form[contains(@class, 'rd-ask')]"):
            error, offered = asked[0].get("aria-label"), asked[0].xpath(".//button[@data-digit]/@value")
            value = next((one for one in offered if (error, one) not in tried), offered[-1])
            tried.add((error, value))
            self._press(value)


class PlainHand:
    """A browser without scripts: every press sends one plain form."""

    def __init__(self, room: Any) -> None:
        self.room, self.used, self.at, self.shown = room, Counter[str](), "", ""

    def _send(self, path: str, fields: dict[str, str]) -> None:
        form = "application/x-www-form-urlencoded"
        answer = self.room.send("POST", path, urlencode(fields).encode(), Content_Type=form)
        self.used["clicks"] += 1
        self.at = answer.headers.get("location", self.at).partition("#")[0]
        self.shown = self.room.send("GET", self.at).text if answer.status == 303 else answer.text

    def begin(self, title: str, talk: str) -> None:
        self._send(f"{self.room.shop.home}/new", {"title": title, "outline": talk})
        self.used["keys"] += len(title) + 1
        assert "/read/" in self.at, self.shown

    def go(self, screen: str) -> None:
        self.at = re.sub(r"/\w+/([\w-]+)(\?.*)?$", rf"/{screen}/\1", self.at)
        self.shown = self.room.send("GET", self.at).text
        self.used["clicks"] += 1

    def page(self) -> str:
        return self.shown

    def press(self, value: str) -> None:
        button = next(one for one in html.fromstring(self.shown).iter("button") if one.get("value") == value)
        form = button.getparent()
        while form is not None and form.tag != "form":
            form = form.getparent()
        held = (
            {}
            if button.get("form") or form is None
            else {one.name: one.value or "" for one in form.iter("input", "textarea")}
        )
        self._send(self.at.partition("?")[0], {**held, "do": value})


class TabHand:
    """A person at a browser; ``tab`` is an open page of it."""

    def __init__(self, room: Any, tab: Any) -> None:
        self.room, self.tab, self.used = room, tab, Counter[str]()

    def page(self) -> str:
        return str(self.tab.content())

    def begin(self, title: str, talk: str) -> None:
        self.on("a[href$='/new']")
        self.tab.wait_for_selector("#pv-title")
        for field, words in (("#pv-title", title), ("#pv-outline", talk)):
            self.to(field)
            self.tab.keyboard.insert_text(words)
            self.used["keys"] += 1 if "\n" in words else len(words)  # the talk is pasted
        self.on("#pv-new button")
        self.tab.wait_for_url("**/read/**")
        self.tab.wait_for_selector("#rd")

    def go(self, screen: str) -> None:
        self.on(f".pv-tabs a[href*='/{screen}/']")
        self.tab.wait_for_url(f"**/{screen}/**")
        self.tab.wait_for_selector("#rd")

    def press(self, value: str) -> None:
        with self.tab.expect_response(lambda answer: answer.request.method == "POST"):
            self.on(f"button[value={_quoted(value)}]")
        self.tab.wait_for_selector("#rd:not([inert])")

    def on(self, selector: str) -> None:
        """Press what ``selector`` names."""
        raise NotImplementedError

    def to(self, selector: str) -> None:
        """Go into a field."""
        self.on(selector)


class TouchHand(TabHand):
    """A finger on a phone: taps, and nothing else."""

    def on(self, selector: str) -> None:
        self.tab.locator(selector).first.tap()
        self.used["taps"] += 1


class KeyHand(TabHand):
    """Keys alone: Tab and Enter, and the keys that the screens tell of."""

    _IS_AT = "words => document.activeElement.matches(words)"
    _KEY = "words => document.querySelector(words).getAttribute('data-key')"
    _DIGIT = """words => {
      const wanted = document.querySelector(words), box = document.activeElement.closest('.rd-ask, .rd-question');
      return box && box.contains(wanted) ? wanted.getAttribute('data-digit') : null;
    }"""

    def key(self, name: str) -> None:
        """Press a key."""
        self.tab.keyboard.press(name)
        self.used["keys"] += 1

    def to(self, selector: str) -> None:
        for _ in range(_MOST):
            if self.tab.evaluate(self._IS_AT, selector):
                return
            self.key("Tab")
        raise AssertionError(f"the keyboard never comes to {selector}")

    def on(self, selector: str) -> None:
        key = self.tab.evaluate(self._KEY, selector)
        is_first = key in ("p", "s")  # the part that is not read is where these keys go
        for _ in range(_MOST):
            digit = self.tab.evaluate(self._DIGIT, selector)
            if is_first or digit or self.tab.evaluate(self._IS_AT, selector):
                self.key(key if is_first else digit or "Enter")
                return
            self.key("Tab")
        raise AssertionError(f"the keyboard never comes to {selector}")


def _quoted(value: str) -> str:
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'

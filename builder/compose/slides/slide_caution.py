"""A caution among slides: on a slide of its own before its step, in two lines on the step's slide, or in one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder.compose.slides.slide import Cite, Sketch, SlidePart, SpeakerNote, Speech, filled
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_words import cites_in, is_practice, joined, said, stopped
from builder.compose.view.head import call_of
from builder.compose.view.outline import GRAVITY
from builder.compose.view.view import CautionView, ReferenceView, ReminderView
from builder.compose.view.words import uncapital
from builder.model.library import Library
from builder.model.pages import Signal


class CautionSlides:
    """Puts cautions on the slides of one talk, whose sources are numbered as in ``references``."""

    def __init__(self, library: Library, references: Sequence[ReferenceView]) -> None:
        self.library = library
        self.references = references

    def alone(self, caution: CautionView, block: str, eyebrow: str) -> Sketch:
        """Return the slide of ``caution`` that stands before ``block``."""
        return Sketch(
            "caution", caution.anchor, block, caution.hazard, self._speech(caution), eyebrow, caution.signal_word,
            signal=caution.signal,
            parts=(SlidePart("consequence", caution.consequence), SlidePart("avoid", caution.avoid, "Avoid it")),
            backing=self._cites(caution), practice=is_practice(caution.cites_html),
        )  # fmt: skip

    def beside(self, step: Sketch, caution: CautionView) -> Sketch | None:
        """Return ``step`` with ``caution`` on its slide, and what is said of both; None where they do not fit."""
        part = SlidePart("caution", joined(caution.hazard, caution.avoid), caution.signal_word, caution.signal)
        whole = replace(step, parts=(part, *step.parts), signal=caution.signal)
        if not fits(whole):
            return None
        own, speech = self._speech(caution), step.speech
        told = replace(speech, short=joined(own.short, speech.short), full=joined(own.full, speech.full))
        return replace(whole, speech=told, backing=tuple(dict.fromkeys((*self._cites(caution), *step.backing))))

    def _speech(self, caution: CautionView) -> Speech:
        """Return what threatens, what comes of it and how it is avoided; in full all of it."""
        lead = f"{caution.signal_word}: {uncapital(caution.hazard)}"
        call = call_of(self.library, caution.call)
        short = joined(lead, caution.consequence, caution.avoid)
        shows = caution.sign and f"How it shows: {caution.sign}"
        then = caution.if_it_happens and f"If it happens: {caution.if_it_happens}"
        called = f"Call: {call.role}, {call.number}" if call else ""
        return Speech(short, joined(short, shows, then, called, said(caution.body_html)))

    def _cites(self, caution: CautionView) -> tuple[Cite, ...]:
        return cites_in((caution.cites_html, caution.body_html), self.references)


def reminded(step: Sketch, guarding: Sequence[CautionView | ReminderView]) -> Sketch:
    """Return ``step`` with each of ``guarding`` in a line, the gravest first; what does not fit goes to the notes."""
    left = []
    for caution in sorted(guarding, key=lambda caution: GRAVITY[Signal(caution.signal)]):
        part = SlidePart("reminder", caution.hazard, caution.signal_word, caution.signal)
        at = len(step.parts_of("reminder", "caution"))
        more = replace(step, parts=(*step.parts[:at], part, *step.parts[at:]))
        if fits(more):
            step = more
        else:
            left.append(f"{caution.signal_word}: {uncapital(caution.hazard)}")
    return _told(step, left)


def with_gravest(step: Sketch) -> Sketch:
    """Return ``step`` with only the gravest of the lines that remind of what guards it; the others go to the notes."""
    others = step.parts_of("reminder")[1:]
    fewer = replace(step, parts=tuple(part for part in step.parts if part not in others))
    return _told(fewer, [f"{line.label}: {uncapital(line.text)}" for line in others])


def _told(step: Sketch, left: Sequence[str]) -> Sketch:
    note = SpeakerNote("Also guarded by", stopped("; ".join(left)))
    return replace(step, asides=filled(*step.asides, note))

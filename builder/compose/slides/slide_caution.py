"""A caution among slides: on a slide of its own before its step, in two lines on the step's slide, or in one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder.compose.sheets.sheet_head import call_of
from builder.compose.slides.slide import Sketch, SlidePart, SpeakerNote, Speech
from builder.compose.slides.slide_layout import fits
from builder.compose.slides.slide_words import cites_in, is_practice, joined, said, stopped, uncapital
from builder.compose.view.view import CautionView, ReferenceView, ReminderView
from builder.model.library import Library

_GRAVITY = ("danger", "warning", "caution", "notice")


def speech_of(library: Library, caution: CautionView) -> Speech:
    """Return what is said of ``caution``: what threatens, what comes of it and how it is avoided; then all of it."""
    lead = f"{caution.signal_word}: {uncapital(caution.hazard)}"
    call = call_of(library, caution.call) if caution.call else None
    short = joined(lead, caution.consequence, caution.avoid)
    shows = caution.sign and f"How it shows: {caution.sign}"
    then = caution.if_it_happens and f"If it happens: {caution.if_it_happens}"
    called = f"Call: {call.role}, {call.number}" if call else ""
    return Speech(short, joined(short, shows, then, called, said(caution.body_html)))


def caution_sketch(
    library: Library, caution: CautionView, block: str, eyebrow: str, references: Sequence[ReferenceView]
) -> Sketch:
    """Return the slide of ``caution`` that stands before ``block``."""
    return Sketch(
        "caution", caution.anchor, block, caution.hazard, speech_of(library, caution), eyebrow, caution.signal_word,
        signal=caution.signal,
        parts=(SlidePart("consequence", caution.consequence), SlidePart("avoid", caution.avoid, "Avoid it")),
        backing=cites_in((caution.cites_html, caution.body_html), references),
        practice=is_practice(caution.cites_html),
    )  # fmt: skip


def with_caution(
    library: Library, step: Sketch, caution: CautionView, references: Sequence[ReferenceView]
) -> Sketch | None:
    """Return ``step`` with ``caution`` on its slide, and what is said of both; None where they do not fit."""
    part = SlidePart("caution", joined(caution.hazard, caution.avoid), caution.signal_word, caution.signal)
    cites = cites_in((caution.cites_html, caution.body_html), references)
    whole = replace(step, parts=(part, *step.parts), signal=caution.signal)
    if not fits(whole):
        return None
    own, speech = speech_of(library, caution), step.speech
    told = replace(speech, short=joined(own.short, speech.short), full=joined(own.full, speech.full))
    return replace(whole, speech=told, backing=tuple(dict.fromkeys((*cites, *step.backing))))


def reminded(step: Sketch, guarding: Sequence[CautionView | ReminderView]) -> Sketch:
    """Return ``step`` with each of ``guarding`` in a line, the gravest first; what does not fit goes to the notes."""
    left = []
    for one in sorted(guarding, key=lambda one: _GRAVITY.index(one.signal)):
        part = SlidePart("reminder", one.hazard, one.signal_word, one.signal)
        at = sum(old.role in ("reminder", "caution") for old in step.parts)
        more = replace(step, parts=(*step.parts[:at], part, *step.parts[at:]))
        if fits(more):
            step = more
        else:
            left.append(f"{one.signal_word}: {uncapital(one.hazard)}")
    return _told(step, left)


def with_gravest(step: Sketch) -> Sketch:
    """Return ``step`` with only the gravest of the lines that remind of what guards it; the others go to the notes."""
    lines = [part for part in step.parts if part.role == "reminder"]
    fewer = replace(step, parts=tuple(part for part in step.parts if part not in lines[1:]))
    return _told(fewer, [f"{one.label}: {uncapital(one.text)}" for one in lines[1:]])


def _told(step: Sketch, left: Sequence[str]) -> Sketch:
    if not left:
        return step
    return replace(step, asides=(*step.asides, SpeakerNote("Also guarded by", stopped("; ".join(left)))))

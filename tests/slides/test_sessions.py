"""Sessions of 10, 20 and 40 minutes: what must be said is said, in time, and the longer contains the shorter."""

from __future__ import annotations

import io
import itertools
import re
from pathlib import Path

import pypdfium2
import pytest
from decks import ALL, DEMO, DEMONSTRATION, procedure, proved, session, written
from department import BASE, Overlay
from hypothesis import given, settings
from hypothesis import strategies as st
from papers import library, renderer, typesetter
from papers import proved as proved_pdf

from builder.cli import main
from builder.compose.slides import session_plan
from builder.compose.slides.session import (
    ABSENT,
    FULL,
    LENGTHS,
    QUESTIONS_SHARE,
    SHORT,
    Session,
    SlideCandidate,
    SlideForm,
    chosen,
    least_seconds,
    session_of,
)
from builder.compose.slides.slide_text import words_in
from builder.findings.finding import Refused

EACH = pytest.mark.parametrize(("name", "minutes"), list(itertools.product(DEMO, LENGTHS)), ids=str)
# Where speaking rates for teaching are given, 120 to 150 words a minute is usual (common practice).
SLOWEST, FASTEST = 120, 150


def titles(of: Session) -> list[str]:
    return [slide.title for slide in of.deck.slides]


@EACH
def test_critical_steps_dangers_and_counts_are_always_there(name: str, minutes: int) -> None:
    made, whole = session(name, DEMONSTRATION, minutes), procedure(name, DEMONSTRATION)
    shown = {slide.id for slide in made.deck.slides}
    text = " ".join(slide.shown for slide in made.deck.slides)
    for step in whole.steps.values():
        assert not step.critical or f"step-{step.id}" in shown, step.title
    for caution in whole.cautions.values():
        if caution.signal.value == "danger":
            assert caution.hazard in text
            assert caution.avoid in text, caution.hazard
    assert "counts" in shown or not any(
        one.verb.value == "count" for step in whole.steps.values() for one in step.actions
    )


@EACH
def test_it_lasts_as_long_as_the_slot_and_never_longer(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    planned = made.seconds + made.questions
    assert minutes * 60 * 0.95 <= planned <= minutes * 60
    assert made.questions >= minutes * 60 * QUESTIONS_SHARE
    # The slot is filled with the talk: unless all of it is said, questions get little more than their share.
    assert made.whole or made.questions <= minutes * 60 * (QUESTIONS_SHARE + 0.05)


@EACH
def test_the_clock_of_a_slide_is_that_of_its_words(name: str, minutes: int) -> None:
    """Counted anew from the notes: nobody can say more words in the time than a fast teacher, nor is time padded."""
    made = session(name, DEMONSTRATION, minutes)
    words = sum(
        words_in(note.text.partition("(Wait")[0].partition("(There")[0])
        for slide in made.deck.slides
        for note in slide.notes
        if note.label in ("Say", "Ask")
    )
    waits = sum(
        float(found[1])
        for slide in made.deck.slides
        for note in slide.notes
        if (found := re.search(r"\(Wait about (\d+) seconds", note.text))
    )
    pauses = 3.0 * len(made.deck.slides) + 8.0 * sum(bool(slide.picture) for slide in made.deck.slides)
    assert words / FASTEST * 60 < made.seconds - waits < words / SLOWEST * 60 + pauses * 2


@pytest.mark.parametrize(("name", "root"), ALL, ids=[name for name, _ in ALL])
def test_the_longer_contains_the_shorter(name: str, root: Path) -> None:
    made = [session(name, root, minutes) for minutes in LENGTHS]
    for shorter, longer in itertools.pairwise(made):
        assert shorter.levels.keys() <= longer.levels.keys()
        assert all(longer.levels[id] >= level for id, level in shorter.levels.items())
        bodies = [
            [slide.id for slide in one.deck.slides if slide.kind not in ("title", "sources")]
            for one in (shorter, longer)
        ]
        kept = [id for id in bodies[1] if id in set(bodies[0])]
        assert kept == bodies[0], "the order is the same"


@EACH
def test_nothing_stands_without_its_step(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    shown = {slide.id for slide in made.deck.slides}
    for sketch in made.sketches.values():
        if sketch.id in shown and sketch.block.startswith("step-"):
            assert sketch.block in shown, sketch.id


@EACH
def test_what_is_left_out_is_told(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    plan = session_plan.plan(library(DEMONSTRATION), procedure(name, DEMONSTRATION), renderer(DEMONSTRATION), minutes)
    assert {one.id for one in plan.left_out} == made.sketches.keys() - made.levels.keys()
    text = " ".join(plan.text.split())
    for sketch in made.left_out:
        if sketch.kind == "answer":
            continue  # named with its question
        assert sketch.title.replace("'", "&#39;") in text


@pytest.mark.parametrize("minutes", LENGTHS)
def test_the_plan_has_a_clock_for_each_slide_and_a_prompt_at_each_decision(minutes: int, tmp_path: Path) -> None:
    name = "open-mesh-inguinal-hernia"
    made = session(name, DEMONSTRATION, minutes)
    plan = session_plan.plan(library(DEMONSTRATION), procedure(name, DEMONSTRATION), renderer(DEMONSTRATION), minutes)
    data = typesetter(DEMONSTRATION).pdf(plan)
    assert proved_pdf(plan, data, tmp_path).problems == ()
    document = pypdfium2.PdfDocument(io.BytesIO(data))
    text = " ".join(" ".join(page.get_textpage().get_text_bounded() for page in document).split())
    document.close()
    clocks = re.findall(r"(\d+):(\d\d) (\d+) (?=[A-Z])", text)
    assert [int(number) for _, _, number in clocks] == list(range(1, len(made.deck.slides) + 1))
    times = [int(minute) * 60 + int(second) for minute, second, _ in clocks]
    assert times == sorted(times)
    assert times[-1] < minutes * 60
    decisions = [slide for slide in made.deck.slides if slide.kind in ("choice", "stop")]
    assert text.count("Ask:") >= len(decisions) > 0


@pytest.mark.parametrize("minutes", [10, 40])
def test_the_slides_of_a_session_are_proved(minutes: int, tmp_path: Path) -> None:
    of = (library(DEMONSTRATION), procedure("chest-drain-insertion", DEMONSTRATION), renderer(DEMONSTRATION))
    pdf, file = session_plan.slides(*of, minutes), session_plan.slides_pptx(*of, minutes)
    assert proved_pdf(pdf, typesetter(DEMONSTRATION).pdf(pdf), tmp_path).problems == ()
    assert proved(file, written(file, DEMONSTRATION), tmp_path).problems == ()
    assert f"A session of {minutes} minutes." in pdf.text


def test_a_slot_that_is_too_short_is_an_error_by_how_much() -> None:
    """Every step of a long procedure is critical and has a long title and cue: ten minutes do not hold it."""
    whole = procedure("open-mesh-inguinal-hernia", DEMONSTRATION)
    cue = whole.steps["fix-mesh"].cue
    steps = {
        id: step.model_copy(update={"critical": True, "cue": type(cue)(f"{cue} " * 3, cue.at)})
        for id, step in whole.steps.items()
    }
    parts = type(whole.parts)(steps=steps, cautions=whole.parts.cautions, aftercare=whole.parts.aftercare)
    heavy = whole.model_copy(update={"parts": parts})
    with pytest.raises(Refused) as refused:
        session_of(library(DEMONSTRATION), heavy, renderer(DEMONSTRATION), 10)
    finding = refused.value.finding
    assert re.search(r"does not fit into 10 minutes: .* are \d+\.\d minutes too long", finding.message)
    assert "--session 20" in finding.hint
    assert len(finding.also) == 4
    assert all("seconds: " in place.message and place.at.line > 1 for place in finding.also)
    longer = session_of(library(DEMONSTRATION), heavy, renderer(DEMONSTRATION), 20)
    assert longer.seconds <= 20 * 60 * 0.9


def test_a_procedure_with_little_to_say_says_so(tmp_path: Path) -> None:
    made = session("example", ALL[0][1], 40)
    plan = session_plan.plan(library(), procedure(), renderer(), 40)
    assert made.whole
    assert "There is no more to show than this" in plan.text


# ---- the optimiser, against trying everything


def tried(items: tuple[SlideCandidate, ...], seconds: float) -> int | None:
    """The most that any allowed choice is worth, by trying them all; None where what must be said does not fit."""
    best = None
    for levels in itertools.product(*([None, *item.forms] for item in items)):
        shown = dict(zip(items, levels, strict=True))
        there = {item.bundle for item, form in shown.items() if form}
        if any(form is None and (item.must or (item.head and item.bundle in there)) for item, form in shown.items()):
            continue
        if sum(form.seconds for form in levels if form) <= seconds:
            worth = sum(form.worth for form in levels if form)
            best = worth if best is None else max(best, worth)
    return best


FORMS = st.lists(st.tuples(st.integers(1, 12), st.integers(0, 9)), min_size=1, max_size=2)


@st.composite
def some_items(draw: st.DrawFn) -> tuple[SlideCandidate, ...]:
    found = []
    for at in range(draw(st.integers(1, 6))):
        forms = tuple(
            SlideForm(level, float(seconds), worth)
            for level, (seconds, worth) in zip((SHORT, FULL), draw(FORMS), strict=False)
        )
        bundle = draw(st.sampled_from(["a", "b", "c"]))
        found.append(
            SlideCandidate(f"item-{at}", bundle, forms, draw(st.booleans()), head=draw(st.integers(0, 2)) == 0)
        )
    return tuple(found)


@settings(max_examples=300)
@given(some_items(), st.integers(1, 40), st.integers(0, 30))
def test_the_choice_is_the_best_there_is(items: tuple[SlideCandidate, ...], seconds: int, more: int) -> None:
    best = tried(items, seconds)
    if best is None:
        # What must be there, in its shortest form, may be longer than its other form: both are tried.
        return
    if least_seconds(items) > seconds:
        return
    levels = chosen(items, seconds, {})
    forms = [next(form for form in item.forms if form.level == levels[item.id]) for item in items if item.id in levels]
    assert sum(form.seconds for form in forms) <= seconds
    assert sum(form.worth for form in forms) == best
    longer = chosen(items, seconds + more, levels)
    assert all(longer.get(id, ABSENT) >= level for id, level in levels.items())


# ---- from the command line


def test_the_files_of_a_session_are_published(tmp_path: Path, base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    to = tmp_path / "public"
    assert main(["publish", str(base), "--to", str(to), "--only", "slides", "--session", "10", "--session", "20"]) == 0
    made = sorted(path.name for path in (to / "example").iterdir())
    assert made == [
        "session-plan-10-minutes.pdf", "session-plan-20-minutes.pdf", "slides-10-minutes.pdf", "slides-10-minutes.pptx",
        "slides-20-minutes.pdf", "slides-20-minutes.pptx", "slides.pdf",
    ]  # fmt: skip
    assert "session-plan" in capsys.readouterr().out


def test_another_length_is_refused(tmp_path: Path, base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["publish", str(base), "--to", str(tmp_path / "public"), "--session", "15"]) == 2
    assert "10, 20 or 40" in capsys.readouterr().err
    assert not (tmp_path / "public").exists()


def test_what_fits_on_no_slide_is_said_in_plain_words(
    tmp_path: Path, overlay: Overlay, capsys: pytest.CaptureFixture[str]
) -> None:
    step = "content/procedures/example/steps/open-canal.md"
    text = (BASE / step).read_text(encoding="utf-8")
    cue = str(procedure().steps["open-canal"].cue)
    root = overlay({step: text.replace(cue, f"{cue.rstrip('.')} {'and is seen again ' * 60}there.")})
    to = tmp_path / "public"
    assert main(["publish", str(root), "--to", str(to), "--only", "handout", "--session", "10"]) == 1
    said = capsys.readouterr().err
    assert f"{step}:" in said
    assert "does not fit on a slide in type of 24 pt" in said
    assert "Traceback" not in said
    assert not to.exists()

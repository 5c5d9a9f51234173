"""Sessions of 10, 20 and 40 minutes: what must be said is said, in time, and the longer contains the shorter."""

from __future__ import annotations

import io
import itertools
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from decks import ALL, DEMO, DEMONSTRATION, deck, procedure, proved, session, written
from department import BASE, Overlay
from hypothesis import given, settings
from hypothesis import strategies as st
from papers import library, renderer, typesetter
from papers import proved as proved_pdf
from talks import talk, unsaid

from builder.cli import main
from builder.compose.slides import session as session_module
from builder.compose.slides import slides
from builder.compose.slides.knapsack import SlideCandidate, chosen
from builder.compose.slides.session import (
    LEAST_SECONDS,
    LENGTHS,
    QUESTIONS_SHARE,
    WITH_FIGURES,
    Session,
    session_of,
)
from builder.compose.slides.slide_text import words_in

EACH = pytest.mark.parametrize(("name", "minutes"), list(itertools.product(DEMO, LENGTHS)), ids=str)
# Where speaking rates for teaching are given, 120 to 150 words a minute is usual (common practice).
SLOWEST, FASTEST = 120, 150
TITLE_AND_SOURCES = 25.0  # seconds kept for them


def titles(of: Session) -> list[str]:
    return [slide.title for slide in of.deck.slides]


@EACH
def test_every_figure_of_a_critical_step_is_shown_from_20_minutes_on(name: str, minutes: int) -> None:
    made, whole = session(name, DEMONSTRATION, minutes), procedure(name, DEMONSTRATION)
    shown = {slide.picture.path for slide in made.deck.slides if slide.picture}
    critical = [figure for step in whole.steps.values() if step.critical for figure in step.figure]
    if minutes >= 20:
        assert critical
        assert {f"content/procedures/{name}/figures/{figure.file}" for figure in critical} <= shown
    assert any(slide.kind == "map" for slide in made.deck.slides)


@pytest.mark.parametrize("minutes", [*LENGTHS, 0])
@pytest.mark.parametrize("name", DEMO)
def test_what_a_slide_shows_is_said_in_its_notes_in_the_time_given_for_them(name: str, minutes: int) -> None:
    """The table of ``talks.py``, row by row; 0 minutes is the whole deck."""
    made = talk(name, minutes)
    assert made.unsaid == ()
    assert made.spoken == pytest.approx(made.given, rel=0.02)
    assert made.seconds / made.slides >= LEAST_SECONDS
    assert made.critical[0] == made.critical[1] or minutes == min(LENGTHS)
    assert made.figures[0] == made.figures[1] or minutes in sorted(LENGTHS)[:2]


def test_a_slide_that_says_what_its_notes_do_not_is_found() -> None:
    slide = next(slide for slide in deck().slides if slide.kind.startswith("step"))
    assert unsaid(slide) == []
    assert unsaid(replace(slide, notes=slide.notes[1:]))


def most_dangers(name: str, minutes: int) -> int:
    """How many slides with a danger fit beside what must stand, counted with the shortest first."""
    longer = min((length for length in LENGTHS if length > minutes), default=0)
    seconds: Counter[str] = Counter()
    for slide in session(name, DEMONSTRATION, 0).deck.slides:  # what goes on stands with what is before it
        seconds[slide.id.partition("--")[0]] += slide.seconds
    slides = [slide for slide in session(name, DEMONSTRATION, longer).deck.slides if slide.id in seconds]
    figures = [slide for slide in slides if slide.picture and slide.critical and minutes >= WITH_FIGURES]
    needed = {id for slide in figures for id in (slide.id, slide.block)} | {"map"}
    costs = [sum(seconds[id] for id in {one.id, one.block} - needed) for one in slides if one.signal == "danger"]
    room = minutes * 60 * (1 - QUESTIONS_SHARE) - TITLE_AND_SOURCES - sum(seconds[id] for id in needed)
    return sum(spent <= room for spent in itertools.accumulate(sorted(costs)))


@EACH
def test_dangers_come_first(name: str, minutes: int) -> None:
    """Beside the map, and from 20 minutes on each figure of a critical step, no choice would show more dangers."""
    made, whole = session(name, DEMONSTRATION, minutes), procedure(name, DEMONSTRATION)
    dangers = [one for one in whole.cautions.values() if one.signal.value == "danger"]
    text = " ".join(slide.shown for slide in made.deck.slides)
    shown = [one for one in dangers if one.hazard in text]
    most = most_dangers(name, minutes)
    assert sum(slide.signal == "danger" for slide in made.deck.slides) >= most >= 3
    assert len(shown) >= most
    assert minutes < max(LENGTHS) or shown == dangers
    for one in shown:
        slides = [slide for slide in made.deck.slides if one.hazard in slide.shown]
        assert any(one.avoid in slide.shown for slide in slides) or all(slide.kind == "step" for slide in slides)


@EACH
def test_a_slide_has_45_seconds_or_more(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    assert made.seconds / len(made.deck.slides) >= LEAST_SECONDS


@EACH
def test_it_never_lasts_longer_than_the_slot(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    assert made.seconds + made.questions == pytest.approx(minutes * 60)
    assert made.questions >= minutes * 60 * QUESTIONS_SHARE
    # The slot is filled with the talk: unless all of it is said, questions get little more than their share.
    assert not made.left_out or made.questions <= minutes * 60 * (QUESTIONS_SHARE + 0.06)


@EACH
def test_steps_that_are_passed_over_are_named_in_the_notes(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    told = " ".join(
        note.text for slide in made.deck.slides for note in slide.notes if note.role.startswith("Not shown")
    )
    left = [sketch for sketch in made.left_out if sketch.kind.startswith("step")]
    assert bool(left) == bool(told)
    assert all(re.search(rf"\b{sketch.mark}\b", told) for sketch in left)


@EACH
def test_the_clock_of_a_slide_is_that_of_its_words(name: str, minutes: int) -> None:
    """Counted anew from the notes: nobody can say more words in the time than a fast teacher, nor is time padded."""
    made = session(name, DEMONSTRATION, minutes)
    words = sum(
        words_in(note.text.partition("(Wait")[0])
        for slide in made.deck.slides
        for note in slide.notes
        if note.role in ("Say", "Ask")
    )
    waits = sum(
        float(found[1])
        for slide in made.deck.slides
        for note in slide.notes
        if (found := re.search(r"\(Wait about (\d+) seconds", note.text))
    )
    pauses = 3.0 * len(made.deck.slides) + 8.0 * sum(bool(slide.picture) for slide in made.deck.slides)
    pauses += 2.0 * sum(len(slide.picture.spots) for slide in made.deck.slides if slide.picture)
    assert words / FASTEST * 60 < made.seconds - waits < words / SLOWEST * 60 + pauses * 2


@pytest.mark.parametrize(("name", "root"), ALL, ids=[name for name, _ in ALL])
def test_the_longer_contains_the_shorter(name: str, root: Path) -> None:
    made = [session(name, root, minutes) for minutes in LENGTHS]
    for shorter, longer in itertools.pairwise(made):
        assert shorter.shown <= longer.shown
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
    assert made.shown <= shown
    for slide in made.deck.slides:
        if slide.block.startswith("step-"):
            assert slide.block in shown, slide.id


@EACH
def test_what_is_left_out_is_told(name: str, minutes: int) -> None:
    made = session(name, DEMONSTRATION, minutes)
    plan = slides.plan(library(DEMONSTRATION), procedure(name, DEMONSTRATION), renderer(DEMONSTRATION), minutes)
    assert {one.id for one in plan.left_out} == {sketch.id for sketch in made.left_out}
    text = " ".join(plan.text.split())
    for sketch in made.left_out:
        if sketch.kind == "answer":
            continue  # named with its question
        assert sketch.title.replace("'", "&#39;") in text


@pytest.mark.parametrize("minutes", LENGTHS)
def test_the_plan_has_a_clock_for_each_slide_and_what_to_ask(minutes: int, tmp_path: Path) -> None:
    name = "open-mesh-inguinal-hernia"
    made = session(name, DEMONSTRATION, minutes)
    plan = slides.plan(library(DEMONSTRATION), procedure(name, DEMONSTRATION), renderer(DEMONSTRATION), minutes)
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
    assert text.count("Ask:") == sum(slide.kind == "question" for slide in made.deck.slides)


@pytest.mark.parametrize("minutes", [10, 40])
def test_the_slides_of_a_session_are_proved(minutes: int, tmp_path: Path) -> None:
    of = (library(DEMONSTRATION), procedure("chest-drain-insertion", DEMONSTRATION), renderer(DEMONSTRATION))
    pdf, file = slides.compose(*of, minutes), slides.compose_pptx(*of, minutes)
    assert proved_pdf(pdf, typesetter(DEMONSTRATION).pdf(pdf), tmp_path).problems == ()
    assert proved(file, written(file, DEMONSTRATION), tmp_path).problems == ()
    assert f"A session of {minutes} minutes." in pdf.text


def test_where_so_much_is_said_that_nothing_fits_the_slot_is_kept() -> None:
    whole = procedure("open-mesh-inguinal-hernia", DEMONSTRATION)
    why = whole.steps["fix-mesh"].why
    steps = {
        id: step.model_copy(update={"critical": True, "why": type(why)(f"{why} " * 25, why.at)})
        for id, step in whole.steps.items()
    }
    parts = type(whole.parts)(steps=steps, cautions=whole.parts.cautions, aftercare=whole.parts.aftercare)
    heavy = whole.model_copy(update={"parts": parts})
    for minutes in LENGTHS:
        made = session_of(library(DEMONSTRATION), heavy, renderer(DEMONSTRATION), minutes)
        assert made.seconds <= minutes * 60 * 0.9
        assert any(slide.kind == "map" for slide in made.deck.slides)


@pytest.mark.parametrize("minutes", [20, 40])
@pytest.mark.parametrize("name", DEMO)
def test_short_slides_give_way_to_long_ones(name: str, minutes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """At a pace that few talks of the demonstration keep by themselves. As many dangers stay, and what comes first: the
    time of what went may hold a longer danger in place of a shorter one and a step."""
    monkeypatch.setattr(session_module, "LEAST_SECONDS", 75.0)
    whole = procedure(name, DEMONSTRATION).model_copy()
    made = session_of(library(DEMONSTRATION), whole, renderer(DEMONSTRATION), minutes)
    usual, slides = session(name, DEMONSTRATION, minutes), made.deck.slides
    assert made.seconds >= usual.seconds * 0.95
    if made.seconds < 75.0 * len(slides):
        assert minutes < 40
        firm = {slide.block for slide in slides if slide.signal == "danger" or (slide.picture and slide.critical)}
        short = [slide for slide in slides if slide.seconds < 75.0 and slide.kind not in ("title", "map", "sources")]
        assert {slide.block for slide in short} <= firm
    before, after = ([slide.id for slide in one if slide.signal == "danger"] for one in (usual.deck.slides, slides))
    assert len(before) <= len(after)


@pytest.mark.parametrize("name", DEMO)
def test_the_slot_is_kept_where_title_and_sources_take_longer(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Than is kept for them: here nothing is, and what is chosen fills the slot."""
    monkeypatch.setattr(session_module, "_ENDS", 0.0)
    whole = procedure(name, DEMONSTRATION).model_copy()
    for minutes in LENGTHS:
        made = session_of(library(DEMONSTRATION), whole, renderer(DEMONSTRATION), minutes)
        assert made.seconds <= minutes * 60 * (1 - QUESTIONS_SHARE)


def test_a_procedure_with_little_to_say_says_so(tmp_path: Path) -> None:
    made = session("example", ALL[0][1], 40)
    plan = slides.plan(library(), procedure(), renderer(), 40)
    assert not made.left_out
    assert "There is no more to show than this" in plan.text


# ---- the optimiser, against trying everything


def tried(items: tuple[SlideCandidate, ...], seconds: float) -> int:
    """The most that any allowed choice is worth, by trying them all."""
    best = 0
    for taken in itertools.product([False, True], repeat=len(items)):
        there = {item.bundle for item, shown in zip(items, taken, strict=True) if shown}
        pairs = list(zip(items, taken, strict=True))
        if any(not shown and item.head and item.bundle in there for item, shown in pairs):
            continue
        if sum(item.seconds for item, shown in pairs if shown) <= seconds:
            worth = sum(item.worth for item, shown in pairs if shown)
            best = max(best, worth)
    return best


@st.composite
def some_items(draw: st.DrawFn) -> tuple[SlideCandidate, ...]:
    found = []
    for at in range(draw(st.integers(1, 7))):
        seconds, worth = draw(st.integers(1, 12)), draw(st.integers(0, 9))
        bundle, head = draw(st.sampled_from(["a", "b", "c"])), draw(st.integers(0, 2)) == 0
        found.append(SlideCandidate(f"item-{at}", bundle, float(seconds), worth, head))
    return tuple(found)


@settings(max_examples=300)
@given(some_items(), st.integers(1, 40))
def test_the_choice_is_the_best_there_is(items: tuple[SlideCandidate, ...], seconds: int) -> None:
    best = tried(items, seconds)
    taken = [item for item in items if item.id in chosen(items, seconds)]
    assert sum(item.seconds for item in taken) <= seconds
    assert sum(item.worth for item in taken) == best


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

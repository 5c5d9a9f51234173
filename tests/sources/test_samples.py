"""The samples that ICMJE and NLM give to authors come out character by character."""

from __future__ import annotations

from pathlib import Path

import pytest

from builder.load.sources.bibliography import read_sources
from builder.model.styles.reference_fields import pages_of
from builder.model.styles.registry import format_source

DATA = Path(__file__).parent / "data"


def _samples() -> list[tuple[str, str, str]]:
    text = (DATA / "samples.txt").read_text(encoding="utf-8")
    blocks = [block.splitlines() for block in text.split("\n\n") if block.strip() and not block.startswith("#")]
    return [(*map(str.strip, head.split(" | ")[::2]), reference) for head, reference in blocks]  # type: ignore[misc]


SAMPLES = _samples()
SOURCES, FAULTS = read_sources((DATA / "samples.bib").read_text(encoding="utf-8"), "samples.bib")


def test_there_are_at_least_25_samples_and_each_has_its_entry() -> None:
    assert FAULTS == []
    assert len(SAMPLES) >= 25
    assert [key for _, key, _ in SAMPLES] == list(SOURCES)


@pytest.mark.parametrize(("key", "reference"), [pytest.param(key, text, id=name) for name, key, text in SAMPLES])
def test_sample(key: str, reference: str) -> None:
    assert format_source(SOURCES[key]).text == reference


# NLM, Indexing Manual, chapter 10.2 "Pagination" (read at www.nlm.nih.gov/mesh/indman/chapter_10.html).
@pytest.mark.parametrize(
    ("written", "short"),
    [
        ("12-19", "12-9"),
        ("21-30", "21-30"),
        ("304-310", "304-10"),
        ("645-648", "645-8"),
        ("1199-1205", "1199-205"),
        ("34-36, 87-91, 110-112", "34-6, 87-91, 110-2"),
        ("34, 72, 84", "34, 72, 84"),
    ],
)
def test_pages_as_the_indexing_manual_types_them(written: str, short: str) -> None:
    assert pages_of(written) == short

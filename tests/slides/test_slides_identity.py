"""The sweep of what is about to be published looks into a .pptx: notes, properties, pictures and what they carry."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from decks import pptx
from papers import library
from slide_sabotage import Members, named_after_a_patient, opened, packed, with_exif

from builder.readback.identity import sweep

NUMBER = b"943 476 5919"
"""A number that passes the check of NHS numbers, from the NHS Data Dictionary's own example (value from memory)."""


def in_notes(members: Members) -> None:
    name = "ppt/notesSlides/notesSlide5.xml"
    members[name] = members[name].replace(b"</a:t>", b" Mr Quimby, NHS number " + NUMBER + b"</a:t>", 1)


def in_properties(members: Members) -> None:
    name = "docProps/core.xml"
    members[name] = re.sub(rb"<dc:subject>", b"<dc:subject>NHS number " + NUMBER + b" ", members[name])


def in_alt_text(members: Members) -> None:
    name = next(name for name in members if name.startswith("ppt/slides/slide") and b'name="Figure"' in members[name])
    members[name] = members[name].replace(b"</a:t>", b" NHS number " + NUMBER + b"</a:t>", 1)


@pytest.mark.parametrize("spoil", [in_notes, in_properties, in_alt_text, with_exif, named_after_a_patient])
def test_it_is_found(spoil, tmp_path: Path) -> None:
    members = opened(pptx())
    before = dict(members)
    spoil(members)
    assert members != before
    (tmp_path / "slides.pptx").write_bytes(packed(members))
    found = sweep(library(), tmp_path)
    assert found
    assert all(line.startswith("slides.pptx: ") for line in found)


def test_the_untouched_file_names_nobody(tmp_path: Path) -> None:
    (tmp_path / "slides.pptx").write_bytes(pptx())
    assert sweep(library(), tmp_path) == ()

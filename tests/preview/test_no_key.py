"""Whoever works in the browser is told nothing of the keys of a file, nor of its name, nor of a command."""

from __future__ import annotations

import re

import pytest
from pages import CheckPage, all_pages

from builder.edit.forms.field_words import in_form
from builder.findings.register import FILES, REGISTER, finding
from builder.load.folder import kind_of
from builder.place import Place

_HEAD = re.compile(r"(?P<file>\S+?):\d+:\d+: \w+ [a-z-]+: (?P<message>.*)")
PAGES = [page for page in all_pages() if not page.command and _HEAD.match(page.finding)]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_a_finding_in_a_form_names_neither_key_nor_command_nor_file(page: CheckPage) -> None:
    head, *rest = page.finding.splitlines()
    match = _HEAD.match(head)
    assert match is not None
    hint = " ".join(line.strip() for line in rest)
    told = in_form(finding(page.name, Place(match["file"]), match["message"], hint), kind_of(match["file"])[0])
    for words in (told.message, told.hint):
        assert "`" not in words
        assert "prescrub" not in words
        is_about_file = page.name == "parent-unusable" or REGISTER[page.name].family is FILES  # a file has no form
        assert is_about_file or not re.search(r"\w\.(?:md|yml)\b", words), words
        assert not re.search(r"“\w+_\w+", words), words
    assert told.hint.count("“") == told.hint.count("”")


def test_what_is_not_there_yet_is_named_as_it_is_called_in_the_form() -> None:
    hint = (
        "Add the file aftercare/drain-out.md, or correct line 4 of content/procedures/second/steps/cut-skin.md first."
    )
    told = in_form(
        finding("aftercare-unknown", Place("content/procedures/second/procedure.md"), "it", hint), "procedure"
    )
    assert told.hint == "Add the aftercare item “drain out”, or correct the step “cut skin” first."


def test_most_findings_are_looked_at() -> None:
    assert len(PAGES) > 0.85 * len(REGISTER)

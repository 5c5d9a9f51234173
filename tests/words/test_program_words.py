"""The program's own words: one catalogue, every language whole, and nothing of it in what an author wrote."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest
import words
from babel.messages.catalog import Catalog
from babel.messages.checkers import checkers
from department import BASE, Overlay, read
from papers import renderer, typesetter

from builder.compose.document import Document, Renderer
from builder.compose.view.parts_view import StepView
from builder.compose.view.procedure_view import view_of
from builder.compose.view.words import day, sentence, series, time_words, verb_words
from builder.load import program_words
from builder.load.program_words import gettext, ngettext, script_words, speaking, spoken_script
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.outputs import OUTPUTS

TRANSLATED = [language for language in program_words.languages() if language != program_words.ENGLISH]
_PLACE = re.compile(r"%\((\w+)\)s|%%")


@cache
def gathered() -> Catalog:
    return words.gathered()


def test_there_are_languages() -> None:
    assert {"de", "en", "fr"} <= set(program_words.languages())


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_language_holds_every_message_of_the_program_and_no_other(language: str) -> None:
    written = {(str(one.id), one.context) for one in words.read(language)}
    assert written == {(str(one.id), one.context) for one in gathered()} | {("", None)}


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_message_has_words_with_the_same_places(language: str) -> None:
    for one in words.read(language):
        if not one.id:
            continue
        assert not words.is_empty(one), one.id
        ids = one.id if one.pluralizable else (one.id,)
        for text in one.string if one.pluralizable else (one.string,):
            places = set(_PLACE.findall(text))
            assert places == set(_PLACE.findall(ids[-1])), one.id


_LOOKS_UP = {"gettext", "ngettext", "pgettext"}


def _at_import(node: ast.AST) -> Iterator[int]:
    """Yield the line of each message that is looked up when its module is imported: before a language is spoken."""
    for inner in ast.iter_child_nodes(node):
        if isinstance(inner, ast.FunctionDef | ast.Lambda):
            continue
        if isinstance(inner, ast.Call) and isinstance(inner.func, ast.Name) and inner.func.id in _LOOKS_UP:
            yield inner.lineno
        yield from _at_import(inner)


def test_no_message_is_looked_up_before_a_language_is_spoken() -> None:
    modules = {path: ast.parse(path.read_text(encoding="utf-8")) for path in (words.ROOT / "builder").rglob("*.py")}
    assert [f"{path}:{line}" for path, tree in modules.items() for line in _at_import(tree)] == []
    assert [*_at_import(ast.parse('TITLE = gettext("Count")\ndef shown():\n    return gettext("Count")'))] == [1]


_TWO_WORDS = re.compile(r"[A-Za-z]{2,}[^A-Za-z]+[a-z]{2,}")


@pytest.mark.parametrize("language", TRANSLATED)
def test_no_message_of_two_words_is_left_in_english(language: str) -> None:
    messages = [(one.id[0] if one.pluralizable else one.id, one) for one in words.read(language) if one.id]
    texts = [one for english, one in messages if _TWO_WORDS.search(_PLACE.sub("", english))]
    assert len(texts) > 500
    assert [one.id for one in texts if one.string == one.id] == []


@pytest.mark.parametrize("language", TRANSLATED)
def test_the_checkers_of_babel_have_nothing_to_say(language: str) -> None:
    catalogue = words.read(language)
    for one in catalogue:
        if one.id:
            for check in checkers:
                check(catalogue, one)  # raises


@pytest.mark.parametrize("language", TRANSLATED)
def test_what_is_compiled_is_what_is_written(language: str) -> None:
    catalogue = words.read(language)
    assert (words.FOLDER / f"{language}.mo").read_bytes() == words.compiled(catalogue)
    assert (words.FOLDER / f"{language}.po").read_bytes() == words.as_po(words.brought_up(catalogue, gathered()))


@pytest.mark.parametrize("language", TRANSLATED)
def test_it_says_that_no_translator_has_checked_it(language: str) -> None:
    assert "Not checked by a translator." in str(words.read(language).header_comment)


def test_words_follow_the_language_that_is_spoken_and_no_longer() -> None:
    with speaking("de-AT"):
        assert gettext("Page %(page)s of %(pages)s", page=1, pages=2) == "Seite 1 von 2"
        with speaking("fr"):
            assert day(date(2026, 1, 1)) == "1er janvier 2026"
        assert day(date(2026, 1, 1)) == "1. Januar 2026"
        assert series(["a", "b", "c"]) == "a, b und c"
        assert time_words("1 day") == "1 Tag"
        assert time_words("drain out") == "drain out"
    assert gettext("Page %(page)s of %(pages)s", page=1, pages=2) == "Page 1 of 2"
    assert ngettext("%(number)s day", "%(number)s days", 2, number="2") == "2 days"


def in_language(tag: str) -> Library:
    """Return the smallest good department with another language."""
    library = read(BASE)[0]
    return replace(library, department=library.department.model_copy(update={"language": tag}))


def composed(name: str, tag: str, templates: Renderer | None = None) -> Document:
    library = in_language(tag)
    return OUTPUTS[name].composed(name, library, library.procedures[0], templates or renderer())


@cache
def in_english(name: str) -> Document:
    return composed(name, "en-GB")


def numbers(document: Document) -> list[list[str]]:
    """Return the numbers in each text that ``document`` promises to show."""
    return [re.findall(r"[0-9]+(?:[.,:][0-9]+)*", must.text) for must in document.musts]


@pytest.mark.parametrize("tag", ["de-DE", "fr"])
@pytest.mark.parametrize("name", ["card", "handout", "count-sheet", "what-now", "patient-sheet", "rehearsal", "map"])
def test_no_number_changes_with_the_language(name: str, tag: str) -> None:
    made, english = composed(name, tag), in_english(name)
    assert numbers(made) == numbers(english)
    assert [must.kind for must in made.musts] == [must.kind for must in english.musts]
    assert f'<html lang="{tag}">' in made.text
    assert made.text != english.text


def problems(document: Document, path: Path) -> tuple[str, ...]:
    path.write_bytes(typesetter().pdf(document))
    return OUTPUTS["handout"].proof.read_back(document, path).problems


def test_a_sabotaged_template_is_caught_in_german_too(tmp_path: Path) -> None:
    with speaking("de"):
        assert problems(composed("handout", "de"), tmp_path / "good.pdf") == ()
        templates = load_templates(BASE)
        line = '<p><b>{{ _("Avoid it:") }}</b> {{ one.avoid }}</p>'
        assert line in templates["paper/parts.html.j2"]
        templates["paper/parts.html.j2"] = templates["paper/parts.html.j2"].replace(line, "")
        found = problems(composed("handout", "de", Renderer(templates, typesetter().measure)), tmp_path / "bad.pdf")
    assert any("Read the mark and the consent form aloud" in problem for problem in found)


def test_a_script_says_its_messages_in_the_language() -> None:
    script = 'make("p", _("All ways")); told(_("%(places)s places"), {});'
    assert list(script_words(script)) == ["All ways", "%(places)s places"]
    assert spoken_script(script) == 'make("p", "All ways"); told("%(places)s places", {});'
    with speaking("de"):
        assert spoken_script(script) == 'make("p", "Alle Wege"); told("%(places)s Stellen", {});'


@pytest.mark.parametrize(("language", "verb"), [("en", "Identify"), ("de", "darstellen"), ("fr", "Identifier")])
def test_the_verb_of_an_action_stands_out_wherever_the_language_puts_it(language: str, verb: str) -> None:
    library, _ = read(BASE)
    step = library.by_id["example"].steps["open-canal"]
    with speaking(language):
        found = {verb_words(action): sentence(library, action) for action in step.actions}
    assert verb in found
    assert all(words in told for words, told in found.items())


def test_what_is_said_beside_the_actions_of_a_step_keeps_each_verb_at_its_action(overlay: Overlay) -> None:
    file = "content/procedures/example/steps/open-canal.md"
    text = (BASE / file).read_text(encoding="utf-8").replace("---\n", "---\norder_matters: It bleeds.\n", 1)
    library, _ = read(overlay({file: text}))
    with speaking("de"):
        blocks = view_of(library, library.by_id["example"]).blocks
    [step] = [one for one in blocks if isinstance(one, StepView) and one.page.id == "open-canal"]
    assert len(step.actions) == len(step.verbs) == len(step.page.actions) + 1
    assert all(verb and verb in told for verb, told in zip(step.verbs, step.actions, strict=True))
    assert step.verbs[1] == "darstellen"

"""Gathers the program's own words from code and templates, brings each language's file up to them, and compiles it.

`make words`; then a translator fills what is empty in builder/load/languages/*.po, and `make words` compiles it again.
"""

import ast
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from builder.compose.changes.edition_changes import ChangeSort
from builder.compose.site.region.hospital import HospitalState
from builder.edit.forms.field_words import WORDS
from builder.facts.claims import ClaimKind
from builder.facts.counts import CATEGORIES
from builder.facts.coverage import COUNTERS
from builder.findings.register import REGISTER
from builder.load.program_words import script_words
from builder.load.signature import SignatureState
from builder.load.sources.notices import NoticeKind
from builder.model.action import Side, Verb
from builder.model.pages import Basis, Signal, Supervision
from builder.outputs import OUTPUTS

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "builder" / "load" / "languages"
_KEYWORDS = {"_": None, "noted": None, "gettext": None, "ngettext": (1, 2), "pgettext": ((1, "c"), 2)}
_TEMPLATES = {"newstyle_gettext": "true", "trim_blocks": "true", "lstrip_blocks": "true", "silent": "false"}
_FILLED = ("**.j2", "**.css")
_LONG_AGO = datetime(2026, 11, 30, tzinfo=UTC)  # the same bytes for the same words, whenever they are written


def gathered() -> Catalog:
    """Return every message of the program."""
    found = Catalog()
    for path in sorted((ROOT / "builder").rglob("*.py")):
        for message, context in _in_code(path):
            found.add(message, context=context)
    templates = [(name, "jinja2") for name in _FILLED]
    options = dict.fromkeys(_FILLED, _TEMPLATES)
    for _, _, message, _, context in extract_from_dir(ROOT / "site_templates", templates, options, _KEYWORDS):
        found.add(message, context=context)
    for script in ("site/look/site.js", "selftest/scorm.js"):
        for english in script_words((ROOT / "site_templates" / script).read_text(encoding="utf-8")):
            found.add(english)
    for english in _told_in_tables():
        found.add(english)
    return found


def _in_code(path: Path) -> Iterator[tuple[str | tuple[str, ...], str | None]]:
    """Yield message and context of each call that looks one up, also where it stands within an f-string."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _KEYWORDS:
            told = [one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
            if node.func.id == "ngettext" and len(told) == 2:
                yield (told[0], told[1]), None
            elif node.func.id == "pgettext" and len(told) == 2:
                yield told[1], told[0]
            elif told:
                yield told[0], None


def _told_in_tables() -> Iterator[str]:
    """Yield what a page shows of tables and of values of the format, which are looked up by what they say."""
    for row in OUTPUTS.rows:
        yield from filter(None, (row.title, row.shelf, row.form))
    for kind in REGISTER.values():
        yield from kind.family.looks.values()
    for name, (many, *_) in COUNTERS.items():
        yield from (name, many)
    for enumeration in (
        Supervision, Basis, Side, Signal, ClaimKind, Verb, NoticeKind, ChangeSort, SignatureState, HospitalState,
    ):  # fmt: skip
        yield from (str(one.value) for one in enumeration)
    yield from (told.label for told in WORDS.values())
    yield from (*CATEGORIES, "step", "caution", "aftercare", "not in the ledger")


def read(language: str) -> Catalog:
    """Return what is translated into ``language``; ``patients/ar`` has the words of patients' sheets alone."""
    with (FOLDER / f"{language}.po").open("rb") as file:
        return read_po(file, locale=Path(language).name)


def brought_up(translated: Catalog, messages: Catalog, *, known_only: bool = False) -> Catalog:
    """Return ``messages`` with what is ``translated`` of them, and nothing else; ``known_only``: no others of them."""
    made = Catalog(
        translated.locale, header_comment=translated.header_comment, project="prescrub", version="1",
        fuzzy=False, msgid_bugs_address="none",
        creation_date=_LONG_AGO, revision_date=_LONG_AGO, last_translator="none",
        language_team="none",
    )  # fmt: skip
    for one in sorted((one for one in messages if one.id), key=lambda one: (str(one.id), one.context or "")):
        known = translated.get(one.id, one.context)
        if known_only and not known:
            continue
        empty = ("",) * made.num_plurals if one.pluralizable else ""
        made.add(one.id, known.string if known else empty, flags=one.flags, context=one.context)
    return made


def is_empty(one: Message) -> bool:
    """Tell whether a form of a message has no words yet."""
    return bool(one.id) and not (one.string if isinstance(one.string, str) else all(one.string or ("",)))


def as_po(words: Catalog) -> bytes:
    """Return the text of a language's file."""
    text = BytesIO()
    write_po(text, words, no_location=True, width=120, omit_header=False)
    return text.getvalue()


def compiled(words: Catalog) -> bytes:
    """Return what the program reads."""
    data = BytesIO()
    write_mo(data, words)
    return data.getvalue()


def main() -> int:
    """Bring every language up to the program, and say what is still to be translated."""
    messages = gathered()
    for path in sorted(FOLDER.rglob("*.po")):
        name = path.relative_to(FOLDER).with_suffix("").as_posix()
        words = brought_up(read(name), messages, known_only="/" in name)
        path.write_bytes(as_po(words))
        path.with_suffix(".mo").write_bytes(compiled(words))
        print(f"{name}: {len(words)} messages, {sum(map(is_empty, words))} without words")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""A department in which every text that an educator may write freely is hostile.

``texts/`` holds a value for every key. ``§`` in it stands for a hostile text, ``¤`` for one short enough for an
edition or a telephone number; each gets a number of its own, so that a test can tell which text was cut or changed.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from html import escape
from pathlib import Path
from types import GenericAlias
from typing import Any, get_args

import yaml
from department import read
from pydantic import BaseModel

from builder.facts.translations import originals
from builder.load.sources.latex import latex
from builder.model.catalogue import Catalogue
from builder.model.edition import edition_of
from builder.model.fields import Node
from builder.model.json_schema import KINDS
from builder.place import Text
from builder.publish import issuing

HOSTILE = "zq# 1 & 2 <b>]]>\"'{{ j }}\\n \U0001f600 e\u0301 x\u030c"
LONG = "zq# & hepaticojejunocholangiostomys"
SHORT = "zq# & <b>]]>'"
RIGHT_TO_LEFT = "zq# \u05e9\u05b8\u05dc\u05d5\u05b9\u05dd \u0633\u0644\u0627\u0645"

_DEPARTMENT = Path(__file__).parent / "texts"
_MARKS = re.compile("[§¤]")
TAG = re.compile(r"z[qx]\d+q")
_STRAIGHT = str.maketrans({"“": '"', "”": '"', "‘": "'", "’": "'", "\u00ad": None})
EXAMPLE = "content/procedures/example/procedure.md"

# Texts that are no free words, by the rule that leaves them out.
LEFT_OUT: Mapping[str, frozenset[tuple[str, str]]] = {
    "an id, or the name of a file": frozenset({
        ("Structure", "id"), ("Item", "id"), ("Consent", "id"), ("Choose", "id"), ("Choose", "between"),
        ("Option", "id"), ("StepEntry", "step"), ("Follow", "choice"), ("Follow", "branches"), ("Figure", "file"),
        ("Figure", "consent"), ("Citation", "source"), ("Acceptance", "check"), ("Procedure", "aftercare"),
        ("Step", "cautions"), ("Caution", "guards"), ("Aftercare", "goes_with"),
        ("OnlyIf", "choice"), ("OnlyIf", "branch"), ("Step", "converts_to"),
    }),
    "a name of the catalogue, which is filled there": frozenset({
        ("Action", "through"), ("NotClose", "structure"), ("NotClose", "to"), ("Structure", "not_close_to"),
    }),
    "a reason that the department gives the checks, and nobody else": frozenset({
        ("Structure", "off"), ("Item", "off"), ("NotClose", "because"),
    }),
    "what is local over a parent, which tests/local fills": frozenset({
        ("LocalPage", "edition"), *(("LocalEntry", key) for key in (
            "replace", "add", "switch_off", "key", "after", "before", "because", "document", "was",
        )),
    }),
    "who said it, which only a draft laid out of several has, and no output shows": frozenset({
        ("Step", "said_by"), ("Action", "said_by"), ("Caution", "said_by"), ("Aftercare", "said_by"),
    }),
    "a closed vocabulary": frozenset({
        ("Department", "language"), ("Department", "paper"), ("Citation", "level"),
    }),
    "a number with its unit, or a time": frozenset({
        ("Dose", "strength"), ("Dose", "amount"), ("Dose", "every"), ("Dose", "per_weight"), ("Dose", "cap"),
        ("Dose", "draw_up"), ("Band", "amount"), ("Step", "heard_at"), ("Caution", "heard_at"),
        ("Aftercare", "heard_at"),
    }),
    "an address, or a digest": frozenset({
        ("Department", "site"), ("Approval", "content"), ("TranslationCheck", "content"), ("Parent", "folder"),
        ("Parent", "wheel"), ("Parent", "archive"), ("Parent", "digest"),
    }),
    "what `region.yml` says, which is of no department; tests/region fills it": frozenset({
        ("Region", "name"), ("Region", "language"), ("Member", "id"), ("Member", "folder"), ("Member", "wheel"),
        ("Member", "archive"), ("Member", "digest"), ("RegionCache", "folder"),
    }),
}  # fmt: skip


def text_fields() -> set[tuple[str, str]]:
    """Return ``(class, field)`` of every text that front matter may hold, whatever kind of file it is in."""
    found: set[tuple[str, str]] = set()
    waiting: list[Any] = [adapter._type for adapter in KINDS.values()]
    seen: set[Any] = set()
    while waiting:
        kind = waiting.pop()
        if kind in seen:
            continue
        seen.add(kind)
        if isinstance(kind, type) and not isinstance(kind, GenericAlias) and issubclass(kind, BaseModel):
            for name, field in kind.model_fields.items():
                if name not in ("id", "body", "where", "parts") or (name == "id" and "id" in kind.__annotations__):
                    parts = set(_parts(field.annotation))
                    if Text in parts:
                        found.add((kind.__name__, name))
                    waiting.extend(parts)
        else:
            waiting.extend(_parts(kind))
    return found


def _parts(annotation: Any) -> Iterator[Any]:
    """Yield every type that ``annotation`` is made of."""
    yield annotation
    inner = getattr(annotation, "__value__", None)
    for part in (*get_args(annotation), *([inner] if inner is not None else [])):
        try:
            hash(part)
        except TypeError:
            continue
        yield from _parts(part)


def hostile_fields(library: Any) -> set[tuple[str, str]]:
    """Return ``(class, field)`` of every text of ``library`` that holds something hostile."""
    parts = [library.department, library.structures, library.items, library.terms, library.consents]
    for procedure in library.procedures:
        parts += [procedure, procedure.parts.steps, procedure.parts.cautions, procedure.parts.aftercare]
        parts += [procedure.translations]
    return {owner for part in parts for owner, text in _texts_in(part, ("", "")) if "&" in text and "<" in text}


def _texts_in(value: Any, owner: tuple[str, str]) -> Iterator[tuple[tuple[str, str], str]]:
    """Yield every text in ``value`` with the class and field that it belongs to."""
    if isinstance(value, Node):
        for name in type(value).model_fields:
            yield from _texts_in(getattr(value, name), (type(value).__name__, name))
    elif isinstance(value, str):
        yield owner, value
    elif isinstance(value, Mapping):
        yield from _texts_in([*value.keys(), *value.values()], owner)
    elif isinstance(value, tuple | list | Catalogue):
        for inner in value:
            yield from _texts_in(inner, owner)


class HostileDepartment:
    """A copy of the department in ``root`` with ``hostile`` in every free text: ``texts`` tells them by their tag,
    ``leads`` what stands before them."""

    def __init__(self, folder: Path, hostile: str, short: str = SHORT) -> None:
        self.root = folder / "department"
        self.texts: dict[str, str] = {}
        self._hostile = {"§": hostile, "¤": short}
        self.leads: dict[str, str] = {}
        self._tags: dict[str, str] = {}
        shutil.copytree(_DEPARTMENT, self.root)
        for path in sorted(self.root.rglob("*")):
            if path.is_file():
                path.write_text(_WRITERS[path.suffix](self, path.read_text(encoding="utf-8")), encoding="utf-8")
        self._translate("de")

    def _translate(self, language: str) -> None:
        """Write a checked translation: each sentence with what is hostile in it, under tags of its own that have the
        same numbers, because a translation has."""
        check = {"by": "Checked by §", "role": "As §", "on": "2026-01-31", "content": "unread"}
        head = self.value({"translator": "Translated by §", "checked": check})
        lines = []
        for item, original in originals(read(self.root)[0].by_id["example"]):
            lines += [f"# {item}", f"> {original}", TAG.sub(self._again, original)]
        body = "\n\n".join(lines)
        path = self.root / EXAMPLE.replace("procedure.md", f"translations/{language}.md")
        path.parent.mkdir(exist_ok=True)
        for _ in range(2):  # the second time with the digest of what was read
            front = yaml.safe_dump(head, allow_unicode=True, sort_keys=False, width=10_000)
            path.write_text(f"---\n{front}---\n\n{body}\n", encoding="utf-8")
            head["checked"]["content"] = read(self.root)[0].by_id["example"].translations[language].content

    def _again(self, tag: re.Match[str]) -> str:
        """Return another tag for the hostile text of ``tag``."""
        other = tag.group().replace("zq", "zx")
        self.texts[other] = self.texts[tag.group()].replace(tag.group(), other)
        self.leads[other] = f"translated: {self.leads[tag.group()]}"
        return other

    def put(self, text: str, written: Callable[[str], str] = str) -> str:
        """Return ``text`` with what is hostile in place of the marks, ``written`` as its file wants it."""

        def hostile(mark: re.Match[str]) -> str:
            tag = self._tags.setdefault(text, f"zq{len(self._tags) + 1}q")
            self.texts[tag] = self._hostile[mark.group()].replace("zq#", tag)
            self.leads[tag] = text[: mark.start()].strip()
            return written(self.texts[tag])

        return _MARKS.sub(hostile, text)

    def value(self, value: Any) -> Any:
        """Return a value of YAML with what is hostile put into every text."""
        if isinstance(value, dict):
            return {self.value(key): self.value(inner) for key, inner in value.items()}
        return [self.value(inner) for inner in value] if isinstance(value, list) else self.put(value)

    def issue(self) -> None:
        """Approve and issue the procedure, change a step and the edition, and approve it again."""
        path = self.root / EXAMPLE
        for written, other in (("", ""), ("edition: 1", "edition: 2")):
            path.write_text(re.sub(r"content: \S+", "content: unread", path.read_text().replace(written, other, 1)))
            library, _ = read(self.root)
            content = edition_of(library, library.by_id["example"]).content
            path.write_text(path.read_text().replace("content: unread", f"content: {content}"))
            if not written:
                library = issuing.with_editions(read(self.root)[0])
                issuing.append(self.root, issuing.to_issue(library))


def _yaml(department: HostileDepartment, text: str) -> str:
    value = department.value(yaml.load(text, Loader=yaml.BaseLoader))
    return yaml.safe_dump(value, allow_unicode=True, sort_keys=False, width=10_000)


def _markdown(department: HostileDepartment, text: str) -> str:
    _, front, body = text.split("---\n", 2)
    prose = "".join(department.put(line, as_prose) for line in _lines(body))
    return f"---\n{_yaml(department, front)}---\n{prose}"


def as_prose(text: str) -> str:
    """Return ``text`` as Markdown that shows it."""
    return re.sub(r"([\\`*_{}\[\]()>#+.!-])", r"\\\1", text.replace("<", "&lt;"))


def _lines(text: str) -> list[str]:
    return text.splitlines(keepends=True)


def _bibliography(department: HostileDepartment, text: str) -> str:
    return "".join(department.put(line, latex) for line in _lines(text))


def _drawing(department: HostileDepartment, text: str) -> str:
    return "".join(department.put(line, escape) for line in _lines(text))


def _notices(department: HostileDepartment, text: str) -> str:
    head, rows = _lines(text)[:2], _lines(text)[2:]
    target = io.StringIO()
    csv.writer(target, lineterminator="\n").writerows(
        [department.put(cell) for cell in row] for row in csv.reader(rows)
    )
    return "".join(head) + target.getvalue()


_WRITERS: Mapping[str, Callable[[HostileDepartment, str], str]] = {
    ".md": _markdown, ".yml": _yaml, ".bib": _bibliography, ".svg": _drawing, ".csv": _notices,
}  # fmt: skip


def strings_in(value: Any) -> Iterator[str]:
    """Yield every text in what JSON holds."""
    if isinstance(value, dict):
        yield from (text for pair in value.items() for part in pair for text in strings_in(part))
    elif isinstance(value, list):
        yield from (text for part in value for text in strings_in(part))
    elif isinstance(value, str):
        yield value


def changed(told: str, texts: Mapping[str, str], *written: Callable[[str], str]) -> Iterator[str]:
    """Yield each hostile text that ``told`` begins and does not go on with as it was written; spaces do not count.

    ``written``: as which it may stand there too, such as the Markdown of a file.
    """
    bare = plain(told)
    for found in TAG.finditer(bare):
        wanted = plain(texts[found.group()])
        either = (wanted, *(plain(form(texts[found.group()])) for form in written))
        if not bare.startswith(either, found.start()):
            yield f"{wanted!r} became {bare[found.start() : found.start() + len(wanted) + 10]!r}"


def plain(text: str) -> str:
    """Return ``text`` as it is compared: marks joined to their letters, quotes straight, no spaces."""
    return "".join(unicodedata.normalize("NFC", text).translate(_STRAIGHT).split())

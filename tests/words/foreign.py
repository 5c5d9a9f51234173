"""A department whose own words are all Greek letters, and a language whose words are all accented letters.

Each Latin letter has one letter of either alphabet, so that nothing is lost; they mean nothing. Whatever Latin letters
an output then has were written by neither the department nor the catalogue.
"""

from __future__ import annotations

import json
import re
import shutil
import zipfile
from collections.abc import Iterator
from gettext import NullTranslations
from pathlib import Path
from typing import Any

import pypdfium2
import yaml
from lxml import etree

from builder.grouping import word_set

_LATIN = "abcdefghijklmnopqrstuvwxyz"
_GREEK = "αβγδεζηθικλμνξοπρστυφχψωϊϋ"
_ACCENTED = "āćďēģĥīĵķļńōŕśťūŵŷźàçèìñòù"  # our type has them
_AS_GREEK = str.maketrans(_LATIN + _LATIN.upper(), _GREEK + _GREEK.upper())
_AS_ACCENTED = str.maketrans(_LATIN + _LATIN.upper(), _ACCENTED + _ACCENTED.upper())
_PLACE = re.compile(r"(%\(\w+\)s)")
# What the format itself means, and ids, by which parts refer to each other: no words of the department.
_FORMAT = word_set("""
id side edition status review_by sequence aftercare basis supervision minutes signal guards cautions evidence file
consent kind engine language paper wording review levels site number from until goes_with choice branch strength amount
every source from_home
""")
_TITLED = ("title", "when")  # of a choice


class Marked(NullTranslations):
    """The catalogue of a language in which every word of the program is made of accented letters."""

    def gettext(self, message: str) -> str:
        return "".join(
            part if _PLACE.fullmatch(part) else part.translate(_AS_ACCENTED) for part in _PLACE.split(message)
        )

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)


def greek(value: Any, key: str = "") -> Any:
    """Return ``value`` of front matter with its words in Greek letters; what the format means is left as it is."""
    if key in _FORMAT and key != "sequence":
        return value
    if key == "sequence":
        return [_choice(entry) for entry in value]
    if isinstance(value, dict):
        return {greek(name) if key == "kit" else name: greek(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [greek(inner, key) for inner in value]
    return value.translate(_AS_GREEK) if isinstance(value, str) else value


def _choice(entry: Any) -> Any:
    if isinstance(entry, str):
        return entry
    return {
        kind: {name: greek(inner) if name in _TITLED else inner for name, inner in told.items()}
        for kind, told in entry.items()
    }


def _prose(text: str) -> str:
    """Return prose with its words in Greek letters; where links lead to stays."""
    parts = re.split(r"(\]\([^)]*\))", text)
    return "".join(part if part.startswith("](") else part.translate(_AS_GREEK) for part in parts)


def in_greek(source: Path, to: Path) -> Path:
    """Copy the department in ``source`` to ``to``, its own words in Greek letters."""
    shutil.copytree(source, to)
    for path in to.rglob("*.md"):
        _, front, body = path.read_text(encoding="utf-8").split("---\n", 2)
        told = yaml.safe_dump(greek(yaml.safe_load(front)), allow_unicode=True, sort_keys=False)
        path.write_text(f"---\n{told}---\n{_prose(body)}", encoding="utf-8")
    for path in (to / "content" / "catalogue").glob("*.yml"):
        told = greek(yaml.safe_load(path.read_text(encoding="utf-8")))
        path.write_text(yaml.safe_dump(told, allow_unicode=True, sort_keys=False), encoding="utf-8")
    for path in to.rglob("*.bib"):
        text = re.sub(r"(author|title|journal) = \{(.*)\}", _greek_field, path.read_text(encoding="utf-8"))
        path.write_text(text, encoding="utf-8")
    return to


def _greek_field(match: re.Match[str]) -> str:
    words = " ".join(word if word == "and" else word.translate(_AS_GREEK) for word in match[2].split(" "))
    return f"{match[1]} = {{{words}}}"


_SAYING = ("alt", "title", "aria-label", "data-label", "data-title", "data-goes-on", "placeholder", "summary")


def texts_of(path: Path) -> Iterator[str]:
    """Yield each piece of text of a finished file that a reader may see or hear."""
    match path.suffix:
        case ".pdf":
            with pypdfium2.PdfDocument(path) as pdf:
                yield from (page.get_textpage().get_text_range() for page in pdf)
                yield from pdf.get_metadata_dict().values()
        case ".docx" | ".pptx" | ".epub" | ".zip":
            with zipfile.ZipFile(path) as package:
                for name in package.namelist():
                    if name.endswith((".xml", ".html", ".xhtml", ".opf")) and name != "docProps/custom.xml":
                        yield from _marked_up(package.read(name))
        case ".html" | ".xml" | ".atom":
            yield from _marked_up(path.read_bytes())
        case ".js" | ".css" | ".svg" | ".woff2" | ".conf" | ".png":
            return
        case ".json" if path.name != "build-report.json":
            yield json.dumps(json.loads(path.read_text(encoding="utf-8")), ensure_ascii=False)
        case _ if path.name != "build-report.json":
            yield path.read_text(encoding="utf-8")


def _marked_up(content: bytes) -> Iterator[str]:
    is_page = b"<html" in content[:2000].lower()
    root = etree.fromstring(content, etree.HTMLParser(encoding="utf-8") if is_page else etree.XMLParser())
    for node in root.iter():
        yield node.tail or ""
        if not isinstance(node.tag, str) or node.tag in ("style", "script", "code"):
            continue
        yield node.text or ""
        yield from (str(value) for name, value in node.attrib.items() if name in _SAYING)

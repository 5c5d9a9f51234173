"""More than three hundred ways to write a person, by what is written and what carries it into what is published.

The lines are those of ``planted_words/persons.yml`` and ``identity.yml``: invented people, and look-alikes.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from html import escape
from itertools import cycle, islice
from pathlib import Path
from urllib.parse import quote

import pikepdf
import yaml

from builder.readback.identity import problems_of

PLANTED = Path(__file__).parents[1] / "planted_words"
EACH = 3
"""In how many carriers each line is tried."""


def _slides(line: str) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("ppt/slides/slide1.xml", f"<a:t>{escape(line)}</a:t>")
    return target.getvalue()


def _pdf(line: str) -> bytes:
    target, pdf = io.BytesIO(), pikepdf.new()
    pdf.add_blank_page()
    pdf.docinfo["/Subject"] = line
    pdf.save(target)
    return target.getvalue()


def _alt(line: str) -> bytes:
    target, pdf = io.BytesIO(), pikepdf.new()
    pdf.add_blank_page()
    pdf.Root["/Part"] = pdf.make_indirect(pikepdf.Dictionary({"/Alt": pikepdf.String(line)}))
    pdf.save(target)
    return target.getvalue()


CARRIERS: dict[str, tuple[str, Callable[[str], bytes]]] = {
    "words of a page": ("a.html", lambda line: f"<p>{escape(line)}</p>".encode()),
    "words split by marks": ("a.html", lambda line: f"<p><b>{escape(line).replace(' ', '</b> <b>')}</b></p>".encode()),
    "alternative text": ("a.html", lambda line: f'<img alt="{escape(line)}">'.encode()),
    "data attribute": ("a.html", lambda line: f'<p data-case="{escape(line)}">x</p>'.encode()),
    "address of a link": ("a.html", lambda line: f'<a href="x?{quote(line)}">x</a>'.encode()),
    "remark": ("a.html", lambda line: f"<!-- {line} -->".encode()),
    "style sheet": ("a.css", lambda line: f"/* {line} */".encode()),
    "search data": ("search/places.js", lambda line: f"places = {json.dumps([line], ensure_ascii=False)}".encode()),
    "text of a drawing": ("a.svg", lambda line: f"<svg><text>{escape(line)}</text></svg>".encode()),
    "title of a drawing": ("a.svg", lambda line: f"<svg><title>{escape(line)}</title></svg>".encode()),
    "slides": ("a.pptx", _slides),
    "properties of a PDF": ("a.pdf", _pdf),
    "description in a PDF": ("a.pdf", _alt),
}  # fmt: skip


def lines(group: str) -> list[tuple[str, str]]:
    """Return kind and text of each line of a ``group``: errors, or innocent."""
    found: list[tuple[str, str]] = []
    for name in ("persons.yml", "identity.yml"):
        listed = yaml.safe_load((PLANTED / name).read_text("utf-8"))[group]
        kinds = listed.items() if isinstance(listed, dict) else [(group, listed)]
        found.extend((kind, line) for kind, each in kinds for line in each)
    return found


def ways(group: str) -> list[tuple[str, str, str]]:
    """Return kind, carrier and text of each way: each line in EACH carriers, so that all carriers have their turn."""
    carriers = cycle(CARRIERS)
    return [(kind, carrier, line) for kind, line in lines(group) for carrier in islice(carriers, EACH)]


def is_found(carrier: str, line: str) -> bool:
    """Tell whether the sweep of finished files finds who is named in ``line``."""
    name, carried = CARRIERS[carrier]
    return any(True for _ in problems_of(name, carried(line)))

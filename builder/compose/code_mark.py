"""The mark on a card or handout: the short code as text, and as a QR code of its status page.

The address is written in capitals as far as it may be (scheme and host; the path of the department stays as it is),
because capitals take five and a half bits each in a QR code and small letters eight: a smaller symbol on a small card.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from typing import Any
from urllib.parse import urlsplit

import segno
from segno import consts

from builder.compose.document import Must
from builder.load.program_words import gettext
from builder.model.edition import edition_of
from builder.model.library import Library
from builder.model.pages import Procedure

FOLDER = "C"
"""Where status pages stand on the site. No procedure can have this id: ids are in small letters."""
MODULE_MM = 0.42
"""The side of a module as it is set: at least 0.4 mm after every rounding."""
LEAST_MODULE_MM = 0.4
QUIET = 4
"""Modules of white around the symbol (ISO/IEC 18004)."""
_LEVEL = "m"  # a tenth to a seventh of the symbol may be lost
SCHEME = "code"
QR = "qr"
"""The kind of must whose text is the address that a QR code on the paper holds."""
_CAPITALS = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")

Matrix = tuple[tuple[bool, ...], ...]
"""The modules of a symbol, row by row, True where dark; without the quiet zone."""


@dataclass(frozen=True, slots=True)
class CodeMark:
    """The mark of one edition.

    ``code`` such as 7K3-M9P-XT4; ``address`` of its status page, "" where the department has no site; ``issued``
    whether the code stands in the ledger.
    """

    code: str
    address: str
    issued: bool

    @property
    def image(self) -> str:
        """What a template on paper names as the picture of the QR code, "" where there is none."""
        return f"{SCHEME}:{self.address}" if self.address else ""

    @property
    def alt(self) -> str:
        """The description of that picture."""
        return gettext("QR code: %(address)s", address=self.address)

    @property
    def side_mm(self) -> float:
        """The side of the symbol with its quiet zone; only paper asks, and to make a symbol costs as much as a page."""
        return round((len(matrix_of(self.address)) + 2 * QUIET) * MODULE_MM, 2) if self.address else 0.0

    @property
    def question(self) -> str:
        """What stands before the code: how to ask whether the paper is still current."""
        if not self.address:
            return f"{gettext('Code')} "
        return gettext("Still current? See %(address)s", address=shown_address(self.address).removesuffix(self.code))

    @property
    def standing(self) -> str:
        """What stands after the code: a code that is in no ledger answers nothing once the text has changed."""
        return "" if self.issued else gettext("\u00a0(not\u00a0issued)")

    @property
    def musts(self) -> tuple[Must, ...]:
        """What a document on paper that bears this mark promises to show."""
        words = Must("code", "code", f"{self.question}{self.code}{self.standing}")
        if not self.address:
            return (words,)
        return (words, Must("figure", "code", self.alt), Must(QR, "code", self.address))


def mark_of(library: Library, procedure: Procedure) -> CodeMark:
    """Return the mark of ``procedure`` as it stands."""
    code = edition_of(library, procedure).code
    return CodeMark(code, address_of(str(library.department.site or ""), code), library.ledger.find(code) is not None)


def page_name(code: str) -> str:
    """Return the path of the status page of ``code`` in the published folder."""
    return f"{FOLDER}/{code}/index.html"


def address_of(site: str, code: str) -> str:
    """Return the address of the status page of ``code`` on ``site``; "" where there is no site."""
    parts = urlsplit(site.strip())
    if not parts.netloc:
        return ""
    start = f"{parts.scheme}://{parts.netloc}".upper() + parts.path.rstrip("/")
    return f"{start}/{FOLDER}/{code}/"


def shown_address(address: str) -> str:
    """Return ``address`` as it is typed: without the scheme, the host in small letters."""
    parts = urlsplit(address)
    return f"{parts.netloc.lower()}{parts.path}".rstrip("/")


@cache
def matrix_of(address: str) -> Matrix:
    """Return the smallest QR code at level M that holds ``address``. Raises ValueError where none does."""
    split = [("".join(run), mode) for mode, run in groupby(address, _mode)]
    contents: tuple[Any, ...] = (address, split) if len(split) > 1 else (address,)
    codes = [segno.make(content, error=_LEVEL, micro=False, boost_error=False) for content in contents]
    best = min(codes, key=lambda code: int(code.version))
    return tuple(tuple(bool(module) for module in row) for row in best.matrix)


def _mode(sign: str) -> int:
    return int(consts.MODE_ALPHANUMERIC if sign in _CAPITALS else consts.MODE_BYTE)


def svg_of(address: str) -> str:
    """Return the QR code of ``address`` as SVG, one unit a module, the quiet zone around it.

    Each row is drawn as runs, and each column too: drawn once, the joints between rows would show as pale lines.
    All run clockwise, so that none takes ink from another.
    """
    matrix = matrix_of(address)
    side = len(matrix) + 2 * QUIET
    columns = tuple(zip(*matrix, strict=True))
    runs = [f"M{x + QUIET} {y + QUIET}h{length}v1h-{length}z" for y, x, length in _runs(matrix)]
    runs += [f"M{x + QUIET} {y + QUIET}h1v{length}h-1z" for x, y, length in _runs(columns) if length > 1]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" width="{side}" height="{side}">'
        f'<path fill="#000" d="{"".join(runs)}"/></svg>'
    )


def _runs(lines: Matrix) -> Iterator[tuple[int, int, int]]:
    """Yield line, start and length of each run of dark modules."""
    for line, modules in enumerate(lines):
        start = 0
        for dark, run in groupby(modules):
            length = len(tuple(run))
            if dark:
                yield line, start, length
            start += length

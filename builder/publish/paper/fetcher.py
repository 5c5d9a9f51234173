"""Serves the typesetter the files it may use, and nothing else.

Three schemes exist, so that no address can mean a file elsewhere: ``folder:`` is a figure of the department's folder,
``templates:`` a font or picture of the templates, and ``code:`` the QR code of the address behind it, drawn here. Web
addresses, ``data:`` and ``file:``, ways out of a folder however they are encoded, links and other kinds of file are
refused, and a refusal ends the document: the typesetter would only log it.
"""

import re
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import unquote

from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from builder.compose.code_mark import SCHEME, svg_of
from builder.findings.finding import Refused
from builder.load.files import read_bytes
from builder.load.templates import FOLDER, own_folder

MAX_BYTES = 20 * 1024 * 1024
_SCHEME = re.compile(r"(?P<scheme>[a-z]+):(?P<name>.*)", re.DOTALL)
_SERVED: Mapping[str, Mapping[str, str]] = {
    "folder": {".svg": "image/svg+xml", ".png": "image/png"},
    "templates": {".ttf": "font/ttf", ".svg": "image/svg+xml", ".png": "image/png"},
}


class ProjectFetcher(URLFetcher):  # type: ignore[misc]  # WeasyPrint publishes no types
    """Fetches for one department. ``refused`` holds what was asked for in vain, in order."""

    def __init__(self, root: Path) -> None:
        super().__init__()
        self.refused: list[str] = []
        own = own_folder()
        self._folders = {"folder": (root,), "templates": (root / FOLDER, own)}

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:  # noqa: ARG002  # part of the interface
        """Return the file that ``url`` names. Raises FatalURLFetchingError, after noting why, for anything else."""
        match = _SCHEME.fullmatch(url)
        if match and match["scheme"] == SCHEME:
            return self._code(url, unquote(match["name"]))
        served = _SERVED.get(match["scheme"]) if match else None
        if match is None or served is None:
            raise self._refuse(url, "only files of the department's folder and of the templates are shown")
        name = unquote(match["name"])
        if "%" in name:
            raise self._refuse(url, "its name is encoded more than once")
        ending = Path(name).suffix.lower()
        if ending not in served:
            raise self._refuse(url, f"only {', '.join(served)} files are shown")
        return URLFetcherResponse(url, self._bytes(url, match["scheme"], name), {"Content-Type": served[ending]})

    def _bytes(self, url: str, scheme: str, name: str) -> bytes:
        reason = ""
        for folder in self._folders[scheme]:
            try:
                return read_bytes(folder, name, MAX_BYTES)
            except Refused as refusal:
                reason = refusal.finding.message
        raise self._refuse(url, reason)

    def _code(self, url: str, address: str) -> URLFetcherResponse:
        try:
            drawn = svg_of(address)
        except ValueError:
            raise self._refuse(url, "no QR code holds it") from None
        return URLFetcherResponse(url, drawn.encode(), {"Content-Type": "image/svg+xml"})

    def _refuse(self, url: str, reason: str) -> FatalURLFetchingError:
        shown = url if len(url) <= 120 else f"{url[:120]}…"
        self.refused.append(f"{shown}: {reason}")
        return FatalURLFetchingError(self.refused[-1])

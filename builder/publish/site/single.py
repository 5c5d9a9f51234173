"""Single files: style, script, type and pictures are put into the page itself."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from html import escape
from pathlib import Path, PurePosixPath
from urllib.parse import unquote

from builder.compose.document import Document
from builder.compose.site.hosting import single_policy, site_policy
from builder.compose.site.single import POLICY_MARK, SCRIPT_MARK, STYLE_MARK
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.publish.pictures.drawings import safe_picture
from builder.publish.publish_error import PublishError
from builder.publish.site.assets import FONTS, asset

MAX_BYTES = 2_000_000
_TYPES = {".svg": "image/svg+xml", ".png": "image/png"}
_PICTURE = re.compile(r'<img src="figures/([^"]+)"')


class SingleFiles:
    """Writes single files of one department; style and script are the same in each, so one policy fits all."""

    def __init__(self, root: Path, templates: Mapping[str, str]) -> None:
        self.root = root
        style = templates["site/look/site.css"]
        for name in FONTS:
            file = PurePosixPath(name).name
            style = style.replace(f'url("{file}")', f'url("{_inline("font/woff2", asset(root, name))}")')
        self.style = style
        # A script in the head runs before the page is there; `defer` works on files only.
        self.script = f"document.addEventListener('DOMContentLoaded',function(){{{templates['site/look/site.js']}}});"
        if "</" in self.style + self.script:
            raise PublishError("site.css and site.js may not hold `</`: it would end them inside a single file.")

    @property
    def site_policy(self) -> str:
        """The policy of a server that serves the site with its single files."""
        return site_policy(self.style, self.script)

    def write(self, document: Document, path: Path) -> None:
        """Write ``document`` to ``path``. Raises PublishError where it is larger than 2 MB."""
        pictures = {PurePosixPath(name).name: self._picture(name) for name in document.resources}
        head, body, rest = document.text.partition("<body>")
        head = head.replace(POLICY_MARK, escape(single_policy(self.style, self.script)), 1)
        head = head.replace(STYLE_MARK, self.style, 1).replace(SCRIPT_MARK, self.script, 1)
        rest = _PICTURE.sub(lambda match: f'<img src="{pictures[unquote(match[1])]}"', rest)
        content = f"{head}{body}{rest}".encode()
        if len(content) > MAX_BYTES:
            largest = max(pictures, key=lambda name: len(pictures[name]), default="its text")
            size = f"{len(content) / 1e6:.1f} MB"
            hint = f"The largest part is {largest}: save it smaller."
            raise PublishError(f"{document.name} has {size}; a single file has at most 2 MB. {hint}", is_content=True)
        path.write_bytes(content)

    def _picture(self, name: str) -> str:
        content = safe_picture(name, read_bytes(self.root, name, MAX_FIGURE_BYTES))
        return _inline(_TYPES[PurePosixPath(name).suffix], content)


def _inline(kind: str, content: bytes) -> str:
    return f"data:{kind};base64,{base64.b64encode(content).decode()}"

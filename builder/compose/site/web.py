"""What every page of the site shares: its way to the root, its frame, and the Markdown it is handed over in."""

from __future__ import annotations

import json
from dataclasses import dataclass

from builder.compose.document import Document
from builder.compose.render import Renderer
from builder.compose.site.search import SearchSection
from builder.compose.view.words import USUAL_CAUTION
from builder.model.library import Library


@dataclass(frozen=True, slots=True)
class WebPage(Document):
    """A page of the site; ``sections`` are what its search box finds in it."""

    sections: tuple[SearchSection, ...] = ()


def way_to_root(name: str) -> str:
    """Return the relative way from the page ``name`` to the root of the site: ``.`` or ``..`` and so on."""
    return "/".join([".."] * name.count("/")) or "."


def frame(library: Library, renderer: Renderer, root: str, *, is_front: bool = False) -> dict[str, str]:
    """Return what stands above and below a page: ``header`` and ``footer``, with links that start at ``root``.

    The front page names the department itself and has a search box of its own.
    """
    department = library.department
    values = {
        "root": root,
        "department": str(department.name),
        "is_front": is_front,
        "usual_caution": USUAL_CAUTION,
        "call": [(str(contact.role), str(contact.number)) for contact in department.call],
    }
    return {part: renderer.render(f"site/{part}.html.j2", **values) for part in ("header", "footer")}


def page_text(library: Library, title: str, description: str, html: str) -> str:
    """Return a page of the department as ``as_markdown`` does, its title followed by the department's name."""
    return as_markdown(f"{title} · {library.department.name}", description, html)


def as_markdown(title: str, description: str, html: str, frame: str = "") -> str:
    """Return a page for the site engine: title, description, and ``html`` as one block that Markdown passes through.

    ``html`` is one element, so that nothing in it, whatever an educator wrote, is read as Markdown. JSON is YAML.
    ``frame`` names the frame where it is not that of the page's way to the root.
    """
    front = {"title": title, "description": description, "frame": frame}
    lines = "".join(f"{key}: {json.dumps(value)}\n" for key, value in front.items())
    return f"---\n{lines}---\n{html}\n"

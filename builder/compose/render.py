"""Fills templates. A template only arranges: it sees a view whose texts and numbers are final."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup


def _safe(html: str) -> Markup:
    """Mark text that the composer cleaned; every ``..._html`` of a view goes through this in the template."""
    return Markup(html)  # noqa: S704  # cleaned by compose.prose, the only maker of such texts


class Renderer:
    """The templates of ``site_templates/`` by name; escaping is on, and a missing name is an error."""

    def __init__(self, templates: Mapping[str, str]) -> None:
        self.templates = templates
        self._environment = Environment(
            loader=DictLoader(dict(templates)),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self._environment.filters["clean"] = _safe

    def render(self, name: str, **values: Any) -> str:
        """Return the template ``name`` filled with ``values``."""
        return self._environment.get_template(name).render(**values)

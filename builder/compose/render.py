"""Fills templates. A template only arranges: it sees a view whose texts and numbers are final."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup


def _safe(html: str) -> Markup:
    """Mark text that the composer cleaned; every ``..._html`` of a view goes through this in the template."""
    return Markup(html)  # noqa: S704  # cleaned by compose.prose, the only maker of such texts


Measure = Callable[[str], tuple[Mapping[str, float], ...]]
"""Sets a page of HTML and returns, for each sheet, how far in mm every element with an id lies below its top edge."""


def _nothing_measures(html: str) -> tuple[Mapping[str, float], ...]:
    raise RuntimeError(f"this output fits text to paper, so its Renderer needs a measure ({len(html)} characters)")


class Renderer:
    """The templates of ``site_templates/`` by name; escaping is on, and a missing name is an error.

    ``measure`` is handed in by whoever sets type, because composing reads no fonts itself.
    """

    def __init__(self, templates: Mapping[str, str], measure: Measure = _nothing_measures) -> None:
        self.templates = templates
        self.measure = measure
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

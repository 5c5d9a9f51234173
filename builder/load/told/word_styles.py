"""Styles and lists of a word-processor file: what is a heading, what is numbered, what has bullets."""

from __future__ import annotations

from typing import Any

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_BULLETS = frozenset({"bullet", "none"})


def numbering(properties: Any) -> tuple[str | None, str | None]:
    """Return list and level that the properties of a paragraph name; None where they name none."""
    numbers = properties.find(f"{W}numPr")
    if numbers is None:
        return None, None
    id, level = numbers.find(f"{W}numId"), numbers.find(f"{W}ilvl")
    return (id.get(f"{W}val") if id is not None else None), (level.get(f"{W}val") if level is not None else None)


def styles_of(document: Any) -> dict[str, tuple[str, str | None, str | None]]:
    """Return name, list and level of each style by its id; one without a list has that of the style it builds on."""
    written: dict[str, tuple[str, str | None, str | None]] = {}
    based: dict[str, str] = {}
    for style in document.styles.element.iter(f"{W}style"):
        id = style.get(f"{W}styleId", "")
        name = style.find(f"{W}name")
        properties = style.find(f"{W}pPr")
        number, level = numbering(properties) if properties is not None else (None, None)
        written[id] = (name.get(f"{W}val", "") if name is not None else "", number, level)
        base = style.find(f"{W}basedOn")
        based[id] = base.get(f"{W}val", "") if base is not None else ""
    return {id: (name, *_inherited(id, written, based)) for id, (name, _, _) in written.items()}


def _inherited(
    id: str, styles: dict[str, tuple[str, str | None, str | None]], based: dict[str, str]
) -> tuple[str | None, str | None]:
    for _ in range(10):
        if id not in styles:
            break
        if styles[id][1] is not None:
            return styles[id][1], styles[id][2]
        id = based[id]
    return None, None


def bullets_of(document: Any) -> dict[tuple[str, int], bool]:
    """Return by list and level whether it shows bullets and no numbers."""
    try:
        root = document.part.numbering_part.element
    except (KeyError, NotImplementedError):
        return {}
    formats: dict[tuple[str, int], bool] = {}
    for abstract in root.iter(f"{W}abstractNum"):
        for level in abstract.iter(f"{W}lvl"):
            form = level.find(f"{W}numFmt")
            shown = form.get(f"{W}val", "") if form is not None else ""
            formats[abstract.get(f"{W}abstractNumId", ""), int(level.get(f"{W}ilvl", "0"))] = shown in _BULLETS
    bullets: dict[tuple[str, int], bool] = {}
    for number in root.iter(f"{W}num"):
        abstract = number.find(f"{W}abstractNumId")
        id = abstract.get(f"{W}val", "") if abstract is not None else ""
        list_id = number.get(f"{W}numId", "")
        bullets |= {(list_id, level): is_bullet for (kind, level), is_bullet in formats.items() if kind == id}
    return bullets

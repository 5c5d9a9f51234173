"""The look of our pages within somebody else's: every rule holds inside one element alone."""

import re
from collections.abc import Iterable, Iterator
from typing import Any

import tinycss2  # type: ignore[import-untyped]  # tinycss2 publishes no types

SCOPE = "prescrub"
"""The id of the element that holds a page of ours."""
_INSIDE = f"#{SCOPE}"
# What the script lays over the page stands outside that element.
_OVER = (".stepbar", "dialog.large")
_ROOTS = (_INSIDE, *_OVER)
_REM = re.compile(r"(?<![\w.])(\d*\.?\d+)rem\b")
# What a page of ours does to the window belongs to the other site.
_NOT_OURS = re.compile(r"^(html|body|main|\.(skip|top|bottom|find|found))\b(?!\.has-bar)")
# What themes give to elements that we leave plain.
_PLAIN = (
    "{here} :is(h1,h2,h3,h4,h5,h6){{color:inherit}}"
    "{here} :is(ul,ol,li,dl,dd){{margin-left:0}}"
    "{here} table{{display:table;border:0;box-shadow:none;background:none;font-size:inherit}}"
    "{here} :is(th,td){{border-width:0 0 1px;min-width:0}}"
    "{here} details{{border:0;box-shadow:none;background:none;padding:0;margin:0;font-size:inherit}}"
    "{here} summary{{background:none;border:0;margin:0;padding:0;font-weight:inherit}}"
    "{here} summary::before,{here} summary::after{{display:none}}"
)


def scoped(style: str, unit: str, dark: str) -> str:
    """Return ``style`` with all its rules held within the element of a page.

    A root em of ours is ``unit`` there, whatever the other site takes for one. ``dark`` is the selector under which it
    is dark; "" where the reader's system says so.
    """
    rules = tinycss2.parse_stylesheet(style, skip_comments=True, skip_whitespace=True)
    base = f"{{--unit:{unit};font-size:var(--unit);line-height:1.6;color:var(--ink)}}"
    return "\n".join([f"{','.join(_ROOTS)}{base}", _PLAIN.format(here=_INSIDE), *_scoped(rules, "", dark)])


def _scoped(rules: Iterable[Any], above: str, dark: str) -> Iterator[str]:
    for rule in rules:
        if rule.type == "at-rule" and rule.lower_at_keyword in ("media", "supports"):
            inner = tinycss2.parse_blocks_contents(rule.content, skip_comments=True, skip_whitespace=True)
            condition = tinycss2.serialize(rule.prelude).strip()
            if dark and "prefers-color-scheme: dark" in condition:
                yield from _scoped(inner, f"{dark} ", dark)
            else:
                yield f"@{rule.at_keyword} {condition}{{{''.join(_scoped(inner, above, dark))}}}"
        elif rule.type == "at-rule" and rule.lower_at_keyword == "font-face":
            yield rule.serialize()
        elif rule.type == "qualified-rule":
            selectors = [f"{above}{selector}" for selector in _selectors(tinycss2.serialize(rule.prelude))]
            if selectors:
                yield f"{','.join(selectors)}{{{_REM.sub(_units, tinycss2.serialize(rule.content))}}}"


def _units(found: re.Match[str]) -> str:
    return f"calc({found[1]}*var(--unit))"


def _selectors(prelude: str) -> Iterator[str]:
    for selector in map(str.strip, prelude.split(",")):
        if selector == ":root":
            yield from _ROOTS
        elif selector == "body.has-bar":  # room for the bar at the foot of the window
            yield selector
        elif selector.startswith(".is-small "):  # a mark of the whole page
            yield f".is-small {_INSIDE} {selector.removeprefix('.is-small ')}"
        elif selector.startswith((".stepbar", "dialog", ".large")):
            yield selector
        elif not _NOT_OURS.match(selector):
            yield f"{_INSIDE} {selector}"
            if selector.startswith(("button", ".legend", ".pointers", ".picture", "[hidden]", ":focus")):
                yield from (f"{over} {selector}" for over in _OVER)

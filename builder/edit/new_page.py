"""The text of a new file, and its name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Mapping

from builder.edit.key_order import order_at
from builder.edit.values import Value, checked
from builder.edit.writing import Manner, pair

_LONGEST = 48
_DROPPED = re.compile(r"[^a-z0-9]+")


def id_for(title: str, taken: Collection[str], fallback: str = "new") -> str:
    """Return the id of something called ``title``: its words in small letters with hyphens, none of ``taken``."""
    letters = unicodedata.normalize("NFKD", title.replace("ß", "ss")).encode("ascii", "ignore").decode().lower()
    words = [word for word in _DROPPED.split(letters) if word]
    name = ""
    for word in words or [fallback]:
        if name and len(name) + len(word) >= _LONGEST:
            break
        name = f"{name}-{word}" if name else word[:_LONGEST]
    number, found = 2, name
    while found in taken:
        found, number = f"{name}-{number}", number + 1
    return found


def new_text(kind: str, values: Mapping[str, Value], prose: str = "") -> str:
    """Return the text of a new file of ``kind`` with ``values`` in the usual order of their keys."""
    checked(dict(values))
    checked(prose)
    order = order_at(kind, ())
    keys = sorted(values, key=lambda key: order.index(key) if key in order else len(order))
    lines = [pair(key, values[key], 0, Manner()) for key in keys]
    return "\n".join(["---", *lines, "---", *([prose.rstrip("\n")] if prose.strip() else []), ""])

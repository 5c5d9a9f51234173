"""What a source says of the operation as a whole: specialty, side, setting; only where it says so in so many words."""

from __future__ import annotations

import re
from dataclasses import dataclass

from builder.load.told.draft_source import PassageKind, Source

_LINE = re.compile(r"(?P<key>special(?:i)?ty|side|setting|place)\s*[:–—]\s*(?P<value>\S.{0,120})", re.IGNORECASE)
_SIDES = ("left", "right", "both", "midline", "either")


@dataclass(frozen=True, slots=True)
class About:
    """What was said; "" where nothing was."""

    specialty: str = ""
    side: str = ""
    setting: str = ""
    owner: str = ""
    role: str = ""

    def values(self) -> set[str]:
        """Return all that was said."""
        return {self.specialty, self.side, self.setting, self.owner, self.role} - {""}


def about(source: Source, title: str) -> About:
    """Return what lines such as ``Specialty: ...``, the answers to questions, or the title say."""
    said: dict[str, str] = {}
    heading = ""
    for passage in source.passages:
        if passage.kind is PassageKind.HEADING:
            heading = passage.text.casefold()
            continue
        line = _LINE.fullmatch(passage.text)
        key, value = (line["key"].casefold(), line["value"]) if line else (heading, passage.text)
        key = {"speciality": "specialty", "place": "setting"}.get(key, key)
        if key in ("specialty", "side", "setting", "owner", "role of the owner"):
            said.setdefault(key, value.strip(" ."))
    side = said.get("side", "").casefold()
    if side not in _SIDES:
        match = re.search(r"\b(left|right)\b", title, re.IGNORECASE)
        side = match[1].casefold() if match else ""
    owner, role = said.get("owner", ""), said.get("role of the owner", "")
    return About(said.get("specialty", ""), side, said.get("setting", ""), owner, role)

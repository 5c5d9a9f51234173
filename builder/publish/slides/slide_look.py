"""How words of each role look in a .pptx: the same as in ``site_templates/slides/slides.css``, said in its own terms.

Sizes are those of ``compose/slides/slide_layout.py``. Colours are names of the theme, so that a department which
changes the theme changes every slide.
"""

from collections.abc import Mapping
from dataclasses import dataclass

# Name of the theme, its colours (those of site_templates/paper/base.css) and its type.
THEME = "Prescrub"
TYPE = "Arial"
COLOURS: Mapping[str, str] = {
    "dk1": "14181B", "lt1": "FFFFFF", "dk2": "33434D", "lt2": "E9EFF1", "accent1": "B8141F", "accent2": "F28A00",
    "accent3": "FFD500", "accent4": "00508C", "accent5": "6B7982", "accent6": "A7B1B7", "hlink": "00508C",
    "folHlink": "33434D",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Look:
    """How a placeholder looks: its number ``idx`` and ``name``, colours of ``fill``, ``line`` and type ("" = none),
    and the ``bars`` at its left: how far before it each begins, and its width."""

    idx: int
    name: str
    fill: str = ""
    line: str = ""
    colour: str = "tx1"
    bars: tuple[tuple[float, float], ...] = ()


_SINGLE, _DOUBLE = ((6.0, 6.0),), ((6.0, 2.0), (2.0, 2.0))
LOOKS: Mapping[str, Look] = {
    "title": Look(0, "Title"),
    "eyebrow": Look(10, "Line above the title", colour="tx2"),
    "lead": Look(11, "Text"),
    "item": Look(12, "List"),
    "check": Look(22, "List to tick"),
    "option": Look(23, "Answers to choose from"),
    "answer": Look(24, "Answer"),
    "legend": Look(25, "Legend"),
    "source": Look(26, "Sources"),
    "fact": Look(27, "Edition"),
    "cue": Look(13, "Go on when", fill="bg2", bars=_SINGLE),
    "unless": Look(14, "If not", bars=_DOUBLE),
    "consequence": Look(16, "Consequence"),
    "avoid": Look(17, "How to avoid it", fill="bg2", bars=_SINGLE),
    "because": Look(18, "Why", colour="tx2"),
    "usual": Look(19, "Usual caution", colour="tx2"),
    "count": Look(20, "Count", fill="tx1", colour="bg1"),
    "reminder": Look(30, "Caution", line="tx1"),
    "caution": Look(30, "Caution", line="tx1"),
    "branch": Look(40, "Way", fill="bg2"),
}
PICTURE = 21
SIGNALS: Mapping[str, tuple[str, str]] = {
    "danger": ("accent1", "bg1"),
    "warning": ("accent2", "tx1"),
    "caution": ("accent3", "tx1"),
    "notice": ("accent4", "bg1"),
}
"""Fill and type of the block that holds a signal word."""

# Layouts by name: which roles each has room for, in reading order.
LAYOUTS: Mapping[str, tuple[str, ...]] = {
    "Title": ("eyebrow", "title", "fact", "usual"),
    "Statement": ("eyebrow", "title", "lead"),
    "List": ("eyebrow", "title", "lead", "item"),
    "Checklist": ("eyebrow", "title", "check", "count"),
    "Sources": ("eyebrow", "title", "source"),
    "Question": ("eyebrow", "title", "lead", "option"),
    "Answer": ("eyebrow", "title", "answer", "because"),
    "Step": ("eyebrow", "title", "lead", "reminder", "count", "cue", "unless"),
    "Step with figure": ("eyebrow", "title", "lead", "picture", "reminder", "count", "legend", "cue"),
    "Map": ("eyebrow", "title", "picture", "fact", "count"),
    "Figure": ("eyebrow", "title", "lead", "picture", "legend"),
    "Danger": ("eyebrow", "title", "consequence", "avoid"),
    "Caution": ("eyebrow", "title", "consequence", "avoid"),
    "Choice": ("eyebrow", "title", "lead", "reminder", "branch"),
}
_OTHERWISE = {"step-figure": "Step with figure"}


def layout_of(kind: str, signal: str) -> str:
    """Return the name of the layout for a slide of ``kind``."""
    return "Danger" if kind == "caution" and signal == "danger" else _OTHERWISE.get(kind, kind.capitalize())

"""The verbs of actions as they are spoken, and what each means for the kind of thing it is done to; and numbers.

Our own list of the words of the trade (common practice). A verb that could mean several things means none here.
"""

import re
from collections.abc import Mapping

_SAID = {
    "identify": "identify find locate see recognise recognize visualise visualize",
    "look_for": "look",
    "protect": "protect preserve guard safeguard spare",
    "expose": "expose uncover bare display clear",
    "open": "open incise enter unroof deroof split",
    "cut": "cut nick",
    "close": "close approximate appose",
    "clamp": "clamp crush",
    "clip": "clip",
    "release": "release unclamp",
    "tie": "tie ligate",
    "suture": "suture stitch sew transfix oversew",
    "seal": "seal coagulate cauterise cauterize diathermy",
    "divide": "divide transect sever",
    "excise": "excise resect amputate",
    "remove": "remove withdraw",
    "take": "take pull",
    "place": "place insert introduce position thread pass lay leave apply put slip slide wrap",
    "inject": "inject infiltrate instil instill give administer",
    "irrigate": "irrigate wash flush rinse",
    "inspect": "inspect check examine",
    "count": "count",
    "tell": "tell inform warn alert ask",
}
_IRREGULAR = {
    "found": "find", "saw": "see", "seen": "see", "cut": "cut", "sewn": "sew", "took": "take", "taken": "take",
    "gave": "give", "given": "give", "put": "put", "laid": "lay", "left": "leave", "split": "split", "slid": "slide",
    "withdrawn": "withdraw", "withdrew": "withdraw", "told": "tell",
}  # fmt: skip


def _forms(word: str) -> dict[str, str]:
    """Return the forms of a regular verb, each with its kind: base, third, ing, past."""
    stem = word.removesuffix("e")
    is_doubled = re.search(r"[^aeiou][aeiou][bdgmnpt]$", word) and word not in ("open", "visit")
    doubled = f"{word}{word[-1]}" if is_doubled else stem
    ending = "es" if word.endswith(("s", "sh", "ch", "x")) else "s"
    third = f"{word[:-1]}ies" if word.endswith("fy") else f"{word}{ending}"
    past = f"{word[:-1]}ied" if word.endswith(("fy", "ry")) else f"{doubled}ed"
    gerund = "tying" if word == "tie" else f"{word}ing" if word.endswith("ee") else f"{doubled}ing"
    return {word: "base", third: "third", gerund: "ing", past: "past"}


def _table() -> dict[str, tuple[str, str]]:
    forms: dict[str, tuple[str, str]] = {}
    for meaning, words in _SAID.items():
        for word in words.split():
            for form, kind in _forms(word).items():
                forms.setdefault(form, (meaning, kind))
    for form, base in _IRREGULAR.items():
        forms[form] = (forms[base][0], "base" if form == base else "past")
    return forms


FORMS: Mapping[str, tuple[str, str]] = _table()
"""Meaning and kind of each form: ``divided`` is ("divide", "past")."""

_LAYERS = frozenset({"skin", "fascia", "muscle", "cavity"})
_TUBES = frozenset({"vessel", "duct", "viscus"})
_ALWAYS_STRUCTURE = frozenset({"identify", "protect", "expose", "open", "clamp", "tie", "seal", "divide", "excise"})


def on_structure(meaning: str, kind: str, words: str) -> str:  # noqa: PLR0911  # one for each meaning
    """Return the action's verb where ``meaning`` is done to a structure of ``kind``; "" where it has none.

    ``words`` are those between verb and name: ``take OUT the gland``.
    """
    if meaning in _ALWAYS_STRUCTURE or meaning in ("close", "inspect"):
        return meaning
    if meaning == "look_for":
        return "identify" if re.match(r"\s*for\b", words) else "inspect" if re.match(r"\s*(?:at|into)\b", words) else ""
    if meaning == "cut":
        return "open" if kind in _LAYERS else "divide"
    if meaning == "clip":
        return "clamp" if kind in _TUBES else ""
    if meaning == "release":
        return "release" if kind in _TUBES else "divide" if kind in ("ligament", "fascia") else ""
    if meaning == "suture":
        return "close" if kind in _LAYERS else "suture"
    out = meaning == "remove" or (meaning == "take" and re.match(r"\s*out\b", words))
    return "excise" if out else ""


def on_item(meaning: str, kind: str, words: str) -> str:
    """Return the action's verb where ``meaning`` is done with an item of ``kind``; "" where it has none."""
    if kind in ("drug", "fluid"):
        return meaning if meaning in ("inject", "irrigate") else ""
    if meaning in ("place", "inspect", "remove"):
        return meaning
    out = meaning == "take" and re.search(r"\b(?:out|off)\b", words)
    return "remove" if out else ""


_WORDS = """
one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
nineteen twenty
"""
NUMBER_WORDS = tuple(_WORDS.split())
_VALUES = {word: number for number, word in enumerate(NUMBER_WORDS, start=1)} | {
    "twenty-four": 24,
    "thirty": 30,
    "forty-eight": 48,
}
NUMBER = rf"(?:\d{{1,3}}|{'|'.join(sorted(_VALUES, key=len, reverse=True))})"
"""Finds a number in digits or words."""


def number_of_word(word: str) -> int:
    """Return the number that ``word`` says in digits or letters; 0 where it says none."""
    low = word.casefold()
    return int(low) if low.isdigit() else _VALUES.get(low, 0)

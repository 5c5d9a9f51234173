"""Whether a title of a step says what its label says: the same doing to the same object, in whatever words.

The strict figure of ``measure_actions.py`` asks for a word of the label. Here a name of the catalogue is what it means
(``cuff`` is a tourniquet), a label that joins two doings (``Wash and drape the leg``) is met by either, and what has
many words in theatre is one doing: where the patient lies, a cut in the skin, bleeding that is stopped. ``controls``
shows that a second labeller's titles pass, and that titles of the next step do not.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from builder.draft.heard_names import CatalogueNames
from builder.draft.new_names import NO_OBJECT, singular
from builder.draft.verbs import FORMS, meaning_of
from builder.grouping import word_set
from drafts.labelled import FOLDER, LabelledSentence, talks

_SAME = tuple(
    frozenset(words.split())
    for words in (
        "identify find expose define", "cut divide open saw release", "excise remove take debride trim smooth",
        "close suture repair join tie", "expose free divide develop separate raise deliver retract",
        "place connect apply fix secure", "inject place", "tie clamp clip seal divide control",
        "suture staple seal divide",
        "protect identify retract", "irrigate prepare clean", "inspect check test measure feel confirm assess search",
        "make create fashion form open", "reduce return replace", "mark draw", "dress cover place apply bandage splint",
        "aspirate drain open empty decompress", "release remove", "balance check", "scrape prepare",
    )
)  # fmt: skip
"""Verbs that may title the same step (common practice)."""
_SMALL = word_set(
    "the a an of and to in with for at on by from its his her their all each both through over under into"
)
_ANY_DIRECTION = word_set("""
left right upper lower superior inferior anterior posterior medial lateral deep superficial proximal distal internal
external front back inner outer first second third end ends side
""")
_LIES = word_set("position turn raise lie sit tilt supine prone lithotomy")
_BLEEDING = word_set("haemostasis bleeding bleeder ooze blood")
_CUT = word_set("skin incision cut portal stab")


class Said(NamedTuple):
    """What a title or a label says is done: verbs that mean the same, and the words and entries of the object."""

    verbs: frozenset[str]
    names: frozenset[str]


def telling(text: str) -> frozenset[str]:
    """Return the words of a name that tell what it is, in the singular."""
    words = [CatalogueNames.plain(word) for word in re.findall(r"[a-z0-9]+", text.casefold())]
    return frozenset(word for word in words if word not in _SMALL | _ANY_DIRECTION) or frozenset(words[-1:])


def meanings(word: str) -> frozenset[str]:
    """Return the plain form of a verb, and what it means."""
    lemma = FORMS.get(word.casefold(), (word.casefold(), ""))[0]
    return frozenset(filter(None, (lemma, meaning_of(lemma))))


def names_of(text: str, names: CatalogueNames) -> frozenset[str]:
    """Return the telling words of a name, and the entries of the catalogue that it means."""
    return telling(text) | {word for mention in names.mentions(text) for word in telling(mention.name)}


def said_by(title: str, names: CatalogueNames) -> Iterator[Said]:
    """Yield what a title says is done; where it joins two doings, each."""
    parts: list[tuple[str, str]] = []
    for part in re.split(r",? and |, ", title):
        verb, _, rest = part.strip().partition(" ")
        is_doing = verb.casefold() in FORMS or not parts or verb.casefold() in ("secure", "check", "wash")
        if is_doing:
            parts.append((verb, rest))
        else:
            parts[-1] = (parts[-1][0], f"{parts[-1][1]} {part}")
    for at, (verb, rest) in enumerate(parts):
        whole = rest or " ".join(other for _, other in parts[at + 1 :])
        yield Said(meanings(verb), names_of(whole, names) if whole else frozenset())


def is_same(one: Said, other: Said) -> bool:
    """Tell whether two titles say that the same is done to the same."""
    if one.verbs & _LIES and other.verbs & _LIES:
        return True
    if one.names & _BLEEDING and other.names & _BLEEDING:
        return True
    if "open" in other.verbs | one.verbs and one.names & _CUT and other.names & _CUT:
        return True
    same = one.verbs & other.verbs or any(one.verbs & group and other.verbs & group for group in _SAME)
    return bool(same) and bool(one.names & other.names)


def is_right_title(title: str, label: LabelledSentence, names: CatalogueNames) -> bool:
    """Tell whether a title is an instruction that says what the label of the step says."""
    verb, _, rest = title.partition(" ")
    if verb.casefold() not in FORMS or not telling(rest) or _names_nothing(rest):
        return False
    spoken = names_of(label.said, names)
    wanted = list(said_by(label.title, names))
    wanted += [
        Said(meanings(doing.verb), names_of(name, names))
        for doing in label.doings if not doing.mark for name in doing.objects
    ]  # fmt: skip
    told = list(said_by(title, names))
    # What the speaker did not name may be named otherwise, where the verb is the same.
    return any(
        is_same(said, want) or (said.verbs & want.verbs and not want.names & spoken) for said in told for want in wanted
    )


def _names_nothing(rest: str) -> bool:
    last = singular(rest.rsplit(maxsplit=1)[-1])
    return last in NO_OBJECT - {"patient", "midline", "bleeding", "haemostasis", "hair"}


def controls(names: CatalogueNames) -> Iterator[str]:
    """Yield how many titles of a second labeller are right, and how many titles of the next step of a talk."""
    again = {talk.name: {one.said: one for one in talk.sentences} for talk in talks(FOLDER / "second")}
    pairs = [
        (again[talk.name][one.said].title, one)
        for talk in talks() if talk.name in again
        for one in talk.sentences if one.role == "begin" and one.said in again[talk.name]
    ]  # fmt: skip
    pairs = [(title, one) for title, one in pairs if title]
    right = sum(is_right_title(*pair, names) for pair in pairs)
    yield f"titles of a second labeller that are right: {right}/{len(pairs)}"
    moved = [(title, one) for (title, _), (_, one) in zip(pairs[1:], pairs, strict=False)]
    yield f"titles of the next step that pass: {sum(is_right_title(*pair, names) for pair in moved)}/{len(moved)}"

"""Sides: where a procedure is on one side, the other side is named only as a contrast; figures state their side.

``left`` and ``right`` are words of many meanings, so a side is only what stands with anatomy: see ``_is_side``.
"""

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.catalogue_names import structures_named
from builder.facts.remembered import once_per_library
from builder.facts.texts import corpus
from builder.facts.walk import figures
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.load.packs import words
from builder.load.prose import Prose
from builder.model.action import Action, Side
from builder.model.figure import Figure
from builder.model.library import Library
from builder.model.pages import ItemKind, Procedure, Step
from builder.place import Text

_OTHER = {Side.LEFT: "right", Side.RIGHT: "left"}
_WORD = re.compile(r"[LlRr](?:eft|ight|EFT|IGHT|t\b|T\b|HS\b)")
_WRITINGS = ("left", "right", "rt", "lt", "rhs", "lhs")
_ALONE = re.compile(
    r"[(LR](?:(?<=\()(?P<side>[LR])\)|"
    r"(?<=[LR])(?<![\w-].) (?=side|groin|chest|hand|wrist|leg|arm|lung|breast|kidney|hip|knee))"
)

_PREPOSITION = re.compile(r"(?:on|to|into|from|at|towards?|for|of|in) (?:the|your|his|her|their|its) $", re.IGNORECASE)
_BE = re.compile(
    r"\b(?:is|are|was|were|be|been|being|has|have|had|not|nothing|anything|something|what|item|swab|swabs|instrument|"
    r"number|get|gets|got|much|many|any|all|one|two|three|minutes|hours|time|space|room|length|tail|cuff|stump|edge|end|"
    r"ends|it|them|drain|catheter|pack|mesh|skin|fat|sac|who|she|he|they|just|all) $",
    re.IGNORECASE,
)
_CONTRAST = re.compile(
    r"\b(?:compare[ds]?|comparing|comparison|unlike|contrast|other|opposite|instead|rather than|versus|vs|differs?|"
    r"whereas|both|either|left (?:and|or|to|from) (?:the )?right|right (?:and|or|to|from) (?:the )?left|not the|"
    r"never (?:\w+ )?the|not on the|healthy|unaffected|uninvolved|good side|wrong|contralateral|mirror)\b|"
    r"left/right|right/left",
    re.IGNORECASE,
)
_STANDING = re.compile(
    r"\b(?:light|lamp|stand|stands|standing|stood|sit|sits|sitting|monitor|screen|trolley|stack|facing|faces|assistant|scrub|"
    r"surgeon's|operator's|anaesthetist's|your|dominant|handed|tilt|tilted|"
    r"(?:left|right) lateral|roll|rolled|turned|page|picture's)\b",
    re.IGNORECASE,
)
_NEXT = re.compile(r"[ \u00a0\n](?P<word>[A-Za-z'-]+)")


@once_per_library
def _sides(library: Library) -> tuple[tuple[int, str, str], ...]:
    """Return ``(offset, as written, left or right)`` of each word that means a side, in order."""
    texts = corpus(library)
    anatomy = words("sides", "parts") | (_anatomy(library) - words("sides", "stays"))
    found = []
    for match in filter(None, (_WORD.match(texts.whole, at) for at in sorted(texts.where(_WRITINGS)))):
        word = match.group()
        if _is_side(texts.whole, match, anatomy):
            found.append((match.start(), word, "left" if word[0] in "Ll" else "right"))
    for match in _ALONE.finditer(texts.whole):
        letter = match["side"] or match.group()[0]
        found.append((match.start(), match.group().strip(), "left" if letter == "L" else "right"))
    return tuple(sorted(found))


def _anatomy(library: Library) -> frozenset[str]:
    paired = (one for one in structures_named(library) if one.paired)
    return frozenset(word.casefold() for one in paired for name in (one.name, *one.also) for word in str(name).split())


def _is_side(whole: str, match: re.Match[str], anatomy: frozenset[str]) -> bool:
    start, end = match.span()
    word = match.group().casefold()
    if (start and (whole[start - 1].isalnum() or whole[start - 1] in "-_'")) or whole[end : end + 1].isalnum():
        return False
    if word in ("rt", "lt", "rhs", "lhs"):
        return match.group()[0].isupper()
    if whole.startswith(("-sided", "-side", " sided"), end):
        return True
    if whole.startswith("-", end):
        return False  # left-handed, right-angled
    return _by_neighbours(whole, match, word, anatomy)


def _by_neighbours(whole: str, match: re.Match[str], word: str, anatomy: frozenset[str]) -> bool:
    start, end = match.span()
    before = whole[max(0, start - 24) : start]
    following = _NEXT.match(whole, end)
    next_word = following["word"].casefold() if following else ""
    stays = word == "left" and bool(_BE.search(before))
    joined = word == "left" and before.endswith("and ")
    if next_word in words("sides", "inherent"):
        return False
    if next_word in anatomy:
        return not stays
    is_correct = word == "right" and next_word in words("sides", "correct")
    if _PREPOSITION.search(before):
        return not is_correct or next_word in ("and", "or", "in", "at")
    if stays or joined or is_correct or (word == "left" and next_word in words("sides", "stays")):
        return False
    # An adjective or two may stand between the side and its anatomy: the left fourth rib.
    behind = re.split(r"[\x1f.,;]", whole[end : end + 40], maxsplit=1)[0]
    return any(one.casefold().strip("():") in anatomy for one in behind.split()[1:3])


@finds("other-side-named", piecewise=True)
def other_side(library: Library) -> Iterator[Hit]:
    """Yield each word for the other side in a procedure on one side, unless its sentence states a contrast."""
    if not any(procedure.side in _OTHER for procedure in library.procedures):
        return
    texts = corpus(library)
    for offset, written, side in _sides(library):
        piece = texts.piece(offset)
        home = piece.home
        if home is None or _OTHER.get(home.side) != side or _is_excused(library, offset, written):
            continue
        message = f"{quoted(written)} is named, but {quoted(home.title)} is on the {home.side.value}"
        also = (SecondPlace(home.where.value("side"), "the side of the procedure"),)
        hint = f"Write {home.side.value}, or say in the same sentence that the other side is compared."
        if side == "right":
            # "The right side" is a well-known trap in theatre: it is not guessed what was meant.
            hint += " Where it means the side that is meant, write `correct`."
        yield Hit(texts.place(offset), message, hint, also)


def _is_excused(library: Library, offset: int, written: str) -> bool:
    """Tell whether its sentence names both sides, states a contrast, or says where a person stands or a thing comes
    from.
    """
    texts = corpus(library)
    start, stop = texts.sentence_span(offset)
    sentence = texts.whole[start:stop]
    first, last = (bisect_left(_sides(library), (place,)) for place in (start, stop))
    both = len({side for _, _, side in _sides(library)[first:last]}) > 1
    comes_from = _FROM.search(texts.whole, max(start, offset - 40), offset) and not _NEXT.match(
        texts.whole, offset + len(written)
    )
    away = _LIMB.match(texts.whole, offset + len(written)) and _LINE.search(sentence)
    # "Your left hand" is the operator's, but in the text for the patient it is the patient's.
    standing = _STANDING.search(_YOUR.sub("", sentence) if texts.piece(offset).role == "patient_text" else sentence)
    following = _NEXT.match(texts.whole, offset + len(written))
    if following is not None and following["word"].casefold() in _anatomy(library) - {"side", "hand"}:
        standing = None  # an organ of the patient does not stand
    return bool(both or comes_from or away or standing or _CONTRAST.search(sentence) or _IS_THERE.search(sentence))


_YOUR = re.compile(r"\byour\b", re.IGNORECASE)
_IS_THERE = re.compile(
    r"\bthere (?:is|are) (?:an?|one|another) (?:left|right)\b|"
    r"\b(?:left|right) (?:[a-z]+ )?(?:is there|is present|exists)\b",
    re.IGNORECASE,
)
"""That the patient has the other one of a pair is looked for before this one is taken out."""


_LIMB = re.compile(
    r"\s+(?:upper\s+)?(?:arm|forearm|hand|wrist|elbow|foot|neck|ear|finger|thumb|antecubital)\b", re.IGNORECASE
)
_LINE = re.compile(
    r"\b(?:cannula\w*|line|lines|drip|infusion|vein|oximeter|probe|blood pressure|pressure cuff|wristband|monitor\w*|"
    r"electrode|pad|plate)\b",
    re.IGNORECASE,
)
"""Where a line or a monitor is put on a limb, it is the limb that is out of the way, whatever side is operated on."""
_FROM = re.compile(r"\b(?:comes?|coming|bulges?|runs?|rises?) (?:in )?from the $", re.IGNORECASE)


@finds("action-on-other-side", piecewise=True)
def action_on_other_side(library: Library) -> Iterator[Hit]:
    """Yield each action on the other side than that of its procedure, where its step does not say that it compares."""
    for procedure in library.procedures:
        wrong = _OTHER.get(procedure.side)
        for step in procedure.steps.values() if wrong is not None else ():
            for action in step.actions:
                if action.side is None or action.side.value != wrong or _is_away(library, action):
                    continue
                if not _COMPARES.search(f"{step.title} {step.body.source} {action.what or ''}"):
                    of = f"{quoted(procedure.title)} is on the {procedure.side.value}"
                    message = f"{quoted(wrong)} is the side of this action, but {of}"
                    also = (SecondPlace(procedure.where.value("side"), "the side of the procedure"),)
                    hint = f"Write `side: {procedure.side.value}`, or say in the text that the other side is compared."
                    yield Hit(action.where.value("side"), message, hint, also)


@finds("side-differs-from-text", piecewise=True)
def side_differs_from_text(library: Library) -> Iterator[Hit]:
    """Yield each side that a text of a step names of what its actions do on the other side."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            sides = {action.side for action in step.actions if action.side is not None}
            if len(sides) == 1 and (wrong := _OTHER.get(next(iter(sides)))) is not None:
                yield from _named_on(step, wrong)


def _named_on(step: Step, wrong: str) -> Iterator[Hit]:
    acting = [action for action in step.actions if action.side is not None]
    words = {word for action in acting for name in action.objects for word in name.casefold().split()}
    pattern = re.compile(rf"\b{wrong} (?:[a-z]+ )?(?:{'|'.join(map(re.escape, sorted(words)))})\b", re.IGNORECASE)
    texts: list[Text | Prose] = [text for text in (step.title, step.cue, step.body) if text is not None]
    for text in texts:
        words_of = text.shown if isinstance(text, Prose) else str(text)
        match = pattern.search(words_of)
        if match is not None and not _COMPARES.search(words_of):
            side = quoted(str(acting[0].side.value if acting[0].side else ""))
            message = f"{quoted(match.group())} is what the text says, but the side of the action is {side}"
            also = (SecondPlace(acting[0].where.value("side"), "the action"),)
            at = text.place(match.start()) if isinstance(text, Prose) else text.at
            yield Hit(at, message, "Write the same side in the text and in the action.", also)
            return


_COMPARES = re.compile(
    r"\b(?:compar\w+|other side|opposite|contralateral|healthy|unaffected|both sides|good side|mirror\w*)\b",
    re.IGNORECASE,
)


def _is_away(library: Library, action: Action) -> bool:
    """Tell whether ``action`` lays a line, which goes in away from the operation."""
    found = (library.items.find(name) for name in action.objects)
    return any(item is not None and item.kind is ItemKind.LINE for item in found)


_ABOUT_PICTURES = frozenset({"alt", "caption", "credit", "patient_text"})


@finds("side-named-in-either", piecewise=True)
def side_named_in_either(library: Library) -> Iterator[Hit]:
    """Yield each word for one side in the text of a procedure for which the side is chosen for the patient.

    Not where its sentence speaks of both sides or says where somebody stands, nor of a figure, which shows one side.
    """
    if not any(procedure.side is Side.EITHER for procedure in library.procedures):
        return
    texts = corpus(library)
    for offset, written, side in _sides(library):
        piece = texts.piece(offset)
        home = piece.home
        if home is None or home.side is not Side.EITHER or piece.role in _ABOUT_PICTURES:
            continue
        is_correct = side == "right" and texts.whole.startswith(" side", offset + len(written))  # "the right side"
        if is_correct or _is_excused(library, offset, written):
            continue
        message = f"{quoted(written)} is one side, but the side of {quoted(home.title)} is chosen for the patient"
        also = (SecondPlace(home.where.value("side"), "the side of the procedure"),)
        hint = (
            f"Write `the side of the operation`, or say in the same sentence what differs on the {_OTHER_SIDE[side]}."
        )
        yield Hit(texts.place(offset), message, hint, also)


_OTHER_SIDE = {"left": "right", "right": "left"}


@finds("figure-on-other-side", piecewise=True)
def figures_on_other_side(library: Library) -> Iterator[Hit]:
    """Yield each figure whose side is not its procedure's, or not the one that its own words name."""
    for procedure, figure in figures(library):
        wrong = _OTHER.get(procedure.side)
        if figure.side is None:
            if figure.alt and figure.caption and any(_split(figure.alt, figure.caption, side) for side in _NAMES):
                message = (
                    f"{quoted(_start(figure.caption))} names one side, but the description of the figure the other"
                )
                also = (SecondPlace(figure.alt.at, "the description"),)
                yield Hit(figure.caption.at, message, "Make `alt:` and `caption:` name the same side.", also)
            continue
        at = figure.where.value("side")
        if wrong is not None and figure.side.value == wrong:
            message = f"{quoted(wrong)} is the side of the figure, but the procedure is on the {procedure.side.value}"
            yield Hit(at, message, "Turn the figure round, or say in its caption that the other side is shown.")
        opposite = _OTHER.get(figure.side)
        for text in (figure.alt, figure.caption):
            if text is not None and opposite is not None and _names(text, opposite):
                message = f"{quoted(figure.side.value)} is the side of the figure, but its text says {opposite}"
                yield Hit(at, message, f"Make `side:` and the text agree: {quoted(_start(text))}.")


_NAMES = {
    side: re.compile(rf"\b{side}\b(?! (?:angle|away))|\b{side}-sided", re.IGNORECASE) for side in ("left", "right")
}


def _names(text: Text, side: str) -> bool:
    other = "left" if side == "right" else "right"
    return bool(_NAMES[side].search(text)) and not _NAMES[other].search(text) and not _CONTRAST.search(text)


def _split(one: Text, other: Text, side: str) -> bool:
    """Tell whether ``one`` names ``side`` alone, and ``other`` the other side alone."""
    return _names(one, side) and _names(other, "left" if side == "right" else "right")


def _start(text: str) -> str:
    most = text.split()
    return " ".join(most[:8]) + (" ..." if len(most) > 8 else "")


@finds("figure-without-side", piecewise=True)
def figures_without_side(library: Library) -> Iterator[Hit]:
    """Yield each figure of a procedure with a side that does not say which side it shows.

    A ``side:``, or a word for the side in caption or text for those who do not see it, is enough. Where the side is
    chosen for the patient, a figure need not name one until another figure of the procedure does.
    """
    by_home: dict[str, list[tuple[Procedure, Figure]]] = defaultdict(list)
    for procedure, figure in figures(library):
        if procedure.side is not Side.MIDLINE:
            by_home[procedure.id].append((procedure, figure))
    for together in by_home.values():
        silent = [figure for _, figure in together if not _says_side(figure) and _points_to_pair(library, figure)]
        if together[0][0].side is Side.EITHER and len({_says_side(figure) for _, figure in together}) == 1:
            continue
        for figure in silent:
            hint = "Add `side: left`, `right`, `both`, `midline`, or `either` where it looks alike, to the figure."
            yield Hit(figure.file.at, f"{quoted(figure.file)} does not say which side it shows", hint)


def _says_side(figure: Figure) -> bool:
    text = f"{figure.alt or ''} {figure.caption or ''}"
    named = _NAMES["left"].search(text) or _NAMES["right"].search(text) or "both" in text
    return figure.side is not None or bool(named)


def _points_to_pair(library: Library, figure: Figure) -> bool:
    found = (library.structures.find(one.structure) for one in figure.pointers)
    return any(one is not None and one.paired for one in found)

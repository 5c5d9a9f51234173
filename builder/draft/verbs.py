"""The verbs of actions as they are spoken, and what each means for the kind of thing it is done to; and numbers.

Our own list of the words of the trade (common practice). A verb with a hyphen has the meaning only with that
particle or
preposition (``take-out``: ``take the swab out``). Meanings that no action has (``position``, ``retract``) are there
because a step can be titled with them, and because what they are done to is then not taken for something else.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache

from builder.grouping import word_set

_SAID = {
    "identify": """identify find locate see spot recognise recognize visualise visualize look-for feel-for search-for
        hunt-for come-onto come-upon arrive-at get-to come-to meet reach""",
    "protect": "protect preserve guard safeguard spare shield",
    "expose": """expose deliver spread uncover bare display clear dissect mobilise mobilize free sweep peel strip
    tease skeletonise
        skeletonize develop undermine elevate isolate separate raise loosen define kocherise kocherize tunnel burrow
        take-down come-down-on go-down-to clean-off push-off wipe-off brush-off roll-off swing-off shell-out get-round
        go-behind bring-down""",
    "open": """open incise enter unroof deroof split slit score pierce perforate lance trephine cut-into cut-down
        break-into go-into get-into break-open""",
    "cut": "cut nick snip",
    "close": "close approximate appose shut repair mend sew-up stitch-up close-up bring-together come-together",
    "clamp": "clamp crush cross-clamp",
    "clip": "clip",
    "release": "release unclamp decompress deflate let-down let-go",
    "tie": "tie ligate knot lasso tie-off tie-down",
    "suture": """suture stitch sew transfix oversew plicate anchor tack anastomose join quilt hitch parachute reattach
        sew-on sew-in stitch-on stitch-in tack-down run-over""",
    "seal": "seal coagulate cauterise cauterize diathermy buzz burn zap fulgurate wax",
    "divide": "divide transect sever saw crack cut-through cut-across go-across saw-through",
    "excise": """excise resect amputate shave trim core harvest nibble curette ellipse avulse scrape cut-out cut-off
        cut-away core-out shave-off snip-off trim-off bite-off bite-out scrape-out scoop-out curette-out""",
    "remove": """remove withdraw evacuate empty retrieve extract pluck take-out take-off take-away pull-out
        pull-off lift-out lift-off hand-back hand-off slide-out slip-out get-out get-off bring-out pick-out pick-off
        clear-out fish-out hook-out roll-out draw-out milk-out""",
    "take": "take pull",
    "place": """place insert introduce thread pass lay leave apply put slip slide wrap feed drop hang slot fit set load
        pack park tuck lower seat impact hammer loop sling advance deploy implant railroad encircle cement strap tape
        stick bandage dress plaster splint screw pop tap-in knock-in push-in drive drive-in run-round inflate blow-up
        pump-up put-in put-on
        put-across
        put-round put-through slip-in slide-in pop-in pop-on""",
    "inject": "inject infiltrate instil instill give administer",
    "irrigate": "irrigate wash flush rinse syringe lavage wash-out flush-out rinse-out",
    "inspect": """inspect check examine feel test palpate explore assess probe confirm look-at look-in look-into
        look-over look-round look-along look-through look-behind look-under""",
    "count": "count",
    "tell": "tell inform warn alert ask call ring",
    "staple": "staple",
    "drill": "drill ream punch rasp broach",
    "prepare": "prepare prep paint clean drape scrub prime",
    "position": "position tilt turn lie sit bend straighten flex extend abduct tip",
    "retract": "retract hold lift draw hook grasp grip tent push stretch pick-up",
    "mark": "mark ink label tag",
    "send": "send",
    "measure": "measure size",
    "aspirate": "aspirate suck drain milk",
    "connect": "connect attach plug link",
    "fix": "fix secure lock",
    "cover": "cover pad",
    "reduce": "reduce return replace put-back tuck-back drop-back push-back",
    "dilate": "dilate",
    "make": "make form fashion construct create",
    "stop": "stop press",
}
_IRREGULAR = {
    "found": "find", "saw": "see", "seen": "see", "cut": "cut", "sewn": "sew", "took": "take", "taken": "take",
    "gave": "give", "given": "give", "put": "put", "laid": "lay", "left": "leave", "split": "split", "slid": "slide",
    "withdrawn": "withdraw", "withdrew": "withdraw", "told": "tell", "shut": "shut", "slit": "slit", "set": "set",
    "felt": "feel", "sent": "send", "held": "hold", "drew": "draw", "drawn": "draw", "drove": "drive",
    "driven": "drive",
    "stuck": "stick", "hung": "hang", "made": "make", "swept": "sweep", "got": "get", "gone": "go", "went": "go",
    "came": "come", "brought": "bring", "fed": "feed", "fit": "fit", "met": "meet", "rang": "ring", "sawn": "saw",
    "let": "let", "ran": "run", "run": "run", "shaved": "shave", "bent": "bend", "lay": "lay", "shaven": "shave",
    "broke": "break", "broken": "break", "torn": "tear", "tore": "tear", "sat": "sit", "swung": "swing",
    "spread": "spread", "bit": "bite",
}  # fmt: skip


def _forms(word: str) -> dict[str, str]:
    """Return the forms of a regular verb, each with its kind: base, third, ing, past."""
    stem = word.removesuffix("e")
    is_doubled = re.search(r"[^aeiou][aeiou][bdgmnpt]$", word) and word not in _NOT_DOUBLED
    doubled = f"{word}{word[-1]}" if is_doubled else stem
    ending = "es" if word.endswith(("s", "sh", "ch", "x", "go")) else "s"
    ends_in_y = word.endswith(("fy", "ry", "ty"))
    third = f"{word[:-1]}ies" if ends_in_y else f"{word}{ending}"
    past = f"{word[:-1]}ied" if ends_in_y else f"{doubled}ed"
    gerund = f"{word[:-2]}ying" if word in ("tie", "lie") else f"{word}ing" if word.endswith("ee") else f"{doubled}ing"
    return {word: "base", third: "third", gerund: "ing", past: "past"}


_NOT_DOUBLED = word_set("open visit deliver loosen straighten inspect position develop burrow")
_MOVES_LIST = "go come get let look search hunt arrive clean wipe brush roll swing shell break fish scoop bite knock"
_MEANINGS: Mapping[tuple[str, str], str] = {
    (word, particle): meaning
    for meaning, words in _SAID.items()
    for word, _, particle in (said.partition("-") for said in words.split())
}


def _table() -> dict[str, tuple[str, str]]:
    forms: dict[str, tuple[str, str]] = {}
    for lemma in dict.fromkeys([word for word, _ in _MEANINGS] + _MOVES_LIST.split()):
        for form, kind in _forms(lemma).items():
            forms.setdefault(form, (lemma, kind))
    for form, lemma in _IRREGULAR.items():
        if lemma in forms:
            forms[form] = (lemma, "both" if form == lemma else "past")
    return forms


FORMS: Mapping[str, tuple[str, str]] = _table()
"""Plain form and kind of each form of a verb: ``divided`` is ("divide", "past"); "both" is plain form and past."""


@cache
def meaning_of(lemma: str, particle: str = "") -> str:
    """Return what a verb means, with its ``particle`` where it is said with one; "" where it means nothing here."""
    return _MEANINGS.get((lemma, particle)) or _MEANINGS.get((lemma, ""), "")


def doing_of_noun(noun: str) -> str:
    """Return the verb whose doing a noun names, ``reduce`` of ``reduction``; "" where it names none."""
    return _NOUNS.get(noun, "")


def _nouns_of(verb: str) -> Iterator[str]:
    stem = verb.removesuffix("e")
    yield from (f"{stem}{ending}" for ending in ("ion", "ation", "ure", "al", "ment", "tion"))
    yield from (f"{verb}ment", f"{verb.removesuffix('de')}sion")


_NOUNS: Mapping[str, str] = {
    noun: verb for verb, particle in _MEANINGS if not particle and len(verb) > 4 for noun in _nouns_of(verb)
}


def takes(lemma: str, particle: str) -> bool:
    """Tell whether the verb has a meaning of its own with that particle or preposition."""
    return (lemma, particle) in _MEANINGS


_LAYERS = frozenset({"skin", "fascia", "muscle", "cavity"})
_NEVER_OUT = frozenset({"skin", "cavity", "landmark", "muscle", "nerve"})
"""What is said to be out or off is not taken out, where it is of these kinds: ``sartorius out here``."""
_TUBES = frozenset({"vessel", "duct", "viscus"})
_AS_SAID = word_set("identify protect expose open clamp tie seal divide excise close inspect")


def on_structure(meaning: str, kind: str, *, is_out: bool = False) -> str:
    """Return the action's verb where ``meaning`` is done to a structure of ``kind``; "" where it has none.

    ``is_out``: it is said with ``out``, ``off`` or ``away``.
    """
    if meaning in _AS_SAID:
        return meaning
    if meaning == "take":
        return "excise" if is_out else ""
    if meaning == "remove" and kind in _NEVER_OUT:
        return ""
    in_layer = kind in _LAYERS
    by_meaning = {
        "cut": "open" if in_layer else "divide",
        "clip": "clamp",
        "release": "release" if kind in _TUBES else "divide",
        "suture": "close" if in_layer else "suture",
        "staple": "close" if in_layer else "seal",
        "remove": "excise",
    }
    return by_meaning.get(meaning, "")


def on_item(meaning: str, kind: str, *, is_out: bool = False) -> str:
    """Return the action's verb where ``meaning`` is done with an item of ``kind``; "" where it has none."""
    if kind in ("drug", "fluid"):
        return meaning if meaning in ("inject", "irrigate") else ""
    if meaning in ("place", "inspect", "remove"):
        return meaning
    return "remove" if meaning == "release" or (meaning == "take" and is_out) else ""


_WORDS = """
one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
nineteen twenty
"""
NUMBER_WORDS = tuple(_WORDS.split())
_TENS = ("thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_VALUES = {word: number for number, word in enumerate(NUMBER_WORDS, start=1)}
_VALUES |= {word: 10 * tens for tens, word in enumerate(_TENS, start=3)}
_VALUES |= {
    f"{tens}{joint}{word}": _VALUES[tens] + _VALUES[word]
    for tens in ("twenty", *_TENS)
    for word in NUMBER_WORDS[:9]
    for joint in "- "
}
NUMBER = rf"(?:\d{{1,3}}|{'|'.join(sorted(_VALUES, key=len, reverse=True))})"
"""Finds a number in digits or words."""


def number_of_word(word: str) -> int:
    """Return the number that ``word`` says in digits or letters; 0 where it says none."""
    low = word.casefold()
    return int(low) if low.isdigit() else _VALUES.get(low, 0)

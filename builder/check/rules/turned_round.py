"""Texts that say the reverse of what stands in their place, or of what the trade does: a cue that is the failure, a
caution without harm, a drain that comes out when much runs, more of a drug of which there is too much.

The rows are standard teaching (common practice). Of numbers only the direction is looked at.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from builder.check.hit import Hit, finds
from builder.facts.anatomy import anatomy
from builder.facts.stems import senses
from builder.facts.texts import corpus
from builder.facts.times import spans
from builder.facts.walk import every_aftercare, pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.grouping import word_set
from builder.model.library import Library
from builder.model.pages import Aftercare, Basis, Caution, ItemKind, Signal, Step

_NOT = re.compile(r"\b(?:no|not|never|nothing|nobody|none|neither|without|unless)\b|n['’]t\b", re.IGNORECASE)


class _KeyFailure(NamedTuple):
    """What a text may not say in its place (a role of the corpus), and why."""

    roles: frozenset[str]
    words: re.Pattern[str]
    wrong: str
    hint: str


_PLACES = (
    _KeyFailure(
        frozenset({"cue"}),
        re.compile(
            r"\b(?:is|are|has|have)\s+(?:wrong|missing|incorrect|incomplete|torn|lost|slipped off|come off)\b|"
            r"\b(?:line|stitch|stitches|wound|join|suture|seam|anastomosis|stump)\s+(?:leaks?|bleeds?|gapes?)\b",
            re.IGNORECASE,
        ),
        "the cue to go on is that it went wrong",
        "Write what is seen when the step is done well.",
    ),
    _KeyFailure(
        frozenset({"consequence"}),
        re.compile(
            r"^\W*(?:none\b|no (?:harm|damage|injury|trouble)\b|nothing (?:happens|follows|serious|bad|more)\b)",
            re.IGNORECASE,
        ),
        "a caution whose consequence is no harm guards nothing",
        "Write what follows for the patient, or leave the caution out.",
    ),
    _KeyFailure(
        frozenset({"sign"}),
        re.compile(r"^\W*(?:none|nothing(?: is seen| to see)?|as usual|no sign)\W*$", re.IGNORECASE),
        "nobody sees a hazard by that",
        "Write what is seen, heard or felt when it happens.",
    ),
)


@finds("fails-its-key", piecewise=True)
def fails_its_key(library: Library) -> Iterator[Hit]:
    """Yield each text that says the reverse of what its key asks for."""
    for piece in corpus(library).pieces:
        for place in _PLACES:
            said = str(piece.text) if piece.role in place.roles else ""
            match = place.words.search(said)
            before = said[: match.start()] if match is not None else ""
            if match is not None and not _NOT.search(re.split(r"[,.;:]", before)[-1]):
                yield Hit(piece.text.at, f"{quoted(said)}: {place.wrong}", place.hint)
    for _, page in pages(library):
        if isinstance(page, Caution) and page.signal is Signal.DANGER and page.call and _WARD.search(page.call):
            hint = "Write who comes to the patient."
            yield Hit(page.call.at, f"{quoted(page.call)} is called in a danger, and nobody comes from there", hint)
        if isinstance(page, Step) and page.whose is not None and page.basis is Basis.PRINCIPLE:
            hint = "Write `basis: preference`, or leave `whose:` out."
            yield Hit(page.whose.at, f"{quoted(page.whose)} prefers it, but the step is said to be a principle", hint)
    for item in every_aftercare(library):
        yield from _taken_out_by_the_patient(library, item)
        yield from _allowed_though_not_covered(item)


_WARD = re.compile(r"\bward$", re.IGNORECASE)
_INSIDE = frozenset({ItemKind.DRAIN, ItemKind.CATHETER, ItemKind.LINE, ItemKind.IMPLANT, ItemKind.PACK, ItemKind.SWAB})


def _taken_out_by_the_patient(library: Library, item: Aftercare) -> Iterator[Hit]:
    thing = anatomy(library).item(item.concerns) if item.concerns is not None else None
    if item.who is not None and item.who.casefold() in ("patient", "the patient") and thing and thing.kind in _INSIDE:
        message = f"{quoted(item.who)} is to take out what lies inside: {quoted(thing.name)}"
        yield Hit(item.who.at, message, "Write which member of staff takes it out.")


_EVEN_IF = re.compile(r"\beven (?:if|when|though) you (?:have|are|take)\s+(?P<what>[^.,;]+)", re.IGNORECASE)


def _allowed_though_not_covered(item: Aftercare) -> Iterator[Hit]:
    text = item.patient_text
    for allowed in _EVEN_IF.finditer(text) if text is not None else ():
        what = senses(allowed["what"])
        dose = next((one for one in item.dose if one.not_covered is not None and what & senses(one.not_covered)), None)
        if text is not None and dose is not None and dose.not_covered is not None:
            message = f"{quoted(allowed.group())} is told to the patient, but {quoted(dose.not_covered)} is not covered"
            also = (SecondPlace(dose.not_covered.at, "not covered by the dose"),)
            yield Hit(text.at, message, "Tell the patient not to take it then.", also)


class _Reverse(NamedTuple):
    """A sentence that turns practice round: a word that is in each, what it says, and what is right."""

    word: str
    said: re.Pattern[str]
    right: str


def _reverse(word: str, said: str, right: str) -> _Reverse:
    return _Reverse(word, re.compile(said, re.IGNORECASE), right)


_MORE, _LESS = r"(?:more than|over|above|higher than|at least)", r"(?:less than|under|below|lower than|at most)"
_AGAIN = r"(?:double|repeat|increase|raise|(?:give|take|use) (?:\w+ ){0,2}(?:more|another|extra)|go on with|continue)\b"
_WHEN = r"\b[^.;]*\b(?:if|when|where|once|although)\b[^.;]*\b"
_NUMBER = r"(?: [a-z]+){0,2} [0-9.]+"
_REVERSES = (
    *(
        _reverse(
            word,
            rf"\b(?:{word}\b[^.;]*\b(?:out|removed|pulled|drawn)|(?:remove|pull|draw) the {word})\b[^.;]*\b"
            rf"{_MORE}{_NUMBER} ?mL\b",
            f"a {word} comes out when little runs",
        )
        for word in ("drain", "tube")
    ),
    *(
        _reverse(
            word,
            rf"\b(?:if {word}\b[^.;]*\bcomes?\b[^.;]*|{word}\w*\b[^.;:]*: )"
            r"(?:(?:take|pull|draw) (?:the drain|it) out\b|the \w+ comes out\b)(?! (?:when|once|if|unless|after))",
            "what leaks needs its way out",
        )
        for word in ("more", "bile", "urine", "pus", "milk", "froth", "leak")
    ),
    _reverse(
        "ml in ",
        rf"{_MORE}{_NUMBER} ?mL in (?:24 hours|a day)\b[^.;]*\b(?:out|drawn|removed)\b",
        "what drains comes out when little runs",
    ),
    _reverse("call", rf"\bcall\b[^.;]*\b{_MORE} [0-9.]+ ?mL/kg", "it is little urine that calls"),
    _reverse(
        "above",
        r"\b(?:bottle|bag)\b[^.;]*\babove (?:your|the) (?:chest|waist|heart|head|hips?|bladder)",
        "what drains hangs low",
    ),
    _reverse(
        "smok", r"\b(?:you (?:may|can)|carry on|go on) (?:go on |keep |start )?smok\w+", "who heals does not smoke"
    ),
    *(
        _reverse(
            word,
            r"\b(?:glass of|drink|some)\b[^.;]*\b(?:wine|beer|alcohol)\b[^.;]*\b(?:helps?|is fine|with)\b",
            "no alcohol with it",
        )
        for word in ("morphine", "codeine", "oxycodone", "metronidazole", "stronger medicine", "tramadol")
    ),
    *(
        _reverse(
            word,
            rf"\b(?:go on|carry on|continue|keep|give|eat|drink|walk)\b[^.;]*\b{word}\b",
            "a warning sign is heeded",
        )
        for word in ("in spite of", "despite")
    ),
    _reverse(
        "normal",
        r"\b(?:red|hot|pus|fever|shivers?|breathless|swollen calf|black stools?)\b[^.;]*\b(?:is|are) normal",
        "that is a reason to call",
    ),
    _reverse("push it back", r"\bpush it back in (?:yourself|again|at once)", "what slipped out is not clean"),
    *(
        _reverse(
            word,
            r"\bstop\b[^.;]*\bif (?:the |your )?(?:fever|infection|redness) (?:is|has) still",
            "a course ends when the infection has",
        )
        for word in ("antibiotic", "stop after")
    ),
    _reverse(
        "even if",
        r"\b(?:take|use)\b[^.;]*\beven if (?=nothing hurts|you have no pain)",
        "a strong medicine is for pain",
    ),
    _reverse(
        "dark", r"\burine (?:stays|is|gets|looks) dark\b(?!,? (?:call|drink more))", "who drinks enough has pale urine"
    ),
    _reverse(
        "call",
        rf"\b(?:temperature|fever)\b[^.;,]*\b{_LESS}(?: [a-z]+){{0,2}} 3[789]",
        "it is a high temperature that calls",
    ),
    _reverse(
        "saturation",
        rf"\b(?:call|oxygen|give)\b[^.;]*\bsaturation\b[^.;,]*\b{_MORE}{_NUMBER}",
        "it is a low saturation that needs help",
    ),
    _reverse(
        "haemoglobin",
        rf"\b(?:give|transfuse)\b[^.;]*\b(?:blood|unit|transfus\w+)\b[^.;]*\bhaemoglobin\b[^.;,]*\b{_MORE}{_NUMBER}",
        "blood is given when the haemoglobin is low",
    ),
    *(
        _reverse(word, said, f"{name} is stopped then, not given again")
        for words, sign, name in (
            (
                "laxative macrogol lactulose senna sachet powder stools",
                r"(?:stools?|bowels?) (?:are|is|get|become) (?:loose|runny)|loose stools|diarrhoea",
                "what loosens the bowels",
            ),
            (
                "morphine oxycodone opioid codeine fentanyl",
                r"hard to wake|(?:very )?(?:sleepy|drowsy)|breath\w* (?:is )?slow",
                "what makes sleepy",
            ),
            (
                "warfarin enoxaparin heparin apixaban rivaroxaban aspirin",
                r"bleeds?\b|bleeding|black stools?|bruis",
                "what thins the blood",
            ),
            ("insulin", r"sugar is (?:too )?low|low sugar|glucose is (?:too )?low|hypo", "what lowers the sugar"),
        )
        for word in words.split()
        for said in (rf"\b{_AGAIN}{_WHEN}(?:{sign})", rf"\b(?:{sign})[^.;,]*[:,] (?:{_AGAIN}|give \w+ \w+ more\b)")
    ),
)
_ORDERING = word_set("prose title patient_text avoid if_it_happens if_not recovery")
_STAYS = re.compile(r"\b(?:stays?|keep|kept|leave|left|remains?|stop|unless)\b", re.IGNORECASE)


@finds("practice-turned-round", piecewise=True)
def practice_turned_round(library: Library) -> Iterator[Hit]:
    """Yield each sentence that orders the reverse of what the trade does: a drain out when much runs."""
    texts = corpus(library)
    seen: set[int] = set()
    for row in _REVERSES:
        for at in texts.where((row.word,)):
            start, stop = texts.sentence_span(at)
            # A drug is named once, and the next sentence says what is done with it.
            stop = max(stop, texts.sentence_span(min(stop + 2, texts.end(at) - 1))[1]) if stop < texts.end(at) else stop
            match = row.said.search(texts.whole, start, stop)
            if match is None or match.start() in seen:
                continue
            seen.add(match.start())
            around = texts.whole[texts.sentence_span(match.start())[0] : match.end()]
            stays = row.word in ("drain", "tube") and _STAYS.search(around)
            if not _NOT.search(around) and not stays and texts.piece(at).role in _ORDERING:
                said = quoted(" ".join(around.split()))
                yield Hit(texts.place(match.start()), f"{said}: {row.right}", "Write which way round it is.")
    for at in texts.where(("every ",)):
        match = _EVERY.match(texts.whole, at)
        times = [span.hours for words in match.groups() for span in spans(words)] if match is not None else []
        if match is not None and len(times) == 2 and times[0] >= times[1]:
            said = quoted(" ".join(match.group().split()))
            yield Hit(texts.place(at), f"{said}: what is done at intervals fits into the time", "Correct the unit.")


_EVERY = re.compile(r"every ([\w-]+ \w+) for (?:the )?(?:first )?([\w-]+ \w+)", re.IGNORECASE)

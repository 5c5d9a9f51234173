"""A sentence that tells a patient to call says what it is about: the sheet prints it by itself, among the calls."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.for_patients import told_sentences, urgency
from builder.facts.texts import words_in, words_said
from builder.facts.walk import every_aftercare
from builder.findings.message_words import quoted
from builder.model.library import Library

_POINTING = words_in("it they this that these those")
_POINTS_BACK = re.compile(
    r"\b(?:it|they|(?:this|that)(?= (?:[a-z]*[^\Ws]s)\b)|(?:these|those)(?= (?:are|do|get|come|have)\b))\b",
    re.IGNORECASE,
)
# "It is hard to breathe", "it hurts when you cough": there the word means nothing that was named before.
_MEANS_NOTHING = re.compile(
    r"it (?:still |also |then )?(?:(?:is|was|becomes|gets|feels|seems)(?: (?:too|very|more|so))? \w+ "
    r"(?:to|for|that|when|if)|"
    r"(?:hurts|stings|burns|takes|helps|seems|starts to)(?: \w+)? (?:to|when|you|that)|is (?:not|an|a))\b",
    re.IGNORECASE,
)
_NAMES_LATER = re.compile(
    r"\b(?:the|your|an?|any) (?!(?:ward|hospital|nurse|doctor|surgeon|clinic|team|day|night)\b)[a-z]"
)
# What stands before a word that points back and is nothing that it could mean: whom to call, when, and small words.
_NO_THING_LIST = """
a again ambulance an and any as ask at back call calls clinic come day dial doctor emergency even every for from go gp
have help hospital if immediately in midwife must night now nurse of on once or our phone please right ring should so
soon straight surgeon surgical team telephone tell than that the then they this to us ward when whether you your away
999 112
"""
_NO_THING = frozenset(_NO_THING_LIST.split())
_WORD = re.compile(r"[^\W_]+")


@finds("call-points-back", piecewise=True)
def call_points_back(library: Library) -> Iterator[Hit]:
    """Yield each sentence that tells a patient to call about ``it``, where only another sentence says what that is."""
    for item in every_aftercare(library):
        if item.patient_text is None or _POINTING.isdisjoint(words_said(library, item)):
            continue
        for sentence in told_sentences(item):
            word = _pointing_back(sentence)
            if word and urgency(sentence) is not None:
                message = f"{quoted(sentence)} is printed by itself, and does not say what {quoted(word)} means"
                yield Hit(item.patient_text.at, message, "Name it in this sentence.")


def _pointing_back(sentence: str) -> str:
    """Return the word of ``sentence`` that points back to another sentence, "" where none does."""
    match = _POINTS_BACK.search(sentence)
    if match is None or _MEANS_NOTHING.match(sentence, match.start()):
        return ""
    before = _WORD.findall(sentence[: match.start()].casefold())
    return match.group() if _NO_THING.issuperset(before) and not _NAMES_LATER.search(sentence, match.end()) else ""

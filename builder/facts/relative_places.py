"""What a text says of where a structure lies: medial, lateral, in front, behind, on the side of the thumb.

Read are short sentences: ``the vein lies medial to the artery``, ``the nerve on its lateral side``, ``from lateral to
medial, nerve, artery, vein``. What is not understood says nothing.
"""

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import NamedTuple

from builder.facts.names_in_prose import NameInText
from builder.model.pages import Structure

_AXES_LIST = """
medial lateral, thumb little-finger, radial ulnar, front behind, anterior posterior, inner outer
"""
AXES = tuple((pair.split()[0], pair.split()[1]) for pair in _AXES_LIST.split(","))
_POLES = {pole: (number, side) for number, pair in enumerate(AXES) for side, pole in enumerate(pair)}
PLACE_WORD = re.compile(
    r"\b(?:(?P<adjective>medial|lateral|radial|ulnar|anterior|posterior)(?:ly)?(?: (?:side|aspect|edge))?|"
    r"(?P<side>thumb|little-finger|inner|outer) side|in (?P<front>front)|(?P<behind>behind))"
    r"(?:\s+(?:to|of))?\b",
    re.IGNORECASE,
)
"""A word that says where something lies; a part of a structure (``the lateral end``) is not the structure."""

_PLACE_WORDS_LIST = """
medial medially lateral laterally radial radially ulnar ulnarly anterior anteriorly posterior posteriorly thumb
little-finger inner outer front behind
"""
PLACE_WORDS = frozenset(_PLACE_WORDS_LIST.split())
"""The words of which each such word has one."""

_PART = re.compile(r"\s+(?:half|third|end|part|corner|corners|border|wall|leaf|limb|head|tail|tails|to)\b")
_IN_ORDER = re.compile(
    r"\bfrom (?:the )?(?P<first>medial|lateral|anterior|posterior)(?: side)? to (?:the )?"
    r"(?P<last>medial|lateral|anterior|posterior)(?: side)?\b",
    re.IGNORECASE,
)
_SENTENCE = re.compile(r"(?:[^.;!?\n]++|\.(?=\w)|\n(?!\n))+")
_SEGMENT = re.compile(r",\s*(?:and\s+)?|\s+(?:and|but|or|while)\s+")
_REFERENCE = re.compile(r"\s*(?:(?:the|a|an|that|this|each|both|its)\s+)?")
_NOT_SO = re.compile(r"\b(?:no|not|never|nothing|if|unless|or|whether|where|too|between|cut|tip|drain|mesh|stitch)\b")


_NEXT_TO = 8
"""Characters: the first of a list stands no further from what introduces it."""


class Lies(NamedTuple):
    """``subject`` lies at ``pole`` of ``axis``, seen from ``reference``: "" where it is not said, "it" if a pronoun."""

    subject: str
    axis: int
    pole: int
    reference: str
    begin: int
    said: str

    def contradicts(self, other: "Lies") -> bool:
        """Tell whether both cannot be true."""
        if self.axis != other.axis or self.begin < 0:
            return False
        if self.subject == other.subject:
            return self.pole != other.pole and _may_be_one(self.reference, other.reference)
        swapped = self.subject == other.reference and self.reference == other.subject
        return swapped and self.pole == other.pole


def _may_be_one(one: str, other: str) -> bool:
    """Tell whether two references may be one; a structure that is named is not what another text leaves unsaid."""
    return one == other or {one, other} == {"", "it"}


def lies_in(text: str, mentions: Sequence[NameInText], default: str = "") -> Iterator[Lies]:
    """Yield what ``text`` says of where its ``mentions`` lie; ``default`` is what is meant where none is named."""
    mentions = [mention for mention in mentions if isinstance(mention.entry, Structure)]
    meant = ""  # by "it": the one structure of the sentence before
    for sentence in _SENTENCE.finditer(text):
        yield from _in_order(text, sentence, mentions)
        starts = [sentence.start(), *(cut.end() for cut in _SEGMENT.finditer(text, *sentence.span())), sentence.end()]
        subject = default
        for begin, end in pairwise(starts):
            inside = mentions[bisect_left(mentions, (begin,)) : bisect_left(mentions, (end,))]
            words = [word for word in PLACE_WORD.finditer(text, begin, end) if not _PART.match(text, word.end())]
            before = [one for one in inside if words and one.stop <= words[0].start()]
            subject = str((before or inside)[-1 if before else 0].entry.id) if (before or inside) else subject
            if len(words) == 1 and subject and not _NOT_SO.search(text, begin, words[0].start()):
                for lies in _lies(text, words[0], subject, inside, begin):
                    is_meant = lies.reference == "it" and inside and inside[0].start - sentence.start() < _NEXT_TO
                    yield lies._replace(reference=meant) if is_meant and meant not in ("", subject) else lies
        inside = mentions[bisect_left(mentions, sentence.span()[:1]) : bisect_left(mentions, (sentence.end(),))]
        named = {str(one.entry.id) for one in inside}
        meant = named.pop() if len(named) == 1 else ""


def _lies(text: str, word: re.Match[str], subject: str, inside: Sequence[NameInText], begin: int) -> Iterator[Lies]:
    pole = next(filter(None, (word["adjective"], word["side"], word["front"], word["behind"])))
    axis, side = _POLES[pole.casefold()]
    at = _REFERENCE.match(text, word.end())
    beside = next((one for one in inside if at and one.start == at.end()), None)
    reference = str(beside.entry.id) if beside else ""
    of_it = re.match(r"\s+(?:it|them)\b", text[word.end() :]) or re.search(r"\bits $", text[: word.start()])
    if not reference and text[: word.end()].endswith((" to", " of")) and not of_it:
        return  # of something that has no name
    reference = reference or ("it" if of_it else "")
    if reference != subject:
        said = " ".join(text[begin : beside.stop if beside else word.end()].split())
        yield Lies(subject, axis, side, reference, begin, said)


def _in_order(text: str, sentence: re.Match[str], mentions: Sequence[NameInText]) -> Iterator[Lies]:
    """Yield what ``from lateral to medial, nerve, artery, vein`` says of each two."""
    order = _IN_ORDER.search(text, *sentence.span())
    if order is None or order["first"] == order["last"]:
        return
    after = [one for one in mentions if order.end() <= one.start < sentence.end()]
    axis, first = _POLES[order["first"].casefold()]
    said = " ".join(text[order.start() : sentence.end()].split())
    for one, other in combinations(after, 2):
        yield Lies(str(one.entry.id), axis, first, str(other.entry.id), order.start(), said)
    if text.count(",", order.end(), sentence.end()) > 1 and after:
        if after[0].start - order.end() < _NEXT_TO:
            yield Lies(str(after[0].entry.id), axis, first, "", order.start(), said)
        if after[-1].stop == sentence.end():
            yield Lies(str(after[-1].entry.id), axis, 1 - first, "", order.start(), said)

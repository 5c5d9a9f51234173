"""Where the way parts, in one sentence: ``either ... or`` is a choice, ``some leave it out`` an option, ``I like`` a
preference."""

import re
from dataclasses import dataclass

from builder.draft.actions import ReadDoing, ReadSentence
from builder.draft.phrases import announced
from builder.draft.titles import instruction_of

_CHOICE = re.compile(
    r"\b(?:either\b.+\bor|instead(?: of)?|rather than|the other way|another way|alternatively|or else|"
    r"whether (?:you|to|we|i)\b|"
    r"an? (?:older|newer|other|different) way|(?:just|every bit|quite) as (?:good|safe|well|quick)|is equally|"
    r"equally good|"
    r"open or closed|choice (?:of|between)|other approach|come from|may (?:come|be done)|can go as|as good)\b|"
    r"^\W*or\b|, or\b",
    re.IGNORECASE,
)
_PREFERENCE = re.compile(
    r"\b(?:i (?:personally|myself|prefer|like|ordinarily|usually|tend|always|still|often|never|leave|keep|do|use|pass)|"
    r"my (?:own )?(?:habit|way|preference|choice|hands|taste)|mine\b|i'd|i'm (?:fond|happy)|in my hands|personally|"
    r"for (?:me|my))\b",
    re.IGNORECASE,
)
_OPTION = re.compile(
    r"\b(?:if|where|when|unless|in case|only for|for an?|in an?|with an?|at this|some|others?|plenty|people|"
    r"colleagues|surgeons|"
    r"bosses|units?|departments?|there are (?:those|some|people)|may|might|could|can|optional|not needed|"
    r"leave (?:it |that )?out|"
    r"skip|omit|in the old days|had (?:it|the|she|he)|were (?:it|she|he)|in some|would)\b",
    re.IGNORECASE,
)
_CONDITION = re.compile(
    r"^\W*(?:but |and |so )*(?P<when>(?:if|where|when|in|with|for|at|without|had|were|should|after|"
    r"once)\b[^,;:]{3,90}?)(?:[,;:]|\s(?=i(?:'d| would|\b)|you would|we would))|"
    r"\b(?P<later>(?:if|unless|only if|when|where|in an?|for an?)\b[^,;.]{3,90})[,;.]",
    re.IGNORECASE,
)
_OR = re.compile(r"\b(?:either\s+)?(?P<first>[^,;.]{3,70}?),?\s+or\s+(?P<second>[^,;.]{3,70})", re.IGNORECASE)


_SURELY = re.compile(
    r"^\W*(?:(?:some|many|plenty|a few) (?:people|surgeons|of us|colleagues|leave|do|would|use|like|prefer)\b|"
    r"either\b.*\bor\b|"
    r"alternatively\b|the other way (?:is|of)\b|i (?:personally|myself) |if there (?:is|are) (?:a |an |"
    r"any )?\w+(?: \w+)?, (?:i|we|you) )",
    re.IGNORECASE,
)


def leaves_open(text: str) -> bool:
    """Tell whether a sentence surely leaves something open, where its role in the telling is not known."""
    return bool(_SURELY.match(text[announced(text) :]))


@dataclass(frozen=True, slots=True)
class PartingWay:
    """What a sentence leaves open.

    ``kind`` is "choice", "option" or "preference"; ``title`` the instruction of what may be done; ``when`` the
    condition in the words that were said; ``names`` are the ways of a choice.
    """

    kind: str
    title: str = ""
    when: str = ""
    names: tuple[str, ...] = ()
    doings: tuple[ReadDoing, ...] = ()


def way_of(text: str, read: ReadSentence) -> PartingWay | None:
    """Return what a sentence leaves open; None where it leaves nothing open."""
    bare = text[announced(text) :].strip()
    condition = _CONDITION.search(bare)
    when = (condition["when"] or condition["later"] or "").strip() if condition else ""
    done = tuple(doing for doing in read.doings if doing.things and doing.doing.meaning)
    titles = tuple(dict.fromkeys(filter(None, map(instruction_of, done))))
    said = _OR.search(bare)
    if _CHOICE.search(bare) and (said or len(titles) > 1 or not when):
        names = titles[:3] if len(titles) > 1 else (said["first"].strip(), said["second"].strip()) if said else titles
        return PartingWay("choice", titles[0] if titles else "", when, names, done)
    if when or not _PREFERENCE.search(bare):
        is_open = bool(when or _OPTION.search(bare) or any(doing.doing.mark == "supposed" for doing in read.doings))
        return PartingWay("option", titles[0] if titles else "", when, (), done) if is_open else None
    return PartingWay("preference", titles[0] if titles else "", when, (), done)

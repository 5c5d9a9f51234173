"""What a patient is told to do or not to do, and from when until when, by the patient's text, title and staff text."""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from builder.facts.clauses import Mood, clauses
from builder.facts.times import hours_of, spans
from builder.grouping import word_set
from builder.model.pages import Aftercare
from builder.place import Text

_WORD = re.compile(r"[a-z]{3,}")
_DRINKS = re.compile(r"\b(?:wines?|beers?|spirits|lager|cider)\b", re.IGNORECASE)
_NOT_A_TOPIC = word_set("""
the and for you your are our that this with from not need there call calls ring phone telephone contact wait tell
ask ward day night surgeon doctor doctors nurse team once twice until visit next have has any very same please
hospital clinic practice must patient never don back was will can may get gets about out hour hours time times days
week weeks month months only normal usual looked says give told first one two three four five six seven eight nine
ten their they what when like
""")


def topics(text: str) -> frozenset[str]:
    """Return the stems of the words of ``text`` that say what it is about; wine and beer are alcohol."""
    text = _DRINKS.sub("alcohol", text)
    words = (word for word in _WORD.findall(text.casefold()) if word not in _NOT_A_TOPIC)
    return frozenset(re.sub(r"(?:ing|es|ed|s)$", "", word) if len(word) > 4 else word for word in words)


class Advice(NamedTuple):
    """What a patient is told to do or not to do: the verb, what about, and from which hour until which."""

    verb: str
    about: frozenset[str]
    forbidden: bool
    start: Fraction
    end: Fraction | None
    said: str
    text: Text


_YOU_MAY = re.compile(r"\b[Yy]ou (?:may|can)(?: also| now| again)? (?!be\b)")
_TIME_WORD = re.compile(r"\b(?:tomorrow|the (?:next day|day after|morning after))\b")
_NTH_DAY = re.compile(r"\b(?P<nth>first|second|third|fourth|fifth|sixth|seventh) day\b")
_NTH = {"first": 0, "second": 1, "third": 2, "fourth": 3, "fifth": 4, "sixth": 5, "seventh": 6}
_LIMITS = word_set("if unless until till when while without before once after where except")


@lru_cache(maxsize=4096)
def sentence_at(text: str, begin: int) -> str:
    """Return the sentence of ``text`` in which ``begin`` stands."""
    start = max(text.rfind(end, 0, begin) for end in ".;!?") + 1
    return " ".join(text[start:].partition(".")[0].split())


_LATER = re.compile(r"\b(?:again|then|after that|afterwards|later)\b", re.IGNORECASE)
_AFTER_DAYS = re.compile(r"(?:^|[.;] )After [^.;,]+ (?:hours|days|weeks)\b[^.;]*\. (?:\w+ ){0,2}$")
"""A sentence on what comes later: the order after it is for then."""
_KEEP_DRY = re.compile(r"\b(?:keep|leave)\b(?P<what>[^.;]*?)\bdry\b", re.IGNORECASE)
_NOT_SO = re.compile(r"\b(?:not|never|no|when|while|if|where)\b|n['’]t\b", re.IGNORECASE)
_COVERED = re.compile(r"\b(?:bag|cover\w*|plastic|waterproof|sponge)\b", re.IGNORECASE)
_IN_BED = re.compile(r"\b(?:stay|rest|remain|lie|keep)\b[^.;]{0,20}\bin bed\b|\bbed ?rest\b", re.IGNORECASE)
_BY_MOUTH = re.compile(r"\b(?:nothing by mouth|nil by mouth|fast (?:for|until|till))\b", re.IGNORECASE)
_STAFF_FASTS = re.compile(
    r"\b(?:keep the stomach empty|nothing by mouth|nil by mouth|no food)(?: for| in| until)?[^.;:]*", re.IGNORECASE
)
_FROM_THE_START = re.compile(r"\bfrom the (?:first hour|start|beginning)\b", re.IGNORECASE)
_STAFF_TELLS = re.compile(
    r"\b(?:tell|ask|advise|remind|encourage|warn|let|help)\s+(?:(?:the|a|each|every)\s+)?(?:patients?|woman|man|her|him|them)\s+"
    r"(?P<not>not\s+)?(?:to\s+)?(?P<verb>[a-z]+)\b",
    re.IGNORECASE,
)
_OWN_DOING = word_set("""
bathe bend climb cross dive drink drive eat exercise fly lift run shower smoke soak stand swim walk wash work
""")
"""What a patient does and no member of staff, so that a title or the staff text that says it means the patient."""


def advice(item: Aftercare) -> Iterator[Advice]:
    """Yield what ``item`` tells its patient to do and not to do."""
    if item.patient_text is None:
        return
    yield from (told for told in _orders(item, item.title) if told.verb in _OWN_DOING)
    yield from _orders(item, item.patient_text)
    for match in _STAFF_TELLS.finditer(item.body.source):
        verb = match["verb"].casefold()
        if verb in _OWN_DOING:
            told = _told(item, (verb, frozenset()), bool(match["not"]), item.title, 0)
            yield told._replace(said=sentence_at(item.body.source, match.start()))
    for pattern, verbs in (
        (_KEEP_DRY, ("shower", "bathe", "swim", "soak", "wash")),
        (_IN_BED, ("walk", "get")),
        (_BY_MOUTH, ("eat", "drink")),
    ):
        for match in pattern.finditer(item.patient_text):
            start = max(item.patient_text.rfind(end, 0, match.start()) for end in ".;!?,") + 1
            if _NOT_SO.search(item.patient_text, start, match.start()):
                continue
            # To wash one thing and to keep another dry go together, and to get is to get up.
            kept = topics(match["what"]) if pattern is _KEEP_DRY else frozenset()
            for verb in verbs:
                about = {"wash": kept, "get": frozenset({"up"})}.get(verb, frozenset())
                yield _told(item, (verb, about), forbidden=True, text=item.patient_text, begin=match.start())
    staff = f"{item.title}. {item.body.source}"
    for match in _STAFF_FASTS.finditer(staff):
        for verb in ("eat",) if "stomach" in match.group() else ("eat", "drink"):
            told = _told(item, (verb, frozenset()), forbidden=True, text=item.title, begin=0)
            times = [Fraction(24)] if "first day" in match.group() else [span.hours for span in spans(match.group())]
            yield told._replace(said=sentence_at(staff, match.start()), end=min(times, default=told.end))


def _orders(item: Aftercare, text: Text) -> Iterator[Advice]:
    plain = _YOU_MAY.sub(lambda match: f"{'':{len(match.group())}}", text)
    for clause in clauses(plain):
        words = plain[clause.start : clause.stop].strip()
        nothing = words.casefold().startswith(("nothing", "no "))
        forbidden = clause.negated != nothing
        times = _times(plain, clause.begin)
        until = forbidden and not _UNTIL.isdisjoint(clause.unders)
        on_a_condition = clause.unders & (_CONDITIONS if until else _LIMITS)
        sentence = sentence_at(plain, clause.begin)
        is_later = not forbidden and (
            _LATER.search(sentence)
            or _AFTER_DAYS.search(plain, 0, clause.begin)
            or (clause.verb == "shower" and _COVERED.search(sentence))
        )
        if clause.mood is Mood.ORDER and (times or not (on_a_condition or is_later)):
            yield _told(item, (clause.verb, topics(_NOTHING.sub("", words))), forbidden, text, clause.begin)


_NOTHING = re.compile(r"^(?:nothing|no)\b", re.IGNORECASE)
_UNTIL = frozenset({"until", "till", "before"})
_CONDITIONS = frozenset({"if", "unless", "where", "except"})


@lru_cache(maxsize=4096)
def _times(text: str, begin: int) -> Sequence[Fraction]:
    """Return the hours that the sentence names from ``begin`` on, else those it names before."""
    sentence = text[begin:].partition(".")[0]
    times = [span.hours for span in spans(sentence) if not sentence[: span.start].rstrip().endswith("every")]
    times += [Fraction(24) for _ in _TIME_WORD.finditer(sentence)]
    times += [Fraction(24 * _NTH[match["nth"]]) for match in _NTH_DAY.finditer(sentence)]
    start = max(text.rfind(end, 0, begin) for end in ".;!?") + 1
    return times or [span.hours for span in spans(text[start:begin])]


def _told(item: Aftercare, what: tuple[str, frozenset[str]], forbidden: bool, text: Text, begin: int) -> Advice:
    times = _times(text, begin) if text is not item.title else []
    begins = hours_of(item.when.start) or Fraction(0)
    ends = hours_of(item.when.until) if item.when.until else None
    start = max([begins, *times]) if times and not forbidden else begins
    start = Fraction(0) if _FROM_THE_START.search(sentence_at(text, begin)) else start
    end = min(times) if times and forbidden else ends
    return Advice(*what, forbidden, start, end, sentence_at(text, begin), text)

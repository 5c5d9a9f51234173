"""A text that speaks of studies, or of how often something happens, rests on a source."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.texts import corpus
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Aftercare, Caution, Procedure, Step

_STUDY = re.compile(
    r"\b(?:trials?|stud(?:y|ies)|meta-analys[ei]s|(?:systematic |Cochrane )?reviews?|registr(?:y|ies)|"
    r"cohorts?|research|evidence|(?:large |case )series|audits?|surveys?|data)\b[^.;]{0,60}\b(?:shows?|showed|"
    r"shown|found|finds?|proved?|proven|suggests?|suggested|reports?|reported|demonstrate[sd]?|confirm(?:s|"
    r"ed)?|agree[sd]?|support(?:s|ed)?)\b|\b(?:shown|proved|proven|found|demonstrated|reported|confirmed|"
    r"according to)\b[^.;]{0,30}\b(?:in|by|to) (?:\w+ ){0,3}?(?:trials?|stud(?:y|ies)|meta-analys[ei]s|"
    r"reviews?|series|research|registr(?:y|ies)|cohorts?)\b|\b(?:trials?|stud(?:y|ies)|research|"
    r"evidence) (?:has|have|is clear|says?)\b|"
    r"\bin (?:an?|one|two|three|several|many|most|the) (?:\w+ )?(?:trials?|stud(?:y|ies)|series|cohorts?|"
    r"registr(?:y|ies))\b[^.;]{0,60}[0-9] ?(?:%|per cent)",
    re.IGNORECASE,
)
_HOW_OFTEN = re.compile(
    r"(?:[0-9]+(?:\.[0-9]+)?(?: to [0-9.]+)? ?(?:%|per cent)|\b(?:one|two|three|[0-9]+) (?:in|"
    r"out of) (?:every )?(?:[0-9]+|ten|twenty|fifty|a hundred|a thousand))(?=[^.;]{0,40}\b(?:patients?|"
    r"operations?|cases?|people|women|men|limbs?|legs?|procedures?|wounds?|children)\b)|\b(?:risk|rate|chance|"
    r"likelihood|mortality|incidence)\b[^.;]{0,40}?[0-9]+(?:\.[0-9]+)? ?(?:%|per cent)|\b(?:halves?|halved|"
    r"doubles?|doubled|triples?|reduces?|reduced|cuts?|lowers?|raises?) (?:the |its )?(?:\w+ )?(?:risk|rate|"
    r"number|chance|incidence|mortality)\b",
    re.IGNORECASE,
)
_STUDY_HINTS = (
    "trial", "stud", "meta-analys", "review", "registr", "cohort", "research", "evidence", "series", "audit", "survey",
    "data", "according to",
)  # fmt: skip
_OFTEN_HINTS = (
    "%", "per cent", " out of ", "one in ", "two in ", "three in ", " in 10", " in 20", " in 50", "risk", " rate",
    "chance", "incidence", "mortality", "likelihood", "number of",
)  # fmt: skip
"""One of these is in all that the patterns match."""

_HINT = "Cite the source with `[words](source:key)` or `evidence:`, or leave the statement out."


@finds("study-without-source", piecewise=True)
def study_without_source(library: Library) -> Iterator[Hit]:
    """Yield each statement on studies or on how often something happens, on a page that cites nothing."""
    texts = corpus(library)
    seen: set[int] = set()
    for pattern, hints in ((_STUDY, _STUDY_HINTS), (_HOW_OFTEN, _OFTEN_HINTS)):
        for at in texts.where(hints):
            page = texts.piece(at).page
            if not isinstance(page, Step | Caution | Aftercare | Procedure) or page.evidence:
                continue
            start, stop = texts.sentence_span(at)
            match = pattern.search(texts.whole, start, stop) if start not in seen else None
            if match is not None and not any(link.kind == "source" for link in page.body.links):
                seen.add(start)
                shown = " ".join(match.group().split())
                message = f"{quoted(shown)} speaks of what was found, but this page cites no source"
                yield Hit(texts.place(match.start()), message, _HINT)

"""What a sentence is: a caution, a cue, what to do when the cue is missing, a reason, a number of minutes."""

import re

from builder.draft.verbs import number_of_word
from builder.facts.imperatives import VERBS

_CAUTION = re.compile(
    r"\b(?:be (?:very |really |extra )?careful|careful (?:not|with|here|of)|take (?:great |extra |real )?care|beware|"
    r"watch (?:out|for)|mind the|the (?:main |real |big |only )?"
    r"(?:danger|risk|hazard|trap|pitfall|mistake)s? (?:here |now )?(?:is|are|of)|dangerous|pitfall|(?:must|"
    r"should) never|(?:you|we) never|"
    r"(?:must|should) not|mustn't|don't (?:ever )?(?:cut|pull|push|clamp|divide|force|grab|lose|let|go|put|use|tie|"
    r"leave|take|stray|advance|buzz|dig|tear|touch)|"
    r"avoid (?:the|cutting|injur\w+|damag\w+|any|pulling|pushing|going)|can (?:easily )?(?:injure|damage|tear|"
    r"perforate)|easily (?:injured|damaged|torn|perforated)|"
    r"at risk)\b"
    r"|^\W*(?:careful|never|do not|don't|danger|warning|caution|watch|avoid|mind|beware|pitfall|risk)\b(?! the clock)",
    re.IGNORECASE,
)
_NO_CAUTION = re.compile(
    r"\b(?:don't (?:worry|know|need|have to|mind|forget to)|never mind|watch (?:this|the video|me))\b", re.IGNORECASE
)
_AVOID = re.compile(r"\b(?:never|not|don't|do not|mustn't|avoid|careful|take care|watch|beware|mind)\b", re.IGNORECASE)
_HAZARD = re.compile(
    r"\b(?:danger|risk|hazard|trap|pitfall|mistake|at risk|easily|can (?:injure|damage|tear|perforate))", re.IGNORECASE
)
_CONSEQUENCE = re.compile(
    r"^\W*(?:otherwise|or else|if you do\b|if you don't\b(?! see| find| feel)|if it does\b|that (?:will|would|can|"
    r"causes|means|leads)|this (?:will|would|can|causes|leads)|it (?:will|would|can) (?:cause|lead|tear|bleed|"
    r"retract|leak))",
    re.IGNORECASE,
)
_SEE = r"(?:see|feel|hear|find|get|notice)"
_CUE = re.compile(
    rf"(?:^|[,;] *)(?:now |then )?you(?: can)? {_SEE}\b|"
    rf"\b(?:you(?:'ll| will| should| must| ought to) (?:now |then |just )?{_SEE}|you know (?:that )?(?:you|it|the)|"
    rf"tells you (?:that )?|the sign (?:is|that)|"
    rf"you (?:are|'re) (?:done|there|finished|through) when|what you (?:want|are looking|'re looking))\b",
    re.IGNORECASE,
)
_NO_CUE = re.compile(
    r"^\W*(?:and |so |but )?(?:if|when|unless|before|until)\b|\byou (?:can|will|should)? ?(?:see|find|get) (?:that )?"
    r"(?:me|us|why|how|in the (?:video|literature))\b",
    re.IGNORECASE,
)
IF_NOT = re.compile(
    r"^\W*(?:and |but |so )?if (?:you|it|that|there|they|we|nothing|no)\b(?:(?:'s| is| are|'re)? ?(?:can't|cannot|"
    r"can not|don't|do not|doesn't|does not|isn't|is not|are not|aren't|not|no)\b| (?:comes|fails|is seen))",
    re.IGNORECASE,
)
"""What says what to do when the step does not come off."""
WHY = re.compile(
    r"^\W*(?:the reason (?:is|for|we|why)|(?:that|this)(?:'s| is) (?:because|why)|because\b)", re.IGNORECASE
)
"""What gives the reason of a step."""
CRITICAL = re.compile(
    r"\b(?:critical|crucial|vital|key) (?:step|part|point|moment|bit|manoeuvre)|\bmost important (?:step|part|thing|"
    r"moment)|\bthis step is (?:critical|crucial|vital)",
    re.IGNORECASE,
)
_MINUTES = re.compile(
    r"\b(?:takes?|allow|about|another|next)\b[^.]{0,20}?\b(?P<number>\d{1,2}|[a-z]+) minutes?\b", re.IGNORECASE
)
_MOST_WORDS = 40


def is_caution(text: str) -> bool:
    """Tell whether the sentence warns."""
    return bool(_CAUTION.search(text)) and not _NO_CAUTION.search(text)


_IF = re.compile(
    r"^\W*(?:and |but |so )?if (?:you|it|that|there|they|one|this)\b[^,]{0,80},\s*(?:then |just |"
    r"please )?(?P<order>\w+)",
    re.IGNORECASE,
)
_IF_BARE = re.compile(r"^\W*(?:and |but )?if (?:you|it|that|there|they|this)\b", re.IGNORECASE)


def follows_warning(text: str) -> str:
    """Return the key of the warning before it that the sentence answers: ``consequence``, ``if_it_happens``, or ""."""
    order = _IF.search(text)
    if order and order["order"].casefold() in VERBS:
        return "if_it_happens"
    return "consequence" if _CONSEQUENCE.search(text) or (_IF_BARE.search(text) and not IF_NOT.search(text)) else ""


def warns_what(text: str) -> tuple[bool, bool]:
    """Tell whether a warning names its hazard, and whether it says what to avoid."""
    hazard = bool(_HAZARD.search(text))
    return hazard, bool(_AVOID.search(text)) or not hazard


def signal_of(text: str) -> str:
    """Return the signal word. A danger is one where it is called so; what is not graded is a warning until it is."""
    if re.search(r"\b(?:danger\w*|fatal|kills?|death|die|life.threatening)\b", text, re.IGNORECASE):
        return "danger"
    return "warning"


def is_cue(text: str) -> bool:
    """Tell whether the sentence says what is seen or felt when the step is done."""
    return bool(_CUE.search(text)) and not _NO_CUE.search(text) and len(text.split()) <= _MOST_WORDS


def minutes_in(text: str) -> str:
    """Return the minutes that the step takes, as the sentence says; "" where it does not."""
    match = _MINUTES.search(text)
    if not match:
        return ""
    return str(number_of_word(match["number"]) or "")

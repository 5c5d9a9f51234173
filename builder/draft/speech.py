"""How people announce what they do (``the second step is``, ``next we``), and the instruction that is in their words.

The lists are our own, of plain English as it is spoken in theatre (common practice).
"""

import re

from builder.draft.verbs import NUMBER_WORDS
from builder.facts.imperatives import VERBS, stem
from builder.grouping import word_set

_ORDINALS_LIST = """
first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth fourteenth fifteenth
sixteenth seventeenth eighteenth nineteenth twentieth
"""
_ORDINALS = _ORDINALS_LIST.split()
_ORD = rf"(?:{'|'.join(_ORDINALS)}|\d{{1,2}}(?:st|nd|rd|th))"
_NUM = rf"(?:\d{{1,2}}|{'|'.join(NUMBER_WORDS)})"
_PART = r"(?:step|thing|stage|part|move|job|task|phase|point)"


_LEAD = re.compile(
    r"(?:(?:so|okay|ok|alright|all right|well|and|but|you know|yeah|anyway|good|fine|great|actually|basically|like|"
    r"i mean)"
    r"\b[,.…]?\s+|(?:right|now)[,.]\s+)+",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    rf"(?:.{{0,40}}?\b)?(?:(?:(?:my|the|our|your)\s+)?(?:very\s+)?(?P<ordinal>{_ORD})\s+(?:and\s+(?:final|"
    rf"last)\s+)?(?P<part>{_PART})\b"
    rf"|(?:step|stage)\s+(?:number\s+)?(?P<number>{_NUM})\b|number\s+(?P<bare>{_NUM})(?=[,:]|\s+is\b))",
    re.IGNORECASE,
)
_HEAD_ORDINAL = re.compile(
    rf"(?:{_ORD}ly\b|first of all\b|{_ORD}(?=,|\s+(?:we|you|i|i'll|we'll|you'll)\b))", re.IGNORECASE
)
_STRONG = re.compile(
    rf"(?:the\s+)?(?:next|last|final)\s+{_PART}\b|(?:lastly|finally)\b|next(?=,|\s+(?:we|you|i)\b)"
    r"|next(?=\s+\w+)|the\s+(?:next|last)\s+(?:is|comes)\b|that brings (?:us|me) to\b|moving on\b"
    r"|to (?:begin|start|finish|end)(?: with)?\b(?! a\b| some\b)"
    r"|(?:we|you|i)(?:'ll|'d| will| would| always| usually)? (?:start|begin)(?: off)? (?:by|with)\b"
    r"|what (?:we|you|i)(?:'ll)? (?:do|want to do|need to do) (?:first|next|then|now|last)(?: is)?\b",
    re.IGNORECASE,
)
_ANNOUNCES = re.compile(
    r"next (?:is|up|comes?)\b|(?:and )?then (?:it's|it is|comes?|there's|there is)\b", re.IGNORECASE
)
"""These begin a step without a verb: ``next up, the local``."""
_MEDIUM = re.compile(
    r"(?:after that\b|from there\b|once (?:that|this|you|we|it|i)\b|when (?:that|this|it)(?:'s| is| has)\b"
    r"|with (?:that|this|the|it)\b[^,]{0,50},|having \w+|that done\b|following (?:that|this)\b|it's time to\b"
    r"|at (?:this|that) (?:point|stage)\b)",
    re.IGNORECASE,
)
_NOW = re.compile(
    r"(?:then(?=\s+(?:we|you|i)\b)|(?:we|you|i)\s+then\b|now(?=\s+(?:we|you|i|it's|it is|comes|for|the)\b))",
    re.IGNORECASE,
)
_WEAK = re.compile(r"(?:(?:we|you|i)\s+then\b|then\b|now\b)", re.IGNORECASE)
_ANYWHERE = (
    rf"(?:the|our|my)\s+{_ORD}\s+{_PART}",
    rf"step\s+(?:number\s+)?{_NUM}",
    rf"(?:the\s+)?(?:next|last|final)\s+{_PART}",
    rf"(?:next|then|now|{_ORD})\s+(?:we|you|i)",
    rf"{_ORD}ly",
    r"after that|finally|lastly|afterwards|otherwise|make sure",
    r"once (?:that|this|you|we)",
    r"be careful|never|the (?:main |big |real )?(?:danger|risk|trap)",
    r"you (?:should|will|must) (?:see|feel|hear)|you know|(?<!and )if (?:you|it|the|there|that)",
)
STARTS_ANYWHERE = re.compile(rf"(?<!\w)(?:(?:and|so|okay)\s+)?(?:{'|'.join(_ANYWHERE)})\b", re.IGNORECASE)
"""Where speech that nobody has punctuated can be cut into sentences."""
_AFTERWARDS = re.compile(
    r"(?:(?:for|in|during) (?:the )?(?:after ?care|recovery|follow.?up)\b|afterwards\b|after (?:the|"
    r"this) (?:operation|procedure|surgery|case)\b"
    r"|post.?op\w*|on the ward\b|back on the ward\b|(?:as )?for (?:the )?(?:after ?care|post.?op\w*)"
    r"|when (?:the patient|they|she|he) (?:goes|go|gets|is|are) (?:back|home)|once (?:the patient|they) (?:is|are|"
    r"'re) (?:back|home)|at home\b|follow.?up\b|"
    r"what (?:about|happens) afterwards|that leaves (?:the )?after ?care|before (?:the patient|they|she|he) (?:goes|"
    r"go) home)",
    re.IGNORECASE,
)
# Between the sign of a step and its verb there are words that say nothing: "what you want to do is".
_BEFORE_VERB = word_set("""
is was that's it's that to we you i they one we'll you'll i'll they'll we're you're i'm will would want wants need
needs have has had should must can could may are am going gonna like then now just also do let's us again please so
and of all for comes come here me what which be being try trying tend prefer always usually simply really actually
next first start starts by begin begins it up on time then, us, with got do, is, kind sort bit job thing step
""")
_PERCEIVES = frozenset({"see", "feel", "hear", "notice", "get"})
_PERCEIVERS = frozenset({"you'll", "will", "should", "you", "can", "might", "may"})
"""``You'll see the nerve`` tells what comes, ``you want to see the nerve`` tells what to do."""
_CLAUSE = re.compile(
    r"[,;:.!?…(]|\s[–—-]\s|\s(?:because|so that|until|which|and then|so you|so we|before|while|if|but|and (?:we|you|"
    r"i)|when|as soon|"
    r"where|okay|otherwise|who|that is)\b",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\s]+")
_MOST_WORDS = 12


_STEP_ALONE = re.compile(rf"(?:step|stage)\s+(?:number\s+)?{_NUM}\W*", re.IGNORECASE)
_STEP_NUMBERED = re.compile(
    rf"\W*(?:(?:so|okay|right|now|and)\W+)*(?:step|stage)\s+(?:number\s+)?{_NUM}\b", re.IGNORECASE
)


_IN_ORDER = re.compile(r"\W*(?:first|firstly|next|then|after that|finally|lastly|last)\b", re.IGNORECASE)


def is_step_alone(heading: str) -> bool:
    """Tell whether a heading only counts, such as ``Step one``."""
    return bool(_STEP_ALONE.fullmatch(heading.strip()))


def numbers_a_step(text: str) -> bool:
    """Tell whether a sentence opens with the number of a step, such as ``Right, step two``."""
    return bool(_STEP_NUMBERED.match(text))


def tells_in_order(text: str) -> bool:
    """Tell whether a sentence begins with its place in the order of what is done: ``First we``, ``Then the``."""
    return bool(_IN_ORDER.match(without_lead(text)))


def without_lead(text: str) -> str:
    """Return ``text`` without the words that only open a sentence, such as ``Okay, so``."""
    lead = _LEAD.match(text)
    return text[lead.end() :] if lead else text


def begins_aftercare(text: str) -> bool:
    """Tell whether the sentence turns to what comes after the operation."""
    return bool(
        _AFTERWARDS.match(re.sub(r"^(?:then|now|finally|lastly),?\s+", "", without_lead(text), flags=re.IGNORECASE))
    )


def _bare(word: str) -> str:
    return word.lower().strip(",.;:!?…'\"()")


def instruction(text: str) -> str:
    """Return what the sentence tells to do, as an instruction in its own words; "" where it tells nothing to do."""
    return _from_verb(after_sign(text))


def after_sign(text: str) -> str:
    """Return what follows the sign of a step: ``the isthmus`` of ``step four, the isthmus``."""
    bare = without_lead(text)
    for pattern in (_NUMBERED, _HEAD_ORDINAL, _STRONG, _ANNOUNCES, _MEDIUM, _NOW, _WEAK):
        sign = pattern.match(bare)
        if sign and sign.end() < len(bare):
            bare = bare[sign.end() :]
            if pattern is _MEDIUM and sign.group().lower().startswith(("once", "when", "having", "with")):
                bare = _main_clause(bare)
            break
    return bare.lstrip(" ,:.…-–—")


def _main_clause(text: str) -> str:
    """Return what follows a clause such as ``once that is done``: after a comma, else from ``we`` or ``you`` on."""
    if "," in text:
        return text.partition(",")[2] or text
    subject = re.search(r"\b(?:we|you|i)\s+(?=\w)", text[3:], re.IGNORECASE)
    return text[3 + subject.start() :] if subject else text


def _from_verb(text: str) -> str:
    text = re.sub(r"\b(?:have|take) a (?:\w+ )?look\b", "look", text, count=1, flags=re.IGNORECASE)
    words = [(match.start(), _bare(match.group())) for match in _WORD.finditer(text)]
    for number, (start, word) in enumerate(words):
        if word in _BEFORE_VERB or not word:
            continue
        adverb = word.endswith("ly") and number + 1 < len(words)
        verb = words[number + 1][1] if adverb else word
        base = verb if verb in VERBS else ""
        gerund = stem(verb) if verb.endswith("ing") and not base else None
        if base in _PERCEIVES and number and words[number - 1][1] in _PERCEIVERS:
            return ""
        if base:
            return _clause(text[start:])
        if gerund:
            rest = text[words[number + 1][0] + len(verb) :] if adverb else text[start + len(verb) :]
            return _clause(f"{gerund}{rest}")
        return ""
    return ""


def _clause(text: str) -> str:
    """Return the first clause of ``text``, at most a dozen words, begun with a capital."""
    first = text.split(" ", 1)[0]
    end = _CLAUSE.search(text, len(first))
    words = (text[: end.start()] if end else text).split()
    is_cut = len(words) > _MOST_WORDS
    if is_cut:
        words = _shortened(words)
    words = [word for word in words if word]
    while is_cut and len(words) > 2 and words[-1].lower() in _NEVER_LAST:
        words.pop()
    shown = " ".join(words).rstrip(" ,;:.")
    return shown[:1].upper() + shown[1:]


_NEVER_LAST = word_set("and or the a an to of with in then you we as only just so")
_JOINTS = word_set("with in into through between by using along from and to at over")


def _shortened(words: list[str]) -> list[str]:
    """Cut a long clause before a word that joins the next phrase, so that no name is cut in two."""
    cut = next((number for number in range(_MOST_WORDS, 4, -1) if words[number].lower() in _JOINTS), _MOST_WORDS)
    return words[:cut]


def shortened_title(text: str) -> str:
    """Return a heading or line of an outline as a title: whole where it is short, else its first clause."""
    bare = " ".join(text.split()).rstrip(" .;:,")
    if len(bare.split()) <= _MOST_WORDS + 2:
        return bare[:1].upper() + bare[1:]
    return instruction(bare) or _clause(bare)

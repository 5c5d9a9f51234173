"""A spoken sentence as phrases: names, verbs with their form, the words between them. No grammar, no dictionary.

Whatever is no verb, preposition, pronoun or other small word belongs to a name. A word that is both a verb and a thing
(``clip``, ``drain``, ``tie``) is a verb only where its neighbours make it one: ``I clip it``, ``tie the vein``.
"""

import re
from typing import NamedTuple

from builder.draft.verbs import FORMS, NUMBER_WORDS, number_of_word, takes
from builder.grouping import word_set


class Phrase(NamedTuple):
    """A phrase from ``start`` to ``end``; ``word`` is its word as compared, of a verb the plain form.

    ``kind``: name, verb, particle, preposition, subject, pronoun, be, have, will, might, to, not, under, which, and,
    stop.
    ``form`` of a verb: base, third, ing, past, passive.
    """

    kind: str
    word: str
    start: int
    end: int
    form: str = ""


_WORD = re.compile(r"[^\W_]+(?:[-/.][^\W_]+)*(?:['’][^\W\d_]+)?|[,;:.!?()–—]")
_LISTS = {
    "subject": "i we you they he she who's let's",
    "determiner": f"the a an my your our his her its their every some any half a {' '.join(NUMBER_WORDS)}",
    "either": "this that these those both each all another others one",
    "it": "it them everything him me us",
    "be": "is are was were be being been am 're 'm",
    "have": "have has had having 've",
    "will": "will 'll must should shall do does did",
    "might": "may might can could would 'd cannot can't couldn't",
    "not": """not never no nobody none without nor don't doesn't didn't won't isn't aren't mustn't neither nothing
        hardly""",
    "under": """if unless when whenever once before after until till while as because since where wherever whether than
        though although whereas should-you how why what in-case""",
    "which": "which who whose whom",
    "and": "and or but then plus so & nor yet",
    "preposition": """in into inside within through on onto upon around round across over under with using from between
        along near below above behind beneath beside against by towards toward at off for of to out up down away back
        apart together past beyond underneath outside without via alongside among about""",
    "skipped": """now just again first next finally also still always usually already too here there straight right well
        quite please even ever more most almost otherwise instead afterwards once-more very really simply later
        twice only gently um er eh okay ok oh yes yeah alright perhaps maybe soon rather far often sometimes
        each-other myself yourself himself herself itself ourselves themselves""",
    "wants": "want wants like need needs going gonna try trying prefer love have got ought used tend happy start begin",
}
_KIND_OF = {word: kind for kind, words in reversed(_LISTS.items()) for word in words.split()}
PARTICLES = word_set("out off away in on down up back apart together through over across along round into for at")
THINGS_TOO = word_set("""
clip clamp drain tie stay stitch suture pack swab tape strap screw loop sling hook plaster splint cement bandage mark
link cut
seal drill saw knot hold look check count pass lift cover curette probe punch broach rasp anchor tack staple scrub clean
clear open free separate shut press wash feed lance trim harvest burn seat slot set lay call ring position place size
label return bite push pull milk core tunnel turn tilt tip drop buzz flush sweep wax peel strip slit split nick snip
scrape hitch stop draw crush dress gauze show pop view plate wrap graft tap head repair release control approach raise
reach stretch tag reduce close shell quilt test stick left slide slip park meet score pin tent measure catch nibble
sling
plug slot
""")
_NOT_ADVERBS = word_set("belly jelly family fly apply supply anomaly assembly poly ply early only lily")
_JUST_SAID = frozenset({"", "stop", "and", "under"})


def is_small(word: str) -> bool:
    """Tell whether a word is one of the small ones between names and verbs."""
    return word in _KIND_OF


class _Token(NamedTuple):
    low: str
    start: int
    end: int
    kind: str


def _tokens(text: str) -> list[_Token]:
    tokens: list[_Token] = []
    for match in _WORD.finditer(text):
        low, start, end = match.group().casefold().replace("’", "'"), match.start(), match.end()
        stem, quote, rest = low.partition("'")
        if quote and f"'{rest}" in ("'ll", "'ve", "'re", "'m", "'d"):
            middle = start + len(stem)
            tokens.append(_Token(stem, start, middle, _kind(stem)))
            tokens.append(_Token(f"'{rest}", middle, end, _kind(f"'{rest}")))
        elif (
            rest == "s"
            and stem not in ("let", "who")
            and (_KIND_OF.get(stem) or stem in ("there", "here") or _goes_on_with_is(text[end : end + 24]))
        ):
            tokens.append(_Token(stem, start, start + len(stem), _kind(stem)))
            tokens.append(_Token("is", start + len(stem), end, "be"))
        else:
            tokens.append(_Token(low, start, end, _kind(low)))
    return tokens


def _goes_on_with_is(after: str) -> bool:
    words = re.findall(r"[a-z]+|[,.;]", after.casefold())[:2]
    words = [word for word in words if not word.endswith("ly") and _KIND_OF.get(word) != "skipped"]
    if not words:
        return False
    if _kind(words[0]) not in ("word", "determiner"):
        return True
    is_past = FORMS.get(words[0], ("", ""))[1] in ("past", "both") and words[0] not in ("left", "set", "cut")
    return is_past or words[0] in ("being", "been", "not", "in", "out", "off", "up", "down", "on", "free", "open")


def _kind(low: str) -> str:
    if not low[0].isalnum() and low[0] != "'":
        return "stop"
    if kind := _KIND_OF.get(low):
        return kind
    if low[0].isdigit():
        return "determiner"
    return "skipped" if low.endswith("ly") and low not in _NOT_ADVERBS and low not in FORMS else "word"


_ORDINALS = "first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|last"
_COUNTS = rf"(?:\d{{1,2}}|[ivx]{{1,5}}|{'|'.join(NUMBER_WORDS)}|{_ORDINALS})"
_ANNOUNCES = re.compile(
    rf"\s*(?:[A-Z]:\s*)?(?:(?:and|so|now|then|okay|ok|"
    rf"right)[,.]?\s+)*(?:(?:the\s+)?(?:[a-z]+\s+){{0,2}}{_COUNTS}(?:\s+(?:thing|step|stage|part|job|one))?\s*"
    r"[,:.]|(?:[A-Z]|alpha|bravo|charlie|delta|echo|foxtrot|golf|hotel|india|juliet|kilo|lima|mike)\s*[,:.](?=\s)|"
    r"[A-Z]:)(?:\s*then,)?",
    re.IGNORECASE,
)


def announced(text: str) -> int:
    """Return how many characters at the beginning only count or name who speaks: ``B: Step four,``."""
    match = _ANNOUNCES.match(text)
    return match.end() if match and match.end() < len(text) - 3 else 0


def phrases(text: str) -> list[Phrase]:
    """Return the phrases of one sentence in order."""
    bare = announced(text)
    tokens = _tokens(" " * bare + text[bare:])
    said: list[Phrase] = []
    at = 0
    while at < len(tokens):
        at = _next(tokens, at, said)
    return said


def _next(tokens: list[_Token], at: int, said: list[Phrase]) -> int:
    """Add the phrase that begins at ``at``; return where the next one begins."""
    token, following = tokens[at], _after(tokens, at)
    if following.low == "to" and (token.kind == "wants" or token.low in _ONLY_NEAR):
        if token.kind != "wants":
            said.append(Phrase("under", token.low, token.start, token.end))
        return at + 2
    kind = _kind_here(token, tokens, at, said)
    if kind == "name":
        return _name(tokens, at, said)
    if kind == "verb":
        form = _verb_form(tokens, at, said)
        said.append(Phrase(kind, FORMS[token.low][0], token.start, token.end, form))
    elif kind != "skipped":
        said.append(Phrase(kind, token.low, token.start, token.end))
    return at + 1


_ONLY_NEAR = frozenset({"about", "ready", "able", "how"})
_BEFORE_THEN = frozenset({"be", "subject", "will", "have", "name"})
_LOOSE = frozenset({"", "stop", "and", "preposition", "subject", "under", "be"})


def _kind_here(token: _Token, tokens: list[_Token], at: int, said: list[Phrase]) -> str:
    following = _after(tokens, at)
    form, before = _verb_form(tokens, at, said), said[-1].kind if said else ""
    kind = {"be": "be", "": token.kind}.get(form, "verb")
    if kind in ("word", "determiner", "either", "wants"):
        kind = "name"
    elif kind == "it":
        kind = "pronoun"
    elif (token.low == "once" and following.kind == "preposition") or (token.low == "then" and before in _BEFORE_THEN):
        kind = "skipped"
    elif kind == "preposition" and token.low in PARTICLES and (following.kind in _LOOSE or _comes(following, before)):
        kind = "particle"
    elif token.low == "to" and FORMS.get(following.low, ("", ""))[1] in ("base", "both"):
        kind = "to"
    return kind


def _comes(following: _Token, before: str) -> bool:
    """Tell whether a particle begins its clause and what moves follows it: ``out comes the wire``."""
    return FORMS.get(following.low, ("", ""))[0] in ("come", "go") and before in ("", "stop", "and")


_NOTHING = _Token("", 0, 0, "")


def _after(tokens: list[_Token], at: int) -> _Token:
    return next((token for token in tokens[at + 1 :] if token.kind != "skipped"), _NOTHING)


_LONGEST_NAME = 40
"""In words; no name has as many."""


def _name(tokens: list[_Token], at: int, said: list[Phrase]) -> int:
    """Add the name that begins here, with its ``of``; a determiner alone is a pronoun."""
    end, last = at, -1
    while end < min(len(tokens), at + _LONGEST_NAME):
        token = tokens[end]
        is_noun_cut = token.low == "cut" and end > at and tokens[end - 1].low in _HOW_CUT
        is_part = token.kind in ("word", "wants") or (token.kind in ("determiner", "either") and last < 0)
        if is_part and end > at and _ends_name(token.low):
            break
        is_part = is_part or (token.low in _FORMS_OF_ROUND and end > at and last < 0 and _is_word(tokens, end + 1))
        if is_part and (end == at or is_noun_cut or not _verb_form(tokens, end, [*said, Phrase("name", "", 0, 0)])):
            last = end if token.kind in ("word", "wants") else last
            end += 1
        elif token.kind == "determiner" and end == at + 1 and tokens[at].kind != "word":
            end += 1
        elif token.low == "of" and end + 1 < len(tokens) and tokens[end + 1].kind in ("word", "determiner", "either"):
            end += 2 if tokens[end + 1].kind != "word" else 1
            last = max(last, 0)
        else:
            break
    first = tokens[at]
    if last < 0:
        kind = "which" if first.low == "that" and said and said[-1].kind == "name" else "pronoun"
        said.append(Phrase(kind, first.low, first.start, first.end))
        return at + 1
    said.append(Phrase("name", tokens[end - 1].low, first.start, tokens[end - 1].end))
    return end


_FORMS_OF_ROUND = frozenset(["round", "out", "under", "near", "outside", "inside", "in"])
_PEOPLE = word_set("""
assistant nurse anaesthetist surgeon registrar consultant midwife radiographer houseman colleague boss chief anaesthetic
theatre sister practitioner partner
""")


_HOW_CUT = word_set("""
curved lateral medial midline transverse vertical long short straight small oblique elliptical collar horizontal
crosswise
lengthwise second third other
""")
_SAYS = word_set("""
shows grows carry carries follows means wants makes takes looks lives says tells thinks knows comes goes gives keeps
leaves
needs helps stops bleeds stays runs meets hits crosses sits lies moves works lets turns falls feels seems becomes
happens
gets went came said did looks appears stands brings sees lasts costs hurts tears slides hangs slips wishes begins starts
ends bulges pops drops rises rolls rides matters fits shrinks swells wins dies flat straight high low open closed shut
""")
_THINGS_IN_ING = word_set("""
dressing packing ring string wing spring lining covering opening sling swelling stocking king casing tubing padding
""")


def _ends_name(low: str) -> bool:
    """Tell whether a word within a name says what it does or how much, and belongs to the name no more."""
    is_doing = low.endswith("ing") and len(low) > 5 and low not in _THINGS_IN_ING
    return is_doing or low in _SAYS or low == "like" or number_of_word(low) > 0


def _is_word(tokens: list[_Token], at: int) -> bool:
    return at < len(tokens) and tokens[at].kind == "word"


def _verb_form(tokens: list[_Token], at: int, said: list[Phrase]) -> str:
    """Return in which form the word is a verb here; "" where it is none, "be" for a ``get`` that makes a passive."""
    token, following = tokens[at], _after(tokens, at)
    lemma, form = FORMS.get(token.low, ("", ""))
    before = said[-1].kind if said else ""
    is_named = before == "preposition" and form != "ing"
    if is_named or token.kind not in ("word", "wants") or (at and tokens[at - 1].kind == "determiner"):
        return ""
    if lemma == "get" and FORMS.get(following.low, ("", ""))[1] in ("past", "both"):
        return "be"
    if lemma in ("come", "go") and form in ("base", "third") and before in ("name", "pronoun", "particle"):
        return "third"
    if form in ("base", "both") and _is_base(lemma, before, following):
        return "base"
    if form in ("past", "both"):
        return _past(said, before, following)
    is_told = form == "third" and _is_third(lemma, before, following, len(said), tokens[at - 1].low if at else "")
    return form if is_told or (form == "ing" and _is_gerund(before, said)) else ""


def _is_gerund(before: str, said: list[Phrase]) -> bool:
    if before == "preposition":
        return said[-1].word in ("by", "with", "of", "for", "from")
    return before in ("be", "subject", "to") or before in _JUST_SAID


_OBJECT_KINDS = frozenset({"determiner", "either", "it"})


def _is_third(lemma: str, before: str, following: _Token, said: int, previous: str) -> bool:
    is_subject = before in ("name", "pronoun", "subject", "which") or (before in ("and", "stop") and said > 2)
    is_done = lemma not in THINGS_TOO or following.kind in _OBJECT_KINDS or previous in _PEOPLE
    return is_subject and (is_done or before in ("subject", "pronoun", "which"))


def _is_base(lemma: str, before: str, following: _Token) -> bool:
    if before in ("subject", "to", "will", "might", "not"):
        return True
    if before not in ("", "stop", "and"):
        return False
    if lemma not in THINGS_TOO or (following.kind == "preposition" and takes(lemma, following.low)):
        return True
    is_bare = following.kind in ("", "stop", "and") and lemma in _BARE
    return is_bare or following.kind in _OBJECT_KINDS


_BARE = frozenset({"tie", "cut", "clamp", "clip", "wash", "staple", "stitch"})


def _past(said: list[Phrase], before: str, following: _Token) -> str:
    """Return whether a form of the past is a passive, tells what somebody did, or is an adjective ("")."""
    has_object = following.kind in _OBJECT_KINDS and following.low != "all"
    is_noun = before == "name" and said[-1].word in _HOW_CUT and following.kind == "stop"  # "a curved cut,"
    is_relative = any(phrase.kind == "which" for phrase in said[-4:])
    last = next((phrase.form for phrase in reversed(said) if phrase.kind == "verb"), "")
    form = ""
    if before == "be":
        form = "passive"
    elif before in ("subject", "have"):
        form = "past"
    elif before in ("name", "pronoun") and not is_noun:
        form = "past" if has_object or is_relative else "passive"
    elif before in ("", "stop", "and") and following.kind != "word":  # not "cut edge"
        form = "past" if has_object else last if before == "and" and last in ("passive", "past") else "passive"
    return form

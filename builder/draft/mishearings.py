"""Likely mishearings: words that mean little here and sound like a name of the catalogues, own and common.

Names, and the longer words of names, are found by the skeleton of their sound, one consonant more or less; so a talk is
compared with what is near, not with everything. Words of the trade and everyday words are suspected only where a name
goes on after them as its last word: ``auxiliary vein``.
"""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz
from rapidfuzz.distance import Levenshtein

from builder.draft.phrases import is_small
from builder.draft.sounds import likeness, one_less, skeleton, sound
from builder.draft.verbs import FORMS
from builder.facts.imperatives import VERBS
from builder.grouping import bare_letters
from builder.load.pronunciations import is_word

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)?")
_MOST_WORDS = 5
_FEWEST_LETTERS = 5
_FEWEST_CONSONANTS = 3
_STRANGE, _ALONE, _ODD, _PLAIN, _BESIDE_ITS_NOUN, _SMALL_AT_END = 0.72, 0.93, 0.78, 0.88, 0.6, 0.06
"""How likely words must be to be shown: with one that is no word, one word out of place, one of several, with none,
beside their noun."""
_SAME_SOUND = 0.93
"""How likely several must be that are few letters, or end with a small word, and are all in place: ``spine all``."""
_ROUGHLY = 0.62
_LONG = 8


@dataclass(frozen=True, slots=True)
class SoundsLike:
    """Words that were probably misheard: ``heard`` is in the text from ``start``, ``name`` is what may have been
    said."""

    heard: str
    name: str
    start: int
    end: int


class SoundIndex:
    """The names of the catalogues by their sound. ``plain``: makes a word comparable (small, singular)."""

    def __init__(self, names: Iterable[str], terms: Iterable[str] = ()) -> None:
        self._by_skeleton: dict[str, set[str]] = defaultdict(set)
        self._words: set[str] = set()
        self._by_last: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        names = list(dict.fromkeys(names))
        meant = {word for name in (*names, _SPOKEN_LIST) for word in _words(name)}
        self._words.update(meant, *map(_words, terms))
        for name in names:
            self._add(name, name)
            words = _words(name)
            for end in range(1, len(words)):
                for begin in range(max(0, end - 2), end):
                    rest = " ".join(words[begin:end])
                    for key in one_less(skeleton(sound(rest))):
                        self._by_last[words[end]][key].add(rest)
        for word in sorted(meant):
            if len(word) >= _FEWEST_LETTERS:
                self._add(word, word)

    def _add(self, name: str, shown: str) -> None:
        if len(bare_letters(name)) >= _FEWEST_LETTERS:
            for key in one_less(skeleton(sound(name))):
                self._by_skeleton[key].add(shown)

    def heard(self, text: str, taken: Iterable[tuple[int, int]]) -> list[SoundsLike]:
        """Return the likely mishearings in ``text``; ``taken`` are the places of names that are written right."""
        places = list(taken)
        words = [(match.start(), match.end(), match.group()) for match in _WORD.finditer(text)]
        scored = sorted(
            (scored for first in range(len(words)) for scored in self._from(text, words, first, places)),
            key=lambda scored: (-scored[0], scored[1].start),
        )
        chosen: list[SoundsLike] = []
        for _, heard in scored:
            if not any(heard.start < other.end and other.start < heard.end for other in chosen):
                chosen.append(heard)
        return sorted(chosen, key=lambda heard: heard.start)

    def _from(
        self, text: str, words: list[tuple[int, int, str]], first: int, taken: list[tuple[int, int]]
    ) -> Iterator[tuple[float, SoundsLike]]:
        for count in range(1, min(_MOST_WORDS, len(words) - first) + 1):
            window = words[first : first + count]
            start, end = window[0][0], window[-1][1]
            if re.search(r"[,;:.!?()\n]", text[start:end]):
                return
            said = [word.casefold().replace("’", "'") for _, _, word in window]
            if all(any(begin <= at < stop for begin, stop in taken) for at, _, _ in window):
                continue
            best = max(self._meant(said), default=None)
            if best is not None:
                yield best[0], SoundsLike(text[start:end], best[1], start, end)

    def _meant(self, said: list[str]) -> Iterator[tuple[float, str]]:
        """Yield what the words may mean, each with how likely it is."""
        if len(said) > 1:
            yield from self._beside_noun(said)
        odd = [word for word in said if self._is_odd(word)]
        joined = bare_letters("".join(said))
        if len(joined) < _FEWEST_LETTERS or all(map(is_small, said)):
            return
        is_strange = any(not is_word(word) for word in odd if len(word) > 2)
        if is_strange and len(said) > 1 and (joined in self._words or is_word(joined)):
            yield 1.2, joined
            return
        if not odd and len(said) == 1:
            return
        plain = _SAME_SOUND if len(joined) < _LONG or is_small(said[-1]) else _PLAIN
        least = _STRANGE if is_strange else _ALONE if len(said) == 1 else _ODD if odd else plain
        heard = sound(" ".join(said))
        near: set[str] = set()
        for form in one_less(skeleton(heard)):
            near |= self._by_skeleton.get(form, set())
        for name in near:
            score = 0.0 if _is_in(name, said) or _differs_in_a_word(said, name) else self._score(heard, joined, name)
            if score >= least + (_SMALL_AT_END if odd and (is_small(said[-1]) or is_small(said[0])) else 0):
                yield score, name

    def _score(self, heard: str, joined: str, name: str) -> float:
        other = sound(name)
        if Levenshtein.normalized_similarity(heard, other, score_cutoff=_ROUGHLY) < _ROUGHLY:
            return 0.0
        weight = sum(phone != "a" for phone in other)
        if weight < _FEWEST_CONSONANTS or (" " in name and bare_letters(name) == joined):
            return 0.0
        return (
            0.6 * likeness(heard, other)
            + 0.4 * fuzz.ratio(joined, bare_letters(name)) / 100
            + 0.01 * min(weight, 8)
            - 0.05
        )

    def _beside_noun(self, said: list[str]) -> Iterator[tuple[float, str]]:
        """Yield names whose last word was heard right: ``frantic nerve``."""
        last = _singular(said[-1])
        rest = said[:-1]
        if last not in self._by_last or is_small(last) or len(last) < 3 or all(word in self._words for word in rest):
            return
        if (
            is_small(rest[0])
            or any(word in _DESCRIBES for word in rest)
            or all(not self._is_odd(word) for word in rest)
        ):
            return
        heard, joined = sound(" ".join(rest)), bare_letters("".join(rest))
        for form in one_less(skeleton(heard)):
            for other in self._by_last[last].get(form, ()):
                score = 0.0 if _is_in(other, rest) else self._score(heard, joined, other)
                if score >= _BESIDE_ITS_NOUN and joined != bare_letters(other):
                    yield score + 0.15, f"{other} {last}"

    def _is_odd(self, word: str) -> bool:
        """Tell whether a word is of no use here: neither of the trade nor one that everybody says of what they do."""
        bare = _singular(word)
        return not (
            is_small(word)
            or word in FORMS
            or bare in self._words
            or word in self._words
            or word in VERBS
            or word in _DESCRIBES
        )


# Words of the trade that name neither a structure nor an item (common practice).
_SPOKEN_LIST = """
histology cytology microscopy culture lithotomy supine prone lateral haemostasis haemorrhage haematoma seroma empyema
pneumothorax haemothorax effusion ascites anastomosis fistula sinus stricture stenosis granulation oedema infarction
ischaemia gangrene necrosis perforation obstruction volvulus intussusception hernia hydrocele varicocele lipoma adenoma
carcinoma melanoma metastasis laparotomy laparoscopy thoracotomy sternotomy craniotomy tracheostomy colostomy ileostomy
gastrostomy jejunostomy nephrostomy hysterectomy appendicectomy cholecystectomy hemicolectomy colectomy gastrectomy
nephrectomy thyroidectomy parotidectomy mastectomy splenectomy oesophagectomy lobectomy pneumonectomy hepatectomy
pancreatectomy prostatectomy orchidectomy orchidopexy vasectomy circumcision herniotomy herniorrhaphy arthroplasty
arthrodesis osteotomy amputation embolectomy endarterectomy bypass angiogram angiography arteriotomy venotomy
enterotomy choledochotomy pyeloplasty pyloroplasty fundoplication vagotomy fasciotomy sphincterotomy curettage
conisation salpingectomy oophorectomy myomectomy caesarean episiotomy subcuticular subcutaneous intradermal
interrupted continuous absorbable monofilament radiolucent bipolar monopolar anaesthesia anaesthetic epidural spinal
intercostal postoperative preoperative perioperative prophylaxis thromboprophylaxis antibiotic anticoagulant
miscarriage retained products placenta trimester dissection retraction ligation transfixion cauterise infiltrate
mobilise anastomose skeletonise haemorrhoid abscess fissure pilonidal induration crepitus perfusion peristalsis thrill
bruit capsule parenchyma mesothelium epithelium endometrium myometrium intertrochanteric intramedullary periosteal
"""
_DESCRIBES_LIST = """
big small long short deep main first second third last other same good bad new old left right upper lower inner outer
top
bottom front back whole little large wide thin thick hard soft easy early late open closed dry wet clean free loose
tight
high low straight flat round sharp blunt warm cold young fat white red blue black yellow green pink brown dark
"""
_DESCRIBES = frozenset(_DESCRIBES_LIST.split())


def _differs_in_a_word(said: list[str], name: str) -> bool:
    """Tell whether what is not the same in both is heard as another word: a ligament of the thyroid, of the ovary."""
    other = _words(name)
    same = next((at for at, pair in enumerate(zip(said, other, strict=False)) if pair[0] != pair[1]), 0)
    if not same:
        return False
    heard, meant = sound(" ".join(said[same:])), sound(" ".join(other[same:]))
    return Levenshtein.normalized_similarity(heard, meant) < _ROUGHLY


def _is_in(name: str, said: list[str]) -> bool:
    """Tell whether the words say the name rightly, and more: ``a tourniquet``."""
    bare = [_singular(word) for word in said]
    if " " in name:
        return set(_words(name)) <= set(bare)
    return any(word[: max(5, len(name) - 3)] == name[: max(5, len(name) - 3)] for word in bare)


@lru_cache(maxsize=20_000)
def _words(name: str) -> tuple[str, ...]:
    return tuple(_singular(word.casefold().replace("’", "'")) for word in _WORD.findall(name))


def _singular(word: str) -> str:
    bare = word.removesuffix("'s").replace("'", "")
    return bare[:-1] if len(bare) > 4 and bare.endswith("s") and not bare.endswith(("ss", "us", "is")) else bare

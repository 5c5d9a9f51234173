"""What a spoken sentence says is done: verbs with their objects, what they are done with, and whether they are plain.

``I tie it and cut``, ``the vein is tied, then cut``, ``clip on``, ``the drain goes into the bed``, ``skin with nylon``
all say so. What is denied, supposed, left to others or only a condition is read as well and marked, so that it is no
action and takes no object from what is.
"""

from collections.abc import Sequence
from typing import NamedTuple

from builder.draft.phrases import Phrase, phrases
from builder.draft.verbs import meaning_of, takes
from builder.grouping import word_set


class Doing(NamedTuple):
    """One thing done: ``lemma`` with its ``particle`` mean ``meaning``; ``objects`` are phrases (names or pronouns).

    ``rest`` are pairs of a preposition and a name. ``mark``: "" plainly done, "denied", "supposed" or "under" a
    condition or time. ``way``: "verb", "moved" (``drain in``, ``the drain comes out``), "named" (``a stitch to the
    skin``) or "alone" (a name and nothing else).
    """

    meaning: str
    lemma: str
    particle: str
    objects: tuple[Phrase, ...]
    rest: tuple[tuple[str, Phrase], ...]
    mark: str
    way: str
    start: int
    end: int


_OUT = frozenset({"out", "off", "away"})
_IN = frozenset({"in", "on", "into", "onto", "across", "around", "round", "through", "over", "under", "inside"})
_MOVES = word_set("go come slide slip drop sit pass run rest lie hang get")
_OTHERS = word_set("""
some people others other colleagues boss bosses chief surgeons units departments unit places folk teachers colleague
many
somebody someone anyone nobody friends consultants seniors
""")
_CUTS = frozenset({"cut", "incision"})
_UNTIL = frozenset({"until", "till"})
_OBJECT_KINDS = frozenset({"name", "pronoun"})


_Names = tuple[Phrase, ...]
_Rest = tuple[tuple[str, Phrase], ...]


class _Reader:
    """Goes through the phrases of one sentence; one instance a sentence."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.said = phrases(text)
        self.doings: list[Doing] = []
        self.under = self.mark = ""
        self.is_conditional = False
        self.begin = 0

    def read(self) -> list[Doing]:
        at = 0
        while at < len(self.said):
            at = self._at(at)
        self._close(len(self.said))
        return [doing for doing in self.doings if doing.meaning or doing.way != "verb"]

    def _at(self, at: int) -> int:
        phrase = self.said[at]
        if phrase.kind == "verb":
            return self._verb(at)
        if phrase.kind in ("stop", "and", "under"):
            self._close(at)
            self._begin(at)
        elif phrase.kind == "which":
            self.under = self.under or "which"
        elif phrase.kind == "not":
            self.mark = "denied"
        elif phrase.kind == "might" or (phrase.kind == "name" and phrase.word in _OTHERS and at == self.begin):
            self.mark = self.mark or "supposed"
        return at + 1

    def _begin(self, at: int) -> None:
        """Begin a clause after a stop, an ``and`` or a word that makes it depend on another."""
        phrase, following = self.said[at], self._get(at + 1)
        self.begin = at + 1
        if phrase.kind == "under":
            self.under = phrase.word
        elif phrase.kind == "stop":
            self.is_conditional = (self.is_conditional or self.under == "if") and phrase.word not in ";.:"
            self.under = self.mark = ""
        elif following is not None and following.kind in ("subject", "name", "pronoun"):
            self.mark = ""
            self.under = "" if following.kind == "subject" else self.under
        elif phrase.word in ("but", "so", "then"):
            self.mark = ""

    def _marked(self, lemma: str = "") -> str:
        if self.mark:
            return self.mark
        if self.under in _UNTIL and lemma in ("see", "find", "identify", "feel", "reach", "meet"):
            return ""
        if self.under in ("which", "while", "as", "because", "since"):
            return "aside"
        return "under" if self.under else "supposed" if self.is_conditional else ""

    def _verb(self, at: int) -> int:
        verb = self.said[at]
        if verb.form == "passive":
            return self._passive(at)
        after = at + 1
        particle = ""
        subject = self._subject(at)
        following = self._get(after)
        before = self._get(at - 1) if at > self.begin else None
        if verb.word in _MOVES and before is not None and before.word in ("out", "off", "in", "on", "away"):
            names, after = self._objects(after)  # "out come the packs"
            self._add_moved(before.word, names, (), (verb.start, self.said[after - 1].end))
            return after
        if verb.word in _MOVES and subject and following is not None and following.kind in ("particle", "preposition"):
            return self._moved(verb, subject, after)
        if following is not None and following.kind in ("particle", "preposition") and takes(verb.word, following.word):
            particle, after = following.word, after + 1
        elif following is not None and following.kind == "particle":
            after += 1
            particle = following.word
        objects, after = self._objects(after)
        following = self._get(after)
        if (
            objects
            and not particle
            and following is not None
            and following.kind in ("particle", "preposition")
            and takes(verb.word, following.word)
            and following.word in (*_OUT, "across", "together", "through", "down", "up")
        ):
            particle, after = following.word, after + 1
        rest, after = self._rest(after)
        objects = objects or self._told_of(at)
        mark = self._marked(verb.word)
        if verb.word in ("get", "take") and objects and subject and not particle:  # "each branch gets a tie"
            target = tuple(("on", name) for name in subject)
            self.doings.append(
                Doing("", verb.word, "on", objects, target, mark, "named", verb.start, self.said[after - 1].end)
            )
            return after
        self._add(verb, particle, objects, rest, self.said[after - 1].end)
        return after

    def _told_of(self, at: int) -> _Names:
        """Return the name of which ``which I open`` tells, and let it be plainly told."""
        if at < 3 or self.said[at - 1].kind != "subject" or self.said[at - 2].kind != "which":
            return ()
        back = at - 4 if self.said[at - 3].kind == "stop" else at - 3
        self.under = "" if self.under == "which" else self.under
        return (self.said[back],) if back >= 0 and self.said[back].kind == "name" else ()

    def _passive(self, at: int) -> int:
        verb = self.said[at]
        objects = self._subject(at)
        after, particle = at + 1, ""
        following = self._get(after)
        if (
            following is not None
            and following.kind in ("particle", "preposition")
            and (takes(verb.word, following.word) or following.kind == "particle")
        ):
            particle, after = following.word, after + 1
        rest, after = self._rest(after)
        if not objects and self.doings and self.doings[-1].way == "verb":
            objects = self.doings[-1].objects  # "is clamped, divided and tied"
        if not objects and not self.doings:
            return after
        self._add(verb, particle, objects, rest, self.said[after - 1].end)
        return after

    def _moved(self, verb: Phrase, subject: tuple[Phrase, ...], after: int) -> int:
        """Read ``the drain goes into the bed``: what is moved is the subject."""
        following = self._get(after)
        if following is None or following.kind not in ("particle", "preposition"):
            return after
        rest, end = self._rest(after)
        if following.kind == "particle":
            rest, end = self._rest(after + 1)
        self._add_moved(following.word, subject, rest, (verb.start, self.said[end - 1].end))
        return max(end, after + 1)

    def _add_moved(self, word: str, names: _Names, rest: _Rest, span: tuple[int, int]) -> None:
        is_sent = word in ("off", "away") and any(joint in ("to", "for") for joint, _ in rest)
        is_in = word in _IN or word in ("to", "between", "behind")
        meaning = "send" if is_sent else "remove" if word in _OUT else "place" if is_in else ""
        if meaning:
            self.doings.append(Doing(meaning, meaning, word, names, rest, self._marked(), "moved", *span))

    def _add(self, verb: Phrase, particle: str, names: _Names, rest: _Rest, end: int) -> None:
        meaning = meaning_of(verb.word, particle)
        if not meaning and particle in _OUT and verb.word in _MOVES:
            meaning = "remove"
        mark = self._marked(verb.word)
        self.doings.append(Doing(meaning, verb.word, particle, names, rest, mark, "verb", verb.start, end))

    def _close(self, end: int) -> None:
        """Read a part without a verb: ``clip on``, ``a stitch to the skin``, ``skin with nylon``."""
        part = self.said[self.begin : end]
        if not part or any(phrase.kind == "verb" for phrase in part):
            return
        mark = self._marked()
        kinds = [phrase.kind for phrase in part]
        if (kinds[0] == "particle" and len(part) > 1) or (
            kinds[0] == "preposition" and part[0].word in ("in", "out") and len(part) > 2 and part[1].word == "with"
        ):
            names = tuple(phrase for phrase in part[1:] if phrase.kind == "name")[:1]
            if names and part[0].word in (*_OUT, "in", "on"):
                self._add_moved(part[0].word, names, (), (part[0].start, part[-1].end))
            return
        head = next((at for at, kind in enumerate(kinds) if kind in _OBJECT_KINDS), None)
        if head is None or any(kind in ("subject", "have", "will") for kind in kinds):
            return
        if head > 0 and kinds[head - 1] == "preposition":
            return
        names = (*self._joined_before(self.begin + head), part[head])
        after = head + 1
        while after < len(part) and part[after].kind in ("be", "not"):
            after += 1
        if after < len(part) and part[after].kind == "particle":
            rest, _ = self._rest(self.begin + after + 1)
            self._add_moved(part[after].word, names, rest, (part[head].start, part[-1].end))
        elif after < len(part) and part[after].kind == "preposition":
            rest, _ = self._rest(self.begin + after)
            self.doings.append(
                Doing("", "", part[after].word, names, rest, mark, "named", part[head].start, part[-1].end)
            )
        elif part[head].kind == "name" and (len(part) == 1 or part[head].word in _CUTS):
            self.doings.append(Doing("", "", "", names[-1:], (), mark, "alone", part[head].start, part[head].end))

    def _joined_before(self, at: int) -> tuple[Phrase, ...]:
        """Return the names joined to the one at ``at`` by commas and ``and`` before it."""
        names: list[Phrase] = []
        if at < 2 or self.said[at - 1].word not in ("and", "&", "or"):
            return ()
        while at >= 2 and self.said[at - 2].kind == "name" and self.said[at - 1].word in ("and", "&", "or", ","):
            if at >= 3 and self.said[at - 3].kind in ("verb", "preposition", "particle"):
                break
            at -= 2
            names.insert(0, self.said[at])
        return tuple(names)

    def _get(self, at: int) -> Phrase | None:
        return self.said[at] if at < len(self.said) else None

    def _objects(self, at: int) -> tuple[tuple[Phrase, ...], int]:
        first = self._get(at)
        if first is None or first.kind not in _OBJECT_KINDS:
            return (), at
        objects, at = [first], at + 1
        while at + 1 < len(self.said) and first.kind == "name":
            joint, name = self.said[at], self.said[at + 1]
            more = 1
            if joint.word == "," and name.kind == "and" and at + 2 < len(self.said):
                name, more = self.said[at + 2], 2
            if joint.word not in ("and", ",", "&", "or") or name.kind != "name" or self._has_predicate(at + more + 1):
                break
            objects.append(name)
            at += more + 1
        return tuple(objects), at

    def _has_predicate(self, at: int) -> bool:
        """Tell whether the name before ``at`` begins a clause of its own: ``..., the vein is tied``."""
        following = self._get(at)
        if following is None:
            return False
        if following.kind in ("be", "have", "will", "might", "verb", "which", "particle"):
            return True
        return following.kind == "and" and self._has_predicate(at + 2) if at + 2 < len(self.said) else False

    def _rest(self, at: int) -> tuple[tuple[tuple[str, Phrase], ...], int]:
        rest: list[tuple[str, Phrase]] = []
        while at + 1 < len(self.said) and self.said[at].kind == "preposition":
            if self.said[at + 1].kind not in _OBJECT_KINDS:
                at += 1
                continue
            rest.append((self.said[at].word, self.said[at + 1]))
            at += 2
        return tuple(rest), at

    def _subject(self, at: int) -> tuple[Phrase, ...]:
        """Return the names that are the subject of the verb at ``at``."""
        back = at - 1
        while back >= self.begin and self.said[back].kind in ("be", "have", "will", "might", "not", "to"):
            back -= 1
        while (
            back >= self.begin + 1
            and self.said[back].kind in _OBJECT_KINDS
            and self.said[back - 1].kind == "preposition"
        ):
            back -= 2
        while back >= self.begin and self.said[back].kind in ("which", "stop"):
            back -= 1
        if back < 0 or self.said[back].kind not in _OBJECT_KINDS:
            return ()
        return (*self._joined_before(back), self.said[back])


def doings(text: str) -> Sequence[Doing]:
    """Return what the sentence says is done, in the order in which it is said."""
    return _Reader(text).read()

"""Where each sentence of a source went in a proposal: found in the pages themselves, so that no page has to tell."""

import re
from collections.abc import Iterable, Iterator

from builder.draft.proposal import Proposal, ProposedStep
from builder.draft.sentence_roles import DOES as SAYS_DONE
from builder.draft.sentences import Sentence, sentences_of
from builder.draft.told_file import DOES, PROSE, TITLE, Told, ToldSentence
from builder.load.pronunciations import is_word
from builder.load.told.draft_source import Source
from builder.model.catalogue import plain_name
from builder.model.common_catalogue import may_be

_STEP_KEYS = ("title", "cue", "if_not", "why")
_CAUTION_KEYS = ("hazard", "consequence", "avoid", "if_it_happens")
_MOSTLY = 0.6

_Place = tuple[str, str, str]
"""A page below the procedure's folder, a key of it, and the words that stand there."""


def told_of(proposal: Proposal, source: Source, sentences: Iterable[Sentence]) -> Told:
    """Return what was told: ``sentences`` in the order of ``source``, each with its place in ``proposal``."""
    places = list(_places(proposal))
    in_source = (sentence for passage in source.passages for sentence in sentences_of(passage))
    turn: dict[tuple[str, str], int] = {}
    for number, sentence in enumerate(in_source):
        turn.setdefault((sentence.at, sentence.text), number)
        turn.setdefault((sentence.at, ""), number)
    ordered = sorted(sentences, key=lambda one: turn.get((one.at, one.text), turn.get((one.at, ""), len(turn))))
    told, last = [], 0
    for sentence in ordered:
        fitting = [number for number, place in enumerate(places) if _stands_in(sentence.text, place[2])]
        # What is said twice went on from where the sentence before it went.
        number = min(fitting, key=lambda number: (places[number][0] != places[last][0], number < last), default=-1)
        page, role, _ = places[number] if number >= 0 else ("", "", "")
        last = number if number >= 0 else last
        is_done = role == PROSE and page.startswith("steps/") and sentence.role in SAYS_DONE
        told.append(ToldSentence(sentence.heard_at or sentence.at, sentence.text, page, DOES if is_done else role))
    misheard = {
        heard.words: heard.name
        for heard in proposal.misheard
        if heard.words.casefold() != heard.name and not makes_sense(heard.words)
    }
    named = {entry.name for entry in proposal.entries}
    unknown = [name.words for name in proposal.not_understood if name.words not in named | misheard.keys()]
    unknown += [entry.name for entry in proposal.entries if plain_name(entry.name) in may_be()]
    return Told(tuple(told), misheard, tuple(unknown))


_CLAUSE = re.compile(
    r"(?:i|you|he|she|it|we|they|there|that|this|here|what|who)['’](?:m|s|re|ll|ve|d)\b", re.IGNORECASE
)
_PHRASAL = re.compile(r"(?P<verb>[a-z]{3,}) (?:on|off|out|up|down|away|over|back|through)", re.IGNORECASE)
_OF_ONE = re.compile(r"(?:a|an|his|in|on) (?P<word>[a-z]+)", re.IGNORECASE)


def makes_sense(heard: str) -> bool:
    """Tell whether words say something plain as they were heard, so that nobody is asked about them: ``there's a``,
    ``carries on``, ``a patient``, where each word is one of the language."""
    one = _PHRASAL.fullmatch(heard) or _OF_ONE.fullmatch(heard)
    return bool(_CLAUSE.match(heard)) or (one is not None and is_word(one[1].casefold()))


def _places(proposal: Proposal) -> Iterator[_Place]:
    """Yield every place in which a sentence may stand, the pages in their order."""
    for check in proposal.before:
        yield "procedure.md", "before_you_start", check
    yield "procedure.md", PROSE, " ".join(proposal.body)
    for step in _steps(proposal):
        yield f"steps/{step.id}.md", PROSE, " ".join(step.body)
        yield from ((f"steps/{step.id}.md", key, getattr(step, key)) for key in _STEP_KEYS)
    for caution in proposal.cautions:
        yield from ((f"cautions/{caution.id}.md", key, getattr(caution, key)) for key in _CAUTION_KEYS)
        yield f"cautions/{caution.id}.md", PROSE, " ".join(caution.body)
    for item in proposal.aftercare:
        yield f"aftercare/{item.id}.md", PROSE, " ".join(item.body)
        yield f"aftercare/{item.id}.md", TITLE, item.title


def _steps(proposal: Proposal) -> Iterator[ProposedStep]:
    for step in proposal.steps:
        yield step
        yield from (other for parting in proposal.partings if parting.after == step.id for other in parting.steps)


def _stands_in(text: str, words: str) -> bool:
    """Tell whether a sentence is part of ``words``, or is what they are but for the label before it."""
    return text in words or (len(words) > _MOSTLY * len(text) and words in text)

"""Talks taken apart: the role of each sentence says where a step begins, what comes before and what afterwards."""

import re
from dataclasses import replace

from builder.draft.sentence_roles import DOES, SaidRole, roles_of
from builder.draft.sentences import Sentence, sentences_of
from builder.draft.source_parts import Role, Segment, SourceParts
from builder.draft.speech import numbers_a_step, tells_in_order
from builder.load.told.draft_source import Passage, PassageKind, Source

_UNSAID = frozenset({SaidRole.OPENING, SaidRole.ASIDE})
_FIRST_PARTS = {SaidRole.DANGER: Role.CAUTIONS, SaidRole.WHY: Role.WHY}
_NEEDED = re.compile(
    r"\b(?:you(?:'ll| will)? (?:also )?need|we (?:also )?need|on (?:the|your|my) (?:tray|trolley|table)|equipment|"
    r"the kit)\b",
    re.IGNORECASE,
)


def prose_as_talk(source: Source) -> Source | None:
    """Return written prose, ``First we cut ... Then we``, as if it were spoken; None where nothing is told in order."""
    prose = [passage for passage in source.passages if passage.kind is PassageKind.TEXT]
    if not any(tells_in_order(sentence.text) for passage in prose for sentence in sentences_of(passage)):
        return None
    passages = (
        replace(passage, kind=PassageKind.SPEECH) if passage.kind is PassageKind.TEXT else passage
        for passage in source.passages
    )
    return replace(source, passages=tuple(passages))


def lay_talk(numbered: list[tuple[int, Passage]], layout: SourceParts) -> None:
    """Put each sentence of a talk where it belongs; what is not speech becomes notes."""
    sentences: list[Sentence] = []
    for _, passage in numbered:
        if passage.kind is PassageKind.SPEECH:
            sentences.extend(sentences_of(passage))
        else:
            layout.notes.extend(sentences_of(passage))
    texts = [sentence.text for sentence in sentences]
    roles = roles_of(texts, announced={at for at, text in enumerate(texts) if numbers_a_step(text)})
    is_after = False
    for said, role in zip(sentences, roles, strict=True):
        sentence = replace(said, role=role)
        is_after = role is SaidRole.AFTERWARDS or (is_after and role not in DOES)
        if role in _UNSAID:
            layout.notes.append(sentence)
        elif is_after:
            layout.parts[Role.AFTERCARE].append(sentence)
        elif role is SaidRole.BEGIN or (role in DOES and not layout.steps):
            layout.steps.append(Segment("", sentence.at, sentence.heard_at, [sentence]))
        elif role is SaidRole.BEFORE or not layout.steps:
            needed = Role.KIT if _NEEDED.search(sentence.text) else Role.BEFORE
            layout.put(_FIRST_PARTS.get(role, needed), [sentence])
        else:
            layout.steps[-1].sentences.append(sentence)

"""Puts a proposal together: the parts of the source, and what each of its sentences says."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from builder.draft.about import abbreviations, about
from builder.draft.actions import MIDDLE, PARTS, TalkReader
from builder.draft.aftercare import aftercare_of, kit_of, staying, used
from builder.draft.heard_names import CatalogueNames, looks_like_a_name, names_of
from builder.draft.new_names import kind_of, proposed_entries
from builder.draft.parting_ways import leaves_open, way_of
from builder.draft.proposal import (
    ListParagraph,
    Misheard,
    NotUnderstood,
    Proposal,
    ProposedAction,
    ProposedCaution,
    ProposedParting,
    ProposedStep,
    UnplacedSentence,
    merged,
)
from builder.draft.said import CRITICAL, comes_of_it, minutes_in, says_what_to_avoid, signal_of
from builder.draft.sections import give_roles, lay_text
from builder.draft.sentence_roles import DOES, SaidRole
from builder.draft.sentences import Sentence
from builder.draft.source_parts import Role, Segment, SourceParts
from builder.draft.speech import after_sign, shortened_title
from builder.draft.talks import lay_talk, prose_as_talk
from builder.draft.titles import MOST_READ, instruction_of, step_title
from builder.draft.told_places import told_of
from builder.edit.ids import Ids, slug
from builder.facts.anatomy import MEANT_TO_STAY
from builder.facts.identities import identities
from builder.findings.register import refuse
from builder.grouping import bare_letters
from builder.load.told.draft_source import PassageKind, RawPicture, Source
from builder.model.fields import NOT_SAID
from builder.model.library import Library
from builder.place import Place

MOST_STEPS = 200
_KEYS = {SaidRole.GO_ON: "cue", SaidRole.IF_NOT: "if_not", SaidRole.WHY: "why"}
_MOST_WORDS_OF_A_CHECK = 25


def propose(title: str, source: Source, library: Library) -> Proposal:
    """Return what a draft of ``title`` from ``source`` would hold, for the department ``library``.

    Equal input gives an equal proposal. Raises Refused where no step is found.
    """
    layout = _laid_out(source)
    if not layout.steps and (spoken := prose_as_talk(source)):
        source, layout = spoken, _laid_out(spoken)
    if not layout.steps:
        message = "no step was found: no line is numbered, and no sentence tells what is done first, next or then"
        hint = "Give each step a number and a line of its own, and draft again."
        raise refuse("no-step-found", Place(source.name), message, hint)
    if len(layout.steps) > MOST_STEPS:
        message = f"{len(layout.steps)} steps were found; the limit for one procedure is {MOST_STEPS}"
        hint = "Keep only the part that describes one procedure."
        raise refuse("source-too-large", Place(source.name), message, hint)
    if not _is_talk(source):
        give_roles(layout)
    return _Proposer(title, source, layout, library).proposal()


def _is_talk(source: Source) -> bool:
    return any(passage.kind is PassageKind.SPEECH for passage in source.passages)


def _laid_out(source: Source) -> SourceParts:
    """Take ``source`` apart. Every sentence of it is in exactly one place of what is returned."""
    layout = SourceParts()
    (lay_talk if _is_talk(source) else lay_text)(list(enumerate(source.passages)), layout)
    return layout


def _unplaced(sentences: Iterable[Sentence]) -> Iterator[UnplacedSentence]:
    return (UnplacedSentence(sentence.text, sentence.at) for sentence in sentences)


@dataclass
class _Proposer:
    """Works through one source; one instance a draft."""

    title: str
    source: Source
    layout: SourceParts
    library: Library
    cautions: list[ProposedCaution] = field(default_factory=list)
    partings: list[ProposedParting] = field(default_factory=list)
    preferred: set[str] = field(default_factory=set)
    strange: list[NotUnderstood] = field(default_factory=list)
    misheard: dict[tuple[str, str], Misheard] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.names = names_of(self.library)
        self.reader = TalkReader(self.names, self.title)
        self.is_talk = _is_talk(self.source)
        self.spoken = {
            word for passage in self.source.passages for word in re.findall(r"[a-z]+", passage.text.casefold())
        }
        self.step_ids, self.caution_ids = Ids(), Ids()

    def proposal(self) -> Proposal:
        layout = self.layout
        steps = tuple(
            self._step(segment, number * PARTS // len(layout.steps)) for number, segment in enumerate(layout.steps)
        )
        steps = self._with_pictures(steps, layout)
        aftercare = aftercare_of(layout.parts[Role.AFTERCARE], self.names)
        steps = staying(steps, {item.concerns for item in aftercare if item.concerns}, self._is_meant_to_stay)
        self._loose_cautions(layout.parts[Role.CAUTIONS])
        kit_lines = layout.parts[Role.KIT]
        for sentence in (*kit_lines, *layout.parts[Role.AFTERCARE], *layout.parts[Role.BEFORE]):
            self._look_at(sentence)
        kit, unplaced = kit_of(kit_lines, self.names)
        self.strange.extend(unplaced)
        own_steps = [step for parting in self.partings for step in parting.steps]
        actions = [action for step in (*steps, *own_steps) for action in step.actions]
        notes = list(layout.notes)
        before = [check for check in layout.parts[Role.BEFORE] if len(check.text.split()) <= _MOST_WORDS_OF_A_CHECK]
        notes += [long for long in layout.parts[Role.BEFORE] if long not in before]
        read_for = list(_unplaced(kit_lines))
        if layout.headings:
            read_for.append(UnplacedSentence("; ".join(line.text for line in layout.headings), "the headings"))
        told = about(self.source, self.title)
        notes += [line for line in layout.parts[Role.ABOUT] if line.text.strip(" .") not in told.values()]
        proposal = Proposal(
            id=slug(self.title),
            title=self.title,
            form=self.source.form,
            specialty=told.get("specialty") or NOT_SAID,
            owner=(told.get("owner") or NOT_SAID, told.get("role of the owner") or NOT_SAID),
            side=told.get("side", ""),
            setting=told.get("setting", ""),
            steps=steps,
            partings=tuple(self.partings),
            cautions=tuple(self.cautions),
            aftercare=aftercare,
            kit=used(kit, actions),
            before=tuple(check.text for check in before),
            body=tuple(_paragraphs(layout.parts[Role.WHY])),
            notes=tuple(_unplaced(notes)),
            read_for=tuple(read_for),
            not_understood=tuple(_counted(self.strange, self.names)),
            misheard=tuple(self.misheard.values()),
            entries=proposed_entries(actions, self.library),
            abbreviations=abbreviations(self.source, self.library),
            left_out=self.source.left_out,
            persons=tuple(dict.fromkeys(_persons(self.source))),
            is_markdown=self.source.is_markdown,
        )
        return replace(proposal, told=told_of(proposal, self.source, layout.every_sentence()))

    def _is_meant_to_stay(self, name: str) -> bool:
        item = self.library.items.find(name)
        kind = item.kind if item else (kind_of(name.rpartition(" ")[2]) or ("", ""))[1]
        return kind in MEANT_TO_STAY

    def _step(self, segment: Segment, part: int) -> ProposedStep:
        title, sentences = _titled(segment, TalkReader(self.names, self.title), part, self.spoken)
        id = self.step_ids.new(title)
        step, body = ProposedStep(id, title, segment.at, segment.heard_at), list[str]()
        actions: list[ProposedAction] = []
        # The title is read for what is done, unless it only repeats a sentence of the body.
        if segment.head and not any(title.casefold() in sentence.text.casefold() for sentence in sentences):
            actions.extend(self._look_at(Sentence(title, segment.at, segment.heard_at), part))
        warned = ""
        for sentence in sentences:
            done = self._look_at(sentence, part)
            surely = sentence.role is not SaidRole.BEGIN and leaves_open(sentence.text)
            if (surely or sentence.role is SaidRole.ALTERNATIVE) and self._parted(id, sentence):
                continue
            warned = self._warned(sentence, id, warned)
            if warned:
                continue
            if sentence.role in DOES:
                actions.extend(done)
            key = _KEYS.get(sentence.role, "") if sentence.role else ""
            if key and not getattr(step, key):
                answer: dict[str, Any] = {key: sentence.text}
                step = replace(step, **answer)
            else:
                _append(body, sentence)
            is_critical = step.critical or bool(CRITICAL.search(sentence.text))
            step = replace(step, critical=is_critical, minutes=step.minutes or minutes_in(sentence.text))
        if id in self.preferred:
            step = replace(step, basis="preference", whose=NOT_SAID)
        return self._guarded(replace(step, body=tuple(body), actions=tuple(merged(actions))))

    def _guarded(self, step: ProposedStep) -> ProposedStep:
        """Return ``step`` with its cautions and what they say is at risk."""
        cautions = [caution for caution in self.cautions if step.id in caution.guards]
        at_risk = tuple(dict.fromkeys(name for caution in cautions for name in caution.at_risk))
        return replace(step, at_risk=at_risk, cautions=tuple(caution.id for caution in cautions))

    def _parted(self, id: str, sentence: Sentence) -> bool:
        """Propose what a sentence leaves open after the step ``id``; True where it is the text of a step of its own."""
        way = way_of(sentence.text, self.reader.read(sentence.text, "alternative"))
        if way is None or way.kind == "preference":
            self.preferred.update([id] if way else [])
            return False
        told = [(title, doing.made) for doing in way.doings if (title := instruction_of(doing))]
        told = told if way.kind == "choice" and len(told) > 1 else told[:1]
        steps = [
            ProposedStep(self.step_ids.new(title), title, sentence.at, sentence.heard_at, (), actions)
            for title, actions in told or [(shortened_title(sentence.text), ())]
        ]
        steps[0] = replace(steps[0], body=(sentence.text,))
        self.partings.append(ProposedParting(way.kind, id, way.when, tuple(steps)))
        return True

    def _warned(self, sentence: Sentence, step: str, before: str) -> str:
        """Return the caution that a sentence begins or adds to; "" where it does not warn.

        ``before`` is the caution of the sentence before it: what comes of it, and what to do then, belong to that.
        """
        if before and sentence.role is SaidRole.IF_NOT:
            self._fill(before, "if_it_happens", sentence.text)
        elif before and comes_of_it(sentence.text, sentence.role):
            self._fill(before, "consequence", sentence.text)
        elif sentence.role is SaidRole.DANGER:
            return self._caution(sentence, step).id
        else:
            return ""
        return before

    def _caution(self, sentence: Sentence, step: str) -> ProposedCaution:
        avoids = says_what_to_avoid(sentence.text)
        mentions = self.names.mentions(sentence.text)
        bare = _SIGN.sub("", _SIGN.sub("", sentence.text)) or sentence.text
        caution = ProposedCaution(
            id=self.caution_ids.new(re.split(r"[,.;:]", bare)[0], taken=step),
            signal=signal_of(sentence.text),
            hazard=NOT_SAID if avoids else sentence.text,
            consequence=NOT_SAID,
            avoid=sentence.text if avoids else NOT_SAID,
            at=sentence.at,
            heard_at=sentence.heard_at,
            guards=(step,) if step else (),
            at_risk=tuple(dict.fromkeys(mention.name for mention in mentions if mention.is_structure)),
        )
        self.cautions.append(caution)
        return caution

    def _fill(self, id: str, key: str, text: str) -> None:
        """Let a sentence after a warning answer what comes of it, or what is done if it happens."""
        at = next(at for at, caution in enumerate(self.cautions) if caution.id == id)
        before = getattr(self.cautions[at], key)
        answer: dict[str, Any] = {key: f"{before} {text}" if before not in ("", NOT_SAID) else text}
        self.cautions[at] = replace(self.cautions[at], **answer)

    def _loose_cautions(self, sentences: Iterable[Sentence]) -> None:
        """Propose a caution for each line below a heading such as ``Dangers``; which step it guards is not said."""
        for sentence in sentences:
            if not sentence.begins and self.cautions:
                last = self.cautions[-1]
                self.cautions[-1] = replace(last, body=(*last.body, sentence.text))
                continue
            self._caution(sentence, "")
            self._look_at(sentence)

    def _look_at(self, sentence: Sentence, part: int = MIDDLE) -> list[ProposedAction]:
        """Return the actions of a sentence, and remember which of its names were misheard or not understood."""
        role = str(sentence.role) if self.is_talk and sentence.role in DOES else ""
        read = self.reader.read(sentence.text, role, part)
        alike = [(mention.heard, mention.name) for mention in read.mentions if not mention.exact]
        alike += [(heard.heard, heard.name) for heard in self.names.heard(sentence.text)]
        for heard, name in alike:
            self.misheard.setdefault((heard, name), Misheard(heard, name, sentence.at))
        likely = [words for _, words, _ in looks_like_a_name(sentence.text, read.mentions)]
        new = [
            thing.name for thing in read.new if not any(thing.name in words or words in thing.name for words in likely)
        ]
        self.strange += [NotUnderstood(words, sentence.at) for words in (*likely, *new)]
        return read.actions

    def _with_pictures(self, steps: tuple[ProposedStep, ...], layout: SourceParts) -> tuple[ProposedStep, ...]:
        """Return ``steps`` with each picture at the step it is in; others at the step before, or the first."""
        by_step: dict[int, list[RawPicture]] = {}
        for picture in self.source.pictures:
            holding = [at for at, step in enumerate(layout.steps) if picture.passage in step.passages]
            before = [at for at, step in enumerate(layout.steps) if min(step.passages, default=0) <= picture.passage]
            by_step.setdefault((holding or before[-1:] or [0])[0], []).append(picture)
        return tuple(replace(step, pictures=tuple(by_step.get(at, ()))) for at, step in enumerate(steps))


def _titled(segment: Segment, reader: TalkReader, part: int, spoken: set[str]) -> tuple[str, list[Sentence]]:
    """Return the title of a step, and its sentences without the one that is the title word by word."""
    if segment.head:
        first, *others = segment.sentences or [Sentence(segment.head, segment.at)]
        title = shortened_title(first.text)
        same = bare_letters(title) == bare_letters(first.text)
        return title, others if same else [first, *others]
    if not segment.sentences:
        return NOT_SAID.rstrip("."), []
    done = [sentence for sentence in segment.sentences if sentence.role in DOES][:MOST_READ]
    told = [reader.read(sentence.text, str(sentence.role), part) for sentence in done]
    if title := step_title(told, spoken=spoken):
        return title, segment.sentences
    begun = segment.sentences[0].text
    said = _LEADS_IN.sub("", after_sign(begun) or begun) or begun
    return shortened_title(_ARTICLE.sub("", re.split(r"[,;:.]", said)[0])), segment.sentences


_LEADS_IN = re.compile(r"^(?:(?:now|then|so|right|and|okay|well|next)\b[\s,]*)+", re.IGNORECASE)
_ARTICLE = re.compile(r"^(?:is |was )?(?:the|a|an) ", re.IGNORECASE)


def _append(body: list[str], sentence: Sentence) -> None:
    """Add a sentence to the paragraph, or begin a new one."""
    if sentence.begins and body:
        body.append(ListParagraph(sentence.text) if sentence.is_listed else sentence.text)
    elif body:
        body[-1] = type(body[-1])(f"{body[-1]} {sentence.text}")
    else:
        body.append(sentence.text)


def _paragraphs(sentences: Iterable[Sentence]) -> list[str]:
    body: list[str] = []
    for sentence in sentences:
        _append(body, sentence)
    return body


_SIGN = re.compile(
    r"^\W*(?:(?:be )?careful(?: not to| with| here)?|never|do not|don't|danger|warning|caution|watch(?: out)?(?: for)?|"
    r"the (?:main |real |big )?(?:danger|risk)(?: here)?(?: is)?|you must never|take care(?: not to)?|pitfall)\W*",
    re.IGNORECASE,
)


def _persons(source: Source) -> Iterator[str]:
    for passage in source.passages:
        for identity in identities(passage.text):
            start = passage.text[identity.start : identity.start + 3]
            yield f"{identity.kind.replace('-', ' ')} at {passage.at}: {start}…"


def _counted(strange: Iterable[NotUnderstood], names: CatalogueNames) -> Iterator[NotUnderstood]:
    """Yield each name once, the most frequent first, with the nearest names of the catalogues."""
    first: dict[str, NotUnderstood] = {}
    times: Counter[str] = Counter()
    for name in strange:
        key = names.plain(name.words)
        first.setdefault(key, name)
        times[key] += 1
    for key, count in times.most_common():
        yield replace(first[key], times=count, near=names.near(first[key].words))

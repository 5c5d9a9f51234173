"""A proposal: what a draft will write, before anything is written."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from builder.draft.told_file import Told
from builder.load.told.draft_source import RawPicture, SourceForm


class ListParagraph(str):
    """A paragraph of a body that is an item of a list."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class ProposedAction:
    """An action as front matter will hold it: ``verb``, ``objects``, and further keys as they are written."""

    verb: str
    objects: tuple[str, ...]
    more: tuple[tuple[str, str | int | bool], ...] = ()


@dataclass(frozen=True, slots=True)
class ProposedStep:
    """A step: its ``body`` in paragraphs, where it was heard, and what else its sentences say."""

    id: str
    title: str
    at: str
    heard_at: str = ""
    body: tuple[str, ...] = ()
    actions: tuple[ProposedAction, ...] = ()
    critical: bool = False
    minutes: str = ""
    cue: str = ""
    if_not: str = ""
    why: str = ""
    at_risk: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    pictures: tuple[RawPicture, ...] = ()
    basis: str = ""
    whose: str = ""


@dataclass(frozen=True, slots=True)
class ProposedParting:
    """Where the way parts after the step with the id ``after``: an option or a choice, with the steps that it adds."""

    kind: str
    after: str
    when: str
    steps: tuple[ProposedStep, ...]


@dataclass(frozen=True, slots=True)
class ProposedCaution:
    """A caution; what its sentence does not say is left to the educator."""

    id: str
    signal: str
    hazard: str
    consequence: str
    avoid: str
    at: str
    heard_at: str = ""
    if_it_happens: str = ""
    guards: tuple[str, ...] = ()
    at_risk: tuple[str, ...] = ()
    body: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ProposedAftercare:
    """An aftercare item with its times, as far as they were said."""

    id: str
    title: str
    start: str
    until: str
    at: str
    heard_at: str = ""
    concerns: str = ""
    body: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnplacedSentence:
    """A sentence that was placed nowhere, and where it is in the source."""

    text: str
    at: str


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """A name that looks like anatomy or a thing used but is not in a catalogue, with the nearest that are."""

    words: str
    at: str
    times: int = 1
    near: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ProposedEntry:
    """A name that an action needs and no catalogue has; what it is was told by its last word or by its verb."""

    name: str
    kind: str
    is_structure: bool


@dataclass(frozen=True, slots=True)
class Misheard:
    """Words that are written or sound almost like a name of the catalogues."""

    words: str
    name: str
    at: str


@dataclass(frozen=True, slots=True)
class Abbreviation:
    """An abbreviation; ``long`` is empty where the source does not spell it out."""

    short: str
    long: str
    at: str


@dataclass(frozen=True)
class Proposal:
    """A whole draft. ``notes`` were placed nowhere; ``read_for`` were read for the kit, or only announce a part;
    ``persons`` says where the source seems to name a person."""

    id: str
    title: str
    form: SourceForm
    specialty: str
    owner: tuple[str, str]
    side: str = ""
    setting: str = ""
    steps: tuple[ProposedStep, ...] = ()
    partings: tuple[ProposedParting, ...] = ()
    cautions: tuple[ProposedCaution, ...] = ()
    aftercare: tuple[ProposedAftercare, ...] = ()
    kit: Mapping[str, int] = field(default_factory=dict)
    before: tuple[str, ...] = ()
    body: tuple[str, ...] = ()
    notes: tuple[UnplacedSentence, ...] = ()
    read_for: tuple[UnplacedSentence, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()
    misheard: tuple[Misheard, ...] = ()
    entries: tuple[ProposedEntry, ...] = ()
    abbreviations: tuple[Abbreviation, ...] = ()
    left_out: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()
    is_markdown: bool = False
    told: Told = field(default_factory=Told)


def merged(actions: Iterable[ProposedAction]) -> list[ProposedAction]:
    """Return ``actions`` with each that is said twice only once: in its fullest form, at the place of that form.

    ``The seventh step, opening the trachea. ... Then you open the trachea with the scalpel``: the first only announces.
    """
    fullest: dict[tuple[str, tuple[str, ...]], ProposedAction] = {}
    for action in actions:
        key = (action.verb, action.objects)
        if key in fullest and len(action.more) > len(fullest[key].more):
            del fullest[key]
        fullest.setdefault(key, action)
    return list(fullest.values())

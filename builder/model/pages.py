"""The files an educator writes: department, catalogues, procedure, step, caution, aftercare."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from pydantic import Field
from pydantic.json_schema import SkipJsonSchema

from builder.model.action import ActionEntry, Side
from builder.model.citation import Evidence
from builder.model.dose import Dose
from builder.model.fields import Count, Day, Heard, Label, Many, Named, Node, Number, Page, Proposable
from builder.model.figure import Figure
from builder.model.sequence import Entry, Sequence, every_entry
from builder.model.translation import Translation
from builder.place import PARTS_KEY, Text


class Status(StrEnum):
    """Where a procedure stands between the educator and the department."""

    DRAFT = "draft"
    IN_REVIEW = "in review"
    APPROVED = "approved"
    WITHDRAWN = "withdrawn"


class Basis(StrEnum):
    """Why a step is done this way: everybody must, somebody prefers to, or this house does."""

    PRINCIPLE = "principle"
    PREFERENCE = "preference"
    LOCAL_POLICY = "local policy"


class Supervision(StrEnum):
    """What a trainee does in this step, from least to most."""

    WATCH = "watch"
    ASSIST = "assist"
    PART = "part"
    WHOLE = "whole"
    WHOLE_HELP_NEARBY = "whole, help nearby"
    TEACH = "teach"


class Signal(StrEnum):
    """The signal words of ISO 3864-2 and ANSI Z535.6, the gravest first."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class StructureKind(StrEnum):
    """What kind of anatomy a structure is."""

    VESSEL = "vessel"
    NERVE = "nerve"
    DUCT = "duct"
    VISCUS = "viscus"
    LIGAMENT = "ligament"
    FASCIA = "fascia"
    MUSCLE = "muscle"
    BONE = "bone"
    SKIN = "skin"
    CAVITY = "cavity"
    LANDMARK = "landmark"


class ItemKind(StrEnum):
    """What kind of thing an item is."""

    INSTRUMENT = "instrument"
    RETRACTOR = "retractor"
    BLADE = "blade"
    SWAB = "swab"
    PACK = "pack"
    NEEDLE = "needle"
    SUTURE = "suture"
    CLIP = "clip"
    DRAIN = "drain"
    CATHETER = "catheter"
    LINE = "line"
    IMPLANT = "implant"
    DRUG = "drug"
    FLUID = "fluid"
    DRESSING = "dressing"
    GARMENT = "garment"
    DEVICE = "device"


class Overdue(StrEnum):
    """What an overdue review does: a mark on every output, or no publishing at all."""

    MARK = "mark"
    BLOCK = "block"


class Levels(StrEnum):
    """The scheme in which levels of evidence are stated."""

    OCEBM = "ocebm"
    GRADE = "grade"


class Wording(StrEnum):
    """The country whose wording rules apply."""

    UK = "uk"
    US = "us"


class Style(StrEnum):
    """How references are written; ``vancouver`` where the department says nothing."""

    VANCOUVER = "vancouver"
    NLM_ALL_AUTHORS = "nlm-all-authors"
    BY_AUTHOR = "by author"
    AS_CITED = "numbered as cited"
    LETTERS_AND_YEAR = "letters and year"


class Engine(StrEnum):
    """What makes the department's site of the finished pages: our own frame, or mkdocs with the theme that it has."""

    OWN = "own"
    MKDOCS = "mkdocs"


class ReviewRule(Node):
    """How long an edition is valid, in months, and what happens then."""

    months: Count = 24
    overdue: Overdue = Overdue.MARK


class Call(Node):
    """Whom to call: a ``role`` and the local ``number``; ``always`` where every procedure shows it. ``from_home`` is
    the number that a patient dials."""

    role: Text
    number: Label
    from_home: Label | None = None
    always: bool = False


class Person(Node):
    """A named person and their role."""

    name: Text
    role: Text


class Approval(Node):
    """Who approved, on which day, which content (a hash)."""

    by: Text
    role: Text
    on: Day
    content: Text


class Withdrawal(Node):
    """Since when a procedure must not be used, and why; shown on the status page of every card of it."""

    on: Day
    because: Text


class Parent(Node):
    """The department over which this one is laid: a ``folder``, or a ``wheel`` or ``archive`` with its ``digest``."""

    folder: Text | None = None
    wheel: Text | None = None
    archive: Text | None = None
    digest: Text | None = None


class Department(Page):
    """``content/department.md``: the department itself. Its prose is the front page."""

    name: Text
    parent: Parent | None = None
    site: Text | None = None
    engine: Engine = Engine.OWN
    language: Text = Text("en-GB")
    paper: Text = Text("A4")
    wording: Many[Wording] = (Wording.UK,)
    review: ReviewRule = Field(default_factory=ReviewRule)
    approvers: tuple[Text, ...] = ()
    approvals_needed: Count = 1
    call: tuple[Call, ...] = ()
    levels: Levels = Levels.OCEBM
    style: Style = Style.VANCOUVER
    notices_months: Count = 12


class Structure(Node):
    """A structure of the anatomy catalogue.

    ``close_to`` names structures that can be hurt when this one is cut; ``see_first``: it must be seen before
    anything it lies close to is cut; ``paired``: there is one on each side. ``not_close_to`` gives the reason why a
    relation of the common catalogue is switched off, ``off`` why the whole entry is.
    """

    id: Text
    name: Text
    kind: StructureKind
    close_to: tuple[Text, ...] = ()
    not_close_to: Named[Text] = Field(default_factory=dict)
    see_first: bool = False
    paired: bool = False
    also: tuple[Text, ...] = ()
    off: Text | None = None

    def __hash__(self) -> int:
        return hash(self.id)


class Item(Node):
    """A thing that is used. ``counted``: it is in the count of swabs, needles and instruments.

    ``cuts``: what is opened with it is cut, as with a blade (scissors, diathermy, a saw). ``seals``: what is cut with
    it is sealed at both ends (a stapler, an instrument that seals vessels). ``off``: why the entry of the common
    catalogue is switched off.
    """

    id: Text
    name: Text
    kind: ItemKind
    counted: bool = False
    cuts: bool = False
    seals: bool = False
    also: tuple[Text, ...] = ()
    off: Text | None = None


class Term(Node):
    """An abbreviation or technical term: ``short`` form, ``long`` form, and ``plain`` words for patients."""

    short: Text
    long: Text
    plain: Text | None = None


class Consent(Node):
    """A patient's consent to show a picture: its ``id``, the day it was ``given`` and, if so, ``withdrawn``.

    A picture whose consent was withdrawn is in no output from the next publish on.
    """

    id: Text
    given: Day
    withdrawn: Day | None = None


class Step(Heard):
    """One step of a procedure.

    ``order_matters``: why its actions are done in just this order. After it the operation is over (``stops_here``, with
    the reason), or goes on as another procedure (``converts_to``, its id).
    """

    title: Text
    critical: bool = False
    basis: Basis = Basis.PRINCIPLE
    whose: Text | None = None
    supervision: Supervision | None = None
    minutes: Number | None = Field(default=None, ge=0, le=600)
    actions: tuple[ActionEntry, ...] = ()
    no_actions: Text | None = None
    cue: Text | None = None
    if_not: Text | None = None
    why: Text | None = None
    at_risk: tuple[Text, ...] = ()
    error: Text | None = None
    recovery: Text | None = None
    call: Text | None = None
    cautions: tuple[Text, ...] = ()
    figure: Many[Figure] = ()
    dose: Many[Dose] = ()
    needs: tuple[Text, ...] = ()
    gives: tuple[Text, ...] = ()
    order_matters: Text | None = None
    stops_here: Text | None = None
    converts_to: Text | None = None
    evidence: Evidence = ()
    common_practice: bool = False

    @property
    def ends(self) -> bool:
        """Tell whether the operation ends with this step, or goes on as another."""
        return self.stops_here is not None or self.converts_to is not None


class Caution(Heard):
    """A hazard, what it leads to, how it is avoided and what to do if it happens; ``guards`` names the steps.

    ``may_be_removed``: a department that is laid over this one may leave it out, even where it is a danger.
    """

    signal: Signal
    hazard: Text
    consequence: Text
    avoid: Text
    sign: Text | None = None
    if_it_happens: Text | None = None
    call: Text | None = None
    guards: tuple[Text, ...] = ()
    at_risk: tuple[Text, ...] = ()
    may_be_removed: bool = False
    evidence: Evidence = ()
    common_practice: bool = False


class When(Node):
    """From when until when: a time such as ``6 h`` or ``2 days``, or an event such as ``until walking``; ``words`` say
    it to the patient."""

    start: Label = Field(alias="from")
    until: Label | None = None
    words: Text | None = None


class OnlyIf(Node):
    """For whom an item of aftercare is: those with whom ``branch`` was walked at ``choice``; ``words`` say so."""

    choice: Text
    branch: Many[Text]
    words: Text


class Aftercare(Heard):
    """One thing to do after the operation. ``concerns`` names the item that stays and comes out at ``when.until``.

    ``only_if`` binds it to a branch or an option: it is not for every patient.
    """

    title: Text
    when: When
    who: Text | None = None
    concerns: Text | None = None
    only_if: OnlyIf | None = None
    goes_with: tuple[Text, ...] = ()
    dose: Many[Dose] = ()
    patient_text: Text | None = None
    evidence: Evidence = ()
    common_practice: bool = False


@dataclass(frozen=True, slots=True)
class Parts:
    """The other files of a procedure, by id."""

    steps: Mapping[str, Step] = field(default_factory=dict)
    cautions: Mapping[str, Caution] = field(default_factory=dict)
    aftercare: Mapping[str, Aftercare] = field(default_factory=dict)
    translations: Mapping[str, Translation] = field(default_factory=dict)


class NotClose(Node):
    """A relation of the catalogue that does not hold in this approach: ``structure`` is not close ``to`` the other."""

    structure: Text
    to: Text
    because: Text


class Procedure(Proposable):
    """A whole procedure: ``procedure.md`` with the steps, cautions and aftercare of its folder.

    ``steps``, ``cautions`` and ``aftercare_items`` hold what could be read. ``parts`` is for the builder only.
    """

    title: Text
    specialty: Text
    summary: Text | None = None
    setting: Text | None = None
    side: Side = Side.EITHER
    edition: Label
    status: Status
    owner: Person
    authors: tuple[Person, ...] = ()
    approval: Many[Approval] = ()
    withdrawn: Withdrawal | None = None
    review_by: Day | None = None
    before_you_start: tuple[Text, ...] = ()
    kit: Named[Count] = Field(default_factory=dict)
    not_close: tuple[NotClose, ...] = ()
    sequence: Sequence = Field(min_length=1)
    aftercare: tuple[Text, ...] = ()
    figure: Many[Figure] = ()
    evidence: Evidence = ()
    common_practice: bool = False
    parts: SkipJsonSchema[Parts] = Field(default=Parts(), alias=PARTS_KEY, repr=False)

    @property
    def steps(self) -> Mapping[str, Step]:
        """The steps of the folder by id."""
        return self.parts.steps

    @property
    def translations(self) -> Mapping[str, Translation]:
        """The patient's words in other languages, by language."""
        return self.parts.translations

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The figures of the procedure and of its steps."""
        return (*self.figure, *(figure for step in self.steps.values() for figure in step.figure))

    @cached_property
    def cautions(self) -> Mapping[str, Caution]:
        """The cautions of the folder and the shared ones that a step names, by id."""
        named = {caution for step in self.steps.values() for caution in step.cautions}
        return {id: page for id, page in self.parts.cautions.items() if id in named or not is_shared(page)}

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Every entry of the sequence in the order it is written, those inside branches too."""
        return tuple(every_entry(self.sequence))

    @cached_property
    def guarding(self) -> Mapping[str, tuple[Caution, ...]]:
        """The cautions of each step by its id: those that guard it, that it names, and that its prose links to."""
        return {id: tuple(self._guarding(step)) for id, step in self.steps.items()}

    def _guarding(self, step: Step) -> Iterator[Caution]:
        linked = {target for link in step.body.links if link.kind == "caution" for target in link.targets}
        for id, caution in self.cautions.items():
            if step.id in caution.guards or id in step.cautions or id in linked:
                yield caution

    @cached_property
    def aftercare_items(self) -> Mapping[str, Aftercare]:
        """The aftercare of the folder and the shared items that the procedure names, by id.

        An item that is not for every patient says so in its title and in its words for the patient.
        """
        named = set(self.aftercare)
        return {id: _worded(page) for id, page in self.parts.aftercare.items() if id in named or not is_shared(page)}


def _worded(item: Aftercare) -> Aftercare:
    if item.only_if is None:
        return item
    words = str(item.only_if.words)
    told = {"title": Text(f"{item.title} ({words})", item.title.at)}
    if item.patient_text is not None:
        told["patient_text"] = Text(f"{words[:1].upper()}{words[1:]}: {item.patient_text}", item.patient_text.at)
    return item.model_copy(update=told)


def is_shared(page: Page) -> bool:
    """Tell whether ``page`` is written once for many procedures."""
    return page.file.startswith("content/shared/")

"""The one register of findings: the name of each, how severe it is, the family it belongs to, and what it blocks.

A finding is known by its name alone, whichever stage makes it; its page is ``pages/<name>.md``. A check is a row here,
a rule that says ``@finds(name)``, and a page.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum

from builder.findings.finding import Finding, Refused, SecondPlace, Severity
from builder.place import Place

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE


@dataclass(frozen=True, slots=True)
class Family:
    """Findings that belong together.

    ``looks`` tells a reader what its checks prove, by the name of that of which there must be some for the proof to say
    anything; ``facts/coverage.py`` counts it. It is empty where no check of a department makes them: they are met while
    something is read or made.
    """

    name: str
    looks: Mapping[str, str] = field(default_factory=dict)


class Blocks(Enum):
    """The first stage on the way of a procedure that a finding blocks; every later one is blocked as well."""

    DRAFT = "a draft"
    REVIEW = "review"
    APPROVAL = "an approval"
    ISSUE = "an issue"
    NOTHING = "nothing"


FROM_REVIEW, FROM_APPROVAL, AT_ISSUE = Blocks.REVIEW, Blocks.APPROVAL, Blocks.ISSUE


@dataclass(frozen=True, slots=True)
class FindingKind:
    """A row of the register: an error blocks a draft, anything else nothing, unless ``later`` names a stage.

    From that stage on (``check/blocking.py``) the finding is an error. ``but`` says when a rule decides otherwise.
    """

    name: str
    severity: Severity
    family: Family
    later: Blocks = Blocks.NOTHING
    but: str = ""

    @property
    def blocks(self) -> Blocks:
        """The first stage that it blocks."""
        return Blocks.DRAFT if self.severity is Severity.ERROR else self.later


FILES = Family("files")
FORMAT = Family("format")
LOCAL_POLICY = Family("local-policy")
NAMES = Family(
    "names", {"name": "Everything that is named exists: steps, cautions, aftercare, structures, items, figures."}
)
CITATIONS = Family("citations", {"citation": "Every source that is cited exists."})
ORDER = Family("order", {"caution": "Every caution stands before the step it guards."})
CAUTIONS = Family(
    "cautions",
    {
        "caution": "A caution is as grave as its consequence, one sign has one answer, and what lies close to a cut is "
        "guarded by a caution."
    },
)
COVERAGE = Family("coverage", {"step": "Steps say what is done, so that the operation can be analysed."})
PATHS = Family(
    "paths",
    {
        "way through": "What follows was looked at on every way through the operation.",
        "cut": "What must be seen is seen before anything is cut.",
        "divided vessel": "Vessels are controlled before they are divided.",
        "opened layer": "What is opened is closed again, or is said to stay open.",
        "placed item": "What goes in comes out, or has a day of removal.",
        "count": "Counts are called before the wound is closed.",
        "item of the kit": "The kit has everything that is used, and nothing else.",
    },
)
TEXT_AND_ACTIONS = Family(
    "text-and-actions",
    {
        "described step": "The text of a step and its actions say the same: what is done, what is forbidden, how "
        "many, and in which order."
    },
)
SIDES = Family("sides", {"named side": "Left and right are the same in text, actions and figures."})
DOSES = Family(
    "doses", {"dose": "Doses can be read, stay under their stated ceilings, and their tables have no gaps or overlaps."}
)
AFTERCARE = Family(
    "aftercare", {"aftercare item": "Aftercare is in order of time, and the patient is told the same as the staff."}
)
TRANSLATIONS = Family(
    "translations",
    {"translated sentence": "Translations for patients have every sentence as it stands, with the same numbers."},
)
CRITICAL_STEPS = Family(
    "critical-steps", {"critical step": "Critical steps say what must be seen, and what to do if it is not."}
)
SOURCES = Family(
    "sources",
    {
        "statement": "A statement has a source or says that it is common practice, and sources are complete and "
        "identified."
    },
)
FIGURES = Family("figures", {"figure": "Every figure has a description, a credit and a consent."})
EDITIONS = Family(
    "editions",
    {
        "approval": "What was approved has not been changed since.",
        "issued code": "The record of issued codes is whole.",
    },
)
REVIEW = Family("review", {"named person": "Owner, approval and review date are stated."})
DRAFTS = Family("drafts", {"part of a draft": "What a draft proposed is confirmed, or marked as not confirmed."})
INSTRUCTIONS = Family("instructions", {"title": "Titles are instructions and sentences are short."})
ABBREVIATIONS_AND_POINTERS = Family(
    "abbreviations-and-pointers",
    {"abbreviation": "Abbreviations are spelt out, and figures and tables are spoken of in the text."},
)
NOTATION = Family("notation", {"number": "Units and numbers are written as the country's safety lists ask."})
CHARACTERS = Family(
    "characters",
    {"text": "Every character is what it looks like: none is hidden, of another script, or a letter in a number."},
)
IDENTITY = Family("identity", {"text": "No text, figure or file name looks as if it named a patient."})
ACCEPTANCES = Family("acceptances")
IMPORTS = Family("imports")
DRAFT_SOURCES = Family("draft-sources")
ANSWERS = Family("answers")
OUTPUTS = Family("outputs")


def _register(*kinds: FindingKind) -> Mapping[str, FindingKind]:
    register = {kind.name: kind for kind in kinds}
    if len(register) < len(kinds):
        names = [kind.name for kind in kinds]
        raise ValueError(
            f"two findings have the same name: {sorted({name for name in names if names.count(name) > 1})}"
        )
    return register


REGISTER = _register(
    FindingKind("file-unreadable", ERROR, FILES),
    FindingKind("file-not-utf8", ERROR, FILES),
    FindingKind("file-too-large", ERROR, FILES),
    FindingKind("link-not-followed", ERROR, FILES),
    FindingKind("file-not-expected", WARNING, FILES),
    FindingKind("file-name-not-an-id", ERROR, FILES),
    FindingKind("front-matter-missing", ERROR, FILES),
    FindingKind("front-matter-not-closed", ERROR, FILES),
    FindingKind("front-matter-unreadable", ERROR, FILES),
    FindingKind("key-written-twice", ERROR, FILES),
    FindingKind("front-matter-too-large", ERROR, FILES),
    FindingKind("sources-unreadable", ERROR, FILES),
    FindingKind("source-key-written-twice", ERROR, FILES),
    FindingKind("folder-incomplete", ERROR, FILES),
    FindingKind("parent-unusable", ERROR, LOCAL_POLICY),
    FindingKind("local-does-not-fit", ERROR, LOCAL_POLICY),
    FindingKind("local-not-declared", ERROR, LOCAL_POLICY),
    FindingKind("text-not-read", ERROR, FILES),
    FindingKind("picture-unusable", ERROR, FILES),
    FindingKind("key-unknown", ERROR, FORMAT),
    FindingKind("key-missing", ERROR, FORMAT),
    FindingKind("value-not-allowed", ERROR, FORMAT),
    FindingKind("value-empty", ERROR, FORMAT),
    FindingKind("action-unclear", ERROR, FORMAT),
    FindingKind("sequence-entry-unclear", ERROR, FORMAT),
    FindingKind("id-used-twice", ERROR, FORMAT),
    FindingKind("name-used-twice", ERROR, FORMAT),
    FindingKind("step-unknown", ERROR, NAMES),
    FindingKind("caution-unknown", ERROR, NAMES),
    FindingKind("aftercare-unknown", ERROR, NAMES),
    FindingKind("structure-unknown", ERROR, NAMES),
    FindingKind("item-unknown", ERROR, NAMES),
    FindingKind("wrong-kind-of-object", ERROR, NAMES),
    FindingKind("choice-unknown", ERROR, NAMES),
    FindingKind("branch-unknown", ERROR, NAMES),
    FindingKind("choice-id-used-twice", ERROR, NAMES),
    FindingKind("procedure-unknown", ERROR, NAMES),
    FindingKind("figure-unknown", ERROR, NAMES),
    FindingKind("link-unclear", ERROR, NAMES),
    FindingKind("step-not-used", WARNING, NAMES, FROM_APPROVAL, "an unused step that is critical blocks a draft"),
    FindingKind("way-without-step", NOTE, NAMES),
    FindingKind("caution-not-used", WARNING, NAMES, FROM_APPROVAL),
    FindingKind("aftercare-left-out", ERROR, NAMES),
    FindingKind("aftercare-not-used", NOTE, NAMES),
    FindingKind("term-written-twice", ERROR, NAMES),
    FindingKind("landmark-cut", ERROR, NAMES),
    FindingKind("relation-unknown", ERROR, NAMES),
    FindingKind("source-unknown", ERROR, CITATIONS),
    FindingKind("caution-after-step", ERROR, ORDER),
    FindingKind("caution-linked-early", NOTE, ORDER),
    FindingKind("prepared-too-late", WARNING, ORDER, FROM_REVIEW),
    FindingKind("order-told-otherwise", NOTE, ORDER),
    FindingKind("order-against-trade", NOTE, ORDER),
    FindingKind("step-repeated", WARNING, ORDER),
    FindingKind("protected-unseen", NOTE, ORDER, FROM_APPROVAL),
    FindingKind("placed-in-protected", WARNING, ORDER, FROM_APPROVAL),
    FindingKind("step-after-end", ERROR, ORDER),
    FindingKind("one-end-left-open", NOTE, TEXT_AND_ACTIONS),
    FindingKind("step-without-actions", WARNING, COVERAGE, FROM_APPROVAL),
    FindingKind("reason-beside-actions", WARNING, COVERAGE, FROM_APPROVAL),
    FindingKind("procedure-without-caution", WARNING, COVERAGE, FROM_APPROVAL),
    FindingKind("step-without-evidence", NOTE, COVERAGE, FROM_APPROVAL),
    FindingKind("rest-not-analysed", NOTE, COVERAGE),
    FindingKind("risk-without-caution", NOTE, CAUTIONS, FROM_APPROVAL),
    FindingKind("parent-danger-removed", ERROR, CAUTIONS),
    FindingKind("signal-too-mild", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("one-sign-two-answers", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("blind-order", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("reckless-order", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("danger-without-answer", NOTE, CAUTIONS, FROM_APPROVAL),
    FindingKind("sign-is-the-cue", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("advice-says-nothing", NOTE, CAUTIONS, FROM_APPROVAL),
    FindingKind("caution-guards-other-step", NOTE, CAUTIONS, FROM_APPROVAL),
    FindingKind("caution-contradicted", NOTE, CAUTIONS, FROM_APPROVAL),
    FindingKind("advice-not-followed", NOTE, CAUTIONS),
    FindingKind("rescue-makes-worse", WARNING, CAUTIONS, FROM_APPROVAL),
    FindingKind("set-against-danger", NOTE, CAUTIONS),
    FindingKind("fails-its-key", NOTE, CAUTIONS),
    FindingKind("call-without-role", NOTE, CAUTIONS),
    FindingKind("two-roles-to-call", NOTE, CAUTIONS),
    FindingKind("count-leaves-out", NOTE, TEXT_AND_ACTIONS, FROM_APPROVAL),
    FindingKind("not-seen-before-cut", ERROR, PATHS),
    FindingKind("neighbour-not-seen", ERROR, PATHS),
    FindingKind("neighbour-to-confirm", WARNING, PATHS, FROM_APPROVAL),
    FindingKind("vessel-not-controlled", ERROR, PATHS),
    FindingKind("cut-end-left-open", ERROR, PATHS),
    FindingKind("taken-out-uncontrolled", WARNING, PATHS, FROM_APPROVAL),
    FindingKind("tied-after-removal", ERROR, PATHS),
    FindingKind("cut-while-protected", ERROR, PATHS),
    FindingKind("closed-out-of-order", WARNING, PATHS, FROM_REVIEW),
    FindingKind(
        "place-not-open", ERROR, PATHS, but="it blocks nothing where the procedure never says that the place is opened"
    ),
    FindingKind("clamp-left-on", ERROR, PATHS),
    FindingKind("clamp-released-too-soon", ERROR, PATHS),
    FindingKind("released-without-clamp", ERROR, PATHS),
    FindingKind("item-left-in", ERROR, PATHS),
    FindingKind("removed-but-not-in", ERROR, PATHS),
    FindingKind("line-not-in", ERROR, PATHS),
    FindingKind("left-in-without-aftercare", ERROR, PATHS),
    FindingKind("aftercare-without-item", WARNING, PATHS, FROM_APPROVAL),
    FindingKind("aftercare-not-bound", WARNING, PATHS, FROM_APPROVAL),
    FindingKind("removal-without-time", ERROR, PATHS),
    FindingKind("cavity-closed-uncounted", ERROR, PATHS),
    FindingKind("skin-closed-uncounted", ERROR, PATHS),
    FindingKind("not-enough-kit", ERROR, PATHS),
    FindingKind("kit-unused", WARNING, PATHS),
    FindingKind("one-side-forgotten", ERROR, PATHS),
    FindingKind("side-fixed-for-either", ERROR, PATHS),
    FindingKind("need-not-met", ERROR, PATHS),
    FindingKind("needs-circular", ERROR, PATHS),
    FindingKind("follow-incomplete", ERROR, PATHS),
    FindingKind("branch-never-reached", ERROR, PATHS),
    FindingKind("nick-without-looking", ERROR, PATHS),
    FindingKind(
        "left-open",
        ERROR,
        PATHS,
        but="it blocks nothing where the layer may stay open, as a muscle may, and is not closed later",
    ),
    FindingKind("ended-uncounted", ERROR, PATHS),
    FindingKind("kit-listed-twice", WARNING, PATHS),
    FindingKind("instrument-not-said", NOTE, PATHS),
    FindingKind("named-and-not-done", NOTE, TEXT_AND_ACTIONS),
    FindingKind("done-and-not-named", NOTE, TEXT_AND_ACTIONS),
    FindingKind("forbidden-in-text", NOTE, TEXT_AND_ACTIONS),
    FindingKind("number-differs-from-text", ERROR, TEXT_AND_ACTIONS),
    FindingKind("order-differs-from-text", NOTE, TEXT_AND_ACTIONS),
    FindingKind("instrument-differs-from-text", NOTE, TEXT_AND_ACTIONS),
    FindingKind("length-differs", NOTE, TEXT_AND_ACTIONS),
    FindingKind("tap-left-closed", NOTE, TEXT_AND_ACTIONS),
    FindingKind("opposites-told", NOTE, TEXT_AND_ACTIONS),
    FindingKind("said-and-denied", NOTE, TEXT_AND_ACTIONS),
    FindingKind("number-told-otherwise", NOTE, TEXT_AND_ACTIONS),
    FindingKind("limit-told-otherwise", NOTE, TEXT_AND_ACTIONS),
    FindingKind("other-side-named", ERROR, SIDES),
    FindingKind("action-on-other-side", WARNING, SIDES, FROM_APPROVAL),
    FindingKind("side-differs-from-text", NOTE, SIDES),
    FindingKind("side-named-in-either", WARNING, SIDES, FROM_REVIEW),
    FindingKind("sides-differ", NOTE, SIDES),
    FindingKind("places-differ", NOTE, SIDES),
    FindingKind("figure-on-other-side", ERROR, SIDES),
    FindingKind("figure-without-side", NOTE, SIDES),
    FindingKind("dose-unreadable", ERROR, DOSES),
    FindingKind("dose-bands-gap", ERROR, DOSES),
    FindingKind("dose-bands-overlap", ERROR, DOSES),
    FindingKind("dose-without-cap", WARNING, DOSES),
    FindingKind("dose-jump", WARNING, DOSES),
    FindingKind("dose-falls-with-weight", WARNING, DOSES),
    FindingKind("dose-above-ceiling", ERROR, DOSES),
    FindingKind("dose-over-stated-limit", ERROR, DOSES),
    FindingKind("dose-told-otherwise", WARNING, DOSES),
    FindingKind("dose-kinds-differ", ERROR, DOSES),
    FindingKind("dose-ceilings-differ", WARNING, DOSES, FROM_APPROVAL),
    FindingKind("anaesthetics-over-limit", WARNING, DOSES, FROM_REVIEW),
    FindingKind("dose-implausible", WARNING, DOSES),
    FindingKind("dose-differs-from-stated", WARNING, DOSES, FROM_APPROVAL),
    FindingKind("dose-arithmetic-wrong", ERROR, DOSES),
    FindingKind("other-drug-in-text", NOTE, DOSES),
    FindingKind("volume-without-strength", NOTE, DOSES),
    FindingKind("aftercare-pair-missing", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("aftercare-time-reversed", ERROR, AFTERCARE),
    FindingKind("aftercare-times-in-conflict", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-told-otherwise", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-told-other-dose", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-told-unknown-number", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-number-not-from-home", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-told-not-to-call", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("patient-told-opposite", WARNING, AFTERCARE, FROM_APPROVAL),
    FindingKind("aftercare-told-otherwise", NOTE, AFTERCARE),
    FindingKind("practice-turned-round", NOTE, AFTERCARE),
    FindingKind("patient-told-in-jargon", NOTE, AFTERCARE, FROM_APPROVAL),
    FindingKind("call-points-back", NOTE, AFTERCARE),
    FindingKind("time-not-understood", WARNING, AFTERCARE),
    FindingKind("translation-number-differs", ERROR, TRANSLATIONS),
    FindingKind("translation-out-of-date", WARNING, TRANSLATIONS),
    FindingKind("translation-incomplete", WARNING, TRANSLATIONS),
    FindingKind("translation-of-nothing", WARNING, TRANSLATIONS),
    FindingKind("translation-check-lapsed", WARNING, TRANSLATIONS, FROM_APPROVAL),
    FindingKind("translation-language-unknown", WARNING, TRANSLATIONS),
    FindingKind("critical-without-text", NOTE, CRITICAL_STEPS, FROM_APPROVAL),
    FindingKind("critical-without-cue", WARNING, CRITICAL_STEPS, FROM_APPROVAL),
    FindingKind("critical-without-if-not", WARNING, CRITICAL_STEPS, FROM_REVIEW),
    FindingKind("cue-not-observable", WARNING, CRITICAL_STEPS),
    FindingKind("cue-is-an-order", WARNING, CRITICAL_STEPS),
    FindingKind("cue-repeated", NOTE, CRITICAL_STEPS),
    FindingKind("danger-on-uncritical-step", WARNING, CRITICAL_STEPS, FROM_APPROVAL),
    FindingKind("way-out-goes-on", WARNING, CRITICAL_STEPS, FROM_REVIEW),
    FindingKind("source-unused", NOTE, SOURCES),
    FindingKind("source-field-missing", WARNING, SOURCES),
    FindingKind("identifier-wrong", ERROR, SOURCES),
    FindingKind("source-twice", WARNING, SOURCES),
    FindingKind("source-from-the-future", ERROR, SOURCES),
    FindingKind("source-is-preprint", WARNING, SOURCES),
    FindingKind(
        "source-retracted", WARNING, SOURCES, FROM_REVIEW, but="under a caution or a dose it blocks a draft too"
    ),
    FindingKind("source-in-doubt", WARNING, SOURCES),
    FindingKind("source-superseded", WARNING, SOURCES),
    FindingKind("notices-out-of-date", WARNING, SOURCES, AT_ISSUE),
    FindingKind("notices-unreadable", ERROR, SOURCES),
    FindingKind("notices-missing", NOTE, SOURCES),
    FindingKind("claim-without-source", ERROR, SOURCES),
    FindingKind("study-without-source", NOTE, SOURCES, FROM_APPROVAL),
    FindingKind("source-of-another-subject", NOTE, SOURCES),
    FindingKind("pages-reversed", WARNING, SOURCES, FROM_APPROVAL),
    FindingKind("page-outside-source", WARNING, SOURCES, FROM_APPROVAL),
    FindingKind("level-unknown", WARNING, SOURCES),
    FindingKind("journal-in-full", NOTE, SOURCES),
    FindingKind("source-type-unknown", WARNING, SOURCES),
    FindingKind("figure-without-alt", ERROR, FIGURES),
    FindingKind("figure-without-credit", ERROR, FIGURES),
    FindingKind("figure-without-consent", ERROR, FIGURES),
    FindingKind("figure-file-missing", ERROR, FIGURES),
    FindingKind("drawing-loses-something", ERROR, FIGURES),
    FindingKind("drawing-unusable", ERROR, FIGURES),
    FindingKind("pointer-at-nothing", ERROR, FIGURES),
    FindingKind("figure-file-not-used", WARNING, FIGURES),
    FindingKind("approval-outdated", WARNING, EDITIONS),
    FindingKind("parent-changed", WARNING, EDITIONS, AT_ISSUE),
    FindingKind("local-not-confirmed", WARNING, EDITIONS, FROM_APPROVAL),
    FindingKind("edition-not-raised", WARNING, EDITIONS, FROM_APPROVAL),
    FindingKind("ledger-line-unreadable", ERROR, EDITIONS),
    FindingKind("ledger-line-altered", ERROR, EDITIONS),
    FindingKind("issued-procedure-gone", WARNING, EDITIONS),
    FindingKind("withdrawn-without-reason", WARNING, EDITIONS, but="where a code was issued, it blocks a draft"),
    FindingKind("review-date-missing", WARNING, REVIEW, FROM_APPROVAL),
    FindingKind(
        "review-overdue", WARNING, REVIEW, AT_ISSUE, but="with `overdue: block` in department.md it blocks a draft too"
    ),
    FindingKind("review-too-far-away", WARNING, REVIEW),
    FindingKind("approval-missing", ERROR, REVIEW),
    FindingKind("preference-without-name", WARNING, REVIEW, FROM_APPROVAL),
    FindingKind("caution-without-if-it-happens", WARNING, REVIEW, FROM_APPROVAL),
    FindingKind("approver-without-authority", ERROR, REVIEW),
    FindingKind("approved-by-owner", ERROR, REVIEW),
    FindingKind("day-in-the-future", WARNING, REVIEW, FROM_APPROVAL),
    FindingKind("call-without-number", WARNING, REVIEW, FROM_REVIEW),
    FindingKind("site-address-missing", NOTE, REVIEW),
    FindingKind("proposed-not-confirmed", NOTE, DRAFTS, FROM_REVIEW),
    FindingKind("not-answered-yet", WARNING, DRAFTS, FROM_REVIEW),
    FindingKind("title-not-an-instruction", NOTE, INSTRUCTIONS),
    FindingKind("sentence-too-long", NOTE, INSTRUCTIONS),
    FindingKind("prose-not-shown", WARNING, INSTRUCTIONS, FROM_APPROVAL),
    FindingKind("abbreviation-not-spelt-out", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("abbreviation-unknown", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("written-two-ways", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("term-without-plain-words", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("figure-not-mentioned", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("table-not-mentioned", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("pointer-to-nothing", WARNING, ABBREVIATIONS_AND_POINTERS, FROM_APPROVAL),
    FindingKind("pointer-typed-by-hand", NOTE, ABBREVIATIONS_AND_POINTERS),
    FindingKind("unit-abbreviated", WARNING, NOTATION, FROM_APPROVAL),
    FindingKind("trailing-zero", WARNING, NOTATION, FROM_APPROVAL),
    FindingKind("naked-decimal", WARNING, NOTATION, FROM_APPROVAL),
    FindingKind("unit-without-space", NOTE, NOTATION),
    FindingKind("directions-abbreviated", NOTE, NOTATION),
    FindingKind("drug-name-abbreviated", WARNING, NOTATION, FROM_APPROVAL),
    FindingKind("zeros-without-separator", NOTE, NOTATION),
    FindingKind("smaller-unit-needed", NOTE, NOTATION),
    FindingKind("notation-unclear", NOTE, NOTATION),
    FindingKind("wording-packs-in-conflict", WARNING, NOTATION),
    FindingKind("language-unknown", ERROR, NOTATION),
    FindingKind("hidden-character", ERROR, CHARACTERS),
    FindingKind("mixed-script", ERROR, CHARACTERS),
    FindingKind("digit-not-plain", ERROR, CHARACTERS),
    FindingKind("letter-in-number", ERROR, CHARACTERS),
    FindingKind("decimal-comma", ERROR, CHARACTERS),
    FindingKind("character-not-in-type", ERROR, CHARACTERS),
    FindingKind("word-too-long", ERROR, CHARACTERS),
    FindingKind("nhs-number", ERROR, IDENTITY),
    FindingKind("date-of-birth", ERROR, IDENTITY),
    FindingKind("hospital-number", WARNING, IDENTITY, FROM_APPROVAL),
    FindingKind("name-of-person", WARNING, IDENTITY, FROM_APPROVAL),
    FindingKind("contact-details", WARNING, IDENTITY, FROM_APPROVAL),
    FindingKind("file-name-identifies", WARNING, IDENTITY, FROM_APPROVAL),
    FindingKind("consent-unknown", WARNING, IDENTITY, FROM_APPROVAL),
    FindingKind("consent-withdrawn", WARNING, IDENTITY),
    FindingKind("acceptance-unused", WARNING, ACCEPTANCES),
    FindingKind("acceptance-by-old-code", WARNING, ACCEPTANCES),
    FindingKind("record-unreadable", ERROR, IMPORTS),
    FindingKind("record-without-title", ERROR, IMPORTS),
    FindingKind("export-not-recognised", ERROR, IMPORTS),
    FindingKind("export-not-as-named", NOTE, IMPORTS),
    FindingKind("lines-passed-over", NOTE, IMPORTS),
    FindingKind("record-type-unknown", NOTE, IMPORTS),
    FindingKind("record-was-retracted", WARNING, IMPORTS),
    FindingKind("record-in-doubt", WARNING, IMPORTS),
    FindingKind("record-was-corrected", NOTE, IMPORTS),
    FindingKind("tags-not-kept", NOTE, IMPORTS),
    FindingKind("source-unreadable", ERROR, DRAFT_SOURCES),
    FindingKind("source-too-large", ERROR, DRAFT_SOURCES),
    FindingKind("source-empty", ERROR, DRAFT_SOURCES),
    FindingKind("no-step-found", ERROR, DRAFT_SOURCES),
    FindingKind("answer-unclear", ERROR, ANSWERS),
    FindingKind("answered-already", WARNING, ANSWERS),
    FindingKind("template-unusable", ERROR, OUTPUTS),
    FindingKind("template-moved", ERROR, OUTPUTS),
    FindingKind("template-changes-words", ERROR, OUTPUTS),
    FindingKind("look-not-proved", ERROR, OUTPUTS),
    FindingKind("card-too-long", ERROR, OUTPUTS),
    FindingKind("too-long-for-a-slide", ERROR, OUTPUTS),
)
"""Every finding that the program can make, by name. Checks run, and families are listed, in this order."""

LOCAL_ERRORS = (*(kind.name for kind in REGISTER.values() if kind.family is LOCAL_POLICY), "parent-danger-removed")
"""What keeps a department from being laid over its parent."""

FAMILIES = tuple({kind.family.name: kind.family for kind in REGISTER.values()}.values())
"""The families in the order of the register."""

CHECKED = tuple(kind.name for kind in REGISTER.values() if kind.family.looks)
"""The findings that a rule of ``check/rules`` makes; all others are met while something is read or made."""


def finding(name: str, at: Place, message: str, hint: str = "", also: Iterable[SecondPlace] = ()) -> Finding:
    """Make the finding ``name``, as severe as the register says."""
    return Finding(name, REGISTER[name].severity, at, message, hint, tuple(also))


def refuse(name: str, at: Place, message: str, hint: str) -> Refused:
    """Make the exception that carries the finding ``name``."""
    return Refused(finding(name, at, message, hint))

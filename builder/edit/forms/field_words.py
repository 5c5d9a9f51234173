"""What the forms call each key, and what they say about it: one table, beside the shapes that ask for it.

The meanings are those of FORMAT.md. A test holds that every key of the model has a row here, and no other has.
"""

import re
from dataclasses import replace
from typing import NamedTuple

from builder.findings.finding import Finding
from builder.findings.register import FILES, REGISTER
from builder.model.action import VERBS


class FieldWords(NamedTuple):
    """``label`` and ``help`` in plain words; ``pick`` names the list to choose from; ``size``: line, text, or long."""

    label: str
    help: str = ""
    pick: str = ""
    size: str = "line"


WORDS: dict[str, FieldWords] = {
    "evidence": FieldWords("Sources", "What this rests on, from the register of sources."),
    "common_practice": FieldWords("Common practice", "No source is claimed: this is how it is commonly done."),
    "accept": FieldWords("Accepted findings", "What was found and the department accepts, each with its reason."),
    "at_risk": FieldWords("Structures at risk", pick="structures"),
    "call": FieldWords("Call", "The role; its number stands with the department.", "roles"),
    "figure": FieldWords("Figures"),
    "id": FieldWords("Short name", "Small letters and hyphens."),
    "name": FieldWords("Name"),
    "title": FieldWords("Title"),
    "kind": FieldWords("What it is"),
    "also": FieldWords("Other names"),
    "side": FieldWords("Side"),
    "on": FieldWords("On"),
    "dose": FieldWords("Doses", "Tables are worked out from these, rounded down."),
    "step.prose": FieldWords(
        "How it is done", "Sentences of at most 20 words. It is printed below the instruction.", size="long"
    ),
    "caution.prose": FieldWords("More about it", "May stay empty.", size="long"),
    "aftercare.prose": FieldWords("For staff", "May stay empty.", size="long"),
    "procedure.prose": FieldWords("Why and when", size="long"),
    "step.title": FieldWords("What is done", "An instruction. It starts with a verb.", size="text"),
    "step.critical": FieldWords("Critical", "A slip here does lasting harm."),
    "step.basis": FieldWords("Why this way", "Everybody must, somebody prefers to, or this house does."),
    "step.whose": FieldWords("Whose preference", "The role of the person who prefers it.", "roles"),
    "step.supervision": FieldWords("What a trainee does"),
    "step.minutes": FieldWords("Minutes"),
    "step.actions": FieldWords("Actions", "What is done, in order. The check of the whole operation reads these."),
    "step.no_actions": FieldWords(
        "Why there is no action", "Only where nothing is done that the check could follow.", size="text"
    ),
    "step.cue": FieldWords("Go on when", "What the operator observes.", size="text"),
    "step.if_not": FieldWords("If not", "What to do then.", size="text"),
    "step.why": FieldWords("Reason", "Why the step is needed.", size="text"),
    "step.error": FieldWords("Common slip", "What goes wrong most often.", size="text"),
    "step.recovery": FieldWords("Put it right", size="text"),
    "step.cautions": FieldWords("Cautions before this step", "They stand before it wherever it is read.", "cautions"),
    "step.order_matters": FieldWords("Why in this order", "Only where the order of the actions matters.", size="text"),
    "step.stops_here": FieldWords("Why the operation stops here", "Only where it is over then.", size="text"),
    "step.converts_to": FieldWords("Goes on as", "The id of the procedure that goes on after this step."),
    "procedure.not_close": FieldWords("Not close here", "Relations that do not hold in this approach."),
    "NotClose.structure": FieldWords("This structure", pick="structures"),
    "NotClose.to": FieldWords("Is not close to", pick="structures"),
    "NotClose.because": FieldWords("Because", size="text"),
    "Action.through": FieldWords("Through", "The line or catheter by which it is given.", "items"),
    "step.needs": FieldWords("Must hold before", "Facts that an earlier step gives."),
    "step.gives": FieldWords("Holds afterwards", "Facts that a later step can need."),
    "caution.signal": FieldWords("How grave", "Danger: kills or maims if not avoided. Warning: could. "
                            "Caution: lesser injury. Notice: no injury."),
    "caution.hazard": FieldWords("What can happen", size="text"),
    "caution.consequence": FieldWords("What it leads to", size="text"),
    "caution.avoid": FieldWords("Avoid it", size="text"),
    "caution.sign": FieldWords("How it shows", "What the operator or the ward sees.", size="text"),
    "caution.if_it_happens": FieldWords("If it happens", "What to do then.", size="text"),
    "caution.guards": FieldWords("Steps it guards", "It is read before these.", "steps"),
    "caution.may_be_removed": FieldWords(
        "May be left out elsewhere", "A department that is laid over this one may leave it out."
    ),
    "aftercare.title": FieldWords("What is done", size="text"),
    "aftercare.when": FieldWords("When"),
    "aftercare.who": FieldWords("Who does it", pick="roles"),
    "aftercare.concerns": FieldWords("Item that stays", "What was left in and comes out at the end of this time.",
                                "items"),
    "aftercare.only_if": FieldWords("Only if", "For an item that is not for every patient."),
    "aftercare.goes_with": FieldWords(
        "Goes with", "Other aftercare that must not be forgotten beside it.", "aftercare"
    ),
    "aftercare.patient_text": FieldWords("For the patient", "Plain words for the patient’s sheet.", size="long"),
    "procedure.title": FieldWords("Name of the procedure", size="text"),
    "procedure.specialty": FieldWords("Specialty"),
    "procedure.summary": FieldWords("In one sentence", size="text"),
    "procedure.setting": FieldWords("Where it is done", "Such as operating theatre, day surgery."),
    "procedure.side": FieldWords("Side", "Either: the side is chosen for the patient."),
    "procedure.edition": FieldWords("Edition", "A number such as 1.0."),
    "procedure.status": FieldWords("Standing"),
    "procedure.owner": FieldWords("Owner"),
    "procedure.authors": FieldWords("Authors", "Who wrote it. The owner and the authors cannot approve it."),
    "procedure.approval": FieldWords("Approval", "Bound to a code of the content; prescrub approve writes it."),
    "procedure.withdrawn": FieldWords("Withdrawal"),
    "procedure.review_by": FieldWords("Review by"),
    "procedure.before_you_start": FieldWords("Before you start", "Short lines. They stand on the card, too."),
    "procedure.kit": FieldWords("Kit", "Everything that is used, in the number in use at once.", "items"),
    "procedure.sequence": FieldWords("Order of the steps"),
    "procedure.aftercare": FieldWords(
        "Shared aftercare", "Written once for many procedures, and used here.", "aftercare"
    ),
    "Action.verb": FieldWords("What is done"),
    "Action.objects": FieldWords("To what", pick="objects"),
    "Action.number": FieldWords("How many"),
    "Action.in": FieldWords("In", pick="structures"),
    "Action.on": FieldWords("On", pick="things"),
    "Action.with": FieldWords("With", pick="items"),
    "Action.stays": FieldWords("Stays in the patient"),
    "Action.nick": FieldWords("Only a nick", "A small cut to see what lies beneath; it goes with “open”."),
    "Action.what": FieldWords("What is said or looked for"),
    "Citation.source": FieldWords("Source", pick="sources"),
    "Citation.at": FieldWords("Where in it", "Such as p. 12."),
    "Citation.level": FieldWords("Level", "Of evidence, in this use."),
    "Figure.file": FieldWords("File", "Lies in the folder figures.", "figures"),
    "Figure.alt": FieldWords("What it shows", "In words, for those who cannot see it.", size="text"),
    "Figure.caption": FieldWords("Caption", size="text"),
    "Figure.pointers": FieldWords("Pointers"),
    "Figure.credit": FieldWords("Whose picture", "Such as own drawing."),
    "Figure.consent": FieldWords("Consent", "“none needed”, or the number of the consent.", "consents"),
    "Figure.crop": FieldWords("Part that is shown", "Left, top, right and bottom in per cent, with commas."),
    "Pointer.at": FieldWords("Where", "Per cent from the left and from the top, with a comma."),
    "Pointer.structure": FieldWords("Structure", pick="structures"),
    "Dose.drug": FieldWords("Drug", pick="items"),
    "Dose.strength": FieldWords("Strength", "Such as 1 % or 10 mg/mL."),
    "Dose.route": FieldWords("Route"),
    "Dose.amount": FieldWords("Fixed amount", "Such as 1 g."),
    "Dose.every": FieldWords("Every", "Such as 6 h."),
    "Dose.per_weight": FieldWords("For each kilogram", "Such as 3 mg/kg."),
    "Dose.cap": FieldWords("Never more than", "Such as 200 mg."),
    "Dose.weights": FieldWords("Weights in the table", "Kilograms, with commas."),
    "Dose.bands": FieldWords("Amounts by weight"),
    "Dose.draw_up": FieldWords("Smallest volume that can be drawn up", "Such as 0.5 mL."),
    "Dose.not_covered": FieldWords("Not covered", "Who must not go by this.", size="text"),
    "Band.from": FieldWords("From, kg"),
    "Band.to": FieldWords("To, kg"),
    "Band.amount": FieldWords("Amount"),
    "When.from": FieldWords("From", "Such as 0 h or 2 days, or an event."),
    "When.until": FieldWords("Until", "Such as 6 h or walking."),
    "When.words": FieldWords("In the patient’s words", "Where it is an event, such as: until you walk freely."),
    "OnlyIf.choice": FieldWords("Choice or option", "Its id in the sequence, such as drain."),
    "OnlyIf.branch": FieldWords("Branch", "Such as taken; several with commas between them."),
    "OnlyIf.words": FieldWords("In words", "Such as: if a drain was left in.", size="text"),
    "Person.role": FieldWords("Role", pick="roles"),
    "Approval.by": FieldWords("By"),
    "Approval.role": FieldWords("Role", pick="approvers"),
    "Approval.content": FieldWords("Code of the content"),
    "Withdrawal.because": FieldWords("Because", size="text"),
    "Acceptance.check": FieldWords("Finding", "Its name."),
    "Acceptance.reason": FieldWords("Reason", size="text"),
    "Choose.when": FieldWords("What decides", size="text"),
    "Choose.between": FieldWords("Ways"),
    "Option.when": FieldWords("When it is done", size="text"),
    "Option.steps": FieldWords("Steps"),
    "Follow.choice": FieldWords("Earlier choice", pick="choices"),
    "Follow.with": FieldWords("What follows from each way"),
    "Structure.close_to": FieldWords("Close to", "What can be hurt when this is cut.", "structures"),
    "Structure.see_first": FieldWords("See it first", "It must be seen before anything it is close to is cut."),
    "Structure.not_close_to": FieldWords("Not close to", "Why a relation of the common catalogue does not hold here."),
    "Structure.off": FieldWords("Switched off", "Why the entry of the common catalogue is not used."),
    "Item.off": FieldWords("Switched off", "Why the entry of the common catalogue is not used."),
    "department.prose": FieldWords("Front page", size="long"),
    "department.site": FieldWords(
        "Address of its site", "Codes and QR codes on paper lead there, for instance https://surgery.example.org/."
    ),
    "department.language": FieldWords("Language", "For instance en-GB."),
    "department.paper": FieldWords("Paper", "For instance A4."),
    "department.wording": FieldWords("Rules for units and abbreviations", "uk or us."),
    "department.review": FieldWords("How long an edition may stand"),
    "ReviewRule.months": FieldWords("Months until the review"),
    "ReviewRule.overdue": FieldWords("When it is overdue", "mark: every paper says so; block: nothing is published."),
    "department.approvers": FieldWords("Who may approve", "Roles, not names."),
    "department.approvals_needed": FieldWords("How many people approve the same content"),
    "department.call": FieldWords("Numbers to call"),
    "Call.role": FieldWords("Role"),
    "Call.number": FieldWords("Number"),
    "Call.from_home": FieldWords("Number from home", "What a patient dials."),
    "Call.always": FieldWords("On every procedure"),
    "department.levels": FieldWords("Scheme of levels of evidence"),
    "department.style": FieldWords("Style of references"),
    "department.notices_months": FieldWords("Months a list of notices may be old"),
    "department.engine": FieldWords("What makes the site", "own, or mkdocs where the department keeps a site with it."),
    "department.parent": FieldWords("Department it is laid over", "Its folder, or its packed copy with the digest."),
    "Parent.folder": FieldWords("Folder", "Seen from this department's folder."),
    "Parent.wheel": FieldWords("Wheel", "A Python package with the department in it."),
    "Parent.archive": FieldWords("Archive", "A .zip or .tar.gz file."),
    "Parent.digest": FieldWords("Digest", "The SHA-256 of the file, as whoever sent it gave it."),
    "Structure.paired": FieldWords("Paired", "There is one on each side."),
    "Item.counted": FieldWords("Counted", "It is in the count of swabs, needles and instruments."),
    "Item.cuts": FieldWords("Cuts", "It cuts when it is used."),
    "Item.seals": FieldWords("Seals", "It seals both ends of what it cuts."),
    "Term.short": FieldWords("Short form"),
    "Term.long": FieldWords("In full"),
    "Term.plain": FieldWords("For patients", "The words a patient would use."),
}  # fmt: skip

ONE = {
    "actions": "action", "at_risk": "structure", "cautions": "caution", "figure": "figure", "dose": "dose",
    "needs": "fact", "gives": "fact", "evidence": "source", "accept": "finding", "guards": "step",
    "goes_with": "aftercare", "before_you_start": "line", "kit": "item", "aftercare": "aftercare", "objects": "object",
    "with": "item", "pointers": "pointer", "bands": "amount", "close_to": "structure", "also": "name",
    "not_close": "relation", "approval": "approval", "authors": "author",
    "between": "way", "steps": "step", "sequence": "step", "approvers": "role", "call": "number", "wording": "rule",
}  # fmt: skip
"""What one entry of a list is called, for its buttons."""

SECTIONS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "step": (
        ("The step", ("title", "critical", "prose")),
        ("Actions", ("actions", "no_actions", "order_matters")),
        ("Knowing that it is done", ("cue", "if_not")),
        ("What can go wrong", ("at_risk", "cautions", "error", "recovery", "call")),
        ("Sources", ("evidence", "common_practice")),
        ("Teaching", ("why", "basis", "whose", "supervision", "minutes")),
        ("Figures", ("figure",)),
        ("Doses", ("dose",)),
        ("Facts between steps", ("needs", "gives")),
        ("Where the operation ends", ("stops_here", "converts_to")),
        ("Accepted findings", ("accept",)),
    ),
    "caution": (
        ("The hazard", ("signal", "hazard", "consequence", "avoid")),
        ("When it happens", ("sign", "if_it_happens", "call")),
        ("Where it belongs", ("guards", "at_risk", "may_be_removed")),
        ("Sources", ("evidence", "common_practice")),
        ("More about it", ("prose",)),
        ("Accepted findings", ("accept",)),
    ),
    "aftercare": (
        ("What is done", ("title", "when", "who", "prose")),
        ("For the patient", ("patient_text",)),
        ("What it belongs to", ("concerns", "goes_with", "only_if")),
        ("Doses", ("dose",)),
        ("Sources", ("evidence", "common_practice")),
        ("Accepted findings", ("accept",)),
    ),
    "department": (
        ("The department", ("name", "site", "engine", "parent", "prose")),
        ("Numbers to call", ("call",)),
        ("Approval and review", ("approvers", "approvals_needed", "review")),
        ("How it is printed", ("paper", "language", "wording", "style", "levels", "notices_months")),
        ("Accepted findings", ("accept",)),
    ),
    "procedure": (
        ("The procedure", ("title", "summary", "specialty", "setting", "side")),
        ("Order of the steps", ("sequence",)),
        ("Before you start", ("before_you_start",)),
        ("Kit", ("kit",)),
        ("Not close in this approach", ("not_close",)),
        ("Who answers for it", ("owner", "authors", "review_by", "edition", "status")),
        ("Why and when", ("prose",)),
        ("Sources", ("evidence", "common_practice")),
        ("Shared aftercare", ("aftercare",)),
        ("Figures", ("figure",)),
        ("Approval and withdrawal", ("approval", "withdrawn")),
        ("Accepted findings", ("accept",)),
    ),
}
"""The sections of each form, and the keys in them; ``prose`` is the text below the front matter."""

ENTRY_WORDS = {
    "step": "Step", "choose": "A choice: one of several ways", "option": "May be left out",
    "follow": "Follows from an earlier choice",
}  # fmt: skip


def words_of(owner: str, key: str) -> FieldWords:
    """Return the words for ``key``, of ``owner`` or whosever; a key without a row is called as it is written."""
    return WORDS.get(f"{owner}.{key}") or WORDS.get(key) or FieldWords(key.replace("_", " ").capitalize())


KEY_NAMED = re.compile(r"`(?P<key>\w+):(?P<value>[^`]*)`")
"""A key that a finding names, as a file has it."""


_SAID_HERE = {
    "proposed-not-confirmed": "Read it, put right what is wrong, then confirm it.",
    "approval-missing": "Have it approved under “Done”, or write “Standing: in review”.",
    "approval-outdated": "Have what changed looked at and approved again, under “Done”.",
    "local-not-confirmed": "Choose under “Local over parent”, on the first page.",
    "parent-changed": "Choose under “Local over parent”, on the first page.",
    "translation-incomplete": "Translate it under “Done”, “The patient’s sheet in other languages”.",
    "translation-out-of-date": "Translate it anew under “Done”, “The patient’s sheet in other languages”.",
    "translation-check-lapsed": "Have it checked again, and confirm that under “Done”, where it was translated.",
    "notices-missing": "Ask whoever keeps this folder for a dated list of papers that were withdrawn.",
}
"""What mends a finding where there is a button for it, or where a command would."""
_COMMAND = re.compile(r",? (?:and|or) (?:run|let) `prescrub[^`]*`(?: do it)?")
"""A command that a hint offers beside: who reads a form has no terminal."""
_FILE = re.compile(r"(?:the file |line \d+ of )?(?:content/)?\b(?P<name>[\w/-]+)\.(?:md|yml)\b")
_ABOUT_FILES = {"parent-unusable", *(name for name, kind in REGISTER.items() if kind.family is FILES)}
"""Findings about a file itself, which has no form."""
_PARTS = {
    "steps": "the step",
    "cautions": "the caution",
    "aftercare": "the aftercare item",
    "local": "the local page of",
}
_PAGES = {"department": "the department’s details", "procedure": "“Details, kit and order”"}
_IN_TICKS = re.compile(r"`(?P<inner>[^`]*)`")
_BY_KEY = {name.rpartition(".")[2]: words for name, words in WORDS.items()}
"""The words for a key of whichever page: a finding may name that of another."""


def in_form(one: Finding, kind: str) -> Finding:
    """Return ``one`` in the words of the form of ``kind``: its labels in place of the keys of the file, and what is
    shown in place of the names of files."""

    def label(match: re.Match[str]) -> str:
        inner = match["inner"]
        key, colon, value = inner.partition(":")
        value = value.rstrip()
        if key in VERBS:
            return f"“{key.capitalize()}{value.replace('[', '').replace(']', '')}”"
        owners = (f"{kind}.{key}", key, f"Action.{key}")
        known = next((WORDS[name] for name in owners if name in WORDS), None if kind == "sources" else _BY_KEY.get(key))
        value = "" if value.strip() in ("true", "...") else value
        return f"“{known.label}{value and colon}{value}”" if known else f"“{inner}”"

    if one.name == "not-answered-yet" and (asked := _ASKED_KEY.search(one.message)):
        return replace(one, message=f"Not said yet: {_labels(kind, asked['key'])}")
    hint = _SAID_HERE.get(one.name) or _COMMAND.sub("", one.hint)
    message, hint = (_IN_TICKS.sub(label, words) for words in (one.message, hint))
    if one.name not in _ABOUT_FILES:
        message, hint = (_FILE.sub(_without_file, words) for words in (message, hint))
    return replace(one, message=message, hint=hint)


_ASKED_KEY = re.compile(r"is still the answer to '(?P<key>[^']+)'")


def _labels(kind: str, key: str) -> str:
    """Return what the form calls a key, and a key within it: ``when: from``."""
    names = [(f"{kind}.{part}", part, f"When.{part}") for part in key.split(": ")]
    known = [next((WORDS[name].label for name in named if name in WORDS), named[1]) for named in names]
    return ", ".join([known[0], *(part.lower() for part in known[1:])])


def _without_file(match: re.Match[str]) -> str:
    """Return what the reader of a form calls the file that is named."""
    folder, _, id = match["name"].rpartition("/")
    if folder == "catalogue":
        return f"the catalogue of {id.partition('-')[0]}"
    part = _PARTS.get(folder.rpartition("/")[2])
    return f"{part} “{id.replace('-', ' ')}”" if part else _PAGES.get(id, match[0])

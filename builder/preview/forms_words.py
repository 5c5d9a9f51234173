"""What the forms call each key, and what they say about it: one table, beside the shapes that ask for it.

The meanings are those of FORMAT.md. A test holds that every key of the model has a row here, and no other has.
"""

from __future__ import annotations

from typing import NamedTuple


class Words(NamedTuple):
    """``label`` and ``help`` in plain words; ``pick`` names the list to choose from; ``size``: line, text, or long."""

    label: str
    help: str = ""
    pick: str = ""
    size: str = "line"


_SOURCES = "What this rests on, from the register of sources."
_NO_SOURCE = "No source is claimed: this is how it is commonly done."
_ACCEPT = "Findings of this page that the department accepts, each with its reason."

WORDS: dict[str, Words] = {
    "step.title": Words("What is done", "An instruction. It starts with a verb.", size="text"),
    "step.critical": Words("Critical", "A slip here does lasting harm."),
    "step.basis": Words("Why this way", "Everybody must, somebody prefers to, or this house does."),
    "step.whose": Words("Whose preference", "The role of the person who prefers it.", "roles"),
    "step.supervision": Words("What a trainee does"),
    "step.minutes": Words("Minutes"),
    "step.actions": Words("Actions", "What is done, in order. The check of the whole operation reads these."),
    "step.cue": Words("Seen when it is done", "What the operator observes.", size="text"),
    "step.if_not": Words("If that is not seen", "What to do then.", size="text"),
    "step.why": Words("Reason", "Why the step is needed.", size="text"),
    "step.at_risk": Words("Structures at risk", pick="structures"),
    "step.error": Words("The usual slip", "What goes wrong most often.", size="text"),
    "step.recovery": Words("How to put it right", size="text"),
    "step.call": Words("Whom to call", pick="roles"),
    "step.cautions": Words("Cautions before this step", "They stand before it wherever it is read.", "cautions"),
    "step.figure": Words("Figures"),
    "step.dose": Words("Doses", "Tables are worked out from these, rounded down."),
    "step.needs": Words("Must hold before", "Facts that an earlier step gives."),
    "step.gives": Words("Holds afterwards", "Facts that a later step can need."),
    "step.evidence": Words("Sources", _SOURCES),
    "step.common_practice": Words("Common practice", _NO_SOURCE),
    "step.accept": Words("Accepted findings", _ACCEPT),
    "caution.signal": Words("How grave", "Danger: kills or maims if not avoided. Warning: could. "
                            "Caution: lesser injury. Notice: no injury."),
    "caution.hazard": Words("What can happen", size="text"),
    "caution.consequence": Words("What it leads to", size="text"),
    "caution.avoid": Words("How it is avoided", size="text"),
    "caution.sign": Words("How it shows", "What the operator or the ward sees.", size="text"),
    "caution.if_it_happens": Words("If it happens", "What to do then.", size="text"),
    "caution.call": Words("Whom to call", pick="roles"),
    "caution.guards": Words("Steps it guards", "It is read before these.", "steps"),
    "caution.at_risk": Words("Structures at risk", pick="structures"),
    "caution.evidence": Words("Sources", _SOURCES),
    "caution.common_practice": Words("Common practice", _NO_SOURCE),
    "caution.accept": Words("Accepted findings", _ACCEPT),
    "aftercare.title": Words("What is done", size="text"),
    "aftercare.when": Words("When"),
    "aftercare.who": Words("Who does it", pick="roles"),
    "aftercare.concerns": Words("Item that stays", "What was left in and comes out at the end of this time.",
                                "items"),
    "aftercare.goes_with": Words("Goes with", "Other aftercare that must not be forgotten beside it.", "aftercare"),
    "aftercare.dose": Words("Doses", "Tables are worked out from these, rounded down."),
    "aftercare.patient_text": Words("For the patient", "Plain words for the patient’s sheet.", size="long"),
    "aftercare.evidence": Words("Sources", _SOURCES),
    "aftercare.common_practice": Words("Common practice", _NO_SOURCE),
    "aftercare.accept": Words("Accepted findings", _ACCEPT),
    "procedure.title": Words("Name of the procedure", size="text"),
    "procedure.specialty": Words("Specialty"),
    "procedure.summary": Words("In one sentence", size="text"),
    "procedure.setting": Words("Where it is done", "Such as operating theatre, day surgery."),
    "procedure.side": Words("Side", "Either: the side is chosen for the patient."),
    "procedure.edition": Words("Edition", "A number such as 1.0."),
    "procedure.status": Words("Standing"),
    "procedure.owner": Words("Owner"),
    "procedure.approval": Words("Approval", "Bound to a code of the content, which the check prints."),
    "procedure.withdrawn": Words("Withdrawal"),
    "procedure.review_by": Words("Review by"),
    "procedure.before_you_start": Words("Before you start", "Short lines. They stand on the card, too."),
    "procedure.kit": Words("Kit", "Everything that is used, in the number in use at once.", "items"),
    "procedure.sequence": Words("Order of the steps"),
    "procedure.aftercare": Words("Shared aftercare", "Written once for many procedures, and used here.", "aftercare"),
    "procedure.figure": Words("Figures"),
    "procedure.evidence": Words("Sources", _SOURCES),
    "procedure.common_practice": Words("Common practice", _NO_SOURCE),
    "procedure.accept": Words("Accepted findings", _ACCEPT),
    "Action.verb": Words("What is done"),
    "Action.objects": Words("To what", pick="objects"),
    "Action.side": Words("Side"),
    "Action.number": Words("How many"),
    "Action.in": Words("In", pick="structures"),
    "Action.on": Words("On", pick="things"),
    "Action.with": Words("With", pick="items"),
    "Action.stays": Words("Stays in the patient"),
    "Action.nick": Words("Only a nick", "A small cut to see what lies beneath; it goes with “open”."),
    "Action.what": Words("What is said or looked for"),
    "Citation.source": Words("Source", pick="sources"),
    "Citation.at": Words("Where in it", "Such as p. 12."),
    "Citation.level": Words("Level", "Of evidence, in this use."),
    "Figure.file": Words("File", "Lies in the folder figures.", "figures"),
    "Figure.alt": Words("What it shows", "In words, for those who cannot see it.", size="text"),
    "Figure.caption": Words("Caption", size="text"),
    "Figure.pointers": Words("Pointers"),
    "Figure.credit": Words("Whose picture", "Such as own drawing."),
    "Figure.consent": Words("Consent", "“none needed”, or the number of the consent.", "consents"),
    "Figure.side": Words("Side"),
    "Figure.crop": Words("Part that is shown", "Left, top, right and bottom in per cent, with commas."),
    "Pointer.at": Words("Where", "Per cent from the left and from the top, with a comma."),
    "Pointer.structure": Words("Structure", pick="structures"),
    "Dose.drug": Words("Drug", pick="items"),
    "Dose.strength": Words("Strength", "Such as 1 % or 10 mg/mL."),
    "Dose.route": Words("Route"),
    "Dose.amount": Words("Fixed amount", "Such as 1 g."),
    "Dose.every": Words("Every", "Such as 6 h."),
    "Dose.per_weight": Words("For each kilogram", "Such as 3 mg/kg."),
    "Dose.cap": Words("Never more than", "Such as 200 mg."),
    "Dose.weights": Words("Weights in the table", "Kilograms, with commas."),
    "Dose.bands": Words("Amounts by weight"),
    "Dose.draw_up": Words("Smallest volume that can be drawn up", "Such as 0.5 mL."),
    "Dose.not_covered": Words("Not covered", "Who must not go by this.", size="text"),
    "Dose.evidence": Words("Sources", _SOURCES),
    "Dose.common_practice": Words("Common practice", _NO_SOURCE),
    "Band.from": Words("From, kg"),
    "Band.to": Words("To, kg"),
    "Band.amount": Words("Amount"),
    "When.from": Words("From", "Such as 0 h or 2 days, or an event."),
    "When.until": Words("Until", "Such as 6 h or walking."),
    "Person.name": Words("Name"),
    "Person.role": Words("Role", pick="roles"),
    "Approval.by": Words("By"),
    "Approval.role": Words("Role", pick="approvers"),
    "Approval.on": Words("On"),
    "Approval.content": Words("Code of the content"),
    "Withdrawal.on": Words("On"),
    "Withdrawal.because": Words("Because", size="text"),
    "Acceptance.check": Words("Finding", "Its number or its name."),
    "Acceptance.reason": Words("Reason", size="text"),
    "Choose.id": Words("Short name", "Small letters and hyphens."),
    "Choose.title": Words("Title"),
    "Choose.when": Words("What decides", size="text"),
    "Choose.between": Words("Ways"),
    "Option.id": Words("Short name", "Small letters and hyphens."),
    "Option.title": Words("Title"),
    "Option.when": Words("When it is done", size="text"),
    "Option.steps": Words("Steps"),
    "Follow.choice": Words("Earlier choice", pick="choices"),
    "Follow.with": Words("What follows from each way"),
    "Structure.id": Words("Short name", "Small letters and hyphens."),
    "Structure.name": Words("Name"),
    "Structure.kind": Words("What it is"),
    "Structure.close_to": Words("Close to", "What can be hurt when this is cut.", "structures"),
    "Structure.see_first": Words("See it first", "It must be seen before anything it is close to is cut."),
    "Structure.paired": Words("Paired", "There is one on each side."),
    "Structure.also": Words("Other names"),
    "Item.id": Words("Short name", "Small letters and hyphens."),
    "Item.name": Words("Name"),
    "Item.kind": Words("What it is"),
    "Item.counted": Words("Counted", "It is in the count of swabs, needles and instruments."),
    "Item.cuts": Words("Cuts", "It cuts when it is used."),
    "Item.also": Words("Other names"),
    "Term.short": Words("Short form"),
    "Term.long": Words("In full"),
    "Term.plain": Words("For patients", "The words a patient would use."),
}  # fmt: skip

ONE = {
    "actions": "action", "at_risk": "structure", "cautions": "caution", "figure": "figure", "dose": "dose",
    "needs": "fact", "gives": "fact", "evidence": "source", "accept": "finding", "guards": "step",
    "goes_with": "aftercare", "before_you_start": "line", "kit": "item", "aftercare": "aftercare", "objects": "object",
    "with": "item", "pointers": "pointer", "bands": "amount", "close_to": "structure", "also": "name",
    "between": "way", "steps": "step", "sequence": "step",
}  # fmt: skip
"""What one entry of a list is called, for its buttons."""

PROSE = {
    "step": Words("How it is done", "Sentences of at most 20 words. It is printed below the instruction.", size="long"),
    "caution": Words("More about it", "May stay empty.", size="long"),
    "aftercare": Words("For staff", "May stay empty.", size="long"),
    "procedure": Words("Why and when", size="long"),
}

SECTIONS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "step": (
        ("The step", ("title", "critical", "prose")),
        ("Actions", ("actions",)),
        ("Knowing that it is done", ("cue", "if_not")),
        ("What can go wrong", ("at_risk", "cautions", "error", "recovery", "call")),
        ("Sources", ("evidence", "common_practice")),
        ("Teaching", ("why", "basis", "whose", "supervision", "minutes")),
        ("Figures", ("figure",)),
        ("Doses", ("dose",)),
        ("Facts between steps", ("needs", "gives")),
        ("Accepted findings", ("accept",)),
    ),
    "caution": (
        ("The hazard", ("signal", "hazard", "consequence", "avoid")),
        ("When it happens", ("sign", "if_it_happens", "call")),
        ("Where it belongs", ("guards", "at_risk")),
        ("Sources", ("evidence", "common_practice")),
        ("More about it", ("prose",)),
        ("Accepted findings", ("accept",)),
    ),
    "aftercare": (
        ("What is done", ("title", "when", "who", "prose")),
        ("For the patient", ("patient_text",)),
        ("What it belongs to", ("concerns", "goes_with")),
        ("Doses", ("dose",)),
        ("Sources", ("evidence", "common_practice")),
        ("Accepted findings", ("accept",)),
    ),
    "procedure": (
        ("The procedure", ("title", "summary", "specialty", "setting", "side")),
        ("Order of the steps", ("sequence",)),
        ("Before you start", ("before_you_start",)),
        ("Kit", ("kit",)),
        ("Who answers for it", ("owner", "review_by", "edition", "status")),
        ("Why and when", ("prose",)),
        ("Sources", ("evidence", "common_practice")),
        ("Shared aftercare", ("aftercare",)),
        ("Figures", ("figure",)),
        ("Approval and withdrawal", ("approval", "withdrawn")),
        ("Accepted findings", ("accept",)),
    ),
}
"""The sections of each form, and the keys in them; ``prose`` is the text below the front matter."""

KIND_WORDS = {"step": "step", "caution": "caution", "aftercare": "aftercare", "procedure": "procedure"}
ENTRY_WORDS = {
    "step": "Step", "choose": "A choice: one of several ways", "option": "May be left out",
    "follow": "Follows from an earlier choice",
}  # fmt: skip
CHOICE_WORDS = {"": "not said"}


def words_of(owner: str, key: str) -> Words:
    """Return the words for ``key`` of ``owner``; a key without a row is called as it is written."""
    return WORDS.get(f"{owner}.{key}") or Words(key.replace("_", " ").capitalize())

"""60 edits that a committee makes in its copy of the hernia repair, and what must come of each.

``outcome`` is "change" where it must come back to its key, "comment", "nothing" for what changes no word, else a part
of the reason with which it must be told. ``in_file`` says what the file has afterwards, where that is not the edit
itself.
"""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class CommitteeEdit:
    """One edit: what is done, in which paragraph, as which person; and what must come of it."""

    do: str
    id: str
    outcome: str
    more: dict[str, Any] = field(default_factory=dict)
    author: str = "Ann Example"
    tracked: bool = True
    also: tuple[str, ...] = ()
    """Ids of other paragraphs that the same edit touches, of which the same must be told."""
    in_file: tuple[str, str] | None = None

    @property
    def asked(self) -> dict[str, Any]:
        """What the word processor is told."""
        return {"do": self.do, "id": self.id, "author": self.author, "tracked": self.tracked, **self.more}


BEN, CAT = "Ben Example", "Cat Example"


def _r(id: str, old: str, new: str, outcome: str = "change", **more: Any) -> CommitteeEdit:
    extra = {"last": True} if more.pop("last", False) else {}
    return CommitteeEdit("replace", id, outcome, {"old": old, "new": new, **extra}, **more)


EDITS = (
    # words and numbers in text, tracked, by three people
    _r("step_check_side_cue", "all say", "each say"),
    _r("step_check_side_if_not", "Do not drape", "Do not drape or scrub"),
    _r("step_infiltrate_local_if_not", "five", "ten", author=BEN),
    _r("step_lay_mesh_cue", "2 cm", "3 cm", author=BEN),
    _r("step_lay_mesh_figure_caption", "medially", "on its medial side", author=CAT),
    _r("step_free_cord_why", "no sac lies", "no hernial sac lies", author=CAT),
    _r("caution_nerve_injury_avoid", "all three nerves", "each of the three nerves", author=BEN),
    _r("caution_alcohol_fire_sign", "Heat, a smell", "Warmth, a smell"),
    _r("aftercare_pain_relief_patient_text", "five days", "3 days", author=CAT),
    _r("step_free_cord_minutes", "6", "8", author=BEN),
    _r("about_summary", "flat mesh", "flat, light mesh"),
    _r("before_you_start_3", "allergies known", "allergies written on the board"),
    # the same, untracked: whoever did it is not known
    _r("step_free_cord_error", "left behind", "left lying", tracked=False),
    _r("step_free_cord_recovery", "pass it again", "pass it anew", tracked=False),
    _r("caution_wrong_side_consequence", "healthy groin", "sound groin", tracked=False),
    _r("step_lay_mesh_if_not", "larger", "wider", tracked=False),
    _r("aftercare_pain_relief_when", "5 days", "4 days", tracked=False),
    _r("before_you_start_6", "in date, sealed", "in date and sealed", tracked=False),
    # tables: a dose and a number of the kit
    _r("aftercare_pain_relief_dose_amount", "1 g", "500 mg"),
    _r("aftercare_pain_relief_dose_every", "6 h", "8 h", author=BEN, tracked=False),
    _r("kit_artery_forceps", "4", "6", author=CAT),
    _r("kit_lidocaine", "2", "3", tracked=False),
    # prose with links; titles; texts of an action
    _r("step_infiltrate_local_prose_1", "frail", "frail or light", author=BEN),
    _r("caution_nerve_injury_prose_1", "what became of each", "what happened to each"),
    _r("about_prose_6", "urine", "urine, sometimes for days", author=CAT),
    _r("step_lay_mesh", "flat,", "flat and slack,"),
    _r("step_free_cord_action_6", "in their beds", "left in their beds"),
    _r("step_open_canal_action_2", "scalpel blade", "skin blade", author=BEN),
    _r("choose_anaesthesia_when", "before theatre", "at the clinic", author=CAT),
    # put in at the end and at the beginning
    CommitteeEdit("append", "step_check_side_error", "change", {"new": " Read it aloud."}, BEN,
                  in_file=("not from the skin.", "not from the skin. Read it aloud.")),
    CommitteeEdit("append", "step_prepare_skin_if_not", "change", {"new": " Say so."}, tracked=False,
                  in_file=("mark or landmark is covered.", "mark or landmark is covered. Say so.")),
    _r("step_open_canal_why", "The nerve lies", "As a rule the nerve lies", author=CAT),
    _r("step_open_canal_error", "Closed scissors", "Blunt, closed scissors"),
    # all of a text typed anew, and a word taken out
    _r("step_open_canal_recovery", "Stop cutting. Free the nerve, look for a nick, and call.", "Stop, free it, call.",
       author=BEN),
    _r("step_lay_mesh_recovery", "Open a new mesh.", "Take a new one from the shelf.", tracked=False),
    _r("step_open_canal_cue", " both", "", author=CAT),
    # what changes no word
    CommitteeEdit("bold", "step_free_cord_cue", "nothing", {"old": "bare pubic tubercle"}),
    # comments of three people, one of them without a name
    CommitteeEdit("comment", "step_free_cord_if_not", "comment", {"old": "Start again", "new": "How long?"}, BEN),
    CommitteeEdit("comment", "caution_alcohol_fire_avoid", "comment", {"old": "dry", "new": "Name the minutes."}, CAT),
    CommitteeEdit("comment", "step_infiltrate_local_cue", "comment", {"old": "no pain", "new": "Or a little?"}, ""),
    CommitteeEdit("comment", "kit_cord_tape", "comment", {"old": "1", "new": "Which width?"}, BEN),
    CommitteeEdit("comment", "aftercare_opioid_rescue_prose_1", "comment", {"old": "needed", "new": "By whom?"}, CAT),
    # what is ours, or runs over a link
    _r("step_prepare_skin_cue", "Go on when", "Stop when", "not text of the file"),
    _r("step_open_canal_action_4", "Identify", "Look for", "not text of the file", author=BEN),
    _r("step_check_side", "1  Confirm", "2  Confirm", "not text of the file", tracked=False),
    _r("step_check_side_evidence", "safety-checklist-2009", "safety-checklist-2010", "not text of the file"),
    _r("step_open_canal_prose_1", "The iliohypogastric nerve may", "It may", "of a link", author=CAT),
    # paragraphs deleted, emptied, put in, split, joined, moved
    CommitteeEdit("delete", "step_look_for_sacs_error", "deleted", author=BEN),
    CommitteeEdit("delete", "step_incise_skin_if_not", "gone", tracked=False),
    CommitteeEdit("empty", "caution_wrong_side_sign", "deleted", author=CAT),
    CommitteeEdit("new_paragraph", "step_incise_skin_cue", "put in below", {"new": "Say aloud what you see."}),
    CommitteeEdit("new_paragraph", "step_test_block_cue", "put in below", {"new": "Wait for it."}, tracked=False),
    CommitteeEdit("split", "step_open_canal_if_not", "split", {"old": "Lift the edges"}, author=BEN),
    CommitteeEdit("join", "caution_anaesthetic_toxicity_call", "joined",
                  also=("caution_anaesthetic_toxicity_evidence",)),
    CommitteeEdit("move", "step_look_for_sacs_recovery", "now stands below", {"to": "step_look_for_sacs_cue"}, CAT),
    # tables pasted, a row taken out, a row put in, cells joined
    CommitteeEdit("table", "about_prose_4", "put in below", {"rows": [["Man", "offer"], ["Woman", "look"]]}, BEN),
    CommitteeEdit("table", "step_lay_mesh_prose_1", "put in below", {"rows": [["7 cm", "15 cm"]]}, tracked=False),
    CommitteeEdit("delete_row", "kit_needle_holder", "", author=CAT, also=("kit_needle_holder_label",)),
    CommitteeEdit("insert_row", "kit_radio_opaque_swab", "put in below", {"row": ["Small swab", "9"]}, author=BEN),
    CommitteeEdit("merge_cells", "kit_polyglactin_tie", "", tracked=False, also=("kit_polyglactin_tie_label",)),
)  # fmt: skip

"""What a page says of its own dose, in sentences written before the rules that read them (common practice)."""

from __future__ import annotations

import pytest
from department import Overlay, read

HEAD = "---\ntitle: Planted\nwhen: {from: 0 h, until: 5 days}\n"
PILLS = "dose: {drug: paracetamol, route: by mouth, amount: 1 g, every: 6 h, common_practice: true}\n"
WEIGHED = (
    "dose: {drug: lidocaine, strength: 10 mg/mL, route: under the skin, per_weight: 3 mg/kg, cap: 200 mg, "
    "weights: [50], common_practice: true}\n"
)
SHOT = "dose: {drug: paracetamol, route: into a vein, amount: 1 g, every: 12 h, common_practice: true}\n"

HEPARIN = (
    "dose: {drug: heparin, strength: 1000 units/mL, route: into a vein, amount: 5000 units, every: 24 h, "
    "common_practice: true}\n"
)
BANDED = (
    "dose: {drug: enoxaparin, route: under the skin, every: 12 h, "
    "bands: [{from: 40, to: 59, amount: 40 mg}, {from: 60, to: 90, amount: 60 mg}], common_practice: true}\n"
)

WRONG = [
    (PILLS, "staff", "Two tablets of 500 mg four times a day make 5 g a day."),
    (PILLS, "patient", "Have two 500 mg tablets each time, and never more than 10 tablets a day."),
    (PILLS, "patient", "Take four 500 mg tablets every 6 hours until you are comfortable."),
    (PILLS, "patient", "Take two 500 mg tablets at 8 am, 11 am, 2 pm and 5 pm."),
    (PILLS, "patient", "One dose of paracetamol every other day is enough."),
    (PILLS, "staff", "Prescribe 1 g 4-hourly."),
    (PILLS, "staff", "Give 1 g intravenously every 6 hours."),
    (PILLS, "staff", "The most in one day is 8 g a day."),
    (WEIGHED, "staff", "At 60 kg that is up to 190 mg."),
    (WEIGHED, "staff", "The dose is 3 mg for each kg, so a woman of 50 kg has at most 250 mg."),
    (WEIGHED, "staff", "Use the 20 mg/mL solution."),
    (WEIGHED, "staff", "Nobody has more than 200 mg (40 mL)."),
    (WEIGHED, "staff", "150 mg is 30 mL of 10 mg/mL."),
    (WEIGHED, "staff", "Allow 30 mg per kilogram."),
    (SHOT, "staff", "Give it as an injection every evening."),
]
WRONG += [
    (HEPARIN, "staff", "Draw up 0.5 mL of 1000 units/mL and give it."),
    (HEPARIN, "staff", "Give 5000 units under the skin."),
    (HEPARIN, "staff", "Give 5000 units, which is 50 mL."),
    (HEPARIN, "staff", "The anaesthetist gives 2500 units."),
    (BANDED, "staff", "A patient of 70 kg gets 40 mg."),
    (BANDED, "patient", "You have one injection a day."),
    (BANDED, "patient", "Inject yourself at 8 am and at noon."),
    (WEIGHED, "staff", "Never give more than 300 mg."),
]
RIGHT = [
    (PILLS, "staff", "Two tablets of 500 mg four times a day make 4 g a day."),
    (PILLS, "patient", "Have two 500 mg tablets each time, and never more than 8 tablets a day."),
    (PILLS, "patient", "Take two 500 mg tablets at 7 am, 1 pm, 7 pm and 1 am. Wash your hands every morning."),
    (PILLS, "staff", "Frail patients under 50 kg take 500 mg every 6 hours."),
    (PILLS, "staff", "If it was given into a vein in theatre, wait 6 hours before the first tablet."),
    (PILLS, "patient", "Look at the wound each day. Take the tablets every 6 hours, day and night."),
    (WEIGHED, "staff", "At 60 kg that is up to 180 mg, which is 18 mL."),
    (WEIGHED, "staff", "A vial holds 20 mL of 10 mg/mL, more than anybody has."),
    (WEIGHED, "staff", "The 20 mg/mL vial looks the same: it is another strength."),
    (WEIGHED, "staff", "Nobody has more than 200 mg (20 mL), and 5 mL go into each corner."),
    (HEPARIN, "staff", "Give 5000 units, which is 5 mL, into a vein."),
    (HEPARIN, "staff", "The ampoule holds 5000 units."),
    (BANDED, "staff", "A patient of 70 kg gets 60 mg."),
    (BANDED, "patient", "Inject yourself at 8 am and 8 pm."),
    (WEIGHED, "staff", "Never give more than 200 mg."),
    (SHOT, "staff", "Give it every morning and every evening. Flush the line once a day."),
]


def said(overlay: Overlay, dose: str, reader: str, text: str) -> list[str]:
    patient = f'patient_text: "{text}"\n' if reader == "patient" else ""
    body = text if reader == "staff" else ""
    page = f"{HEAD}{dose}{patient}common_practice: true\n---\n{body}\n"
    _, findings = read(overlay({"content/procedures/example/aftercare/planted.md": page}))
    about = ("dose-told-otherwise", "dose-arithmetic-wrong", "dose-over-stated-limit", "patient-told-other-dose")
    return [finding.message for finding in findings if finding.at.file.endswith("planted.md") and finding.name in about]


@pytest.mark.parametrize(("dose", "reader", "text"), WRONG, ids=[text for _, _, text in WRONG])
def test_another_dose_in_words_is_found(dose: str, reader: str, text: str, overlay: Overlay) -> None:
    assert said(overlay, dose, reader, text)


@pytest.mark.parametrize(("dose", "reader", "text"), RIGHT, ids=[text for _, _, text in RIGHT])
def test_same_dose_in_other_words_is_left_alone(dose: str, reader: str, text: str, overlay: Overlay) -> None:
    assert said(overlay, dose, reader, text) == []


@pytest.mark.parametrize(("drug", "found"), [("bupivacaine", True), ("lidocaine", False)])
def test_dose_is_that_of_the_drug_that_the_step_injects(drug: str, found: bool, overlay: Overlay) -> None:
    step = (
        f"---\ntitle: Inject the local anaesthetic in layers\nactions:\n  - inject: lidocaine\n"
        f"dose: {{drug: {drug}, strength: 1 %, route: into the skin, amount: 10 mL, common_practice: true}}\n"
        "cautions: [toxic-dose]\ncommon_practice: true\n---\nDraw back before each push of the plunger.\n"
    )
    _, findings = read(overlay({"content/procedures/example/steps/inject-local.md": step}))
    assert any("what the step injects is lidocaine" in finding.message for finding in findings) == found

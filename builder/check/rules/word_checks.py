"""The checks of words, doses, sides, identity, aftercare and reading order, as rows of the table of checks."""

from __future__ import annotations

from builder.check.hit import Check
from builder.check.rules import (
    aftercare_times,
    dose_words,
    doses,
    patient_names,
    pointers,
    reading,
    side_words,
    wording,
)
from builder.findings.finding import Severity

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

WORD_CHECKS: tuple[Check, ...] = (
    # WP: the wording packs of the department's country
    Check("WP01", "unit-abbreviated", _WARNING, wording.units_abbreviated),
    Check("WP02", "trailing-zero", _WARNING, wording.trailing_zeros),
    Check("WP03", "naked-decimal", _WARNING, wording.naked_decimals),
    Check("WP04", "unit-run-in", _NOTE, wording.run_in_units),
    Check("WP05", "directions-abbreviated", _NOTE, wording.directions_abbreviated),
    Check("WP06", "drug-name-abbreviated", _WARNING, wording.drug_names_abbreviated),
    Check("WP07", "zeros-without-separator", _NOTE, wording.no_separators),
    Check("WP08", "smaller-unit-needed", _NOTE, wording.small_fractions),
    Check("WP09", "notation-unclear", _NOTE, wording.unclear_notations),
    Check("WP10", "wording-packs-in-conflict", _WARNING, wording.packs_in_conflict),
    # DO: the doses hold together
    Check("DO01", "dose-unreadable", _ERROR, doses.unreadable),
    Check("DO02", "dose-bands-gap", _ERROR, doses.band_gaps),
    Check("DO03", "dose-bands-overlap", _ERROR, doses.band_overlaps),
    Check("DO04", "dose-without-cap", _WARNING, doses.missing_caps),
    Check("DO05", "dose-jump", _WARNING, doses.jumps),
    Check("DO06", "dose-above-ceiling", _ERROR, doses.above_ceiling),
    Check("DO07", "dose-kinds-differ", _ERROR, doses.kinds_differ),
    Check("DO08", "dose-ceilings-differ", _WARNING, doses.ceilings_differ),
    Check("DO09", "anaesthetics-over-limit", _WARNING, doses.anaesthetics_together),
    Check("DO10", "dose-implausible", _WARNING, dose_words.implausible),
    Check("DO11", "dose-differs-from-stated", _WARNING, dose_words.differ_from_stated),
    Check("DO12", "dose-arithmetic-wrong", _ERROR, dose_words.arithmetic_wrong),
    # SI: one side, or both, and said so
    Check("SI01", "other-side-named", _ERROR, side_words.other_side),
    Check("SI02", "figure-on-other-side", _ERROR, side_words.figures_on_other_side),
    Check("SI03", "figure-without-side", _NOTE, side_words.figures_without_side),
    # ID: nothing that names a patient
    Check("ID01", "nhs-number", _ERROR, patient_names.nhs_numbers),
    Check("ID02", "date-of-birth", _ERROR, patient_names.dates_of_birth),
    Check("ID03", "hospital-number", _WARNING, patient_names.hospital_numbers),
    Check("ID04", "name-of-person", _WARNING, patient_names.names),
    Check("ID05", "file-name-telling", _WARNING, patient_names.telling_file_names),
    Check("ID06", "consent-unknown", _WARNING, patient_names.consents_unknown),
    Check("ID07", "consent-withdrawn", _WARNING, patient_names.consents_withdrawn),
    # AF: what the patient needs afterwards fits together
    Check("AF01", "aftercare-pair-missing", _WARNING, aftercare_times.pairs_missing),
    Check("AF02", "aftercare-time-reversed", _ERROR, aftercare_times.times_reversed),
    Check("AF03", "aftercare-times-in-conflict", _WARNING, aftercare_times.times_in_conflict),
    Check("AF04", "patient-told-otherwise", _WARNING, aftercare_times.patient_told_otherwise),
    Check("AF05", "patient-told-other-dose", _WARNING, aftercare_times.patient_told_other_dose),
    Check("AF06", "patient-told-unknown-number", _WARNING, aftercare_times.patient_told_unknown_number),
    Check("AF07", "time-not-understood", _WARNING, aftercare_times.times_not_understood),
    # RO: reading order of words
    Check("RO01", "abbreviation-not-spelt-out", _NOTE, reading.not_spelt_out),
    Check("RO02", "abbreviation-unknown", _NOTE, reading.unknown_abbreviations),
    Check("RO03", "written-two-ways", _NOTE, reading.written_two_ways),
    Check("RO04", "term-without-plain-words", _NOTE, reading.terms_without_plain_words),
    Check("RO05", "figure-not-mentioned", _NOTE, pointers.figures_not_mentioned),
    Check("RO06", "table-not-mentioned", _NOTE, pointers.tables_not_mentioned),
    Check("RO07", "pointer-to-nothing", _WARNING, pointers.pointers_to_nothing),
    Check("RO08", "pointer-typed-by-hand", _NOTE, pointers.pointers_by_hand),
)

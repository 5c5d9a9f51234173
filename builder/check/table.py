"""The ordered table of checks. A new check is a generator in ``rules/``, a row here, and a page in ``pages/``."""

from __future__ import annotations

from builder.check.hit import Check
from builder.check.rules import (
    caution_order,
    citations,
    critical_steps,
    editions,
    figures,
    hidden_prose,
    instructions,
    named_entries,
    named_parts,
    proposed,
    review,
    source_notices,
    source_records,
)
from builder.check.rules.path_rules import PATH_CHECKS
from builder.check.rules.word_checks import WORD_CHECKS
from builder.findings.finding import Severity

_ERROR, _WARNING, _NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE

CHECKS: tuple[Check, ...] = (
    # XR: what is named exists, and what exists is named
    Check("XR01", "step-unknown", _ERROR, named_parts.unknown_steps),
    Check("XR02", "caution-unknown", _ERROR, named_parts.unknown_cautions),
    Check("XR03", "aftercare-unknown", _ERROR, named_parts.unknown_aftercare),
    Check("XR04", "structure-unknown", _ERROR, named_entries.unknown_structures),
    Check("XR05", "item-unknown", _ERROR, named_entries.unknown_items),
    Check("XR06", "wrong-kind-of-object", _ERROR, named_entries.wrong_kinds),
    Check("XR07", "choice-unknown", _ERROR, named_parts.unknown_choices),
    Check("XR08", "branch-unknown", _ERROR, named_parts.unknown_branches),
    Check("XR09", "choice-id-used-twice", _ERROR, named_parts.choice_ids_twice),
    Check("XR10", "procedure-unknown", _ERROR, named_parts.unknown_procedures),
    Check("XR11", "figure-unknown", _ERROR, citations.unknown_figures),
    Check("XR12", "link-unclear", _ERROR, citations.unclear_links),
    Check("XR13", "step-not-used", _WARNING, named_parts.unused_steps),
    Check("XR14", "caution-not-used", _WARNING, named_parts.unused_cautions),
    Check("XR15", "aftercare-left-out", _ERROR, named_parts.aftercare_left_out),
    Check("XR16", "aftercare-not-used", _NOTE, named_parts.unused_aftercare),
    Check("XR17", "term-written-twice", _ERROR, named_entries.terms_twice),
    # CI: what is cited exists
    Check("CI01", "source-unknown", _ERROR, citations.unknown_sources),
    # OR: what must be read first stands first
    Check("OR01", "caution-after-step", _ERROR, caution_order.caution_after_step),
    Check("OR02", "caution-linked-early", _NOTE, caution_order.caution_linked_early),
    # WD: how it is written
    Check("WD01", "title-no-instruction", _NOTE, instructions.titles_that_are_no_instruction),
    Check("WD02", "sentence-too-long", _NOTE, instructions.long_sentences),
    Check("WD03", "prose-not-shown", _WARNING, hidden_prose.prose_not_shown),
    # FG: what a figure must say of itself
    Check("FG01", "figure-without-alt", _ERROR, figures.without_alt),
    Check("FG02", "figure-without-credit", _ERROR, figures.without_credit),
    Check("FG03", "figure-without-consent", _ERROR, figures.without_consent),
    Check("FG04", "figure-file-missing", _ERROR, figures.missing_files),
    Check("FG05", "figure-file-not-used", _WARNING, figures.unused_files),
    # RV: what the department must have settled
    Check("RV01", "review-date-missing", _WARNING, review.without_review),
    Check("RV02", "review-overdue", _WARNING, review.review_overdue),
    Check("RV03", "review-too-far-away", _WARNING, review.review_too_far),
    Check("RV04", "approval-missing", _ERROR, review.approved_without_approval),
    Check("RV05", "preference-of-nobody", _WARNING, review.preference_of_nobody),
    Check("RV06", "caution-without-way-out", _WARNING, review.caution_without_way_out),
    Check("RV07", "approver-without-authority", _ERROR, review.approved_by_another_role),
    Check("RV08", "site-address-missing", _NOTE, review.without_site_address),
    # DR: what a draft proposed
    Check("DR01", "proposed-not-confirmed", _NOTE, proposed.not_confirmed),
    Check("DR02", "not-said-yet", _WARNING, proposed.not_said),
    # ED: editions, approval bound to content, issued codes
    Check("ED01", "approval-outdated", _WARNING, editions.approval_outdated),
    Check("ED02", "edition-not-raised", _WARNING, editions.edition_not_raised),
    Check("ED03", "ledger-line-unreadable", _ERROR, editions.ledger_unreadable),
    Check("ED04", "ledger-line-altered", _ERROR, editions.ledger_altered),
    Check("ED05", "issued-procedure-gone", _WARNING, editions.issued_procedure_gone),
    Check("ED06", "withdrawn-without-reason", _WARNING, editions.withdrawn_without_reason),
    # SR: the sources
    Check("SR01", "source-unused", _NOTE, source_records.unused_sources),
    Check("SR02", "source-field-missing", _WARNING, source_records.missing_fields),
    Check("SR03", "identifier-wrong", _ERROR, source_records.wrong_identifiers),
    Check("SR04", "source-twice", _WARNING, source_records.sources_twice),
    Check("SR05", "source-from-the-future", _ERROR, source_records.years_in_future),
    Check("SR06", "source-is-preprint", _WARNING, source_records.preprints),
    Check("SR07", "source-retracted", _WARNING, source_notices.retracted),
    Check("SR08", "source-in-doubt", _WARNING, source_notices.doubted),
    Check("SR09", "source-superseded", _WARNING, source_notices.superseded),
    Check("SR10", "notices-out-of-date", _WARNING, source_notices.old_lists),
    Check("SR11", "notices-unreadable", _ERROR, source_notices.unreadable_notices),
    Check("SR12", "notices-missing", _NOTE, source_notices.no_lists),
    Check("SR13", "claim-without-source", _ERROR, source_notices.without_source),
    Check("SR14", "level-unknown", _WARNING, source_notices.unknown_levels),
    Check("SR15", "journal-in-full", _NOTE, source_records.journals_in_full),
    Check("SR16", "source-type-unknown", _WARNING, source_records.unknown_types),
    # PA: the operation holds together on every path
    *PATH_CHECKS,
    # GA: what the writer of a critical step has left out
    Check("GA01", "critical-without-cue", _WARNING, critical_steps.critical_without_cue),
    Check("GA02", "critical-without-way-out", _WARNING, critical_steps.critical_without_way_out),
    Check("GA03", "cue-not-observable", _WARNING, critical_steps.cue_not_observable),
    # WP, DO, SI, ID, AF, RO: words, doses, sides, identity, aftercare, reading order of words
    *WORD_CHECKS,
)

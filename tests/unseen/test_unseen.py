"""What the checks find of errors planted by somebody who had not seen them, and what they say of innocent changes.

The first set was found to a third (71 of 220) before the checks of texts, doses, characters, persons and aftercare were
written, and has been looked at since; now 218 of 220 are found. The second was written later, by another writer on
another operation: the first run found 162 of 243 and refused none of 106 innocent changes. The third was written by
the writer of the checks that compare texts field by field, before them: the first run found 13 of 60. The fourth, by a
third writer on a third operation: the first run found 115 of 168 and refused one of 63 innocent changes. The fifth, by
a fourth writer on a fourth operation: the first run found 202 of 304 (66 %), asked about 6 of 90 innocent changes and
refused none; by class, of errors: dose 34 of 40, cut 19 of 24, order 9 of 16, prose 15 of 39, caution 22 of 38, side 16
of 20, aftercare 20 of 40, governance 11 of 13, characters 14 of 15, persons 12 of 15, count 5 of 10, source 8 of 12,
in and out 11 of 12, choice 6 of 10. Now 243 (80 %) are found, 5 asked about, none refused: dose 38, cut 22, order 9,
prose 18, caution 33, side 18, aftercare 30, governance 11, characters 15, persons 14, count 9, source 8, in and out 11,
choice 7. With the rules on order, denial and practice that were then written from principles 270 (89 %) are found.

The sixth, by a fifth writer on a fifth operation, came after these rules: the first run found 278 of 470 (59 %), asked
about 8 of 109 innocent changes and refused none; by class, of errors: dose 51 of 69, cut 25 of 37, order 8 of 19, prose
21 of 76, caution 29 of 50, side 26 of 30, aftercare 19 of 56, governance 20 of 23, characters 20 of 25, persons 11 of
19, count 13 of 16, source 13 of 22, in and out 15 of 16, choice 7 of 12. Now 286 (61 %) are found, 8 asked about, none
refused; 12 more are found, but said of another file than the one that was changed. With the rules that compare over
the whole procedure, and the place in the sequence of a step that stands too late, 327 (70 %) are found: prose 39,
aftercare 28, order 15, dose 62, caution 30, cut 26.

The seventh, by a sixth writer on two operations, with 120 errors in the five hardest classes: the first run found 39
(32 %), asked about 5 of 60 innocent changes and refused none; by class, of errors: prose 8 of 35, aftercare 8 of 30,
order 3 of 15, caution 3 of 20, dose 17 of 20. Rules written before anybody had looked at it found 46: order 9, dose 18,
nothing more of prose, aftercare and caution. Since it was looked at 58 (48 %) are found, 5 asked about, none refused:
prose 12, aftercare 11, order 11, caution 5, dose 19. Most of what is left is a "not" that was lost and that no other
text repeats.

What is asked here is what was reached, and it is raised with every step.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from builder.findings.finding import Severity
from unseen.run import SETS, changes, findings, outcomes, sound

FIRST, SECOND, FIELDS, FOURTH, FIFTH, SIXTH, SEVENTH = SETS


@pytest.mark.parametrize("folder", [FIRST, SECOND, FOURTH, FIFTH, SIXTH, SEVENTH], ids=lambda folder: folder.name)
def test_nothing_blocks_the_sound_department_and_every_change_has_a_name_of_its_own(folder: Path) -> None:
    assert [finding for finding in findings(sound(folder)) if finding.severity is Severity.ERROR] == []
    names = Counter(change.id for change in changes(folder))
    assert max(names.values()) == 1
    kinds = Counter(change.kind for change in changes(folder))
    assert kinds["error"] >= 120
    assert kinds["innocent"] >= 60


@pytest.mark.slow
@pytest.mark.parametrize(
    ("folder", "least"),
    [(FIRST, 210), (SECOND, 205), (FIELDS, 40), (FOURTH, 155), (FIFTH, 265), (SIXTH, 325), (SEVENTH, 57)],
    ids=["first", "second", "fields", "fourth", "fifth", "sixth", "seventh"],
)
def test_errors_nobody_built_for_are_found(folder: Path, least: int) -> None:
    every = list(outcomes(folder))
    found = sum(bool(outcome.told) for outcome in every if outcome.change.kind == "error")
    refused = [outcome.change.id for outcome in every if outcome.change.kind == "innocent" and outcome.blocking]
    assert found >= least
    assert refused == []

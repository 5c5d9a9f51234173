"""5,000 sources and 20,000 citations: the bounds that the benchmark prints, held."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import sources as bench


@pytest.mark.slow
def test_reading_and_checking_sources_stays_within_its_bounds(tmp_path: Path) -> None:
    """Twice the bare pybtex parse for the whole check; a fifth of the first run, and of that parse, for the second.

    Processor time, the best of three runs each, in processes of their own: the machine has other things to do.
    """
    found = bench.compare(bench.department(tmp_path), tmp_path / "cache")
    assert found.whole <= 2 * found.bare
    assert found.sources_again <= found.sources / 4
    # The command counts from the start of Python to its end.
    assert found.command_again <= found.command / 5
    assert found.command_again <= found.bare / 5

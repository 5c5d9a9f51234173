"""5,000 sources and 20,000 citations: the bounds that the benchmark prints, held."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench import sources as bench


@pytest.mark.slow
def test_reading_and_checking_sources_stays_within_its_bounds(tmp_path: Path) -> None:
    """Twice the bare pybtex parse for the whole check; a fifth of the first run for sources that are cached.

    Processor time, the best of three runs each, in processes of their own: the machine has other things to do.
    """
    root, cache = bench.department(tmp_path), str(tmp_path / "cache")
    bare = bench.fresh(bench.bare, root)
    first = bench.fresh(bench.sources, root, None)
    bench.fresh(bench.sources, root, cache, runs=1)
    second = bench.fresh(bench.sources, root, cache)
    assert bench.fresh(bench.whole, root, None) <= 2 * bare
    assert second <= first / 5

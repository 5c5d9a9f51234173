"""The benchmarks tell what they can measure, and measure nothing that was not asked for."""

from __future__ import annotations

import pytest

from bench import __main__ as bench


@pytest.fixture
def measured(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, tuple[int, ...]]]:
    """What is measured, and for which sizes; nothing is."""
    done: list[tuple[str, tuple[int, ...]]] = []
    noted = {name: lambda sizes, name=name: done.append((name, sizes)) for name in bench._BENCHMARKS}
    monkeypatch.setattr(bench, "_BENCHMARKS", noted)
    return done


def test_help_is_shown_and_nothing_measured(
    measured: list[tuple[str, tuple[int, ...]]], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        bench.main(["--help"])
    assert ended.value.code == 0
    assert "how many procedures the department has" in " ".join(capsys.readouterr().out.split())
    assert measured == []


def test_a_word_that_names_no_benchmark_is_refused(
    measured: list[tuple[str, tuple[int, ...]]], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        bench.main(["check", "chek"])
    assert "'chek' is neither a benchmark nor a number of procedures" in capsys.readouterr().err
    assert measured == []


def test_what_is_named_is_measured_for_the_sizes_that_follow(measured: list[tuple[str, tuple[int, ...]]]) -> None:
    assert bench.main(["check", "publish", "1", "10"]) == 0
    assert measured == [("check", (1, 10)), ("publish", (1, 10))]


def test_without_a_name_all_but_the_rare_are_measured(measured: list[tuple[str, tuple[int, ...]]]) -> None:
    assert bench.main([]) == 0
    assert [name for name, _ in measured] == ["check", "publish", "paper", "preview", "site", "sources"]

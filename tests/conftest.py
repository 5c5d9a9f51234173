"""Fixtures that every test may use."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import patience
import pytest
from browser_tools import FLAGS, chromium, own_fonts
from department import DEMO, Overlay, lay, new_base
from hypothesis import HealthCheck, settings
from lxml import html
from needs import needs, passed_over
from papers import library
from planted import results
from publishing import made_once, publish_all, publish_by_command, publish_site, worked_out_once
from rights import give_up_roots_rights
from site_pages import page

from builder.findings.finding import Finding
from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish import jobs
from builder.write import lock

NO_FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig><cachedir>{}</cachedir></fontconfig>
"""

os.environ.pop("COLUMNS", None)  # pytest-xdist gives its workers one, and findings are wrapped to it
# What Python compiles is kept, for the many processes that tests start and for the next run.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
os.environ["PRESCRUB_CACHE"] = "off"  # what a test shows must be made in it; the cache has tests of its own
give_up_roots_rights()
# The clock decides nothing, neither how long an example takes nor how long examples take to be drawn.
settings.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any machine")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--nothing-passed-over", action="store_true", help="fail when a test was passed over")


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """End with a line for each thing for want of which tests were passed over, and how to have it."""
    lines = passed_over(report.longrepr[2] for report in terminalreporter.stats.get("skipped", ()))
    if lines:
        terminalreporter.section("passed over")
    for line in lines:
        terminalreporter.write_line(line)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """With ``--nothing-passed-over``, fail a run that passed a test over."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if (
        session.config.option.nothing_passed_over
        and reporter
        and reporter.stats.get("skipped")
        and not session.exitstatus
    ):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_collection_finish() -> None:
    """Look through what is kept for the whole run never again: as workers do (``builder/publish/jobs.py``)."""
    gc.freeze()
    gc.set_threshold(100_000)


@pytest.fixture(scope="session", autouse=True)
def one_processor() -> Iterator[None]:
    """Let a publish of a test be made in its own process, for the tests take up all processors already.

    What other processes make is the same (``publish/test_jobs.py``); ``processors`` lets
    a test have two.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(jobs, "processors", lambda: 1)
        yield


@pytest.fixture(scope="session", autouse=True)
def _patience() -> Iterator[None]:
    """Wait for another writer as long as it takes: on a busy machine its three seconds may be over too soon."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lock, "PATIENCE_SECONDS", patience.SECONDS)
        yield


@pytest.fixture
def processors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a publish of this test have other processes."""
    monkeypatch.setattr(jobs, "processors", lambda: 2)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A copy of the smallest complete good department, free to be changed."""
    return new_base(tmp_path)


@pytest.fixture
def overlay(base: Path) -> Overlay:
    """Lay files (path to text, or a folder) over a copy of the base and return its folder."""
    return lambda files: lay(base, files)


@pytest.fixture(scope="session")
def office() -> str:
    """The path of LibreOffice."""
    return needs("LibreOffice", "slides in an office program")


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """One Chromium for all tests of a process: a second Playwright beside the first refuses to start."""
    path = chromium()
    environment = own_fonts(tmp_path_factory.mktemp("fonts"))
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(
            executable_path=path, args=FLAGS, env=environment, timeout=patience.SECONDS * 1000
        )
        make = started.new_context

        def patient(**options: Any) -> Any:
            context = make(**options)
            context.set_default_timeout(patience.SECONDS * 1000)
            return context

        started.new_context = patient
        yield started
        started.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The published site of the smallest department, with papers; it is not to be changed."""
    root, outputs = new_base(tmp_path_factory.mktemp("site")), ("site", "handout", "card", "single-file")
    return made_once(tmp_path_factory, "small-site", lambda to: publish_site(root, to, outputs))


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The published site of the demonstration, with single files; it is not to be changed."""
    outputs = ("site", "single-file")
    return made_once(
        tmp_path_factory, "demo-site", lambda to: publish(library(DEMO), to, load_templates(DEMO), only=outputs)
    )


@pytest.fixture(scope="session")
def whole_base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All that is published of the smallest department, which lies beside it; it is not to be changed."""

    def make(folder: Path) -> None:
        publish_all(new_base(folder), folder / "public")

    return made_once(tmp_path_factory, "whole-base", make) / "public"


@pytest.fixture(scope="session")
def whole_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All that is published of the demonstration, as the command does it, for slow tests; it is not to be changed."""
    return made_once(tmp_path_factory, "whole-demo", lambda to: publish_by_command(DEMO, to))


@pytest.fixture(scope="session")
def found_of_planted(tmp_path_factory: pytest.TempPathFactory) -> list[list[Finding]]:
    """What is found of one error of each kind in each procedure of the demonstration."""
    return worked_out_once(tmp_path_factory, "planted", lambda: results.found_in(results.demo(), most=1))


@pytest.fixture(scope="session")
def example(site: Path) -> html.HtmlElement:
    """The page of its procedure."""
    return page(site, "example/index.html")


@pytest.fixture
def without_fonts(tmp_path: Path) -> dict[str, str]:
    """The environment of a machine on which no font is installed."""
    settings = tmp_path / "fonts.conf"
    settings.write_text(NO_FONTS.format(tmp_path / "cache"), encoding="utf-8")
    return {**os.environ, "FONTCONFIG_FILE": str(settings)}


@pytest.fixture
def to(tmp_path: Path) -> Path:
    """A folder to publish to."""
    return tmp_path / "public"

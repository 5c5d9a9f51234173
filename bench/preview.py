"""From saving a step to the changed page, card and findings in the browser.

The preview is a process of its own, as for an educator; Chromium shows page and card side by side. What is timed ends
when the browser has painted: title and finding of the saved step stand in the page, and the new picture of the card.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_PROCEDURE = "synthetic-{:04d}"
_STEP = "steps/open-canal.md"
_FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
# Hands over when each of the three was seen, in milliseconds of the clock that we read too.
_LOOK = """([words, old]) => {
  const seen = {};
  const true_ = {
    page: () => [...document.querySelectorAll('.pv-sheet h3')].some(one => one.textContent.includes(words)),
    findings: () => [...document.querySelectorAll('.pv-sheet .pv-note')].some(one => one.textContent.includes(words)),
    card: () => {
      const one = document.querySelector('.pv-picture img');
      return one && one.src !== old && one.complete;
    }
  };
  window.seen = new Promise(done => {
    const look = () => {
      Object.keys(true_).forEach(key => { if (!seen[key] && true_[key]()) { seen[key] = Date.now(); } });
      if (Object.keys(seen).length === 3) { requestAnimationFrame(() => done({...seen, all: Date.now()})); }
      else { requestAnimationFrame(look); }
    };
    look();
  });
}"""


@dataclass(frozen=True)
class Saved:
    """Seconds from saving to what the browser shows: medians, and the slowest of all three together."""

    page: float
    findings: float
    card: float
    all: float
    slowest: float


def saves(root: Path, count: int) -> Saved:
    """Save a step of the department in ``root`` ``count`` times with the preview open."""
    place = len(list((root / "content" / "procedures").iterdir())) // 2 or 1
    id = _PROCEDURE.format(place)
    step = root / "content" / "procedures" / id / _STEP
    if not step.exists():
        step = next(root.glob(f"content/procedures/*/{_STEP}"))
        id = step.parts[-3]
    text = re.sub(r"^cue:.*\n", "", step.read_text(encoding="utf-8"), flags=re.MULTILINE)
    found: list[dict[str, float]] = []
    with _browser() as browser, _preview(root) as address:
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        tab.goto(address)
        home = address.partition("/enter/")[0]
        tab.wait_for_url(f"{home}/")
        tab.goto(f"{home}/both/{id}")
        tab.wait_for_selector("[data-part]:not([data-shown])", state="detached")
        for number in range(count + 2):
            words = f"Save {number} and"
            old = tab.evaluate("document.querySelector('.pv-picture img').src")
            tab.evaluate(_LOOK, [words, old])
            time.sleep(0.4)  # nobody saves again while he still looks
            began = time.time() * 1000
            step.write_text(re.sub(r"^title: ", f"title: {words} ", text, flags=re.MULTILINE), encoding="utf-8")
            seen = tab.evaluate("() => window.seen")
            found.append({key: (at - began) / 1000 for key, at in seen.items()})
    kept = found[2:]  # the first ones read what is read once
    medians = {key: statistics.median(one[key] for one in kept) for key in kept[0]}
    return Saved(**medians, slowest=max(one["all"] for one in kept))


@contextmanager
def _preview(root: Path) -> Iterator[str]:
    command = [sys.executable, "-m", "builder", "preview", str(root), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)  # noqa: S603
    try:
        assert process.stdout is not None
        match = re.search(r"http\S+", process.stdout.readline())
        assert match is not None, "the preview did not start"
        yield match[0]
    finally:
        process.send_signal(signal.SIGINT if os.name != "nt" else signal.SIGTERM)
        process.communicate()


@contextmanager
def _browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415  # needed by this benchmark alone

    path = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=path, args=_FLAGS)
        try:
            yield started
        finally:
            started.close()

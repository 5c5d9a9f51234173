"""``Add a check`` in DEVELOPERS.md, followed literally in a copy: three files, and no test of the structure fails."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

ROW = '    FindingKind("supervision-missing", NOTE, INSTRUCTIONS),\n'
BEHIND = '    FindingKind("title-not-an-instruction", NOTE, INSTRUCTIONS),\n'
RULE = '''"""Each step says what a trainee does in it."""

from __future__ import annotations

from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.findings.message_words import quoted
from builder.model.library import Library


@finds("supervision-missing")
def supervision_missing(library: Library) -> Iterator[Hit]:
    """Yield each step that does not say whether a trainee watches, assists or does it."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            if step.supervision is None:
                message = f"{quoted(step.title)} does not say what a trainee does"
                yield Hit(step.title.at, message, "Add a line such as `supervision: part`.")
'''
STEP = "content/procedures/example/steps/tell-recovery.md"
PAGE = f"""# supervision-missing: a step does not say what a trainee does

Severity: note.

## Why

Whoever reads the night before wants to know whether to watch, to assist or to do it. Common practice.

## Bad

```yaml {STEP}
---
title: Tell the recovery nurse that a drain is in
common_practice: true
---
```

## Finding

```text
{STEP}:2:8: note supervision-missing: 'Tell the recovery nurse that a drain is in' does not say what a trainee does
    Add a line such as `supervision: part`.
```

## Good

```yaml {STEP}
---
title: Tell the recovery nurse that a drain is in
supervision: part
common_practice: true
---
```
"""


def test_the_recipe_names_three_places() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("\n## Add a check\n")[2].partition("\n## ")[0]
    places = [re.search(r"`(builder/[^`]+)`", step) for step in re.split(r"^\d\. ", section, flags=re.MULTILINE)[1:]]
    assert [place[1] for place in places if place] == [
        "builder/findings/register.py",
        "builder/check/rules/",
        "builder/findings/pages/the-name.md",
    ]


def test_every_path_that_developers_md_names_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    names = {
        name for name in re.findall(r"`((?:builder|tests|site_templates)/[^`<>*]+)`", text) if "the-name" not in name
    }
    assert len(names) > 10
    assert sorted(name for name in names if not (ROOT / name).exists()) == []


def test_a_check_made_after_the_recipe_breaks_no_test_of_the_structure(tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "public"))
    register = copy / "builder/findings/register.py"
    before = register.read_text(encoding="utf-8")
    assert BEHIND in before
    register.write_text(before.replace(BEHIND, BEHIND + ROW), encoding="utf-8")
    (copy / "builder/check/rules/supervision.py").write_text(RULE, encoding="utf-8")
    (copy / "builder/findings/pages/supervision-missing.md").write_text(PAGE, encoding="utf-8")

    tests = ["tests/test_stages.py", "tests/test_checks.py", "tests/findings/test_register.py"]
    wanted = "supervision or stage or world or page_says or silent or defect or order or every or left"
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--assert=plain", "-k", wanted, *tests]
    run = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout
    said = re.search(r"(\d+) passed", run.stdout)
    assert said is not None
    assert int(said[1]) > 400

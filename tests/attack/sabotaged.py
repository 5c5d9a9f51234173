"""What comes of each sabotage of templates, styles, scripts and drawings: run this file to print it as a table.

``sabotages.json`` was written by somebody who had read neither the proofs nor their tests; each is laid over the
smallest department that shows the output, once in review and once approved, and that output alone is published.
Name sabotages, such as ``h03 d11``, to try these alone.
"""

from __future__ import annotations

import base64
import io
import json
import re
import shutil
import sys
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

sys.path += [str(Path(__file__).parents[depth]) for depth in (1, 2)]

import pypdfium2
from department import lay, read
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables._g_l_y_f import Glyph
from publishing import publish_site

from builder.check.blocking import at_approval, with_blocking
from builder.compose.site.own_look import LOOK_CHANGED, PAPER_LOOK
from builder.findings.finding import Refused, Severity
from builder.load.templates import own_folder
from builder.model.edition import edition_of
from builder.publish.publish_error import PublishError

DEMO = Path(__file__).parents[2]
SET: list[dict[str, Any]] = json.loads(Path(__file__).with_name("sabotages.json").read_text("utf-8"))
OUTPUTS = {
    "page": ["site"],
    "selftest": ["site"],
    "single": ["single-file"],
    "phone": ["phone-card"],
    "handout": ["handout"],
    "card": ["card", "card-ways"],
    "what-now": ["what-now"],
    "count": ["count-sheet"],
    "rehearsal": ["rehearsal-text"],
    "patient": ["patient-sheet"],
    "patient (ar)": ["patient-sheet-translated"],
    "slides": ["slides"],
    "map": ["map"],
    "e-book": ["book"],
}
SMALLEST = "carpal-tunnel-decompression"
_OF_PROCEDURE = re.compile(r"content/procedures/([^/]+)/")
_FONT = re.compile(r"@(without|exchanged) (.+?)@")
# The demonstration leaves doses by weight to the local formulary; two sabotages are of their table.
_BY_WEIGHT = (
    "dose: {drug: lidocaine, strength: 1 %, route: under the skin, per_weight: 3 mg/kg, cap: 200 mg, "
    "weights: [50, 60, 70], common_practice: true}\n"
)


class Outcome(NamedTuple):
    """What came of a sabotage, and ``by`` what.

    ``kind``: "refused", whatever the procedure's status; "told", where what is not approved says in view that its look
    is not proved, or check tells it at its line, and what is approved is refused; "void", where a reader is told
    no more than that the edition is not approved, but no approval holds; "passed".
    """

    kind: str
    by: str


def small_department(folder: Path, procedure: str = SMALLEST) -> Path:
    """Return a department in ``folder`` that has one ``procedure`` of the demonstration."""
    others = [path.name for path in (DEMO / "content/procedures").iterdir() if path.name != procedure]
    for part in ("content", "references"):
        shutil.copytree(DEMO / part, folder / part, ignore=shutil.ignore_patterns(*others))
    step = folder / f"content/procedures/{procedure}/steps/numb-with-cuff.md"
    if step.exists():
        step.write_text(step.read_text("utf-8").replace("\n---\n", f"\n{_BY_WEIGHT}---\n", 1), "utf-8")
    return folder


def approve(root: Path) -> Path:
    """Let the procedure of the department in ``root`` be approved as it stands, by one person."""
    house = root / "content/department.md"
    house.write_text(re.sub(r"(?m)^approvers:\n(?:  - .*\n)+", "", house.read_text("utf-8")), "utf-8")
    library = read(root)[0]
    [procedure] = library.procedures
    told = (
        f"approval: {{by: Ada Example, role: lead, on: 2026-11-01, content: {edition_of(library, procedure).content}}}"
    )
    path = root / procedure.file
    path.write_text(path.read_text("utf-8").replace("status: in review", f"status: approved\n{told}", 1), "utf-8")
    return root


def sabotage(root: Path, edits: Iterable[dict[str, str]]) -> Path:
    """Make the ``edits`` in the department in ``root``, in copies of the templates that came with the program."""
    for edit in edits:
        name = edit["file"]
        path = root / name
        template = own_folder() / name.removeprefix("site_templates/")
        text = (path if path.exists() else template).read_text("utf-8")
        new = _FONT.sub(lambda told: _font(told[1], told[2]), edit["new"])
        if "old" in edit:
            assert text.count(edit["old"]) == 1, f"{name} does not have once: {edit['old']}"
            text = text.replace(edit["old"], new)
        else:
            text += new
        lay(root, {name: text})
    return root


def _font(how: str, signs: str) -> str:
    """Return our bold type ``without`` the ink and width of ``signs``, or with two of them ``exchanged``, in base64."""
    font = TTFont(own_folder() / "fonts/PrescrubSans-Bold.ttf")
    names = [font.getBestCmap()[ord(sign)] for sign in signs]
    glyphs, widths = font["glyf"].glyphs, font["hmtx"].metrics
    if how == "without":
        glyphs[names[0]], widths[names[0]] = Glyph(), (0, 0)
    else:
        one, other = names
        glyphs[one], glyphs[other] = font["glyf"][other], font["glyf"][one]
        widths[one], widths[other] = widths[other], widths[one]
    made = io.BytesIO()
    font.save(made)
    return base64.b64encode(made.getvalue()).decode()


def refusal(root: Path, to: Path, outputs: list[str]) -> str:
    """Publish ``outputs`` of the department in ``root`` as the command does; return what refused them, or ""."""
    library, findings = read(root)
    errors = [made for made in with_blocking(library, findings) if made.severity is Severity.ERROR]
    if errors:
        return f"{errors[0].name}: {errors[0].message}"
    try:
        publish_site(root, to, outputs)
    except Refused as refused:
        return f"{refused.finding.name}: {refused.finding.message}"
    except PublishError as error:
        return f"proof: {error}"
    return ""


def _texts(path: Path) -> Iterator[str]:
    if path.suffix == ".pdf":
        with closing(pypdfium2.PdfDocument(path)) as pdf:
            yield from (" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in pdf)
    elif zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as pack:
            yield from (pack.read(name).decode("utf-8", "replace") for name in pack.namelist())
    elif path.suffix in (".html", ".txt"):
        yield path.read_text("utf-8")


def is_told(to: Path) -> bool:
    """Tell whether any file in ``to`` says that its look is not proved."""
    texts = (text for path in to.rglob("*") if path.is_file() for text in _texts(path))
    return any(said in text for text in texts for said in (LOOK_CHANGED, PAPER_LOOK))


def outcome(one: dict[str, Any], folder: Path) -> Outcome:
    """Return what comes of the sabotage ``one``, tried in ``folder``."""
    of = _OF_PROCEDURE.match(one["edits"][0]["file"])
    outputs = OUTPUTS[one["output"]]
    root = sabotage(small_department(folder / "review", of[1] if of else SMALLEST), one["edits"])
    if by := refusal(root, folder / "out", outputs):
        return Outcome("refused", by)
    library, findings = read(root)
    blocking = at_approval(library, library.procedures[0], findings)
    if by := next((made.name for made in blocking if made.severity is Severity.ERROR), ""):
        return Outcome("told", f"{by}, which check tells and nobody can approve")
    told = is_told(folder / "out")
    root = sabotage(approve(small_department(folder / "approved", of[1] if of else SMALLEST)), one["edits"])
    by = refusal(root, folder / "approved-out", outputs)
    if by and told:
        return Outcome("told", by)
    if by or read(root)[0].lapsed:
        return Outcome("void", by or "approval-outdated")
    return Outcome("passed", "told in view alone" if told else "")


def tried(names: Iterable[str]) -> Iterator[tuple[dict[str, Any], Outcome]]:
    """Yield each sabotage whose id begins with one of ``names``, all without any, and its outcome."""
    starts = tuple(names) or ("",)
    for one in SET:
        if one["id"].startswith(starts):
            with tempfile.TemporaryDirectory() as folder:
                yield one, outcome(one, Path(folder))


def main(names: list[str]) -> None:
    """Print a line for each sabotage, and how many came to what, by output and in all."""
    counts: dict[str, Counter[str]] = {}
    for one, (kind, by) in tried(names):
        sys.stdout.write(f"{one['id']:36} {one['output']:12} {kind:8} {' '.join(by.split())[:160]}\n")
        sys.stdout.flush()
        group = "innocent" if one["class"] == "innocent" else one["output"]
        counts.setdefault(group, Counter())[kind] += 1
    for group, row in sorted(counts.items()):
        told = ", ".join(f"{row[kind]} {kind}" for kind in ("refused", "told", "void", "passed") if row[kind])
        sys.stdout.write(f"{group:12} {row.total():3}: {told}\n")


if __name__ == "__main__":
    main(sys.argv[1:])

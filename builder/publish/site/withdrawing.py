"""Withdrawing at once, whatever else is blocked: the last good site stays, with what is withdrawn replaced in it.

A procedure is withdrawn because somebody could be hurt by it. That must not wait until another procedure, or this one,
passes its checks. So the site that is there is taken as it is, byte for byte; the pages of the withdrawn procedure and
of its codes take the place of the old ones, its papers go, and every page of a procedure that is blocked says that it
is kept. Pages are told apart by what our own templates write; where a department's own template writes something else,
its front page stays as it was, and the pages of the procedure and of its codes are replaced all the same.
"""

import shutil
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from markupsafe import escape

from builder.compose.site import status
from builder.compose.site.web import FRONT
from builder.compose.view.words import day
from builder.findings.finding import Finding, Severity
from builder.findings.message_words import listed
from builder.load.program_words import gettext
from builder.load.templates import load_templates
from builder.model.library import Library
from builder.model.pages import Status
from builder.publish.build_report import Report, report_in, sha256, written
from builder.publish.output import SITE

KEPT = '<p class="standing kept">'
_FOLDER = "content/procedures/"


def to_withdraw(library: Library, target: Path) -> Library | None:
    """Return ``library`` with nothing but its withdrawn procedures, where ``target`` shows one of them as in use."""
    told = report_in(target)
    used = {
        one["procedure"]
        for one in told.get("artefacts", ())
        if one["kind"] == "status" and one["explained"].get("state") != status.WITHDRAWN
    }
    withdrawn = tuple(one for one in library.procedures if one.status is Status.WITHDRAWN)
    if any(str(one.id) in used for one in withdrawn):
        return replace(library, procedures=withdrawn)
    return None


def at_once(library: Library, errors: list[Finding], to: Path, publish: Callable[..., Report]) -> str:
    """``publish`` what was withdrawn, and nothing else, into the site that is there; return what was done, "" =
    nothing."""
    alone = to_withdraw(library, to)
    if alone is None:
        return ""
    kept = blocked(library, errors, to)
    publish(alone, to, load_templates(library.root), only=(SITE,), over=kept)
    marked = f"; kept as last published, and marked: {listed(sorted(kept))}" if kept else ""
    return f"Only the withdrawal of {listed(sorted(alone.by_id))} was published to {to}{marked}.\n"


def blocked(library: Library, findings: Collection[Finding], target: Path) -> frozenset[str]:
    """Return the procedures in ``target`` that errors keep from being published: those of an error in their own folder,
    or all, where it stands elsewhere."""
    files = [made.at.file for made in findings if made.severity is Severity.ERROR]
    own = {file.removeprefix(_FOLDER).partition("/")[0] for file in files if file.startswith(_FOLDER)}
    shown = {one["procedure"] for one in report_in(target).get("artefacts", ()) if one["procedure"]}
    withdrawn = {str(one.id) for one in library.procedures if one.status is Status.WITHDRAWN}
    is_general = any(not file.startswith(_FOLDER) for file in files)
    return frozenset((shown if is_general else own & shown) - withdrawn)


def lay_over(  # noqa: PLR0913  # two folders, what each holds, and where in them
    old: Path, new: Path, made: Report, library: Library, kept: Collection[str], *, under: str = ""
) -> Report:
    """Turn ``new``, which holds the withdrawn procedures of ``library`` alone, into the site ``old`` with those in it,
    and the procedures ``kept`` marked. Return the report of it. Our pages are ``under`` a folder of both, such as
    "procedures/"."""
    told = report_in(old)
    withdrawn = set(library.by_id)
    folders = tuple(f"{under}{id}/" for id in withdrawn)
    ours = {one.path for one in made.artefacts if one.procedure in withdrawn} | _below(made.files, folders)
    gone = {one["path"] for one in told["artefacts"] if one["procedure"] in withdrawn} | _below(told["files"], folders)
    fresh = new.with_name("withdrawn")
    new.rename(fresh)
    shutil.copytree(old, new, symlinks=True)
    for name in gone:
        (new / name).unlink()
    for name in ours:
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(fresh / name, new / name)
    front, codes = f"{under}{FRONT}", f"{under}{status.LIST}"
    for id in withdrawn:
        _replace_part(fresh / front, new / front, _listed(id))
    for standing in status.standings(library):
        if standing.line.procedure in withdrawn:
            _replace_part(fresh / codes, new / codes, _row(standing.line.code))
    artefacts = {one["path"]: one for one in told["artefacts"] if one["path"] not in gone}
    for one in artefacts.values():
        if one["procedure"] in kept and one["path"].endswith(".html"):
            _mark(new / one["path"], library)
            one["explained"]["kept_since"] = one["explained"].get("kept_since", library.today.isoformat())
    artefacts |= {one["path"]: one for one in written(made)["artefacts"] if one["path"] in ours}
    return _rejoined(told, made, artefacts, new)


def _rejoined(told: Mapping[str, Any], made: Report, artefacts: dict[str, Any], new: Path) -> Report:
    """Write the report of the patched site, with the digests of the files as they are now, and return it."""
    for path, one in artefacts.items():
        one |= {"sha256": sha256(new / path), "bytes": (new / path).stat().st_size}
    coverage = {**told.get("coverage", {}), **made.coverage}
    shown = [artefacts[path] for path in sorted(artefacts)]
    return Report.read(made.department, shown, made.checks, coverage).put_into(new)


def _below(files: Collection[str], folders: tuple[str, ...]) -> set[str]:
    return {name for name in files if name.startswith(folders)}


Slice = Callable[[str], tuple[int, int] | None]


def _listed(id: str) -> Slice:
    """Find the entry of a procedure on the front page."""

    def find(text: str) -> tuple[int, int] | None:
        link = text.find(f'<p class="name"><a href="{id}/index.html">')
        start = text.rfind("<li data-title=", 0, link) if link >= 0 else -1
        ends = [at for at in (text.find("<li data-title=", link), text.find("</section>", link)) if at >= 0]
        if start < 0 or not ends:
            return None
        return start, text.rfind("</li>", start, min(ends)) + len("</li>")

    return find


def _row(code: str) -> Slice:
    """Find the row of a code in the list of all."""

    def find(text: str) -> tuple[int, int] | None:
        link = text.find(f'<a href="{code}/index.html">')
        start, end = text.rfind("<tr", 0, link) if link >= 0 else -1, text.find("</tr>", link)
        return (start, end + len("</tr>")) if start >= 0 and end >= 0 else None

    return find


def _replace_part(source: Path, target: Path, find: Slice) -> None:
    fresh, old = source.read_text(encoding="utf-8"), target.read_text(encoding="utf-8")
    ours, theirs = find(fresh), find(old)
    if ours and theirs:
        target.write_text(old[: theirs[0]] + fresh[slice(*ours)] + old[theirs[1] :], encoding="utf-8")


def _mark(page: Path, library: Library) -> None:
    """Say on ``page`` that it is kept; a mark that is there already stays, with its day."""
    text = page.read_text(encoding="utf-8")
    head, end, rest = text.partition("</h1>")
    if end and KEPT not in text:
        words = gettext(
            "Kept as it was on %(day)s: its text has been changed since and does not pass its checks. "
            "Ask the department.",
            day=day(library.today),
        )
        page.write_text(f"{head}{end}\n{KEPT}{escape(words)}</p>{rest}", encoding="utf-8")

"""One department's part of a region's night: published, or left on its last good site with the reason.

It is a job for a process of its own. Whatever goes wrong with a department is told of that department alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from builder import pipeline
from builder.check.engine import examine
from builder.commands.publish import engine_of, withdrawn_at_once
from builder.compose.consents import withdrawn
from builder.compose.site.region.hospital import Hospital, HospitalState, Problem, codes_of, local_of, pages_of
from builder.compose.year.year_view import year_tables
from builder.findings.finding import Finding, Refused, Severity
from builder.load.folder import Loaded
from builder.load.parent import KINDS, parent_folder
from builder.load.templates import FOLDER, load_templates, own_folder
from builder.model.build import build
from builder.model.library import Library
from builder.model.pages import Engine, Parent
from builder.model.region_file import FILE as REGION_FILE
from builder.model.region_file import Member, Region
from builder.place import WHERE_KEY
from builder.publish.build_report import NAME as REPORT
from builder.publish.build_report import known_files, report_in, sha256
from builder.publish.cache import digest_of_extras, programs
from builder.publish.publish_error import PublishError
from builder.publish.publishing import Means
from builder.write.lock import NotWritten


@dataclass(frozen=True, slots=True)
class Night:
    """What all departments of a night share: the ``region`` in ``root`` is published to ``to``; ``before`` is what is
    known of each department from the night before, by id."""

    root: Path
    region: Region
    to: Path
    today: date
    means: Means
    only: tuple[str, ...]
    before: Mapping[str, Hospital] = field(default_factory=dict)

    def known(self, member: Member) -> Hospital:
        """Return what is known of a department before its turn."""
        id = str(member.id)
        return self.before.get(id, Hospital(id, id, HospitalState.MISSING))


def of_department(night: Night, number: int) -> Hospital:
    """Publish the department ``number`` of the region, and return what is known of it then."""
    member = night.region.departments[number]
    try:
        return _published(night, member)
    except Refused as refusal:
        return stayed(night, member, [Problem.of(_placed(night, member, {}, refusal.finding))])
    except Exception as error:  # whatever it is, it must not cost the other departments their night
        return stayed(night, member, [told_by_system(error)])


def told_by_system(error: Exception) -> Problem:
    """Return why a department was not published where no finding says so."""
    words = str(error) if isinstance(error, NotWritten) else f"The tool itself failed: {type(error).__name__}: {error}"
    return Problem("", 0, 0, "", words, "")


def stayed(night: Night, member: Member, problems: list[Problem], name: str = "") -> Hospital:
    """Return a department that was not published, with its last good site where it has one."""
    before = night.known(member)
    site = night.to / member.id
    state = HospitalState.KEPT if (site / REPORT).is_file() else HospitalState.MISSING
    return _shown(replace(before, state=state, problems=tuple(problems), name=name or before.name), site)


def _shown(hospital: Hospital, site: Path) -> Hospital:
    """Return ``hospital`` with what its ``site`` shows."""
    artefacts = report_in(site).get("artefacts", [])
    digest = sha256(site / REPORT) if artefacts else ""
    return replace(hospital, pages=pages_of(artefacts), codes=codes_of(artefacts), report=digest)


def _published(night: Night, member: Member) -> Hospital:
    root = _folder(night.root, member)
    parent = _folder(night.root, night.region.parent) if night.region.parent else None
    loaded = pipeline.loaded(root, night.today, parent)
    library = build(loaded)[0]
    site, before = night.to / member.id, night.known(member)
    inputs = _inputs(loaded, library, night.only)
    if inputs == before.inputs and _is_whole(site, before):
        return replace(before, state=HospitalState.UNCHANGED, problems=())
    library, findings = examine(loaded)
    name = str(library.department.name)
    errors = [made for made in findings if made.severity is Severity.ERROR]
    if errors:
        problems = [Problem.of(_placed(night, member, library.lent, made)) for made in errors]
        try:
            withdrawn_at_once(library, errors, site)
        except PublishError as error:
            problems.append(told_by_system(error))
        return stayed(night, member, problems, name)
    engine_of(library)(library, site, load_templates(root), only=night.only, means=night.means)
    is_kept = library.department.engine is not Engine.MKDOCS  # whose other pages nobody here has read
    published = Hospital(
        str(member.id), name, HospitalState.PUBLISHED, local=local_of(library),
        since=night.today.isoformat(), inputs=inputs if is_kept else "",
    )  # fmt: skip
    return _shown(published, site)


def _folder(root: Path, named: Parent) -> Path:
    """Return the folder of a department that ``named`` tells of. Raises Refused."""
    told = {kind: text for kind in (*KINDS, "digest") if (text := getattr(named, kind)) is not None}
    return parent_folder(root, {**told, WHERE_KEY: named.where}, 0)


def _inputs(loaded: Loaded, library: Library, only: tuple[str, ...]) -> str:
    """Return a digest of all that the site of a department is made of, and of what the day decides of it.

    The day itself is not in it: a page says of which day it is, and stays true until one of these changes.
    """
    root = loaded.root
    told = [
        programs(), load_templates(root), digest_of_extras(own_folder()), digest_of_extras(root / FOLDER), only,
        [[each.texts, each.pictures] for each in _layers(loaded)],
        [(path.name, path.read_bytes().decode("latin-1")) for path in sorted((root / "ledger").glob("*"))],
        [[row.cells for row in table.rows] for table in year_tables(library)],
        sorted(withdrawn(library)), library.today.year,
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(told, default=dict, sort_keys=True).encode()).hexdigest()


def _layers(loaded: Loaded) -> Iterator[Loaded]:
    yield loaded
    if loaded.parent is not None:
        yield from _layers(loaded.parent)


def _is_whole(site: Path, before: Hospital) -> bool:
    """Tell whether the site is the one that was published: its report is, and no file of it has gone."""
    report = site / REPORT
    if not before.report or not report.is_file() or sha256(report) != before.report:
        return False
    return all((site / name).is_file() for name in known_files(site) or ())


def _placed(night: Night, member: Member, lent: Mapping[str, tuple[Path, str]], made: Finding) -> Finding:
    """Return a finding with its file as it is found from the folder of the region; ``lent`` are the parent's files."""
    at = made.at
    if at.file == REGION_FILE:
        return made
    above: Parent = member
    name = at.file
    if at.file in lent and night.region.parent:
        above, name = night.region.parent, lent[at.file][1]
    prefix = str(above.folder or above.archive or above.wheel).replace(os.sep, "/")
    return replace(made, at=at._replace(file=f"{prefix.rstrip('/')}/{name}"))

"""One department's turn in a region's night: published, or left on its last good site with the reason.

It is a job for a process of its own. Whatever goes wrong with a department is told of that department alone.
"""

import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from functools import partial
from pathlib import Path

from builder import pipeline
from builder.check.engine import examine
from builder.compose.consents import withdrawn
from builder.compose.site.region.hospital import Hospital, HospitalState, Problem, local_of
from builder.compose.year.year_view import year_tables
from builder.findings.finding import Finding, Refused, Severity
from builder.load.folder import Loaded
from builder.load.kept.tree_stamp import moment
from builder.load.parent import KINDS, packed_in, parent_folder
from builder.load.program_words import speaking
from builder.load.templates import FOLDER, load_templates
from builder.model.build import build
from builder.model.library import Library
from builder.model.pages import Engine, Parent
from builder.model.region_file import FILE as REGION_FILE
from builder.model.region_file import Member
from builder.place import WHERE_KEY
from builder.publish.build_report import NAME as REPORT
from builder.publish.build_report import is_as_reported, sha256
from builder.publish.cache import digest_of_extras, digest_of_value
from builder.publish.publish_error import PublishError
from builder.publish.publishing import Means
from builder.publish.site.withdrawing import at_once
from builder.region_night import Night, Rest, shown, stamp_of_layer, stayed, told_by_system

_DAYS_AHEAD = 7
"""For how many days is worked out whether they decide anything else; then a department is read once more."""


def of_department(night: Night, number: int) -> Hospital:
    """Publish the department ``number`` of the region, and return what is known of it then."""
    member = night.region.departments[number]
    try:
        return _published(night, member)
    except Refused as refusal:
        return stayed(night, member, [Problem.of(_placed(night, member, {}, refusal.finding))])
    except Exception as error:  # whatever it is, it must not cost the other departments their night
        return stayed(night, member, [told_by_system(error)])


def _published(night: Night, member: Member) -> Hospital:
    begun = moment()
    root = _folder(night.root, member)
    parent = _folder(night.root, night.region.parent) if night.region.parent else None
    loaded = pipeline.loaded(root, night.today, parent)
    library = build(loaded)[0]
    before, inputs = night.known(member), _inputs(night, loaded, library)
    if inputs == before.inputs and _is_whole(night, before):
        same = replace(before, state=HospitalState.UNCHANGED, problems=())
        return _settled(night, member, same, loaded, begun)
    library, findings = examine(loaded)
    name, publish = str(library.department.name), night.engine_of(library)
    if errors := [made for made in findings if made.severity is Severity.ERROR]:
        problems = [Problem.of(_placed(night, member, library.lent, made)) for made in errors]
        try:
            at_once(library, errors, night.to / member.id, publish)
        except PublishError as error:
            problems.append(told_by_system(error))
        return stayed(night, member, problems, name)
    means = Means(night.cluster, night.cache)
    publish(library, night.to / member.id, load_templates(root), only=night.only, means=means)
    with speaking(night.region.language):
        local = local_of(library)
    made = Hospital(str(member.id), name, HospitalState.PUBLISHED, str(library.department.language), local=local)
    made = shown(night, replace(made, since=night.today.isoformat()))
    if library.department.engine is Engine.MKDOCS:  # whose other pages nobody here has read
        return made
    return _settled(night, member, replace(made, inputs=inputs), loaded, begun)


def _folder(root: Path, named: Parent) -> Path:
    """Return the folder of a department that ``named`` tells of. Raises Refused."""
    told = {kind: text for kind in (*KINDS, "digest") if (text := getattr(named, kind)) is not None}
    return parent_folder(root, {**told, WHERE_KEY: named.where}, 0)


def _settled(night: Night, member: Member, hospital: Hospital, loaded: Loaded, begun: int) -> Hospital:
    """Return ``hospital``, whose site is as ``loaded`` says, and keep how long it needs no other turn."""
    layers = tuple(str(packed_in(layer.root)) for layer in _layers(loaded))
    stamp = night.stamp(member, hospital.inputs, layers, partial(stamp_of_layer, begun=begun))
    night.keep(member, Rest(layers, _same_days(build(loaded)[0]), stamp))
    return hospital


def _same_days(library: Library) -> tuple[str, str]:
    """Return the first and the last of the days from today on that decide the same."""
    today, decided = library.today, _decided(library)
    last = today
    for days in range(1, _DAYS_AHEAD + 1):
        if _decided(replace(library, today=today + timedelta(days))) != decided:
            break
        last = today + timedelta(days)
    return today.isoformat(), last.isoformat()


def _decided(library: Library) -> list[object]:
    """Return what the day decides of a site.

    The day itself is not in it: a page says of which day it is, and stays true until one of these changes.
    """
    tables = [[row.cells for row in table.rows] for table in year_tables(library)]
    return [tables, sorted(withdrawn(library)), library.today.year]


def _inputs(night: Night, loaded: Loaded, library: Library) -> str:
    """Return a digest of all that the site of a department is made of, and of what the day decides of it."""
    root = loaded.root
    told = [
        night.made_with, load_templates(root), digest_of_extras(root / FOLDER), _decided(library),
        [[each.texts, each.pictures] for each in _layers(loaded)],
        [(path.name, sha256(path)) for path in sorted((root / "ledger").glob("*"))],
    ]  # fmt: skip
    return digest_of_value(told)


def _layers(loaded: Loaded) -> Iterator[Loaded]:
    yield loaded
    if loaded.parent is not None:
        yield from _layers(loaded.parent)


def _is_whole(night: Night, before: Hospital) -> bool:
    """Tell whether the site is the one that was published, byte for byte."""
    site = night.to / before.id
    return (site / REPORT).is_file() and sha256(site / REPORT) == before.report and is_as_reported(site)


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

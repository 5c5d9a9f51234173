"""A night of a region: each department is published, or left on its last good site with the reason.

Here it is decided which departments have a turn at all. One whose files and whose site are as they were when they were
last looked at, by what the system tells of them, has none: it costs one look at each of its files. So nothing that
publishing needs is loaded here; a turn is a job for a process of its own (``region_turn.py``).
"""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import TypeAdapter

from builder.compose.site.region.hospital import Hospital, HospitalState, Problem, codes_of, pages_of
from builder.load.kept.tree_stamp import stamp_of
from builder.load.templates import load_templates, own_folder
from builder.model.region_file import Member, Region
from builder.publish.build_report import NAME as REPORT
from builder.publish.build_report import report_in, sha256
from builder.publish.cache import Cache, digest_of_extras, digest_of_value, programs
from builder.publish.jobs import Job, JobFailed, JobLost, Processes
from builder.publish.site.region_site import RegionSite
from builder.readback.site.page import read_back
from builder.write.lock import NotWritten

if TYPE_CHECKING:
    from builder.model.library import Library
    from builder.publish.build_report import Report

_READ = ("content", "references", "ledger", "site_templates")
EngineOf = Callable[["Library"], Callable[..., "Report"]]
"""Says what publishes a department."""


@dataclass(frozen=True, slots=True)
class Rest:
    """How long a department needs no turn: from the first to the last of ``same_days`` the day decides the same of it,
    and while the files of its ``layers`` (itself and its parents) and of its site have the same ``stamp``, it is as it
    was. It tells of places and times of one machine, so it is kept in the cache and not with the site."""

    layers: tuple[str, ...] = ()
    same_days: tuple[str, str] = ("", "")
    stamp: str = ""


@dataclass(frozen=True, slots=True)
class Night:
    """What all departments of a night share: the ``region`` in ``root`` is published to ``to``, by a ``cluster`` ("" =
    this machine), what was made before being in ``cache``. ``made_with`` is a digest of the program and of what is
    asked of it; ``before`` holds, by id, what is known of each department from the night before."""

    root: Path
    region: Region
    to: Path
    today: date
    cluster: str
    cache: Cache
    only: tuple[str, ...]
    engine_of: EngineOf
    made_with: str
    before: Mapping[str, Hospital] = field(default_factory=dict)

    def known(self, member: Member) -> Hospital:
        """Return what is known of a department before its turn."""
        id = str(member.id)
        return self.before.get(id, Hospital(id, id, HospitalState.MISSING))

    def stamp(self, member: Member, inputs: str, layers: tuple[str, ...], look: Callable[[str], str]) -> str:
        """Return one number for all that decides whether ``member`` needs a turn, but the day: what it is published
        with, how region.yml names it and its parent, the ``inputs`` and the files of its site, and the files of its
        ``layers``, for which ``look`` returns a stamp. It is "" where a turn is needed in any case."""
        found = [inputs, stamp_of([self.to / member.id]), *map(look, layers)]
        told = [self.made_with, self.region.parent, member, layers, found]
        return digest_of_value(told) if layers and all(found) else ""

    def rest(self, member: Member) -> Rest:
        """Return the rest that was kept of ``member``."""
        try:
            return TypeAdapter(Rest).validate_json(self.cache.noted(self._key(member)))
        except ValueError:
            return Rest()

    def keep(self, member: Member, rest: Rest) -> None:
        """Keep the ``rest`` of ``member``; where that fails, it has a turn the next night."""
        self.cache.note(self._key(member), json.dumps(asdict(rest)))

    def _key(self, member: Member) -> str:
        return digest_of_value(["rest", str(self.to), str(member.id)])


def stamp_of_layer(layer: str, begun: int | None = None) -> str:
    """Return the stamp of what is read of a department in the folder or packed file ``layer``; "" where it may have
    been changed since a turn had ``begun``."""
    path = Path(layer)
    return stamp_of([path] if path.is_file() else [path / part for part in _READ], begun)


def night_of(  # noqa: PLR0913  # what, where and how: each is the caller's to say
    root: Path, region: Region, to: Path, today: date, *, cluster: str, only: tuple[str, ...], engine_of: EngineOf
) -> Night:
    """Return the night ``today`` of the ``region`` in ``root``."""
    bounds = region.cache
    kept = Cache(root / bounds.folder, bounds.gigabytes * 10**9, bounds.days)
    made_with = digest_of_value(
        [programs(), load_templates(root), digest_of_extras(own_folder()), only, region.language]
    )
    before = {hospital.id: hospital for hospital in RegionSite.known_in(to)}
    return Night(root, region, to.resolve(), today, cluster, kept, only, engine_of, made_with, before)


def publish_region(night: Night, show: Callable[[int, int, str], None]) -> list[Hospital]:
    """Publish every department of the region, then the pages of the region; return what is known of each then.

    ``show`` is told how many are done. Raises PublishError where the pages of the region do not show what they promise.
    """
    site = RegionSite(night.to, night.root, night.region, night.today, read_back)
    waiting = [replace(night.known(member), problems=()) for member in night.region.departments]
    return site.hold(waiting, _turns(night), show)


def _turns(night: Night) -> Iterator[tuple[int, Hospital]]:
    """Yield each department by its number when its turn is over: first what needs none."""
    members = night.region.departments
    orders: list[int] = []
    look = cache(stamp_of_layer)  # at the common library once
    for number, member in enumerate(members):
        if known := _as_it_was(night, member, look):
            yield number, known
        else:
            orders.append(number)
    if orders:
        # Imported here because it takes longer than a night in which nothing has changed.
        from builder.region_turn import of_department  # noqa: PLC0415

        with Processes(night) as workers:
            jobs = (Job(str(members[number].id), of_department, (number,)) for number in orders)
            for at, receipt in workers.ended(jobs):
                try:
                    yield orders[at], receipt.result(None)
                except (JobLost, JobFailed) as error:
                    yield orders[at], stayed(night, members[orders[at]], [told_by_system(error)])


def _as_it_was(night: Night, member: Member, look: Callable[[str], str]) -> Hospital | None:
    """Return a department in which nothing has changed, and in which the day decides nothing else; None where it needs
    its turn."""
    before, rest = night.known(member), night.rest(member)
    first, last = rest.same_days
    if not first <= night.today.isoformat() <= last or not rest.stamp:
        return None
    is_same = rest.stamp == night.stamp(member, before.inputs, rest.layers, look)
    return replace(before, state=HospitalState.UNCHANGED, problems=()) if is_same else None


def told_by_system(error: Exception) -> Problem:
    """Return why a department was not published where no finding says so."""
    words = str(error) if isinstance(error, NotWritten) else f"The tool itself failed: {type(error).__name__}: {error}"
    return Problem("", 0, 0, "", words, "")


def stayed(night: Night, member: Member, problems: list[Problem], name: str = "") -> Hospital:
    """Return a department that was not published, with its last good site where it has one."""
    before = night.known(member)
    state = HospitalState.KEPT if (night.to / member.id / REPORT).is_file() else HospitalState.MISSING
    return shown(night, replace(before, state=state, problems=tuple(problems), name=name or before.name))


def shown(night: Night, hospital: Hospital) -> Hospital:
    """Return ``hospital`` with what its site shows."""
    site = night.to / hospital.id
    artefacts = report_in(site).get("artefacts", [])
    digest = sha256(site / REPORT) if artefacts else ""
    return replace(hospital, pages=pages_of(artefacts), codes=codes_of(artefacts), report=digest)

"""``prescrub region``: all departments of a region in one night, each published or left on its last good site."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import TypeAdapter, ValidationError

from builder.commands.common import CALLED_WRONGLY, ERRORS_FOUND, NOTHING_BLOCKS, TOOL_FAILED, CalledWrongly, show
from builder.commands.formats.terminal import one_line
from builder.commands.progress import Bar
from builder.commands.region_night import Night, of_department, stayed, told_by_system
from builder.compose.document import Renderer
from builder.compose.site.region.hospital import Hospital, HospitalState
from builder.compose.site.region.region_pages import INDEX, Composer, night_summary, search_index
from builder.compose.site.web import WebPage
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.load.clock import this_day
from builder.load.files import read_text
from builder.load.kept.kept_files import put_whole
from builder.load.templates import load_templates
from builder.model.region_file import FILE, Region
from builder.model.region_reading import region_of
from builder.outputs import OUTPUTS
from builder.publish.cache import Cache
from builder.publish.jobs import Job, JobFailed, JobLost, Processes
from builder.publish.publish_error import PublishError
from builder.publish.publishing import Means, refuse
from builder.publish.site.site import ASSETS, asset

_KNOWN = "region.json"
_NIGHT = "night.json"
_MADE_BY = "prescrub"
_LOOK_SECONDS = 0.2
_BETWEEN_PAGES_SECONDS = 5.0


def meant(words: list[str], _: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return the second word of the command, and the words left for it."""
    if words[:1] != ["publish"]:
        raise CalledWrongly(
            "`prescrub region` needs the word publish. Write: prescrub region publish [FOLDER] --to DIR"
        )
    return "publish", words[1:]


def run_publish(arguments: argparse.Namespace) -> int:
    """Publish every department, then the pages of the region. Exit code 1 where one stayed on its last good site."""
    root, to = Path(arguments.folder), Path(arguments.to)
    try:
        region = region_of(read_text(root, FILE))
    except Refused as refusal:
        show([refusal.finding], root=root)
        return CALLED_WRONGLY
    night = _begun(root, region, to, arguments)
    try:
        hospitals = _Room(night).hold(_turns(night))
    except PublishError as error:
        sys.stderr.write(f"The departments are done, and the pages of the region could not be made:\n{error}\n")
        return TOOL_FAILED
    failed = [hospital for hospital in hospitals if hospital.has_failed]
    sys.stdout.write("".join(f"{line}\n" for line in _told(hospitals, to)))
    return ERRORS_FOUND if failed else NOTHING_BLOCKS


def _begun(root: Path, region: Region, to: Path, arguments: argparse.Namespace) -> Night:
    only = tuple(arguments.only or ())
    if unknown := sorted(set(only) - set(OUTPUTS.usual)):
        raise CalledWrongly(f"There is no output {quoted(unknown[0])}. Use one of: {', '.join(OUTPUTS.usual)}.")
    if to.is_dir() and any(to.iterdir()) and not (to / _KNOWN).is_file():
        raise CalledWrongly(f"{to} holds files and no region of ours. Name another folder, or empty this one.")
    to.mkdir(parents=True, exist_ok=True)
    before = hospitals_in(to)
    if not (to / _KNOWN).is_file():
        _keep(to, region, [])  # from now on the folder is ours, whatever happens
    bounds = region.cache
    cache = Cache(root / bounds.folder, bounds.gigabytes * 10**9, bounds.days)
    means = Means(arguments.cluster or "", cache)
    return Night(root, region, to.resolve(), this_day(), means, only, {hospital.id: hospital for hospital in before})


def hospitals_in(to: Path) -> tuple[Hospital, ...]:
    """Return what the region in ``to`` knew of its departments when it was last published."""

    try:
        told = json.loads((to / _KNOWN).read_text(encoding="utf-8"))["hospitals"]
        return TypeAdapter(tuple[Hospital, ...]).validate_python(told)
    except (OSError, ValueError, KeyError, TypeError, ValidationError):
        return ()


def _turns(night: Night) -> Iterator[tuple[int, Hospital]]:
    """Yield each department by its number when its turn is over, in the order in which they end."""

    members = night.region.departments
    with Processes(night) as workers:
        waiting = {
            number: workers.submit(Job(str(member.id), of_department, (number,)))
            for number, member in enumerate(members)
        }
        while waiting:
            ready = [number for number, receipt in waiting.items() if receipt.is_done()]
            for number in ready:
                try:
                    yield number, waiting.pop(number).result(None)
                except (JobLost, JobFailed) as error:
                    yield number, stayed(night, members[number], [told_by_system(error)])
            if not ready:
                time.sleep(_LOOK_SECONDS)


class _Room:
    """Where the night is watched from: the terminal, a page and a JSON file, renewed every few seconds."""

    def __init__(self, night: Night) -> None:
        self._night = night
        self._templates = load_templates(night.root)
        self._composer: Composer = Composer(str(night.region.name), night.today, Renderer(self._templates))
        self._written = 0.0

    def hold(self, turns: Iterator[tuple[int, Hospital]]) -> list[Hospital]:
        """Follow the night to its end, write the pages of the region, and return what is known of each department."""
        night = self._night
        hospitals = [self._waiting(number) for number in range(len(night.region.departments))]
        self._look()
        self._tell(hospitals)
        with Bar() as bar:
            bar.show(0, len(hospitals), "reading")
            for number, hospital in turns:
                hospitals[number] = hospital
                done = sum(each.state is not HospitalState.WAITING for each in hospitals)
                bar.show(done, len(hospitals), f"{hospital.name}: {hospital.state.value.casefold()}")
                if time.monotonic() - self._written > _BETWEEN_PAGES_SECONDS:
                    self._tell(hospitals)
        _keep(night.to, night.region, hospitals)
        self._write(hospitals)
        return hospitals

    def _waiting(self, number: int) -> Hospital:
        return replace(
            self._night.known(self._night.region.departments[number]), state=HospitalState.WAITING, problems=()
        )

    def _look(self) -> None:
        for name, text in self._templates.items():
            if name.startswith("site/look/"):
                put_whole(self._night.to / "look" / PurePosixPath(name).name, text.encode())
        for name in ASSETS:
            put_whole(self._night.to / "look" / PurePosixPath(name).name, asset(self._night.root, name))

    def _tell(self, hospitals: Sequence[Hospital], *, is_over: bool = False) -> None:
        """Write how far the night is."""
        page = self._composer.night(hospitals, is_over=is_over)
        put_whole(self._night.to / page.name, page.text.encode())
        put_whole(self._night.to / _NIGHT, _night_told(self._night, hospitals, is_over=is_over).encode())
        self._written = time.monotonic()

    def _write(self, hospitals: Sequence[Hospital]) -> None:
        """Write the pages of the region, and read them back."""
        to = self._night.to
        pages: list[WebPage] = [*self._composer.pages(hospitals), self._composer.night(hospitals, is_over=True)]
        for page in pages:
            put_whole(to / page.name, page.text.encode())
        put_whole(to / INDEX, search_index(hospitals).encode())
        for code, answers in _answers(hospitals).items():
            put_whole(
                to / f"codes/{code}.json", _json({"code": code, "day": _day(self._night.today), "answers": answers})
            )
        self._tell(hospitals, is_over=True)
        read = OUTPUTS.of_pages.read_back
        refuse(f"{page.name}: {problem}" for page in pages for problem in read(page, to / page.name).problems)


def _answers(hospitals: Sequence[Hospital]) -> dict[str, list[dict[str, Any]]]:
    answers: dict[str, list[dict[str, Any]]] = {}
    for hospital in hospitals:
        for answer in hospital.codes:
            told = {"hospital": hospital.name, **asdict(answer), "href": f"{hospital.id}/{answer.href}"}
            answers.setdefault(answer.code, []).append({key: told[key] for key in told if key != "code"})
    return answers


def _keep(to: Path, region: Region, hospitals: Sequence[Hospital]) -> None:
    told = {"made_by": _MADE_BY, "region": str(region.name), "hospitals": [asdict(hospital) for hospital in hospitals]}
    put_whole(to / _KNOWN, _json(told))


def _night_told(night: Night, hospitals: Sequence[Hospital], *, is_over: bool) -> str:
    told = [
        {"id": each.id, "name": each.name, "state": each.state.value, "since": each.since,
         "problems": [asdict(problem) for problem in each.problems]}
        for each in hospitals
    ]  # fmt: skip
    return _json(
        {"region": str(night.region.name), "day": _day(night.today), "is_over": is_over, "hospitals": told}
    ).decode()


def _json(told: Any) -> bytes:
    return (json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode()


def _day(today: date) -> str:
    return today.isoformat()


def _told(hospitals: Sequence[Hospital], to: Path) -> Iterator[str]:
    """Yield the report: what failed and why, gravest first, then how many."""

    for hospital in hospitals:
        if hospital.has_failed:
            yield f"{one_line(hospital.name)} ({hospital.id}): {hospital.state.value.casefold()}{hospital.from_day}"
            yield from (f"  {one_line(str(problem))}" for problem in hospital.problems)
    yield night_summary(hospitals)
    yield f"Open {to / 'index.html'} in a browser; {to / 'night.html'} and {to / _NIGHT} tell how the night went."

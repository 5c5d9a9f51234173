"""The site of a region: its own pages, beside a folder for each department.

The page and the JSON of the night are written while it goes on: at its start, at its end, and each time when a further
hundredth of the departments is done.
"""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import TypeAdapter, ValidationError

from builder.compose.document import Document, Renderer
from builder.compose.site.region.hospital import Hospital, HospitalState
from builder.compose.site.region.region_pages import INDEX, Composer, search_index
from builder.load.kept.kept_files import put_whole
from builder.load.program_words import speaking, spoken_script
from builder.load.templates import load_templates
from builder.model.region_file import Region
from builder.publish.build_report import FileRead
from builder.publish.publish_error import PublishError
from builder.publish.site.site import ASSETS, asset

KNOWN = "region.json"
NIGHT_TOLD = "night.json"
_MADE_BY = "prescrub"
_PARTS = 100
ReadBack = Callable[[Document, Path], FileRead]


class RegionSite:
    """The pages in ``to`` of the ``region`` in ``root`` on the day ``today``; ``read_back`` proves them."""

    def __init__(self, to: Path, root: Path, region: Region, today: date, read_back: ReadBack) -> None:
        self._to = to
        self._name, self._language = str(region.name), str(region.language)
        self._today = today
        self._read_back = read_back
        templates = load_templates(root)
        self._composer = Composer(self._name, self._language, today, Renderer(templates))
        to.mkdir(parents=True, exist_ok=True)
        if not (to / KNOWN).is_file():
            self._keep([])  # from now on the folder is ours, whatever happens
        with speaking(self._language):
            look = {PurePosixPath(name).name: text for name, text in templates.items() if name.startswith("site/look/")}
            for name, text in look.items():
                put_whole(to / "look" / name, (spoken_script(text) if name.endswith(".js") else text).encode())
        for name in ASSETS:
            put_whole(to / "look" / PurePosixPath(name).name, asset(root, name))

    @staticmethod
    def known_in(to: Path) -> tuple[Hospital, ...]:
        """Return what the region in ``to`` knew of its departments when it was last published."""
        try:
            told = json.loads((to / KNOWN).read_text(encoding="utf-8"))["hospitals"]
            return TypeAdapter(tuple[Hospital, ...]).validate_python(told)
        except (OSError, ValueError, KeyError, TypeError, ValidationError):
            return ()

    def hold(
        self, known: Sequence[Hospital], turns: Iterator[tuple[int, Hospital]], show: Callable[[int, int, str], None]
    ) -> list[Hospital]:
        """Follow the night to its end, write the pages of the region, and return what is known of each department.

        ``known`` is what was known of each before; ``turns`` yields it anew, by its number. Raises PublishError where a
        page does not show what it promised.
        """
        hospitals = [replace(hospital, state=HospitalState.WAITING) for hospital in known]
        self._tell(hospitals)
        show(0, len(hospitals), "reading")
        for done, (number, hospital) in enumerate(turns, start=1):
            hospitals[number] = hospital
            show(done, len(hospitals), f"{hospital.name}: {hospital.state.value.casefold()}")
            if done * _PARTS // len(hospitals) > (done - 1) * _PARTS // len(hospitals):
                self._tell(hospitals)
        self._keep(hospitals)
        self._write(hospitals)
        return hospitals

    def _tell(self, hospitals: Sequence[Hospital], *, is_over: bool = False) -> None:
        """Write how far the night is."""
        with speaking(self._language):
            page = self._composer.night(hospitals, is_over=is_over)
        put_whole(self._to / page.name, page.text.encode())
        told = [
            {"id": each.id, "name": each.name, "state": each.state.value, "since": each.since,
             "problems": [asdict(problem) for problem in each.problems]}
            for each in hospitals
        ]  # fmt: skip
        day = self._today.isoformat()
        self._put(NIGHT_TOLD, {"region": self._name, "day": day, "is_over": is_over, "hospitals": told})

    def _write(self, hospitals: Sequence[Hospital]) -> None:
        """Write the pages of the region, and read them back."""
        with speaking(self._language):
            pages = [*self._composer.pages(hospitals), self._composer.night(hospitals, is_over=True)]
            put_whole(self._to / INDEX, search_index(hospitals).encode())
        for page in pages:
            put_whole(self._to / page.name, page.text.encode())
        for code, answers in _answers(hospitals).items():
            self._put(f"codes/{code}.json", {"code": code, "day": self._today.isoformat(), "answers": answers})
        self._tell(hospitals, is_over=True)
        read = ((page, self._read_back(page, self._to / page.name)) for page in pages)
        found = [f"{page.name}: {problem}" for page, proved in read for problem in proved.problems]
        if found:
            raise PublishError("\n".join(found), is_content=True)

    def _keep(self, hospitals: Sequence[Hospital]) -> None:
        self._put(
            KNOWN,
            {"made_by": _MADE_BY, "region": self._name, "hospitals": [asdict(hospital) for hospital in hospitals]},
        )

    def _put(self, name: str, told: Any) -> None:
        put_whole(self._to / name, (json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode())


def _answers(hospitals: Sequence[Hospital]) -> dict[str, list[dict[str, Any]]]:
    answers: dict[str, list[dict[str, Any]]] = {}
    for hospital in hospitals:
        for answer in hospital.codes:
            told = {"hospital": hospital.name, **asdict(answer), "href": f"{hospital.id}/{answer.href}"}
            answers.setdefault(answer.code, []).append({key: told[key] for key in told if key != "code"})
    return answers

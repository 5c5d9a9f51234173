"""``prescrub region``: all departments of a region in one night, each published or left on its last good site."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from builder.commands.common import CALLED_WRONGLY, ERRORS_FOUND, NOTHING_BLOCKS, TOOL_FAILED, CalledWrongly, show
from builder.commands.formats.terminal import one_line
from builder.commands.progress import Bar
from builder.commands.publish import engine_of, refuse_unknown
from builder.compose.site.region.region_pages import NIGHT, night_summary
from builder.compose.view.words import uncapital
from builder.findings.finding import Refused
from builder.load.clock import this_day
from builder.load.files import read_text
from builder.model.region_file import FILE
from builder.model.region_reading import region_of
from builder.publish.publish_error import PublishError

if TYPE_CHECKING:
    from builder.compose.site.region.hospital import Hospital


def meant(words: list[str], _: Mapping[str, Any]) -> tuple[str, list[str]]:
    """Return the second word of the command, and the words left for it."""
    if words[:1] != ["publish"]:
        raise CalledWrongly(
            "`prescrub region` needs the word publish. Write: prescrub region publish [FOLDER] --to DIR"
        )
    return "publish", words[1:]


def run_publish(arguments: argparse.Namespace) -> int:
    """Publish every department, then the pages of the region. Exit code 1 where one stayed on its last good site."""
    from builder.publish.site.region_site import KNOWN  # noqa: PLC0415  # as in ``publish``
    from builder.region_night import night_of, publish_region  # noqa: PLC0415

    root, to, only = Path(arguments.folder), Path(arguments.to), tuple(arguments.only or ())
    try:
        region = region_of(read_text(root, FILE))
    except Refused as refusal:
        show([refusal.finding], root=root)
        return CALLED_WRONGLY
    if only:
        refuse_unknown(only)
    if to.is_dir() and any(to.iterdir()) and not (to / KNOWN).is_file():
        raise CalledWrongly(f"{to} holds files and no region of ours. Name another folder, or empty this one.")
    night = night_of(root, region, to, this_day(), cluster=arguments.cluster or "", only=only, engine_of=engine_of)
    try:
        with Bar() as bar:
            hospitals = publish_region(night, bar.show)
    except PublishError as error:
        sys.stderr.write(f"The departments are done, and the pages of the region could not be made:\n{error}\n")
        return TOOL_FAILED
    sys.stdout.write("".join(f"{line}\n" for line in _told(hospitals, to)))
    return ERRORS_FOUND if any(hospital.has_failed for hospital in hospitals) else NOTHING_BLOCKS


def _told(hospitals: Sequence[Hospital], to: Path) -> Iterator[str]:
    """Yield the report: what failed and why, gravest first, then how many."""
    for hospital in hospitals:
        if hospital.has_failed:
            yield f"{one_line(hospital.name)} ({hospital.id}): {uncapital(hospital.standing)}"
            yield from (f"  {one_line(str(problem))}" for problem in hospital.problems)
    yield night_summary(hospitals)
    told = to / NIGHT, (to / NIGHT).with_suffix(".json")
    yield f"Open {to / 'index.html'} in a browser; {told[0]} and {told[1]} tell how the night went."

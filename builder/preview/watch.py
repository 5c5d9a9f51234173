"""Hears from the system when a file was saved. Where it cannot (a full table of watches, a network drive), whoever
waits looks at the folder himself from time to time, so nothing here is ever relied on to be right."""

import contextlib
import threading
from pathlib import Path

from watchdog.events import (
    DirCreatedEvent,
    DirDeletedEvent,
    DirMovedEvent,
    FileClosedEvent,
    FileCreatedEvent,
    FileDeletedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver, ObservedWatch

# Not the whole folder: a department may lie beside thousands of files that no preview reads.
_WATCHED = ("content", "references", "ledger", "site_templates")
# Not that a file was opened: we open files ourselves.
_EVENTS: list[type[FileSystemEvent]] = [
    FileCreatedEvent, FileModifiedEvent, FileDeletedEvent, FileMovedEvent, FileClosedEvent,
    DirCreatedEvent, DirDeletedEvent, DirMovedEvent,
]  # fmt: skip


class _SavedFiles(FileSystemEventHandler):
    def __init__(self, heard: threading.Event) -> None:
        super().__init__()
        self._heard = heard

    def on_any_event(self, event: FileSystemEvent) -> None:  # noqa: ARG002  # part of the interface
        self._heard.set()


class Watch:
    """Sets ``heard`` whenever something that a preview reads may have changed."""

    def __init__(self, root: Path, heard: threading.Event) -> None:
        self._root = root
        self._handler = _SavedFiles(heard)
        self._observer: BaseObserver | None = None
        self._watches: dict[str, tuple[int, ObservedWatch]] = {}

    @property
    def hears(self) -> bool:
        """Whether the system tells of changes in every folder that is there."""
        return self._observer is not None and all(
            top in self._watches for top in ("", *_WATCHED) if (self._root / top).is_dir()
        )

    def start(self) -> None:
        """Begin. Where the system lends no watch, nothing is heard."""
        observer = Observer()
        try:
            observer.start()
        except (OSError, RuntimeError):
            return
        self._observer = observer
        self.renew()

    def renew(self) -> None:
        """Watch folders that have come, or come again, since the last time."""
        for top in ("", *_WATCHED):
            folder = self._root / top
            number = _number(folder)
            known = self._watches.get(top)
            if self._observer is None or (known and known[0] == number):
                continue
            if known:
                del self._watches[top]
                with contextlib.suppress(KeyError, OSError):
                    self._observer.unschedule(known[1])
            if number:
                with contextlib.suppress(OSError, RuntimeError):
                    watch = self._observer.schedule(
                        self._handler, str(folder), recursive=bool(top), event_filter=_EVENTS
                    )
                    self._watches[top] = (number, watch)

    def end(self) -> None:
        """Hear no more."""
        if self._observer is not None:
            with contextlib.suppress(OSError, RuntimeError):
                self._observer.stop()
                self._observer.join(2)


def _number(folder: Path) -> int:
    """Return the number by which the file system knows ``folder``; 0 where it is none, or a link."""
    try:
        return 0 if folder.is_symlink() or not folder.is_dir() else folder.stat().st_ino or 1
    except OSError:
        return 0

"""What the preview knows of the folder at one moment, frozen; and the keeper that makes the next such state."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from builder.check.piecewise import Examiner
from builder.findings.finding import Finding, Refused
from builder.load.again import Again, Stamp, stamp_of
from builder.load.clock import this_day
from builder.load.files import walk
from builder.load.folder import Loaded
from builder.load.last_good import LastGood
from builder.load.sources.bibliography import SourceCache
from builder.load.templates import FOLDER, load_templates
from builder.model.build import KeptPages, build
from builder.model.library import Library

_DELETING_SECONDS = 0.04
_MOST_DELETING_SECONDS = 1.0


@dataclass(frozen=True)
class State:
    """The folder at one moment.

    ``library`` is the newest good one: where a file in ``old`` could once be read, it is there as it was then. ``gone``
    holds each procedure that is no longer there, in the last Library that had it. ``names`` are the files that were
    seen: only their text may be asked for. ``never`` are those in ``old`` that never were good.
    """

    number: int
    library: Library
    findings: tuple[Finding, ...]
    old: frozenset[str] = frozenset()
    gone: Mapping[str, Library] = field(default_factory=dict)
    names: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()


class Keeper:
    """Looks at the folder and makes the next state; one instance a preview, used by one thread at a time."""

    def __init__(self, root: Path, hurry: Callable[[Library], None] | None = None) -> None:
        """``hurry`` is told each new good Library before it is checked: papers need not wait for the findings."""
        self.root = root
        self._hurry = hurry
        self.templates = load_templates(root)
        self._template_stamps = self._stamps()
        self._again = Again(root, SourceCache.of_user())
        self._examiner = Examiner()
        self._pages = KeptPages()
        self._good = LastGood()
        self._loaded = self._read()
        self.state = self._made(None)

    def look(self) -> State:
        """Look at the folder, and return its state: the same object where nothing has changed. Never raises."""
        new_templates = self._templates_changed()
        before = self._loaded
        self._loaded, changed = self._settled()
        same_day = before.today == self._loaded.today and before.ledger == self._loaded.ledger
        if changed or new_templates or not same_day:
            self.state = self._made(self.state)
        return self.state

    def _settled(self) -> tuple[Loaded, bool]:
        """Read the folder, and tell whether anything has changed. A folder that is being deleted is waited for.

        Else what goes first would be taken for what was meant to go, and the rest for all there ever was.
        """
        loaded, changed = self._read(), self._again.changed
        names = frozenset(self._again.names())
        until = time.monotonic() + _MOST_DELETING_SECONDS
        going = bool(self.state.names - names)
        while going and time.monotonic() < until:
            time.sleep(_DELETING_SECONDS)
            loaded = self._read()
            changed |= self._again.changed
            before, names = names, frozenset(self._again.names())
            going = names != before
        return loaded, changed

    def _read(self) -> Loaded:
        return self._again.load(this_day())

    def _made(self, before: State | None) -> State:
        loaded, names = self._loaded, frozenset(self._again.names())
        library, misfits = build(loaded, self._pages)
        mended, old = self._good.mended(loaded, library.broken, names, self._is_there)
        good = build(mended)[0] if mended is not loaded else library
        if self._hurry is not None and not old:
            self._hurry(good)
        findings = self._examiner.findings(loaded, library, misfits)
        held = {**before.gone, **dict.fromkeys(before.library.by_id, before.library)} if before else {}
        gone = {id: library for id, library in held.items() if id not in good.by_id}
        number = before.number + 1 if before else 1
        return State(number, good, tuple(findings), old, gone, names, self._good.never(old))

    def _is_there(self, name: str) -> bool:
        """Tell whether something stands where the file ``name`` was, such as a folder; or whether nobody can tell."""
        return not self._again.is_whole or bool(stamp_of(f"{self.root}/{name}"))

    def _templates_changed(self) -> bool:
        """Read the templates again where a department's own have changed; a broken set leaves the last one in use."""
        stamps = self._stamps()
        if stamps == self._template_stamps:
            return False
        self._template_stamps = stamps
        try:
            self.templates = load_templates(self.root)
        except Refused:
            return False
        return True

    def _stamps(self) -> dict[str, Stamp]:
        folder = self.root / FOLDER
        try:
            return {name: stamp_of(f"{folder}/{name}") for name, _ in walk(folder)} if folder.is_dir() else {}
        except Refused:
            return {}

"""The one worker that owns the state: looks when a file was saved, and tells those who wait."""

import gc
import os
import sys
import threading
import time
import traceback
from pathlib import Path

from builder.compose.document import Renderer
from builder.load.templates import load_templates, own_folder
from builder.model.library import Library
from builder.preview.own_editor import OwnEditor
from builder.preview.press import ALONE, NotSet, Paper, PaperSetter
from builder.preview.state import Keeper, State
from builder.preview.watch import Watch
from builder.write.writer import recover

_QUIET_SECONDS = 0.012
"""An editor writes a file in several strokes; they are waited for, but never longer than the next number."""
_MOST_SECONDS = 0.1
_HALF_WRITTEN_SECONDS = 0.04
_LOOK_SECONDS = 2.0
_LOOK_DEAF_SECONDS = 0.3
_MOST_SHARE = 20
"""Looking unasked takes at most one part in so many of the time."""
_LOOKED_AT_SECONDS = 300.0


class Workshop:
    """What answers read and do. ``root`` is the department's folder, ``home`` what every address begins with.

    An answer takes ``state`` once: it is frozen, and the next reading may be of the next one.
    """

    def __init__(self, root: Path, home: str, editor: OwnEditor | None = None) -> None:
        self.root = root
        self.home = home
        self.editor = editor or OwnEditor("")
        self._wanted: dict[tuple[str, str], float] = {}
        recover(root)  # what was killed in the middle of an edit, before anything is read
        self._keeper = Keeper(root, self._hurry)
        self.state = self._keeper.state
        """The newest state."""
        self.renderer = Renderer(load_templates(own_folder().parent))
        """The preview's own templates. They are never a department's: they have buttons that write."""
        self.content_renderer = Renderer(self._keeper.templates)
        """The templates of what is published, a department's own among them."""
        self.press = PaperSetter(root, self._keeper.templates)
        self._looking = threading.Lock()
        self._news = threading.Condition()
        self._heard = threading.Event()
        self.ended = False
        self._watch = Watch(root, self._heard)
        self._thread = threading.Thread(target=self._work, name="preview", daemon=True)
        self._took = 0.0
        self.last_pages: dict[str, str] = {}
        """The last page of each procedure that could be composed: what is shown while the next one cannot."""
        self.last_papers: dict[tuple[str, str], Paper] = {}
        self.returned: dict[str, tuple[str, bytes]] = {}
        """Name and content of the committee's copy of a procedure that was brought back last."""
        self.fault = ""
        """What is wrong with the preview itself, in plain words; "" where nothing is."""

    def start(self, *, warm: bool = True) -> None:
        """Begin to look at the folder; ``warm`` gets ready to set type before anybody asks for it."""
        self._watch.start()
        self._thread.start()
        if warm:
            self.press.warm()

    def end(self) -> None:
        """Stop looking, and let everybody go who waits."""
        with self._news:
            self.ended = True
            self._news.notify_all()
        self._heard.set()
        self._watch.end()
        self.press.end()

    def saved(self) -> int:
        """Look at the folder now, and return the number of the state that has what was written before."""
        with self._looking:
            self._look()
        return self.state.number

    def wait(self, number: int, seconds: float) -> State | None:
        """Wait until there is a newer state than ``number``; None where there is none for ``seconds``, or no more."""
        with self._news:
            self._news.wait_for(lambda: self.ended or self.state.number > number, seconds)
            return None if self.ended or self.state.number <= number else self.state

    def paper(self, library: Library, procedure: str, output: str) -> Paper | NotSet:
        """Return a paper to be looked at; from now on, for a while, it is set anew as soon as a file is saved."""
        self._wanted[procedure, output] = time.monotonic()
        return self.press.paper(library, procedure, output)

    def _hurry(self, library: Library) -> None:
        """Have set what is being looked at, while the check still runs."""
        since = time.monotonic() - _LOOKED_AT_SECONDS
        for (procedure, output), asked in list(self._wanted.items()):
            if asked > since and output in ALONE and procedure in library.by_id:
                self.press.ahead(library, procedure, output)

    def _look(self) -> None:
        """Look, and tell whoever waits. A fault of ours must not end the preview: it is told, and looking goes on."""
        try:
            self._look_at_all()
        except Exception as error:
            show_fault()
            self.fault = f"prescrub itself failed while checking ({type(error).__name__}); shown is what was before"
        else:
            self.fault = ""

    def _look_at_all(self) -> None:
        started = time.perf_counter()
        before = self.state
        state = self._keeper.look()
        if state.old - before.old:
            # A file that can no longer be read is most often half written; the other half is a moment away.
            time.sleep(_HALF_WRITTEN_SECONDS)
            state = self._keeper.look()
        if self._keeper.templates is not self.content_renderer.templates:
            self.content_renderer = Renderer(self._keeper.templates)
            self.press.renew(self._keeper.templates)
        self._took = time.perf_counter() - started
        if state is not before:
            with self._news:
                self.state = state
                self._news.notify_all()

    def _work(self) -> None:
        tidy = False
        while True:
            hears = self._watch.hears and not self.state.library.lent  # nobody tells of what a parent saves
            patience = _LOOK_SECONDS if hears else _LOOK_DEAF_SECONDS
            heard = self._heard.wait(max(patience, self._took * _MOST_SHARE))
            if self.ended:
                return
            if heard:
                self._settle()
            number = self.state.number
            with self._looking:
                self._look()
            self._watch.renew()
            if self.state.number != number:
                tidy = True
            elif tidy and not heard:
                tidy = False
                self._tidy()

    def _settle(self) -> None:
        """Wait until nothing more is heard for a moment."""
        until = time.monotonic() + _MOST_SECONDS
        self._heard.clear()
        while time.monotonic() < until and self._heard.wait(_QUIET_SECONDS):
            self._heard.clear()

    @staticmethod
    def _tidy() -> None:
        """Give back what earlier states left in circles: reading sets everything aside for good (load/folder.py)."""
        gc.unfreeze()
        gc.collect()
        gc.freeze()


def show_fault() -> None:
    """Show the traceback of the fault at hand, to whoever asked for it; a browser that went away is none."""
    if os.environ.get("PRESCRUB_DEBUG") and not isinstance(sys.exception(), ConnectionError):
        traceback.print_exc()

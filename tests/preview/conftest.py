"""A preview of a small department on loopback, its browser, and what a careless or hostile client would send."""

from __future__ import annotations

import http.client
import json
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import patience
import pytest
from department import new_base
from gallbladder import drafted_in
from publishing import made_once

from builder.preview import press, state
from builder.preview.gate import COOKIE, Gate
from builder.preview.own_editor import OwnEditor
from builder.preview.server import PreviewServer
from builder.preview.workshop import Workshop
from builder.publish.jobs import Done, Here, Job, Receipt
from builder.publish.output import Equipment

BASE = Path(__file__).parents[1] / "base"


@dataclass
class Answer:
    """What came back over the wire."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")


@dataclass
class Preview:
    """A running preview, and a client of it that has been let in."""

    server: PreviewServer
    told: list[str] = field(default_factory=list)
    cookie: str = ""

    @property
    def shop(self) -> Workshop:
        return self.server.workshop

    @property
    def root(self) -> Path:
        return self.shop.root

    @property
    def port(self) -> int:
        return int(self.server.server_address[1])

    @property
    def home(self) -> str:
        return f"http://127.0.0.1:{self.port}{self.shop.home}"

    def send(self, method: str, path: str, body: Any = None, **headers: str | None) -> Answer:
        """Send one request as a browser would; a header given as None is left out. ``path`` is whole, with /."""
        sent: dict[str, str | None] = {"Host": f"127.0.0.1:{self.port}", "Cookie": f"{COOKIE}={self.cookie}"}
        if method == "POST":
            sent |= {"Origin": f"http://127.0.0.1:{self.port}", "Content-Type": "application/json"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        content = body if isinstance(body, bytes | None) else json.dumps(body).encode()
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=patience.SECONDS)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            if content is not None and "Content-Length" not in sent:
                sent["Content-Length"] = str(len(content))
            for name, value in sent.items():
                if value is not None:
                    connection.putheader(name, value)
            connection.endheaders(content)
            answer = connection.getresponse()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str | None) -> Answer:
        """Get ``path`` below the preview's home."""
        return self.send("GET", f"{self.shop.home}/{path}", **headers)

    def post(self, path: str, body: Any, **headers: str | None) -> Answer:
        """Post JSON to ``path`` below the preview's home."""
        return self.send("POST", f"{self.shop.home}/{path}", body, **headers)

    def until(self, true: Callable[[], bool]) -> None:
        """Wait until ``true``, which the preview must bring about by itself."""
        end = time.monotonic() + patience.SECONDS
        while not true():
            assert time.monotonic() < end, "it never came about"
            time.sleep(0.01)


@pytest.fixture(autouse=True)
def _patient_preview(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give up neither a page that takes long to be set nor a folder that takes long to be deleted."""
    monkeypatch.setattr(press, "_PATIENCE_SECONDS", patience.SECONDS)
    monkeypatch.setattr(state, "_MOST_DELETING_SECONDS", patience.SECONDS)


class _SetHere(Here[Equipment]):
    """Sets a paper in this process when it is asked for, and only once."""

    def __init__(self, shared: Equipment, most: int) -> None:
        super().__init__(shared)
        assert most == 1

    def submit(self, job: Job[Done]) -> Receipt[Done]:
        result = cache(super().submit(job).result)
        return Receipt(lambda _: result(None), lambda: True)

    def close(self, *, wait: bool = True) -> None:
        """Nothing is kept."""


@pytest.fixture
def set_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have papers set in this process, which has read the fonts: for tests of what is shown, not of who sets it."""
    monkeypatch.setattr(press, "Processes", _SetHere)


@contextmanager
def previews() -> Iterator[Callable[..., Preview]]:
    """Start previews; all of them end with the block."""
    started: list[Preview] = []

    def start(root: Path, editor: str = "") -> Preview:
        told: list[str] = []
        gate = Gate(told.append)
        preview = Preview(PreviewServer(Workshop(root, gate.home, OwnEditor(editor)), gate), told)
        started.append(preview)
        preview.shop.start(warm=False)  # most tests set no type
        threading.Thread(target=preview.server.serve_forever, args=(0.02,), daemon=True).start()
        answer = preview.send("GET", gate.address.partition(f":{preview.port}")[2])
        preview.cookie = answer.headers["set-cookie"].partition("=")[2].partition(";")[0]
        return preview

    yield start
    for preview in started:
        preview.shop.end()
        preview.server.shutdown()
        preview.server.server_close()


@pytest.fixture
def preview_of() -> Iterator[Callable[..., Preview]]:
    """Start previews; all of them end with the test."""
    with previews() as start:
        yield start


@pytest.fixture
def preview(base: Path, preview_of: Callable[..., Preview]) -> Preview:
    """A preview of the smallest department."""
    return preview_of(base)


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Preview]:
    """A preview of it for all tests of a file that change nothing."""
    with previews() as start:
        yield start(new_base(tmp_path_factory.mktemp("still")))


@pytest.fixture
def tab(browser: Any, preview: Preview) -> Iterator[Any]:
    """A tab that has been let in, 1280 px wide; the test fails on any error of a script or broken policy."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    said: list[str] = []
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("console", lambda message: said.append(message.text))
    opened.goto(preview.server.gate.address)
    opened.wait_for_url(f"{preview.home}/")
    yield opened
    context.close()
    # The browser writes a line about every answer that refuses what a person has typed; it is no error of a script.
    assert [line for line in said if "status of 422" not in line] == []


@pytest.fixture(scope="session")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A department with the draft of a talk, made once and not to be changed."""
    return made_once(tmp_path_factory, "drafted-talk", drafted_in)


@pytest.fixture
def room(drafted: Path, tmp_path: Path, preview_of: Callable[..., Preview]) -> Preview:
    """A preview of it, free to be changed."""
    return preview_of(Path(shutil.copytree(drafted, tmp_path / "department")))

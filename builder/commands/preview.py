"""``prescrub preview``: page, card and slides in the browser while you write, with what was found beside its place."""

import argparse
import os
import signal
import sys
import threading
import webbrowser
from typing import Any

from builder.commands.common import NOTHING_BLOCKS, CalledWrongly, department

_HIGHEST_PORT = 65535


def run(arguments: argparse.Namespace) -> int:
    """Serve until Ctrl-C."""
    # Imported here because pages, checks and the watching of files take long to import.
    from builder.findings.finding import Refused  # noqa: PLC0415
    from builder.preview.gate import Gate  # noqa: PLC0415
    from builder.preview.own_editor import OwnEditor  # noqa: PLC0415
    from builder.preview.server import PreviewServer  # noqa: PLC0415
    from builder.preview.workshop import Workshop  # noqa: PLC0415

    port = arguments.port or "0"
    if not (port.isdecimal() and int(port) <= _HIGHEST_PORT):
        raise CalledWrongly(f"{port} is not a port. Write a number from 1024 to {_HIGHEST_PORT}, or leave it out.")
    root = department(arguments.folder)
    try:
        editor = OwnEditor.chosen(arguments.editor, os.environ)
    except ValueError as error:
        raise CalledWrongly(str(error)) from None
    gate = Gate(_tell, _tell if arguments.no_browser else _open)
    try:
        workshop = Workshop(root, gate.home, editor)
    except Refused as refusal:
        raise CalledWrongly(f"{refusal.finding.message}. {refusal.finding.hint}") from None
    try:
        server = PreviewServer(workshop, gate, int(port))
    except OSError as error:
        workshop.end()
        raise CalledWrongly(f"Port {port} cannot be used: {error.strerror or error}.") from None
    _serve(server, browser=not arguments.no_browser)
    return NOTHING_BLOCKS


def _serve(server: Any, *, browser: bool) -> None:
    stopped = threading.Event()
    # A service manager, and a terminal that is closed, ask with other signals than Ctrl-C; the end is the same.
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        if hasattr(signal, name) and threading.current_thread() is threading.main_thread():
            signal.signal(getattr(signal, name), lambda *_: stopped.set())
    answering = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    server.workshop.start()
    answering.start()
    sys.stdout.write(f"Preview: {server.gate.address}\nThe address lets one browser in, once. End with Ctrl-C.\n")
    sys.stdout.flush()
    if browser:
        _open(server.gate.address)
    # Waiting for ever would not hear Ctrl-C on Windows.
    while not stopped.wait(0.5):
        pass
    sys.stdout.write("\nThe preview has ended. What was saved can still be taken back the next time.\n")
    server.workshop.end()
    server.shutdown()
    server.server_close()


def _open(address: str) -> None:
    """Open the browser; where there is none, the printed address is enough."""
    try:
        webbrowser.open(address)
    except (webbrowser.Error, OSError):
        sys.stdout.write("No browser could be opened: open the address yourself.\n")


def _tell(address: str) -> None:
    """Print a fresh address, because a browser came that is not let in."""
    sys.stdout.write(f"A browser that has not been let in asked for the preview. If it is yours, open: {address}\n")
    sys.stdout.flush()

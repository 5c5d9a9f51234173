"""The file that ``start`` leaves to be double-clicked, so that the preview opens without a terminal.

The one for Linux is run by a test. Those for macOS and Windows are written by the rules of those systems (a shell
script that ends in .command; a batch file) and have not been tried on one.
"""

import re
import shlex
from pathlib import Path, PurePath

_TRIED = "linux"


def launchers(platform: str, python: str, folder: PurePath) -> dict[str, str]:
    """Return the text of each file for ``platform`` (as ``sys.platform`` names it), by its name.

    ``python`` is the program that runs this one, ``folder`` where the department will be.
    """
    if platform == "win32":
        lines = ["@echo off", 'cd /d "%~dp0"', f'"{python}" -m builder preview .', "pause"]
        return {"open-preview.bat": "\r\n".join([*lines, ""])}
    shell = f'#!/bin/sh\ncd "$(dirname "$0")" && exec {shlex.quote(python)} -m builder preview .\n'
    if platform == "darwin":
        return {"open-preview.command": shell}
    entry = [
        "[Desktop Entry]", "Type=Application", "Name=Open the preview", "Terminal=true",
        f"Exec={_quoted(python)} -m builder preview {_quoted(str(folder))}",
    ]  # fmt: skip
    return {"open-preview.sh": shell, "open-preview.desktop": "\n".join([*entry, ""])}


def _quoted(word: str) -> str:
    """Return a word as the Desktop Entry Specification 1.5 quotes it in ``Exec``."""
    inner = re.sub(r'(["`$\\])', r"\\\1", word).replace("\\", "\\\\").replace("%", "%%")
    return f'"{inner}"'


def left_in(made: Path, platform: str, python: str, folder: PurePath) -> str:
    """Write the files into the folder ``made``; return what is said about them."""
    files = launchers(platform, python, folder)
    for name, text in files.items():
        path = made / name
        path.write_bytes(text.encode())
        path.chmod(0o755)
    tried = "" if platform == _TRIED else " It is written for this system, and was not tried on one."
    return f"Double-click {' or '.join(files)} there to open it in the browser.{tried}\n"

"""The command line.

Exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed.
"""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module

from builder import __version__
from builder.commands.common import CALLED_WRONGLY, NOTHING_BLOCKS, TOOL_FAILED, CalledWrongly

_COMMANDS = ("check", "draft", "preview", "publish", "sources", "schema")
_ABOUT = "Takes a surgeon's steps, cautions and aftercare, proves that they hold together, and publishes them."
_CODES = "exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed"
_DEBUG = "PRESCRUB_DEBUG"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run ``prescrub`` with ``arguments`` (default: those of the process) and return the exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    parser = _parser(words[0] if words else "")
    try:
        found = parser.parse_args(words)
    except SystemExit as stop:
        return int(stop.code or 0)
    try:
        return int(found.run(found))
    except CalledWrongly as error:
        sys.stderr.write(f"prescrub: {error}\n")
        return CALLED_WRONGLY
    except BrokenPipeError:
        # Whoever read our output has gone; there is nobody left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return NOTHING_BLOCKS
    except KeyboardInterrupt:
        sys.stderr.write("prescrub: stopped; nothing was half written.\n")
        return TOOL_FAILED
    except Exception as error:  # the last line of defence: a traceback helps nobody who writes content
        return _failed(error)


def _failed(error: Exception) -> int:
    if os.environ.get(_DEBUG):
        traceback.print_exc()
    sys.stderr.write(
        f"prescrub: the tool itself failed ({type(error).__name__}: {error}).\n"
        f"This is a fault of prescrub, not of your text. Set {_DEBUG}=1, run it again and report what it prints.\n"
    )
    return TOOL_FAILED


def _parser(first: str) -> argparse.ArgumentParser:
    """Return the parser of the command ``first``, or of all: what a command imports can take longer than its work."""
    parser = argparse.ArgumentParser(prog="prescrub", description=_ABOUT, epilog=_CODES)
    parser.add_argument("--version", action="version", version=f"prescrub {__version__}")
    parsers = parser.add_subparsers(metavar="COMMAND", required=True)
    for command in [first] if first in _COMMANDS else _COMMANDS:
        import_module(f"builder.commands.{command}").add(parsers)
    return parser

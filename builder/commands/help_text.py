"""What ``--help`` prints, made from the table of commands."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence

from builder.commands.command_table import COMMANDS, HELP, SHORT_FORMS, VERSION, Command

_ABOUT = "Takes a surgeon's steps, cautions and aftercare, proves that they hold together, and publishes them."
_CODES = "exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed"


def overview() -> str:
    """Return the list of all commands."""
    parser = _parser("prescrub COMMAND [words and options in any order]", _ABOUT)
    parser.add_argument(HELP.flag, **HELP.settings)
    parser.add_argument(VERSION.flag, **VERSION.settings)
    parser.epilog = (
        f"commands:\n{_listed(COMMANDS)}\n{_short_forms(SHORT_FORMS)}\n"
        f"`prescrub COMMAND --help` tells more of one command, with examples.\n\n{_CODES}"
    )
    return parser.format_help()


def help_text(commands: Sequence[Command]) -> str:
    """Return the help of one command, or of the commands with the same first word."""
    usage = "\n       ".join(command.usage for command in commands)
    parser = _parser(usage, commands[0].about if len(commands) == 1 else f"commands:\n{_listed(commands)}")
    words = parser.add_argument_group("words")
    for word in dict.fromkeys(word for command in commands for word in command.words):
        words.add_argument(word.name, nargs="?", help=word.about)
    parser.add_argument("-h", HELP.flag, **HELP.settings)
    for option in dict.fromkeys(option for command in commands for option in command.options):
        parser.add_argument(option.flag, **option.settings)
    names = {command.name for command in commands}
    examples = "".join(f"  {example}\n" for command in commands for example in command.examples)
    short_forms = _short_forms((typed, name) for typed, name in SHORT_FORMS if name in names)
    parts = [f"examples:\n{examples}", short_forms, *(command.more for command in commands)]
    parser.epilog = "\n".join(part for part in parts if part).rstrip()
    return parser.format_help()


def _parser(usage: str, description: str) -> argparse.ArgumentParser:
    layout = argparse.RawDescriptionHelpFormatter
    return argparse.ArgumentParser(usage=usage, description=description, add_help=False, formatter_class=layout)


def _listed(commands: Sequence[Command]) -> str:
    return "".join(f"  {command.usage}\n        {command.about}\n" for command in commands)


def _short_forms(forms: Iterable[tuple[str, str]]) -> str:
    lines = "".join(f"  {typed:<42}the same as prescrub {name}\n" for typed, name in forms)
    return lines and f"short forms:\n{lines}"

"""The command line: which command the words mean, with options anywhere among them.

Exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed.

argparse reads options, and no words: it is told of the options of all commands at once, and hands the words back in
their order wherever options stand among them. What it does with words (``nargs="?"``) breaks as soon as they are
parted. The command is chosen and its words are bound here, in messages of our own.
"""

import argparse
import os
import sys
import traceback
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from functools import cache
from importlib import import_module
from typing import Any

from builder import __version__
from builder.commands.command_table import COMMANDS, HELP, SHORT_FORMS, VERSION, Command, Flag, commands_of
from builder.commands.common import CALLED_WRONGLY, ERRORS_FOUND, NOTHING_BLOCKS, TOOL_FAILED, CalledWrongly
from builder.commands.formats import terminal
from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.write.lock import NotWritten

_DEBUG = "PRESCRUB_DEBUG"
_OPTIONS = {option.flag: option for command in COMMANDS for option in command.options}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run ``prescrub`` with ``arguments`` (default: those of the process) and return the exit code."""
    try:
        return _run(list(sys.argv[1:] if arguments is None else arguments))
    except (CalledWrongly, NotWritten) as error:
        nothing = "Nothing was written.\n" if isinstance(error, NotWritten) else ""
        sys.stderr.write(f"prescrub: {error}\n{nothing}")
        return CALLED_WRONGLY
    except Refused as refusal:
        sys.stderr.write(f"{terminal.render([refusal.finding])}Nothing was written.\n")
        return ERRORS_FOUND
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


def _run(arguments: list[str]) -> int:
    words, given, unknown = _parted(arguments)
    if given.pop(VERSION.key, False):
        sys.stdout.write(f"prescrub {__version__}\n")
        return NOTHING_BLOCKS
    if given.pop(HELP.key, False) or not arguments:
        sys.stdout.write(_help(words))
        return NOTHING_BLOCKS
    command, rest = _meant(words, given, unknown)
    module = import_module(f"builder.commands.{command.name.split()[0]}")
    return int(getattr(module, command.function)(_bound(command, rest, given)))


def _parted(arguments: list[str]) -> tuple[list[str], dict[str, Any], list[str]]:
    """Return the words in their order, the options given, and the options that no command has.

    argparse is told of the options of all commands and of no words, so it hands these back wherever they stand. What
    stands behind ``--`` is a word even where it begins with a hyphen.
    """
    ends = arguments.index("--") if "--" in arguments else len(arguments)
    try:
        given, rest = _parser().parse_known_args(arguments[:ends])
    except argparse.ArgumentError as error:
        option = _OPTIONS.get(str(error.argument_name), HELP)
        need = f"must be followed by {option.value}" if option.value else "takes no value"
        raise CalledWrongly(f"{error.argument_name} {need}.") from None
    unknown = [word for word in rest if word.startswith("-") and len(word) > 1 and " " not in word]
    words = [word for word in rest if word not in unknown]
    return words + arguments[ends + 1 :], {key: value for key, value in vars(given).items() if value}, unknown


@cache
def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(add_help=False, allow_abbrev=False, exit_on_error=False)
    parser.add_argument("-h", HELP.flag, **HELP.settings)
    for option in (VERSION, *_OPTIONS.values()):
        parser.add_argument(option.flag, **option.settings)
    return parser


def _help(words: list[str]) -> str:
    """Return the help of the command that ``words`` begin with, of all with the same first word, or of everything."""
    exact = [command for command in COMMANDS if words[: len(command.name.split())] == command.name.split()]
    commands = exact or commands_of(words[0] if words else "")
    return help_text(commands) if commands else overview()


def _meant(words: list[str], given: dict[str, Any], unknown: list[str]) -> tuple[Command, list[str]]:
    """Return the command that ``words`` name, in full or in short, and the words left for it."""
    if not words:
        raise CalledWrongly("No command is named. `prescrub --help` lists them.")
    first, family = words[0], commands_of(words[0])
    if not family:
        names = [command.name.split()[0] for command in COMMANDS]
        raise CalledWrongly(f"There is no command {quoted(first)}. {_nearest(first, names, 'prescrub --help')}")
    if unknown:
        flags = [option.flag for command in family for option in command.options]
        near = _nearest(unknown[0].partition("=")[0], flags, f"prescrub {first} --help")
        raise CalledWrongly(f"`prescrub {first}` has no option {unknown[0]}. {near}")
    command, rest = family[0], words[1:]
    if " " in command.name:
        name, rest = import_module(f"builder.commands.{first}").meant(rest, given)
        command = next(command for command in family if command.name == f"{first} {name}")
    for option in _OPTIONS.values():
        if option.key in given and option.key not in {own.key for own in command.options}:
            owner = next((f"It belongs to `{other.usage}`." for other in family if option in other.options), "")
            flags = [own.flag for own in command.options]
            near = owner or _nearest(option.flag, flags, f"prescrub {first} --help")
            raise CalledWrongly(f"`prescrub {command.name}` has no option {option.flag}. {near}")
    return command, rest


def _nearest(word: str, known: Iterable[str], otherwise: str) -> str:
    near = get_close_matches(word, list(known), n=1)
    return f"Did you mean {near[0]}?" if near else f"`{otherwise}` lists what there is."


def _bound(command: Command, rest: list[str], given: dict[str, Any]) -> argparse.Namespace:
    """Return what the command is given, by name. A word that an option names already is not expected again."""
    bound: dict[str, Any] = {option.key: None for option in command.options}
    bound |= {"folder": "."} if any(word.name == "FOLDER" for word in command.words) else {}
    bound |= {word.name.lower(): None for word in command.words if word.name != "FOLDER"} | given
    expected = [word for word in command.words if word.name.lower() not in given]
    if len(rest) > len(expected):
        raise CalledWrongly(
            f"{quoted(rest[len(expected)])} is one word too many. Write: {command.usage}. "
            "Put words that belong together in quotation marks."
        )
    missing = [f"{word.name} ({word.about})" for word in expected[len(rest) :] if not word.optional]
    missing += [f"{one.flag} ({one.about})" for one in command.options if one.required and one.key not in given]
    if missing:
        raise CalledWrongly(f"{missing[0]} is missing. Write: {command.usage}")
    bound |= {word.name.lower(): value for word, value in zip(expected, rest, strict=False)}
    for option in command.options:
        _refuse_value(option, given.get(option.key))
    return argparse.Namespace(**bound)


def _refuse_value(option: Flag, value: Any) -> None:
    for written in value if isinstance(value, list) else [value]:
        if written and option.choices and written not in option.choices:
            choices = f"{', '.join(option.choices[:-1])} or {option.choices[-1]}"
            raise CalledWrongly(f"{option.flag} cannot be {quoted(written)}. Write {choices}.")


_ABOUT = "Takes a surgeon's steps, cautions and aftercare, proves that they hold together, and publishes them."
_CODES = "exit codes: 0 nothing blocks, 1 errors found, 2 called wrongly, 3 the tool itself failed"


def overview() -> str:
    """Return the list of all commands."""
    parser = _help_parser("prescrub COMMAND [words and options in any order]", _ABOUT)
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
    parser = _help_parser(usage, commands[0].about if len(commands) == 1 else f"commands:\n{_listed(commands)}")
    words = parser.add_argument_group("words")
    for word in dict.fromkeys(word for command in commands for word in command.words):
        words.add_argument(word.name, nargs="?", help=word.about)
    parser.add_argument("-h", HELP.flag, **HELP.settings)
    for option in dict.fromkeys(option for command in commands for option in command.options):
        parser.add_argument(option.flag, **option.settings)
    names = {command.name for command in commands}
    examples = "".join(f"  {example}\n" for command in commands for example in command.examples)
    short_forms = _short_forms((typed, name) for typed, name in SHORT_FORMS if name in names)
    outputs = _outputs() if "publish" in names else ""
    parts = [f"examples:\n{examples}", short_forms, outputs, *(command.more for command in commands)]
    parser.epilog = "\n".join(part for part in parts if part).rstrip()
    return parser.format_help()


def _outputs() -> str:
    """Return the names that ``--only`` takes, in the order of the table of outputs."""
    from builder.outputs import OUTPUTS  # noqa: PLC0415  # starts typesetter and site engine, and only this help needs it

    titles = {row.name: f"{row.title} ({row.form})" for row in OUTPUTS.files}
    widest = max(map(len, OUTPUTS.usual))
    rows = (
        f"  {name:<{widest}}  {titles.get(name, 'The pages: procedures, self-tests, evidence tables')}\n"
        for name in OUTPUTS.usual
    )
    return "OUTPUT is one of:\n" + "".join(rows)


def _help_parser(usage: str, description: str) -> argparse.ArgumentParser:
    layout = argparse.RawDescriptionHelpFormatter
    return argparse.ArgumentParser(usage=usage, description=description, add_help=False, formatter_class=layout)


def _listed(commands: Sequence[Command]) -> str:
    return "".join(f"  {command.usage}\n        {command.about}\n" for command in commands)


def _short_forms(forms: Iterable[tuple[str, str]]) -> str:
    lines = "".join(f"  {typed:<42}the same as prescrub {name}\n" for typed, name in forms)
    return lines and f"short forms:\n{lines}"

"""The set-up script decides rightly on machines that lack something. Nothing here touches the real machine."""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import bootstrap
import pytest

SCRIPT = Path(bootstrap.__file__)
LIBRARIES = frozenset(name for library in bootstrap.LIBRARIES for name in library.files)
PROGRAMS = frozenset(program.commands[0] for program in bootstrap.PROGRAMS)
DEBIAN = ("apt-get",)


class Pretend(bootstrap.Machine):
    """A machine described by what it has; commands are noted, and have the effect they would have."""

    def __init__(self, pythons: dict[str, str] | None = None, **has: object) -> None:
        self.pythons = {"python3": "3.11.2"} if pythons is None else dict(pythons)
        self.without_venv: set[str] = set(has.get("without_venv", ()))
        self.libraries: set[str] = set(has.get("libraries", LIBRARIES))
        self.programs: set[str] = set(has.get("programs", DEBIAN))
        self.root: bool = bool(has.get("root", False))
        self.sudo: bool = bool(has.get("sudo", False))
        self.broken: Callable[[Sequence[str]], bool] = has.get("broken", lambda command: False)
        self.packages_help: bool = bool(has.get("packages_help", True))
        self.ran: list[str] = []
        self.said = ""
        self.ready: dict[str, str] = {}

    def output(self, command: Sequence[str]) -> str | None:
        if list(command) == ["sudo", "-n", "true"]:
            return "" if self.sudo else None
        if command[0] == "fc-match":
            return "LiberationSans-Regular.ttf" if "a font" in self.programs else "Other.ttf"
        program, _, code, *names = command
        if program not in self.pythons:
            return None
        if code == bootstrap._VERSION_OF:
            return self.pythons[program]
        if "ensurepip" in code:
            return None if program in self.without_venv else ""
        assert code == bootstrap._LOADS
        return "" if self.libraries & set(names) else None

    def run(self, command: Sequence[str]) -> int:
        self.ran.append(" ".join(command))
        if self.broken(command):
            return 1
        words = list(command)
        if words[1:3] == ["-m", "venv"]:
            self.pythons[bootstrap.VENV_PYTHON] = self.pythons[words[0]]
        elif "install" in words and words[0] in {"apt-get", "sudo", "dnf", "brew"} and self.packages_help:
            self.without_venv.clear()
            self.libraries |= LIBRARIES
            for each in bootstrap.PROGRAMS:
                if set(words) >= set(each.packages["apt-get"]):
                    self.programs |= {each.commands[0], "a font"}
        return 0

    def has(self, program: str) -> bool:
        return program in self.programs

    def is_root(self) -> bool:
        return self.root

    def mark_ready(self, name: str, text: str) -> None:
        self.ready[name] = text

    def say(self, text: str) -> None:
        self.said += text + "\n"


def _set_up(machine: Pretend, *arguments: str) -> int:
    return bootstrap.main(arguments, machine)


def _system_commands(machine: Pretend) -> list[str]:
    return [command for command in machine.ran if "pip install" not in command and "-m venv" not in command]


# ---- a machine that has everything


def test_a_complete_machine_needs_no_system_command() -> None:
    machine = Pretend()
    assert _set_up(machine) == 0
    assert _system_commands(machine) == []
    assert machine.ready == {"ready": "Python 3.11.2\n"}


def test_packages_come_from_the_lock_with_hashes_and_the_checkout_without_dependencies() -> None:
    machine = Pretend()
    _set_up(machine)
    venv, locked, own = machine.ran
    assert venv == f"python3 -m venv --clear {bootstrap.VENV}"
    assert locked.endswith(f"pip install --quiet --require-hashes -r {bootstrap.ROOT}/requirements.lock")
    assert own.endswith(f"pip install --quiet --no-deps --no-build-isolation -e {bootstrap.ROOT}")
    assert locked.startswith(bootstrap.VENV_PYTHON)


def test_a_second_run_keeps_the_environment() -> None:
    machine = Pretend()
    _set_up(machine)
    machine.ran.clear()
    assert _set_up(machine) == 0
    assert not [command for command in machine.ran if "venv --clear" in command]


def test_an_environment_of_a_python_too_old_is_made_anew() -> None:
    machine = Pretend({"python3": "3.12.1", bootstrap.VENV_PYTHON: "3.9.2"})
    assert _set_up(machine) == 0
    assert machine.ran[0].startswith("python3 -m venv --clear")


def test_asking_for_another_python_makes_the_environment_anew() -> None:
    machine = Pretend({"python3": "3.12.1", "python3.13": "3.13.0", bootstrap.VENV_PYTHON: "3.12.1"})
    assert _set_up(machine, "--python", "python3.13") == 0
    assert machine.ran[0].startswith("python3.13 -m venv --clear")


# ---- the libraries that set the PDF


def test_without_pango_root_installs_it() -> None:
    machine = Pretend(libraries=(), root=True)
    assert _set_up(machine) == 0
    update, install = _system_commands(machine)
    assert update == "apt-get update"
    assert install.startswith("apt-get install -y --no-install-recommends ")
    assert {"libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"} <= set(install.split())


def test_without_pango_sudo_is_used_only_if_it_asks_nothing() -> None:
    machine = Pretend(libraries=(), sudo=True)
    assert _set_up(machine) == 0
    assert all(command.startswith("sudo -n apt-get ") for command in _system_commands(machine))


def test_without_pango_and_rights_the_command_is_printed_and_nothing_is_run() -> None:
    machine = Pretend(libraries=())
    assert _set_up(machine) == 2
    assert machine.ran == []
    assert "    sudo apt-get update && sudo apt-get install -y --no-install-recommends libpango-1.0-0 " in machine.said
    assert "Pango" in machine.said
    assert machine.ready == {}


def test_the_printed_command_is_one_line_naming_every_package() -> None:
    machine = Pretend(libraries=())
    _set_up(machine)
    (line,) = [line for line in machine.said.splitlines() if line.startswith("    ")]
    for package in bootstrap.LIBRARY_PACKAGES["apt-get"]:
        assert package in line.split()


def test_one_missing_library_is_enough() -> None:
    machine = Pretend(libraries=LIBRARIES - {"libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib"})
    assert _set_up(machine) == 2
    assert "HarfBuzz subset (needed to publish)" in machine.said
    assert "Pango" not in machine.said.split("Run this")[0]


@pytest.mark.parametrize("library", bootstrap.LIBRARIES, ids=lambda library: library.name)
def test_any_name_of_a_library_will_do(library: bootstrap.Library) -> None:
    for name in library.files:
        machine = Pretend(libraries=(LIBRARIES - set(library.files)) | {name})
        assert bootstrap.lacks(machine, bootstrap.Python("python3", (3, 11, 2))) == []


@pytest.mark.parametrize(
    ("program", "line"),
    [
        ("dnf", "    sudo dnf install -y pango "),
        ("apk", "    sudo apk add so:libgobject-2.0.so.0 "),
        ("pacman", "    sudo pacman -S --noconfirm --needed pango "),
    ],
)
def test_other_systems_get_their_own_command(program: str, line: str) -> None:
    machine = Pretend(libraries=(), programs=(program,))
    assert _set_up(machine) == 2
    assert line in machine.said


def test_homebrew_is_run_as_the_user() -> None:
    machine = Pretend(libraries=(), programs=("brew",))
    assert _set_up(machine) == 0
    assert _system_commands(machine) == ["brew install pango harfbuzz fontconfig"]


def test_homebrew_is_not_run_as_root() -> None:
    machine = Pretend(libraries=(), programs=("brew",), root=True)
    assert _set_up(machine) == 2
    assert machine.ran == []
    assert "    brew install pango " in machine.said


def test_an_unknown_system_is_told_what_is_missing() -> None:
    machine = Pretend(libraries=(), programs=(), root=True)
    assert _set_up(machine) == 2
    assert "Pango" in machine.said
    assert "then run make again" in machine.said


def test_a_failed_installation_stops_and_says_so() -> None:
    machine = Pretend(libraries=(), root=True, broken=lambda command: "install" in command)
    assert _set_up(machine) == 2
    assert "Could not install" in machine.said
    assert not [command for command in machine.ran if "-m venv" in command]


def test_a_failed_list_update_does_not_stop_an_installation_that_works() -> None:
    machine = Pretend(libraries=(), root=True, broken=lambda command: "update" in command)
    assert _set_up(machine) == 0


def test_libraries_that_do_not_load_after_installing_are_named() -> None:
    machine = Pretend(libraries=(), root=True, packages_help=False)
    assert _set_up(machine) == 2
    assert "still cannot be used: GLib, Pango" in machine.said


def test_with_homebrew_the_search_path_is_the_likely_reason() -> None:
    machine = Pretend(libraries=(), programs=("brew",), packages_help=False)
    assert _set_up(machine) == 2
    assert "DYLD_FALLBACK_LIBRARY_PATH" in machine.said


# ---- what tests use


def test_who_publishes_gets_nothing_that_only_tests_use() -> None:
    machine = Pretend(root=True)
    assert _set_up(machine) == 0
    assert _system_commands(machine) == []
    assert "requirements-dev.lock" not in " ".join(machine.ran)


def test_who_tests_gets_the_packages_and_programs_of_tests() -> None:
    machine = Pretend(root=True)
    assert _set_up(machine, "--for", "test") == 0
    installed = {word for command in _system_commands(machine) for word in command.split()}
    assert {"chromium", "nginx-light", "libreoffice-impress-nogui", "fonts-liberation", "git"} <= installed
    assert f"{bootstrap.ROOT}/requirements-dev.lock" in " ".join(machine.ran)
    assert "passed over" not in machine.said


def test_who_can_test_can_publish() -> None:
    machine = Pretend(programs=PROGRAMS | {"apt-get", "a font"})
    assert _set_up(machine, "--for", "test") == 0
    assert set(machine.ready) == {"ready", "ready-test"}
    assert _system_commands(machine) == []


def test_without_rights_what_tests_lack_is_named_and_the_set_up_goes_on() -> None:
    machine = Pretend()
    assert _set_up(machine, "--for", "test") == 0
    assert _system_commands(machine) == []
    assert "Not on this machine: Chromium, nginx, Apache, LibreOffice, Liberation Sans, Java, git." in machine.said
    assert set(machine.ready) == {"ready", "ready-test"}


def test_a_package_that_cannot_be_had_takes_no_other_with_it() -> None:
    machine = Pretend(root=True, broken=lambda command: "chromium" in command)
    assert _set_up(machine, "--for", "test") == 0
    assert "Not on this machine: Chromium." in machine.said


def test_every_need_of_tests_can_be_met_with_every_manager() -> None:
    managers = {manager.program for manager in bootstrap.MANAGERS}
    assert set(bootstrap.LIBRARY_PACKAGES) == managers
    for program in bootstrap.PROGRAMS:
        assert managers - set(program.packages) == ({"brew"} if program.name == "Chromium" else set())


# ---- which Python


@pytest.mark.parametrize(
    ("pythons", "chosen"),
    [
        ({"python3": "3.11.2"}, "python3"),
        ({"python3": "3.9.2", "python3.12": "3.12.4"}, "python3.12"),
        ({"python3": "3.11.2", "python3.11": "3.11.2", "python3.13": "3.13.0"}, "python3.13"),
        ({"python3": "3.14.0", "python3.11": "3.11.9"}, "python3.11"),
        ({"python3": "3.14.0"}, "python3"),
    ],
)
def test_the_newest_tried_python_is_chosen(pythons: dict[str, str], chosen: str) -> None:
    assert bootstrap.choose_python(Pretend(pythons)).command == chosen


def test_a_newer_python_is_said_to_be_untried() -> None:
    machine = Pretend({"python3": "3.14.0"})
    assert _set_up(machine) == 0
    assert "not been tried on a Python newer than 3.13" in machine.said


def test_too_old_a_python_is_named_with_what_is_needed() -> None:
    machine = Pretend({"python3": "3.9.2"}, root=True)
    assert _set_up(machine) == 2
    assert "Python 3.11 to 3.13 is needed; found: python3 is 3.9.2" in machine.said
    assert machine.ran == []


def test_no_python_by_the_name_given() -> None:
    machine = Pretend()
    assert _set_up(machine, "--python", "python3.99") == 2
    assert "none was found (looked for python3.99)" in machine.said


# ---- Debian packages venv apart


def test_without_venv_another_python_that_has_it_is_preferred() -> None:
    machine = Pretend({"python3.13": "3.13.0", "python3": "3.11.2"}, without_venv=("python3.13",), root=True)
    assert bootstrap.choose_python(machine).command == "python3"
    assert machine.ran == []


def test_without_venv_root_installs_it_for_that_version() -> None:
    machine = Pretend(without_venv=("python3",), root=True)
    assert _set_up(machine) == 0
    assert _system_commands(machine)[-1].endswith(" python3.11-venv")


def test_without_venv_and_rights_the_command_is_printed() -> None:
    machine = Pretend(without_venv=("python3",))
    assert _set_up(machine) == 2
    assert "sudo apt-get install -y --no-install-recommends python3.11-venv" in machine.said
    assert machine.ran == []


def test_without_venv_elsewhere_the_user_is_told() -> None:
    machine = Pretend(without_venv=("python3",), programs=("dnf",), root=True)
    assert _set_up(machine) == 2
    assert "Not on this machine: the venv module of Python 3.11" in machine.said
    assert machine.ran == []


def test_all_that_is_missing_is_asked_for_in_one_command() -> None:
    machine = Pretend(without_venv=("python3",), libraries=())
    assert _set_up(machine) == 2
    (line,) = [line for line in machine.said.splitlines() if line.startswith("    ")]
    assert {"python3.11-venv", "libpango-1.0-0"} <= set(line.split())


# ---- the packages


@pytest.mark.parametrize(
    ("step", "words"),
    [("--require-hashes", "package index that pip can reach"), ("-e", "prescrub itself could not be installed")],
)
def test_a_failed_installation_of_packages_is_not_marked_ready(step: str, words: str) -> None:
    machine = Pretend(broken=lambda command: step in command)
    assert _set_up(machine) == 2
    assert words in machine.said
    assert machine.ready == {}


def test_a_failed_environment_stops() -> None:
    machine = Pretend(broken=lambda command: "venv" in command)
    assert _set_up(machine) == 2
    assert "Could not make" in machine.said


# ---- the real machine, as far as it can be asked without changing it


def test_the_version_question_works_on_this_python() -> None:
    assert bootstrap.version_of(bootstrap.Machine(), sys.executable) == sys.version_info[:3]


def test_a_program_that_is_not_there_gives_no_answer() -> None:
    assert bootstrap.Machine().output(["no-such-program-anywhere"]) is None


def test_a_library_that_is_not_there_is_missing() -> None:
    python = bootstrap.Python(sys.executable, (3, 11, 0))
    assert not bootstrap.loads(bootstrap.Machine(), python, bootstrap.Library("x", ("libno-such.so.0",)))


def test_what_the_tests_run_on_has_all_libraries() -> None:
    python = bootstrap.Python(sys.executable, (3, 11, 0))
    assert bootstrap.lacks(bootstrap.Machine(), python) == []


def test_the_script_runs_on_python_3_6() -> None:
    """Its grammar, at least: a syntax error would hide the message that the Python is too old."""
    ast.parse(SCRIPT.read_text("utf-8"), feature_version=(3, 6))

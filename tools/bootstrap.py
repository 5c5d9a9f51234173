"""Makes a checkout ready to run: Python, the system libraries that set the PDF, .venv.

Called by the Makefile. Can be run again at any time; it does only what is still missing. It installs system
packages where it may (as root, with sudo that asks for no password, or with Homebrew); otherwise it prints
the command to run and stops with exit code 2.

Everything that touches the machine goes through `Machine`, so that the tests can put another in its place.
The file keeps to what Python 3.6 understands: it has to start on an old Python to say that it is too old.
"""

import argparse
import os
import shutil
import subprocess
import sys
from typing import Dict, List, Mapping, NamedTuple, Optional, Sequence, Tuple

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
VENV_PYTHON = os.path.join(VENV, "bin", "python")
# What each job installs into .venv. Who tests can publish too, so "test" leaves both marks that the Makefile looks for.
LOCKS = {"publish": "requirements.lock", "test": "requirements-dev.lock"}
MARKS = {"publish": ("ready",), "test": ("ready", "ready-test")}

OLDEST = (3, 11)
NEWEST = (
    3,
    13,
)  # newest the tests are run on; a newer one is used if there is no other, and said to be untried
PYTHONS = ("python3.13", "python3.12", "python3.11", "python3")
STOPPED = 2

Version = Tuple[int, int, int]


class Stop(Exception):
    """The set-up cannot go on; the text says why and what to do."""


class Python(NamedTuple):
    """A Python found on this machine."""

    command: str
    version: Version


class Library(NamedTuple):
    """A library of the system, with the names its file may have."""

    name: str
    files: Sequence[str]


class Program(NamedTuple):
    """A program that tests use, what it may be called, and the packages that bring it; or a font, found by its file."""

    name: str
    commands: Sequence[str]
    packages: Mapping[str, Sequence[str]]
    font: str = ""


class Lack(NamedTuple):
    """Something found missing, and the packages that bring it, by package manager."""

    what: str
    packages: Mapping[str, Sequence[str]]


class Manager(NamedTuple):
    """A system's package manager. `prepare` runs first; `needs_root` is False where root is refused."""

    program: str
    prepare: Sequence[str]
    install: Sequence[str]
    needs_root: bool = True


APT = ("apt-get", "install", "-y", "--no-install-recommends")
MANAGERS = (
    Manager("apt-get", ("apt-get", "update"), APT),
    Manager("dnf", (), ("dnf", "install", "-y")),
    Manager("apk", (), ("apk", "add")),
    Manager("pacman", (), ("pacman", "-S", "--noconfirm", "--needed")),
    Manager("brew", (), ("brew", "install"), needs_root=False),
)

# What publishing needs of the system. The library names are those WeasyPrint itself asks for (its text/ffi.py).
# It can do without the last one, but then warns, and cuts fonts down in another way, so that two machines
# would write different bytes.
LIBRARIES = (
    Library("GLib", ("libgobject-2.0.so.0", "libgobject-2.0.0.dylib", "libgobject-2.0.dylib")),
    Library("Pango", ("libpango-1.0.so.0", "libpango-1.0.dylib")),
    Library("Pango for FreeType", ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib")),
    Library("Fontconfig", ("libfontconfig.so.1", "libfontconfig.1.dylib")),
    Library("HarfBuzz", ("libharfbuzz.so.0", "libharfbuzz.0.dylib")),
    Library("HarfBuzz subset", ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib")),
)
# Package names: those of apt-get were tried; those of dnf, apk, pacman and brew come from WeasyPrint's page
# "First steps", with HarfBuzz and Fontconfig added. All are checked after installing, by loading the library.
LIBRARY_PACKAGES: Dict[str, Sequence[str]] = {
    "apt-get": ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz0b", "libharfbuzz-subset0", "libfontconfig1"),
    "dnf": ("pango", "harfbuzz", "fontconfig"),
    "apk": (
        "so:libgobject-2.0.so.0",
        "so:libpango-1.0.so.0",
        "so:libpangoft2-1.0.so.0",
        "so:libharfbuzz.so.0",
        "so:libharfbuzz-subset.so.0",
        "so:libfontconfig.so.1",
    ),
    "pacman": ("pango", "harfbuzz", "fontconfig"),
    "brew": ("pango", "harfbuzz", "fontconfig"),
}
# What some tests use; without one of them they are passed over, and the run says so (tests/conftest.py).
PROGRAMS = (
    Program(
        "Chromium",
        ("chromium", "chromium-browser"),
        {"apt-get": ["chromium"], "dnf": ["chromium"], "apk": ["chromium"], "pacman": ["chromium"]},
    ),
    Program(
        "nginx",
        ("nginx", "/usr/sbin/nginx"),
        {"apt-get": ["nginx-light"], "dnf": ["nginx"], "apk": ["nginx"], "pacman": ["nginx"], "brew": ["nginx"]},
    ),
    Program(
        "Apache",
        ("apache2", "/usr/sbin/apache2", "httpd"),
        {"apt-get": ["apache2-bin"], "dnf": ["httpd"], "apk": ["apache2"], "pacman": ["apache"], "brew": ["httpd"]},
    ),
    Program(
        "LibreOffice",
        ("soffice",),
        {
            "apt-get": ["libreoffice-impress-nogui", "libreoffice-writer-nogui", "python3-uno"],
            "dnf": ["libreoffice-impress"],
            "apk": ["libreoffice-impress"],
            "pacman": ["libreoffice-still"],
            "brew": ["libreoffice"],
        },
    ),
    Program(
        "Liberation Sans",
        ("fc-match",),
        {
            "apt-get": ["fontconfig", "fonts-liberation"],
            "dnf": ["fontconfig", "liberation-sans-fonts"],
            "apk": ["fontconfig", "font-liberation"],
            "pacman": ["fontconfig", "ttf-liberation"],
            "brew": ["fontconfig", "font-liberation"],
        },
        font="LiberationSans-",
    ),
    Program(
        "Java",
        ("java",),
        {
            "apt-get": ["default-jre-headless"],
            "dnf": ["java-latest-openjdk-headless"],
            "apk": ["openjdk17-jre-headless"],
            "pacman": ["jre-openjdk-headless"],
            "brew": ["openjdk"],
        },
    ),
    Program("git", ("git",), {manager: ["git"] for manager in ("apt-get", "dnf", "apk", "pacman", "brew")}),
)

_VERSION_OF = "import sys; print('%d.%d.%d' % sys.version_info[:3])"
_LOADS = """
import ctypes, sys
for name in sys.argv[1:]:
    try:
        ctypes.CDLL(name)
    except OSError:
        continue
    sys.exit(0)
sys.exit(1)
"""


class Machine:
    """The machine as it is."""

    def output(self, command: Sequence[str]) -> Optional[str]:
        """What `command` prints, or None if it is not there or fails."""
        try:
            done = subprocess.run(
                list(command),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                check=False,
            )
        except OSError:
            return None
        return done.stdout.decode("utf-8", "replace").strip() if done.returncode == 0 else None

    def run(self, command: Sequence[str]) -> int:
        """Runs `command` in the checkout where the user can see it; gives its exit code."""
        environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive", PIP_DISABLE_PIP_VERSION_CHECK="1")
        try:
            return subprocess.run(list(command), cwd=ROOT, env=environment, check=False).returncode
        except OSError:
            return 127

    def has(self, program: str) -> bool:
        """Whether `program` can be found, by name or by path."""
        return shutil.which(program) is not None

    def is_root(self) -> bool:
        """Whether this process may install system packages itself."""
        return hasattr(os, "geteuid") and os.geteuid() == 0

    def mark_ready(self, name: str, text: str) -> None:
        """Leaves a mark that the Makefile looks for."""
        with open(os.path.join(VENV, name), "w", encoding="utf-8") as mark:
            mark.write(text)

    def say(self, text: str) -> None:
        """Tells the user."""
        print(text, flush=True)


def spoken(version: Sequence[int]) -> str:
    """(3, 11) -> '3.11'."""
    return ".".join(str(part) for part in version)


def version_of(machine: Machine, command: str) -> Optional[Version]:
    """The version of the Python called `command`, or None if there is none."""
    text = machine.output([command, "-c", _VERSION_OF])
    if text is None:
        return None
    major, minor, micro = text.split(".")
    return int(major), int(minor), int(micro)


def find_pythons(machine: Machine, asked: str) -> List[Python]:
    """All Pythons found, in order of preference; only `asked` if that is given."""
    found = []
    for command in [asked] if asked else PYTHONS:
        version = version_of(machine, command)
        if version is not None:
            found.append(Python(command, version))
    return found


def choose_python(machine: Machine, asked: str = "") -> Python:
    """The first Python that is new enough, if possible one that has venv; untried versions come last."""
    found = find_pythons(machine, asked)
    fitting = [python for python in found if python.version[:2] >= OLDEST]
    if not fitting:
        raise Stop(too_old(found, asked))
    fitting.sort(key=lambda python: python.version[:2] > NEWEST)
    return next((python for python in fitting if can_make_venv(machine, python)), fitting[0])


def too_old(found: Sequence[Python], asked: str) -> str:
    """What to say when no Python will do."""
    needed = f"Python {spoken(OLDEST)} to {spoken(NEWEST)} is needed"
    if not found:
        looked_for = asked or ", ".join(PYTHONS)
        return f"{needed}, and none was found (looked for {looked_for}).\nInstall one and run this again."
    listed = ", ".join(f"{python.command} is {spoken(python.version)}" for python in found)
    return (
        f"{needed}; found: {listed}.\nInstall a newer Python beside it and run this again. "
        "If it has another name, say so: make test PYTHON=NAME"
    )


def can_make_venv(machine: Machine, python: Python) -> bool:
    """Whether its venv and ensurepip modules are there (Debian packages them apart)."""
    return machine.output([python.command, "-c", "import venv, ensurepip"]) is not None


def find_manager(machine: Machine) -> Optional[Manager]:
    """The package manager of this system, if it is one we know."""
    return next((manager for manager in MANAGERS if machine.has(manager.program)), None)


def loads(machine: Machine, python: Python, library: Library) -> bool:
    """Whether `library` is there, as the chosen Python would load it."""
    return machine.output([python.command, "-c", _LOADS, *library.files]) is not None


def is_there(machine: Machine, program: Program) -> bool:
    """Whether `program` is there; for a font, whether fontconfig finds its file."""
    if not any(machine.has(command) for command in program.commands):
        return False
    return not program.font or program.font in (machine.output(["fc-match", "-f", "%{file}", program.name]) or "")


def lacks(machine: Machine, python: Python) -> List[Lack]:
    """All that the system lacks to publish, so that it can be asked for in one go."""
    found = []
    if not can_make_venv(machine, python):
        version = spoken(python.version[:2])
        found.append(Lack(f"the venv module of Python {version}", {"apt-get": [f"python{version}-venv"]}))
    names = [library.name for library in LIBRARIES if not loads(machine, python, library)]
    if names:
        found.append(Lack(f"{', '.join(names)} (needed to publish)", LIBRARY_PACKAGES))
    return found


def provide(machine: Machine, python: Python) -> None:
    """Sees to it that the system has what publishing needs, or stops."""
    lacking = lacks(machine, python)
    if not lacking:
        return
    manager = find_manager(machine)
    what = "; ".join(lack.what for lack in lacking)
    if manager is None or any(manager.program not in lack.packages for lack in lacking):
        raise Stop(f"Not on this machine: {what}.\nInstall this with your system's means, then run make again.")
    packages = [package for lack in lacking for package in lack.packages[manager.program]]
    install(machine, manager, packages, what)
    still = lacks(machine, python)
    if still:
        raise Stop(not_found_after(manager, still))


def provide_for_tests(machine: Machine) -> None:
    """Installs what some tests use, where it may; else says what those tests will lack, and goes on."""
    lacking = [program for program in PROGRAMS if not is_there(machine, program)]
    manager = find_manager(machine)
    known = [program for program in lacking if manager and manager.program in program.packages]
    before = permission(machine, manager) if manager else None
    if manager and known and before is not None:
        machine.say(f"Installing for the tests: {', '.join(program.name for program in known)}.")
        if manager.prepare:
            machine.run([*before, *manager.prepare])
        for program in known:  # apart, so that a package that cannot be had takes no other with it
            machine.run([*before, *manager.install, *program.packages[manager.program]])
        lacking = [program for program in lacking if not is_there(machine, program)]
    if lacking:
        machine.say(
            f"Not on this machine: {', '.join(program.name for program in lacking)}. "
            "The tests that need it are passed over; the end of the run says which."
        )


def not_found_after(manager: Manager, still: Sequence[Lack]) -> str:
    """What to say when packages were installed and what they bring still cannot be used."""
    what = "; ".join(lack.what for lack in still)
    text = f"The packages were installed, but this still cannot be used: {what}."
    if manager.program == "brew":
        text += "\nThis Python does not look where Homebrew installs. Run this, then run make again:\n"
        text += '\n    export DYLD_FALLBACK_LIBRARY_PATH="$(brew --prefix)/lib"\n'
    return text


def permission(machine: Machine, manager: Manager) -> Optional[List[str]]:
    """The words to put before a command of `manager`, or None if we may not install."""
    if machine.is_root() == manager.needs_root:
        return []
    if manager.needs_root and machine.output(["sudo", "-n", "true"]) is not None:
        return ["sudo", "-n"]
    return None


def install(machine: Machine, manager: Manager, packages: Sequence[str], what: str) -> None:
    """Installs system packages, or stops and says which command to run."""
    command = [*manager.install, *packages]
    before = permission(machine, manager)
    if before is None:
        raise Stop(f"Not on this machine: {what}.\n{please_run(manager, command)}")
    machine.say(f"Installing {what}.")
    if manager.prepare:
        # One unreachable list among several makes this fail; whether it matters shows in the next step.
        machine.run([*before, *manager.prepare])
    if machine.run([*before, *command]) != 0:
        raise Stop(f"Could not install {what} (see above).\n{please_run(manager, command)}")


def please_run(manager: Manager, command: Sequence[str]) -> str:
    """The exact line for the user, or for whoever looks after the machine."""
    before = "sudo " if manager.needs_root else ""
    commands = [manager.prepare, command] if manager.prepare else [command]
    line = " && ".join(before + " ".join(words) for words in commands)
    return f"Run this, or ask whoever looks after this machine to, then run make again:\n\n    {line}\n"


def make_venv(machine: Machine, python: Python) -> None:
    """Makes .venv, unless there is one of the same Python version that works."""
    if version_of(machine, VENV_PYTHON) == python.version:
        return
    machine.say(f"Making .venv with Python {spoken(python.version)}.")
    if python.version[:2] > NEWEST:
        machine.say(f"Note: prescrub has not been tried on a Python newer than {spoken(NEWEST)}.")
    if machine.run([python.command, "-m", "venv", "--clear", VENV]) != 0:
        raise Stop(f"Could not make {VENV} (see above).")


def fill_venv(machine: Machine, job: str) -> None:
    """Installs the locked packages, each checked against its hash, then this checkout."""
    pip = [VENV_PYTHON, "-m", "pip", "install", "--quiet"]
    machine.say(f"Installing the packages listed in {LOCKS[job]} into .venv (about a minute the first time).")
    if machine.run([*pip, "--require-hashes", "-r", os.path.join(ROOT, LOCKS[job])]) != 0:
        raise Stop(
            "The packages could not be installed (see above). This step needs a package index that pip can "
            "reach; behind a proxy, or with a mirror of your own, set pip up for it first (pip config)."
        )
    if machine.run([*pip, "--no-deps", "--no-build-isolation", "-e", ROOT]) != 0:
        raise Stop("prescrub itself could not be installed into .venv (see above).")


def set_up(machine: Machine, asked: str = "", job: str = "publish") -> None:
    """The whole set-up, in order; nothing is marked ready until all of it is done."""
    made = version_of(machine, VENV_PYTHON)
    fits = made is not None and made[:2] >= OLDEST
    python = choose_python(machine, asked or (VENV_PYTHON if fits else ""))
    provide(machine, python)
    if job == "test":
        provide_for_tests(machine)
    make_venv(machine, python)
    fill_venv(machine, job)
    for name in MARKS[job]:
        machine.mark_ready(name, f"Python {spoken(python.version)}\n")
    machine.say(f"Ready: .venv has Python {spoken(python.version)}.")


def main(arguments: Optional[Sequence[str]] = None, machine: Optional[Machine] = None) -> int:
    """Command line. Exit code 0, or 2 when something has to be done by hand first."""
    reader = argparse.ArgumentParser(description="Makes this checkout ready to run.")
    reader.add_argument(
        "--python", default="", metavar="NAME", help="the Python to use; default: newest of those found"
    )
    reader.add_argument(
        "--for", dest="job", default="publish", choices=sorted(LOCKS), help="what to make ready for; default: publish"
    )
    options = reader.parse_args(arguments)
    machine = machine or Machine()
    try:
        set_up(machine, options.python, options.job)
    except Stop as reason:
        machine.say(f"\n{reason}")
        return STOPPED
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The templates and style sheets of ``site_templates/``: the project's own, overlaid file by file by a department's."""

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from pathlib import Path

from builder.findings.register import refuse
from builder.load.files import read_text, walk
from builder.place import Place

_ENDINGS = (".j2", ".css", ".js", ".html")
FOLDER = "site_templates"


@cache
def own_folder() -> Path:
    """Return the folder of the project's own templates: beside the package in a checkout, inside it when installed."""
    package = Path(str(files("builder")))
    checkout = package.parent / FOLDER
    return checkout if checkout.is_dir() else package / "_site_templates"


class Templates(dict[str, str]):
    """The texts of templates by path below ``site_templates/``: those that came with the program are ``shipped``, and
    ``own_files`` are the names of what a department has in their place or beside them, fonts and pictures too."""

    def __init__(self) -> None:
        super().__init__()
        self.shipped: dict[str, str] = {}
        self.own_files: frozenset[str] = frozenset()

    @property
    def are_ours(self) -> bool:
        """Whether the department brought none."""
        return not self.own_files


def load_templates(root: Path) -> Templates:
    """Return the texts of all templates by path below ``site_templates/``; those in ``root`` win.

    Raises Refused where a file cannot be read, or lies where no template is looked for any more.
    """
    _refuse_moved(root)
    templates, own = Templates(), root / FOLDER
    templates.update(_texts_in(own_folder()))
    if own.is_dir() and own.resolve() != own_folder().resolve():
        templates.shipped = dict(templates)
        texts = dict(_texts_in(own))
        changed = (name for name, text in texts.items() if templates.shipped.get(name) != text)
        templates.own_files = frozenset((*changed, *(name for name in extras_in(own) if _is_changed(own, name))))
        templates.update(texts)
    return templates


def _texts_in(folder: Path) -> Iterator[tuple[str, str]]:
    for name, is_link in walk(folder):
        if not is_link and name.endswith(_ENDINGS):
            yield name, read_text(folder, name)


def extras_in(folder: Path) -> Iterator[str]:
    """Yield, in order, the name of each file in a ``folder`` of templates that is no text, as a font or picture."""
    for name, is_link in walk(folder) if folder.is_dir() else ():
        if not is_link and not name.endswith(_ENDINGS):
            yield name


def _is_changed(own: Path, name: str) -> bool:
    path = own_folder() / name
    return not path.is_file() or path.read_bytes() != (own / name).read_bytes()


def _refuse_moved(root: Path) -> None:
    """Refuse templates of a department at addresses that have changed: they would be passed over in silence."""
    table = (files("builder") / "load" / "moved-templates.txt").read_text(encoding="utf-8")
    moved = [(old, new) for old, new in map(str.split, table.splitlines()) if (root / FOLDER / old).exists()]
    if moved:
        told = ", ".join(f"{old} is now {new}" for old, new in moved)
        many = "these templates have new addresses" if len(moved) > 1 else "this template has a new address"
        at = Place(f"{FOLDER}/{moved[0][0]}")
        raise refuse("template-moved", at, f"{many}: {told}", f"Move each file inside {FOLDER}/, or delete it.")

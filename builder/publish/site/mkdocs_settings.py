"""What mkdocs is told: the project's mkdocs.yml, what a department adds, and what only this publish knows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from builder.load.files import read_text
from builder.load.templates import own_folder
from builder.model.library import Library
from builder.publish.publish_error import PublishError

NAME = "mkdocs.yml"
# A department's file may not bring code (hooks, extensions, tags that name Python objects) nor move folders.
_TAKEN = ("site_description", "site_author", "copyright", "plugins")


def site_settings(library: Library, docs: Path, site: Path) -> dict[str, Any]:
    """Return the settings of a build of ``docs`` into ``site``. Raises PublishError where a mkdocs.yml is unusable."""
    own = own_folder()
    settings = _read(own.parent)
    if (library.root / NAME).is_file() and library.root.resolve() != own.parent.resolve():
        settings |= _of_department(library.root)
    department = library.department
    settings["theme"]["custom_dir"] = str(own / "site" / "theme")
    return {
        **settings,
        "site_name": str(department.name),
        "site_url": f"{department.site.rstrip('/')}/" if department.site else "",
        "docs_dir": str(docs),
        "site_dir": str(site),
    }


def _of_department(root: Path) -> dict[str, Any]:
    found = _read(root)
    refused = sorted(found.keys() - {*_TAKEN, "site_name", "site_url", "theme"})
    if refused:
        raise PublishError(
            f"{NAME}: {', '.join(refused)} cannot be set by a department. Remove it; {', '.join(_TAKEN)} can be set.",
            is_content=True,
        )
    return {key: value for key, value in found.items() if key in _TAKEN}


def _read(folder: Path) -> dict[str, Any]:
    try:
        found = yaml.safe_load(read_text(folder, NAME))
    except yaml.YAMLError as error:
        line = error.problem_mark.line + 1 if isinstance(error, yaml.MarkedYAMLError) and error.problem_mark else 1
        raise PublishError(
            f"{NAME}:{line}: this cannot be read as YAML. Compare it with the one of prescrub.", is_content=True
        ) from None
    if not isinstance(found, dict):
        raise PublishError(f"{NAME} holds no settings. Remove it, or write `key: value` lines.", is_content=True)
    return found

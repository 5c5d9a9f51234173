"""Whether a folder may be published to: nothing that others made is ever replaced."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from builder.publish.build_report import NAME, every_file, known_files
from builder.publish.publish_error import PublishError, WrongTarget

_FULL = {errno.ENOSPC, errno.EDQUOT}
_NO_RIGHT = {errno.EACCES, errno.EPERM}
_SHOWN = 3


def real_target(to: Path) -> Path:
    """Return ``to`` as an absolute path with every link followed. Raises PublishError where it cannot be a target."""
    target = Path(os.path.realpath(to))
    if target.exists() and not target.is_dir():
        raise PublishError(f"{to} is a file, not a folder. Name a folder to publish to.")
    if target.parent == target or os.path.ismount(target):
        raise PublishError(f"{to} cannot be replaced as a whole: it is a disk of its own. Name a folder inside it.")
    return target


def refuse_strangers(target: Path) -> None:
    """Raise WrongTarget where ``target`` holds anything that no publish of ours made."""
    if not target.is_dir() or not any(target.iterdir()):
        return
    known = known_files(target)
    if known is None:
        raise WrongTarget(
            f"{target} holds files and was not made by prescrub (it has no {NAME} of ours). "
            "Name another folder, or empty this one."
        )
    strange = [name for name in every_file(target) if name not in known]
    if strange:
        more = f" and {len(strange) - _SHOWN} more" if len(strange) > _SHOWN else ""
        raise WrongTarget(
            f"{target} holds files that prescrub did not make: {', '.join(strange[:_SHOWN])}{more}. "
            "Publishing replaces the whole folder, so move them elsewhere first."
        )


def in_plain_words(error: OSError, target: Path) -> str:
    """Return what a failure of the system means for whoever publishes, and what to do."""
    where = error.filename or target.parent
    if error.errno in _FULL:
        return f"The disk that holds {target.parent} is full. Free some space, then publish again."
    if error.errno in _NO_RIGHT:
        return f"There is no right to write {where}. Ask whoever keeps it, or name another folder."
    if error.errno == errno.EROFS:
        return f"{target.parent} can only be read. Name a folder that can be written to."
    return f"The system refused {where}: {error.strerror or error}. Look at it, then publish again."

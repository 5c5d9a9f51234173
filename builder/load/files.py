"""Reading files: inside the folder only, regular files only, UTF-8 only, within bounds."""

import hashlib
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from builder.findings.finding import Refused
from builder.findings.message_words import quoted
from builder.findings.register import refuse
from builder.load import limits
from builder.place import Place

_KIB = 1024
# Some are not on every system: there, a link is refused by `walk` and `keep_inside` alone. Windows would else change
# line ends in what is read.
AS_IT_IS = os.O_RDONLY | sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY"))


def read_bytes(root: Path, name: str, most: int) -> bytes:
    """Return the bytes of ``root/name`` (``name`` relative, with ``/``).

    Raises Refused when a part of the path is a symbolic link or leaves the folder, when it is not a regular file,
    cannot be read, or is larger than ``most`` bytes.
    """
    keep_inside(root, name)
    return _bytes(root, name, most)


def read_text(root: Path, name: str, most: int = limits.MAX_TEXT_BYTES) -> str:
    """Return the text of ``root/name`` with a byte-order mark dropped and line ends as ``\\n``.

    Raises Refused as ``read_bytes`` does, and where the bytes are not UTF-8 or contain a NUL.
    """
    keep_inside(root, name)
    return read_found(root, name, most)


def read_found(root: Path, name: str, most: int = limits.MAX_TEXT_BYTES) -> str:
    """Return the text of a file that ``walk`` found, as ``read_text`` does without looking at each folder again."""
    raw = _bytes(root, name, most)
    text = _decoded(name, raw, "utf-8-sig")
    if "\0" in text:
        at = Place.after(name, raw.partition(b"\0")[0].decode("utf-8", "replace"))
        raise refuse("file-not-utf8", at, f"{name} contains a NUL character", "Save it again as plain text in UTF-8.")
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def _decoded(name: str, raw: bytes, encoding: str) -> str:
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        at = Place.after(name, raw[: error.start].decode("utf-8", "replace"))
        hint = "Save the file again with UTF-8 encoding."
        raise refuse("file-not-utf8", at, f"{name} is not written in UTF-8", hint) from None


def _bytes(root: Path, name: str, most: int) -> bytes:
    at = Place(name)
    try:
        file = os.open(f"{root}/{name}", AS_IT_IS)
        try:
            status = os.fstat(file)
            if not stat.S_ISREG(status.st_mode):
                raise refuse("file-unreadable", at, f"{name} is not a file", "Put a plain file there.")
            if status.st_size > most:
                message = f"{name} is {_size(status.st_size)}; the limit is {_size(most)}"
                raise refuse("file-too-large", at, message, "Split the file, or make it smaller.")
            return _all_of(file, status.st_size)
        finally:
            os.close(file)
    except FileNotFoundError:
        raise refuse("file-unreadable", at, f"{name} does not exist", "Add the file, or correct the name.") from None
    except OSError as error:
        hint = "Ask whoever looks after the folder."
        raise refuse("file-unreadable", at, f"{name} cannot be read: {_reason(error)}", hint) from None


def _all_of(file: int, size: int) -> bytes:
    """Return what is in ``file``, which said that it has ``size`` bytes; it may have changed since."""
    raw = os.read(file, size + 1)
    if len(raw) == size:
        return raw
    with os.fdopen(file, "rb", closefd=False) as rest:
        return raw + rest.read()


def _reason(error: OSError) -> str:
    return os.strerror(error.errno) if error.errno else str(error)


@dataclass(frozen=True, slots=True)
class OpenedFile:
    """A file as an editor sees it: its ``text`` with its own line ends, and the ``digest`` of its bytes."""

    text: str
    digest: str


def open_file(root: Path, name: str, most: int = limits.MAX_TEXT_BYTES) -> OpenedFile:
    """Return the file ``name`` of the department in ``root``. Raises Refused where it cannot be read as text."""
    raw = read_bytes(root, name, most)
    return OpenedFile(_decoded(name, raw, "utf-8"), digest_of(raw))


def digest_of(raw: bytes) -> str:
    """Return the SHA-256 of ``raw`` in hexadecimal."""
    return hashlib.sha256(raw).hexdigest()


def walk(root: Path) -> Iterator[tuple[str, bool]]:
    """Yield ``(name, is_link)`` of every file below ``root`` in sorted order; links are named, never followed.

    Hidden files and folders (a leading dot) are passed over. Raises Refused beyond ``limits.MAX_FILES`` files.
    """
    seen = 0
    stack = [""]
    while stack:
        folder = stack.pop()
        folders: list[str] = []
        for entry in _entries(root, folder):
            name = f"{folder}{entry.name}"
            seen += 1
            if seen > limits.MAX_FILES:
                message = f"the department has more than {limits.MAX_FILES:,} files"
                raise refuse("file-too-large", Place(name), message, "Split the department into several.")
            if entry.is_symlink():
                yield name, True
            elif entry.is_dir(follow_symlinks=False):
                folders.append(f"{name}/")
            else:
                yield name, False
        stack.extend(reversed(folders))


def _entries(root: Path, folder: str) -> list[os.DirEntry[str]]:
    try:
        with os.scandir(root / folder) as entries:
            shown = [entry for entry in entries if not entry.name.startswith(".")]
    except OSError as error:
        message = f"the folder cannot be read: {_reason(error)}"
        raise refuse("file-unreadable", Place(folder or "."), message, "Check its permissions.") from None
    return sorted(shown, key=lambda entry: entry.name)


def keep_inside(root: Path, name: str) -> None:
    """Refuse ``name`` where it leaves ``root`` or passes through a link."""
    parts = name.split("/")
    if name.startswith("/") or "\\" in name or any(part in ("", ".", "..") for part in parts):
        message = f"{quoted(name)} is outside the department's folder"
        raise refuse("link-not-followed", Place(name), message, "Name a file inside the folder.")
    path = root
    for part in parts:
        path = path / part
        if path.is_symlink():
            raise link_refused(name)


def link_refused(name: str) -> Refused:
    """Make the refusal of a link: it may point at a file that nobody meant to publish (CWE-59, link following)."""
    message = f"{name} is a link; links are not followed"
    return refuse("link-not-followed", Place(name), message, "Copy the file itself here.")


def picture_digest(root: Path, name: str) -> str:
    """Return the SHA-256 of the picture ``root/name`` in hexadecimal; "" where it cannot be read.

    A drawing that was changed is a changed procedure. It is text, so the line ends that a copy between systems changes
    do not count.
    """
    try:
        content = read_bytes(root, name, limits.MAX_FIGURE_BYTES)
    except Refused:
        return ""  # whoever shows the picture says why
    return picture_digest_of(name, content)


def picture_digest_of(name: str, content: bytes) -> str:
    """Return what ``picture_digest`` does, of the ``content`` that was read."""
    return digest_of(content.replace(b"\r\n", b"\n") if name.endswith(".svg") else content)


def _size(count: int) -> str:
    return f"{count / _KIB:,.0f} KiB" if count < _KIB * _KIB else f"{count / _KIB / _KIB:,.1f} MiB"


_FAINT = 50  # points a byte: a picture packed closer than this may be one even ground


def picture_fault(content: bytes) -> str:
    """Return what is wrong with the bytes of a PNG picture, "" where nothing is."""
    # Imported here because a department without photographs needs no reader of them.
    from PIL import Image, UnidentifiedImageError  # noqa: PLC0415

    try:
        with Image.open(BytesIO(content), formats=("PNG",)) as opened:
            is_faint = opened.width * opened.height > len(content) * _FAINT
            opened.verify()
        if is_faint:
            with Image.open(BytesIO(content), formats=("PNG",)) as opened:
                points = opened.convert("RGBA").tobytes()
                if points == points[:4] * (len(points) // 4):
                    return "shows nothing: all its points have one colour"
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return "cannot be read as a PNG picture"
    return ""

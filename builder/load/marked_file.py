"""A word-processor file that came back from a committee, as .docx or as .odt."""

import zipfile
from io import BytesIO

from lxml.etree import XMLSyntaxError

from builder.load.marked_docx import read_marked_docx
from builder.load.marked_odt import read_marked_odt
from builder.load.marked_text import MarkedFile
from builder.load.told.office import broken, looked_over

_READERS = {".docx": read_marked_docx, ".odt": read_marked_odt}
ENDINGS = tuple(_READERS)
"""How the name of a file ends that can be read."""


def read_marked_file(name: str, content: bytes) -> MarkedFile:
    """Return what is in ``content``, called ``name``, which has one of ENDINGS. Raises Refused where it cannot be
    opened."""
    looked_over(name, content)
    read = next(read for ending, read in _READERS.items() if name.lower().endswith(ending))
    try:
        with zipfile.ZipFile(BytesIO(content)) as package:
            return read({part: package.read(part) for part in package.namelist() if part.endswith(".xml")})
    except (KeyError, XMLSyntaxError, AttributeError, RecursionError, ValueError):
        raise broken(name) from None

"""A module as one file: given to a colleague who has the tool, and taken in from one."""

import base64
import binascii
import io
import re
import zipfile

from werkzeug.wrappers import Response

from builder.edit.file_change import FileChange
from builder.findings.finding import Refused
from builder.load.files import read_bytes
from builder.load.limits import MAX_FIGURE_BYTES
from builder.preview.answer import Request, data, get, post
from builder.preview.procedure_pages import library_of
from builder.preview.workshop import Workshop
from builder.publish.output import packed
from builder.write.lock import NotWritten
from builder.write.writer import CONTENT, ChangedUnderneath, write_files

MOST_BYTES = 40 * 1024 * 1024
_MOST_FILES = 600
_NAME = re.compile(
    r"content/(?:procedures/(?P<id>[a-z0-9-]+)/(?:[a-z]+/)?[a-z0-9-]+\.(?:md|yml|png)"
    r"|catalogue/(?:structures|items)-proposed-(?P<of>[a-z0-9-]+)\.yml)"
)


def give(workshop: Workshop, _: Request, id: str) -> Response:
    """Answer ``give/<id>``: the pages and pictures of a module, and the names that it proposes, as one file."""
    library_of(workshop.state, id)
    names = (
        name
        for name in sorted(workshop.state.names)
        if (match := _NAME.fullmatch(name)) and id in (match["id"], match["of"])
    )
    module = packed((name, read_bytes(workshop.root, name, MAX_FIGURE_BYTES)) for name in names)
    headers = {"Content-Disposition": f'attachment; filename="{id}.module.zip"'}
    return Response(module, headers=headers, mimetype="application/zip")


def take(workshop: Workshop, request: Request) -> Response:
    """Answer the POST ``take``: write the module of a colleague, whole or not at all, and never over one of ours."""
    try:
        files = _files(base64.b64decode(str(request.fields.get("file") or ""), validate=True))
        id = next(match["id"] for name in files if (match := _NAME.fullmatch(name)) and match["id"])
        if any(name.startswith(f"content/procedures/{id}/") for name in workshop.state.names):
            raise NotWritten(f"There is a module {id} already. Nothing was written.")
        write_files(
            workshop.root, {name: FileChange(content, None) for name, content in files.items()}, f"{id}: taken in"
        )
    except ChangedUnderneath as changed:
        return data(
            {"said": f"{', '.join(changed.files)} is there already. Nothing was written.", "field": "title"}, 409
        )
    except (NotWritten, Refused) as error:
        return data({"said": str(error), "field": "title"}, 409)
    except (binascii.Error, zipfile.BadZipFile, StopIteration, ValueError):
        return data(
            {"said": "This is not a module that was kept as one file. Nothing was written.", "field": "title"}, 422
        )
    workshop.saved()
    return data({"page": f"{workshop.home}/page/{id}", "files": list(files)})


def _files(module: bytes) -> dict[str, bytes]:
    """Return what is in the archive. Raises ValueError where it is more than the pages of one module."""
    with zipfile.ZipFile(io.BytesIO(module)) as archive:
        listed = archive.infolist()
        if len(listed) > _MOST_FILES or sum(one.file_size for one in listed) > MOST_BYTES:
            raise ValueError(len(listed))
        matches = {one.filename: _NAME.fullmatch(one.filename) for one in listed}
        ids = {match["id"] or match["of"] for match in matches.values() if match}
        if not all(matches.values()) or len(ids) != 1 or not all(CONTENT.fullmatch(name) for name in matches):
            raise ValueError(sorted(matches))
        return {one.filename: archive.read(one) for one in listed}


ROUTES = (get("/give/<id>", give), post("/take", take))

"""Lays pages of a finished PDF in the cells of another. The result is for the printer: it carries no tags."""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO

import pikepdf

from builder.compose.document import Placed

_PT_PER_MM = 72 / 25.4


def impose(sheets: bytes, pages: bytes, placed: Iterable[Placed]) -> bytes:
    """Return ``sheets`` with ``pages`` laid over it as ``placed`` says. The same input gives the same bytes."""
    with pikepdf.open(BytesIO(sheets)) as under, pikepdf.open(BytesIO(pages)) as over:
        forms: dict[int, pikepdf.Object] = {}
        for (
            sheet
        ) in under.pages:  # so that what the sheet's own content did to its axes is undone before a page is laid
            sheet.contents_add(b"q", prepend=True)
            sheet.contents_add(b"Q")
        for one in placed:
            if one.page not in forms:
                forms[one.page] = under.copy_foreign(over.pages[one.page - 1].as_form_xobject())
            _lay(under.pages[one.sheet - 1], forms[one.page], one)
        target = BytesIO()
        under.save(target, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
        return target.getvalue()


def _lay(sheet: pikepdf.Page, form: pikepdf.Object, one: Placed) -> None:
    """Lay ``form`` at its own size with its top left corner where ``one`` says."""
    width, height = (float(side) for side in form.BBox[2:])
    left = one.left_mm * _PT_PER_MM
    bottom = float(sheet.mediabox[3]) - one.top_mm * _PT_PER_MM - height
    matrix = (-1, 0, 0, -1, left + width, bottom + height) if one.turned else (1, 0, 0, 1, left, bottom)
    name = pikepdf.Name(f"/Page{one.page}")  # a name of our own: pikepdf would make one up
    sheet.add_resource(form, pikepdf.Name.XObject, name, replace_existing=True)
    numbers = " ".join(f"{part:.4f}".rstrip("0").rstrip(".") for part in matrix)
    sheet.contents_add(f"q {numbers} cm {name} Do Q".encode())

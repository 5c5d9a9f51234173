"""Whatever stands in a text, preview shows it as it was written, on every page and in every form."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from every_text import HOSTILE, RIGHT_TO_LEFT, HostileDepartment, as_prose, changed, strings_in
from lxml import html

from builder.edit.forms.form_files import target_of
from builder.load.sources.latex import latex

PAGES = ("", "page/example", "page/old-way", "both/example", "paper/handout/example", "part/overview")


def shown(page: str) -> list[str]:
    """Return every text and attribute of ``page`` that holds something hostile."""
    tree = html.fromstring(page)
    told = [str(tree.text_content())]
    for element in tree.iter():
        for name, value in element.attrib.items():
            told += strings_in(json.loads(value)) if name in ("data-path", "data-from") and value else [str(value)]
    return [text for text in told if "zq" in text]


def test_every_page_and_form_shows_texts_as_written(tmp_path: Path, preview_of: Callable[..., Any]) -> None:
    for hostile in (HOSTILE, RIGHT_TO_LEFT):
        department = HostileDepartment(tmp_path / hostile[:12].encode().hex() / str(len(hostile)), hostile)
        preview = preview_of(department.root)
        names = [path.relative_to(department.root).as_posix() for path in sorted(department.root.rglob("*.*"))]
        forms = [f"edit/{name}" for name in names if target_of(name)]
        assert len(forms) > 15
        for address in (*PAGES, *forms):
            answer = preview.get(address)
            assert answer.status == 200, address
            told = shown(answer.text)
            assert told, address
            assert [line for text in told for line in changed(text, department.texts, as_prose, latex)] == [], address

"""FORMAT.md is complete: every key an educator can write stands in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from builder.model.json_schema import KINDS, schema_of

PAGE = (Path(__file__).parent.parent / "FORMAT.md").read_text(encoding="utf-8")


def keys(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        yield from part.get("properties", {})
        for inner in part.values():
            yield from keys(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from keys(inner)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_explained(kind: str) -> None:
    written = set(keys(schema_of(kind)))
    assert written, "a kind of file without keys would prove nothing"
    assert sorted(key for key in written if key not in PAGE) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_word_that_may_be_written_is_listed(kind: str) -> None:
    words = {word for definition in schema_of(kind).get("$defs", {}).values() for word in definition.get("enum", ())}
    assert sorted(word for word in words if word not in PAGE) == []

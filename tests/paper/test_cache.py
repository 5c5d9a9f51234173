"""Artefacts are kept by the hash of everything that enters them: equal bytes from the cache, and never a stale one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest
from department import lay, new_base, read
from publishing import fingerprint

from builder.load.templates import load_templates
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish import cache, publishing
from builder.publish.cache import Cache, Inputs, users_cache
from builder.publish.jobs import Here
from builder.publish.output import Publication
from builder.publish.publish_error import PublishError
from builder.publish.publishing import Means, printed

STEP = "content/procedures/example/steps/open-canal.md"
BOTH = ("card", "handout")
_SMALL = ("rehearsal-text", "phone-card", "single-file")


def key_of(root: Path, templates: Mapping[str, str] | None = None, output: str = "card") -> str:
    library, _ = read(root)
    return Inputs(library, templates or load_templates(root)).key(library.procedures[0], output)


def changed(root: Path, name: str, old: str, new: str) -> None:
    path = root / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_equal_departments_have_equal_keys_wherever_they_lie(tmp_path: Path) -> None:
    assert key_of(new_base(tmp_path / "one")) == key_of(new_base(tmp_path / "other"))


WAYS = [
    (STEP, "critical: true", "critical: false"),
    (STEP, "Find the nerve", "See the nerve"),
    ("content/procedures/example/procedure.md", 'edition: "1.0"', 'edition: "1.1"'),
    ("content/procedures/example/procedure.md", "status: draft", "status: in review"),
    ("content/procedures/example/cautions/toxic-dose.md", "signal: danger", "signal: warning"),
    ("content/procedures/example/aftercare/pain-relief.md", "1 g", "500 mg"),
    ("content/procedures/example/figures/canal.svg", "<svg", "<svg id='changed'"),
    ("content/shared/cautions/wrong-side.md", "avoid:", "avoid: Now"),
    ("content/catalogue/items.yml", "small swab", "tiny swab"),
    ("content/catalogue/structures.yml", "see_first: true", "see_first: false"),
    ("content/department.md", "4000", "4001"),
    ("references/sources.bib", "2007", "2008"),
]
"""What somebody changes after a first publish: each is a way to a stale artefact."""


@pytest.mark.parametrize(("name", "old", "new"), WAYS)
def test_whatever_enters_changes_the_key(name: str, old: str, new: str, base: Path) -> None:
    before = key_of(base)
    changed(base, name, old, new)
    assert key_of(base) != before


def test_a_template_a_font_and_the_program_change_the_key(base: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = key_of(base)
    templates = load_templates(base)
    assert key_of(base, {**templates, "card/card.css": templates["card/card.css"] + " "}) != before
    lay(base, {"site_templates/fonts/PrescrubSans-Regular.ttf": "another font"})
    assert key_of(base, templates) != before
    (base / "site_templates/fonts/PrescrubSans-Regular.ttf").unlink()
    assert key_of(base) == before
    monkeypatch.setattr(cache, "programs", lambda: {"prescrub": "another version"})
    assert key_of(base) != before


def test_outputs_of_one_procedure_and_of_another_have_other_keys(base: Path) -> None:
    assert key_of(base) != key_of(base, output="handout")


def test_where_a_line_is_broken_changes_nothing(base: Path) -> None:
    before = key_of(base)
    changed(base, STEP, "critical: true", "# a remark\ncritical: true")
    assert key_of(base) == before


def test_a_change_in_one_procedure_leaves_the_others(tmp_path: Path) -> None:
    root = new_base(tmp_path)
    own = {
        f"content/procedures/second/{path.relative_to(root / 'content/procedures/example')}": path.read_text("utf-8")
        for path in (root / "content/procedures/example").rglob("*")
        if path.is_file()
    }
    lay(root, own)
    keys = _keys(read(root)[0])
    changed(root, "content/procedures/second/steps/open-canal.md", "Find the nerve", "See the nerve")
    after = _keys(read(root)[0])
    assert after["example"] == keys["example"]
    assert after["second"] != keys["second"]


def _keys(library: Library) -> dict[str, str]:
    made = Inputs(library, {})
    return {str(one.id): made.key(one, "card") for one in library.procedures}


def test_a_kind_of_value_that_is_not_known_is_refused() -> None:
    with pytest.raises(TypeError, match="object has no hash"):
        cache.digest_of_value([object()])


def made(root: Path, to: Path, cache: Cache | None, wanted: tuple[str, ...] = ("card",)) -> dict[str, bytes]:
    library, _ = read(root)
    to.mkdir()
    publication = Publication(library, load_templates(root), OUTPUTS, to, cache)
    done = list(printed(publication, Here(publication), wanted))
    assert all(document.text == "" for _, document, _ in done)
    assert all(read_back.pages and read_back.smallest_type_pt >= 7 for _, _, read_back in done)
    return {document.name: (publication.made / document.name).read_bytes() for _, document, _ in done}


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes]]:
    """What a first run leaves in its cache, and what it made; neither is to be changed."""
    folder = tmp_path_factory.mktemp("first")
    return folder / "cache", made(new_base(folder), folder / "one", Cache(folder / "cache"), BOTH)


def test_the_second_run_takes_everything_from_the_cache_with_equal_bytes(
    first: tuple[Path, dict[str, bytes]], base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, files = first
    assert len(files) == len(BOTH)
    monkeypatch.setattr(publishing, "_printed", _must_not_run)
    assert made(base, tmp_path / "two", Cache(kept), BOTH) == files


def _must_not_run(*_: object) -> None:
    raise AssertionError("made again")


@pytest.mark.slow
def test_twelve_ways_to_a_stale_cache_each_equal_a_cold_publish(base: Path, tmp_path: Path) -> None:
    kept = Cache(tmp_path / "cache")
    publish(read(base)[0], tmp_path / "public", load_templates(base), only=_SMALL, means=Means("", kept))
    assert len(WAYS) == 12
    for number, way in enumerate(WAYS):
        root = new_base(tmp_path / str(number))
        changed(root, *way)
        for to, cached in (("warm", kept), ("cold", None)):
            publish(read(root)[0], root.parent / to, load_templates(root), only=_SMALL, means=Means("", cached))
        assert fingerprint(root.parent / "warm") == fingerprint(root.parent / "cold"), way


def test_a_damaged_file_is_made_again(first: tuple[Path, dict[str, bytes]], base: Path, tmp_path: Path) -> None:
    kept, files = first[0], {"example/card.pdf": first[1]["example/card.pdf"]}
    cache = Cache(Path(shutil.copytree(kept, tmp_path / "cache")))
    for path in (tmp_path / "cache").rglob("*.data"):
        path.write_bytes(path.read_bytes()[:-1])
    assert made(base, tmp_path / "two", cache) == files
    for path in (tmp_path / "cache").rglob("*.json"):
        path.write_text("{", encoding="utf-8")
    assert made(base, tmp_path / "three", cache) == files


def test_what_fails_its_proof_is_not_kept(base: Path, tmp_path: Path) -> None:
    lay(base, {"site_templates/card/card.css": load_templates(base)["card/card.css"] + ".lines { color: #ddd }"})
    for turn in range(2):
        with pytest.raises(PublishError, match="contrast"):
            made(base, tmp_path / f"to-{turn}", Cache(tmp_path / "cache"))
    cards = [json.loads(path.read_text("utf-8")) for path in (tmp_path / "cache").rglob("*.json")]
    assert [card for card in cards if card["document"]["kind"] == "card"] == []


def test_a_cache_that_cannot_be_written_is_no_cache(base: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert len(made(base, tmp_path / "one", Cache(tmp_path / "file" / "cache"))) == 1


def test_what_was_used_longest_ago_goes_first(tmp_path: Path) -> None:
    import os

    for at, key in enumerate(("aa1", "bb2", "cc3")):
        for ending, size in (("json", 10), ("data", 90)):
            path = tmp_path / key[:2] / f"{key}.{ending}"
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(b"x" * size)
            os.utime(path, (at, at))
    Cache(tmp_path, most_bytes=200).prune()
    assert sorted(path.name for path in tmp_path.rglob("*.*")) == ["bb2.data", "bb2.json", "cc3.data", "cc3.json"]
    os.utime(tmp_path / "cc/cc3.json")
    Cache(tmp_path, most_days=30).prune()
    assert sorted(path.name for path in tmp_path.rglob("*.*")) == ["cc3.data", "cc3.json"]


def test_the_cache_can_be_put_elsewhere_or_off(tmp_path: Path) -> None:
    assert users_cache({"PRESCRUB_CACHE": "off"}) is None
    assert users_cache({"PRESCRUB_CACHE": ""}) is None
    chosen = users_cache({"PRESCRUB_CACHE": str(tmp_path)})
    assert chosen is not None
    assert chosen.folder == tmp_path / "artefacts"
    assert users_cache({}) is not None

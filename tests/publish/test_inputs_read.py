"""What was read is what is published: a file that is changed meanwhile stops the publish, and nothing of it is kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from department import BASE, lay, read
from publishing import fingerprint, publish_site

from builder.load.templates import load_templates
from builder.model.library import Library
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish import publishing
from builder.publish.cache import Cache, Inputs
from builder.publish.jobs import Here
from builder.publish.output import Publication
from builder.publish.publish_error import PublishError
from builder.publish.publishing import printed

PROCEDURE = "content/procedures/example"
FIGURE = f"{PROCEDURE}/figures/canal.svg"
FONT = "site_templates/fonts/PrescrubSans-Bold.woff2"


def other_bytes(path: Path) -> None:
    """Change one letter of the file, so that its size and its validity stay."""
    content = path.read_bytes()
    at = content.rindex(b"e")
    path.write_bytes(content[:at] + b"a" + content[at + 1 :])


def stopped(root: Path, to: Path, name: str, change: Callable[[], object], at: str = "") -> None:
    """Publish while ``change`` happens: before anything is made, or when the file ``at`` was."""
    library, _ = read(root)
    templates = load_templates(root)
    if not at:
        change()
    seen = []

    def happens(done: int, total: int, doing: str) -> None:
        if at and doing == at:
            seen.append(doing)
            change()

    with pytest.raises(PublishError, match=f"{name} was changed while it was being published"):
        publish(library, to, templates, happens, only=("site", "phone-card"))
    assert seen == [at] * bool(at)


def test_a_picture_exchanged_before_the_first_output_stops_the_publish(base: Path, to: Path) -> None:
    publish_site(base, to)
    before = fingerprint(to)
    stopped(base, to, FIGURE, lambda: other_bytes(base / FIGURE))
    assert fingerprint(to) == before


@pytest.mark.parametrize(
    "name",
    [
        FIGURE,
        f"{PROCEDURE}/steps/open-canal.md",
        "content/department.md",
        "content/catalogue/items.yml",
        "references/sources.bib",
        "references/notices/retracted.csv",
        FONT,
        "site_templates/site/look/site.css",
    ],
)
def test_whatever_is_changed_while_others_are_made_stops_the_publish(name: str, base: Path, to: Path) -> None:
    own = Path(__file__).parents[2] / name
    if name.startswith("site_templates"):
        (base / name).parent.mkdir(parents=True)
        (base / name).write_bytes(own.read_bytes())
    stopped(base, to, name, lambda: other_bytes(base / name), at="reading back example/index.html")
    assert not to.exists()


TEXTS = sorted(path.relative_to(BASE).as_posix() for path in BASE.rglob("*") if path.is_file())
INSTANTS = (1, 2)
"""At which of its steps a publish of one small output is changed: when the output was made, and at the end."""


def test_forty_changes_of_an_input_stop_the_publish_and_keep_nothing(base: Path, to: Path) -> None:
    tried = [(name, instant) for name in TEXTS[:20] for instant in INSTANTS]
    assert len(tried) == 40
    for name, instant in tried:
        whole, library = (base / name).read_bytes(), read(base)[0]

        def happens(done: int, *_: object, at: int = instant, path: Path = base / name) -> None:
            if done == at:
                other_bytes(path)

        with pytest.raises(PublishError, match=f"{name} was changed while it was being published"):
            publish(library, to, load_templates(base), happens, only=("rehearsal-text",))
        assert not to.exists()
        (base / name).write_bytes(whole)


def test_a_file_that_is_gone_or_comes_meanwhile_stops_it(base: Path, to: Path) -> None:
    stopped(base, to, FONT, lambda: lay(base, {FONT: "another"}), at="reading back example/index.html")
    (base / FONT).unlink()
    stopped(base, to, FIGURE, (base / FIGURE).unlink, at="reading back example/index.html")
    assert not to.exists()


def test_a_picture_that_is_exchanged_and_put_back_is_in_no_output(base: Path, to: Path) -> None:
    """Nothing tells it at the end; so every output must have the bytes that were read first."""
    whole = (base / FIGURE).read_bytes()
    publish_site(base, to, ("site", "single-file", "slides-pptx"))
    before = fingerprint(to)
    library, _ = read(base)

    def exchanged(_: int, __: int, doing: str) -> None:
        if doing == "putting in place":
            (base / FIGURE).write_bytes(whole)
        else:
            (base / FIGURE).write_bytes(whole)
            other_bytes(base / FIGURE)

    publish(library, to, load_templates(base), exchanged, only=("site", "single-file", "slides-pptx"))
    assert fingerprint(to) == before


SHOWN = ("handout", "what-now", "slides", "patient-sheet", "single-file")
"""What shows numbers and titles, and takes little time to compose."""


def keys(library: Library, root: Path) -> dict[tuple[str, str], str]:
    made = Inputs(library, load_templates(root))
    return {
        (str(one.id), name): made.key(one, name)
        for one in library.procedures
        for _, name in OUTPUTS.documents_of(one, OUTPUTS.usual)
    }


def composed(library: Library, root: Path, folder: Path) -> dict[tuple[str, str], tuple[object, ...]]:
    """Return what every output of every procedure is made of."""
    made = Publication(library, load_templates(root), OUTPUTS, folder, None)
    documents = {
        (str(one.id), name): output.composed(name, library, one, made.renderer)
        for one in library.procedures
        for output, name in OUTPUTS.documents_of(one, SHOWN)
    }
    return {key: (document.text, document.musts, document.explained) for key, document in documents.items()}


def second_procedure(root: Path) -> Path:
    """Lay a second procedure beside the first: it calls nobody of its own, and says another step."""
    texts = {path.relative_to(root / PROCEDURE): path.read_text("utf-8") for path in (root / PROCEDURE).rglob("*.*")}
    own = {
        f"content/procedures/second/{name}": text.replace("consultant on call", "porter").replace(
            "procedure:example", "procedure:second"
        )
        for name, text in texts.items()
    }
    return lay(root, own)


def test_one_number_or_title_voids_only_what_shows_it(base: Path, tmp_path: Path) -> None:
    second_procedure(base)
    department = base / "content/department.md"
    told = department.read_text("utf-8").replace('"4000"}', '"4000"}\n  - {role: porter, number: "5000"}')
    department.write_text(told, "utf-8")
    step = base / PROCEDURE / "steps/cut-skin.md"
    step.write_text(step.read_text("utf-8") + "\nAs in [the other](procedure:second).\n", "utf-8")
    title = base / "content/procedures/second/procedure.md"
    before = read(base)[0]
    old_keys, was = keys(before, base), composed(before, base, tmp_path)
    for path, old, new, void in (
        (department, '"5000"', '"5001"', {"second"}),
        (department, '"4000"', '"4001"', {"example"}),
        (title, "title: ", "title: Another ", {"example", "second"}),  # the first links to the second
        (base / PROCEDURE / "procedure.md", "title: ", "title: Another ", {"example"}),
    ):
        text = path.read_text("utf-8")
        path.write_text(text.replace(old, new, 1), "utf-8")
        after = read(base)[0]
        new_keys, now = keys(after, base), composed(after, base, tmp_path)
        assert {id for (id, name), key in new_keys.items() if key != old_keys[id, name]} == void, new
        changed = {key for key in was if was[key] != now[key]}
        assert changed, new
        assert all(old_keys[key] != new_keys[key] for key in changed), new
        path.write_text(text, "utf-8")


def made(library: Library, root: Path, to: Path, cache: Cache) -> int:
    to.mkdir()
    publication = Publication(library, load_templates(root), OUTPUTS, to, cache)
    return len(list(printed(publication, Here(publication), ("what-now", "count-sheet", "slides-pptx", "single-file"))))


def test_the_next_day_an_unchanged_text_orders_no_job(
    base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library, _ = read(base)
    kept = Cache(tmp_path / "cache")
    jobs: list[str] = []
    was = publishing._printed
    monkeypatch.setattr(publishing, "_printed", lambda *order: jobs.append(order[2]) or was(*order))
    many = made(library, base, tmp_path / "first", kept)
    assert len(jobs) == many == 4
    jobs.clear()
    next_day = replace(library, today=library.today + timedelta(days=1))
    assert made(next_day, base, tmp_path / "next", kept) == many
    assert jobs == []
    assert fingerprint(tmp_path / "next/made") == fingerprint(tmp_path / "first/made")
    due = library.procedures[0].review_by
    assert due is not None
    assert keys(next_day, base) == keys(library, base)
    overdue = replace(library, today=due + timedelta(days=1))
    assert keys(overdue, base).items().isdisjoint(keys(library, base).items())


def test_a_picture_in_capitals_is_in_the_key(base: Path) -> None:
    library, _ = read(base)
    templates = load_templates(base)
    without = Inputs(library, templates).key(library.procedures[0], "card")
    lay(base, {"site_templates/logo.PNG": "one"})
    one = Inputs(library, templates).key(library.procedures[0], "card")
    lay(base, {"site_templates/logo.PNG": "other"})
    assert len({without, one, Inputs(library, templates).key(library.procedures[0], "card")}) == 3

"""Nothing that others made is ever replaced, and what the system refuses is said in plain words."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest
from department import read
from publishing import fingerprint, publish_site

from builder.load.templates import load_templates
from builder.pipeline import publish
from builder.publish.publish_error import PublishError, WrongTarget
from builder.publish.publishing import in_plain_words, real_target, refuse_strangers


def test_an_empty_folder_may_be_published_to(base: Path, to: Path) -> None:
    to.mkdir(parents=True)
    publish_site(base, to)
    assert (to / "index.html").is_file()


def test_a_folder_with_the_files_of_others_is_refused(base: Path, to: Path) -> None:
    to.mkdir(parents=True)
    (to / "thesis.txt").write_text("years of work")
    with pytest.raises(PublishError, match=r"was not made by prescrub .* Name another folder, or empty this one"):
        publish_site(base, to)
    assert [entry.name for entry in to.iterdir()] == ["thesis.txt"]


def test_the_departments_own_folder_is_refused(base: Path) -> None:
    before = fingerprint(base)
    with pytest.raises(PublishError, match="was not made by prescrub"):
        publish_site(base, base)
    assert fingerprint(base) == before


def test_a_report_that_is_not_ours_does_not_make_a_folder_ours(base: Path, to: Path) -> None:
    to.mkdir(parents=True)
    (to / "build-report.json").write_text(json.dumps({"made_by": "another tool"}))
    with pytest.raises(PublishError, match="was not made by prescrub"):
        publish_site(base, to)


def test_a_file_put_into_a_published_folder_is_not_lost(base: Path, to: Path) -> None:
    publish_site(base, to)
    (to / "notes.txt").write_text("mine")
    with pytest.raises(PublishError, match=r"files that prescrub did not make: notes\.txt\. .* move them elsewhere"):
        publish_site(base, to)
    assert (to / "notes.txt").read_text() == "mine"


def test_a_file_is_no_folder_to_publish_to(tmp_path: Path) -> None:
    (tmp_path / "public").write_text("")
    with pytest.raises(PublishError, match="is a file, not a folder"):
        real_target(tmp_path / "public")


@pytest.mark.parametrize("inside", ["content", "content/procedures/new", "references/site", "site_templates/look"])
def test_nothing_is_published_into_what_is_published(inside: str, base: Path) -> None:
    before = fingerprint(base)
    with pytest.raises(WrongTarget, match=r"which is what is published\. Name a folder outside it"):
        publish_site(base, base / inside)
    assert fingerprint(base) == before


def test_what_somebody_puts_into_the_target_meanwhile_survives(base: Path, to: Path) -> None:
    publish_site(base, to)
    before = (to / "index.html").read_bytes()

    def put(_: int, __: int, doing: str) -> None:
        if doing == "putting in place":
            (to / "notes.txt").write_text("mine")

    with pytest.raises(WrongTarget, match=r"did not make: notes\.txt"):
        publish(read(base)[0], to, load_templates(base), put, only=("site",))
    assert (to / "notes.txt").read_text() == "mine"
    assert (to / "index.html").read_bytes() == before


@pytest.mark.parametrize("name", ["lock", "thesis.txt"])
def test_a_folder_of_our_working_name_that_is_not_ours_is_left_alone(name: str, base: Path, to: Path) -> None:
    work = to.parent / f".prescrub-{to.name}"
    work.mkdir(parents=True)
    (work / name).write_text("years of work")
    (work / "thesis.txt").write_text("years of work")
    with pytest.raises(PublishError, match=r"was not made by prescrub\. Move it away"):
        publish_site(base, to)
    assert (work / "thesis.txt").read_text() == "years of work"


def test_a_right_that_belongs_to_no_file_blames_none() -> None:
    said = in_plain_words(OSError(errno.EACCES, "Permission denied"), Path("/srv/public"))
    assert "/srv" not in said
    assert "/dev/shm" in said


def test_the_root_of_a_disk_cannot_be_replaced() -> None:
    with pytest.raises(PublishError, match="a disk of its own"):
        real_target(Path("/"))


def test_a_link_is_followed_and_stays_a_link(base: Path, to: Path, tmp_path: Path) -> None:
    to.mkdir(parents=True)
    link = tmp_path / "www"
    link.symlink_to(to)
    publish_site(base, link)
    assert link.is_symlink()
    assert (to / "index.html").is_file()


def test_a_folder_made_by_an_earlier_publish_is_no_stranger(base: Path, to: Path) -> None:
    publish_site(base, to)
    refuse_strangers(to)


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "The disk that holds /srv is full. Free some space"),
        (errno.EDQUOT, "is full"),
        (errno.EPERM, "The system refused a right that belongs to no file"),
        (errno.EROFS, "/srv can only be read"),
        (errno.EIO, "The system refused /srv"),
    ],
)
def test_the_system_speaks_plainly(number: int, words: str) -> None:
    assert words in in_plain_words(OSError(number, "said"), Path("/srv/public"))

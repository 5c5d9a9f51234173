"""A photograph goes through every output, and nothing that it carried survives in any byte of what is published."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest
from department import family, lay, read
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import publish
from builder.publish.pictures import clean_photograph, prepared
from builder.publish.publish_error import PublishError

STEP = "content/procedures/example/steps/place-drain.md"
FIGURES = "content/procedures/example/figures"
CONSENTS = "content/catalogue/consents.yml"
TELLING = "mr-harold-quimby-hernia"
TRACES = (b"Quimby", b"Harold", b"HaroldQ", b"quimby", b"XMP-SECRET", b"TEXT-SECRET", b"ZTXT-SECRET", b"AFTER-END")
FACE = (251, 3, 247)
"""A colour that stands nowhere else: the face that is cropped away, and the small copy of it."""


def photograph() -> bytes:
    """A PNG with a name and a place in EXIF, a thumbnail there, XMP, text parts, bytes behind its end, and a face."""
    picture = Image.new("RGB", (400, 300), (120, 90, 80))
    ImageDraw.Draw(picture).rectangle((0, 0, 199, 299), fill=FACE)
    exif = Image.Exif()
    exif[0x013B] = "Harold Quimby"  # artist
    exif[0x010E] = "Mr Harold Quimby, born 14/03/1961"  # description
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 26.0), 3: "W", 4: (0.0, 7.0, 39.0)})  # where it was taken
    small = io.BytesIO()
    Image.new("RGB", (16, 12), FACE).save(small, "JPEG")
    raw = exif.tobytes() + b"HaroldQ" + small.getvalue()
    texts = PngInfo()
    texts.add_text("Author", "TEXT-SECRET Quimby")
    texts.add_text("Comment", "ZTXT-SECRET Quimby", zip=True)
    texts.add_itxt("XML:com.adobe.xmp", "<x:xmpmeta>XMP-SECRET Harold Quimby</x:xmpmeta>")
    target = io.BytesIO()
    picture.save(target, "PNG", pnginfo=texts, exif=raw)
    return target.getvalue() + b"AFTER-END Quimby"


def department(base: Path, consents: str = "") -> Path:
    text = (
        (base / STEP)
        .read_text(encoding="utf-8")
        .replace(
            "common_practice: true\n---\n",
            f"""figure:
  file: {TELLING}.png
  alt: The drain below the roof of the canal.
  caption: The drain
  credit: own picture
  consent: consent-7
  crop: [50, 0, 100, 100]
common_practice: true
---
See [the drain](figure:{TELLING}).
""",
        )
    )
    lay(base, {STEP: text, CONSENTS: f"- {{id: consent-7, given: 2026-01-31{consents}}}\n"})
    (base / FIGURES / f"{TELLING}.png").write_bytes(photograph())
    return base


def every_byte(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Yield every file of ``folder``, and every stream, member and compressed part in it, unpacked."""
    for path in sorted(one for one in folder.rglob("*") if one.is_file()):
        name = path.relative_to(folder).as_posix()
        yield from _unpacked(name, path.read_bytes())


def _unpacked(name: str, content: bytes) -> Iterator[tuple[str, bytes]]:
    yield name, name.encode() + content
    if content.startswith(b"%PDF"):
        with pikepdf.open(io.BytesIO(content)) as pdf:
            for item in pdf.objects:
                if isinstance(item, pikepdf.Stream):
                    try:
                        yield f"{name} stream", item.read_bytes()
                    except pikepdf.PdfError:
                        yield f"{name} stream", item.read_raw_bytes()
                else:
                    yield f"{name} object", repr(item).encode()
    elif content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for member in archive.namelist():
                yield from _unpacked(f"{name}/{member}", archive.read(member))
    elif content.startswith(b"\x89PNG"):
        yield f"{name} points", Image.open(io.BytesIO(content)).convert("RGB").tobytes()
    for match in re.finditer(rb"data:image/png;base64,([A-Za-z0-9+/=]+)", content):
        import base64

        yield from _unpacked(f"{name} inline", base64.b64decode(match[1]))


def test_the_photograph_carries_what_the_test_looks_for() -> None:
    raw = photograph()
    unpacked = b"".join(part for _, part in _unpacked("x.png", raw))
    for trace in TRACES:
        assert trace in unpacked or trace in zlib_parts(raw), trace
    assert bytes(FACE) in unpacked


def zlib_parts(raw: bytes) -> bytes:
    """The text parts that are packed."""
    found, place = b"", 8
    while place + 8 < len(raw):
        size, kind = struct.unpack(">I4s", raw[place : place + 8])
        if kind == b"zTXt":
            found += zlib.decompress(raw[place + 8 : place + 8 + size].split(b"\0", 1)[1][1:])
        place += size + 12
        if kind == b"IEND":
            break
    return found + TELLING.encode()


@pytest.mark.slow
def test_nothing_of_it_survives_in_any_output(base: Path, tmp_path: Path) -> None:
    library, _ = read(department(base))
    public = tmp_path / "public"
    publish(library, public, load_templates(base), only=OUTPUTS.usual)
    seen = 0
    for name, content in every_byte(public):
        seen += "picture-" in name or b"picture-" in content
        for trace in TRACES:
            assert trace not in content, (name, trace)
        assert bytes(FACE) * 3 not in content, (name, "the face")
    assert seen, "the picture was published, clean"


@pytest.mark.slow
def test_the_sweep_stops_a_picture_that_was_not_made_anew(
    base: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builder.publish.pictures.prepared", lambda library, _: library)
    library, _ = read(department(base))
    with pytest.raises(PublishError, match="carries a part `eXIf`"):
        publish(library, tmp_path / "public", load_templates(base), only=("site",))
    assert not (tmp_path / "public").exists()


@pytest.mark.slow
def test_a_withdrawn_consent_takes_the_picture_out_of_every_output(base: Path, tmp_path: Path) -> None:
    library, findings = read(department(base, ", withdrawn: 2026-06-30"))
    assert {finding.name for finding in findings if family(finding) == "identity"} == {
        "file-name-identifies",
        "name-of-person",  # the file's name, where the step names it
        "consent-withdrawn",
    }
    public = tmp_path / "public"
    publish(library, public, load_templates(base), only=OUTPUTS.usual)
    for name, content in every_byte(public):
        assert b"The drain below the roof of the canal." not in content, name
        assert b"picture-" not in content, name


def test_only_the_part_that_is_shown_is_kept() -> None:
    clean = clean_photograph("a.png", photograph(), (50, 0, 100, 100))
    with Image.open(io.BytesIO(clean)) as picture:
        assert picture.size == (200, 300)
        assert picture.info == {}
        assert picture.convert("RGB").getcolors() == [(200 * 300, (120, 90, 80))]


def test_the_same_picture_gives_the_same_bytes() -> None:
    assert clean_photograph("a.png", photograph()) == clean_photograph("b.png", photograph())


def test_a_turned_picture_is_shown_upright() -> None:
    picture = Image.new("RGB", (40, 20), (1, 2, 3))
    exif = Image.Exif()
    exif[0x0112] = 6  # turn by a quarter to the right
    target = io.BytesIO()
    picture.save(target, "JPEG", exif=exif)
    with Image.open(io.BytesIO(clean_photograph("a.jpg", target.getvalue()))) as shown:
        assert shown.size == (20, 40)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"no picture at all", "cannot be read as a picture"),
        (photograph()[:300], "cannot be read as a picture"),
    ],
)
def test_what_is_no_picture_is_refused_in_plain_words(content: bytes, says: str) -> None:
    with pytest.raises(PublishError, match=says):
        clean_photograph("a.png", content)


def test_a_picture_of_too_many_points_is_refused() -> None:
    target = io.BytesIO()
    Image.new("1", (10_000, 6_000)).save(target, "PNG")
    with pytest.raises(PublishError, match="10000 by 6000 points"):
        clean_photograph("a.png", target.getvalue())


@pytest.mark.parametrize("crop", [(50, 0, 50, 100), (60, 0, 40, 100), (0, 0, 0.1, 100)])
def test_a_crop_that_leaves_nothing_is_refused(crop: tuple[float, float, float, float]) -> None:
    with pytest.raises(PublishError, match="leaves nothing to show"):
        clean_photograph("a.png", photograph(), crop)


def test_a_department_of_drawings_is_left_as_it_is(base: Path, tmp_path: Path) -> None:
    library, _ = read(base)
    assert prepared(library, tmp_path / "work") is library


def test_links_follow_the_neutral_name(base: Path, tmp_path: Path) -> None:
    library, _ = read(department(base))
    shown = prepared(library, tmp_path / "work")
    step = shown.procedures[0].steps["place-drain"]
    assert re.fullmatch(r"picture-[a-p]{12}\.png", step.figure[0].file)
    assert f"(figure:{step.figure[0].id})" in step.body.source
    assert step.figure[0].crop is None
    assert (shown.root / FIGURES / step.figure[0].file).is_file()
    assert (shown.root / FIGURES / "canal.svg").is_file()
    assert library.procedures[0].steps["place-drain"].figure[0].file == f"{TELLING}.png"

"""Makes the type shipped in site_templates/fonts from unpacked copies of Inter, Vazirmatn and DejaVu Sans.

Usage::

    npm pack inter-ui@4.1.1 dejavu-fonts-ttf@2.37.3 @expo-google-fonts/vazirmatn@0.4.1
    for one in *.tgz; do mkdir "${one%%-[0-9]*}" && tar xzf "$one" -C "${one%%-[0-9]*}"; done
    .venv/bin/python tools/fonts.py inter-ui/package dejavu-fonts-ttf/package expo-google-fonts-vazirmatn/package

Inter is licensed under the SIL Open Font License 1.1 and reserves no font name, so a changed copy may be
passed on under the same licence. Ours bears another family name all the same, so that it is never taken for
the Inter a reader may have installed, whose letter forms differ.

What is changed, and why:

* l with a tail and I with serifs always, so that l, I and 1 differ in a drug name or a code printed at 7 pt;
* 6 and 9 open, so that they differ from 8 after a bad photocopy;
* the contextual feature is dropped: it turns ``->`` into an arrow and ``2x3`` into a multiplication, and a
  clinical text must print the characters that were written, or reading the artefact back proves nothing;
* characters outside the list below are dropped, to keep each web file under 60 kB.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables import otTables

if TYPE_CHECKING:
    from collections.abc import Iterable

FAMILY = "Prescrub Sans"
FACES = ("Regular", "Italic", "Bold")
SIGNS_FAMILY = "Prescrub Signs"
SIGNS_FILE = "PrescrubSigns"
ARABIC_FAMILY = "Prescrub Arabic"
ARABIC = {*range(0x600, 0x700), *range(0xFB50, 0xFE00), *range(0xFE70, 0xFEFD)} - {
    *range(0x660, 0x66A),
    *range(0x6F0, 0x6FA),
} | set(map(ord, " \u00a0.:!()[]«»-–/…"))
"""The Arabic block without its digits, which are set as they were written, and the signs between its words; with the
forms of letters, by which a finished PDF is told which letter a glyph is."""
TARGET = Path(__file__).resolve().parent.parent / "site_templates" / "fonts"

# Letters: Basic Latin, Latin-1, Latin Extended-A and -B as far as names need them, Vietnamese, Greek, marks.
RANGES = (
    (0x20, 0x7E), (0xA0, 0x17F), (0x18F, 0x18F), (0x192, 0x192), (0x1A0, 0x1A1), (0x1AF, 0x1B0),
    (0x1CD, 0x1DC), (0x1E6, 0x1E7), (0x218, 0x21B), (0x259, 0x259), (0x2B9, 0x2BC), (0x2C6, 0x2C7),
    (0x2D8, 0x2DD), (0x300, 0x304), (0x306, 0x30C), (0x323, 0x323), (0x326, 0x328), (0x384, 0x38A),
    (0x38C, 0x38C), (0x38E, 0x3A1), (0x3A3, 0x3CE), (0x1E80, 0x1E85), (0x1E9E, 0x1E9E), (0x1EA0, 0x1EF9),
    (0x2070, 0x2071), (0x2074, 0x208E),
)  # fmt: skip
# Signs that the outputs use. tests/test_fonts.py holds the list that must be there.
SIGNS = (
    "\u2009\u200a\u200b\u2010\u2011\u2012–—―‘’‚“”„†‡•…\u202f‰′″‹›⁄€™℮№"
    "←↑→↓↔↕↗↘↙↖↩↪↰↱↳↵⇒⇐⇔−√∞≈≠≤≥∆∑∂∫Ωℓ½⅓⅔¼¾⅛⅜⅝⅞"
    "□■▢▲△▶▷▼▽◀●○◆◇✓✗⚠"
)
# kern and mark place the letters; tnum aligns columns of figures; zero (slashed) is for codes; sups, subs
# and frac serve units and reference numbers; case lifts brackets beside capitals.
FEATURES = (
    "kern",
    "mark",
    "mkmk",
    "ccmp",
    "locl",
    "tnum",
    "zero",
    "sups",
    "subs",
    "frac",
    "numr",
    "dnom",
    "case",
)
ALWAYS_ON = ("cv03", "cv04", "cv05", "cv08")


def characters() -> set[int]:
    """The code points to keep."""
    letters = {point for first, last in RANGES for point in range(first, last + 1)}
    return letters | {ord(sign) for sign in SIGNS}


def lookups_of(table: Any, tags: Iterable[str]) -> list[int]:
    """Indices of the substitutions behind the features called `tags`."""
    wanted = set(tags)
    records = table.FeatureList.FeatureRecord
    return sorted({i for r in records if r.FeatureTag in wanted for i in r.Feature.LookupListIndex})


def switch_on(font: TTFont, tags: Iterable[str]) -> None:
    """Puts the substitutions of `tags` under ccmp, the feature that no browser or style sheet turns off."""
    table = font["GSUB"].table
    always = lookups_of(table, tags)
    for script in table.ScriptList.ScriptRecord:
        systems = [script.Script.DefaultLangSys, *(r.LangSys for r in script.Script.LangSysRecord)]
        for system in filter(None, systems):
            feature = composition_feature(table, system)
            feature.LookupListIndex = sorted({*feature.LookupListIndex, *always})
            feature.LookupCount = len(feature.LookupListIndex)


def composition_feature(table: Any, system: Any) -> Any:
    """The ccmp feature of one language system, made if there is none."""
    records = table.FeatureList.FeatureRecord
    for index in system.FeatureIndex:
        if records[index].FeatureTag == "ccmp":
            return records[index].Feature
    record = otTables.FeatureRecord()
    record.FeatureTag = "ccmp"
    record.Feature = otTables.Feature()
    record.Feature.FeatureParams = None
    record.Feature.LookupListIndex = []
    records.append(record)
    system.FeatureIndex.append(len(records) - 1)
    return record.Feature


def rename(font: TTFont, face: str) -> None:
    """Gives the family its own name; copyright, designer and licence entries stay as they are."""
    version = font["name"].getDebugName(5)
    full = FAMILY if face == "Regular" else f"{FAMILY} {face}"
    entries = {
        1: FAMILY,
        2: face,
        3: f"{FAMILY} {face}, from Inter {version}",
        4: full,
        6: f"{FAMILY.replace(' ', '')}-{face}",
        10: "A modified and reduced copy of Inter: see README.md beside the font file.",
    }
    for name in (16, 17, 21, 22, 25):
        font["name"].removeNames(nameID=name)
    for name, text in entries.items():
        font["name"].removeNames(nameID=name)
        font["name"].setName(text, name, 3, 1, 0x409)


def reduce(font: TTFont) -> None:
    """Drops the characters, features and tables that are not listed."""
    options = subset.Options(
        layout_features=list(FEATURES),
        name_IDs=["*"],
        notdef_outline=True,
        glyph_names=False,
        hinting=False,
        drop_tables=["DSIG", "STAT"],
    )
    worker = subset.Subsetter(options)
    worker.populate(unicodes=characters())
    worker.subset(font)


def make_arabic(source: Path) -> None:
    """Writes the letters for patients' sheets in Arabic, Persian and Urdu; digits and Latin come from our family."""
    for face, weight in (("Regular", "400Regular"), ("Bold", "700Bold")):
        font = TTFont(source / weight / f"Vazirmatn_{weight}.ttf", recalcTimestamp=False)
        stem = f"{ARABIC_FAMILY.replace(' ', '')}-{face}"
        full = ARABIC_FAMILY if face == "Regular" else f"{ARABIC_FAMILY} {face}"
        entries = {1: ARABIC_FAMILY, 2: face, 3: f"{full}, from Vazirmatn", 4: full, 6: stem}
        for name in (16, 17, 21, 22, 25, *entries):
            font["name"].removeNames(nameID=name)
        for name, text in entries.items():
            font["name"].setName(text, name, 3, 1, 0x409)
        options = subset.Options(name_IDs=["*"], notdef_outline=True, glyph_names=True, hinting=False)
        worker = subset.Subsetter(options)
        worker.populate(unicodes=ARABIC)
        worker.subset(font)
        target = TARGET / f"{stem}.ttf"
        font.save(target)
        print(f"{target.name}: {target.stat().st_size} bytes")
    shutil.copyfile(source / "LICENSE_FONT", TARGET / "Vazirmatn-OFL.txt")


def make_signs(source: Path) -> None:
    """Writes the emoji that print takes from DejaVu Sans: one colour, and the same on every machine."""
    font = TTFont(source / "ttf" / "DejaVuSans.ttf", recalcTimestamp=False)
    for name in (16, 17, 21, 22, 25):
        font["name"].removeNames(nameID=name)
    for name, text in {1: SIGNS_FAMILY, 3: f"{SIGNS_FAMILY}, from DejaVu Sans", 4: SIGNS_FAMILY, 6: SIGNS_FILE}.items():
        font["name"].removeNames(nameID=name)
        font["name"].setName(text, name, 3, 1, 0x409)
    options = subset.Options(name_IDs=["*"], layout_features=[], notdef_outline=True, glyph_names=False, hinting=False)
    options.drop_tables += ["FFTM", "GDEF", "GPOS", "GSUB", "kern"]
    worker = subset.Subsetter(options)
    worker.populate(unicodes={*range(0x1F600, 0x1F650), *range(0x2600, 0x27C0)} - characters())
    worker.subset(font)
    target = TARGET / f"{SIGNS_FILE}.ttf"
    font.save(target)
    print(f"{target.name}: {target.stat().st_size} bytes")
    shutil.copyfile(source / "LICENSE", TARGET / "DejaVu-LICENSE.txt")


def make(source: Path, face: str) -> None:
    """Writes the print (TTF) and web (WOFF2) file of one face."""
    font = TTFont(source / "web" / f"Inter-{face}.woff2", recalcTimestamp=False)
    switch_on(font, ALWAYS_ON)
    rename(font, face)
    reduce(font)
    stem = TARGET / f"{FAMILY.replace(' ', '')}-{face}"
    for flavor, suffix in ((None, ".ttf"), ("woff2", ".woff2")):
        font.flavor = flavor
        font.save(stem.with_suffix(suffix))
        print(f"{stem.name}{suffix}: {stem.with_suffix(suffix).stat().st_size} bytes")


def main(arguments: list[str]) -> int:
    """Command line: the three unpacked packages."""
    source, signs, arabic = (Path(name) for name in (*arguments, "", "", "")[:3])
    there = (source / "web", signs / "ttf", arabic / "400Regular")
    if len(arguments) != len(there) or not all(folder.is_dir() for folder in there):
        print("usage: tools/fonts.py INTER DEJAVU VAZIRMATN, the unpacked npm packages", file=sys.stderr)
        return 2
    TARGET.mkdir(parents=True, exist_ok=True)
    for face in FACES:
        make(source, face)
    make_signs(signs)
    make_arabic(arabic)
    shutil.copyfile(source / "LICENSE.txt", TARGET / "OFL.txt")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

"""A patient's sheet in another language: whole, with the same numbers, a draft until checked, and right on paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from random import Random

import pikepdf
import pypdfium2
import pytest
from department import Overlay, read

from builder.compose import document as filling
from builder.compose.document import Document
from builder.facts.directions import runs
from builder.facts.number_words import differing
from builder.facts.readability import ease_in
from builder.load import program_words
from builder.load.program_words import speaking
from builder.load.templates import load_templates
from builder.model.edition import edition_of
from builder.outputs import OUTPUTS
from builder.publish.output import Equipment
from builder.publish.paper import tags
from builder.write.translation_file import write_translation

EXAMPLE = "content/procedures/example"
NAME = "patient-sheet-translated"
PAIN = "Take 5-10 mg every 6 h for three days. Call 01632 960006 if your wound bleeds."
TRANSLATED = {
    "Title": ("Opening and closing the inguinal canal", "فتح القناة الأربية وإغلاقها"),
    "drain-out": (
        "If a drain was left in: Your drain comes out after one or two days.",
        "إذا تُرك مفجّر: يُزال المفجّر بعد يوم أو يومين.",
    ),
    "wound-care": ("Keep your wound dry for two days.", "حافظ على جرحك جافًا لمدة يومين (شيئًا)."),
}
PAIN_IN_ARABIC = (
    ("Take 5-10 mg every 6 h for three days.", "خذ 5-10 mg كل 6 ساعات لمدة ثلاثة أيام."),
    ("Call 01632 960006 if your wound bleeds.", "اتصل بالرقم 01632 960006 إذا نزف جرحك."),
)


def translation(pairs: dict[str, tuple[tuple[str, str], ...]], head: str = "") -> str:
    """Return the file of a translation."""
    lines = ["---", head, "---"] if head else ["---", "---"]
    for item, told in pairs.items():
        lines += ["", f"# {item}"]
        for original, text in told:
            lines += ["", f"> {original}", "", text]
    return "\n".join(lines) + "\n"


ARABIC = translation({**{item: (told,) for item, told in TRANSLATED.items()}, "pain-relief": PAIN_IN_ARABIC})


@pytest.fixture
def department(overlay: Overlay) -> Path:
    """The base with a sheet in Arabic that has a dose, a range and a telephone number."""
    root = overlay({f"{EXAMPLE}/translations/ar.md": ARABIC})
    item = root / EXAMPLE / "aftercare/pain-relief.md"
    item.write_text(re.sub("patient_text: .*", f"patient_text: {PAIN}", item.read_text("utf-8")), "utf-8")
    return root


def composed(root: Path, language: str = "ar") -> tuple[Equipment, Document]:
    """Return the sheet in ``language``, and what writes it."""
    library, _ = read(root)
    equipment = Equipment(root, load_templates(root))
    return equipment, OUTPUTS[NAME].composed(
        f"{NAME}/{language}", library, library.by_id["example"], equipment.renderer
    )


def problems(root: Path, file: Path) -> tuple[str, ...]:
    """Write the Arabic sheet to ``file`` and return what is found when it is read back."""
    equipment, document = composed(root)
    equipment.write_pdf(document, file)
    return OUTPUTS[NAME].proof.read_back(document, file).problems


def test_arabic_is_proved_and_says_its_language_direction_and_type(department: Path, tmp_path: Path) -> None:
    assert problems(department, tmp_path / "ar.pdf") == ()
    with pikepdf.open(tmp_path / "ar.pdf") as pdf:
        assert (str(pdf.Root.Lang), str(pdf.Root.ViewerPreferences.Direction)) == ("ar", "/R2L")
        fonts = {str(font.BaseFont)[8:] for page in pdf.pages for font in page.Resources.Font.values()}
    assert fonts == {"Prescrub-Sans", "Prescrub-Sans-Bold", "Prescrub-Arabic", "Prescrub-Arabic-Bold"}


def test_a_range_that_is_not_set_apart_is_turned_round_on_paper_and_refused(
    department: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(filling, "runs", lambda text: iter([(text, False)]))
    found = problems(department, tmp_path / "ar.pdf")
    assert any("خذ 5-10" in problem and "not set apart" in problem for problem in found)
    assert shown(tmp_path / "ar.pdf", "10-5")  # as another reader of PDF has it


def shown(path: Path, words: str) -> bool:
    """Tell whether PDFium, which puts text in order by rules of its own, finds ``words`` in the file."""
    with closing(pypdfium2.PdfDocument(path)) as pdf:
        return any(words in page.get_textpage().get_text_range() for page in pdf)


def test_a_range_set_apart_stands_on_paper_as_it_was_written(department: Path, tmp_path: Path) -> None:
    problems(department, tmp_path / "ar.pdf")
    assert shown(tmp_path / "ar.pdf", "5-10")
    assert not shown(tmp_path / "ar.pdf", "10-5")


def test_a_sheet_whose_file_does_not_say_its_direction_is_refused(
    department: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tags, "_is_right_to_left", lambda document: False)
    assert "it does not say that it is read from right to left" in problems(department, tmp_path / "ar.pdf")


def test_arabic_with_marks_and_brackets_is_read_back_as_it_was_written(department: Path, tmp_path: Path) -> None:
    file = department / EXAMPLE / "translations/ar.md"
    marked = "حَافِظْ عَلَى جُرْحِكَ (جَافًّا) لِمُدَّةِ «يومين»، لأنّ الآن [نعم] شيئًا."
    file.write_text(file.read_text("utf-8").replace(TRANSLATED["wound-care"][1], marked), "utf-8")
    assert marked in composed(department)[1].text
    assert problems(department, tmp_path / "ar.pdf") == ()


@pytest.mark.parametrize(
    ("text", "forwards"),
    [
        ("خذ 5-10 mg مرتين", ["5-10 mg"]),
        ("اتصل: 01632 960006.", ["01632 960006"]),
        ("من 10 إلى 14 يومًا، 1.5 g", ["10", "14", "1.5 g"]),
        ("≥ 38 °C أو +44 1632 960006", ["≥ 38 °C", "+44 1632 960006"]),
        ("بلا أرقام.", []),
    ],
)
def test_what_is_read_forwards(text: str, forwards: list[str]) -> None:
    assert [part for part, is_forwards in runs(text) if is_forwards] == forwards
    assert "".join(part for part, _ in runs(text)) == text


LETTERS = "ابتثجحخدذرزسشصضطظعغفقكلمنهويىةءأإؤئآپچگیک"
MARKS = ("", "", "", "ُ", "َ", "ِ", "ّ", "ْ", "ً", "ٌ", "ٍ", "َّ", "ُّ", "ِّ")
AMONG = ("5-10 mg", "(", ")", "01632 960006", "10–20 mL", "1.5 g", "38 °C", "MRI", "7:30", "،", "«", "»", "20 %", ".")


def made_sentences(count: int) -> Iterator[str]:
    """Yield sentences of made words with marks on their letters, and what is read forwards among them."""
    chance = Random(4)

    def word() -> str:
        made = "".join(chance.choice(LETTERS) + chance.choice(MARKS) for _ in range(chance.randint(1, 8)))
        return chance.choice(("", "", "ال", "لا")) + made

    for _ in range(count):
        yield " ".join(chance.choice(AMONG) if chance.random() < 0.25 else word() for _ in range(chance.randint(3, 20)))


def test_made_sentences_of_every_letter_mark_and_number_are_read_back_without_a_false_alarm(tmp_path: Path) -> None:
    sheet = Path(__file__).parents[2] / "site_templates/sheets/right_to_left.css"
    base = (sheet.parents[1] / "paper/base.css").read_text("utf-8")
    faces = "".join(re.findall("^(?:@font-face|html|bdi) .*$", sheet.read_text("utf-8"), re.MULTILINE))
    with speaking("ar"):
        body = "".join(f"<p>{filling._apart(said)}</p>" for said in made_sentences(120))
    text = (
        '<!DOCTYPE html><html lang="ar" dir="rtl"><head><meta charset="utf-8"><title>x</title>'
        f"<style>{base}{faces}@page {{ size: A4; margin: 16mm }}</style></head><body><h1>نص</h1>{body}</body></html>"
    )
    document = Document(kind="patient-sheet", title="x", name="made/x.pdf", text=text)
    Equipment(sheet.parents[2], load_templates(sheet.parents[2])).write_pdf(document, tmp_path / "x.pdf")
    assert OUTPUTS[NAME].proof.read_back(document, tmp_path / "x.pdf").problems == ()


# What becomes of a sheet


def test_a_sheet_that_nobody_checked_is_a_draft_in_both_languages_and_of_no_edition(department: Path) -> None:
    _, document = composed(department)
    marks = [must.text for must in document.musts if must.kind == "running"]
    assert marks == ["مسودة: غير معتمدة. لم يراجعها مترجم", "Draft: not approved. Not checked by a translator"]
    assert (document.edition, document.code, document.keywords) == ("", "", "")


def checked(root: Path) -> Path:
    """Write a check that holds into the translation in ``root``; return its file."""
    content = read(root)[0].by_id["example"].translations["ar"].content
    file = root / EXAMPLE / "translations/ar.md"
    line = f"checked: {{by: Cara Example, role: translator, on: 2026-01-31, content: {content}}}"
    file.write_text(file.read_text("utf-8").replace("---\n", f"---\n{line}\n", 1), "utf-8")
    return file


def test_a_checked_translation_is_of_the_edition_and_a_change_of_it_changes_what_is_approved(department: Path) -> None:
    before = edition_of(read(department)[0], read(department)[0].by_id["example"])
    file = checked(department)
    library, found = read(department)
    after = edition_of(library, library.by_id["example"])
    assert not [one for one in found if one.name.startswith("translation")]
    assert (before.content != after.content, before.code != after.code) == (True, True)
    assert "Not checked" not in composed(department)[1].text
    file.write_text(file.read_text("utf-8").replace("جافًا", "نظيفًا"), "utf-8")
    library, found = read(department)
    assert [one.name for one in found if one.name.startswith("translation")] == ["translation-check-lapsed"]
    assert edition_of(library, library.by_id["example"]).content == before.content
    assert "Not checked by a translator" in composed(department)[1].text


def test_a_changed_original_withholds_the_sheet_and_says_so(department: Path) -> None:
    item = department / EXAMPLE / "aftercare/pain-relief.md"
    item.write_text(item.read_text("utf-8").replace("Take 5-10 mg", "Take 5 mg"), "utf-8")
    library, found = read(department)
    procedure = library.by_id["example"]
    assert list(OUTPUTS[NAME].documents_of(procedure)) == []
    equipment = Equipment(department, load_templates(department))
    english = OUTPUTS["patient-sheet"].composed("patient-sheet", library, procedure, equipment.renderer)
    assert [(one.kind, one.id) for one in english.left_out] == [("translation", "ar")]
    stale = next(one for one in found if one.name == "translation-out-of-date")
    assert "Take 5-10 mg every 6 h" in stale.message
    assert "Take 5 mg every 6 h" in stale.message


def test_the_file_for_a_translator_is_renewed_and_loses_nothing(department: Path) -> None:
    item = department / EXAMPLE / "aftercare/pain-relief.md"
    item.write_text(item.read_text("utf-8").replace("Take 5-10 mg", "Take 5 mg"), "utf-8")
    write_translation(department, read(department)[0], "example", "ar")
    text = (department / EXAMPLE / "translations/ar.md").read_text("utf-8")
    assert "> Take 5 mg every 6 h for three days.\n\n> Call" in text
    assert text.index("# Earlier") < text.index("> Take 5-10 mg") < text.index("خذ 5-10 mg")
    assert all(told in text for _, told in TRANSLATED.values())
    names = [one.name for one in read(department)[1] if one.name.startswith("translation")]
    assert names == ["translation-incomplete", "translation-of-nothing"]


# Numbers and ease


@pytest.mark.parametrize(
    ("original", "translated", "language", "differs"),
    [
        ("Ten times, for two days.", "Zehnmal, zwei Tage lang.", "de", ([], [])),
        ("After 10 to 14 days.", "Nach 10 bis 15 Tagen.", "de", (["14"], ["15"])),
        ("Take 1 g.", "Nehmen Sie 1 mg.", "de", (["1 g"], ["1 mg"])),
        ("Take 1.5 g.", "Prenez 1,5 g.", "fr", ([], [])),
        ("Wait six weeks.", "Attendez dix semaines.", "fr", (["6"], ["10"])),
        ("Wait fourteen days, twice.", "انتظر أربعة عشر يومًا مرتين.", "ar", ([], [])),
        ("Wait three days.", "انتظر ٣ أيام.", "ar", (["3"], ["٣"])),
        ("Wait a week.", "Odczekaj 1 tydzień.", "pl", ([], [])),
        ("Wait three days.", "Odczekaj dni.", "pl", ([], [])),  # words are not known in Polish: FORMAT.md says so
        ("Wait 3 days.", "Odczekaj dni.", "pl", (["3"], [])),
    ],
)
def test_numbers_are_those_of_the_original(
    original: str, translated: str, language: str, differs: tuple[list[str], list[str]]
) -> None:
    assert differing(original, "en", translated, language) == differs


def test_ease_is_that_of_the_formula_worked_by_hand() -> None:
    # Neh-men Sie die Tab-let-te: 7 syllables in 4 words. En-le-vez le pe-tit pan-se-ment: 9 in 4, mute e not counted.
    german, french = ease_in("de", ["Nehmen Sie die Tablette."]), ease_in("fr", ["Enlevez le petit pansement."])
    assert german is not None
    assert french is not None
    assert german.value == pytest.approx(180 - 4 - 58.5 * 7 / 4)
    assert french.value == pytest.approx(207 - 1.015 * 4 - 73.6 * 9 / 4)
    assert ease_in("ar", ["نص"]) is None


# The program's words in Arabic


def asked_for(root: Path) -> Iterator[str]:
    """Yield what is looked up in the catalogue while every sheet in Arabic of ``root`` is composed."""
    library, _ = read(root)
    equipment = Equipment(root, load_templates(root))
    words = program_words._words_of("ar")
    known = set(words._catalog)  # type: ignore[attr-defined]  # of Python's gettext
    seen: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(words), "gettext", lambda self, text: seen.append(text) or self._catalog.get(text, text))
        for procedure in library.procedures:
            for name in OUTPUTS[NAME].documents_of(procedure):
                OUTPUTS[NAME].composed(name, library, procedure, equipment.renderer)
    with speaking("ar"):
        assert program_words.gettext("Call us") != "Call us"
    return (text for text in seen if text not in known)


def test_every_word_of_the_program_on_the_demo_in_arabic_is_arabic() -> None:
    assert [*asked_for(Path(__file__).parents[2])] == []

"""What names a patient is found, and what only looks like it is not."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pikepdf
import pytest
from department import lay, of_families, read
from PIL import Image

from builder.facts.identities import BIRTH, HOSPITAL, NAME, NHS, identities, telling_name
from builder.readback.identity import problems_of

# NHS Data Dictionary: the tenth digit is 11 less the weighted sum modulo 11; 11 is written as 0, and 10 is never used.
# Values computed with python-stdnum 2.2, and by the rule as written down again below.
VALID = [
    "943 476 5919", "4010232137", "9990000018", "9990000026", "9990000034", "9990000042", "9990000050", "9990000069",
    "9990000077", "1234567881",
]  # fmt: skip
WRONG = ["9434765918", "9991234561", "9990000000", "7234567891", "1234567890"]
ALL_ALIKE = ["0000000000", "9999999999"]
"""They pass the check digit in every library and belong to nobody."""


def kinds(text: str) -> set[str]:
    return {one.kind for one in identities(text)}


def check_digit(first_nine: str) -> int:
    """The rule of the NHS Data Dictionary, written down again."""
    return (11 - sum(int(digit) * weight for digit, weight in zip(first_nine, range(10, 1, -1), strict=True)) % 11) % 11


@pytest.mark.parametrize("number", VALID)
def test_valid_nhs_numbers_are_found(number: str) -> None:
    plain = number.replace(" ", "")
    assert check_digit(plain[:9]) == int(plain[9])
    assert kinds(f"This was {number} last year.") == {NHS}


@pytest.mark.parametrize("number", WRONG)
def test_numbers_with_a_wrong_check_digit_are_found_only_where_they_are_called_so(number: str) -> None:
    assert check_digit(number[:9]) != int(number[9])
    assert kinds(f"This was {number} last year.") == set()
    assert kinds(f"NHS number {number} was called.") == {NHS}


@pytest.mark.parametrize("number", ALL_ALIKE)
def test_ten_equal_digits_are_nobody(number: str) -> None:
    assert kinds(f"This was {number} last year.") == set()


@pytest.mark.parametrize("first_nine", ["999000000", "999000014", "999000028", "999000031"])
def test_some_numbers_have_no_tenth_digit(first_nine: str) -> None:
    assert check_digit(first_nine) == 10
    assert all(kinds(f"It was {first_nine}{digit}.") == set() for digit in range(10))


def test_the_range_for_tests_is_marked() -> None:
    assert [one.is_test for one in identities("9990000018 and 943 476 5919")] == [True, False]


@pytest.mark.parametrize(
    "text",
    [
        "DOB 14/03/1961", "d.o.b. 14.3.61", "date of birth: 14 March 1961", "born on 1961-03-14", "Born 3 Feb 1970",
    ],
)  # fmt: skip
def test_dates_of_birth_are_found(text: str) -> None:
    assert kinds(f"The patient ({text}) went home.") == {BIRTH}


@pytest.mark.parametrize(
    "text",
    ["hospital number 4471902", "Hosp no: K447190", "MRN 00447190", "patient ID 5512345", "seen as K4471902 in clinic"],
)
def test_hospital_numbers_are_found(text: str) -> None:
    assert kinds(text) == {HOSPITAL}


@pytest.mark.parametrize(
    "text", ["Mr Quimby bled", "Mrs J. Hartwell-Jones", "Miss Ada Byron", "patient name: Ada Byron"]
)
def test_names_are_found(text: str) -> None:
    assert kinds(text) == {NAME}


@pytest.mark.parametrize(
    "text",
    [
        "doi 10.1016/j.jml.2019.104047", "10.1002/9781119099369", "PMID 12140307", "ISBN 0306406152",
        "ISBN 9780306406157",
        "ORCID 0000-0002-1825-0097", "ISSN 0378-5955", "extension 4010232137", "Ring 4010 232 137 at night",
        "tel 0121 496 0000", "+44 4010232137", "NCT04010232137", "review by 2028-05-31",
        "on 14/03/2009 the list was read",
        "the baby is born at 39 weeks", "born in 1961", "lot K4471902", "ref. K4471902", "catalogue number 4471902",
        "the number of patients was 4471902", "Dr Example teaches", "Professor Byron wrote it", "Mr or Mrs", "MR scan",
        "MRSA screen", "the Mrs rule", "T1234567890123", "1:200000", "20000 units", "step 4010232138",
    ],
)  # fmt: skip
def test_look_alikes_are_left_alone(text: str) -> None:
    assert kinds(text) == set()


@pytest.mark.parametrize("stem", ["mr-quimby", "IMG_20240131", "scan-4471902", "patient-3", "dob-140361", "140361"])
def test_telling_names_of_files_are_found(stem: str) -> None:
    assert telling_name(stem)


@pytest.mark.parametrize(
    "stem", ["open-canal", "mesh-2-0-suture", "figure-12", "chest-x-ray", "patterns", "empty-tray"]
)
def test_names_that_say_what_is_shown_are_left_alone(stem: str) -> None:
    assert telling_name(stem) == ""


def swept(name: str, content: bytes) -> list[str]:
    return list(problems_of(name, content))


def test_sweep_reads_pages() -> None:
    assert swept("index.html", b"<p>See 943&#32;476 5919</p>")
    assert swept("index.html", b"<p>All is well on 0123 456 7890</p>") == []


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("index.html", '<img src="x.png" alt="The scar of Mrs Hartwell">'),
        ("index.html", "<a title='Mrs Hartwell' href='#x'>x</a>"),
        ("index.html", '<a href="mailto:x?subject=Mrs%20Hartwell">x</a>'),
        ("index.html", '<button aria-label="Mrs Hartwell"></button>'),
        ("index.html", '<meta name="description" content="Mrs Hartwell">'),
        ("index.html", '<td data-label="Mrs Hartwell">x</td>'),
        ("index.html", '<script type="application/ld+json">{"name": "Mrs Hartwell"}</script>'),
        ("index.html", "<style>/* Mrs Hartwell */</style>"),
        ("index.html", "<!-- Mrs Hartwell -->"),
        ("search/places.js", 'places = ["Mrs Hartwell"]'),
        ("look/site.css", ".a::after { content: 'Mrs Hartwell' }"),
        ("figures/a.svg", '<svg><g aria-label="Mrs Hartwell"/></svg>'),
        ("figures/a.svg", "<svg><text>Mrs <tspan>Hartwell</tspan></text></svg>"),
    ],
)
def test_sweep_reads_what_attributes_scripts_styles_and_remarks_hold(name: str, content: str) -> None:
    assert any("names a patient" in line for line in swept(name, content.encode()))
    assert swept(name, content.replace("Mrs", "the").replace("Hartwell", "wound").encode()) == []


def test_attributes_side_by_side_are_no_name() -> None:
    page = (
        '<a href="#step-deliver-baby">Deliver</a><td data-label="Risk">5</td><td data-label="Newest source">2020</td>'
    )
    assert swept("review.html", page.encode()) == []


def test_sweep_reads_what_is_said_of_the_parts_of_a_pdf() -> None:
    for key, value in (("/Alt", "The scar of Mrs Hartwell"), ("/Title", "Mrs Hartwell"), ("/Contents", "Mrs Hartwell")):
        pdf = pikepdf.new()
        pdf.add_blank_page()
        pdf.Root["/Part"] = pdf.make_indirect(pikepdf.Dictionary({key: pikepdf.String(value)}))
        target = io.BytesIO()
        pdf.save(target)
        assert any("names a patient in what is said" in line for line in swept("handout.pdf", target.getvalue())), key


def test_sweep_does_not_read_on_from_one_attribute_to_the_next() -> None:
    assert (
        swept("review.html", b"<a href='x#deliver-baby'>x</a><td data-label='Risk'>5</td><td data-label='Newest'>")
        == []
    )
    assert swept("page.html", b"<img alt='943 476'><img alt='5919'>") == []


def test_sweep_takes_no_packed_type_for_a_number() -> None:
    packed = f"<style>@font-face {{ src: url(data:font/woff2;base64,{VALID[1]}) }}</style>"
    assert swept("index.html", packed.encode()) == []


def test_sweep_takes_no_hash_of_the_report_for_a_number() -> None:
    """Of the hashes of a thousand procedures one in some begins with ten digits that have the check digit."""
    digest = f"{VALID[1]}{'ab' * 27}"
    assert len(digest) == 64
    report = f'{{"files": {{"look/site.css": "{digest}"}}, "sha256": "{digest}"}}'
    assert kinds(report) == {NHS}
    assert swept("build-report.json", report.encode()) == []
    assert swept("build-report.json", f'{{"title": "{VALID[1]}"}}'.encode())
    assert swept("example/build-report.json", report.encode())


def test_sweep_leaves_what_the_sources_hold_to_the_checks() -> None:
    assert list(problems_of("index.html", b"<p>9990000018</p>", frozenset({"9990000018"}))) == []


def test_sweep_reads_properties_and_attachments_of_a_pdf() -> None:
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.docinfo["/Author"] = "Mr Harold Quimby"
    pdf.attachments["notes.txt"] = b"notes"
    target = io.BytesIO()
    pdf.save(target)
    found = " ".join(swept("handout.pdf", target.getvalue()))
    assert "names a patient in the properties" in found
    assert "a file is attached" in found


def test_sweep_opens_slides() -> None:
    picture = io.BytesIO()
    exif = Image.Exif()
    exif[0x013B] = "Harold Quimby"
    Image.new("RGB", (9, 9)).save(picture, "JPEG", exif=exif)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("ppt/slides/slide1.xml", "<a:t>Mrs Hartwell</a:t>")
        archive.writestr("ppt/media/image1.jpg", picture.getvalue())
        archive.writestr("ppt/media/mr-quimby.png", b"\x89PNG\r\n\x1a\n")
    found = swept("slides.pptx", target.getvalue())
    assert any("slide1.xml" in one and "names a patient" in one for one in found)
    assert any("image1.jpg" in one and "EXIF" in one for one in found)
    assert any("mr-quimby.png" in one and "its name" in one for one in found)


def test_report_does_not_spread_what_it_warns_of() -> None:
    assert "476" not in " ".join(swept("index.html", b"943 476 5919"))


STEP = "content/procedures/example/steps/tell-recovery.md"


@pytest.mark.parametrize("number", ["9990000018", "9434765919"])
def test_a_number_is_accepted_only_with_a_reason(number: str, base: Path) -> None:
    text = (base / STEP).read_text(encoding="utf-8").rstrip("\n") + f"\n\nThe list shows {number}.\n"
    lay(base, {STEP: text})
    assert [finding.name for finding in of_families(read(base)[1], "identity", "acceptances")] == ["nhs-number"]
    lay(base, {STEP: text.replace("---\n", "---\naccept: [{check: nhs-number, reason: invented}]\n", 1)})
    assert of_families(read(base)[1], "identity", "acceptances") == []

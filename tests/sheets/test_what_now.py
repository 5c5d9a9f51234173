"""The "what now?" sheet: every caution and every way back is on it, under its sign, the gravest first."""

from __future__ import annotations

import re
from contextlib import closing
from pathlib import Path

import pypdfium2
import pytest
from department import BASE, Overlay, read
from papers import document, library, proved, renderer, spoilt, typesetter

from builder.compose.sheets import what_now
from builder.compose.sheets.what_now import KINDS, MOST_PAGES, kind_of

CAUTION = """---
signal: {signal}
hazard: {hazard}
consequence: It is worse than before.
avoid: Look first.
{more}
guards: [open-canal]
common_practice: true
---
"""
FOLDER = "content/procedures/example"


def caution(name: str, signal: str, hazard: str, **more: str) -> dict[str, str]:
    lines = "\n".join(f"{key}: {value}" for key, value in more.items())
    text = CAUTION.format(signal=signal, hazard=hazard, more=lines).replace("\n\n", "\n")
    return {f"{FOLDER}/cautions/{name}.md": text}


def sheet(root: Path) -> what_now.Document:
    library = read(root)[0]
    return what_now.compose(library, library.procedures[0], renderer(root))


def order(text: str, *words: str) -> list[int]:
    found = [text.index(word) for word in words]
    assert found == sorted(found), words
    return found


def test_every_caution_and_every_way_back_of_the_source_is_on_it() -> None:
    procedure = read(BASE)[0].procedures[0]
    shown = document("what-now").text
    for one in procedure.cautions.values():
        assert one.hazard in shown
        assert one.if_it_happens is None or one.if_it_happens in shown
    for step in procedure.steps.values():
        for line in (step.if_not, step.error, step.recovery):
            assert line is None or line in shown


def test_the_gravest_stands_first_within_its_kind_of_sign(overlay: Overlay) -> None:
    files = {
        **caution("a-ooze", "caution", "A vein oozes", sign="The wound bleeds a little.", if_it_happens="Press."),
        **caution(
            "b-artery", "danger", "An artery is cut", sign="Bright blood spurts.", if_it_happens="Clamp and call."
        ),
        **caution(
            "c-vein", "warning", "A large vein is torn", sign="Dark blood wells up.", if_it_happens="Press, call."
        ),
    }
    text = sheet(overlay(files)).text
    order(text, "An artery is cut", "A large vein is torn", "A vein oozes")
    assert text.count('id="signs-blood"') == 1


def test_kinds_of_sign_stand_in_one_order_whatever_their_gravity(overlay: Overlay) -> None:
    files = {
        **caution("a-odd", "danger", "The plane is wrong", sign="The layers do not part.", if_it_happens="Stop."),
        **caution("b-fire", "caution", "A drape smoulders", sign="A smell of burning.", if_it_happens="Wet swab."),
    }
    order(sheet(overlay(files)).text, 'id="signs-fire"', 'id="signs-patient"', 'id="signs-other"')


def test_two_causes_of_one_sign_stand_under_it_once(overlay: Overlay, tmp_path: Path) -> None:
    files = {
        **caution("a-one", "caution", "A branch is torn", sign="Bright blood spurts.", if_it_happens="Press."),
        **caution("b-two", "danger", "The trunk is torn", sign="Bright blood spurts.", if_it_happens="Clamp and call."),
    }
    root = overlay(files)
    made = sheet(root)
    assert made.text.count("<h3>Bright blood spurts.</h3>") == 1
    order(made.text, "Bright blood spurts.", "The trunk is torn", "A branch is torn")
    assert proved(made, typesetter(root).pdf(made), tmp_path).problems == ()


def test_a_role_has_its_local_number_and_one_without_says_so(overlay: Overlay) -> None:
    files = {
        **caution("a-known", "danger", "A", sign="Fire.", if_it_happens="Go.", call="Consultant on call"),
        **caution("b-unknown", "danger", "B", sign="Smoke.", if_it_happens="Go.", call="fire officer"),
    }
    text = re.sub(r"\s+", " ", sheet(overlay(files)).text)
    assert 'Call consultant on call <b class="local">4000</b>' in text
    assert 'Call fire officer <b class="local">no local number written</b>' in text


def test_a_caution_that_says_nothing_about_what_to_do_says_so_and_a_sign_that_is_missing_is_its_hazard(
    overlay: Overlay,
) -> None:
    text = sheet(overlay(caution("a-bare", "notice", "The drape slips"))).text
    assert "<h3>The drape slips</h3>" in text
    assert "Nothing is written. Stop, and ask for help." in text


def test_steps_that_say_nothing_are_reported_as_left_out() -> None:
    steps = read(BASE)[0].procedures[0].steps
    silent = {f"step-{id}" for id, one in steps.items() if not (one.if_not or one.error or one.recovery)}
    assert {one.id for one in document("what-now").left_out} == silent
    assert silent


@pytest.mark.parametrize(
    ("sign", "kind"),
    [
        ("Heat, a smell of burning, or a flame that can hardly be seen.", "fire"),
        ("Dark blood wells up beside the deep ring.", "blood"),
        ("Bleeding in the cord, or a cut white tube.", "blood"),
        ("A soft uterus, a rising pulse, a wet bed, or blood that comes in a stream.", "blood"),
        ("Tingling lips, ringing ears, odd talk, twitching, a fit, a slow or irregular pulse.", "patient"),
        ("Sudden breathlessness, fast pulse, falling pressure, swelling under the skin.", "patient"),
        ("A thick sac that will not empty, bowel in its wall, green or brown fluid.", "fluid"),
        ("White, cold fingertip without refill after pressure.", "colour"),
        ("The count does not match, or nobody answered.", "match"),
        ("The needle grates or bends.", "other"),
        ("", "other"),
        ("Das Blutbild", "other"),
    ],
)
def test_a_sign_goes_to_the_kind_that_most_of_its_words_name(sign: str, kind: str) -> None:
    assert kind_of(sign).id == kind


def test_no_word_names_two_kinds_of_sign() -> None:
    words = [word for kind in KINDS for word in kind.words.split()]
    assert len(words) == len(set(words))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("<h3>A white cord is seen in the cut edge.</h3>", "<h3></h3>", "nowhere"),
        ('<p class="act">Stop injecting and call for help.', '<p class="act">', "is not there"),
        ("</span> Too much local anaesthetic reaches the blood.", "</span>", "is not there"),
        ("Stop, lengthen the skin cut and ask for the supervising surgeon.", "", "is not there"),
        ("Tell the supervising surgeon and write it down.", "Carry on.", "is not there"),
        ('<b class="local">4000</b>', '<b class="local">4001</b>', "is not there"),
        ('data-mark="', 'data-marked="', "does not bear the mark"),
        ("</style>", ".sign { height: 6mm; overflow: hidden }</style>", "cut off"),
        ("</style>", ".act { color: #aaa }</style>", "contrast"),
        ("</style>", ".why .when { font-size: 6pt }</style>", "6.0 pt"),
    ],
)
def test_a_sheet_that_lost_something_is_refused(old: str, new: str, said: str, tmp_path: Path) -> None:
    made = spoilt(document("what-now"), old, new, count=-1)
    problems = proved(made, typesetter().pdf(made), tmp_path).problems
    assert any(said in problem for problem in problems), problems


def test_one_sign_has_one_answer_the_gravest_first(overlay: Overlay) -> None:
    call = "consultant on call"
    files = {
        **caution("a-one", "caution", "A branch is torn", sign="Bright blood spurts.", if_it_happens="Press."),
        **caution(
            "b-two", "danger", "The trunk is torn", sign="Bright blood spurts.", if_it_happens="Clamp.", call=call
        ),
        **caution("c-three", "warning", "A root is torn", sign="Bright blood spurts.", if_it_happens="Press."),
    }
    text = re.sub(r"\s+", " ", sheet(overlay(files)).text)
    [answer] = re.findall(r'id="sign-b-two">.*?<p class="act">(.*?)</p>', text)
    assert answer.startswith("Clamp. Press. <span")
    assert answer.count("Call ") == 1


def test_the_sheets_of_the_demo_go_by_sign_on_page_1_and_by_step_on_page_2(tmp_path: Path) -> None:
    demo = BASE.parents[1]
    for procedure in library(demo).procedures:
        made = what_now.compose(library(demo), procedure, renderer(demo))
        data = typesetter(demo).pdf(made)
        found = proved(made, data, tmp_path)
        assert found.problems == ()
        assert found.pages == MOST_PAGES
        with closing(pypdfium2.PdfDocument(data)) as opened:
            first, second = (page.get_textpage().get_text_range() for page in opened)
        assert "The step does not go as it should" in second
        assert "Go on when" not in first
        signs = [must.text for must in made.musts if must.kind == "sign"]
        assert signs
        assert len(set(signs)) == len(signs)
        for must in made.musts:
            if must.kind == "answer":
                assert "".join(must.text.split()) in "".join(first.split())


def test_a_sheet_that_no_size_fits_takes_more_pages_and_parts_no_caution(overlay: Overlay, tmp_path: Path) -> None:
    files: dict[str, str] = {}
    for number in range(30):
        hazard = f"Hazard number {number} with words enough for a line or two"
        files |= caution(
            f"c-{number}", "warning", hazard, sign=f"Blood of kind {number}.", if_it_happens="Press and wait. " * 12
        )
    root = overlay(files)
    made = sheet(root)
    found = proved(made, typesetter(root).pdf(made), tmp_path)
    assert found.problems == ()
    assert found.pages > MOST_PAGES
    assert "main { font-size: 8.5pt }" in made.text

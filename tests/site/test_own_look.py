"""A department's own templates and style sheets: what they say is what the text says, and an unproved look is told."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pypdfium2
import pytest
from department import lay, read
from publishing import publish_site
from site_pages import page, texts

from builder.compose.site.own_look import LOOK_CHANGED, PAPER_LOOK, OwnLook
from builder.findings.finding import Refused
from builder.load.templates import load_templates, own_folder

PARTS = "site/parts.html.j2"
STYLE = "site/look/site.css"

# What a template does to a text, and the words of the finding. Each turns or loses something that can harm.
WORDS = [
    (PARTS, "{{ each.consequence }}", "", "is missing"),
    (PARTS, '<p class="avoid"><b>{{ _("Avoid it.") }}</b> {{ each.avoid }}</p>', "", "is missing"),
    (PARTS, "{{ each.hazard }}</p>\n<p>", "{{ each.hazard }}</p><p>{{ each.consequence }}</p>\n<p>", "appears where"),
    (PARTS, '<p class="hazard">{{ each.hazard }}</p>', '<p class="hazard"><s>{{ each.hazard }}</s></p>', "'<s>"),
    (PARTS, "{{ value }}</td>", "{{ value | replace('1', '10') }}</td>", "appears where"),
    (PARTS, '"{{ each.call.number | dialled }}"', '"tel:999"', "<a tel:999>"),
    (PARTS, '<ol class="actions">', '<ol class="actions" reversed>', "reversed"),
    (PARTS, 'y="{{ one.y }}%"', 'y="{{ one.x }}%"', "appears where"),
    (PARTS, '<img src="figures/{{', '<img src="figures/other-{{', "appears where"),
    ("evidence/evidence.html.j2", """data-label="{{ _('Level') }}\"""", 'data-label="Age in years"', "data-label=Age"),
    (PARTS, "<li>{{ one.name }}</li>", '<li dir="rtl">{{ one.name }}</li>', "dir=rtl"),
    ("site/page.html.j2", "{{ one.number }} ×", "{{ one.number + 1 }} ×", "appears where"),
    ("site/page.html.j2", '<p class="standing">{{ mark }}</p>', "", "is missing"),
]  # fmt: skip


def own(root: Path, name: str, old: str, new: str) -> Path:
    """Let the department have ``name`` with ``new`` in place of ``old``."""
    text = (own_folder() / name).read_text("utf-8")
    assert old in text
    return lay(root, {f"site_templates/{name}": text.replace(old, new, 1)})


@pytest.mark.parametrize("case", WORDS, ids=range(len(WORDS)))
def test_a_template_that_changes_what_is_said_is_refused(case: tuple[str, str, str, str], base: Path, to: Path) -> None:
    name, old, new, says = case
    with pytest.raises(Refused) as refused:
        publish_site(own(base, name, old, new), to)
    told = refused.value.finding
    assert told.name == "template-changes-words"
    assert str(told.at) == f"site_templates/{name}:1:1"
    assert says in told.message
    assert not to.exists()


@pytest.mark.parametrize("name", [PARTS, "paper/parts.html.j2"])
def test_two_labels_that_change_places_are_refused(name: str, base: Path, to: Path) -> None:
    text = (own_folder() / name).read_text("utf-8")
    on, unless = '_("Go on when")', '_("If not")'
    turned = text.replace(on, "@@").replace(unless, on).replace("@@", unless)
    assert turned != text
    lay(base, {f"site_templates/{name}": turned})
    with pytest.raises(Refused, match="a template may not change what is said"):
        publish_site(base, to, ("site" if name == PARTS else "handout",))


# The same on paper: said twice with another number, tied to another danger, given to another line, in another language.
PAPER_WORDS = [
    ("handout", "paper/parts.html.j2", "{{ one.consequence }}", "{{ one.consequence }} {{ one.consequence }} 9 of 10."),
    ("handout", "paper/parts.html.j2", "{{ one.avoid }}</p>", "{{ one.if_it_happens }}</p>"),
    ("card", "card/card.html.j2", "{{ line.number }}</span>", "{{ line.number }}1</span>"),
]  # fmt: skip


@pytest.mark.parametrize("case", PAPER_WORDS, ids=range(len(PAPER_WORDS)))
def test_a_template_that_changes_what_a_paper_says_is_refused(
    case: tuple[str, str, str, str], base: Path, to: Path
) -> None:
    output, name, old, new = case
    with pytest.raises(Refused, match="a template may not change what is said"):
        publish_site(own(base, name, old, new), to, (output,))


# Words that a template has of its own: with them a draft says that it is not proved.
OWN_WORDS = [
    ("site", PARTS, '<ol class="actions">', '<p>Never do:</p><ol class="actions">'),
    ("site", PARTS, '<b>{{ _("Avoid it.") }}</b>', "<b>How to avoid it.</b>"),
    ("site", "site/page.html.j2", '>{{ _("Kit") }}</h2>', ">What you need</h2>"),
    ("handout", "handout/handout.html.j2", "</body>", "<p>Double in large adults.</p></body>"),
    ("handout", "paper/parts.html.j2", "left: {{ pointer.x }}%", "left: {{ 100 - (pointer.x | float) }}%"),
    ("slides", "slides/slides.html.j2", "<style>", "<style>/* ours */ "),
    ("card", "card/card.html.j2", "<style>", "<style>/* ours */ "),
    ("card-sheet-fold", "card/card-sheet.html.j2", "How to print this card", "Printing this card"),
    ("what-now", "sheets/what_now.html.j2", "The step does not go as it should", "When a step does not go as planned"),
    ("count-sheet", "sheets/count_sheet.html.j2", "Counted in and out", "Counts"),
    ("patient-sheet", "sheets/patient_sheet.html.j2", "</main>", "<p>Bring this sheet.</p></main>"),
    ("rehearsal", "sheets/rehearsal.html.j2", "<style>", "<style>/* ours */ "),
    ("map", "map/map.html.j2", "<style>", "<style>/* ours */ "),
]  # fmt: skip
# What a style sheet of a department does to a paper, and whether its ink proves the look.
PAPER_STYLES = [
    ("html { font-size: 9.6pt; line-height: 1.36 }", False),
    ("h2 { border-top-color: #123f7a; color: #123f7a }", False),
    (".actions li { counter-increment: list-item 2 }", True),
    ("h2 { transform: scaleX(-1) }", True),
    ("h2::after { content: 'x' }", True),
    ("h2 { margin-top: -9mm }", True),
    ("h2 { background: url(templates:paper/x.svg) }", True),
    ("body { text-decoration: line-through }", True),
    (".caution { color: #123 }", True),
    ("@media print { h2 { color: #123 } }", False),
    ("@font-face { font-family: X; src: url(templates:fonts/x.ttf) }", True),
]


@pytest.mark.parametrize("case", OWN_WORDS, ids=range(len(OWN_WORDS)))
def test_a_draft_with_words_or_marks_of_a_template_says_so(
    case: tuple[str, str, str, str], base: Path, to: Path
) -> None:
    output, name, old, new = case
    own(base, name, old, new)
    publish_site(base, to, (output,))
    told = "".join(shown_in(path) for path in to.rglob("*") if path.suffix in (".pdf", ".html"))
    assert (LOOK_CHANGED if output == "site" else PAPER_LOOK) in told


def test_an_approved_paper_is_refused_whatever_a_template_changes(base: Path, to: Path) -> None:
    own(approved(base), "handout/handout.html.j2", "</body>", "<p>Double in large adults.</p></body>")
    with pytest.raises(Refused, match="is approved, and the department's own templates change how its paper looks"):
        publish_site(base, to, ("handout",))
    assert not to.exists()


@pytest.mark.parametrize(("rule", "is_told"), PAPER_STYLES)
def test_a_style_of_a_paper_is_told_where_its_ink_does_not_prove_it(rule: str, is_told: bool, base: Path) -> None:
    name = "handout/handout.css"
    lay(base, {f"site_templates/{name}": (own_folder() / name).read_text("utf-8") + rule})
    library, _ = read(base)
    look = OwnLook(load_templates(base))
    marks = [look.paper_mark(library.procedures[0], f"{paper}.html.j2") for paper in ("handout/handout", "map/map")]
    assert marks == [PAPER_LOOK if is_told else "", ""]


def test_a_font_or_picture_in_the_place_of_ours_is_told_and_a_copy_of_ours_is_not(base: Path) -> None:
    triangle = "paper/triangle-light.svg"
    copied = (own_folder() / triangle).read_bytes()
    path = base / "site_templates" / triangle
    path.parent.mkdir(parents=True)
    library, _ = read(base)
    for content, told in ((copied, ""), (copied.replace(b"#fff", b"#b8141f"), PAPER_LOOK)):
        path.write_bytes(content)
        mark = OwnLook(load_templates(base)).paper_mark(library.procedures[0], "handout/handout.html.j2")
        assert mark == told


def shown_in(path: Path) -> str:
    """Return the words of a page, or of a PDF."""
    if path.suffix == ".html":
        return path.read_text("utf-8")
    with closing(pypdfium2.PdfDocument(path)) as pdf:
        return "".join(sheet.get_textpage().get_text_bounded() for sheet in pdf)


def test_the_table_about_the_edition_may_stand_elsewhere_and_lose_nothing(base: Path, to: Path) -> None:
    text = (own_folder() / "site/page.html.j2").read_text("utf-8")
    at, end = text.index('<table class="facts">'), text.index("</table>") + len("</table>")
    moved = text[:at] + text[end:].replace('<nav class="contents"', text[at:end] + '<nav class="contents"', 1)
    publish_site(lay(base, {"site_templates/site/page.html.j2": moved}), to)
    assert LOOK_CHANGED in (to / "example/index.html").read_text("utf-8")
    with pytest.raises(Refused, match="a template may not change what is said"):
        publish_site(lay(base, {"site_templates/site/page.html.j2": text[:at] + text[end:]}), to)


def test_a_header_of_the_department_changes_nothing(base: Path, to: Path) -> None:
    own(base, "site/header.html.j2", '<header class="top">', '<header class="top"><p>Ours</p>')
    own(base, STYLE, ".top", ".bottom .house { color: #123 }\n.top")
    publish_site(base, to, ("site", "single-file"))
    assert LOOK_CHANGED not in (to / "example/index.html").read_text("utf-8")


STYLES: list[tuple[str, bool]] = [
    (".caution { display: none }", True),
    (".papers h3 { color: #234 }", True),
    ("@media print { .dose { visibility: hidden } }", True),
    ("main p:nth-child(2) { opacity: 0 }", True),
    (".step > .caution { display: none }", True),
    (".step:has(> h3:target) > .caution { visibility: hidden }", True),
    (".step>.caution{display:none}", True),
    ("[class~='caution'] { display: none }", True),
    (".\\63 aution { display: none }", True),
    (".caution + *  { display: none }", True),
    (".step > ::before { content: 'x' }", True),
    (":hover > .caution ~ :focus { color: red }", True),
    (".bottom > .caution { color: red }", False),
    (".gate::after { content: 'or not' }", True),
    (":root { --ink: #fff }", True),
    (".step { & .cue { display: none } }", True),
    ("body { margin: 0 }", True),
    ("@font-face { font-family: X; src: url(x.woff2) }", True),
    ("a:is(.nothing, .phone *) { color: red }", True),
    (".top .house { color: #234 }", False),
    (".bottom { padding: 1em }", False),
    (".of-no-element { display: none }", False),
    (".top { position: sticky; min-height: 80vh }", True),
    (".bottom::after { content: ''; position: fixed; inset: 0 }", True),
    (".bottom { margin-top: -40rem }", True),
    (".bottom { outline: 100vh solid #fff }", True),
    (".bottom .house { font-size: 400px; line-height: 0 }", True),
    (".top img { height: 3rem; width: auto; margin: 0 1rem .5em 0; vertical-align: middle }", False),
    (".top { background: #123 linear-gradient(#123, #456); border-bottom: 2px solid; font-size: 120% }", False),
]


@pytest.mark.parametrize(("rule", "touches"), STYLES)
def test_a_style_rule_is_told_where_it_fits_a_part_of_a_procedure(
    rule: str, touches: bool, example: object, site: Path, base: Path
) -> None:
    html = (site / "example/index.html").read_text("utf-8")
    lay(base, {f"site_templates/{STYLE}": (own_folder() / STYLE).read_text("utf-8") + rule})
    assert OwnLook(load_templates(base)).touches(html, html, STYLE) is touches


def test_a_rule_of_ours_that_is_gone_is_told_as_well(site: Path, base: Path) -> None:
    html = (site / "example/index.html").read_text("utf-8")
    style = (own_folder() / STYLE).read_text("utf-8")
    at = style.index(".pointers")
    lay(base, {f"site_templates/{STYLE}": style[:at] + style[style.index("}", at) + 1 :]})
    assert OwnLook(load_templates(base)).touches(html, html, STYLE)


def test_a_draft_says_in_view_that_its_look_is_not_proved(base: Path, to: Path) -> None:
    style = (own_folder() / STYLE).read_text("utf-8")
    lay(base, {f"site_templates/{STYLE}": style + ".text { color: #234 }"})
    publish_site(base, to, ("site", "single-file"))
    for name in ("example/index.html", "example/example.html", "example/self-test.html", "example/evidence.html"):
        assert LOOK_CHANGED in texts(page(to, name), "//p[@class='standing']"), name


@pytest.mark.parametrize("rule", [".standing { display: none }", "* { opacity: 0 }", ".head { position: fixed }"])
def test_a_style_that_may_hide_the_mark_is_refused_for_a_draft_too(rule: str, base: Path, to: Path) -> None:
    style = (own_folder() / STYLE).read_text("utf-8")
    with pytest.raises(Refused, match="may hide the mark of a draft"):
        publish_site(lay(base, {f"site_templates/{STYLE}": style + rule}), to)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("html { font-size: 106.25%;", "html { font-size: 117%;"),
        ("body { margin: 0;", "body { line-height: 1.7; margin: 0;"),
        ("@page { size: A4; margin: 16mm 15mm; }", "@page { size: A4; margin: 13mm 13mm; }"),
    ],
)
def test_a_style_that_cannot_hide_the_mark_is_not_refused_for_a_draft(old: str, new: str, base: Path, to: Path) -> None:
    publish_site(own(base, STYLE, old, new), to)
    assert LOOK_CHANGED in (to / "example/index.html").read_text("utf-8")


@pytest.mark.parametrize("size", ["0%", "1%", "0", "9%", "1px"])
def test_a_type_too_small_to_be_read_is(size: str, base: Path, to: Path) -> None:
    with pytest.raises(Refused, match="may hide the mark of a draft"):
        publish_site(own(base, STYLE, "html { font-size: 106.25%;", f"html {{ font-size: {size};"), to)


def approved(root: Path) -> Path:
    from builder.model.edition import edition_of

    path = root / "content/procedures/example/procedure.md"
    text = path.read_text("utf-8").replace("status: draft", "status: approved")
    library, _ = read(root)
    content = edition_of(library, library.procedures[0]).content
    told = f"approval: {{by: Ada Example, role: clinical lead, on: 2026-11-01, content: {content}}}\nspecialty:"
    path.write_text(text.replace("specialty:", told, 1), "utf-8")
    return root


@pytest.mark.parametrize(
    ("name", "changed", "output"),
    [
        (STYLE, lambda text: text + ".papers h3 { color: #234 }", "site"),
        ("site/look/site.js", lambda text: text + "document.querySelector('.caution').remove();", "site"),
        ("site/frame.html.j2", lambda text: text.replace("<main ", "<main style='display: none' "), "site"),
        (PARTS, lambda text: text.replace('class="caution ', 'class="nothing '), "single-file"),
        ("card/phone_card.css", lambda text: text + "li { text-decoration: line-through }", "phone-card"),
    ],
)
def test_an_approved_edition_is_refused_whatever_changes_its_look(
    name: str, changed: Callable[[str], str], output: str, base: Path, to: Path
) -> None:
    text = (own_folder() / name).read_text("utf-8")
    assert changed(text) != text
    lay(approved(base), {f"site_templates/{name}": changed(text)})
    with pytest.raises(Refused, match="is approved, and the department's own templates change how its page looks"):
        publish_site(base, to, (output,))
    assert not to.exists()

"""Ways to spoil a finished paper. Each returns the document as composed and the bytes of the spoilt file.

A template that errs is played by changing the HTML on both sides and keeping what was promised; a typesetter that errs
by changing the HTML for the typesetter only, or the finished file.
"""

from __future__ import annotations

# ruff: noqa: E501  # one case a line reads as a table
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import BytesIO

import pikepdf
from papers import document, pdf, typesetter

from builder.compose.document import Document

Spoilt = tuple[Document, bytes]


@dataclass(frozen=True)
class Case:
    """A case: its ``name``, how it is ``made``, and words that a problem must ``say``."""

    name: str
    made: Callable[[], Spoilt]
    say: str


def by_template(kind: str, old: str, new: str, count: int = 1, pattern: bool = False) -> Callable[[], Spoilt]:
    """The template lost or changed something: composed text and finished file agree, the promise is kept."""

    def make() -> Spoilt:
        spoilt = _changed(document(kind), old, new, count, pattern)
        return spoilt, typesetter().pdf(spoilt)

    return make


def by_typesetter(kind: str, old: str, new: str, count: int = 1, pattern: bool = False) -> Callable[[], Spoilt]:
    """The typesetter lost or changed something that the composed text holds."""

    def make() -> Spoilt:
        return document(kind), typesetter().pdf(_changed(document(kind), old, new, count, pattern))

    return make


def by_style(kind: str, rules: str) -> Callable[[], Spoilt]:
    """A style sheet hides or spoils something; no word of the text is changed."""
    return by_template(kind, "</style>", f"{rules}</style>")


def in_file(kind: str, spoil: Callable[[pikepdf.Pdf], None]) -> Callable[[], Spoilt]:
    """The finished file is changed."""

    def make() -> Spoilt:
        with pikepdf.open(BytesIO(pdf(kind))) as made:
            spoil(made)
            target = BytesIO()
            made.save(target)
        return document(kind), target.getvalue()

    return make


def _changed(made: Document, old: str, new: str, count: int, pattern: bool) -> Document:
    text = re.sub(old, new, made.text, count=count, flags=re.DOTALL) if pattern else made.text.replace(old, new, count)
    assert text != made.text, f"{old!r} is not in the {made.kind}"
    return replace(made, text=text)


def elements(made: pikepdf.Pdf) -> Iterator[pikepdf.Dictionary]:
    """Every structure element, a parent before its children."""
    stack = [made.Root.StructTreeRoot.K[0]]
    while stack:
        element = stack.pop()
        yield element
        kids = element.get("/K", [])
        stack.extend(reversed([kid for kid in kids if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]))


def first(made: pikepdf.Pdf, role: str) -> pikepdf.Dictionary:
    return next(element for element in elements(made) if pikepdf.Name(role) == element.S)


def add_ink(made: pikepdf.Pdf, operators: str, page: int = 1) -> None:
    """Paint over the finished page as an artifact."""
    made.pages[page].contents_add(f"q /Artifact BMC {operators} EMC Q".encode())


def recoloured(made: pikepdf.Pdf, colour: str) -> None:
    """Set every text of the second page in another colour."""
    edit_stream(made, lambda text: re.sub(rb"(?<=\n)BT\n", f"BT\n{colour} rg\n".encode(), text))


def edit_stream(made: pikepdf.Pdf, change: Callable[[bytes], bytes], page: int = 1) -> None:
    contents = made.pages[page].Contents
    old = contents.read_bytes()
    new = change(old)
    assert new != old
    contents.write(new)


def reverse_kids(made: pikepdf.Pdf) -> None:
    section = next(one for one in elements(made) if pikepdf.Name.Sect == one.S and len(one.K) > 3)
    section.K = pikepdf.Array(list(reversed(list(section.K))))


def forget_kid(made: pikepdf.Pdf) -> None:
    """Take a caution out of the reading order; it stays on the paper."""
    for element in elements(made):
        if pikepdf.Name.Sect == element.S and any(
            isinstance(kid, pikepdf.Dictionary) and kid.get("/S") == pikepdf.Name.Sect for kid in element.K
        ):
            del element.K[1]
            return


def drop_attribute(made: pikepdf.Pdf, role: str, name: str) -> None:
    element = first(made, role)
    holder = element if name in element else element.A
    del holder[name]


def set_role(made: pikepdf.Pdf, role: str, new: str) -> None:
    first(made, role).S = pikepdf.Name(new)


def drop_bookmarks(made: pikepdf.Pdf) -> None:
    del made.Root["/Outlines"]


def drop_root(name: str) -> Callable[[pikepdf.Pdf], None]:
    def spoil(made: pikepdf.Pdf) -> None:
        del made.Root[name]

    return spoil


def swap_pages(made: pikepdf.Pdf) -> None:
    one, other = made.pages[1].Contents, made.pages[2].Contents
    made.pages[1].Contents, made.pages[2].Contents = other, one


def lose_page(made: pikepdf.Pdf) -> None:
    del made.pages[1]


def shrink_page(made: pikepdf.Pdf) -> None:
    made.pages[1].MediaBox = pikepdf.Array([0, 0, 595, 500])


def set_in_another_font(made: pikepdf.Pdf) -> None:
    for font in made.pages[0].Resources.Font.values():
        font.BaseFont = font.DescendantFonts[0].BaseFont = pikepdf.Name("/ABCDEF+Other-Sans")


def set_in_a_face_we_lack(made: pikepdf.Pdf) -> None:
    for font in made.pages[0].Resources.Font.values():
        font.BaseFont = font.DescendantFonts[0].BaseFont = pikepdf.Name("/ABCDEF+Prescrub-Sans-Bold-Italic")


def drop_unicode(made: pikepdf.Pdf) -> None:
    for font in made.pages[0].Resources.Font.values():
        del font["/ToUnicode"]


CAUTION = '<section class="caution warning" id="caution-nerve-injury">'
STEP = '<section class="step critical" id="step-open-canal">'
BOX = "#caution-nerve-injury"
CASES = (
    # what a template can lose
    Case("caution dropped", by_template("handout", r'<section class="caution danger" id="caution-toxic-dose">.*?</section>', "", pattern=True), "nowhere"),
    Case("line of a caution dropped", by_template("handout", r"<p><b>Avoid it:</b>.*?</p>", "", pattern=True), "is not there"),
    Case("step dropped", by_template("handout", rf"{STEP}.*?</section>", "", pattern=True), "nowhere"),
    Case("caution behind its step", by_template("handout", rf"({CAUTION}.*?</section>)\s*({STEP}.*?</section>)", r"\2\1", pattern=True), "stands before"),
    Case("caution twice", by_template("handout", rf"({CAUTION}.*?</section>)", r"\1\1".replace(r"\1\1", r"\1<section><h3><span>Warning</span> The ilioinguinal nerve is cut or caught in a stitch.</h3></section>"), pattern=True), "twice"),
    Case("word critical dropped", by_template("handout", '<span class="critical-word">Critical</span>', ""), "nowhere"),
    Case("cue dropped", by_template("handout", r'<p class="cue">.*?</p>', "", pattern=True), "is not there"),
    Case("dose changed", by_template("handout", "<td>10\u00a0mL</td>", "<td>100\u00a0mL</td>"), "is not there"),
    Case("count dropped", by_template("handout", r"<li>Count [^<]*</li>", "", count=0, pattern=True), "count"),
    Case("reference number shifted", by_template("handout", r'(<li id="ref-1"><span class="number">)1', r"\g<1>2", pattern=True), "reference"),
    Case("references in another order", by_template("handout", r'(<li id="ref-1">.*?</li>)\s*(<li id="ref-2">.*?</li>)', r"\2\1", pattern=True), "stands before"),
    Case("figure without description", by_template("handout", r'<img alt="[^"]*" src="folder:', '<img alt="A figure" src="folder:', pattern=True), "description"),
    Case("mark of a draft dropped", by_template("handout", 'class="mark"', 'class="marked"'), "does not bear the mark"),
    Case("kit line dropped", by_template("handout", r'<li><span class="number">2</span>small swab.*?</li>', "", pattern=True), "kit"),
    Case("danger dropped from the card", by_template("card", r'<li id="caution-toxic-dose">.*?</li>', "", pattern=True), "nowhere"),
    Case("critical step dropped from the card", by_template("card", r'<li id="step-open-canal".*?</li>', "", pattern=True), "nowhere"),
    Case("count dropped from the card", by_template("card", r'<span class="detail count">.*?</span>', "", count=0, pattern=True), "step line"),
    # what a style sheet can hide
    Case("caution clipped by its box", by_style("handout", f"{BOX} {{ height: 9mm; overflow: hidden }}"), "cut off"),
    Case("caution clipped at its side", by_style("handout", f"{BOX} .inside {{ width: 40mm; overflow: hidden; white-space: nowrap }}"), "cut off"),
    Case("caution pushed off the page", by_style("handout", f"{BOX} {{ position: relative; left: 140mm }}"), "off the page"),
    Case("caution pushed into the margin", by_style("handout", f"{BOX} {{ margin-left: -18mm }}"), "margin"),
    Case("white on white", by_style("handout", f"{BOX} p {{ color: #fff }}"), "contrast"),
    Case("pale grey on white", by_style("handout", f"{BOX} p {{ color: #9a9a9a }}"), "contrast"),
    Case("red on green, equal in grey", by_style("handout", f"{BOX} p {{ color: #f00; background: #00a000 }}"), "contrast"),
    Case("transparent", by_style("handout", f"{BOX} p {{ opacity: 0.2 }}"), "“"),
    Case("hidden", by_style("handout", f"{BOX} {{ visibility: hidden }}"), "not those that were composed"),
    Case("not displayed", by_style("handout", "#caution-toxic-dose { display: none }"), "not those that were composed"),
    Case("type too small", by_style("handout", f"{BOX} p {{ font-size: 5pt }}"), "5.0 pt"),
    Case("type scaled down", by_style("handout", f"{BOX} {{ transform: scale(0.6) }}"), "pt; the smallest"),
    Case("two texts on top of each other", by_style("handout", ".cue, .if-not { grid-column: 1; grid-row: 1 }"), "on top of each other"),
    Case("struck through", by_style("handout", f"{BOX} p {{ text-decoration: line-through }}"), "struck through"),
    Case("one word struck through", by_template("handout", "Stop, lengthen", "<s>Stop</s>, lengthen"), "struck through"),
    Case("struck through by a ground", by_style("handout", f"{BOX} p {{ background: linear-gradient(#000, #000) 0 50% / 100% 1px no-repeat }}"), "contrast"),
    Case("struck through on the card", by_style("card", ".detail { text-decoration: line-through }"), "struck through"),
    Case("caution parted by a page", by_style("handout", f"{BOX}, {BOX} .inside {{ break-inside: auto }} {BOX} .inside {{ display: block }} {BOX} .inside > div + div {{ break-before: page }}"), "parted over pages"),
    Case("table parted by a page", by_style("handout", ".dose, .dose table, .dose tr { break-inside: auto } .dose tr + tr { break-before: page }"), "tables were composed"),
    Case("card on too many sides", by_style("card", ".lines li { padding-bottom: 9mm }"), "and was filled for"),
    Case("card too small to read", by_style("card", "html { font-size: 6pt }"), "6.0 pt"),
    # what a typesetter can lose
    Case("word lost", by_typesetter("handout", "Stop, lengthen", "Lengthen"), "not those that were composed"),
    Case("words in another order", by_typesetter("handout", "The nerve is seen along its whole length.", "Along its whole length the nerve is seen."), "not those"),
    Case("header cells lost", by_typesetter("handout", r"<th[^>]*>(Route|Dose)</th>", r"<td>\1</td>", count=0, pattern=True), "header cells"),
    Case("heading lost its rank", by_typesetter("handout", r"<h2>Kit</h2>", "<p>Kit</p>"), "heading"),
    Case("set in a font of the machine", in_file("handout", set_in_another_font), "our type lacks"),
    Case("set in a face our type lacks", in_file("handout", set_in_a_face_we_lack), "or such a face"),
    # what can go wrong in the file
    Case("reading order reversed", in_file("handout", reverse_kids), "not those that were composed"),
    Case("caution out of the reading order", in_file("handout", forget_kid), "not in the reading order"),
    Case("scope lost", in_file("handout", lambda made: drop_attribute(made, "/TH", "/Scope")), "what it heads"),
    Case("ids lost", in_file("handout", lambda made: made.Root.StructTreeRoot.__delitem__("/IDTree")), "by its id"),
    Case("pointer moved", by_typesetter("handout", r'(class="pointer" style="left: )[\d.]+%', r"\g<1>77%", pattern=True), "mm from its place"),
    Case("pointers pushed aside", by_template("handout", "</style>", ".pointer { margin-left: 1mm }</style>"), "mm from its place"),
    Case("pointer with the number of another", by_typesetter("handout", r'(class="pointer" style="[^"]*">)1<', r"\g<1>7<", pattern=True), "its pointer 1"),
    Case("figure not shown", by_template("handout", "</style>", ".plate img { visibility: hidden }</style>"), "is not shown"),
    Case("description lost", in_file("handout", lambda made: drop_attribute(made, "/Figure", "/Alt")), "descriptions"),
    Case("header cell turned into a cell", in_file("handout", lambda made: set_role(made, "/TH", "/TD")), "header cells"),
    Case("heading turned into a paragraph", in_file("handout", lambda made: set_role(made, "/H2", "/P")), "heading"),
    Case("tree lost", in_file("handout", drop_root("/StructTreeRoot")), "not those that were composed"),
    Case("language lost", in_file("handout", drop_root("/Lang")), "language"),
    Case("bookmarks lost", in_file("handout", drop_bookmarks), "bookmarks"),
    Case("title lost", in_file("handout", lambda made: made.docinfo.__delitem__("/Title")), "title"),
    Case("page lost", in_file("handout", lose_page), "“"),
    Case("pages swapped", in_file("handout", swap_pages), "not those that were composed"),
    Case("page cut short", in_file("handout", shrink_page), "off the page"),
    Case("white box over text", in_file("handout", lambda made: add_ink(made, "1 1 1 rg 0 300 595 60 re f")), "has no ink"),
    Case("white box over half a line", in_file("handout", lambda made: add_ink(made, "1 1 1 rg 300 0 60 842 re f")), "cannot be seen whole"),
    Case("text painted white", in_file("handout", lambda made: recoloured(made, "1 1 1")), "contrast"),
    Case("text painted invisibly", in_file("handout", lambda made: edit_stream(made, lambda text: text.replace(b"BT\n", b"BT\n3 Tr\n"))), "transparent"),
    Case("text moved", in_file("handout", lambda made: edit_stream(made, lambda text: b"1 0 0 1 700 0 cm\n" + text)), "off the page"),
    Case("letters without meaning", in_file("handout", drop_unicode), "not those that were composed"),
)  # fmt: skip

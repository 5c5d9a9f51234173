"""References of odd sources: no author, others, old DOIs, hostile fields; and the styles by name."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pybtex.database import Entry, Person

from builder.load.sources.bibliography import RawSource, read_sources
from builder.model.styles.registry import format_in, format_source, style_names
from builder.place import Text


def _source(bib: str) -> RawSource:
    sources, faults = read_sources(bib, "x.bib")
    assert faults == []
    return next(iter(sources.values()))


def _text(bib: str) -> str:
    return format_source(_source(bib)).text


ODD = {
    "others": ("@article{x, author={Haynes, Alex B. and others}, title={T}, journal={Lancet}, year=2009}",
               "Haynes AB, et al. T. Lancet. 2009."),
    "six and others": ("@article{x, author={A, A and B, B and C, C and D, D and E, E and F, F and others}, title={T}, "
                       "journal={Lancet}, year=2009}", "A A, B B, C C, D D, E E, F F, et al. T. Lancet. 2009."),
    "exactly six": ("@article{x, author={A, A and B, B and C, C and D, D and E, E and F, F}, title={T}, "
                    "journal={Lancet}, year=2009}", "A A, B B, C C, D D, E E, F F. T. Lancet. 2009."),
    "only others": ("@article{x, author={others}, title={T}, journal={Lancet}, year=2009}", "T. Lancet. 2009."),
    "no author": ("@article{x, title={T?}, journal={Lancet}, year=2009}", "T? Lancet. 2009."),
    "no year": ("@book{x, title={T}, publisher={P}}", "T. P; [date unknown]."),
    "nothing": ("@misc{x}", "[title missing]. [date unknown]."),
    "unknown type": ("@zebra{x, title={T}, year=2009}", "T. 2009."),
    "two groups": ("@book{x, author={{Royal Adelaide Hospital} and {University of Adelaide}}, title={T}, year=2001}",
                   "Royal Adelaide Hospital; University of Adelaide. T. 2001."),
    "hyphenated given name": ("@book{x, author={Lagrot, Jean-Pierre Marie}, title={T}, year=2001}",
                              "Lagrot JP. T. 2001."),
    "junior": ("@book{x, author={King, Jr., Martin L.}, title={T}, year=2001}", "King ML Jr. T. 2001."),
    "crossref": ("@incollection{x, crossref={y}, title={T}, pages={1--3}}\n@book{y, title={B}, editor={E, F}, "
                 "publisher={P}, year=2001}", "T. In: E F, editor. B. P; 2001. p. 1-3."),
    "Cochrane review": ("@article{x, author={Gyte, G. M. L.}, title={T}, journal={Cochrane Database of Systematic "
                        "Reviews}, year=2014, number=11, pages={CD008726}, doi={10.1002/14651858.CD008726.pub2}}",
                        "Gyte GM. T. Cochrane Database Syst Rev. 2014;(11):CD008726. doi: "
                        "10.1002/14651858.CD008726.pub2."),
    # OSCOLA, 4th edition, 2.1: case name, neutral citation, report.
    "British judgment": ("@jurisdiction{x, title={Corr v IBC Vehicles Ltd}, number={[2008] UKHL 13}, "
                         "reporter={[2008] 1 AC 884}}", "Corr v IBC Vehicles Ltd [2008] UKHL 13. [2008] 1 AC 884."),
    "another country's judgment": ("@jurisdiction{x, title={Rogers v Whitaker}, volume={175}, reporter={CLR}, "
                                   "pages={479}, court={High Court of Australia}, year=1992}",
                                   "Rogers v Whitaker, 175 CLR 479 (High Court of Australia 1992)."),
    "guideline on the web": ("@techreport{x, author={{National Institute for Health and Care Excellence}}, "
                             "title={Caesarean birth}, institution={NICE}, address={London}, date={2021-03-31}, "
                             "number={NG192}, url={https://www.nice.org.uk/guidance/ng192}, urldate={2026-11-01}}",
                             "National Institute for Health and Care Excellence. Caesarean birth [Internet]. London: "
                             "NICE; 2021 Mar 31 [cited 2026 Nov 1]. Report No.: NG192. Available from: "
                             "https://www.nice.org.uk/guidance/ng192"),
    "master's thesis": ("@mastersthesis{x, author={A, B}, title={T}, school={S}, year=2001}",
                        "A B. T [master's thesis]. S; 2001."),
}  # fmt: skip


@pytest.mark.parametrize(("bib", "expected"), ODD.values(), ids=ODD.keys())
def test_odd_source(bib: str, expected: str) -> None:
    assert _text(bib) == expected


def test_an_old_doi_is_linked_and_escaped() -> None:
    html = format_source(
        _source("@article{x, title={a < b}, doi={10.1002/(SICI)1097-4571(199806)49:8<693::AID-ASI4>3.0.CO;2-O}}")
    ).html
    assert html == (
        "a &lt; b. [date unknown]. doi: "
        '<a href="https://doi.org/10.1002/(SICI)1097-4571(199806)49:8%3C693::AID-ASI4%3E3.0.CO;2-O">'
        "10.1002/(SICI)1097-4571(199806)49:8&lt;693::AID-ASI4&gt;3.0.CO;2-O</a>."
    )


def test_identifiers_of_pubmed_are_linked() -> None:
    html = format_source(_source("@article{x, title={T}, year=2001, pmid={PMID: 123}, pmcid={45}}")).html
    assert '<a href="https://pubmed.ncbi.nlm.nih.gov/123/">123</a>' in html
    assert '<a href="https://pmc.ncbi.nlm.nih.gov/articles/PMC45/">PMC45</a>' in html


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, list[tuple[str, str | None]]]] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, attrs))

    def handle_data(self, data: str) -> None:
        self.words += data


_FIELDS = ("title", "journal", "year", "month", "volume", "number", "pages", "doi", "pmid", "pmcid", "url", "note",
           "publisher", "edition", "type", "howpublished", "booktitle", "urldate", "eprint", "language",
           "series")  # fmt: skip
_TYPES = ("article", "book", "incollection", "inproceedings", "techreport", "phdthesis", "online", "misc", "patent",
          "unpublished", "jurisdiction")  # fmt: skip
_HOSTILE = st.one_of(
    st.text(max_size=30),
    st.sampled_from(["<script>alert(1)</script>", '" onmouseover="x', "javascript:alert(1)", "https://x/\"><b>", "\\",
                     "{", "}", "\\alpha{", "$$", "10.1/<>", "&amp;", "http://a b", "{\\\"o}", "%"]),
)  # fmt: skip


@given(st.sampled_from(_TYPES), st.dictionaries(st.sampled_from(_FIELDS), _HOSTILE), st.lists(_HOSTILE, max_size=8))
def test_nothing_a_source_holds_becomes_markup_or_a_traceback(
    kind: str, fields: dict[str, str], names: list[str]
) -> None:
    people = []
    for name in names:
        person = Person()
        person.last_names = [name]
        people.append(person)
    source = RawSource(Text("x"), Entry(kind, fields=fields, persons={"author": people}))
    reference = format_source(source)
    reader = _Links()
    reader.feed(reference.html)
    reader.close()
    assert all(tag == "a" and [name for name, _ in attrs] == ["href"] for tag, attrs in reader.tags)
    assert all((value or "").startswith(("https://", "http://")) for _, ((_, value),) in reader.tags)
    assert reader.words == reference.text


SOURCE = """@article{x, author={A, A and B, B and C, C and D, D and E, E and F, F and G, G}, title={T},
journal={Lancet}, year=2009}"""


@pytest.mark.parametrize("style", style_names())
def test_each_style_by_name(style: str) -> None:
    text = format_in(style, _source(SOURCE)).text
    assert "Lancet" in text
    assert "2009" in text


def test_all_authors_where_the_style_says_so() -> None:
    assert format_in("nlm-all-authors", _source(SOURCE)).text == "A A, B B, C C, D D, E E, F F, G G. T. Lancet. 2009."


def test_a_style_that_refuses_a_source_shows_it_in_vancouver() -> None:
    source = _source("@jurisdiction{x, title={Corr v IBC Vehicles Ltd}, number={[2008] UKHL 13}}")
    assert format_in("by author", source) == format_source(source)


def test_an_unknown_style_is_refused() -> None:
    with pytest.raises(KeyError):
        format_in("zebra", _source(SOURCE))

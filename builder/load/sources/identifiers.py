"""Identifiers of sources: how they are compared and linked, and whether they can be right. Nothing is looked up."""

import re
from collections.abc import Mapping

from stdnum import isbn as stdnum_isbn
from stdnum import issn as stdnum_issn
from stdnum.iso7064 import mod_11_2

from builder.load.sources.latex import raw

_DOI_PREFIX = re.compile(r"^(?:https?://(?:dx\.)?doi\.org/|doi:?\s*)+", re.IGNORECASE)
_PMID_PREFIX = re.compile(r"^(?:https?://\S*/|pmid:?\s*)", re.IGNORECASE)
_PMCID_PREFIX = re.compile(r"^(?:https?://\S*/|pmcid:?\s*)", re.IGNORECASE)


def doi_of(written: str) -> str:
    """Return the DOI in ``written`` without ``https://doi.org/`` or ``doi:``, its letters as they stand."""
    doi = raw(written)
    return doi if doi.startswith("10.") else _DOI_PREFIX.sub("", doi).strip()


def same_doi(written: str) -> str:
    """Return the DOI as it is compared: DOIs ignore case (DOI Handbook, section 2.4)."""
    return doi_of(written).lower()


def pmid_of(written: str) -> str:
    """Return the PMID in ``written`` without ``PMID:`` or the address before it."""
    pmid = raw(written)
    return pmid if pmid.isdecimal() else _PMID_PREFIX.sub("", pmid).strip().rstrip("/")


def pmcid_of(written: str) -> str:
    """Return the PMCID in ``written``, such as ``PMC2615549``."""
    pmcid = _PMCID_PREFIX.sub("", raw(written)).strip().rstrip("/")
    return f"PMC{pmcid}" if pmcid.isdigit() else pmcid


def told_apart(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    """Tell whether the fields of two sources say that they are two papers, as two different DOIs or PMIDs do."""
    for name, read in (("doi", same_doi), ("pmid", pmid_of)):
        if one.get(name) and other.get(name):
            return read(one[name]) != read(other[name])
    return False


# Crossref (Gilmartin, 11 Aug 2015) prints ^10.\d{4,9}/[-._;()/:A-Z0-9]+$ and says that it misses old DOIs of Wiley,
# which hold < > [ ] #. The DOI Handbook (2.2) allows any printable sign and subdivided registrants (10.1000.10).
_DOI = re.compile(r"10\.\d{4,9}(?:\.\d+)*/[!-~\u00a1-\uffff]+")
_ENDS = (".", ",", ";", ":")
_PMID = re.compile(r"[1-9]\d{0,7}")
_PMCID = re.compile(r"PMC[1-9]\d{0,8}", re.IGNORECASE)
_ORCID = re.compile(r"(?:https?://orcid\.org/)?(\d{4}-\d{4}-\d{4}-\d{3}[\dXx])")


def is_doi(doi: str) -> bool:
    """Tell whether ``doi`` (without ``https://doi.org/``) has the form of a DOI; there is no check digit.

    A DOI that ends with a full stop, comma or lone bracket was copied with the sentence around it.
    """
    lone_bracket = doi.endswith(")") and doi.count("(") != doi.count(")")
    return bool(_DOI.fullmatch(doi)) and not doi.endswith(_ENDS) and not lone_bracket


def is_pmid(pmid: str) -> bool:
    """Tell whether ``pmid`` has the form of a PubMed identifier: 1 to 8 digits, no leading zero (NLM)."""
    return bool(_PMID.fullmatch(pmid))


def is_pmcid(pmcid: str) -> bool:
    """Tell whether ``pmcid`` has the form of a PubMed Central identifier."""
    return bool(_PMCID.fullmatch(pmcid))


def is_isbn(isbn: str) -> bool:
    """Tell whether ``isbn`` has 10 or 13 digits and the right check digit (ISO 2108)."""
    return bool(stdnum_isbn.is_valid(isbn.replace("\u2010", "-").replace("\u2013", "-")))


def is_issn(issn: str) -> bool:
    """Tell whether ``issn`` has 8 digits and the right check digit (ISO 3297)."""
    return bool(stdnum_issn.is_valid(issn.replace("\u2010", "-").replace("\u2013", "-")))


def is_orcid(orcid: str) -> bool:
    """Tell whether ``orcid`` has the form of an ORCID iD and the right check digit (ISO 7064, MOD 11-2)."""
    match = _ORCID.fullmatch(orcid.strip())
    return bool(match and mod_11_2.is_valid(match[1].replace("-", "").upper()))

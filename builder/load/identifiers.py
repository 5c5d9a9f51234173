"""Identifiers of sources as they are compared and linked: DOI, PMID, PMCID. Nothing is looked up."""

from __future__ import annotations

import re

from builder.load.latex import raw

_DOI_PREFIX = re.compile(r"^(?:https?://(?:dx\.)?doi\.org/|doi:?\s*)+", re.IGNORECASE)
_PMID_PREFIX = re.compile(r"^(?:https?://\S*/|pmid:?\s*)", re.IGNORECASE)
_PMCID_PREFIX = re.compile(r"^(?:https?://\S*/|pmcid:?\s*)", re.IGNORECASE)


def doi_of(written: str) -> str:
    """Return the DOI in ``written`` without ``https://doi.org/`` or ``doi:``, its letters as they stand."""
    return _DOI_PREFIX.sub("", raw(written)).strip()


def same_doi(written: str) -> str:
    """Return the DOI as it is compared: DOIs ignore case (DOI Handbook, section 2.4)."""
    return doi_of(written).lower()


def pmid_of(written: str) -> str:
    """Return the PMID in ``written`` without ``PMID:`` or the address before it."""
    return _PMID_PREFIX.sub("", raw(written)).strip().rstrip("/")


def pmcid_of(written: str) -> str:
    """Return the PMCID in ``written``, such as ``PMC2615549``."""
    found = _PMCID_PREFIX.sub("", raw(written)).strip().rstrip("/")
    return f"PMC{found}" if found.isdigit() else found


def same_title(title: str) -> str:
    """Return a plain ``title`` as titles are compared: letters and digits only, in small letters."""
    return "".join(sign for sign in title.casefold() if sign.isalnum())

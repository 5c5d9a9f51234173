"""BibTeX as we write it: for the department's own file of sources, and for a reader's reference manager."""

import re

from builder.load.sources.latex import latex
from builder.load.sources.record import MONTHS, RAW_FIELDS, Record, bibtex_name

_ORDER = (
    "title", "titletranslation", "journal", "shortjournal", "booktitle", "eventtitle", "eventdate", "venue", "series",
    "edition", "publisher", "institution", "school", "address", "howpublished", "type", "year", "month", "day", "date",
    "volume", "number", "chapter", "pages", "eid", "doi", "pmid", "pmcid", "isbn", "issn", "url", "urldate", "updated",
    "language", "pubstate", "note", "keywords", "abstract",
)  # fmt: skip
# A word with a capital behind its first letter; an underscore stands escaped and ends it.
_ACRONYM = re.compile(r"(?<![^\W_{])(?<![\\{])[^\W_](?:[^\W_]|-)*[A-Z](?:[^\W_]|-)*(?![\w}])")


def bibtex(record: Record, key: str) -> str:
    """Return ``record`` as a BibTeX entry, one field a line, in the order in which a reader looks for them."""
    people = {role: record.people[role] for role in ("author", "editor") if record.people.get(role)}
    lines = [f"@{record.type}{{{key},"]
    lines += [f"  {role} = {{{' and '.join(map(bibtex_name, names))}}}," for role, names in people.items()]
    fields = record.fields
    rest = sorted(set(fields) - set(_ORDER) - {"crossref"})
    lines += [f"  {name} = {_value(name, fields[name])}," for name in (*_ORDER, *rest) if name in fields]
    return "\n".join([*lines, "}\n"])


def _value(name: str, text: str) -> str:
    if name == "month" and text.isdigit() and 1 <= int(text) <= 12:
        return MONTHS[int(text) - 1]
    if name in RAW_FIELDS:
        # A brace or backslash in an address would end the field: RFC 3986 has them percent-encoded.
        return f"{{{text.replace('{', '%7B').replace('}', '%7D').replace(chr(92), '%5C')}}}"
    written = latex(text)
    if name == "pages":
        written = re.sub(r"(?<=\w)-(?:\{\})?(?=\w)", "--", written)
    if name in ("title", "booktitle"):
        # Other BibTeX styles put titles in small letters; braces keep names such as HerniaSurge.
        written = _ACRONYM.sub(lambda word: f"{{{word.group()}}}", written)
    return f"{{{written}}}"

"""Reads ``region.yml``."""

from collections.abc import Iterator

from pydantic import ValidationError

from builder.findings.finding import Finding, Refused
from builder.findings.message_words import listed, quoted
from builder.findings.register import finding
from builder.load.folder import ID
from builder.load.frontmatter import read_values
from builder.load.program_words import language_of, languages
from builder.model.json_schema import KINDS
from builder.model.region_file import FILE, RESERVED, Region
from builder.model.validation import findings_of
from builder.place import Place


def region_of(text: str) -> Region:
    """Return what ``region.yml`` says. Raises Refused with the first thing that is wrong."""
    value, findings = read_values(text, FILE)
    start = Place(FILE)
    if not findings and not isinstance(value, dict):
        findings = [finding("value-not-allowed", start, f"{FILE} is not a block of keys", "Write `key: value` lines.")]
    region: Region | None = None
    if not findings:
        try:
            region = KINDS["region"].validate_python(value)
            findings = [*_wrong_language(region), *_wrong_ids(region)]
        except ValidationError as error:
            findings = findings_of(error, value, start, "region")
    if findings or region is None:
        raise Refused(findings[0])
    return region


def _wrong_language(region: Region) -> Iterator[Finding]:
    """Yield a language that the program does not speak."""
    if language_of(region.language) not in languages():
        message = f"{quoted(region.language)} is no language that this program has words for"
        known = listed([f"`{name}`" for name in languages()], "or")
        yield finding("language-unknown", region.language.at, message, f"Write {known}, if need be with a country.")


def _wrong_ids(region: Region) -> Iterator[Finding]:
    first: dict[str, int] = {}
    for member in region.departments:
        at = member.id.at
        if not ID.fullmatch(member.id) or member.id in RESERVED:
            hint = "Use small letters, digits and hyphens, as in `north-hill`."
            yield finding("file-name-not-an-id", at, f"{quoted(member.id)} cannot name a department's folder", hint)
        if member.id in first:
            message = f"{quoted(member.id)} is already the id of the department in line {first[member.id]}"
            yield finding("id-used-twice", at, message, "Give one of the two another id.")
        first.setdefault(str(member.id), at.line)

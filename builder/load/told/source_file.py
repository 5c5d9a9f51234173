"""Opens the source of a draft, whatever its form, and says in plain words where it cannot be used."""

from collections.abc import Callable
from pathlib import Path, PurePath

from builder.findings.register import refuse
from builder.load.files import read_bytes
from builder.load.told.draft_source import (
    MOST_PACKED_BYTES,
    MOST_TEXT_BYTES,
    Passage,
    PassageKind,
    Source,
    SourceForm,
    checked,
    clean,
)
from builder.load.told.outline_lines import read_outline
from builder.load.told.talk import is_talk, read_talk
from builder.place import Place

PACKED = (".docx", ".pptx")
PLAIN = (".md", ".markdown", ".txt", ".text", ".vtt", ".srt")
ENDINGS = (*PLAIN, *PACKED)
_READ = "Use a numbered outline (.md, .txt), a .docx, a .pptx, or the transcript of a talk (.vtt, .srt)."
# What a file begins with, and what it then is; each needs another program, which the message names by what it does.
_SIGNS: tuple[tuple[bytes, str, str], ...] = (
    (b"\xd0\xcf\x11\xe0", "an old word-processor or slide file, or one with a password",
     "Open it, take the password off, and save it as .docx or .pptx."),
    (b"%PDF", "a PDF", "Save the original as .docx or .pptx, or copy its text into a .txt file."),
    (b"{\\rtf", "a rich text file", "Open it in a word processor and save it as .docx."),
    (b"\x89PNG", "a picture", "Write the steps into a text file."),
    (b"\xff\xd8\xff", "a picture", "Write the steps into a text file."),
    (b"GIF8", "a picture", "Write the steps into a text file."),
    (b"\x1f\x8b", "a compressed file", "Unpack it first."),
    (b"\x00\x00\x00", "a recording", "Have it transcribed with times first, as .vtt or .srt."),
    (b"ID3", "a recording", "Have it transcribed with times first, as .vtt or .srt."),
    (b"RIFF", "a recording", "Have it transcribed with times first, as .vtt or .srt."),
)  # fmt: skip
_MARKS_OF_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


def read_source(path: Path) -> Source:
    """Return the source in the file at ``path``. Raises Refused, with file:line:column, where it cannot be used."""
    most = MOST_PACKED_BYTES if path.suffix.lower() in PACKED else MOST_TEXT_BYTES
    return source_of(path.name, read_bytes(path.parent, path.name, most))


def source_of(name: str, content: bytes) -> Source:
    """Return the source in ``content``, a file called ``name``. Raises Refused where it cannot be used."""
    name = PurePath(name.replace("\\", "/")).name or "source"
    ending = PurePath(name).suffix.lower()
    at = Place(name)
    if ending not in ENDINGS:
        why = f"its name ends with {ending}" if ending else "its name has no ending"
        raise refuse("source-unreadable", at, f"{name} cannot be used: {why}", _READ)
    most = MOST_PACKED_BYTES if ending in PACKED else MOST_TEXT_BYTES
    if len(content) > most:
        message = f"{name} is {len(content) / 2**20:.1f} MiB; the limit is {most // 2**20} MiB"
        hint = "Take out pictures and anything that does not belong to this procedure."
        raise refuse("source-too-large", at, message, hint)
    if not content.strip(b"\xef\xbb\xbf \t\r\n\x00"):
        raise refuse("source-empty", at, f"{name} is empty", _READ)
    return checked(_opened(name, ending, content), name)


def _opened(name: str, ending: str, content: bytes) -> Source:
    is_zip = content.startswith(b"PK")
    named = f"although its name ends with {ending}"
    start, kind, hint = next((row for row in _SIGNS if content.startswith(row[0])), (b"", "", ""))
    if kind and not (ending in PLAIN and start in (b"ID3", b"RIFF")):
        raise refuse("source-unreadable", Place(name), f"{name} is {kind}, {named}", hint)
    if ending in PACKED:
        if not is_zip:
            message = f"{name} is not a {ending} file, {named}"
            raise refuse("source-unreadable", Place(name), message, f"Open it, and save it again as {ending}.")
        return _packed(ending)(name, content)
    if is_zip:
        hint = "If it is a document or slides, correct its ending to .docx or .pptx."
        raise refuse("source-unreadable", Place(name), f"{name} is a compressed file, {named}", hint)
    text = decoded(name, content)
    if is_talk(text) or ending in (".vtt", ".srt"):
        return read_talk(text, name)
    return read_outline(text, is_markdown=ending in (".md", ".markdown"))


def _packed(ending: str) -> Callable[[str, bytes], Source]:
    # Imported here: together they take longer to start than a text takes to read.
    if ending == ".docx":
        from builder.load.told.word_file import read_word_file  # noqa: PLC0415

        return read_word_file
    from builder.load.told.presentation import read_slide_file  # noqa: PLC0415

    return read_slide_file


def decoded(name: str, content: bytes) -> str:
    """Return the text in ``content``: UTF-8, or UTF-16 with its mark. Raises Refused at the first byte that is not."""
    encoding = "utf-16" if content.startswith(_MARKS_OF_UTF_16) else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        at = Place.after(name, content[: error.start].decode(encoding, "replace"))
        hint = "Open it in a text editor, and save it again with UTF-8 encoding."
        raise refuse("source-unreadable", at, f"{name} is not written in UTF-8", hint) from None
    before, nul, _ = text.partition("\0")
    if nul:
        message = f"{name} contains a NUL character, so it is not text"
        raise refuse("source-unreadable", Place.after(name, before), message, _READ)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def source_of_answers(answers: dict[str, list[str]]) -> Source:
    """Return the answers to the questions of the terminal as a source: a heading for each question, its lines below."""
    passages: list[Passage] = []
    for heading, lines in answers.items():
        kept = [clean(line).replace("\n", " ") for line in lines if clean(line)]
        if kept:
            passages.append(Passage(PassageKind.HEADING, heading, "your answers", 1))
            passages.extend(
                Passage(PassageKind.ITEM, line, "your answers", 0, str(number), True)
                for number, line in enumerate(kept, 1)
            )
    source = Source(SourceForm.ANSWERS, tuple(passages))
    if not passages:
        raise refuse("source-empty", Place("answers"), "no question was answered", "Write at least one step.")
    return source

"""Recorded talks: WebVTT (W3C), SubRip, or Markdown with ``[m:ss]`` marks, as speech that knows its times.

Subtitles cut sentences wherever the line is full; the words are put together again, with the time of each cue kept.
The names of speakers, which WebVTT carries in ``<v Name>``, are left out: a teaching text names no persons.
"""

import html
import re
from collections.abc import Iterable, Iterator

import pysubs2

from builder.findings.register import refuse
from builder.load.told.draft_source import Passage, PassageKind, Source, SourceForm, TimeMark, clean
from builder.load.told.outline_lines import read_outline
from builder.place import Place

_TIME = r"(?:\d{1,2}:)?\d{1,3}:[0-5]\d(?:\.\d{1,3})?"
_MARK = re.compile(rf"^\s*(?:[-*]\s+)?(?:\[(?P<square>{_TIME})\]|\((?P<round>{_TIME})\)|(?P<bare>{_TIME})(?=\s))\s*")
_INNER = re.compile(rf"\s*\[(?P<square>{_TIME})\]\s*")
_VOICE = re.compile(r"<v(?:\.[^\s>]*)?\s+[^>]{1,200}>")
_TAG = re.compile(r"</?[a-zA-Z0-9][^<>\n]{0,200}>|<(?:\d+:)?\d+:\d+\.\d+>|\{\\[^}\n]{0,200}\}")
_FEWEST_MARKS = 3
_NO_GAP = 0.12


def is_talk(text: str) -> bool:
    """Tell whether ``text`` is speech with times: subtitles, or at least three lines that begin with a time."""
    if text.lstrip().startswith("WEBVTT") or " --> " in text:
        return True
    return sum(bool(_MARK.match(line)) for line in text.split("\n")) >= _FEWEST_MARKS


def read_talk(text: str, file: str) -> Source:
    """Return the speech in ``text``. Raises Refused where it contains no timed words."""
    if text.lstrip().startswith("WEBVTT") or " --> " in text or file.lower().endswith((".vtt", ".srt")):
        return _subtitles(text, file)
    return _marked(text)


def _subtitles(text: str, file: str) -> Source:
    kept, asides = _blocks(text)
    form = "vtt" if text.lstrip().startswith("WEBVTT") else "srt"
    try:
        # Angle brackets in speech are rare; what pysubs2 takes for a tag must be one.
        events = pysubs2.SSAFile.from_string(kept, format_=form).events
    except (pysubs2.exceptions.Pysubs2Error, ValueError, IndexError, OverflowError):
        events = []
    cues = [(event.start / 1000, event.end / 1000, _words(event.text)) for event in events]
    cues = [cue for cue in cues if cue[2]]
    if not cues:
        hint = "Export the subtitles again as WebVTT (.vtt) or SubRip (.srt): a line of times, then the words."
        raise refuse("source-unreadable", Place(file), f"{file} contains no words with times", hint)
    voices = len(set(_VOICE.findall(text)))
    names = "the name of 1 speaker" if voices == 1 else f"the names of {voices} speakers"
    passages = [Passage(PassageKind.ASIDE, aside, "a note in the file") for aside in asides]
    return Source(SourceForm.TALK, (*passages, _speech(cues)), left_out=(names,) if voices else ())


def _blocks(text: str) -> tuple[str, list[str]]:
    """Return the cues alone, without their names, and the words of comments and of the title line.

    pysubs2 would take the name of a cue for the last line of the cue before it.
    """
    kept: list[str] = []
    asides: list[str] = []
    for number, block in enumerate(re.split(r"\n[^\S\n]*\n", text.strip("\n"))):
        lines = [line for line in block.split("\n") if line.strip()]
        times = next((at for at, line in enumerate(lines) if "-->" in line), None)
        first = lines[0].strip() if lines else ""
        if number == 0 and first.startswith("WEBVTT"):
            kept.append("WEBVTT")
            asides.append(first.removeprefix("WEBVTT").strip(" -\t"))
            lines = [] if times is None else lines
        if times is not None:
            kept.append("\n".join(lines[times:]))
        elif first.startswith("NOTE"):
            asides.append(" ".join(lines).removeprefix("NOTE").strip())
        elif lines and not first.startswith(("STYLE", "REGION", "WEBVTT")):
            kept[-1:] = ["\n".join([*kept[-1:], *lines])]
    return "\n\n".join(kept) + "\n", [clean(aside) for aside in asides if aside]


def _words(text: str) -> str:
    return clean(html.unescape(_TAG.sub("", text).replace(r"\N", "\n").replace(r"\n", "\n").replace(r"\h", " ")))


def _speech(cues: Iterable[tuple[float, float, str]]) -> Passage:
    """Return cues as one stretch of speech. A line that subtitles roll on to the next cue is taken once."""
    text, marks, ended, last = "", [], 0.0, ""
    for start, end, words in cues:
        lines = [line.strip() for line in words.split("\n") if line.strip()]
        if len(lines) > 1 and lines[0] == last and start - ended < _NO_GAP:
            lines = lines[1:]
        last = lines[-1]
        joined = " ".join(lines)
        text = f"{text} {joined}" if text else joined
        marks.append(TimeMark(len(text) - len(joined), int(start), max(0.0, start - ended)))
        ended = end
    return Passage(PassageKind.SPEECH, text, clock(marks[0].seconds), marks=tuple(marks))


def _marked(text: str) -> Source:
    """Return Markdown in which paragraphs begin with a time; headings and lines without a time stay what they are."""
    passages: list[Passage] = []
    for before, words in _stretches(text):
        if before is None:
            passages.extend(read_outline(words, is_markdown=True).passages)
        else:
            # What is below a time and is not a heading belongs to it.
            for part in read_outline(words, is_markdown=True).passages:
                label, marks = f"{part.label} " if part.is_numbered else "", (TimeMark(0, before),)
                speech = Passage(PassageKind.SPEECH, f"{label}{part.text}", clock(before), marks=marks)
                passages.append(part if part.kind is PassageKind.HEADING else speech)
    return Source(SourceForm.TALK, tuple(_united(passages)), is_markdown=True)


def _stretches(text: str) -> Iterator[tuple[int | None, str]]:
    seconds: int | None = None
    lines: list[str] = []
    for row in text.split("\n"):
        line = row
        while mark := (_MARK.match(line) or _INNER.search(line)):
            before = line[: mark.start()]
            if before.strip():
                lines.append(before)
            if lines:
                yield seconds, "\n".join(lines)
            lines = []
            seconds = seconds_of(next(filter(None, mark.groups())))
            line = line[mark.end() :]
        lines.append(line)
    yield seconds, "\n".join(lines)


def _united(passages: Iterable[Passage]) -> Iterator[Passage]:
    """Yield passages with neighbouring speech as one: a sentence may run over a time."""
    held: Passage | None = None
    for passage in passages:
        if held and passage.kind is PassageKind.SPEECH and held.kind is PassageKind.SPEECH:
            start = len(held.text) + 1
            moved = tuple(TimeMark(mark.offset + start, mark.seconds, mark.pause) for mark in passage.marks)
            held = Passage(PassageKind.SPEECH, f"{held.text} {passage.text}", held.at, marks=(*held.marks, *moved))
            continue
        if held:
            yield held
        held = passage
    if held:
        yield held


def seconds_of(written: str) -> int:
    """Return the seconds of ``m:ss`` or ``h:mm:ss``."""
    total = 0
    for part in written.split(".", maxsplit=1)[0].split(":"):
        total = total * 60 + int(part)
    return total


def clock(seconds: int) -> str:
    """Return ``m:ss``, or ``h:mm:ss`` from the first hour on."""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60}:{minutes % 60:02}:{rest:02}" if minutes >= 60 else f"{minutes}:{rest:02}"

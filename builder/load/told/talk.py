"""Recorded talks: WebVTT (W3C), SubRip, or Markdown with ``[m:ss]`` marks, as speech that knows its times.

Subtitles cut sentences wherever the line is full; the words are put together again, with the time of each cue kept.
The names of speakers, which WebVTT carries in ``<v Name>``, are left out: a teaching text names no persons.
"""

import html
import re
from collections.abc import Iterable, Iterator

from builder.findings.register import refuse
from builder.load.told.draft_source import Passage, PassageKind, Source, SourceForm, TimeMark, clean
from builder.load.told.outline_lines import read_outline
from builder.place import Place

_TIME = r"(?:\d{1,2}:)?\d{1,3}:[0-5]\d(?:\.\d{1,3})?"
_MARK = re.compile(rf"^\s*(?:[-*]\s+)?(?:\[(?P<square>{_TIME})\]|\((?P<round>{_TIME})\)|(?P<bare>{_TIME})(?=\s))\s*")
_INNER = re.compile(rf"\s*\[(?P<square>{_TIME})\]\s*")
_CLOCK = r"(?:(?:\d{1,4}:)?\d{1,3}:)?\d{1,3}(?:[.,]\d{1,3})?"
_CUE = re.compile(rf"^\s*(?P<start>{_CLOCK})\s*-->\s*(?P<end>{_CLOCK})(?:\s.*)?$", re.MULTILINE)
_VOICE = re.compile(r"<v(?:\.[^\s<>]*)?\s+[^<>]{1,200}>")
_TAG = re.compile(
    r"</?(?:[bcisuv]|ruby|rt|lang|font)(?:\.[^\s<>]*)?>|<(?:v|lang|font)(?:\.[^\s<>]*)?\s[^<>]{1,200}>"
    r"|<(?:\d+:)?\d+:\d+\.\d+>|\{\\[^}\n]{0,200}\}"
)
"""The tags that WebVTT, SubRip and its players know, and no other brackets: ``an INR <1.5`` is speech."""
_FEWEST_MARKS = 3
_NO_GAP = 0.12


def is_talk(text: str) -> bool:
    """Tell whether ``text`` is speech with times: subtitles, or at least three lines that begin with a time."""
    if text.lstrip().startswith("WEBVTT") or _CUE.search(text):
        return True
    return sum(bool(_MARK.match(line)) for line in text.split("\n")) >= _FEWEST_MARKS


def read_talk(text: str, file: str) -> Source:
    """Return the speech in ``text``. Raises Refused where it contains no timed words."""
    if text.lstrip().startswith("WEBVTT") or _CUE.search(text) or file.lower().endswith((".vtt", ".srt")):
        return _subtitles(text, file)
    return _marked(text)


def _subtitles(text: str, file: str) -> Source:
    cues, asides = _cues(text)
    if not cues:
        hint = "Export the subtitles again as WebVTT (.vtt) or SubRip (.srt): a line of times, then the words."
        raise refuse("source-unreadable", Place(file), f"{file} contains no words with times", hint)
    voices = len(set(_VOICE.findall(text)))
    names = "the name of 1 speaker" if voices == 1 else f"the names of {voices} speakers"
    passages = [Passage(PassageKind.ASIDE, aside, "a note in the file") for aside in asides]
    return Source(SourceForm.TALK, (*passages, _speech(cues)), left_out=(names,) if voices else ())


def _cues(text: str) -> tuple[list[tuple[float, float, str]], list[str]]:
    """Return start, end and words of each cue, and the words of comments, of the title line and before the first cue.

    Words without a time belong to the cue before them.
    """
    timed: list[tuple[float, float, list[str]]] = []
    asides: list[str] = []
    for line, is_aside in _lines(text):
        times = None if is_aside else _CUE.match(line)
        if times:
            timed.append((_seconds(times["start"]), _seconds(times["end"]), []))
        elif timed and not is_aside:
            timed[-1][2].append(line)
        else:
            asides.append(clean(line))
    cues = [(start, end, _words("\n".join(lines))) for start, end, lines in timed]
    return [cue for cue in cues if cue[2]], list(filter(None, asides))


def _lines(text: str) -> Iterator[tuple[str, bool]]:
    """Yield each line but names of cues and styles, and whether it is beside the speech: a title or a comment."""
    for number, block in enumerate(re.split(r"\n(?:[^\S\n]*\n)+", text.strip())):
        lines = block.split("\n")
        if number == 0 and lines[0].startswith("WEBVTT"):
            yield lines[0].removeprefix("WEBVTT").strip(" -\t"), True
            lines = lines[next((at for at, line in enumerate(lines) if _CUE.match(line)), len(lines)) :]
        is_timed = any(map(_CUE.match, lines))
        if not is_timed and lines and re.match(r"NOTE(?:\s|$)", lines[0]):
            yield " ".join(lines).removeprefix("NOTE"), True
        elif is_timed or not lines or lines[0].strip() not in ("STYLE", "REGION"):
            yield from ((line, False) for at, line in enumerate(lines) if not _names_cue(lines, at))


def _names_cue(lines: list[str], at: int) -> bool:
    """Tell whether a line is the name or number of the cue that the next line begins."""
    is_before_times = at + 1 < len(lines) and _CUE.match(lines[at + 1]) is not None
    return is_before_times and (at == 0 or lines[at].strip().isdigit())


def _seconds(written: str) -> float:
    """Return the seconds of a time in one, two or three parts."""
    seconds = 0.0
    for part in written.replace(",", ".").split(":"):
        seconds = seconds * 60 + float(part)
    return seconds


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
    """Return the whole seconds of ``m:ss`` or ``h:mm:ss``."""
    return int(_seconds(written))


def clock(seconds: int) -> str:
    """Return ``m:ss``, or ``h:mm:ss`` from the first hour on."""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60}:{minutes % 60:02}:{rest:02}" if minutes >= 60 else f"{minutes}:{rest:02}"

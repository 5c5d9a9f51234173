"""Sets sketches on slides: one grid for all, type never below its least, what does not fit goes on a further slide.

A rail at the left holds the landmark (the number of a step, the signal of a caution); the title stands beside it, what
is shown below the title from the top, what decides (cue, call, how to avoid it) at the foot.
"""

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from builder.compose.slides.slide import RoleStyle, Slide, SlideBox, SlideFrame, SlidePart
from builder.compose.slides.slide_text import lines_of, runs, sentences, width_of, words_in
from builder.load.program_words import gettext

LEFT, RIGHT, TOP, FOOT = 54.0, 906.0, 38.0, 476.0
RAIL = 150.0
"""Where titles begin."""
MOST_WORDS = 70
"""Words of title and body; the small line above the title, the one at the foot and the names on a figure are not
counted. A step is taught with its danger and its sign to go on in one view, for which forty words are too few."""
MOST_ON_LIST = 95
"""Of a list, which is gone through line by line: short lines, of which no more stand on a slide than have room."""
_MOST_ON = {"title": 50, "list": MOST_ON_LIST, "checklist": MOST_ON_LIST}  # the usual caution is whole on the title
_FEWEST = 18  # words that must be left of those of a slide, before a sentence with more is shown all the same
_GAP = 10.0
_PLATE = 496.0
_OVER_PLATE = 18.0
_LEAST_PLATE = 225.0  # a figure that is less high is not worth its slide
_SIGNAL = 190.0
_LETTER = 56.0
# Type and line height in pt, and how many lines may be set so: the largest that does is taken.
_USUAL_TITLES = ((44.0, 51.0, 2), (36.0, 43.0, 3), (32.0, 38.0, 3), (28.0, 34.0, 4))
_OVER_FIGURE = ((32.0, 38.0, 1), (28.0, 34.0, 2))
_OVER_LIST = ((36.0, 43.0, 2), (32.0, 38.0, 2), (28.0, 34.0, 3))
_TITLES = {
    "title": ((54.0, 62.0, 3), (44.0, 52.0, 4)),
    "question": ((36.0, 43.0, 2), (32.0, 38.0, 3), (28.0, 34.0, 4)),
    "caution": ((44.0, 51.0, 1), *_USUAL_TITLES[1:]),
    **dict.fromkeys(("figure", "step-figure", "map"), _OVER_FIGURE),
    **dict.fromkeys(("list", "checklist", "sources", "answer"), _OVER_LIST),
}
_GUARDED_TITLES = ((32.0, 38.0, 1), (28.0, 34.0, 3))
"""With cautions above it a title is smaller, so that danger and sign to go on stand on the slide of their step."""
_FRAME_PAD = 30.0
TITLES_AT = {"title": (LEFT, TOP + 54.0, RIGHT), "caution": (LEFT + _FRAME_PAD, TOP + 84.0, RIGHT - _FRAME_PAD)}
"""Left, top and right of a title, where it does not stand beside the rail."""
USUALLY_AT = (RAIL, TOP + 34.0, RIGHT)
BELOW_GROUND = 316.0
"""Where the words begin on the slide of the title."""
BESIDE_SIGNAL = (LEFT + 262.0, TOP + 17.0, RIGHT - LEFT - 290.0, 30.0)
_PARTED = re.compile(r"\s|(?<=-)")
_CONTINUED = re.compile(r" \(continued(?: (\d+))?\)$")


class TooLong(Exception):
    """The id of a sketch, and words of it that fit on no slide."""


STYLES = {
    "eyebrow": RoleStyle(24, 30),
    "lead": RoleStyle(26, 32, gap=8, many=True),
    "reminder": RoleStyle(24, 29, pad=(14, 6, 10, 7), mark=_SIGNAL),
    "caution": RoleStyle(24, 29, pad=(14, 6, 10, 7), mark=_SIGNAL),
    "count": RoleStyle(24, 30, bold=True, pad=(18, 9, 14, 9), gap=6, many=True),
    "cue": RoleStyle(26, 32, pad=(22, 8, 20, 10), above=True, foot=True),
    "unless": RoleStyle(24, 29, pad=(22, 4, 20, 6), above=True, foot=True),
    "consequence": RoleStyle(30, 39),
    "avoid": RoleStyle(28, 35, pad=(22, 12, 20, 15), above=True, foot=True),
    "item": RoleStyle(24, 29, gap=5, many=True),
    "option": RoleStyle(26, 32, gap=10, indent=44, many=True),
    "answer": RoleStyle(28, 36, bold=True, gap=10, indent=44, many=True),
    "because": RoleStyle(24, 31),
    "legend": RoleStyle(24, 28, gap=1, indent=40, many=True),
    "source": RoleStyle(24, 30),
    "branch": RoleStyle(26, 32, pad=(18, 8, 14, 10), mark=_LETTER),
    "fact": RoleStyle(24, 32, many=True, gap=4),
    "check": RoleStyle(24, 30, gap=8, indent=42, many=True),
    "usual": RoleStyle(24, 31, foot=True),
}  # fmt: skip


def slides_of(sketch: Slide) -> tuple[Slide, ...]:
    """Return ``sketch`` as it is set, followed by further slides for what does not fit on it.

    Raises TooLong where a word or a sentence fits on no slide.
    """
    slides: list[Slide] = []
    rest: Slide | None = sketch
    while rest is not None:
        slide, rest = _filled(rest)
        slides.append(replace(slide, id=f"{sketch.id}--{len(slides) + 1}") if slides else slide)
    return tuple(slides)


def fits(sketch: Slide) -> bool:
    """Tell whether all of ``sketch`` stands on one slide."""
    try:
        return _filled(sketch)[1] is None
    except TooLong:
        return False


def on_few(lines: Sequence[str], slide: Callable[[Sequence[str]], Slide]) -> list[Slide]:
    """Return the slides that ``slide`` makes of ``lines``: as few as take them, the longest as short as may be."""
    made: list[Slide] = []
    words = range(1, words_in(" ".join(lines)) + 2)
    for most in range(1, len(lines) + 1):
        least = bisect_left(words, -most, key=lambda count: -len(runs(lines, count)))  # more words, fewer slides
        made = [_numbered(slide(run), turn) for turn, run in enumerate(runs(lines, words[least]))]
        if all(map(fits, made)):
            break
    return made


def turned(id: str, turn: int) -> str:
    """Return the id of what is the next of its kind."""
    return f"{id}-{turn + 1}" if turn else id


def _numbered(sketch: Slide, turn: int) -> Slide:
    """Return ``sketch`` as the next of its kind; aftercare is chosen slide by slide."""
    id, title = turned(sketch.id, turn), f"{sketch.title} ({turn + 1})" if turn else sketch.title
    return replace(sketch, id=id, block=id if sketch.block == "aftercare" else sketch.block, title=title)


def _filled(sketch: Slide) -> tuple[Slide, Slide | None]:
    """Return a slide with as much of ``sketch`` as it takes, and what is left (None: nothing)."""
    title, over = _title(sketch)
    above, foot = _across(sketch, "caution", TOP + 38.0)  # on the slide of its step, and read first
    if above:
        title = replace(title, top=foot + 12.0)
    band, foot = _across(sketch, "reminder" if sketch.picture else "", title.top + title.height + _GAP)
    if not band:
        foot -= _GAP
    parts = [*(SlidePart("lead", text) for text in over), *sketch.without("caution", *(box.role for box in band))]
    plate = _plate(sketch, foot + _OVER_PLATE)
    column = _column(sketch, title.left, foot, plate)
    shown = title.rows[0].text
    if sketch.picture and sketch.kind != "map" and column.height < _LEAST_PLATE:
        raise TooLong(sketch.id, shown)
    words = sum(words_in(row.text) for box in (*above, title, *band) for row in box.rows)
    taken, left = _taken(parts, column, _MOST_ON.get(sketch.kind, MOST_WORDS) - words)
    if parts and not taken:
        raise TooLong(sketch.id, parts[0].text)
    boxes = (*_heads(sketch), *above, title, *band, *_stacked(taken, column))
    frame = plate and replace(plate, width=round(plate.width, 2), height=round(plate.height, 2))
    return replace(sketch, title=shown, boxes=boxes, frame=frame), _continued(sketch, left) if left else None


def _across(sketch: Slide, role: str, top: float) -> tuple[tuple[SlideBox, ...], float]:
    """Return the boxes of the parts of ``role`` that stand across the slide from ``top``, and where the room below
    them begins."""
    parts = sketch.parts_of(role)
    height = _height(parts, RIGHT - RAIL)
    return tuple(_stacked(parts, SlideFrame(RAIL, top, RIGHT - RAIL, height))), top + height


def _taken(parts: Sequence[SlidePart], column: SlideFrame, words: int) -> tuple[list[SlidePart], list[SlidePart]]:
    """Part ``parts`` at a sentence: what stands in ``column``, with at most ``words`` words, and what does not."""
    taken: list[SlidePart] = []
    for at, part in enumerate(parts):
        said = sentences(part.text)
        # What stands in one sentence and has too many words for any slide is shown by itself rather than not at all.
        is_alone = not taken and len(said) == 1 and words >= _FEWEST
        for cut in range(len(said), 0, -1):
            head = part if cut == len(said) else replace(part, text=" ".join(said[:cut]))
            if (is_alone or _words(head) <= words) and _height([*taken, head], column.width) <= column.height:
                break
        else:
            return taken, list(parts[at:])
        taken.append(head)
        words -= _words(head)
        if cut < len(said):
            return taken, [replace(part, text=" ".join(said[cut:])), *parts[at + 1 :]]
    return taken, []


def _continued(sketch: Slide, left: Sequence[SlidePart]) -> Slide:
    before = _CONTINUED.search(sketch.title)
    turn = f" {int(before[1] or 1) + 1}" if before else ""
    title = sentences(_CONTINUED.sub("", sketch.title))[0]
    # What is said of a slide is said before it is parted; the further slide is only turned to.
    return replace(
        sketch, title=gettext("%(title)s (continued%(turn)s)", title=title, turn=turn), parts=tuple(left), picture=None,
        say=gettext("Go on from the slide before."), ask="", answer="", asides=(), backing=(),
    )  # fmt: skip


def _words(part: SlidePart) -> int:
    """Return how many words there are to read: a source, the name of a pointer or the letter of an answer is none."""
    if part.role in ("legend", "source"):
        return 0
    return words_in(part.text) + (0 if STYLES[part.role].indent else words_in(part.label))


def _title(sketch: Slide) -> tuple[SlideBox, list[str]]:
    """Return the title in the largest type in which it is short enough, and the sentences that it cannot hold."""
    left, top, right = TITLES_AT.get(sketch.kind, USUALLY_AT)
    width = right - left
    sizes = _GUARDED_TITLES if sketch.parts_of("caution") else _TITLES.get(sketch.kind, _USUAL_TITLES)
    said = sentences(sketch.title)
    for cut in range(len(said), 0, -1):
        text = " ".join(said[:cut])
        for pt, leading, most in sizes:
            lines = lines_of(text, pt, width, bold=True)
            if lines <= most and all(width_of(word, pt, bold=True) <= width for word in _PARTED.split(text)):
                style = RoleStyle(pt, leading, bold=True)
                return SlideBox(left, top, width, lines * leading, style, (SlidePart("title", text),)), said[cut:]
    raise TooLong(sketch.id, sketch.title)


def _column(sketch: Slide, left: float, below: float, plate: SlideFrame | None) -> SlideFrame:
    """Return the room ``below`` title and band, beside the picture where there is one."""
    top, right, foot = below + 26.0, RIGHT, FOOT
    if sketch.kind == "title":
        top = BELOW_GROUND
    elif sketch.kind == "caution":
        right, foot = RIGHT - _FRAME_PAD, FOOT - 24.0
    elif sketch.kind == "sources":
        left = LEFT
    elif plate and sketch.kind == "map":
        top, left = plate.top + plate.height, LEFT
    elif plate:
        top, left = plate.top, LEFT + plate.width + 28.0
    return SlideFrame(left, top, right - left, foot - top)


def _plate(sketch: Slide, top: float) -> SlideFrame | None:
    """Return where the picture of ``sketch`` comes to lie in the room that it has: at the left, from ``top``."""
    if sketch.picture is None:
        return None
    aspect, width, height = sketch.picture.aspect, _PLATE, FOOT + 4.0 - top
    if sketch.kind == "map":  # across the slide, with words below it
        width, height = RIGHT - LEFT, FOOT - top
    return SlideFrame(LEFT, top, min(width, height * aspect), min(height, width / aspect))


def _heads(sketch: Slide) -> Iterator[SlideBox]:
    """Yield what stands before the title: the landmark of the rail, the eyebrow, the signal."""
    eyebrow = STYLES["eyebrow"], (SlidePart("eyebrow", sketch.eyebrow),)
    if sketch.kind == "caution":
        yield SlideBox(*BESIDE_SIGNAL, *eyebrow)
        signal = SlidePart("signal", sketch.mark, mark=sketch.signal)
        yield SlideBox(LEFT, TOP, 240.0, 64.0, RoleStyle(30, 64, bold=True), (signal,))
    elif sketch.kind == "title":
        yield SlideBox(LEFT, TOP + 10.0, RIGHT - LEFT, 30.0, *eyebrow)
    else:
        if sketch.mark:
            width = max(72.0, width_of(sketch.mark, 30, bold=True) + 22.0)
            mark = SlidePart("critical" if sketch.critical else "number", sketch.mark, mark=sketch.mark)
            yield SlideBox(LEFT, TOP + 4.0, width, 56.0, RoleStyle(30, 56, bold=True), (mark,))
        yield SlideBox(RAIL, TOP, RIGHT - RAIL, 30.0, *eyebrow)


def _blocks(parts: Sequence[SlidePart], width: float) -> list[tuple[float, list[SlidePart]]]:
    """Return the parts by the box that they share, each with its height in ``width``."""
    shared = groupby(enumerate(parts), key=lambda part: part[1].role if STYLES[part[1].role].many else part[0])
    blocks = [[part for _, part in block] for _, block in shared]
    return [(_tall(block, width), block) for block in blocks]


def _height(parts: Sequence[SlidePart], width: float) -> float:
    blocks = _blocks(parts, width)
    return sum(height for height, _ in blocks) + _GAP * max(0, len(blocks) - 1)


def _tall(block: Sequence[SlidePart], width: float) -> float:
    style = STYLES[block[0].role]
    left, above, right, below = style.pad
    inner = width - style.mark - left - right - style.indent
    labels = sum(bool(part.label) for part in block) * 31.0 if style.above else 0.0
    lines = 0
    for part in block:
        stands_apart = style.above or style.indent or (style.mark and part.mark)
        inline = f"{part.label} " if part.label and not stands_apart else ""
        lines += lines_of(inline + part.text, style.pt, inner, bold=style.bold or bool(inline))
    return above + lines * style.leading + labels + style.gap * (len(block) - 1) + below


def _stacked(parts: Sequence[SlidePart], column: SlideFrame) -> Iterator[SlideBox]:
    """Yield the boxes of ``parts``: from the top, those of the foot from the foot."""
    cut = len(parts)
    while cut and STYLES[parts[cut - 1].role].foot:
        cut -= 1
    top, foot = column.top, column.top + column.height - _height(parts[cut:], column.width)
    for begins, some in ((top, parts[:cut]), (foot, parts[cut:])):
        top = max(top, begins)
        for height, block in _blocks(some, column.width):
            yield from _boxes(block, replace(column, top=top, height=height))
            top += height + _GAP


def _boxes(block: Sequence[SlidePart], at: SlideFrame) -> Iterator[SlideBox]:
    first, style = block[0], STYLES[block[0].role]
    if not (style.mark and first.mark):
        yield SlideBox(at.left, at.top, at.width, at.height, style, tuple(block))
        return
    is_branch = first.role == "branch"
    word = first.mark if is_branch else first.label
    if word:
        look = RoleStyle(28 if is_branch else 24, at.height, bold=True)
        mark = (SlidePart("letter" if is_branch else "signal", word, mark=first.mark),)
        yield SlideBox(at.left, at.top, style.mark, at.height, look, mark)
    words = (first if is_branch else replace(first, label=""),)
    yield SlideBox(at.left + style.mark, at.top, at.width - style.mark, at.height, style, words)

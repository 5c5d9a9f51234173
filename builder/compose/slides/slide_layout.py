"""Sets sketches on slides: one grid for all, type never below its least, what does not fit goes on a further slide.

A rail at the left holds the landmark (the number of a step, the signal of a caution); the title stands beside it, what
is shown below the title from the top, what decides (cue, call, how to avoid it) at the foot.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from builder.compose.slides.slide import PictureFrame, RoleStyle, Sketch, Slide, SlideBox, SlidePart, SlideRow
from builder.compose.slides.slide_text import lines_of, longest_word, sentences, width_of, words_in
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
_TITLES = {
    "title": ((54.0, 62.0, 3), (44.0, 52.0, 4)),
    "figure": ((32.0, 38.0, 1), (28.0, 34.0, 2)),
    "step-figure": ((32.0, 38.0, 1), (28.0, 34.0, 2)),
    "question": ((36.0, 43.0, 2), (32.0, 38.0, 3), (28.0, 34.0, 4)),
    "list": ((36.0, 43.0, 2), (32.0, 38.0, 2), (28.0, 34.0, 3)),
    "caution": ((44.0, 51.0, 1), (36.0, 43.0, 3), (32.0, 38.0, 3), (28.0, 34.0, 4)),
}
_TITLES |= {
    "map": _TITLES["figure"],
    "checklist": _TITLES["list"],
    "sources": _TITLES["list"],
    "answer": _TITLES["list"],
}
_USUAL_TITLES = ((44.0, 51.0, 2), (36.0, 43.0, 3), (32.0, 38.0, 3), (28.0, 34.0, 4))
_GUARDED_TITLES = ((32.0, 38.0, 1), (28.0, 34.0, 3))
"""With cautions above it a title is smaller, so that danger and sign to go on stand on the slide of their step."""
_FRAME_PAD = 30.0
_CONTINUED = re.compile(r" \(continued(?: (\d+))?\)$")


class TooLong(Exception):
    """Words that fit on no slide; ``id`` is that of the sketch."""

    def __init__(self, id: str, text: str) -> None:
        super().__init__(text)
        self.id = id
        self.text = text


EYEBROW = RoleStyle(24, 30)
STYLES = {
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


def slides_of(sketch: Sketch) -> tuple[Slide, ...]:
    """Return the slide of ``sketch``, followed by further ones for what does not fit on it.

    Raises TooLong where a word or a sentence fits on no slide.
    """
    slides: list[Slide] = []
    rest: Sketch | None = sketch
    while rest is not None:
        slide, rest = _filled(rest, len(slides))
        slides.append(slide)
    return tuple(slides)


def fits(sketch: Sketch) -> bool:
    """Tell whether all of ``sketch`` stands on one slide."""
    try:
        return len(slides_of(sketch)) == 1
    except TooLong:
        return False


def _filled(sketch: Sketch, turn: int) -> tuple[Slide, Sketch | None]:
    """Return a slide with as much of ``sketch`` as it takes, and what is left (None: nothing)."""
    title, over = _title(sketch)
    above, foot = _across(sketch, "caution", TOP + 38.0)  # on the slide of its step, and read first
    if above:
        title = replace(title, top=foot + 12.0)
    band, foot = _across(sketch, "reminder" if sketch.picture else "", title.top + title.height + _GAP)
    if not band:
        foot -= _GAP
    parts = [*(SlidePart("lead", text) for text in over), *sketch.without("caution", *(box.role for box in band))]
    column = _column(sketch, title, foot)
    if sketch.picture and sketch.kind != "map" and column.height < _LEAST_PLATE:
        raise TooLong(sketch.id, title.rows[0].text)
    words = sum(words_in(row.text) for box in (*above, title, *band) for row in box.rows)
    taken, left = _taken(parts, column, _MOST_ON.get(sketch.kind, MOST_WORDS) - words)
    if parts and not taken:
        raise TooLong(sketch.id, parts[0].text)
    slide = Slide(
        kind=sketch.kind,
        id=sketch.id if turn == 0 else f"{sketch.id}--{turn + 1}",
        title=title.rows[0].text,
        boxes=(*_heads(sketch), *above, title, *band, *_stacked(taken, column)),
        critical=sketch.critical,
        signal=sketch.signal,
        picture=sketch.picture,
        frame=_plate(sketch, foot) if sketch.picture else None,
    )
    return slide, _continued(sketch, left) if left else None


def _across(sketch: Sketch, role: str, top: float) -> tuple[tuple[SlideBox, ...], float]:
    """Return the boxes of the parts of ``role`` that stand across the slide from ``top``, and where the room below
    them begins."""
    parts = sketch.parts_of(role)
    room = PictureFrame(RAIL, top, RIGHT - RAIL, FOOT)
    height = _height(parts, room)
    return tuple(_stacked(parts, replace(room, height=height))), top + height


def _taken(parts: Sequence[SlidePart], column: PictureFrame, words: int) -> tuple[list[SlidePart], list[SlidePart]]:
    """Part ``parts`` into those that stand in ``column``, with at most ``words`` words, and those that do not."""
    taken: list[SlidePart] = []
    for at, part in enumerate(parts):
        count = _words(part)
        if count <= words and _height([*taken, part], column) <= column.height:
            taken.append(part)
            words -= count
            continue
        head, tail = _parted(part, taken, column, words)
        return [*taken, *head], [*tail, *parts[at + 1 :]]
    return taken, []


def _continued(sketch: Sketch, left: Sequence[SlidePart]) -> Sketch:
    before = _CONTINUED.search(sketch.title)
    turn = f" {int(before[1] or 1) + 1}" if before else ""
    title = sentences(_CONTINUED.sub("", sketch.title))[0]
    return replace(
        sketch, title=gettext("%(title)s (continued%(turn)s)", title=title, turn=turn), parts=tuple(left), picture=None
    )


def _words(part: SlidePart) -> int:
    """Return how many words there are to read: a source, the name of a pointer or the letter of an answer is none."""
    if part.role in ("legend", "source"):
        return 0
    return words_in(part.text) + (0 if STYLES[part.role].indent else words_in(part.label))


def _parted(
    part: SlidePart, taken: Sequence[SlidePart], column: PictureFrame, words: int
) -> tuple[list[SlidePart], list[SlidePart]]:
    """Part ``part`` at a sentence so that its first half stands behind ``taken``; nothing of it where none does."""
    said = sentences(part.text)
    for cut in range(len(said) - 1, 0, -1):
        head = replace(part, text=" ".join(said[:cut]))
        if _words(head) <= words and _height([*taken, head], column) <= column.height:
            return [head], [replace(part, text=" ".join(said[cut:]))]
    # What stands in one sentence and has too many words for any slide is shown by itself rather than not at all.
    if not taken and len(said) == 1 and words >= _FEWEST and _height([part], column) <= column.height:
        return [part], []
    return [], [part]


def _title(sketch: Sketch) -> tuple[SlideBox, list[str]]:
    """Return the title in the largest type in which it is short enough, and the sentences that it cannot hold."""
    left = LEFT + _FRAME_PAD if sketch.kind == "caution" else LEFT if sketch.kind == "title" else RAIL
    width = (RIGHT - _FRAME_PAD if sketch.kind == "caution" else RIGHT) - left
    top = {"caution": TOP + 84.0, "title": TOP + 54.0}.get(sketch.kind, TOP + 34.0)
    said = sentences(sketch.title)
    for cut in range(len(said), 0, -1):
        text = " ".join(said[:cut])
        guarded = sketch.parts_of("caution")
        for pt, leading, most in _GUARDED_TITLES if guarded else _TITLES.get(sketch.kind, _USUAL_TITLES):
            lines = lines_of(text, pt, width, bold=True)
            if lines <= most and longest_word(text, pt, bold=True) <= width:
                style = RoleStyle(pt, leading, bold=True)
                box = SlideBox("title", left, top, width, lines * leading, style, (SlideRow(text),))
                return box, said[cut:]
    raise TooLong(sketch.id, sketch.title)


def _column(sketch: Sketch, title: SlideBox, below: float) -> PictureFrame:
    """Return the room ``below`` title and band, beside the picture where there is one."""
    top = 316.0 if sketch.kind == "title" else below + (_OVER_PLATE if sketch.picture else 26.0)
    left, right, foot = title.left, RIGHT, FOOT
    if sketch.kind == "caution":
        right, foot = RIGHT - _FRAME_PAD, FOOT - 24.0
    if sketch.kind == "sources":
        left = LEFT
    elif sketch.picture and sketch.kind == "map":
        top, left = top + _plate(sketch, below).height, LEFT
    elif sketch.picture:
        plate = _plate(sketch, below)
        left = LEFT + min(plate.width, plate.height * sketch.picture.aspect) + 28.0
    return PictureFrame(left, top, right - left, foot - top)


def _plate(sketch: Sketch, below: float) -> PictureFrame:
    top = below + _OVER_PLATE
    if sketch.kind == "map" and sketch.picture:  # across the slide, with words below it
        return PictureFrame(LEFT, top, RIGHT - LEFT, min(FOOT - top, (RIGHT - LEFT) / sketch.picture.aspect))
    return PictureFrame(LEFT, top, _PLATE, FOOT + 4.0 - top)


def _heads(sketch: Sketch) -> Iterator[SlideBox]:
    """Yield what stands before the title: the landmark of the rail, the eyebrow, the signal."""
    eyebrow = (SlideRow(sketch.eyebrow),)
    if sketch.kind == "caution":
        yield SlideBox("eyebrow", LEFT + 262.0, TOP + 17.0, RIGHT - LEFT - 290.0, 30.0, EYEBROW, eyebrow)
        word = (SlideRow(sketch.mark),)
        yield SlideBox("signal", LEFT, TOP, 240.0, 64.0, RoleStyle(30, 64, bold=True), word, sketch.signal)
    elif sketch.kind == "title":
        yield SlideBox("eyebrow", LEFT, TOP + 10.0, RIGHT - LEFT, 30.0, EYEBROW, eyebrow)
    else:
        if sketch.mark:
            width = max(72.0, width_of(sketch.mark, 30, bold=True) + 22.0)
            role = "critical" if sketch.critical else "number"
            style = RoleStyle(30, 56, bold=True)
            yield SlideBox(role, LEFT, TOP + 4.0, width, 56.0, style, (SlideRow(sketch.mark),), sketch.mark)
        yield SlideBox("eyebrow", RAIL, TOP, RIGHT - RAIL, 30.0, EYEBROW, eyebrow)


def _blocks(parts: Sequence[SlidePart]) -> Iterator[tuple[RoleStyle, list[SlidePart]]]:
    """Yield the parts by the box that they share."""
    block: list[SlidePart] = []
    for part in parts:
        if block and not (part.role == block[0].role and STYLES[part.role].many):
            yield STYLES[block[0].role], block
            block = []
        block.append(part)
    if block:
        yield STYLES[block[0].role], block


def _height(parts: Sequence[SlidePart], column: PictureFrame) -> float:
    blocks = list(_blocks(parts))
    return sum(_tall(style, block, column.width) for style, block in blocks) + _GAP * max(0, len(blocks) - 1)


def _tall(style: RoleStyle, block: Sequence[SlidePart], width: float) -> float:
    inner = width - style.mark - style.pad[0] - style.pad[2] - style.indent
    rows = sum(_row_lines(style, part, inner) for part in block)
    labels = sum(bool(part.label) for part in block) * 31.0 if style.above else 0.0
    return style.pad[1] + rows * style.leading + labels + style.gap * (len(block) - 1) + style.pad[3]


def _row_lines(style: RoleStyle, part: SlidePart, inner: float) -> int:
    stands_apart = style.above or style.indent or (style.mark and part.mark)
    inline = f"{part.label} " if part.label and not stands_apart else ""
    return lines_of(inline + part.text, style.pt, inner, bold=style.bold or bool(inline))


def _stacked(parts: Sequence[SlidePart], column: PictureFrame) -> Iterator[SlideBox]:
    """Yield the boxes of ``parts``: from the top, those of the foot from the foot."""
    blocks = list(_blocks(parts))
    at_foot = next((at for at in range(len(blocks)) if all(style.foot for style, _ in blocks[at:])), len(blocks))
    top = column.top
    for at, (style, block) in enumerate(blocks):
        if at == at_foot:
            below = [part for _, some in blocks[at:] for part in some]
            top = max(top, column.top + column.height - _height(below, column))
        height = _tall(style, block, column.width)
        yield from _boxes(style, block, replace(column, top=top, height=height))
        top += height + _GAP


def _boxes(style: RoleStyle, block: Sequence[SlidePart], at: PictureFrame) -> Iterator[SlideBox]:
    role, mark = block[0].role, block[0].mark
    left, width = at.left, at.width
    if style.mark and mark:
        shown = "letter" if role == "branch" else "signal"
        word = mark if role == "branch" else block[0].label
        if word:
            look = RoleStyle(28 if shown == "letter" else 24, at.height, bold=True)
            yield SlideBox(shown, left, at.top, style.mark, at.height, look, (SlideRow(word),), mark)
        left, width = left + style.mark, width - style.mark
    rows = tuple(SlideRow(part.text, "" if style.mark and role != "branch" else part.label) for part in block)
    yield SlideBox(role, left, at.top, width, at.height, style, rows, mark)

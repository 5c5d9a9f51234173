"""One limit of one thing is the same in every text of a procedure: a hole wider than 2 cm here, than 2 mm there."""

from collections import defaultdict
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.facts.texts import TextPiece, corpus
from builder.facts.told_limits import Limit, limits_in
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library


@finds("limit-told-otherwise", piecewise=True)
def limit_told_otherwise(library: Library) -> Iterator[Hit]:
    """Yield each limit that another text of the same procedure sets elsewhere, or of which it means the other side."""
    texts = corpus(library)
    pieces = {piece.start: piece for piece in map(texts.piece, texts.where((" than ",)))}
    told: dict[str, list[tuple[Limit, TextPiece]]] = defaultdict(list)
    for piece in pieces.values():
        before = told[str(piece.home.id) if piece.home is not None else piece.page.file]
        here = [(limit, piece) for limit in limits_in(texts.whole[piece.start : texts.end(piece.start)])]
        pair = next(((one, other) for one, _ in here for other in before if one.differs(other[0])), None)
        before.extend(here)
        if pair is not None:
            limit, (other, elsewhere) = pair
            message = f"{quoted(limit.said)} is said here, but {quoted(other.said)} is said as well"
            also = (SecondPlace(elsewhere.place(elsewhere.start + other.begin), "the other limit"),)
            hint = "Write which of the two is right, in both places."
            yield Hit(piece.place(piece.start + limit.begin), message, hint, also)

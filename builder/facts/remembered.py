"""Working out once what several checks or outputs ask of the same Library."""

from collections.abc import Callable
from functools import wraps
from typing import TypeVar, TypeVarTuple

from builder.model.library import Library

T = TypeVar("T")
Arguments = TypeVarTuple("Arguments")


def once_per_library(work: Callable[[Library, *Arguments], T]) -> Callable[[Library, *Arguments], T]:
    """Remember with a Library what ``work`` returns for it and the same further arguments.

    A Library is frozen, so the answer cannot grow stale, and it is forgotten together with the Library.
    """

    @wraps(work)
    def remembered(library: Library, /, *more: *Arguments) -> T:
        # Mostly there is one more, and its key takes half the time.
        key = (work, id(more[0])) if len(more) == 1 else (work, *map(id, more))  # type: ignore[misc]  # there is one
        kept = library.remembered.get(key)
        if kept is None:
            # The arguments are kept beside the answer, so that no other object can be given one of their ids.
            kept = library.remembered[key] = (more, work(library, *more))
        answer: T = kept[1]
        return answer

    return remembered


def once_per_department(work: Callable[[Library], T]) -> Callable[[Library], T]:
    """Remember what ``work`` returns for the whole of which a Library is a part; for each part it is the same."""
    remembered = once_per_library(work)

    @wraps(work)
    def of_whole(library: Library) -> T:
        return remembered(library.within or library)

    return of_whole


def once_per_text(work: Callable[[Library, str, *Arguments], T]) -> Callable[[Library, str, *Arguments], T]:
    """Remember with a Library what ``work`` returns for a text and the same further arguments.

    What the text says counts, not where it stands: several rules read it, and procedures have steps in common.
    """

    @wraps(work)
    def remembered(library: Library, text: str, /, *more: *Arguments) -> T:
        key = (work, text, *map(id, more))
        kept = library.remembered.get(key)
        if kept is None:
            kept = library.remembered[key] = (more, work(library, text, *more))
        answer: T = kept[1]
        return answer

    return remembered

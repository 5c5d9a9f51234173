"""A vessel that is divided has two ends, and both bleed.

Asked only where it is said to be shut once: with one clip, with a single tie. Where something is taken out, the other
end may go with it.
"""

import re
from collections import defaultdict
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.rules.prose_and_actions import ids_in
from builder.facts.anatomy import Anatomy, anatomy
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.action import CONTROLS, Action, Verb
from builder.model.library import Library
from builder.model.pages import ItemKind, Procedure, Step, StructureKind

_SHUTS = CONTROLS | {Verb.CLAMP}
_ONCE = re.compile(
    r"\b(?:clip|tie|ligate|clamp)\b[^.;,]*\bonce(?=\s*(?:[.,;]|$)|\s+(?:and|close|near|with|on|above|below|beyond|at)\b)|"
    r"\b(?:a single|one|only one) (?:\w+ )?(?:clip|tie|ligature|clamp|stitch)\b",
    re.IGNORECASE,
)


@finds("one-end-left-open", piecewise=True)
def one_end_left_open(library: Library) -> Iterator[Hit]:
    """Yield each vessel that is divided and said to be shut once."""
    catalogues = anatomy(library)
    for procedure in library.procedures:
        actions = [action for step in procedure.steps.values() for action in step.actions]
        if any(action.verb is Verb.DIVIDE for action in actions) and not any(
            action.verb is Verb.EXCISE for action in actions
        ):
            yield from _of_procedure(library, procedure, catalogues)


def _of_procedure(library: Library, procedure: Procedure, catalogues: Anatomy) -> Iterator[Hit]:
    shutting: dict[str, list[tuple[Step, Action]]] = defaultdict(list)
    for step in procedure.steps.values():
        for action, ids in zip(step.actions, ids_in(library, step), strict=True):
            if action.verb in _SHUTS or _lays_clip(action, catalogues):
                for id in ids:
                    shutting[id].append((step, action))
    for step in procedure.steps.values():
        for action in step.actions:
            if action.verb is not Verb.DIVIDE or catalogues.sealed_with(action):
                continue
            for name in action.objects:
                vessel = catalogues.structure(name)
                ways = shutting[vessel.id] if vessel is not None and vessel.kind is StructureKind.VESSEL else []
                if len(ways) == 1 and _is_once(*ways[0]):
                    message = f"{quoted(name)} is divided, but it is shut once: the other end bleeds"
                    hint = "Write how both ends are shut, or accept this with the reason why one is enough."
                    yield Hit(name.at, message, hint, (SecondPlace(ways[0][1].at, "shut here"),))


def _is_once(step: Step, action: Action) -> bool:
    """Tell whether ``action`` of ``step`` is said to shut a vessel once."""
    said = action.number == 1 and "number" in action.model_fields_set
    return said or any(_ONCE.search(text) is not None for text in (step.title, step.body.shown))


def _lays_clip(action: Action, catalogues: Anatomy) -> bool:
    laid = (catalogues.item(name) for name in action.objects) if action.verb is Verb.PLACE else ()
    return any(item is not None and item.kind is ItemKind.CLIP for item in laid)

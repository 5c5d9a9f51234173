"""Pages of a procedure whose look a department changed: they say so in view, or are refused where it is approved."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from builder.compose.document import Must, Renderer
from builder.compose.site.own_look import LOOK_CHANGED, refusal
from builder.findings.finding import Refused
from builder.load.program_words import gettext
from builder.model.pages import Procedure, Status


def own_page(
    procedure: Procedure, renderer: Renderer, name: str, sheet: str, values: Mapping[str, Any]
) -> tuple[str, tuple[Must, ...]]:
    """Return the template ``name`` filled with ``values``, whose style is ``sheet``, and what else it must show.

    ``values`` has the ``marks`` of the page, or its ``head``. Raises Refused as ``Renderer.render`` does, and where the
    look of an approved procedure is not ours.
    """
    html = renderer.render(name, **values)
    if not renderer.look.touches(html, renderer.shipped(name, html, values), sheet):
        return html, ()
    if procedure.status is Status.APPROVED:
        why = "is approved, and the department's own templates change how its page looks"
        raise Refused(refusal(procedure, why))
    marked = dict(values)
    if "marks" in values:
        marked["marks"] = [*values["marks"], gettext(LOOK_CHANGED)]
    else:
        head = values["head"]
        marked["head"] = replace(head, mark=". ".join(filter(None, (head.mark, gettext(LOOK_CHANGED)))))
    html = renderer.render(name, **marked)
    if renderer.look.hides_marks(html, sheet):
        raise Refused(
            refusal(procedure, "has a page on which the department's own style sheet may hide the mark of a draft")
        )
    return html, (Must("look", "look", gettext(LOOK_CHANGED)),)

"""Who orders to call says whom: on the page itself, and the same person as the caution for the same trouble."""

import re
from collections.abc import Iterator

from builder.check.hit import Hit, finds
from builder.check.rules.caution_words import cautions_of
from builder.facts.stems import stems
from builder.facts.walk import pages
from builder.findings.finding import SecondPlace
from builder.findings.message_words import quoted
from builder.model.library import Library
from builder.model.pages import Caution, Step
from builder.place import Text

_CALLS = re.compile(
    r"(?<!\bthe )(?<!\ba )(?<!\bon )(?<!\bnot )\bcall(?: for help| help| now| at once| early| first| again)?"
    r"(?=\s*(?:[.,;:]|$|(?:and|then|before|while|if)\b))",
    re.IGNORECASE,
)
_WHO = re.compile(
    r"\b(?:surgeons?|anaesthetists?|consultants?|registrars?|nurses?|midwi(?:fe|ves)|teams?|coordinators?|obstetricians?|"
    r"paediatricians?|neonatologists?|physicians?|urologists?|radiologists?|cardiologists?|doctors?|seniors?|bank|"
    r"ambulance|switchboard|[0-9]{3,})\b",
    re.IGNORECASE,
)
_SENTENCE = re.compile(r"[^.;!?]+")
_PARTS = re.compile(r"[,.;]|\bor\b|\band\b")
_TROUBLE = re.compile(r"\s*(?:(?:if|where|when)\s+)?(?P<what>[^-,:]+)(?:,| -|:)\s", re.IGNORECASE)
_ALIKE = 2
"""Words that a trouble and a sign of a caution have in common where they are taken for the same."""


@finds("call-without-role", piecewise=True)
def call_without_role(library: Library) -> Iterator[Hit]:
    """Yield each order to call that names nobody, on a page without ``call:``."""
    for _, page in pages(library):
        for text in _orders(page) if isinstance(page, Step | Caution) and page.call is None else ():
            match = _bare_call(library, text)
            if match is not None:
                message = f"{quoted(match.group())} is ordered here, but nothing says whom to call"
                yield Hit(text.at, message, "Add `call:` with a role, or name the role in the text.")


@finds("two-roles-to-call", piecewise=True)
def two_roles_to_call(library: Library) -> Iterator[Hit]:
    """Yield each order to call at the trouble of a caution, where step and caution call different people."""
    for procedure in library.procedures:
        for step in procedure.steps.values():
            text = step.if_not if step.call is not None else None
            if text is None or _bare_call(library, text) is None:
                continue
            for caution in cautions_of(procedure, step):
                trouble = _shared_trouble(text, caution)
                if caution.call is None or caution.call == step.call or not trouble:
                    continue
                message = (
                    f"{quoted(trouble)} calls the {step.call} here, but the caution for it calls the {caution.call}"
                )
                also = (SecondPlace(caution.call.at, "whom the caution calls"),)
                yield Hit(
                    text.at, message, "Name in the text whom to call for this, or write the same role twice.", also
                )
                break


def _orders(page: Step | Caution) -> Iterator[Text]:
    texts = (page.if_not, page.recovery) if isinstance(page, Step) else (page.if_it_happens,)
    return (text for text in texts if text is not None)


def _bare_call(library: Library, text: Text) -> re.Match[str] | None:
    """Return the order to call in ``text``, where it names no role at all."""
    match = _CALLS.search(text) if "all" in text else None
    if match is None or _WHO.search(text):
        return None
    small = text.casefold()
    return None if any(call.role.casefold() in small for call in library.department.call) else match


def _shared_trouble(text: Text, caution: Caution) -> str:
    """Return the trouble at which ``text`` orders to call and that is a sign or the hazard of ``caution``, or ""."""
    known = [words for part in _PARTS.split(f"{caution.sign or ''}, {caution.hazard}") if (words := stems(part))]
    for sentence in _SENTENCE.findall(text):
        trouble = _TROUBLE.match(sentence) if _CALLS.search(sentence) else None
        words = stems(trouble["what"]) if trouble is not None else frozenset()
        if trouble is not None and any(
            len(words & sign) >= _ALIKE and (words <= sign or sign <= words) for sign in known
        ):
            return str(trouble["what"].strip())
    return ""

"""Questions whose answers are deeds out of one text of the module: which would be a mistake, and in which order."""

import re
from collections.abc import Iterator, Sequence

from builder.compose.selftest.gaps import Saying
from builder.compose.selftest.question import MISTAKE, Draft, Question, Reply, mixed
from builder.compose.selftest.taught import Taught, does, head
from builder.compose.slides.slide_text import joined
from builder.compose.view.head import CallView, call_of
from builder.compose.view.outline import Branch, ChoiceBlock, StepBlock, every_block
from builder.compose.view.words import branch_label, item_name, series, step_words, uncapital
from builder.facts.imperatives import VERBS
from builder.findings.message_words import capital
from builder.load.program_words import gettext
from builder.model.action import Verb
from builder.model.pages import Signal
from builder.model.sequence import StepEntry

_SENTENCE = re.compile(r"(?<=[.;!?])\s+")
_PIECE = re.compile(r",\s+(?:and\s+|then\s+)?|\s+and\s+(?=[a-z])")
_FORBIDS = re.compile(r"^(?:do not|never)\s+(?P<deed>.+)$", re.IGNORECASE)
_NONE = re.compile(r"^(?:(?P<verb>Put|Put in|Take|Place) )?no (?P<thing>[^,]+?)(?: - .+)?$", re.IGNORECASE)
_AFTER_CONDITION = re.compile(r" - (\w*)")
_PUT = {"clamp": "Put on", "stitch": "Put in"}
_SAFE = re.compile(r"^(?:call|press|scan|wait|stop)\b", re.IGNORECASE)
"""So cautious that it cannot be the mistake."""
_LEAVE_IN = re.compile(r"^leave (?P<thing>the [a-z]+) in\b(?! place)", re.IGNORECASE)
_NO_ANSWER = re.compile(r"^(?:see|look|if|when)\b", re.IGNORECASE)
"""Who looks makes no mistake, and what is done on a condition answers no question without it."""
_WAITS = re.compile(r"^do not wait\b", re.IGNORECASE)
_BY_CASE = re.compile(r"^(?P<case>\w+)[^-]* - ")
"""What such a text orders depends on the case that it names, which the question does not tell."""
_ON_CONDITION = re.compile(r"(?:if|when|no time)\b", re.IGNORECASE)
_DEPENDS = re.compile(r"\b(?:until|unless|if|before|rather|when|let|unseen|blind(?:ly)?|what)\b", re.IGNORECASE)
"""What such a prohibition forbids cannot be said without its condition or its thing, or condemns itself."""
_NEXT = re.compile(r"^(?:then|next)\s+", re.IGNORECASE)
_LEAST_WORDS, _LEAST_DEEDS, _MOST_IN_ORDER, _ONE_DEED = 2, 3, 7, 9


def mistakes(taught: Taught) -> Iterator[Draft]:
    """Ask which deed would be a mistake: what a text forbids, among what the same text orders."""
    for caution in taught.cautions:
        asks = joined(f"{caution.hazard}.", str(caution.sign or ""), gettext("Which of these would be a mistake now?"))
        proof = f"{caution.hazard}: {uncapital(str(caution.consequence))}"
        blocks = taught.guarded(caution)
        about = (str(caution.id), *(str(block.step.id) for block in blocks if len(blocks) == 1))
        # Not to wait is said of the trouble itself, wherever it is said.
        waits = [f"{piece}." for piece in pieces(str(caution.avoid)) if _WAITS.match(piece)]
        text, anchor = joined(str(caution.if_it_happens or ""), *waits), f"caution-{caution.id}"
        saying = Saying(f"mistake-{caution.id}", asks, text, proof, anchor, about, tuple(blocks))
        yield from _mistake(taught, saying, call_of(taught.library, caution.call))
    for block in taught.blocks:
        step, cue = block.step, uncapital(str(block.step.cue))
        asks = gettext(
            "%(block)s Go on when: %(cue)s You do not find this. Which of these would be a mistake now?",
            block=head(block),
            cue=cue,
        )
        text, why, about = str(step.if_not or ""), str(step.why or ""), (str(step.id),)
        saying = Saying(f"mistake-{step.id}", asks, text, why, block.anchor, about, (block,))
        yield from _mistake(taught, saying, call_of(taught.library, step.call))


def _mistake(taught: Taught, saying: Saying, call: CallView | None) -> Iterator[Draft]:
    deeds: list[str] = []
    turned: list[str] = []
    for piece in pieces(saying.text):
        if (case := _BY_CASE.match(piece)) and case["case"].casefold() not in VERBS:
            return
        if _forbids(piece) or _LEAVE_IN.match(piece):
            turned += _done_all_the_same(piece, deeds)
        elif len(piece.split()) >= _LEAST_WORDS and not _NEXT.match(piece) and not _NO_ANSWER.match(piece):
            deeds.append(capital(piece))
    for wrong in turned[:1]:
        # What is done nowhere in the operation condemns itself by its name: there is no fair question then.
        if all(map(_SAFE.match, deeds)) or wrong.split()[0].casefold() not in _done(taught):
            deeds = []
        replies = [
            Reply(deed, gettext("That is right here. %(text)s", text=saying.text)) for deed in dict.fromkeys(deeds)
        ]
        if call and not any(deed.startswith("Call ") for deed in deeds):
            replies.append(
                Reply(
                    gettext("Call the %(role)s", role=call.role),
                    gettext("That is right here. Call: %(role)s, %(number)s.", role=call.role, number=call.number),
                )
            )
        proof = joined(saying.text, saying.proof)
        yield Draft(saying.id, MISTAKE, saying.lead, wrong, tuple(replies), proof, saying.anchor, saying.about)


def _done(taught: Taught) -> set[str]:
    """Return the verbs of what is done in the procedure, and of what is ordered when something goes wrong."""
    steps = [block.step for block in taught.blocks]
    texts = [text for step in steps for text in (step.if_not, step.recovery, step.body.shown)]
    texts += [text for caution in taught.cautions for text in (caution.avoid, caution.if_it_happens)]
    ordered = {piece.split()[0].casefold() for text in texts for piece in pieces(str(text or "")) if piece.strip()}
    return ordered | {action.verb.value for step in steps for action in step.actions}


def pieces(text: str) -> Iterator[str]:
    """Yield the single deeds that ``text`` orders or forbids, without their full stops."""
    for sentence in _SENTENCE.split(text):
        plain = sentence.rstrip(".;!? ")
        start = 0
        for joint in () if _ON_CONDITION.match(plain) or _LEAVE_IN.match(plain) else _PIECE.finditer(plain):
            rest = plain[joint.end() :]
            if re.split(r"\W", rest.casefold(), maxsplit=1)[0] in VERBS or _FORBIDS.match(rest):
                yield plain[start : joint.start()]
                start = joint.end()
        yield plain[start:]


def _forbids(piece: str) -> bool:
    return bool(_FORBIDS.match(piece) or re.search(r"\b(?:no|nothing|never|not)\b", piece, re.IGNORECASE))


def _done_all_the_same(piece: str, deeds: Sequence[str]) -> Iterator[str]:
    """Yield what is done where one does what ``piece`` forbids, where that can be said in few plain words."""
    if _DEPENDS.search(piece):
        return
    elif match := _LEAVE_IN.match(piece):
        yield f"Take {match['thing']} out"
    elif match := _FORBIDS.match(piece):
        thing = re.search(r"\bthe [a-z]+(?= out\b| in\b|$)", deeds[-1]) if deeds else None
        deed = match["deed"]
        deed = re.sub(r"\bit$", thing.group(), deed) if thing else deed
        yield from [capital(deed)] if len(deed.split()) >= _LEAST_WORDS else []
    elif match := _NONE.match(piece):
        noun = next((noun for noun in _PUT if noun in match["thing"].split()), "")
        verb = match["verb"] or (_PUT.get(noun) if match["thing"].endswith(noun) else "Put")
        yield from [f"{capital(str(verb))} a {match['thing']}"] if noun or match["verb"] else []


def emergencies(taught: Taught) -> Iterator[Question]:
    """Ask for the order of what is done in an emergency that is told in three sentences or more with "next" or "then".
    What a semicolon joins is done by two people at once."""
    for caution in taught.cautions:
        act = str(caution.if_it_happens or "")
        sentences = [part.rstrip(".") for part in _SENTENCE.split(act)]
        said = [capital(_NEXT.sub("", part)) for part in sentences]
        # Who is called last is not called too late: that order is no order.
        late = any(part.startswith("Call") for part in said[2:])
        # After its condition a deed begins with its verb, or only the condition can be told from the rest.
        bare = any(match[1] not in VERBS for part in said for match in _AFTER_CONDITION.finditer(part))
        lumped = any(
            len(part.split()) > _ONE_DEED for part in said
        )  # several deeds in one: little is left to be ordered
        loose = (
            late or bare or lumped or said[0] == "Stop" or any(_DEPENDS.search(part) or _forbids(part) for part in said)
        )
        in_turn = any(map(_NEXT.match, sentences)) and ";" not in act
        if caution.signal is Signal.DANGER and len(said) >= _LEAST_DEEDS and in_turn and not loose:
            proof = joined(act, f"{caution.hazard}: {uncapital(str(caution.consequence))}")
            asks = gettext("%(hazard)s. Put in order what is done.", hazard=caution.hazard)
            yield _ordered(f"order-{caution.id}", asks, said, proof, f"caution-{caution.id}", (str(caution.id),))


def orders(taught: Taught) -> Iterator[Question]:
    """Ask for the order of the steps between opening the skin and closing it, which every way meets in that order, and
    for the order in which things go in and out on one way."""
    on_every_way = {str(entry.step) for entry in taught.procedure.sequence if isinstance(entry, StepEntry)}
    main = [block for block in taught.blocks if block.step.id in on_every_way]
    opened = next((place for place, block in enumerate(main) if does(block, Verb.OPEN)), len(main))
    inner = main[opened + 1 : -1][-_MOST_IN_ORDER:]
    if len(inner) > _LEAST_DEEDS:
        proof = gettext(
            "Every way meets them in this order: steps %(steps)s.", steps=series([block.number for block in inner])
        )
        about = tuple(str(block.step.id) for block in inner)
        asks = gettext("Put these steps in the order in which they are done.")
        titles = [str(block.step.title) for block in inner]
        yield _ordered(f"order-{inner[-1].step.id}", asks, titles, proof, inner[0].anchor, about)
    for choice in (block for block in every_block(taught.outline) if isinstance(block, ChoiceBlock)):
        for branch in choice.branches:
            yield from _in_and_out(taught, choice, branch)


def _in_and_out(taught: Taught, choice: ChoiceBlock, branch: Branch) -> Iterator[Question]:
    blocks = [block for block in branch.blocks if isinstance(block, StepBlock) and block in taught.blocks]
    deeds = [
        f"{action.verb.value.capitalize()} the {series([item_name(taught.library, name) for name in action.objects])}"
        for block in blocks
        for action in block.step.actions
        if action.verb in {Verb.PLACE, Verb.REMOVE}
    ]
    if len(set(deeds)) == len(deeds) > _LEAST_DEEDS + 1:
        said = deeds[:_MOST_IN_ORDER]
        numbers = step_words([block.number for block in blocks])
        asks = gettext(
            "%(title)s: %(name)s. Put in order what goes in and what comes out.",
            title=choice.title,
            name=uncapital(branch_label(branch.name)),
        )
        about = tuple(str(block.step.id) for block in blocks)
        yield _ordered(
            f"order-{choice.id}-{branch.name}",
            asks,
            said,
            gettext("%(numbers)s tell it in this order.", numbers=numbers),
            blocks[0].anchor,
            about,
        )


def _ordered(  # noqa: PLR0913, PLR0917  # a question is all of these
    id: str, asks: str, said: Sequence[str], proof: str, anchor: str, about: tuple[str, ...]
) -> Question:
    shown = mixed(said, id)
    shown = shown if shown != list(said) else shown[::-1]
    told = tuple(gettext("This is number %(part)s.", part=list(said).index(part) + 1) for part in shown)
    return Question(id, gettext("Put in order"), "order", asks, tuple(shown), tuple(said), told, proof, anchor, about)

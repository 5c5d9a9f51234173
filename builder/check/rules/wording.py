"""Error-prone abbreviations and dose notations, by the wording packs of the department's country."""

from collections.abc import Callable, Iterator

from builder.check.hit import Hit, finds
from builder.facts.texts import corpus
from builder.facts.wordings import packs_of, wordings
from builder.findings.message_words import listed, quoted
from builder.load.packs import Pack, WordingRule, pack
from builder.load.program_words import language_of, languages
from builder.model.library import Library


def _checked(check: str) -> Callable[[Library], Iterator[Hit]]:
    def rule(library: Library) -> Iterator[Hit]:
        texts = corpus(library)
        for one in wordings(library):
            if one.rule.check == check:
                source = pack(one.rule.pack).source(one.rule)
                message = f"{quoted(one.found)}: {one.rule.why} ({source})"
                yield Hit(texts.place(one.start), message, f"Write `{one.edit or one.write}`.")

    return rule


for _name in (
    "unit-abbreviated", "trailing-zero", "naked-decimal", "unit-without-space", "directions-abbreviated",
    "drug-name-abbreviated", "zeros-without-separator", "smaller-unit-needed", "notation-unclear",
):  # fmt: skip
    finds(_name, piecewise=True)(_checked(_name))


@finds("wording-packs-in-conflict")
def packs_in_conflict(library: Library) -> Iterator[Hit]:
    """Yield what one pack of the department asks for and another does not want, and a pack of another language."""
    if library.is_broken("department", "department"):
        return
    department = library.department
    packs = packs_of(library)
    at = department.where.value("wording")
    for one in packs:
        others = [other for other in packs if other is not one]
        for found, write, other, rule in _conflicts(one, others):
            message = (
                f"{quoted(write)} is what the wording pack `{one.name}` asks for instead of {quoted(found)}, "
                f"and the pack `{other.name}` rejects it ({other.source(rule)})"
            )
            yield Hit(at, message, "Name one pack in `wording:` of content/department.md.")
    language = str(department.language)
    if packs and not any(language in one.languages for one in packs) and language.startswith("en-"):
        message = f"{quoted(packs[0].name)} is the wording of {packs[0].title}, but the language is {language}"
        yield Hit(at, message, "Make `wording:` and `language:` in content/department.md name the same country.")


@finds("language-unknown")
def no_words_for_it(library: Library) -> Iterator[Hit]:
    """Yield a language of the department that the program does not speak."""
    language = library.department.language
    if language_of(language) not in languages():
        message = f"{quoted(language)} is no language that this program has words for"
        known = listed([f"`{name}`" for name in languages()], "or")
        hint = f"Write {known}, if need be with a country, such as `en-GB`. Your own text may be in any language."
        yield Hit(library.department.where.value("language"), message, hint)


def _conflicts(one: Pack, others: list[Pack]) -> Iterator[tuple[str, str, Pack, WordingRule]]:
    for section in ("units", "after_dose", "words"):
        for wanted in dict.fromkeys(getattr(one, section).values()):
            for other in others:
                rule = getattr(other, section).get(wanted.write)
                if rule is not None:
                    yield wanted.found[0], wanted.write, other, rule

"""The findings of the path analysis, each picked out of the one analysis that they share."""

from collections.abc import Iterator

from builder.check.hit import Hit, Rule, finds
from builder.check.paths.analysis import STUDIED, hits
from builder.model.library import Library


def _rule(name: str) -> Rule:
    def rule(library: Library) -> Iterator[Hit]:
        yield from hits(library)[name]

    return rule


for _name in STUDIED:
    finds(_name, piecewise=True)(_rule(_name))

"""Findings as text for a terminal, as JSON and as SARIF. Each takes the findings and returns the whole output."""

from collections.abc import Callable, Mapping, Sequence

from builder.commands.formats import json, sarif, terminal
from builder.findings.finding import Finding

Format = Callable[[Sequence[Finding]], str]

FORMATS: Mapping[str, Format] = {"text": terminal.render, "json": json.render, "sarif": sarif.render}
"""The forms in which findings can be had, by the word the command line takes."""

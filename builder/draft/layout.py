"""Takes a source apart: which part of it is what."""

from __future__ import annotations

from builder.draft.parts import Layout
from builder.draft.sections import lay_text
from builder.draft.talks import lay_talk
from builder.load.draft_source import Kind, Source


def laid_out(source: Source) -> Layout:
    """Take ``source`` apart. Every sentence of it stands in exactly one place of what is returned."""
    layout = Layout()
    numbered = list(enumerate(source.passages))
    lay = lay_talk if any(one.kind is Kind.SPEECH for one in source.passages) else lay_text
    lay(numbered, layout)
    return layout

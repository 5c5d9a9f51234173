"""Takes a source apart: which part of it is what."""

from __future__ import annotations

from builder.draft.sections import lay_text
from builder.draft.source_parts import SourceParts
from builder.draft.talks import lay_talk
from builder.load.told.draft_source import PassageKind, Source


def laid_out(source: Source) -> SourceParts:
    """Take ``source`` apart. Every sentence of it stands in exactly one place of what is returned."""
    layout = SourceParts()
    numbered = list(enumerate(source.passages))
    lay = lay_talk if any(one.kind is PassageKind.SPEECH for one in source.passages) else lay_text
    lay(numbered, layout)
    return layout

"""What can stop publishing."""

from __future__ import annotations

from builder.write.lock import NotWritten


class PublishError(NotWritten):
    """Publishing stopped; the text says why and what to do. ``is_content``: the text can be mended, not the machine."""

    def __init__(self, text: str, *, is_content: bool = False) -> None:
        super().__init__(text)
        self.is_content = is_content


class WrongTarget(PublishError):
    """The folder that was named to publish to cannot be used: it holds what is not ours."""

"""What can stop publishing, and what the engines say of it."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from builder.write.lock import NotWritten


class PublishError(NotWritten):
    """Publishing stopped; the text says why and what to do. ``is_content``: the text can be mended, not the machine."""

    def __init__(self, text: str, *, is_content: bool = False) -> None:
        super().__init__(text)
        self.is_content = is_content


class WrongTarget(PublishError):
    """The folder that was named to publish to cannot be used: it holds what is not ours."""


@contextmanager
def collected(level: int, *names: str) -> Iterator[list[str]]:
    """Collect what the loggers of these ``names`` say at ``level`` or above, instead of printing it."""
    said: list[str] = []
    handler = logging.Handler(level)
    handler.emit = lambda record: said.append(record.getMessage())  # type: ignore[method-assign]
    loggers = [logging.getLogger(name) for name in names]
    before = [(logger.handlers, logger.propagate) for logger in loggers]
    for logger in loggers:
        logger.handlers, logger.propagate = [handler], False
    try:
        yield said
    finally:
        for logger, (handlers, propagate) in zip(loggers, before, strict=True):
            logger.handlers, logger.propagate = handlers, propagate

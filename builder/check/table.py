"""The ordered table of checks. A new check is a generator in ``rules/``, a row here, and a page in ``pages/``."""

from __future__ import annotations

from builder.check.hit import Check

CHECKS: tuple[Check, ...] = ()

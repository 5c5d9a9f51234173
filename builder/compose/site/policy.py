"""What a browser may do with a page: the Content-Security-Policy (W3C CSP Level 3) of the site and of single files."""

from __future__ import annotations

import base64
import hashlib


def hash_of(text: str) -> str:
    """Return the source expression that lets an inline style or script with exactly this ``text`` run."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode()}'"


def site_policy(style: str, script: str) -> str:
    """Return the policy a server sends: files of the site, and the inline ``style`` and ``script`` of single files."""
    return "; ".join((
        "default-src 'none'",
        f"script-src 'self' {hash_of(script)}",
        f"style-src 'self' {hash_of(style)}",
        "img-src 'self' data:",
        "font-src 'self' data:",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'self'",
    ))  # fmt: skip


def single_policy(style: str, script: str) -> str:
    """Return the policy that a single file carries itself: nothing is fetched, nothing but its own script runs."""
    return "; ".join((
        "default-src 'none'",
        f"script-src {hash_of(script)}",
        f"style-src {hash_of(style)}",
        "img-src data:",
        "font-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ))  # fmt: skip

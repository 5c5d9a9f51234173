"""How to host the site: a page for whoever keeps the server, the headers for nginx and Apache, and the policy.

The policy says what a browser may do with a page: the Content-Security-Policy (W3C CSP Level 3).
"""

import base64
import hashlib
from urllib.parse import urlsplit

from builder.compose.document import Renderer
from builder.compose.site.web import WebPage
from builder.load.program_words import gettext, noted
from builder.model.library import Library

FOLDER = "hosting"
_TITLE = noted("How to host this site")
_SUMMARY = noted("For whoever keeps the department’s web server, file share or sticks.")


def compose(renderer: Renderer, policy: str) -> WebPage:
    """Return the page, which shows the ``policy`` that a server sends."""
    title, summary = gettext(_TITLE), gettext(_SUMMARY)
    html = renderer.render("hosting/page.html.j2", title=title, summary=summary, policy=policy)
    return WebPage("page", title, f"{FOLDER}/index.html", html, description=summary)


def headers(library: Library, renderer: Renderer, policy: str) -> dict[str, str]:
    """Return the configuration files by path: what a server adds to each answer."""
    start = urlsplit(library.department.site or "").path.rstrip("/")
    return {
        f"{FOLDER}/{server}.conf": renderer.render(f"hosting/{server}.conf.j2", policy=policy, start=start)
        for server in ("nginx", "apache")
    }


def site_policy(script: str, *styles: str) -> str:
    """Return the policy a server sends: files of the site, and the inline ``script`` and ``styles`` of single files."""
    allowed = " ".join(map(hash_of, styles))
    sources = (("script", f"'self' {hash_of(script)}"), ("style", f"'self' {allowed}"))
    return _policy((*sources, ("img", "'self' data:"), ("font", "'self' data:")), "frame-ancestors 'self'")


def single_policy(style: str, script: str) -> str:
    """Return the policy that a single file carries itself: nothing is fetched, nothing but its own script runs."""
    sources = (("script", hash_of(script)), ("style", hash_of(style)), ("img", "data:"), ("font", "data:"))
    return _policy(sources)


def still_policy(style: str) -> str:
    """Return the policy of a single file that has its own ``style`` and nothing else."""
    return _policy((("style", hash_of(style)),))


def _policy(sources: tuple[tuple[str, str], ...], *more: str) -> str:
    allowed = (f"{kind}-src {source}" for kind, source in sources)
    return "; ".join(("default-src 'none'", *allowed, "base-uri 'none'", "form-action 'none'", *more))


def hash_of(text: str) -> str:
    """Return the source expression that lets an inline style or script with exactly this ``text`` run."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode()}'"

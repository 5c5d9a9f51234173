"""A real Chromium, a real nginx and a real Apache on loopback, for tests that must see what a reader's browser does."""

from __future__ import annotations

import os
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import axe_playwright_python
import pytest
from needs import needs

# No sandbox because CI runs as root; the rest keeps the browser from calling home, so any request seen is the page's.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WATCH = """
window.refused = [];
document.addEventListener('securitypolicyviolation', function (event) {
  window.refused.push(event.violatedDirective + ' ' + event.blockedURI + ' ' + event.sample);
});
"""
# The rules of WCAG 2.0, 2.1 and 2.2 at levels A and AA, as axe-core tags them.
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


_APACHE_MODULES = ("/usr/lib/apache2/modules", "/usr/lib64/httpd/modules", "/usr/lib/httpd/modules", "/usr/lib/apache2")
_LOADED = ("mpm_event", "authz_core", "mime", "dir", "autoindex", "alias", "headers", "filter", "deflate", "expires")
_TYPES = {"text/html": "html", "text/css": "css", "image/svg+xml": "svg svgz", "application/pdf": "pdf"}
"""What a server that is set up by its system knows of types, as far as a test asks."""
FONTS = Path(__file__).parents[2] / "site_templates" / "fonts"
_AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
# Only what fails is worked out in full and handed over: of what passes, axe-core has a thousand times as much to tell.
_RUN_AXE = "tags => axe.run({runOnly: tags, resultTypes: ['violations']}).then(result => result.violations)"


def barriers(tab: Any) -> list[str]:
    """Return what axe-core finds on the page in ``tab``: the rule, the element and what is wrong with it."""
    if tab.evaluate("typeof axe") == "undefined":
        tab.evaluate(_AXE)
    return [
        f"{rule['id']}: {node['html'][:160]} {node['failureSummary'][:200]}"
        for rule in tab.evaluate(_RUN_AXE, WCAG)
        for node in rule["nodes"]
    ]


def too_wide(tab: Any, *widths: int) -> list[int]:
    """Return those of the ``widths`` of a window, in px, at which the page in ``tab`` can be moved sideways."""
    found = []
    for width in widths:
        tab.set_viewport_size({"width": width, "height": 844})
        found += [width] if tab.evaluate("document.documentElement.scrollWidth") > width else []
    return found


def assert_a_screen_suits_all(tab: Any) -> None:
    """On a phone and on a desk nothing of the page in ``tab`` sticks out, and axe-core finds no barrier."""
    for width in (390, 1280):
        assert too_wide(tab, width) == [], tab.url
        assert barriers(tab) == [], (tab.url, width)


def chromium() -> str:
    """Return the path of Chromium; pass the test over where there is none."""
    return needs("Chromium", "pages in a browser")


def own_fonts(folder: Path) -> dict[str, str | float | bool]:
    """Return the environment of a machine that has our fonts and no other.

    So it does not matter which fonts there are; where there is none at all, Chromium shows no page.
    """
    settings = folder / "fonts.conf"
    settings.write_text(
        '<?xml version="1.0"?>\n<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">\n'
        f"<fontconfig><dir>{FONTS}</dir><cachedir>{folder / 'cache'}</cachedir></fontconfig>\n",
        encoding="utf-8",
    )
    return {**os.environ, "FONTCONFIG_FILE": str(settings)}


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def free_port() -> int:
    """Return a port of this machine's own address on which nothing listens now."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def nginx(site: Path, folder: Path, under: str = "") -> Iterator[str]:
    """Serve ``site`` by nginx, ``under`` a path, with the header file that was published with it; give its address."""
    program = needs("nginx", "pages from a web server")
    port = free_port()
    for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi"):
        (folder / name).mkdir()
    temporary = "".join(
        f"{name}_temp_path {folder}/{name};\n" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    include = f"include {site}/hosting/nginx.conf;"
    serve = f"location {under}/ {{ alias {site}/; {include} }}" if under else f"root {site}; {include}"
    config = folder / "nginx.conf"
    config.write_text(
        f"{'user root;' if os.geteuid() == 0 else ''}\ndaemon off;\nworker_processes 1;\npid {folder}/pid;\n"
        f"error_log {folder}/error.log;\nevents {{}}\nhttp {{\ninclude /etc/nginx/mime.types;\naccess_log off;\n"
        f"{temporary}"
        f"server {{ listen 127.0.0.1:{port}; {serve} }}\n}}\n"
    )
    with _serving([program, "-c", str(config), "-e", f"{folder}/error.log"], port, folder / "error.log"):
        yield f"http://127.0.0.1:{port}{under}"


@contextmanager
def apache(site: Path, folder: Path, under: str = "") -> Iterator[str]:
    """Serve ``site``, which a user without rights must be able to read, by Apache as ``nginx`` does."""
    program = needs("Apache", "pages from a web server")
    modules = next(path for path in map(Path, _APACHE_MODULES) if path.is_dir())
    port = free_port()
    config = folder / "apache.conf"
    lines = (
        f'ServerRoot "{folder}"',
        "ServerName 127.0.0.1",
        f"Listen 127.0.0.1:{port}",
        "PidFile pid",
        "ErrorLog error.log",
        *(f"LoadModule {one}_module {modules}/mod_{one}.so" for one in _LOADED if (modules / f"mod_{one}.so").exists()),
        *(("User #65534", "Group #65534") if os.geteuid() == 0 else ()),  # it serves nothing as root
        "TypesConfig types",
        f'DocumentRoot "{site}"',
        *([f'Alias {under} "{site}"'] if under else []),
        f'<Directory "{site}">',
        "Require all granted",
        f'Include "{site}/hosting/apache.conf"',
        "</Directory>",
    )
    config.write_text("".join(f"{line}\n" for line in lines))
    (folder / "types").write_text("".join(f"{kind} {ends}\n" for kind, ends in _TYPES.items()))
    with _serving([program, "-X", "-f", str(config)], port, folder / "error.log"):
        yield f"http://127.0.0.1:{port}{under}"


@contextmanager
def _serving(command: list[str], port: int, log: Path) -> Iterator[None]:
    server = subprocess.Popen(command)
    try:
        while not _answers(port):
            if server.poll() is not None:
                pytest.fail(log.read_text() if log.exists() else f"{command[0]} did not start")
            time.sleep(0.02)
        yield
    finally:
        server.terminate()
        server.wait()

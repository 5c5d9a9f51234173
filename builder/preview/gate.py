"""Who may come in: whoever holds a secret of this one run, from a page of this very address, and nobody else.

What could go wrong on a loopback address, and what stands against it:

- Another site open in the same browser asks for our pages, or posts to them. It knows neither the random path, nor has
  the browser send it along: the cookie is SameSite=Strict, and a request that says it comes from elsewhere (Origin, W3C
  Fetch Metadata) is refused. We never allow another origin to read (no CORS header).
- Another site's name is made to mean 127.0.0.1 (DNS rebinding). Then the Host header has that name, and is refused.
- Another program of this machine listens on another port. A cookie is sent to every port of a host, but only below its
  path, and ours is random.
- A browser that was closed has lost its cookie. It may ask that the preview be opened again: then the program itself
  opens a fresh address in the browser of the person who started it, and the one who asked is told nothing.
- Somebody else logged on to this machine sees the address that was handed to the browser, in a list of processes. It
  lets one browser in, once.
"""

import secrets
import threading
from collections.abc import Callable
from hmac import compare_digest

from werkzeug.exceptions import Forbidden, MisdirectedRequest
from werkzeug.wrappers import Request, Response

COOKIE = "prescrub-preview"
ENTER = "/enter/"
_FROM_HERE = frozenset({"same-origin", "none"})


class Gate:
    """The secrets of one run. ``home`` begins every path; ``tell`` is told a fresh address when one is needed;
    ``reopen`` opens it in the browser of whoever started the preview."""

    def __init__(self, tell: Callable[[str], None], reopen: Callable[[str], None] | None = None) -> None:
        self.home = f"/{secrets.token_urlsafe(12)}"
        self._token = secrets.token_urlsafe(32)
        self._once = secrets.token_urlsafe(24)
        self._lock = threading.Lock()
        self._tell = tell
        self._reopen = reopen or tell
        self._hosts: frozenset[str] = frozenset()
        self._address = ""
        self._told = False

    def opened(self, port: int) -> None:
        """Say on which port of the loopback address this is reached."""
        self._address = f"http://127.0.0.1:{port}"
        self._hosts = frozenset({f"127.0.0.1:{port}", f"localhost:{port}"})

    @property
    def address(self) -> str:
        """The address that lets one browser in, once."""
        return f"{self._address}{self.home}{ENTER}{self._once}"

    def check_host(self, request: Request) -> None:
        """Raise MisdirectedRequest where the request was sent to another name than ours."""
        if request.headers.get("Host") not in self._hosts:
            raise MisdirectedRequest("The preview answers at 127.0.0.1 only.")

    def open_again(self) -> None:
        """Have the preview opened anew where it was started. Whoever asks for it learns nothing."""
        self._reopen(self.address)

    def check(self, request: Request) -> None:
        """Raise Forbidden where the request may not come in; its Host was checked before."""
        if request.headers.get("Sec-Fetch-Site", "none") not in _FROM_HERE:
            raise Forbidden("A page of another site asked for this.")
        origin = request.headers.get("Origin")
        if origin != f"http://{request.headers['Host']}" and (origin is not None or request.method != "GET"):
            raise Forbidden("A page of another site sent this.")
        if not compare_digest(request.cookies.get(COOKIE, "").encode(), self._token.encode()):
            self._ask()
            raise Forbidden("This browser has not been let in yet, or no longer knows that it was.")

    def enter(self, code: str, response: Response) -> Response:
        """Let the browser in that comes with the ``code``. Raises Forbidden where it was used before, or is none."""
        with self._lock:
            fits = compare_digest(code.encode(), self._once.encode())
            if fits:
                self._once = secrets.token_urlsafe(24)
                self._told = False
        if not fits:
            self._ask()
            raise Forbidden("This address has already let a browser in, or is out of date.")
        response.set_cookie(COOKIE, self._token, path=f"{self.home}/", httponly=True, samesite="Strict")
        return response

    def _ask(self) -> None:
        """Tell a fresh address where the preview was started, once until it is used."""
        with self._lock:
            told, self._told = self._told, True
        if not told:
            self._tell(self.address)

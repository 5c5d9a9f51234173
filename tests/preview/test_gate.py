"""Nobody comes in but the browser that was let in, and from no page but the preview's own.

What is asked of a server on loopback: RFC 6265bis (SameSite, HttpOnly, Path), W3C Fetch Metadata (Sec-Fetch-Site),
WHATWG Fetch (Origin on every POST; no CORS header lets nobody read), RFC 9110 (Host; 421), W3C CSP Level 3.
DNS rebinding is known by the Host header: it names the attacker's site.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import psutil
import pytest
from werkzeug.routing import Map
from werkzeug.wrappers import Response

from builder.place import Place
from builder.preview.answer import Request, data, post
from builder.preview.gate import COOKIE
from builder.preview.own_editor import OwnEditor
from builder.preview.server import LIMITS, ROUTES

OTHER = "http://other.example"


@pytest.fixture
def echo(monkeypatch: pytest.MonkeyPatch) -> list[Request]:
    """A POST route that says what reached it."""
    reached: list[Request] = []

    def handler(_: Any, request: Request) -> Response:
        reached.append(request)
        return data({"got": request.body})

    routes = Map([post("/echo", handler), *(rule.empty() for rule in ROUTES.iter_rules())], merge_slashes=False)
    monkeypatch.setattr("builder.preview.server.ROUTES", routes)
    monkeypatch.setitem(LIMITS, handler, 1000)
    return reached


@pytest.fixture(scope="module")
def beside_a_secret(still: Any) -> Any:
    """A preview of a department that has a secret beside it, one in it, and a link to the first."""
    (still.root.parent / "secret.txt").write_text("a secret")
    (still.root / ".env").write_text("a secret")
    (still.root / "content/link.md").symlink_to(still.root.parent / "secret.txt")
    still.shop.saved()
    return still


def test_whoever_was_let_in_comes_in(preview: Any, echo: list[Request]) -> None:
    """The control of every refusal below."""
    assert preview.get("").status == 200
    assert preview.get("part/page/example").status == 200
    assert preview.post("echo", {"a": 1}).text == '{"got": {"a": 1}}'
    assert preview.get("", Sec_Fetch_Site="same-origin").status == 200
    assert preview.get("", Sec_Fetch_Site="none").status == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Cookie": None},
        {"Cookie": "prescrub-preview="},
        {"Cookie": "prescrub-preview=guessed"},
        {"Cookie": 'prescrub-preview="\\"; ='},
        {"Host": None},
        {"Host": "attacker.example"},
        {"Host": "attacker.example:{port}"},
        {"Host": "127.0.0.1"},
        {"Host": "127.0.0.1:1"},
        {"Host": "127.0.0.1.attacker.example:{port}"},
        {"Host": "0.0.0.0:{port}"},
        {"Origin": OTHER},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://localhost:{port}"},
        {"Origin": "https://127.0.0.1:{port}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
    ids=str,
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_nobody_else_comes_in(still: Any, echo: list[Request], method: str, headers: dict[str, str | None]) -> None:
    sent = {name: value and value.replace("{port}", str(still.port)) for name, value in headers.items()}
    path = "echo" if method == "POST" else "part/page/example"
    body = b"{}" if method == "POST" else None
    answer = still.send(method, f"{still.shop.home}/{path}", body, **sent)
    assert answer.status in (403, 421)
    assert "ilioinguinal" not in answer.text
    assert echo == []
    assert "access-control-allow-origin" not in answer.headers


def test_a_post_without_an_origin_is_refused(still: Any, echo: list[Request]) -> None:
    assert still.post("echo", {}, Origin=None).status == 403
    assert echo == []


def test_the_path_is_a_secret_too(still: Any) -> None:
    for path in ("/", "/page/example", "/static/preview.css", f"{still.shop.home}x/", f"/x{still.shop.home}/"):
        assert still.send("GET", path).status == 404
        assert still.shop.home not in still.send("GET", path).text


def test_the_address_lets_one_browser_in_once(preview: Any) -> None:
    used = preview.server.gate.address
    path = used.partition(f":{preview.port}")[2]
    first = preview.send("GET", path, Cookie=None)
    cookie = first.headers["set-cookie"]
    assert first.status == 200
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert f"Path={preview.shop.home}/" in cookie
    again = preview.send("GET", path, Cookie=None)
    assert again.status == 403
    assert "set-cookie" not in again.headers
    assert preview.told == [preview.server.gate.address], "a fresh one is told where the preview was started"
    preview.send("GET", path, Cookie=None)
    preview.get("", Cookie=None)
    assert len(preview.told) == 1, "and only once, until it is used"


@pytest.mark.parametrize(
    ("headers", "body", "status"),
    [
        ({"Content-Type": "text/plain"}, b"{}", 415),
        ({"Content-Type": "application/x-www-form-urlencoded"}, b"a=1", 415),
        ({"Content-Type": "multipart/form-data; boundary=x"}, b"--x--", 415),
        ({"Content-Type": None}, b"{}", 415),
        ({"Content-Length": None, "Transfer-Encoding": "chunked"}, None, 411),
        ({"Content-Length": "-1"}, None, 411),
        ({"Content-Length": "1e3"}, None, 411),
        ({"Content-Length": "9" * 30}, None, 413),
        ({}, b'"' + b"x" * 1000 + b'"', 413),
        ({}, b"{", 400),
        ({}, b"\xff\xfe", 400),
        ({}, b'{"a": NaN}', 400),
        ({}, b"[" * 900, 400),
        ({}, b"", 400),
    ],
    ids=lambda one: str(one)[:40],
)
def test_only_small_json_is_taken(
    still: Any, echo: list[Request], headers: dict[str, str | None], body: bytes | None, status: int
) -> None:
    answer = still.send("POST", f"{still.shop.home}/echo", body, **headers)
    assert answer.status == status
    assert echo == []


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "HEAD", "TRACE"])
def test_other_methods_are_not_known(still: Any, method: str) -> None:
    answer = still.send(method, f"{still.shop.home}/", Origin=OTHER)
    assert answer.status == 501
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    "path",
    [
        "file/../secret.txt", "file/%2e%2e/secret.txt", "file/content/../../secret.txt", "file//etc/passwd", "file/",
        "file/content%2f..%2f..%2fsecret.txt", "file/C:/Windows/win.ini", "file/content\\..\\..\\secret.txt",
        "file/content/procedures", "file/content/link.md", "file/content/%00", "file/.env",
        "file/%252e%252e/secret.txt",
        "static/../answer.py", "static/..%2f..%2fpyproject.toml", "static/layout.html.j2", "static/", "static/x.css",
        "static/../fonts/OFL.txt",
        "figures/example/../procedure.md", "figures/example/..%2fprocedure.md", "figures/../example/canal.svg",
        "figures/example/", "figures/nobody/canal.svg", "side/x/1", "side/../1", "side//", "side/x/1e9",
        "keep/card/../../x", "keep/nothing/example", "page/../x", "paper/nothing/example", "part/nothing-of/nobody",
        "nowhere", "%ff%fe", "page/%ff", "both/nobody", "papers/nobody",
    ],
)  # fmt: skip
def test_no_path_leads_out(beside_a_secret: Any, path: str) -> None:
    answer = beside_a_secret.get(path)
    assert answer.status in (404, 200)
    assert "a secret" not in answer.text
    if answer.status == 200:
        assert path == "file/content/link.md"
        assert "This file cannot be read now." in answer.text


def test_every_answer_is_kept_nowhere_and_does_nothing_else(still: Any) -> None:
    paths = (
        "",
        "page/example",
        "part/page/example",
        "static/preview.js",
        "static/site.css",
        "nowhere",
        "part/card/example",
    )
    paths += (
        "static/PrescrubSans-Bold.woff2",
        "figures/example/canal.svg",
        "file/content/department.md",
        "papers/example",
    )
    for path in paths:
        sent = still.get(path).headers
        assert sent["cache-control"] == "no-store", path
        assert sent["x-content-type-options"] == "nosniff"
        assert sent["referrer-policy"] == "no-referrer"
        assert sent["cross-origin-resource-policy"] == "same-origin"
        assert sent["x-frame-options"] == "DENY"
        assert sent["content-security-policy"].startswith("default-src 'none'")
        assert "unsafe" not in sent["content-security-policy"] or path.endswith(".svg")
        assert not any(name.startswith("access-control") for name in sent)


def test_only_loopback_is_listened_on(still: Any) -> None:
    bound = [one for one in psutil.Process().net_connections() if one.status == psutil.CONN_LISTEN]
    assert still.port in {one.laddr.port for one in bound}
    assert {one.laddr.ip for one in bound if one.laddr.port == still.port} == {"127.0.0.1"}
    with socket.socket(socket.AF_INET6) as probe:
        assert probe.connect_ex(("::1", still.port)) != 0


def wire(preview: Any, *requests: str) -> str:
    """Send requests over one connection, the next without waiting for an answer; return all that comes back."""
    head = f"Host: 127.0.0.1:{preview.port}\r\nCookie: {COOKIE}={preview.cookie}\r\n"
    with socket.create_connection(("127.0.0.1", preview.port)) as line:
        line.sendall(
            "".join(one.replace("{home}", preview.shop.home).replace("{head}", head) for one in requests).encode()
        )
        line.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: line.recv(65536), b"")).decode("utf-8", "replace")


def test_a_connection_is_kept_for_the_next_request(still: Any, echo: list[Any]) -> None:
    origin = f"Origin: http://127.0.0.1:{still.port}\r\nContent-Type: application/json\r\nContent-Length: 7\r\n"
    said = wire(
        still,
        "GET {home}/static/new.js HTTP/1.1\r\n{head}\r\n",
        f'POST {{home}}/echo HTTP/1.1\r\n{{head}}{origin}\r\n{{"a":1}}',
        "GET {home}/nowhere HTTP/1.1\r\n{head}\r\n",
        "GET {home}/static/new.js HTTP/1.1\r\n{head}\r\n",
    )
    assert re.findall(r"HTTP/1.1 (\d+)", said) == ["200", "200", "404", "200"]
    assert "Connection: close" not in said
    assert '{"got": {"a": 1}}' in said


@pytest.mark.parametrize(
    "first",
    [
        "GET {home}/ HTTP/1.1\r\n{head}Content-Length: 50\r\n\r\n",
        "GET {home}/ HTTP/1.1\r\n{head}Transfer-Encoding: chunked\r\n\r\n50\r\n",
        "POST {home}/echo HTTP/1.1\r\n{head}Content-Length: 50\r\n\r\n",
        "PUT {home}/echo HTTP/1.1\r\n{head}Content-Length: 50\r\n\r\n",
    ],
    ids=lambda one: one[:30],
)
def test_what_was_sent_along_and_not_read_is_not_taken_for_a_request(still: Any, first: str) -> None:
    said = wire(still, first, "GET {home}/static/new.js HTTP/1.1\r\n{head}\r\n")
    assert len(re.findall(r"HTTP/1.1 \d+", said)) == 1
    assert "Connection: close" in said


def test_a_body_that_breaks_off_is_refused(still: Any, echo: list[Any]) -> None:
    origin = f"Origin: http://127.0.0.1:{still.port}\r\nContent-Type: application/json\r\nContent-Length: 9\r\n"
    said = wire(still, f"POST {{home}}/echo HTTP/1.1\r\n{{head}}{origin}\r\n{{}}")
    assert said.startswith("HTTP/1.1 400")
    assert echo == []


def test_a_fault_of_ours_shows_the_browser_no_traceback(preview: Any, monkeypatch: Any, capfd: Any) -> None:
    monkeypatch.delenv("PRESCRUB_DEBUG", raising=False)
    monkeypatch.setattr(preview.shop, "state", None)
    answer = preview.get("part/overview")
    assert answer.status == 500
    assert "prescrub itself failed here (AttributeError)" in answer.text
    assert "Traceback" not in answer.text
    assert str(Path(__file__).parent.parent.parent) not in answer.text
    assert answer.headers["server"] == "prescrub"
    assert "".join(capfd.readouterr()) == "", "nor the terminal, where the addresses would stand"


def test_a_client_that_says_nothing_holds_nobody_up(preview: Any) -> None:
    with socket.create_connection(("127.0.0.1", preview.port)) as silent:
        silent.sendall(b"GET / HT")
        assert preview.get("").status == 200


@pytest.mark.parametrize("begun", [b"", b"GET / HT", b"POST {home}/echo HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
def test_a_client_that_goes_silent_is_let_go(preview: Any, monkeypatch: pytest.MonkeyPatch, begun: bytes) -> None:
    monkeypatch.setattr("builder.preview.server._Handler.timeout", 0.05)
    with socket.create_connection(("127.0.0.1", preview.port)) as silent:
        silent.sendall(begun)
        assert silent.recv(100) == b"", "the preview hangs up"


def test_a_line_is_opened_only_by_post_and_only_of_the_department(base: Path, preview_of: Callable[..., Any]) -> None:
    mark = base.parent / "opened.txt"
    preview = preview_of(base, f"sh -c 'echo \"$1 $2\" > {mark}' x {{line}} {{path}}")
    name = "content/procedures/example/steps/open-canal.md"
    assert preview.get("open").status == 404
    for strange in ("../secret.txt", "/etc/passwd", "content/nothing.md", "$(touch x)", None, 7, ["a"]):
        assert preview.post("open", {"file": strange, "line": 1}).status == 404
    assert preview.post("open", ["file"]).status == 404
    assert not mark.exists()
    assert preview.post("open", {"file": name, "line": 12, "column": 3}).status == 200
    preview.until(lambda: mark.exists() and mark.read_text().endswith("\n"))
    assert mark.read_text() == f"12 {(base / name).resolve()}\n"


def test_an_editor_is_an_address_or_a_command_and_nothing_that_acts(tmp_path: Path) -> None:
    editor = OwnEditor("someeditor://open?file={path}&line={line}")
    address = editor.address(tmp_path, Place("content/a b&c.md", 3, 1))
    assert address == f"someeditor://open?file={tmp_path.resolve()}/content/a%20b%26c.md&line=3"
    for wrong in ("javascript:alert({path})", "data:text/html,{path}", "http://x.example/{path}", "someeditor {line}"):
        with pytest.raises(ValueError, match="Write it as"):
            OwnEditor(wrong)
    words = OwnEditor("someeditor +{line} {path}")
    assert words.address(tmp_path, Place("x", 1, 1)) == ""
    assert words.open(tmp_path, Place("x", 1, 1)) == "someeditor cannot be started (No such file or directory)."
    assert OwnEditor.chosen(None, {"VISUAL": "vi", "PRESCRUB_EDITOR": "some {path}"}).how == "some {path}"
    assert OwnEditor.chosen(None, {"VISUAL": "vi"}).how == ""

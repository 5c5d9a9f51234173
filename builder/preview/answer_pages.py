"""What the preview's pages share: the words of the status line, and how an answer carries its state."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from typing import Any

from builder.findings.finding import Severity
from builder.preview.answer import Response, page
from builder.preview.state import State
from builder.preview.workshop import PreviewWorkshop

STATE, SAID = "X-Prescrub-State", "X-Prescrub-Said"


def rendered(workshop: PreviewWorkshop, template: str, state: State, status: int = 200, **values: Any) -> Response:
    """Return the preview's ``template`` as an answer that says which state it shows."""
    department = str(state.library.department.name)
    shown = {"home": workshop.home, "department": department, "state": state.number, "said": said(workshop, state)}
    html = workshop.renderer().render(f"preview/{template}", **shown, **values)
    headers = {STATE: str(state.number), SAID: said(workshop, state).encode("ascii", "replace").decode()}
    return replace(page(html, status), headers=headers)


def said(workshop: PreviewWorkshop, state: State) -> str:
    """Return the words of the status line: how many findings there are."""
    if workshop.fault:
        return workshop.fault
    return counted({one: state.count(one) for one in Severity})


def counted(counts: dict[Severity, int]) -> str:
    """Return ``2 findings: 1 error, 1 note``."""
    total = sum(counts.values())
    if not total:
        return "no findings"
    kinds = ", ".join(f"{count} {one.value}{'s' * (count != 1)}" for one, count in counts.items() if count)
    return f"{total} finding{'s' * (total != 1)}: {kinds}"


def refused(status: int, message: str) -> Response:
    """Return the page of a refusal: plain, because it may be shown to a stranger. It tells nothing of the folder."""
    hint = (
        "<p>A fresh address is printed where <code>prescrub preview</code> was started. Open that one.</p>"
        if status == 403
        else ""
    )
    head = "<!doctype html><html lang=en><meta charset=utf-8><title>Not here</title><h1>Not here</h1>"
    text = f"{head}<p>{escape(message)}</p>{hint}"
    return page(text, status)


def entered(home: str, cookie: str) -> Response:
    """Return the page that lets a browser in; it goes on by itself, as a page of this address and not of another."""
    text = (
        f'<!doctype html><html lang=en><meta charset=utf-8><meta http-equiv=refresh content="0;url={home}/">'
        f'<link rel=icon href="{home}/static/mark.svg"><title>Preview</title>'
        f'<p><a href="{home}/">To the preview</a></p>'
    )
    return replace(page(text), headers={"Set-Cookie": cookie})

"""How a layer turns a request away: a sentence, as a page for people and as JSON for programs."""

from __future__ import annotations

from html import escape

from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.types import Receive, Scope, Send

_PAGE = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width, initial-scale=1"><title>{status}</title>'
    '<link rel="stylesheet" href="/static/app.css"></head><body class="refused"><main>'
    '<h1>This was not done</h1><p>{why}.</p><p><a class="button" href="/">To the bench</a></p></main></body></html>'
)


def refusal(path: str, status: int, why: str) -> Response:
    """The answer.

    Parameters
    ----------
    path : str
        What was asked for; under ``/api/`` programs ask.
    status : int
        HTTP status.
    why : str
        A sentence without its stop.
    """
    if f"{path}/".startswith("/api/"):
        return JSONResponse({"error": {"status": status, "sentence": why, "faults": []}}, status_code=status)
    return HTMLResponse(_PAGE.format(status=status, why=escape(f"{why[:1].upper()}{why[1:]}")), status_code=status)


async def refuse(scope: Scope, receive: Receive, send: Send, status: int, why: str) -> None:
    """Answer a request with a refusal."""
    await refusal(scope["path"], status, why)(scope, receive, send)

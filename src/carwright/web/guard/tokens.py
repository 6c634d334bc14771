"""Forms that only our own pages can send: each carries a token that belongs to the session."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator

from starlette.exceptions import HTTPException
from starlette.requests import Request

from carwright.web.guard.hosts import SAFE
from carwright.web.guard.pairing import Keys

FIELD, HEADER = "token", "x-carwright-token"
SESSION = "id"
"""In a session: its own number."""


def keys_of(request: Request) -> Keys:
    """Keys of the app a request came to."""
    keys: Keys = request.app.state.door.keys
    return keys


def token_for(request: Request) -> str:
    """The token of a request's session, which begins now where there is none."""
    if SESSION not in request.session:
        request.session[SESSION] = secrets.token_urlsafe(18)
    return keys_of(request).token(request.session[SESSION])


async def own_form(request: Request) -> AsyncIterator[None]:
    """Refuse what changes something and was not sent by a page of this session; files that came are closed in the end.

    Raises
    ------
    HTTPException
        "this page is out of date; load it again, what you typed is still in it"
    """
    try:
        if request.method not in SAFE:
            await _check(request)
        yield
    finally:
        await request.close()


async def _check(request: Request) -> None:
    given = request.headers.get(HEADER, "")
    if not given and "form" in request.headers.get("content-type", ""):
        field = (await request.form()).get(FIELD, "")
        given = field if isinstance(field, str) else ""
    if SESSION not in request.session or not keys_of(request).is_token(request.session[SESSION], given):
        raise HTTPException(403, "this page is out of date; load it again, what you typed is still in it")

"""Which names the app answers to, and whose pages may send to it.

A page elsewhere that makes its own name lead to this machine (DNS rebinding) comes with that name as its host; a page
elsewhere that sends here comes with its own origin. Both are turned away.
"""

from __future__ import annotations

import re

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from carwright.web.guard.refusal import refuse

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_OWN = frozenset({"same-origin", "none", ""})
"""What ``Sec-Fetch-Site`` says of our own pages, of an address typed in, and of browsers that say nothing."""


_HOST = re.compile(r"(?:\[(?P<six>[0-9a-fA-F:.]{2,45})\]|(?P<name>[A-Za-z0-9_.-]{1,253}))(?::(?P<port>[0-9]{1,5}))?")
_PORTS = 65535


def host_of(text: str) -> str:
    """The name in a ``Host`` header, without its port; "" where it is none."""
    found = _HOST.fullmatch(text)
    if found is None or int(found["port"] or 0) > _PORTS:
        return ""
    return (found["six"] or found["name"]).casefold().rstrip(".")


def is_loopback(address: str) -> bool:
    """Whether a peer is this machine."""
    return address == "::1" or address.startswith(("127.", "::ffff:127."))


class Hosts:
    """Turns away what is not addressed to this app, or not sent by it.

    Parameters
    ----------
    app : ASGIApp
        What stands within.
    names : frozenset of str
        Host names and addresses it answers to.
    """

    def __init__(self, app: ASGIApp, names: frozenset[str]) -> None:
        self._app, self._names = app, names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may come in."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        why = self._why(Headers(scope=scope), scope)
        if why:
            await refuse(scope, receive, send, *why)
            return
        await self._app(scope, receive, send)

    def _why(self, headers: Headers, scope: Scope) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if host_of(host) not in self._names or len(headers.getlist("host")) != 1:
            return 421, "this address is not one the app answers to"
        if scope["method"] in SAFE:
            return None
        origin = headers.get("origin", "")
        if origin and origin != f"{scope['scheme']}://{host}":
            return 403, "a page of another address may not change anything here"
        if headers.get("sec-fetch-site", "") not in _OWN:
            return 403, "a page of another address may not change anything here"
        return None

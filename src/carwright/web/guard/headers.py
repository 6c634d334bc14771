"""What every answer tells the browser to refuse: foreign scripts, styles in attributes, frames, sniffed types."""

from __future__ import annotations

import logging

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from carwright.web.guard.refusal import refuse

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; frame-src 'self'; form-action 'self'; "
    "frame-ancestors 'self'; base-uri 'none'"
)
"""Content security policy of the app's own pages (W3C, Content Security Policy Level 3)."""
PAPER_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'self'; sandbox"
)
"""Of a published page looked at within the app: it carries its own style, runs nothing and asks for nothing."""
FIXED = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
}


_LOG = logging.getLogger("carwright.web")


class Headers:
    """Adds what is missing of these headers to every answer, and answers where nothing else did."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and its answer back with the headers."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        begun = False

        async def told(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                headers.setdefault("content-security-policy", POLICY)
                for name, value in FIXED.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-cache, private")
            await send(message)

        try:
            await self._app(scope, receive, told)
        except Exception:
            if begun:
                raise
            _LOG.exception("%s %s", scope["method"], scope["path"])
            await refuse(scope, receive, told, 500, "something went wrong that nobody foresaw; nothing was saved")

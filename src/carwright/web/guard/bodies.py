"""How much may be sent: a request larger than its path allows is refused before it is held in memory."""

from __future__ import annotations

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from carwright.web.guard.refusal import refuse

LARGEST_PHOTO = 24_000_000
"""Bytes of a request that may bring a photo: twice what phones make."""
LARGEST = 1_500_000
"""Bytes of any other request: a table of some ten thousand rows."""
PHOTOS = "/photos"
"""How paths end that take photos."""


_DIGITS = 12
"""Of a length anybody may claim."""


class Bodies:
    """Counts what comes in, whatever the sender said of its length."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on as long as it is small enough."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most = LARGEST_PHOTO if scope["path"].endswith(PHOTOS) else LARGEST
        told = dict(scope["headers"]).get(b"content-length", b"")
        if told and (not told.isdigit() or len(told) > _DIGITS or int(told) > most):
            await refuse(scope, receive, send, 413, _too_large(most))
            return
        counting = _Counting(receive, send, most)
        try:
            await self._app(scope, counting.receive, counting.send)
        except Exception:
            if not counting.over:
                raise
        if counting.over and not counting.answered:
            await refuse(scope, receive, send, 413, _too_large(most))


class _Counting:
    """A request that ends where it becomes too large; what is answered after that is not sent."""

    def __init__(self, receive: Receive, send: Send, most: int) -> None:
        self._receive, self._send, self._left = receive, send, most
        self.over, self.answered = False, False

    async def receive(self) -> Message:
        """The next part."""
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.over = True
            return {"type": "http.disconnect"}
        return message

    async def send(self, message: Message) -> None:
        """Pass an answer on, unless too much came in before it began."""
        if self.over and not self.answered:
            return
        self.answered = True
        await self._send(message)


def _too_large(most: int) -> str:
    return f"what was sent is larger than {most // 1_000_000 or 1} MB, which nothing here is"

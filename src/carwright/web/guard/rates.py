"""How often one device may ask: a bucket that fills steadily, for everything and for guesses of the pairing code."""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable

from starlette.types import ASGIApp, Receive, Scope, Send

from carwright.web.guard.refusal import refusal

MOST_DEVICES = 1000
"""Devices remembered."""


class Buckets:
    """A bucket of requests for each device.

    Parameters
    ----------
    holds : float
        Requests a full bucket allows at once.
    per_second : float
        How fast it fills [1/s].
    clock : callable
        Seconds that only grow.
    """

    def __init__(self, holds: float, per_second: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._holds, self._per_second, self._clock = holds, per_second, clock
        self._found: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait(self, device: str) -> float:
        """Take one request; how long it would have to wait where there is none left [s]."""
        now = self._clock()
        level, when = self._found.pop(device, (self._holds, now))
        level = min(self._holds, level + (now - when) * self._per_second)
        waits = level < 1
        self._found[device] = (level if waits else level - 1, now)
        while len(self._found) > MOST_DEVICES:
            self._found.popitem(last=False)
        return (1 - level) / self._per_second if waits else 0.0


class Rates:
    """Turns away a device that asks too often.

    Parameters
    ----------
    app : ASGIApp
        What stands within.
    usual, guesses : Buckets
        For all requests, and for those that give a pairing code.
    """

    def __init__(self, app: ASGIApp, usual: Buckets, guesses: Buckets) -> None:
        self._app, self._usual, self._guesses = app, usual, guesses

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on where there is one left."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        device = scope["client"][0] if scope.get("client") else ""
        wait = self._usual.wait(device)
        if not wait and scope["path"] == "/pair" and scope["method"] == "POST":
            wait = self._guesses.wait(device)
        if wait:
            answer = refusal(scope["path"], 429, "this device asks too often; wait a moment and try again")
            answer.headers["retry-after"] = str(math.ceil(wait))
            await answer(scope, receive, send)
            return
        await self._app(scope, receive, send)

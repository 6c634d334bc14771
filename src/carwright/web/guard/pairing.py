"""Devices on the house network: each gives the pairing code once, and is known by its cookie from then on."""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from starlette.requests import HTTPConnection
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from carwright.files import write_whole
from carwright.web.guard.hosts import LOOPBACK, host_of, is_loopback
from carwright.web.guard.refusal import refuse

_SIGNS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Letters and digits nobody takes for one another."""
_LENGTH = 10
"""Signs of a code: some 49 bits, and ten guesses a minute."""
_LEAST = 32
"""Signs a secret has at least."""
OPEN = ("/pair", "/static/", "/manifest.webmanifest", "/worker.js", "/favicon.ico")
"""What a device may see before it is paired."""
PAIRED = "paired"
"""In a session: the mark of the key it was paired under."""


def new_code() -> str:
    """A code to give by hand or by QR."""
    return "".join(secrets.choice(_SIGNS) for _ in range(_LENGTH))


def plain_code(text: str) -> str:
    """A code as compared: without blanks and hyphens, in capitals."""
    return "".join(sign for sign in text.upper() if sign.isalnum())


@dataclass(frozen=True, slots=True)
class Keys:
    """What sessions are signed with.

    Attributes
    ----------
    secret : str
        Of this person's app; whoever has it can make sessions.
    round : int
        How often all devices were let go.
    """

    secret: str
    round: int = 0

    @property
    def mark(self) -> str:
        """What a paired session bears; it changes when all devices are let go."""
        return hashlib.sha256(f"paired:{self.round}:{self.secret}".encode()).hexdigest()[:16]

    def token(self, session: str) -> str:
        """What a form of a session must send back, so that no other page can send it."""
        return hmac.new(self.secret.encode(), f"form:{session}".encode(), "sha256").hexdigest()[:40]

    def is_token(self, session: str, text: str) -> bool:
        """Whether a text is that, compared in constant time."""
        return hmac.compare_digest(self.token(session), text if text.isascii() else "")


def keys_in(folder: Path, *, let_go: bool = False) -> Keys:
    """Keys kept in a folder only its owner reads, so that paired devices stay paired over a restart.

    Parameters
    ----------
    folder : Path
        Of this program's state.
    let_go : bool
        Whether every device that was paired is one no more.
    """
    path = folder / "web-key.json"
    kept = _read(path)
    if kept is not None and not let_go:
        return kept
    made = Keys(secrets.token_urlsafe(32)) if kept is None else replace(kept, round=kept.round + 1)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    path.touch(mode=0o600, exist_ok=True)
    path.chmod(0o600)
    write_whole(path, json.dumps({"secret": made.secret, "round": made.round}) + "\n")
    return made


def _read(path: Path) -> Keys | None:
    """Keys as they are kept, None where there are none that can be used."""
    try:
        found = json.loads(path.read_text("utf-8"))
        secret, turn = found["secret"], int(found.get("round", 0))
        path.chmod(0o600)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        return None
    is_good = isinstance(secret, str) and secret.isascii() and len(secret) >= _LEAST
    return Keys(secret, turn) if is_good else None


class Pairing:
    """Lets in this machine itself, and devices that gave the code.

    Parameters
    ----------
    app : ASGIApp
        What stands within.
    keys : callable
        Gives the keys a paired session is told by, as they are now.
    """

    def __init__(self, app: ASGIApp, keys: Callable[[], Keys]) -> None:
        self._app, self._keys = app, keys

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may come in; send others to the pairing page."""
        if scope["type"] != "http" or self._may(scope):
            await self._app(scope, receive, send)
            return
        if scope["method"] == "GET" and not scope["path"].startswith("/api/"):
            await RedirectResponse("/pair", status_code=303)(scope, receive, send)
            return
        await refuse(scope, receive, send, 401, "this device is not paired; open /pair on it and give the code")

    def _may(self, scope: Scope) -> bool:
        path = scope["path"]
        if any(path == each or (each.endswith("/") and path.startswith(each)) for each in OPEN):
            return True
        connection = HTTPConnection(scope)
        here = scope["client"][0] if scope.get("client") else ""
        if is_loopback(here) and host_of(connection.headers.get("host", "")) in LOOPBACK:
            return True
        return hmac.compare_digest(str(connection.session.get(PAIRED, "")), self._keys().mark)

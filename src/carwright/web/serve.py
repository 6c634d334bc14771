"""Running the app: where it listens, what it says of that, and how it ends."""

from __future__ import annotations

import logging
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import segno
import uvicorn

from carwright.errors import CarwrightError
from carwright.shop import Shop
from carwright.web.app import make_app
from carwright.web.desk import Desk
from carwright.web.door import Door, house_addresses
from carwright.web.guard.pairing import keys_in

PORT = 8300
"""Where it listens unless told otherwise."""
_GRACE = 2
"""How long open pages may go on when it ends [s]."""


class ServeError(CarwrightError):
    """The app cannot listen where it should."""


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens; any free port where none is named and the usual one is taken.

    Raises
    ------
    ServeError
        "port 8300 is taken; name another with --port"
    """
    # Named as TCP, so that asyncio sends small answers at once (TCP_NODELAY) and does not wait some 40 ms for more.
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((host, port))
        found.listen(128)  # whoever comes while the app is made ready waits, and is not turned away
    except OSError as error:
        found.close()
        raise ServeError(f"port {port} on {host} is taken or not allowed; name another with --port") from error
    return found


def state_folder() -> Path:
    """Where keys lie that only this person reads."""
    from platformdirs import user_state_path  # noqa: PLC0415 - asked only when serving

    return user_state_path("carwright", appauthor=False)


def serve(
    shop: Shop,
    *,
    say: Callable[[str], None],
    is_demo: bool = False,
    lan: bool = False,
    port: int = PORT,
    tls: bool = False,
) -> None:
    """Serve a shop until the process is told to end.

    Parameters
    ----------
    shop : Shop
        What is served; closed in the end.
    say : callable
        Told where the app is, and how other devices come in.
    is_demo : bool
        Whether it is the demo shop.
    lan : bool
        Whether other devices on the house network may come in, once paired.
    port : int
        Where to listen; 0 for any free one.
    tls : bool
        Whether to encrypt, by a certificate of its own.

    Raises
    ------
    ServeError
        When it cannot listen there.
    """
    heard = listen("0.0.0.0" if lan else "127.0.0.1", port)  # noqa: S104 - asked for by name, and guarded by pairing
    folder = state_folder()
    addresses = house_addresses() if lan else ()
    door = Door(keys_in(folder), heard.getsockname()[1], addresses, tls, folder=folder)
    certificate = None
    if tls:
        from carwright.web.certificate import certificate_for  # noqa: PLC0415 - loaded only where it is wanted

        certificate = certificate_for(addresses, folder)
    threading.Thread(target=_warm, daemon=True).start()
    app = make_app(Desk(shop, is_demo=is_demo), door)
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        timeout_graceful_shutdown=_GRACE,
        server_header=False,
        lifespan="on",
        proxy_headers=False,
        ssl_certfile=certificate.certificate if certificate else None,
        ssl_keyfile=certificate.key if certificate else None,
    )
    app.state.server = server = uvicorn.Server(config)
    say(f"{'Demo shop, all of it invented' if is_demo else f'Shop {shop.address}'}: {door.url()}")
    if certificate:
        say(f"A browser warns once, since nobody vouches for this certificate. Its SHA-256: {certificate.fingerprint}")
        say(f"A phone that has {certificate.certificate} among those it trusts opens pages without the shop, too.")
    if lan:
        say(pairing_words(door))
    with suppress(KeyboardInterrupt):
        server.run(sockets=[heard])


def pairing_words(door: Door) -> str:
    """How another device comes in: a QR code for a terminal, the address, and the code."""
    if not door.addresses:
        return "This machine has no address on a network, so no other device can come in."
    code = segno.make(door.link(), error="m")
    lines = [_blocks(code), f"Other devices: {door.url(door.addresses[0])}/pair with the code {door.code}"]
    if not door.secure:
        lines.append("Readings cross the network unencrypted; use this at home, or add --tls.")
    return "\n".join(lines)


def _blocks(code: segno.QRCode) -> str:
    """A QR code in half blocks, dark on light as terminals show it."""
    rows = [[bool(dark) for dark in row] for row in code.matrix_iter(border=2)]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    signs = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return "\n".join(
        "".join(signs[upper, lower] for upper, lower in zip(rows[at], rows[at + 1], strict=True))
        for at in range(0, len(rows), 2)
    )


def _warm() -> None:
    """Load what the first page needs while the socket is being made ready."""
    try:
        import carwright.explain.model  # noqa: PLC0415 - loaded for its effect
        import carwright.web.touch  # noqa: F401, PLC0415
    except ImportError as error:  # said by the first page that needs it
        logging.getLogger("carwright.web").warning("%s", error)

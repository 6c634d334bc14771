"""What a label's code leads to, and the code itself."""

from __future__ import annotations

from urllib.parse import urlsplit

import segno

from carwright.errors import CarwrightError
from carwright.history import History

QUIET = 4
"""Light modules around a code, without which it is not found. ISO/IEC 18004, quiet zone."""
_EXAMPLE = "http://192.168.1.20:8000"


class LabelError(CarwrightError):
    """Labels cannot be made as asked."""


def link_of(history: History, shop: str = "") -> str:
    """What a car's code says.

    Parameters
    ----------
    history : History
        The car.
    shop : str
        Address its page is under, "" for none.

    Returns
    -------
    str
        ``http://192.168.1.20:8000/car/<id>``, or ``urn:uuid:<id>`` where no shop is given; "" for a car without an id.

    Raises
    ------
    LabelError
        "--shop: 'ftp://x' is no address of a shop: expected one such as http://192.168.1.20:8000"
    """
    if shop and not _is_address(shop):
        raise LabelError(f"--shop: {shop[:80]!r} is no address of a shop: expected one such as {_EXAMPLE}")
    if not history.id:
        return ""
    return f"{shop.rstrip('/')}/car/{history.id}" if shop else f"urn:uuid:{history.id}"


def _is_address(text: str) -> bool:
    """Whether pages can lie under a text: http or https, a host, no blanks, nothing that must stand last."""
    if not text.isprintable() or any(sign.isspace() for sign in text) or "?" in text or "#" in text:
        return False
    try:
        parts = urlsplit(text)
        good_port = parts.port != 0
    except ValueError:  # a bracket or a port that none can be
        return False
    return parts.scheme in {"http", "https"} and bool(parts.hostname) and good_port


def qr_path(text: str) -> tuple[str, int]:
    """A QR code as a path.

    Parameters
    ----------
    text : str
        What it says.

    Returns
    -------
    tuple[str, int]
        SVG path data of all dark modules, a run of them in a row at a time, and the side of the symbol with its quiet
        zone [modules]. Level M at least, ISO/IEC 18004: it is read with 15 % of it damaged.

    Raises
    ------
    LabelError
        "--shop: a link of 2400 characters is too long for a QR code"
    """
    try:
        matrix = segno.make(text, error="m", micro=False).matrix
    except segno.DataOverflowError as error:
        raise LabelError(f"--shop: a link of {len(text)} characters is too long for a QR code") from error
    runs = []
    for y, row in enumerate(matrix):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                runs.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h-{end - x}z")
            x = end + 1
    return "".join(runs), len(matrix) + 2 * QUIET

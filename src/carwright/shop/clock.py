"""When a thing was recorded: the machine's clock, made to go forward only.

A hybrid clock (S. Kulkarni et al., Logical Physical Clocks, OPODIS 2014): the time of day in microseconds, or one more
than the latest recorded so far where the machine's clock stands behind that. A clock set back, or a merge with a shop
whose clock runs ahead, therefore never puts a later writing before an earlier one.
"""

from __future__ import annotations

import datetime as dt
import time

LATEST = 4_102_444_800_000_000
"""The first moment of 2100 [µs]: no clock that is right shows later ones while this is in use."""


def now() -> int:
    """Microseconds since 1970 by the machine's clock."""
    return time.time_ns() // 1000


def after(latest: int, wall: int) -> int:
    """The next moment.

    Parameters
    ----------
    latest : int
        The latest recorded in the shop [µs], 0 for none.
    wall : int
        What the machine's clock says [µs].

    Returns
    -------
    int
        Never beyond :data:`LATEST`, whatever a forged writing said.
    """
    return min(max(wall, latest + 1), LATEST)


def moment(clock: int) -> str:
    """A recorded moment as ISO 8601 in UTC, to the second; "a time no clock shows" beyond the calendar."""
    try:
        return dt.datetime.fromtimestamp(clock / 1e6, dt.UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    except (OverflowError, ValueError, OSError):
        return "a time no clock shows"

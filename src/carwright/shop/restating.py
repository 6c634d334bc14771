"""Stating again what was stated before: how a change of a setting or of a car's facts is undone."""

from __future__ import annotations

from typing import Any

from carwright.errors import UnknownNameError
from carwright.shop.records import STATEMENT
from carwright.shop.shop import Shop
from carwright.shop.store import held


def stated_now(shop: Shop, subject: str, key: str) -> str:
    """Digest of the statement that holds about something, "" where nothing is stated."""
    heads = shop.state(subject).heads.get(key, ())
    return heads[0] if heads else ""


def restate(shop: Shop, subject: str, key: str, digest: str, *, who: str = "") -> Any:  # noqa: ANN401 - whatever was stated
    """State something as it was stated before; nothing is taken out of the history.

    Parameters
    ----------
    shop : Shop
        Where.
    subject, key : str
        Of what, and what.
    digest : str
        Of the earlier statement, see :func:`stated_now`; "" takes back what is stated.
    who : str
        Who does.

    Returns
    -------
    Any
        The value stated again, None where it was taken back.

    Raises
    ------
    UnknownNameError
        "there is no earlier statement '...'"
    """
    with shop.writing(who) as batch:
        known = held(batch.connection, subject)
        value = None
        if digest:
            found = next(
                (each for each in known.records if each.digest == digest and (each.kind, each.key) == (STATEMENT, key)),
                None,
            )
            if found is None:
                raise UnknownNameError("earlier statement", digest[:12])
            value = found.content()["value"]
        batch.state(known, known.state.of, key, value)
        if known.state.of == "car":
            shop.must_read(batch.touched.get(subject, known.state), f"car {known.state.title}")
        return value

"""Where a shop is: a file with its photo folder beside it, or a PostgreSQL database by URL."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from carwright.errors import CarwrightError

VARIABLE = "CARWRIGHT_SHOP"
"""Environment variable that names a shop."""
_EXAMPLES = "expected a file such as shop.db, or a URL such as postgresql://bench@club.example/shop"


class AddressError(CarwrightError):
    """A text names no shop."""


@dataclass(frozen=True, slots=True)
class Address:
    """A file, or a URL; printed without its password.

    Attributes
    ----------
    path : Path or None
        Of an SQLite file.
    url : URL or None
        Of a PostgreSQL database.
    """

    path: Path | None = None
    url: URL | None = None

    @property
    def is_file(self) -> bool:
        """Whether the shop is a file of this machine."""
        return self.path is not None

    @property
    def folder(self) -> Path | None:
        """Where the photos of an SQLite shop lie."""
        return None if self.path is None else self.path.with_name(f"{self.path.name}.photos")

    def __str__(self) -> str:
        """As shown to people."""
        if self.url is None:
            return str(self.path)
        return self.url.set(drivername="postgresql").render_as_string(hide_password=True)


def address_of(text: str = "") -> Address:
    """Where a shop is.

    Parameters
    ----------
    text : str
        A path or a URL; "" takes ``$CARWRIGHT_SHOP``, or else the one place a person's own shop has.

    Raises
    ------
    AddressError
        "'mysql://x' names no shop: expected a file such as shop.db, or a URL such as postgresql://..."
    """
    text = text or os.environ.get(VARIABLE, "") or str(own_place())
    if "://" not in text:
        if "\0" in text:
            raise AddressError(f"{text!r} names no shop: {_EXAMPLES}")
        return Address(path=Path(text).expanduser())
    try:
        url = make_url(text)
    except (ArgumentError, ValueError) as error:
        raise AddressError(f"the URL names no shop: {_EXAMPLES}") from error
    if url.drivername == "sqlite" and url.database:
        return Address(path=Path(url.database))
    if url.drivername not in {"postgresql", "postgresql+psycopg"} or not url.database:
        raise AddressError(f"{url.render_as_string(hide_password=True)!r} names no shop: {_EXAMPLES}")
    return Address(url=url.set(drivername="postgresql+psycopg"))


def own_place() -> Path:
    """Where a person's own shop is, by the customs of the system."""
    from platformdirs import user_data_path  # noqa: PLC0415 - asked only where no shop is named

    return user_data_path("carwright", appauthor=False) / "shop.db"

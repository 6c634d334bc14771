"""What can go wrong with a shop, each in one sentence that says what to do."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import exc

from carwright.errors import SHOWN_AT_MOST, CarwrightError
from carwright.shop.address import Address
from carwright.shop.migrations.triggers import SAYS


class ShopError(CarwrightError):
    """A shop cannot do what was asked; nothing in it was changed."""


class NoShopError(ShopError):
    """There is no shop at an address."""

    http_status = 404

    def __init__(self, address: Address) -> None:
        super().__init__(f"{address}: there is no shop yet; `carwright shop add SHEET` starts one")


class UnreachableError(ShopError):
    """A database does not answer, or the connection was lost."""

    http_status = 503

    def __init__(self, address: Address, why: str) -> None:
        super().__init__(f"{address}: cannot be reached: {why}; what was not confirmed was not written")


class BusyError(ShopError):
    """Somebody else is writing."""

    http_status = 503

    def __init__(self, address: Address) -> None:
        super().__init__(f"{address}: another carwright is writing to it; nothing was changed, try again")


class ReadOnlyError(ShopError):
    """The shop may only be read here."""

    http_status = 403

    def __init__(self, address: Address) -> None:
        super().__init__(f"{address}: may only be read here; nothing was changed")


class NoRoomError(ShopError):
    """The disk is full, or a write failed for another reason of the machine's."""

    http_status = 507

    def __init__(self, address: Address, why: str) -> None:
        super().__init__(f"{address}: not written: {why}; nothing was changed, all that was confirmed is kept")


class DamagedError(ShopError):
    """The file is not as it was written."""

    http_status = 500

    def __init__(self, address: Address, why: str) -> None:
        super().__init__(
            f"{address}: damaged ({why}); nothing was changed. Keep the file, look for a backup, and see what can be "
            "saved with `carwright shop check --rescue FILE.zip`"
        )


class VersionError(ShopError):
    """The shop is of another version of carwright."""

    http_status = 409


class InsertOnlyError(ShopError):
    """Something tried to change or remove what was recorded."""

    http_status = 409

    def __init__(self, address: Address) -> None:
        super().__init__(f"{address}: what was recorded is never changed or removed; correct it by a new entry")


class ChangedError(ShopError):
    """A sheet says something else of what is in the shop already; every place is named.

    Attributes
    ----------
    places : tuple[str, ...]
        One sentence each.
    """

    http_status = 409

    def __init__(self, file: str, places: list[str]) -> None:
        self.places = tuple(places)
        shown = [f"{file}: {each}" for each in places[:SHOWN_AT_MOST]]
        if len(places) > len(shown):
            shown.append(f"{file}: and {len(places) - len(shown)} more")
        super().__init__("\n".join(shown))


_LOCKED = ("database is locked", "database table is locked")
_FULL = ("database or disk is full", "disk i/o error", "no space left")
_READ_ONLY = ("readonly database", "read-only")
_DAMAGED = ("malformed", "not a database", "unsupported file format", "corrupt")


@contextmanager
def told(address: Address) -> Iterator[None]:
    """Turn what a database says into a sentence for the person at the bench.

    Raises
    ------
    ShopError
        One of its kinds.
    """
    try:
        yield
    except (exc.DBAPIError, exc.TimeoutError) as error:
        raise fault_of(address, error) from error
    except OSError as error:
        raise NoRoomError(address, error.strerror or str(error)) from error


def fault_of(address: Address, error: exc.SQLAlchemyError) -> ShopError:
    """Which fault an error of the database is."""
    said = str(getattr(error, "orig", None) or error).strip()
    first = (said.splitlines() or [type(error).__name__])[0]
    low = said.lower()
    kinds: list[tuple[tuple[str, ...], ShopError]] = [
        ((SAYS,), InsertOnlyError(address)),
        (_LOCKED, BusyError(address)),
        (_FULL, NoRoomError(address, first)),
        (_READ_ONLY, ReadOnlyError(address)),
        (_DAMAGED, DamagedError(address, first)),
    ]
    for signs, fault in kinds:
        if any(sign in low for sign in signs):
            return fault
    if address.is_file:
        return DamagedError(address, first)
    return UnreachableError(address, first)

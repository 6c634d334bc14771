"""What a shop keeps for all its cars: files they go by, and collections."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from sqlalchemy import select

from carwright.errors import UnknownNameError
from carwright.shop.canonical import named_id
from carwright.shop.faults import ShopError
from carwright.shop.naming import kept_id, plain_name, stays_inside
from carwright.shop.records import CAR, COLLECTION, KEPT
from carwright.shop.schema import standing
from carwright.shop.standing import FILE_KEPT, NAME, kept_texts
from carwright.shop.state import State
from carwright.shop.store import held

if TYPE_CHECKING:
    from carwright.shop.shop import Shop

_MEMBER = "member:"


def keep_file(shop: Shop, name: str, form: str, text: str, *, who: str = "") -> bool:
    """Keep a file for all cars: rules, a rubric, stock, instruments, dated rules, a roster, track, when cars are due.

    Parameters
    ----------
    shop : Shop
        Where.
    name : str
        As sheets name it.
    form : str
        What it is.
    text : str
        Its content.
    who : str
        Who keeps it.

    Returns
    -------
    bool
        False where it is kept already, word for word.

    Raises
    ------
    ShopError
        "'../rubric.toml' is no name of a file below a folder"
    """
    if not stays_inside(name):
        raise ShopError(f"{name!r} is no name of a file below a folder")
    with shop.writing(who) as batch:
        known = held(batch.connection, kept_id(name))
        return batch.state(known, KEPT, FILE_KEPT, {"name": plain_name(name), "format": form, "text": text})


def kept_files(shop: Shop) -> list[tuple[str, str]]:
    """Name and format of every file kept for all cars."""
    kept = (standing.c.of == KEPT, standing.c.title != "")  # one taken back has no name any more
    query = select(standing.c.title, standing.c.type).where(*kept).order_by(standing.c.title)
    with shop.reading() as connection:
        return [(str(row[0]), str(row[1])) for row in connection.execute(query)]


def kept_text(shop: Shop, name: str) -> str:
    """Text of a file kept for all cars.

    Raises
    ------
    UnknownNameError
        "there is no kept file '...'"
    """
    with shop.reading() as connection:
        found = kept_texts(connection, [name])
    if name not in found:
        raise UnknownNameError("kept file", name)
    return found[name]


def collect(shop: Shop, name: str, cars: Iterable[str], *, remove: bool = False, who: str = "") -> int:
    """Put cars into a collection, or take them out.

    Parameters
    ----------
    shop : Shop
        Where.
    name : str
        Of the collection; capitals do not matter.
    cars : iterable of str
        UUIDs.
    remove : bool
        Whether to take them out.
    who : str
        Who does.

    Returns
    -------
    int
        How many cars changed sides.
    """
    plain = " ".join(name.split())
    if not plain:
        raise ShopError("a collection needs a name")
    subject = named_id(COLLECTION, plain.casefold())
    with shop.writing(who) as batch:
        known = held(batch.connection, subject)
        if remove and not known.writings:
            raise UnknownNameError("collection", plain)
        if NAME not in known.state.stated:
            batch.state(known, COLLECTION, NAME, plain)
        changed = 0
        for car in cars:
            known = held(batch.connection, subject)
            if held(batch.connection, car).state.of != CAR:
                raise UnknownNameError("car", car)
            changed += batch.state(known, COLLECTION, f"{_MEMBER}{car}", None if remove else True)
        return changed


def collections(shop: Shop) -> dict[str, list[str]]:
    """Cars of every collection, by its name."""
    query = select(standing.c.subject, standing.c.title).where(standing.c.of == COLLECTION)
    with shop.reading() as connection:
        named = connection.execute(query.order_by(standing.c.title, standing.c.subject)).all()
        return {str(title): members(held(connection, subject).state) for subject, title in named}


def collection(shop: Shop, name: str) -> list[str]:
    """Cars of one collection.

    Raises
    ------
    UnknownNameError
        "there is no collection '...'"
    """
    state = shop.state(named_id(COLLECTION, " ".join(name.split()).casefold()))
    if state.of != COLLECTION:
        raise UnknownNameError("collection", name)
    return members(state)


def members(state: State) -> list[str]:
    """Cars of a collection."""
    return sorted(key.removeprefix(_MEMBER) for key in state.stated if key.startswith(_MEMBER))

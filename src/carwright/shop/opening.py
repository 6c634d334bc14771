"""Opening a shop, starting one, and bringing an earlier one up to date."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine, delete, select

from carwright.shop.address import Address, address_of
from carwright.shop.engine import engine_of, reading, refuse_read_only, snapshot, writing
from carwright.shop.faults import DamagedError, NoShopError, ShopError
from carwright.shop.migrate import begin, check_revision, is_foreign, revision_of, upgrade
from carwright.shop.schema import HEAD, standing
from carwright.shop.shop import Shop
from carwright.shop.standing import refresh
from carwright.shop.store import AT_ONCE, chunks, held_of, subjects_of


def open_shop(place: str | Path | Address = "", *, create: bool = False) -> Shop:
    """Open a shop.

    Parameters
    ----------
    place : str, Path or Address
        A file, or the URL of a PostgreSQL database; "" takes ``$CARWRIGHT_SHOP`` or a person's own shop.
    create : bool
        Whether to start it where there is none.

    Raises
    ------
    NoShopError
        When there is none, and none is to be started.
    DamagedError, VersionError, UnreachableError
        When it cannot be used as it is.
    """
    address = place if isinstance(place, Address) else address_of(str(place))
    _look(address, create=create)
    engine = engine_of(address)
    try:
        _ready(engine, address, create=create)
    except BaseException:
        engine.dispose()
        raise
    return Shop(address, engine)


def _look(address: Address, *, create: bool) -> None:
    """What the file system can say before a database is asked."""
    path = address.path
    if path is None:
        return
    if path.is_dir():
        raise ShopError(f"{address}: is a folder; expected a file such as shop.db")
    empty = path.exists() and path.stat().st_size == 0
    if empty and address.folder is not None and address.folder.exists():
        raise DamagedError(address, "the file is empty, but its photo folder is there")
    if not path.exists() or empty:
        if not create:
            raise NoShopError(address)
        refuse_read_only(address)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ShopError(f"{address}: cannot be made: {error.strerror or error}") from error


def _ready(engine: Engine, address: Address, *, create: bool) -> None:
    revision = _revision(engine, address)
    if revision:
        check_revision(address, revision)
        return
    if not create:
        raise NoShopError(address)
    with writing(engine, address) as connection:
        if not revision_of(connection):  # nobody was faster
            begin(connection)


def _revision(engine: Engine, address: Address) -> str:
    with reading(engine, address) as connection:
        revision = revision_of(connection)
        if not revision and is_foreign(connection):
            raise ShopError(f"{address}: holds something else than a shop")
    return revision


def upgrade_shop(place: str | Path | Address = "") -> str:
    """Bring an earlier shop up to date, after a backup beside it where it is a file.

    Returns
    -------
    str
        The backup's name, "" where none was made or nothing was to do.

    Raises
    ------
    NoShopError, VersionError
        When there is none, or when it is of a later carwright.
    """
    address = place if isinstance(place, Address) else address_of(str(place))
    _look(address, create=False)
    engine = engine_of(address)
    try:
        revision = _revision(engine, address)
        if not revision:
            raise NoShopError(address)
        if revision == HEAD:
            return ""
        if revision > HEAD:
            check_revision(address, revision)
        saved = ""
        if address.path is not None:
            copy = address.path.with_name(f"{address.path.name}.before-{HEAD}")
            if copy.exists():
                raise ShopError(f"{copy}: is there already; move it away, it may be the only backup")
            snapshot(address, copy)
            saved = str(copy)
        with writing(engine, address) as connection:
            upgrade(connection)
        list_anew(Shop(address, engine))
    finally:
        engine.dispose()
    return saved


def list_anew(shop: Shop) -> None:
    """Make the lines of lists and searches again from what is recorded; what is altered keeps the line it has."""
    with shop.writing() as batch:
        subjects = subjects_of(batch.connection)
        ghosts = set(batch.connection.execute(select(standing.c.subject)).scalars()) - set(subjects)
        for chunk in chunks(sorted(ghosts), AT_ONCE):
            batch.connection.execute(delete(standing).where(standing.c.subject.in_(chunk)))
        for known in held_of(batch.connection, subjects):
            if not known.altered:
                refresh(batch.connection, [known.state])

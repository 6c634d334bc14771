"""The one way to a shop's database, whichever it is: transactions that read one moment, and one writer at a time."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, exc, text
from sqlalchemy.pool import QueuePool

from carwright.errors import CarwrightError
from carwright.shop.address import Address
from carwright.shop.faults import BusyError, DamagedError, ReadOnlyError, told

PATIENCE = 5.0
"""How long a writer waits for another one [s]."""
_WRITES = "carwright_writes"
_LOCK = 0x63617277
"""Advisory lock of every carwright that writes to a PostgreSQL database."""


class DriverError(CarwrightError):
    """What speaks to PostgreSQL is not installed."""


def engine_of(address: Address, *, patience: float = PATIENCE) -> Engine:
    """An engine for an address; nothing is opened yet.

    Parameters
    ----------
    address : Address
        Where.
    patience : float
        How long a writer waits for another one [s].

    Raises
    ------
    DriverError
        "PostgreSQL needs psycopg: pip install 'carwright[postgresql]'"
    """
    return _sqlite(address, patience) if address.path is not None else _postgresql(address, patience)


def _sqlite(address: Address, patience: float) -> Engine:
    path = address.path
    if path is None:
        raise TypeError(address)

    def connect() -> sqlite3.Connection:
        return _connect(path, address, patience)

    engine = create_engine("sqlite+pysqlite://", creator=connect, poolclass=QueuePool, pool_size=4)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _connect(path: Path, address: Address, patience: float) -> sqlite3.Connection:
    """A connection with its settings; one that may only read where nothing may be written."""
    whole = path.absolute()
    may_write = os.access(whole.parent, os.W_OK, effective_ids=True) and (
        not whole.exists() or os.access(whole, os.W_OK, effective_ids=True)
    )
    mode = "mode=rwc"
    if not may_write:
        log = whole.with_name(f"{whole.name}-wal")
        # Nobody can be writing where even the folder cannot be written; a log left there must be read with the file.
        mode = "mode=ro" if log.exists() and log.stat().st_size else "mode=ro&immutable=1"
    connection = sqlite3.connect(
        f"file:{quote(str(whole))}?{mode}", uri=True, timeout=patience, isolation_level=None, check_same_thread=False
    )
    try:
        if may_write:
            connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute("PRAGMA recursive_triggers=ON")
        connection.execute(f"PRAGMA busy_timeout={round(patience * 1000)}")
    except sqlite3.Error as error:
        connection.close()
        if "locked" in str(error):
            raise BusyError(address) from error
        raise DamagedError(address, str(error)) from error
    return connection


def _postgresql(address: Address, patience: float) -> Engine:
    if address.url is None:
        raise TypeError(address)
    wait = f"-c lock_timeout={round(patience * 1000)} -c client_encoding=UTF8"
    try:
        return create_engine(
            address.url, pool_pre_ping=True, connect_args={"connect_timeout": 10, "options": wait}, pool_size=4
        )
    except ModuleNotFoundError as error:
        raise DriverError("PostgreSQL needs psycopg: pip install 'carwright[postgresql]'") from error


@contextmanager
def reading(engine: Engine, address: Address) -> Iterator[Connection]:
    """A transaction that sees the shop as it is at one moment."""
    options: dict[str, Any] = {} if address.is_file else {"isolation_level": "REPEATABLE READ"}
    with told(address), engine.connect().execution_options(**options) as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: Engine, address: Address) -> Iterator[Connection]:
    """A transaction of the only writer; when it ends without an error, all of it is on the disk.

    Raises
    ------
    BusyError
        Another writer kept the shop for too long.
    """
    with told(address), engine.connect().execution_options(**{_WRITES: True}) as connection:
        try:
            with connection.begin():
                if not address.is_file:
                    connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
                yield connection
        except exc.OperationalError as error:
            if "lock timeout" in str(error.orig) or "LockNotAvailable" in type(error.orig).__name__:
                raise BusyError(address) from error
            raise


def refuse_read_only(address: Address) -> None:
    """Say at once that nothing can be written, before work is done for it.

    Raises
    ------
    ReadOnlyError
        "<path>: may only be read here; nothing was changed"
    """
    if address.path is None:
        return
    place = address.path if address.path.exists() else address.path.parent
    while not place.exists():
        place = place.parent
    if not os.access(place, os.W_OK, effective_ids=True):
        raise ReadOnlyError(address)


def snapshot(address: Address, target: Path) -> None:
    """A copy of an SQLite file as it is at one moment, while others may write.

    Parameters
    ----------
    address : Address
        A shop in a file.
    target : Path
        A file that is not there yet.
    """
    if address.path is None:
        raise TypeError(address)
    start = time.monotonic()
    source = _connect(address.path, address, PATIENCE)
    try:
        copy = sqlite3.connect(target)
        try:
            source.backup(copy, pages=-1)
        finally:
            copy.close()
    except sqlite3.Error as error:
        if "locked" in str(error) and time.monotonic() - start >= PATIENCE:
            raise BusyError(address) from error
        raise DamagedError(address, str(error)) from error
    finally:
        source.close()

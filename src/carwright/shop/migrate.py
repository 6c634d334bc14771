"""Bringing the tables of a shop to what this carwright reads."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import Connection, inspect, text

from carwright.shop.address import Address
from carwright.shop.faults import DamagedError, VersionError
from carwright.shop.schema import HEAD

FRESH = Path(__file__).parent / "migrations" / "fresh.sql"
"""What the migrations come to on SQLite; a test holds it to that."""
KNOWN = ("0001", "0002")
"""Every released revision, earliest first."""


def revision_of(connection: Connection) -> str:
    """Revision of a shop's tables, "" for an empty database."""
    if not inspect(connection).has_table("alembic_version"):
        return ""
    return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar() or "")


def is_foreign(connection: Connection) -> bool:
    """Whether a database without a revision holds tables of something else."""
    return bool(inspect(connection).get_table_names())


def check_revision(address: Address, revision: str) -> None:
    """Refuse what this carwright cannot read as it is.

    Raises
    ------
    VersionError
        "<shop>: was made by a later carwright (revision 0009); this one reads up to 0002", "<shop>: was made by an
        earlier carwright; `carwright shop upgrade` brings it up to date, after a backup"
    DamagedError
        When it names no revision.
    """
    if revision == HEAD:
        return
    if not revision:
        raise DamagedError(address, "it has no revision")
    if revision not in KNOWN:
        raise VersionError(
            f"{address}: was made by a later carwright (revision {revision[:40]}); this one reads up to {HEAD}"
        )
    raise VersionError(
        f"{address}: was made by an earlier carwright; `carwright shop upgrade` brings it up to date, after a backup"
    )


def begin(connection: Connection) -> None:
    """Make the tables of an empty database, within the connection's transaction.

    A file is made from :data:`FRESH`, which holds what the migrations come to: loading what runs them takes longer
    than all the rest of opening a shop.
    """
    if connection.dialect.name != "sqlite":
        upgrade(connection)
        return
    statement = ""
    for line in FRESH.read_text("utf-8").splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            connection.exec_driver_sql(statement)
            statement = ""


def upgrade(connection: Connection, revision: str = HEAD) -> None:
    """Make or bring up to date the tables, within the connection's transaction.

    Parameters
    ----------
    connection : Connection
        Of a writer.
    revision : str
        Where to; an earlier one serves tests.
    """
    from alembic import command  # noqa: PLC0415 - loaded only where tables are made or changed
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)

"""Write what the migrations of a shop come to as SQL, which starts a new file: ``python tools/fresh.py``."""

from __future__ import annotations

import sqlite3
import tempfile
from pathlib import Path

from sqlalchemy import create_engine

from carwright.shop.migrate import FRESH, upgrade


def written() -> str:
    """The statements that make an empty shop of the newest revision."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "shop.db"
        engine = create_engine(f"sqlite:///{place}")
        with engine.begin() as connection:
            upgrade(connection)
        engine.dispose()
        with sqlite3.connect(place) as plain:
            made = [row[0] for row in plain.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL ORDER BY rowid")]
            [revision] = plain.execute("SELECT version_num FROM alembic_version").fetchone()
        plain.close()
    head = (
        "-- What the migrations come to, written by tools/fresh.py; a new file is started with it, since it is quick.\n"
    )
    last = f"INSERT INTO alembic_version (version_num) VALUES ('{revision}');\n"  # noqa: S608 - our own revision
    return head + "".join(f"{statement.strip()};\n\n" for statement in made) + last


if __name__ == "__main__":
    FRESH.write_text(written(), "utf-8")

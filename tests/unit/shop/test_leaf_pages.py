"""Rows read from bare pages are those SQLite wrote, whatever their sizes."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest

from carwright.shop.pages import leaf_rows


@pytest.mark.parametrize("size", [512, 1024, 4096, 65536])
@pytest.mark.parametrize("longest", [40, 3000, 200_000])
def test_rows_come_from_pages_as_sqlite_wrote_them(tmp_path: Path, size: int, longest: int) -> None:
    dice = random.Random(size + longest)
    place = tmp_path / "rows.db"
    with sqlite3.connect(place) as connection:
        connection.execute(f"PRAGMA page_size={size}")
        connection.execute("CREATE TABLE many (number INTEGER PRIMARY KEY, text TEXT, size INTEGER, raw BLOB)")
        for number in [*range(1, 120), 2**40, 2**62]:
            text = "ä" * dice.randrange(longest)
            whole = dice.choice([0, 1, -1, 127, -128, 40_000, 2**23, -(2**31), 2**47 - 1, 2**63 - 1])
            connection.execute("INSERT INTO many VALUES (?, ?, ?, ?)", (number, text, whole, dice.randbytes(9)))
        wanted = connection.execute("SELECT number, text, size, raw FROM many ORDER BY number").fetchall()
    found = sorted((number, *values[1:]) for number, values in leaf_rows(place) if len(values) == 4)
    assert found == wanted


def test_what_is_no_database_has_no_rows_and_stops_nothing(tmp_path: Path) -> None:
    place = tmp_path / "noise.db"
    for seed in range(20):
        dice = random.Random(seed)
        pages = [bytes([0x0D]) + dice.randbytes(4095) for _ in range(12)]
        place.write_bytes(b"".join(pages) + dice.randbytes(77))
        for number, values in leaf_rows(place):
            assert isinstance(number, int)
            assert isinstance(values, tuple)

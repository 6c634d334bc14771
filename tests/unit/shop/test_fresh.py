"""A new file is started from SQL; that SQL is what the migrations come to, to the letter."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

from carwright.shop import open_shop
from carwright.shop.migrate import FRESH, KNOWN
from carwright.shop.schema import HEAD


def test_a_new_file_is_what_the_migrations_come_to(tmp_path: Path) -> None:
    program = "import runpy, sys; sys.stdout.write(runpy.run_path('tools/fresh.py')['written']())"
    made = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert made.stdout == FRESH.read_text("utf-8"), "run python tools/fresh.py"
    open_shop(tmp_path / "shop.db", create=True).close()
    with sqlite3.connect(tmp_path / "shop.db") as plain:
        held = [row[0] for row in plain.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL ORDER BY rowid")]
        assert plain.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]
    plain.close()
    assert all(f"{statement.strip()};" in made.stdout for statement in held)
    assert len(held) == made.stdout.count("\nCREATE ")
    assert KNOWN[-1] == HEAD


def test_starting_a_file_loads_nothing_that_migrates(tmp_path: Path) -> None:
    place = tmp_path / "shop.db"
    does = f"import sys; from carwright.shop import open_shop; open_shop({str(place)!r}, create=True)"
    program = f"{does}; print('alembic' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"

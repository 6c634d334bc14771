"""The loader refuses a figure without its source, and says which."""

from __future__ import annotations

import pytest

from carwright.errors import TableError, UnknownNameError
from carwright.tables import shipped
from carwright.tables.load import read_bibliography, read_table

BOOKS = {"sheet": {"key": "sheet", "title": "A sheet", "body": "A body", "kind": "standard"}}
GOOD = """
[table]
id = "a/b"
title = "Wheels"
source = "sheet"
edition = "1"
locator = "table"
status = "standard"
confidence = "text"
unit = "in"
key = "scale"
[table.columns.K_max]
meaning = "check gauge, greatest"
characteristic = "wheel.check_gauge"
limit = "upper"
[table.clauses]
force = "standard"
[[row]]
scale = "HO"
K_max = 0.605
"""


def test_a_good_table_is_read() -> None:
    table = read_table(GOOD, "a_b.toml", BOOKS)
    cell = table.rows["HO"].cells["K_max"]
    assert (cell.value, cell.unit, cell.source.key) == (0.605, "in", "sheet")
    assert cell.source.locator == "table, row HO, column K_max"
    assert "(standard; text)" in cell.source.sentence()


@pytest.mark.parametrize("key", ["source", "edition", "locator", "status", "confidence"])
def test_a_row_without_its_source_is_refused(key: str) -> None:
    text = "\n".join(line for line in GOOD.splitlines() if not line.startswith(f"{key} ="))
    with pytest.raises(TableError, match=rf"a_b\.toml, row HO: needs an? {key}"):
        read_table(text, "a_b.toml", BOOKS)


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('status = "standard"', 'status = "certain"', "status 'certain' must be one of standard, handbook"),
        ('confidence = "text"', 'confidence = "sure"', "confidence 'sure' must be one of text"),
        ('source = "sheet"', 'source = "hearsay"', "source 'hearsay' is not in the bibliography"),
        ("K_max = 0.605", "K_max = 0.605\nL = 1", "undeclared column 'L'"),
        ("K_max = 0.605", "", "K_max is empty and gives no reason"),
        ("K_max = 0.605", 'K_max = "0.605"', "K_max must be a number in in, got '0.605'"),
        ("K_max = 0.605", "K_max = true", "K_max must be a number in in, got True"),
        ('scale = "HO"', 'scale = ""', "needs its own scale"),
        ('limit = "upper"', "", "characteristic goes with a limit"),
        ('meaning = "check gauge, greatest"', "", "needs a meaning"),
        ('force = "standard"', 'force = "law"', "force must be one of"),
        ('unit = "in"', "", r"\[table\] needs unit"),
        ("[[row]]", "[[rows]]", "has no rows"),
        ("[table]\n", "[[table]]\n", r"needs a \[table\] head"),
        ('id = "a/b"', 'id = "a/b', "not TOML"),
    ],
)
def test_what_is_wrong_is_named(old: str, new: str, why: str) -> None:
    assert old in GOOD
    with pytest.raises(TableError, match=why):
        read_table(GOOD.replace(old, new, 1), "a_b.toml", BOOKS)


def test_a_row_stands_once() -> None:
    with pytest.raises(TableError, match="row HO: needs its own scale"):
        read_table(GOOD + '[[row]]\nscale = "HO"\nK_max = 0.6\n', "a_b.toml", BOOKS)


def test_an_empty_cell_holds_its_reason() -> None:
    text = GOOD.replace("K_max = 0.605", '[row.empty]\nK_max = "cut off"')
    cell = read_table(text, "a_b.toml", BOOKS).rows["HO"].cells["K_max"]
    assert (cell.value, cell.reason) == (None, "cut off")


def test_a_rival_names_a_cell() -> None:
    rival = '[[rival]]\nrow = "HO"\ncolumn = "K_max"\nvalue = 0.6\n'
    table = read_table(GOOD + rival, "a_b.toml", BOOKS)
    assert table.rivals[0].value == 0.6
    with pytest.raises(TableError, match="must name a row and a column"):
        read_table(GOOD + rival.replace('"HO"', '"N"'), "a_b.toml", BOOKS)


def test_a_bibliography_row_is_whole_and_single() -> None:
    row = '[[source]]\nkey = "a"\ntitle = "t"\nbody = "b"\nkind = "k"\n'
    assert list(read_bibliography(row)) == ["a"]
    with pytest.raises(TableError, match="source 1: needs key, title, body and kind"):
        read_bibliography(row.replace('title = "t"\n', ""))
    with pytest.raises(TableError, match="source 2: key 'a' stands twice"):
        read_bibliography(row + row)


def test_a_missing_table_is_named_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match=r"there is no table 'nmra/s-4\.3'; did you mean 'nmra/s-4\.1'\?|s-4\.2"):
        shipped().table("nmra/s-4.3")


def test_every_shipped_table_loads_and_cites_a_known_source() -> None:
    tables = list(shipped().all())
    assert len(tables) >= 25
    for table in tables:
        for row in table.rows.values():
            for cell in row.cells.values():
                assert cell.source.key in shipped().bibliography
                assert (cell.value is None) == bool(cell.reason)

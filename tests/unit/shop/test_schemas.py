"""The file of every released schema is opened, brought up to date, and holds what it held."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from pathlib import Path

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory
from shops import Cluster
from sqlalchemy import inspect

import carwright.shop.migrate
from carwright.shop import ShopError, open_shop, upgrade_shop
from carwright.shop.checking import check
from carwright.shop.faults import NoShopError, VersionError
from carwright.shop.judging import judge_all, stale_cars
from carwright.shop.listing import list_cars
from carwright.shop.migrate import KNOWN, upgrade
from carwright.shop.schema import HEAD, meta
from carwright.shop.shared import collections, kept_files

SCHEMAS = Path(__file__).parent / "schemas"
PINNED = {
    "0001": "9fc6e120290726cfb5f774b4fdbd50ebaefb1e9fe842267de021b9335b394e5c",
    "0002": "7518eaf38fc245daab30037291d84be9be7853cc7c814ba6f459caf4cc603d22",
}
"""SHA-256 of the files, which never change."""
STATES: set[str] = {
    "4f251641eaae920f39c148d62da733b9e63b238f98bf5803712a27f4230cb8fc",
    "70b05b2a615fc038b93002caad2442f4068dc5269247df0ab0b4fe8bd51b7aed",
    "98b93d26725a2ae089835d9cdcd812ba8610da62af1407b85294dff15c474c50",
}
"""What their cars come to."""


def copied(revision: str, folder: Path) -> Path:
    """A released shop, with its photos."""
    place = folder / "shop.db"
    shutil.copyfile(SCHEMAS / f"{revision}.db", place)
    shutil.copytree(SCHEMAS / "photos", folder / "shop.db.photos")
    return place


def test_every_revision_has_its_file() -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(carwright.shop.migrate.__file__).parent / "migrations"))
    script = ScriptDirectory.from_config(config)
    known = [each.revision for each in script.walk_revisions()][::-1]
    assert tuple(known) == KNOWN
    assert script.get_current_head() == HEAD
    assert set(PINNED) == set(KNOWN)
    for revision, digest in PINNED.items():
        assert hashlib.sha256((SCHEMAS / f"{revision}.db").read_bytes()).hexdigest() == digest


@pytest.mark.parametrize("revision", KNOWN)
def test_a_released_shop_is_brought_up_to_date_and_holds_what_it_held(tmp_path: Path, revision: str) -> None:
    place = copied(revision, tmp_path)
    before = place.read_bytes()
    if revision != HEAD:
        with pytest.raises(VersionError, match="made by an earlier carwright"):
            open_shop(place)
        saved = Path(upgrade_shop(place))
        with sqlite3.connect(saved) as old:
            assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [(revision,)]
            assert old.execute("SELECT count(*) FROM record").fetchone() > (50,)
    assert upgrade_shop(place) == ""
    with open_shop(place) as shop:
        assert not check(shop).problems
        assert [each.title.partition(",")[0] for each in list_cars(shop)] == [
            "Covered hopper", "Gedeckter Güterwagen", "Gondola",
        ]  # fmt: skip
        assert {name: len(cars) for name, cars in collections(shop).items()} == {"Shelf one": 2}
        assert kept_files(shop) == [("club-sedge.toml", "carwright-rules/1")]
        assert {shop.state(each.id).digest for each in list_cars(shop)} == STATES
        judge_all(shop, stale_cars(shop))
        assert all(each.status for each in list_cars(shop))
    assert (SCHEMAS / f"{revision}.db").read_bytes() == before


def test_an_upgrade_keeps_its_backup_and_is_refused_beside_another(tmp_path: Path) -> None:
    place = copied("0001", tmp_path)
    backup = tmp_path / f"shop.db.before-{HEAD}"
    backup.write_text("mine")
    with pytest.raises(ShopError, match="is there already; move it away"):
        upgrade_shop(place)
    assert backup.read_text() == "mine"
    with pytest.raises(VersionError):
        open_shop(place)
    with pytest.raises(NoShopError):
        upgrade_shop(tmp_path / "none.db")


def test_an_upgrade_that_fails_leaves_the_shop_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = copied("0001", tmp_path)

    def broken(connection: object) -> None:
        upgrade(connection)  # type: ignore[arg-type]
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("carwright.shop.opening.upgrade", broken)
    with pytest.raises(ShopError, match="No space left"):
        upgrade_shop(place)
    monkeypatch.undo()
    Path(f"{place}.before-{HEAD}").unlink()
    assert upgrade_shop(place)
    with open_shop(place) as shop:
        assert len(list_cars(shop)) == 3


def test_tables_made_by_revisions_are_those_the_program_knows(tmp_path: Path) -> None:
    with open_shop(tmp_path / "shop.db", create=True) as shop:
        found = inspect(shop.engine)
        for table in meta.sorted_tables:
            columns = {each["name"]: (str(each["type"]), each["nullable"]) for each in found.get_columns(table.name)}
            wanted = {
                each.name: (each.type.compile(shop.engine.dialect), bool(each.nullable)) for each in table.columns
            }
            assert columns == wanted, table.name
            indexes = {str(each["name"]): each["column_names"] for each in found.get_indexes(table.name)}
            assert {str(each.name): [column.name for column in each.columns] for each in table.indexes} == {
                name: columns for name, columns in indexes.items() if not name.startswith("sqlite_autoindex")
            }
            keys = {(tuple(each["constrained_columns"]), each["referred_table"])
                    for each in found.get_foreign_keys(table.name)}  # fmt: skip
            assert keys == {((each.parent.name,), each.column.table.name) for each in table.foreign_keys}


def test_a_shop_in_postgresql_has_the_same_tables(cluster: Cluster, tmp_path: Path) -> None:
    with open_shop(cluster.fresh(), create=True) as there, open_shop(tmp_path / "s.db", create=True) as here:
        assert set(inspect(there.engine).get_table_names()) == set(inspect(here.engine).get_table_names())
        for name in inspect(here.engine).get_table_names():
            assert [each["name"] for each in inspect(there.engine).get_columns(name)] == [
                each["name"] for each in inspect(here.engine).get_columns(name)
            ]

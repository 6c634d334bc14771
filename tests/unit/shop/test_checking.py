"""A look through a shop finds whatever was done behind its back, and says all is well where nothing was."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

import carwright as cw
from carwright.cli import verbs
from carwright.errors import CarwrightError
from carwright.shop import Given, Shop, open_shop
from carwright.shop.checking import DAMAGED, DISPUTED, FAULTY, NOTED, Problem, check
from carwright.shop.listing import list_cars
from carwright.shop.opening import list_anew

EXAMPLES = Path(__file__).parents[3] / "examples"
TABLES = ("record", "writing", "line", "file")
ENTRY = "(SELECT min(seq) FROM record WHERE kind = 'entry')"
STATEMENT = "(SELECT min(seq) FROM record WHERE key = 'car')"


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two cars, a photo, a correction and a later entry."""
    path = tmp_path_factory.mktemp("sound") / "shop.db"
    with open_shop(path, create=True) as made:
        names = ("ho-covered-hopper", "n-gondola")
        made.add([Given(cw.read_sheet(EXAMPLES / f"{each}.toml"), EXAMPLES) for each in names], who="me")
        car = made.find("gondola")
        made.append(car, [{"kind": "note", "note": "a later one"}])
        made.undo(car)
    return path


@pytest.fixture
def path(sound: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "shop.db"
    shutil.copy(sound, copy)
    shutil.copytree(f"{sound}.photos", f"{copy}.photos")
    return copy


@pytest.fixture
def shop(path: Path) -> Iterator[Shop]:
    with open_shop(path) as opened:
        yield opened


def altered(path: Path, *statements: str, guarded: bool = False) -> None:
    """Change a shop by SQL, as nobody should; its triggers are put back where asked for."""
    connection = sqlite3.connect(path)
    triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        connection.execute(f"DROP TRIGGER {name}")
    for each in statements:
        connection.execute(each)
    for _, sql in triggers if guarded else ():
        connection.execute(sql)
    connection.commit()
    connection.close()


def problems(path: Path, *statements: str) -> list[Problem]:
    """What a check says after changes that left the triggers as they were."""
    altered(path, *statements, guarded=True)
    with open_shop(path) as opened:
        return check(opened).problems


def photo_of(path: Path) -> Path:
    return next(path.with_name(f"{path.name}.photos").glob("*/*"))


def test_sound_shop_is_well_and_counted(shop: Shop) -> None:
    told: list[tuple[int, int]] = []
    found = check(shop, lambda done, of: told.append((done, of)))
    entries = sum(len(shop.state(each).entries) for each in shop.subjects())
    assert found.problems == []
    assert found.counts == {"cars": 2, "entries": entries, "writings": 4, "files": 1}
    assert told[-1] == (2, 2)


def test_empty_shop_is_well(tmp_path: Path) -> None:
    with open_shop(tmp_path / "new.db", create=True) as made:
        assert check(made).problems == []


def test_check_changes_nothing(path: Path) -> None:
    photo_of(path).unlink()
    with open_shop(path) as opened:
        list_cars(opened)
        before = list(_dump(path))
        assert check(opened).of(DAMAGED)
    assert list(_dump(path)) == before


def _dump(path: Path) -> Iterator[str]:
    connection = sqlite3.connect(path)
    yield from connection.iterdump()
    connection.close()


# --- guards --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_database_refuses_to_change_or_remove_what_was_recorded(path: Path, table: str, recursive: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA recursive_triggers = {recursive}")
    column = connection.execute(f"SELECT name FROM pragma_table_info('{table}')").fetchall()[-1][0]  # noqa: S608
    before = connection.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608
    assert before
    for each in (
        f"UPDATE {table} SET {column} = 'x'",  # noqa: S608
        f"UPDATE {table} SET {column} = {column}",  # noqa: S608
        f"DELETE FROM {table}",  # noqa: S608
        f"DELETE FROM {table} WHERE rowid = 1",  # noqa: S608
        f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",  # noqa: S608
        f"REPLACE INTO {table} SELECT * FROM {table} LIMIT 1",  # noqa: S608
        f"UPDATE OR REPLACE {table} SET {column} = {column}",  # noqa: S608
        f"UPDATE OR IGNORE {table} SET {column} = 'x'",  # noqa: S608
    ):
        with pytest.raises(sqlite3.Error, match="insert only"):
            connection.execute(each)
    assert connection.execute(f"SELECT * FROM {table}").fetchall() == before  # noqa: S608
    connection.close()


@pytest.mark.parametrize("key", ["digest", "seq"])
def test_replacing_one_row_by_either_of_its_keys_is_refused(path: Path, key: str) -> None:
    connection = sqlite3.connect(path)
    seq = "seq" if key == "seq" else "99999"
    digest = "digest" if key == "digest" else "'0'"
    with pytest.raises(sqlite3.Error, match="insert only"):
        connection.execute(
            f"INSERT OR REPLACE INTO record SELECT {seq}, {digest}, id, subject, kind, key, 'x', said "  # noqa: S608
            "FROM record LIMIT 1"
        )
    connection.close()


def test_upsert_is_refused(path: Path) -> None:
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.Error, match="insert only"):
        connection.execute(
            "INSERT INTO record SELECT * FROM record WHERE true ON CONFLICT(digest) DO UPDATE SET body = 'x'"
        )
    connection.close()


def test_every_missing_trigger_is_found(path: Path) -> None:
    connection = sqlite3.connect(path)
    triggers = connection.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    assert {table for _, table, _ in triggers} == set(TABLES)
    for name, table, sql in triggers:
        connection.execute(f"DROP TRIGGER {name}")
        connection.commit()
        with open_shop(path) as opened:
            assert check(opened).problems == [
                Problem(DAMAGED, f"table {table}", "is not guarded against changes any more")
            ]
        connection.execute(sql)
        connection.commit()
    connection.close()


def test_trigger_that_does_nothing_is_no_guard(path: Path) -> None:
    altered(path)
    connection = sqlite3.connect(path)
    for table in TABLES:
        for number, event in enumerate(("UPDATE", "DELETE", "INSERT")):
            connection.execute(f"CREATE TRIGGER {table}_{number} BEFORE {event} ON {table} BEGIN SELECT 1; END")
    connection.commit()
    connection.close()
    with open_shop(path) as opened:
        assert len(check(opened).of(DAMAGED)) == len(TABLES)


def test_table_of_something_else_is_noted(path: Path) -> None:
    assert problems(path, "CREATE TABLE mine (x)") == [Problem(NOTED, "table mine", "is none of carwright's")]


# --- rows altered --------------------------------------------------------------------------------------------------

FOUND = {
    "entry": f"UPDATE record SET body = replace(body, '0', '1') WHERE seq = {ENTRY}",  # noqa: S608
    "id": f"UPDATE record SET id = '00000000-0000-0000-0000-000000000001' WHERE seq = {ENTRY}",  # noqa: S608
    "statement": f"UPDATE record SET body = replace(body, 'hopper', 'happer') WHERE seq = {STATEMENT}",  # noqa: S608
    "subject": f"UPDATE record SET subject = 'nobody' WHERE seq = {ENTRY}",  # noqa: S608
    "statement made an entry": f"UPDATE record SET kind = 'entry' WHERE seq = {STATEMENT}",  # noqa: S608
    "digest": "UPDATE record SET digest = upper(digest) WHERE seq = 1",
    "said": f"UPDATE record SET said = '0' WHERE seq = {ENTRY}",  # noqa: S608
    "said of a statement": f"UPDATE record SET said = '0' WHERE seq = {STATEMENT}",  # noqa: S608
    "clock": "UPDATE writing SET clock = clock + 1 WHERE seq = 1",
    "who": "UPDATE writing SET who = 'somebody' WHERE seq = 1",
    "program": "UPDATE writing SET program = 'x' WHERE seq = 1",
    "of": "UPDATE writing SET of = 'kept' WHERE seq = 1",
    "subject of a writing": "UPDATE writing SET subject = 'nobody' WHERE seq = 1",
    "digest of a writing": "UPDATE writing SET digest = '0' WHERE seq = 1",
    "after": "UPDATE line SET after = '' WHERE writing = 3",
    "order": "UPDATE line SET ordinal = ordinal + 100 WHERE writing = 1 AND ordinal = 2",
    "a line": "DELETE FROM line WHERE writing = 1 AND ordinal = 3",
    "last line": "DELETE FROM line WHERE writing = 3",
    "a writing": "DELETE FROM writing WHERE seq = 3",
    "a record": f"DELETE FROM record WHERE seq = {ENTRY}",  # noqa: S608
    "a line more": "INSERT INTO line SELECT writing, 100, record, after, before FROM line WHERE writing = 1 LIMIT 1",
    "a line elsewhere": "UPDATE line SET writing = 2, ordinal = 100 WHERE writing = 1 AND ordinal = 3",
    "a file": "DELETE FROM file",
}


@pytest.mark.parametrize("statement", FOUND.values(), ids=FOUND.keys())
def test_row_altered_behind_its_back_is_found(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    before = list(connection.iterdump())
    connection.close()
    found = problems(path, statement)
    assert list(_dump(path)) != before
    assert DAMAGED in {each.kind for each in found}


def test_writing_and_its_lines_removed_leave_records_that_are_found(path: Path) -> None:
    found = problems(path, "DELETE FROM line WHERE writing = 3", "DELETE FROM writing WHERE seq = 3")
    assert any("has lost the writing it came with" in each.what for each in found if each.kind == DAMAGED)


GONE = (
    "DELETE FROM record WHERE seq IN (SELECT record FROM line WHERE writing = {0})",
    "DELETE FROM line WHERE writing = {0}",
    "DELETE FROM writing WHERE seq = {0}",
)


def test_last_writing_removed_with_all_its_rows_leaves_the_list_out_of_step(path: Path) -> None:
    found = problems(path, *(each.format(4) for each in GONE))
    assert [each.kind for each in found] == [FAULTY]
    assert "stands in lists otherwise than it is" in found[0].what


def test_car_removed_with_all_its_rows_is_missed(path: Path) -> None:
    found = problems(path, *(each.format(1) for each in GONE))
    assert {each.kind for each in found} & {DAMAGED, FAULTY}


BROKEN = {
    "body of an entry": f"UPDATE record SET body = 'x' WHERE seq = {ENTRY}",  # noqa: S608
    "body of a statement": f"UPDATE record SET body = 'x' WHERE seq = {STATEMENT}",  # noqa: S608
    "body without keys": f"UPDATE record SET body = '{{}}' WHERE seq = {STATEMENT}",  # noqa: S608
    "body a list": f"UPDATE record SET body = '[]' WHERE seq = {ENTRY}",  # noqa: S608
    "body no text": f"UPDATE record SET body = x'00ff' WHERE seq = {STATEMENT}",  # noqa: S608
    "entry made a statement": f"UPDATE record SET kind = 'statement' WHERE seq = {ENTRY}",  # noqa: S608
    "clock no number": "UPDATE writing SET clock = 'abc' WHERE seq = 1",
}


@pytest.mark.parametrize("statement", BROKEN.values(), ids=BROKEN.keys())
def test_content_that_cannot_be_read_is_found_and_does_not_end_the_check(path: Path, statement: str) -> None:
    assert DAMAGED in {each.kind for each in problems(path, statement)}


@pytest.mark.parametrize("name", ["body of an entry", "body of a statement", "body without keys"])
@pytest.mark.parametrize(
    "command",
    [
        ["show", "hopper"], ["show", "hopper", "--history"], ["undo", "hopper"], ["inspect"], ["check"],
        ["check", "--renew"], ["tags", "--out", "tags.pdf"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_verbs_say_in_a_sentence_that_content_is_damaged(path: Path, name: str, command: list[str]) -> None:
    altered(path, BROKEN[name], guarded=True)
    out = [str(path.parent / each) if each.endswith(".pdf") else each for each in command]
    result = CliRunner().invoke(verbs, ["shop", *out, "--shop", str(path)])
    assert result.exception is None or isinstance(result.exception, SystemExit | CarwrightError)


# --- lists ---------------------------------------------------------------------------------------------------------


def test_line_missing_from_lists_is_found_and_renewed(path: Path) -> None:
    found = problems(path, "DELETE FROM standing")
    assert [each.kind for each in found] == [FAULTY, FAULTY]
    with open_shop(path) as opened:
        assert list_cars(opened) == []
        list_anew(opened)
        assert check(opened).problems == []
        assert len(list_cars(opened)) == 2


def test_line_of_an_earlier_history_is_found_and_renewed(path: Path) -> None:
    found = problems(path, "UPDATE standing SET digest = '0', title = 'old'")
    assert [each.kind for each in found] == [FAULTY, FAULTY]
    with open_shop(path) as opened:
        list_anew(opened)
        assert check(opened).problems == []
        assert "old" not in {each.title for each in list_cars(opened)}


@pytest.mark.parametrize("column", ["title", "number", "words", "place", "of", "uses"])
def test_line_that_shows_something_else_is_found(path: Path, column: str) -> None:
    assert problems(path, f"UPDATE standing SET {column} = 'zzz'")  # noqa: S608


def test_line_of_a_car_that_is_nowhere_is_found_and_renewed(path: Path) -> None:
    found = problems(
        path,
        "INSERT INTO standing SELECT '00000000-0000-0000-0000-000000000001', of, title, sort, scale, type, owner, "
        "number, place, words, who, uses, entries, clock, digest, forks FROM standing LIMIT 1",
    )
    with open_shop(path) as opened:
        list_anew(opened)
        assert len(list_cars(opened)) == 2
    assert found


# --- photos --------------------------------------------------------------------------------------------------------


def test_missing_photo_is_found_where_it_is_named(path: Path) -> None:
    photo_of(path).unlink()
    found = problems(path)
    assert [(each.kind, each.what) for each in found] == [(DAMAGED, "is gone from the photo folder")]
    assert "photos/ho-covered-hopper-step.png" in found[0].where


@pytest.mark.parametrize("change", ["shorter", "longer", "flipped", "empty"])
def test_altered_photo_is_found(path: Path, change: str) -> None:
    photo = photo_of(path)
    data = photo.read_bytes()
    middle = len(data) // 2
    flipped = data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :]
    photo.write_bytes({"shorter": data[:-1], "longer": data + b"\0", "flipped": flipped, "empty": b""}[change])
    assert [(each.kind, each.what) for each in problems(path)] == [(DAMAGED, "is not what it was: damaged or changed")]


def test_whole_photo_folder_gone_is_found(path: Path) -> None:
    shutil.rmtree(f"{path}.photos")
    assert [each.what for each in problems(path)] == ["is gone from the photo folder"]


def test_photo_nothing_names_is_noted(path: Path) -> None:
    photo_of(path).parent.joinpath("0" * 64).write_bytes(b"x")
    assert [each.kind for each in problems(path)] == [NOTED]


def test_missing_photo_is_mended_by_adding_its_sheet_again(path: Path) -> None:
    photo_of(path).unlink()
    with open_shop(path) as opened:
        opened.add([Given(cw.read_sheet(EXAMPLES / "ho-covered-hopper.toml"), EXAMPLES)])
        assert check(opened).problems == []


def test_folder_in_place_of_a_photo_is_found(path: Path) -> None:
    photo = photo_of(path)
    photo.unlink()
    photo.mkdir()
    assert DAMAGED in {each.kind for each in problems(path)}


def test_size_of_a_file_altered_is_found(path: Path) -> None:
    assert problems(path, "UPDATE file SET size = 1")


# --- what the command says -----------------------------------------------------------------------------------------


def test_strict_check_tells_damage_by_its_exit_status(path: Path) -> None:
    well = CliRunner().invoke(verbs, ["shop", "check", "--strict", "--shop", str(path)])
    assert (well.exit_code, "all is well" in well.output) == (0, True)
    photo_of(path).unlink()
    lax = CliRunner().invoke(verbs, ["shop", "check", "--shop", str(path)])
    strict = CliRunner().invoke(verbs, ["shop", "check", "--strict", "--shop", str(path)])
    assert (lax.exit_code, strict.exit_code) == (0, 1)
    assert "is gone from the photo folder" in strict.output
    assert "all is well" not in strict.output


def test_two_corrections_of_one_entry_are_disputed(shop: Shop) -> None:
    car = shop.find("gondola")
    first = shop.state(car).entries[0].id
    body = {"kind": "note", "note": "read wrongly", "supersedes": first}
    shop.append(car, [body])
    try:
        shop.append(car, [{**body, "note": "read wrongly again"}])
    except CarwrightError:
        assert check(shop).of(DISPUTED) == []
    else:
        assert len(check(shop).of(DISPUTED)) == 1

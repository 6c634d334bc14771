"""A damaged file: what is saved of it, what every verb says, and copies made while others write."""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

import carwright as cw
from carwright.cli import verbs
from carwright.errors import CarwrightError
from carwright.shop import Given, Shop, address_of, open_shop
from carwright.shop.backup import back_up
from carwright.shop.checking import DAMAGED, check
from carwright.shop.faults import DamagedError, ShopError
from carwright.shop.merging import export_zip, merge_zip
from carwright.shop.rescue import Rescued, rescue

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
# A refused export is closed late; the tests of exports say so in one place.

RECORDED = '"kind":"note"'
"""What only pages of records hold."""
EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two cars with a photo and enough entries for many pages; all of it in the file itself."""
    path = tmp_path_factory.mktemp("sound") / "shop.db"
    with open_shop(path, create=True) as made:
        names = ("ho-covered-hopper", "n-gondola")
        made.add([Given(cw.read_sheet(EXAMPLES / f"{each}.toml"), EXAMPLES) for each in names], who="me")
        for number in range(30):
            bodies = [{"kind": "note", "note": f"note {number} {each} {'x' * 200}"} for each in range(5)]
            made.append(made.find("gondola" if number % 2 else "hopper"), bodies)
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    assert not path.with_name("shop.db-wal").exists()
    return path


@pytest.fixture
def path(sound: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "shop.db"
    shutil.copy(sound, copy)
    shutil.copytree(f"{sound}.photos", f"{copy}.photos")
    return copy


def whole(path: Path) -> dict[str, str]:
    """Bodies by digest."""
    connection = sqlite3.connect(path)
    found = dict(connection.execute("SELECT digest, body FROM record"))
    connection.close()
    return found


def page_size(path: Path) -> int:
    return int.from_bytes(path.read_bytes()[16:18], "big")


def leaves(path: Path, *words: str) -> list[int]:
    """Pages of table rows that hold all of some words, by number from 0."""
    data, size = path.read_bytes(), page_size(path)
    pages = [data[start : start + size] for start in range(0, len(data), size)]
    return [at for at, each in enumerate(pages) if each[0] == 0x0D and all(word.encode() in each for word in words)]


def spoil(path: Path, *pages: int) -> bytes:
    """Overwrite pages by noise; the bytes that are there then."""
    data, size = bytearray(path.read_bytes()), page_size(path)
    for each in pages:
        data[each * size : (each + 1) * size] = random.Random(each).randbytes(size)
    path.write_bytes(data)
    return bytes(data)


def readable(path: Path, rows: dict[str, str]) -> int:
    """Records that a question for each single row still finds as they were."""
    connection = sqlite3.connect(f"file:{path}?mode=ro&immutable=1", uri=True)
    connection.text_factory = lambda data: data.decode("utf-8", "replace")
    count = 0
    for seq in range(1, len(rows) + 1):
        try:
            row = connection.execute("SELECT digest, body FROM record NOT INDEXED WHERE seq = ?", (seq,)).fetchone()
        except sqlite3.DatabaseError:
            continue
        count += row is not None and rows.get(row[0]) == row[1]
    connection.close()
    return count


def saved(path: Path) -> tuple[Rescued, dict[str, str]]:
    """What is rescued, and what a new shop holds after taking it in; nothing of the damaged one is changed."""
    before, photos = path.read_bytes(), sorted(path.with_name(f"{path.name}.photos").rglob("*"))
    target = path.with_name("saved.zip")
    report = rescue(address_of(str(path)), target)
    assert path.read_bytes() == before
    assert sorted(path.with_name(f"{path.name}.photos").rglob("*")) == photos
    fresh = path.with_name("fresh.db")
    with open_shop(fresh, create=True) as made:
        merge_zip(made, target)
        assert [each for each in check(made).of(DAMAGED) if "file" not in each.what and "named" not in each.what] == []
    return report, whole(fresh)


def altered(path: Path, *statements: str) -> None:
    connection = sqlite3.connect(path)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for each in statements:
        connection.execute(each)
    connection.commit()
    connection.close()


# --- rescue --------------------------------------------------------------------------------------------------------


def test_rescue_of_a_sound_shop_is_its_export(path: Path, tmp_path: Path) -> None:
    report = rescue(address_of(str(path)), tmp_path / "saved.zip")
    with open_shop(path) as shop:
        export_zip(shop, tmp_path / "export.zip")
    assert (tmp_path / "saved.zip").read_bytes() == (tmp_path / "export.zip").read_bytes()
    assert report.lost == []
    assert report.files == 1


def test_rescue_takes_what_stands_in_the_log_only(path: Path) -> None:
    with open_shop(path) as shop:
        car = shop.find("gondola")
        shop.append(car, [{"kind": "note", "note": "in the log only"}])
        assert path.with_name("shop.db-wal").stat().st_size > 0
        report, rows = saved(path)
    assert report.lost == []
    assert any("in the log only" in each for each in rows.values())


def test_rescue_of_a_page_of_an_index_loses_nothing(path: Path) -> None:
    rows, data, size = whole(path), path.read_bytes(), page_size(path)
    index = [at for at in range(1, len(data) // size) if data[at * size] == 0x0A]
    assert len(index) > 5
    spoil(path, *index)
    report, found = saved(path)
    assert found == rows
    assert report.records == len(rows)


def test_rescue_past_a_spoilt_page_of_records_says_what_is_lost(path: Path) -> None:
    rows = whole(path)
    pages = leaves(path, RECORDED)
    assert len(pages) > 6
    spoil(path, pages[len(pages) // 2])
    report, found = saved(path)
    assert report.lost
    assert any("cannot be read" in each for each in report.lost)
    assert found.items() <= rows.items()
    assert len(rows) * 3 // 4 < len(found) < len(rows)


@pytest.mark.parametrize("at", [1, 3, 5])
def test_rescue_saves_every_row_that_can_be_read_around_a_spoilt_page(path: Path, at: int) -> None:
    rows = whole(path)
    spoil(path, leaves(path, RECORDED)[at])
    can_be_read = readable(path, rows)
    assert can_be_read < len(rows)
    report, found = saved(path)
    assert report.records == can_be_read
    assert len(found) == can_be_read


def test_rescue_saves_a_short_stretch_at_the_end(path: Path) -> None:
    rows = whole(path)
    spoil(path, *leaves(path, RECORDED)[-4:-1])
    can_be_read = readable(path, rows)
    _, found = saved(path)
    assert can_be_read - len(found) <= 2


def test_rescue_saves_rows_below_a_spoilt_root(path: Path) -> None:
    rows = whole(path)
    connection = sqlite3.connect(path)
    root = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'record'").fetchone()[0]
    connection.close()
    assert path.read_bytes()[(root - 1) * page_size(path)] == 0x05
    spoil(path, root - 1)
    try:
        _, found = saved(path)
    except DamagedError:
        found = {}
    assert len(found) > len(rows) // 2


@pytest.mark.parametrize("seed", range(6))
def test_rescue_of_any_spoilt_page_ends_in_one_of_two_ways(path: Path, seed: int) -> None:
    rows, pages = whole(path), path.stat().st_size // page_size(path)
    damaged = spoil(path, random.Random(seed).randrange(pages))
    try:
        _, found = saved(path)
    except DamagedError as error:
        assert "no entry in it can be read" in str(error)  # noqa: PT017 - either way is good
        assert not path.with_name("saved.zip").exists()
        assert path.read_bytes() == damaged
    else:
        assert found.items() <= rows.items()
        assert found


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.99])
def test_rescue_of_a_truncated_file_saves_what_is_there_or_says_nothing_is(path: Path, share: float) -> None:
    rows, data = whole(path), path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    try:
        report, found = saved(path)
    except DamagedError:
        assert not path.with_name("saved.zip").exists()
    else:
        assert report.lost or found == rows
        assert found.items() <= rows.items()


def test_rescue_without_a_header_saves_every_row(path: Path) -> None:
    rows = whole(path)
    data = b"\xff" * 100 + path.read_bytes()[100:]
    path.write_bytes(data)
    _, found = saved(path)
    assert found == rows
    assert path.read_bytes() == data


def test_rescue_of_noise_says_that_nothing_can_be_read(path: Path) -> None:
    path.write_bytes(random.Random(1).randbytes(200_000))
    with pytest.raises(DamagedError, match="no entry in it can be read"):
        rescue(address_of(str(path)), path.with_name("saved.zip"))
    assert not path.with_name("saved.zip").exists()


ALTERED = {
    "record": "UPDATE record SET body = 'x' WHERE seq = 20",
    "blob": "UPDATE record SET body = x'00ff' WHERE seq = 20",
    "clock": "UPDATE writing SET clock = clock + 1 WHERE seq = 2",
    "of": "UPDATE writing SET of = 'train' WHERE seq = 2",
    "line": "DELETE FROM line WHERE writing = 1 AND ordinal = 3",
    "writing": "DELETE FROM writing WHERE seq = 2",
    "digest": "UPDATE writing SET digest = x'00' WHERE seq = 2",
    "order": "UPDATE line SET ordinal = 999 WHERE writing = 1 AND ordinal = 3",
}


@pytest.mark.parametrize("statement", ALTERED.values(), ids=ALTERED.keys())
def test_rescue_past_altered_rows_saves_all_others(path: Path, statement: str) -> None:
    altered(path, statement)
    good = len(whole(path)) - ("record" in statement)
    report, found = saved(path)
    assert len(found) == good
    assert report.records == good


MORE = {
    "after": "UPDATE line SET after = 'garbage' WHERE writing = 1 AND ordinal = 3",
    "subject": "UPDATE writing SET subject = 'nobody' WHERE seq = 2",
    "another subject": "UPDATE writing SET subject = '00000000-0000-0000-0000-000000000001' WHERE seq = 2",
    "clock below 0": "UPDATE writing SET clock = -5 WHERE seq = 2",
    "clock no number": "UPDATE writing SET clock = 'abc' WHERE seq = 2",
    "ordinal no number": "UPDATE line SET ordinal = 'abc' WHERE writing = 1 AND ordinal = 3",
}


@pytest.mark.parametrize("statement", MORE.values(), ids=MORE.keys())
def test_rescue_past_altered_writings_makes_a_good_export(path: Path, statement: str) -> None:
    rows = whole(path)
    altered(path, statement)
    report, found = saved(path)
    assert found == rows
    assert report.lost


def test_rescue_says_that_a_photo_is_lost(path: Path) -> None:
    next(path.with_name("shop.db.photos").glob("*/*")).unlink()
    report, _ = saved(path)
    assert report.lost


def test_rescue_says_that_a_photo_was_altered(path: Path) -> None:
    next(path.with_name("shop.db.photos").glob("*/*")).write_bytes(b"x")
    report, _ = saved(path)
    assert (report.files, len(report.lost)) == (0, 1)


def test_rescue_never_overwrites(path: Path, tmp_path: Path) -> None:
    (tmp_path / "there.zip").write_bytes(b"mine")
    with pytest.raises(ShopError, match="is there already; nothing was changed"):
        rescue(address_of(str(path)), tmp_path / "there.zip")
    assert (tmp_path / "there.zip").read_bytes() == b"mine"


def test_rescue_makes_the_folder_and_says_where_it_cannot(path: Path, tmp_path: Path) -> None:
    assert rescue(address_of(str(path)), tmp_path / "none" / "saved.zip").records
    with pytest.raises(CarwrightError, match="cannot be written"):
        rescue(address_of(str(path)), tmp_path / "none" / "saved.zip" / "saved.zip")


# --- what the verbs say of a damaged file --------------------------------------------------------------------------

VERBS = (
    ["add", str(EXAMPLES / "n-gondola.toml")], ["list"], ["list", "--as-is"], ["show", "gondola"],
    ["show", "gondola", "--history"], ["undo", "gondola"], ["sheet", "gondola", "--out", "OUT"], ["inspect"],
    ["tags", "--out", "OUT.pdf"], ["collect"], ["collect", "club", "gondola"], ["kept"], ["export", "OUT.zip"],
    ["import", "IN.zip"], ["backup", "OUT.db"], ["check"], ["check", "--renew"], ["upgrade"],
)  # fmt: skip


def said(path: Path, command: list[str]) -> BaseException | None:
    """What a verb ends with; a fault of carwright's becomes exit status 2 and its sentence."""
    folder = path.parent
    words = [each.replace("OUT", f"{folder}/out").replace("IN", f"{folder}/in") for each in command]
    return CliRunner().invoke(verbs, ["shop", *words, "--shop", str(path)]).exception


@pytest.fixture(scope="module")
def sound_export(sound: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    target = tmp_path_factory.mktemp("export") / "in.zip"
    with open_shop(sound) as shop:
        export_zip(shop, target)
    return target.read_bytes()


@pytest.mark.parametrize("damage", ["header", "short", "text", "zeros"])
def test_every_verb_refuses_a_file_that_is_no_shop_any_more(path: Path, sound_export: bytes, damage: str) -> None:
    data = path.read_bytes()
    changed = {
        "header": b"\xff" * 100 + data[100:], "short": data[:50], "text": b"title = 'x'\n" * 500,
        "zeros": bytes(len(data)),
    }[damage]  # fmt: skip
    (path.parent / "in.zip").write_bytes(sound_export)
    for command in VERBS:
        path.write_bytes(changed)
        error = said(path, command)
        assert isinstance(error, ShopError), command
        assert str(error).startswith(str(path))
        assert "\n" not in str(error)
        assert path.read_bytes() == changed


@pytest.mark.parametrize("damage", ["page 1", "cut", "root", "leaves"])
def test_no_verb_breaks_off_on_spoilt_pages(path: Path, sound_export: bytes, damage: str) -> None:
    data, size = path.read_bytes(), page_size(path)
    connection = sqlite3.connect(path)
    roots = [row[0] - 1 for row in connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'line'")]
    connection.close()
    if damage == "cut":
        path.write_bytes(data[: len(data) // size // 2 * size])
    else:
        spoil(path, *{"page 1": [0], "root": roots, "leaves": leaves(path, RECORDED)}[damage])
    spoilt = path.read_bytes()
    (path.parent / "in.zip").write_bytes(sound_export)
    refused = 0
    for command in VERBS:
        path.write_bytes(spoilt)
        for suffix in ("-wal", "-shm"):
            path.with_name(f"{path.name}{suffix}").unlink(missing_ok=True)
        error = said(path, command)
        if error is not None and not isinstance(error, SystemExit):
            assert isinstance(error, CarwrightError), command
            assert "\n" not in str(error)
            refused += 1
    assert refused > 3


def test_empty_file_beside_its_photos_is_not_started_anew(path: Path) -> None:
    path.write_bytes(b"")
    with pytest.raises(DamagedError, match="its photo folder is there"):
        open_shop(path, create=True)
    assert path.read_bytes() == b""


# --- backup --------------------------------------------------------------------------------------------------------


def test_backup_while_a_writer_writes_holds_whole_writings_only(path: Path, tmp_path: Path) -> None:
    stop, written, faults = threading.Event(), [0], list[BaseException]()

    def work() -> None:
        with open_shop(path) as mine:
            car = mine.find("gondola")
            while not stop.is_set():
                try:
                    mine.append(car, [{"kind": "note", "note": f"{written[0]} {each}"} for each in range(3)])
                except CarwrightError as error:
                    faults.append(error)
                    return
                written[0] += 1

    writer = threading.Thread(target=work)
    with open_shop(path) as shop:
        start = check(shop).counts
        writer.start()
        try:
            for number in range(4):
                back_up(shop, tmp_path / f"copy{number}.db")
        finally:
            stop.set()
            writer.join()
        end = check(shop)
    assert faults == []
    assert end.problems == []
    assert end.counts["writings"] == start["writings"] + written[0]
    assert written[0] > 0
    counts = []
    for number in range(4):
        with open_shop(tmp_path / f"copy{number}.db") as copy:
            found = check(copy)
        assert found.problems == []
        assert found.counts["entries"] - start["entries"] == 3 * (found.counts["writings"] - start["writings"])
        counts.append(found.counts["writings"])
    assert counts == sorted(counts)


@pytest.fixture
def shop(path: Path) -> Iterator[Shop]:
    with open_shop(path) as opened:
        yield opened


def test_backup_never_overwrites_and_leaves_no_part(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "a.db").write_bytes(b"mine")
    (tmp_path / "b.db.photos").mkdir()
    for name in ("a.db", "b.db"):
        with pytest.raises(ShopError, match="is there already; nothing was changed"):
            back_up(shop, tmp_path / name)
    assert (tmp_path / "a.db").read_bytes() == b"mine"
    assert not list(tmp_path.glob("*.part*"))


def test_backup_is_one_file_that_needs_no_log(shop: Shop, tmp_path: Path) -> None:
    shop.append(shop.find("gondola"), [{"kind": "note", "note": "in the log"}])
    assert back_up(shop, tmp_path / "copy.db") == 1
    assert not (tmp_path / "copy.db-wal").exists()
    rows = whole(tmp_path / "copy.db")
    assert any("in the log" in each for each in rows.values())


@pytest.mark.skipif(sys.platform == "win32", reason="names of this kind are no files there")
def test_backup_under_a_name_with_signs_of_a_url(shop: Shop, tmp_path: Path) -> None:
    back_up(shop, tmp_path / "copy?mode=ro#1 %41.db")
    with open_shop(tmp_path / "copy?mode=ro#1 %41.db") as copy:
        assert check(copy).problems == []

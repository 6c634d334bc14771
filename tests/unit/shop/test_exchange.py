"""What comes in from outside: exports written, carried, damaged, forged, and merged in any order."""

from __future__ import annotations

import hashlib
import itertools
import json
import random
import shutil
import sqlite3
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from click.testing import CliRunner
from sqlalchemy import select

import carwright as cw
from carwright.cli import verbs
from carwright.errors import CarwrightError
from carwright.shop import Given, Shop, open_shop
from carwright.shop.backup import back_up
from carwright.shop.checking import DAMAGED, DISPUTED, FAULTY, NOTED, check
from carwright.shop.clock import LATEST
from carwright.shop.exchange import FORMAT, HEAD, RECORDS, WRITINGS, ExchangeError, write_zip
from carwright.shop.listing import list_cars
from carwright.shop.merging import export_zip, merge_shop, merge_zip
from carwright.shop.naming import kept_id
from carwright.shop.records import Line, Record, Writing, entry_record, record_digest, statement_record, writing_of
from carwright.shop.schema import COMPUTED, RECORDED
from carwright.shop.shared import keep_file

pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
# A refused file is closed late: test_refused_file_is_closed_at_once says so in one place.

EXAMPLES = Path(__file__).parents[3] / "examples"
HOPPER, GONDOLA = "ho-covered-hopper", "n-gondola"
ONE, TWO = str(UUID(int=1)), str(UUID(int=2))
CAR: dict[str, Any] = {"title": "Hopper, Sedge Valley 7", "scale": "HO", "type": "hopper", "coupler": "knuckle"}
Change = Callable[[dict[str, Any]], object]


def numbered(number: int) -> str:
    return str(UUID(int=number))


def stated(key: str, value: object, replaces: Sequence[str] = (), subject: str = ONE) -> Record:
    return statement_record(subject, key, value, replaces)


def note(number: int, text: str = "seen", subject: str = ONE, **more: object) -> Record:
    return entry_record(subject, numbered(number), {"kind": "note", "note": text, **more})


class Made:
    """An export's content made by hand."""

    def __init__(self, records: Sequence[Record], writings: Sequence[Writing]) -> None:
        self._records = sorted(records, key=lambda each: each.digest)
        self._writings = sorted(writings, key=lambda each: each.digest)

    def size(self) -> int:
        return len(self._records) + len(self._writings)

    def records(self) -> Iterator[Record]:
        return iter(self._records)

    def writings(self) -> Iterator[Writing]:
        return iter(self._writings)

    def files(self) -> Iterator[tuple[str, bytes]]:
        return iter(())


@pytest.fixture(scope="module")
def nothing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty shop, made once."""
    path = tmp_path_factory.mktemp("nothing") / "empty.db"
    open_shop(path, create=True).close()
    return path


@pytest.fixture
def shop(nothing: Path, tmp_path: Path) -> Iterator[Shop]:
    shutil.copy(nothing, tmp_path / "mine.db")
    with open_shop(tmp_path / "mine.db") as made:
        yield made


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("exported")
    with open_shop(folder / "shop.db", create=True) as made:
        made.add([Given(cw.read_sheet(EXAMPLES / f"{each}.toml"), EXAMPLES) for each in (HOPPER, GONDOLA)], who="me")
        export_zip(made, folder / "shop.zip")
    return (folder / "shop.zip").read_bytes()


def forged(path: Path, records: Sequence[Record], of: str = "car", clock: int = 1000) -> Path:
    """An export that is sound in its digests, whatever it says."""
    by: dict[str, list[Line]] = {}
    for each in records:
        by.setdefault(each.subject, []).append(Line(each.digest))
    writings = [writing_of(subject, of, clock, "x", "y", lines) for subject, lines in by.items()]
    return packed(path, records, writings)


def packed(path: Path, records: Sequence[Record], writings: Sequence[Writing]) -> Path:
    with path.open("wb") as out:
        write_zip(out, Made(records, writings))
    return path


def raw(
    path: Path,
    records: bytes,
    writings: bytes,
    members: Sequence[tuple[str, bytes]] = (),
    head: Mapping[str, object] | None = None,
) -> Path:
    """An export of rows of any kind, under a head that is right for them."""
    counts = {"records": records.count(b"\n"), "writings": writings.count(b"\n"), "files": len(members)}
    digests = {RECORDS: hashlib.sha256(records).hexdigest(), WRITINGS: hashlib.sha256(writings).hexdigest()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(RECORDS, records)
        archive.writestr(WRITINGS, writings)
        for name, content in members:
            archive.writestr(name, content)
        archive.writestr(HEAD, json.dumps({"format": FORMAT, "counts": counts, "digests": digests, **(head or {})}))
    return path


def rows(data: bytes, name: str) -> list[dict[str, Any]]:
    with zipfile.ZipFile(BytesIO(data)) as archive:
        return [json.loads(line) for line in archive.read(name).splitlines()]


def lines_of(found: Sequence[Mapping[str, Any]]) -> bytes:
    return b"".join(json.dumps(each).encode() + b"\n" for each in found)


def content_of(shop: Shop, path: Path) -> bytes:
    export_zip(shop, path)
    return path.read_bytes()


def refused(shop: Shop, path: Path, *says: str) -> None:
    """One clear sentence, nothing in the shop, nothing beside it."""
    with pytest.raises(ExchangeError) as caught:
        merge_zip(shop, path)
    said = str(caught.value)
    assert said.startswith(str(path))
    assert said.endswith("; nothing was imported")
    assert "\n" not in said
    assert len(said) < 600 + len(str(path))
    assert all(each in said for each in says), said
    empty(shop)


def empty(shop: Shop) -> None:
    with shop.reading() as connection:
        for table in (*RECORDED, *COMPUTED):
            assert connection.execute(select(table)).first() is None
    folder = shop.address.folder
    assert folder is not None
    assert not list(folder.rglob("*"))


# --- there and back ------------------------------------------------------------------------------------------------


def test_export_import_export_gives_the_same_bytes(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    (tmp_path / "in.zip").write_bytes(exported)
    assert merge_zip(shop, tmp_path / "in.zip").writings == 2
    assert content_of(shop, tmp_path / "out.zip") == exported
    assert check(shop).problems == []


def test_importing_twice_adds_nothing(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    (tmp_path / "in.zip").write_bytes(exported)
    merge_zip(shop, tmp_path / "in.zip")
    again = merge_zip(shop, tmp_path / "in.zip")
    assert (again.writings, again.cars) == (0, ())
    assert content_of(shop, tmp_path / "out.zip") == exported


def test_union_of_shops_and_union_of_exports_are_one(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    (tmp_path / "in.zip").write_bytes(exported)
    with open_shop(tmp_path / "other.db", create=True) as other:
        merge_zip(other, tmp_path / "in.zip")
        assert merge_shop(shop, other).writings == 2
    assert content_of(shop, tmp_path / "out.zip") == exported


def test_backup_of_a_shop_exports_the_same_bytes(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    (tmp_path / "in.zip").write_bytes(exported)
    merge_zip(shop, tmp_path / "in.zip")
    assert back_up(shop, tmp_path / "copy.db") == 1
    with open_shop(tmp_path / "copy.db") as copy:
        assert content_of(copy, tmp_path / "out.zip") == exported


def test_export_of_one_car_leaves_the_other_out(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    (tmp_path / "in.zip").write_bytes(exported)
    merge_zip(shop, tmp_path / "in.zip")
    car = shop.find("hopper")
    export_zip(shop, tmp_path / "one.zip", [car, car])
    with open_shop(tmp_path / "other.db", create=True) as other:
        assert merge_zip(other, tmp_path / "one.zip").cars == (car,)
        assert other.subjects() == [car]
        assert check(other).problems == []
        assert check(other).counts["files"] == 1


def test_signs_of_every_alphabet_and_control_signs_in_names_survive(shop: Shop, tmp_path: Path) -> None:
    records = [stated("car", {**CAR, "title": "Wagen Ǆ „é“ — \u202e x"}), note(9, "line\none\ttab ☃ \u2028")]
    writing = writing_of(ONE, "car", 0, "who ☃ \u202e", "", [Line(each.digest) for each in records])
    path = packed(tmp_path / "in.zip", records, [writing])
    merge_zip(shop, path)
    export_zip(shop, tmp_path / "out.zip")
    assert rows((tmp_path / "out.zip").read_bytes(), WRITINGS) == rows(path.read_bytes(), WRITINGS)
    assert rows((tmp_path / "out.zip").read_bytes(), RECORDS) == rows(path.read_bytes(), RECORDS)


def test_export_never_overwrites_and_leaves_no_part(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "there.zip").write_bytes(b"mine")
    with pytest.raises(CarwrightError, match="is there already; nothing was changed"):
        export_zip(shop, tmp_path / "there.zip")
    assert (tmp_path / "there.zip").read_bytes() == b"mine"
    assert not list(tmp_path.glob("*.part"))


def test_kept_file_that_packs_very_well_comes_back(shop: Shop, tmp_path: Path) -> None:
    keep_file(shop, "wide.toml", "carwright-rules/1", "#" * 2_000_000)
    export_zip(shop, tmp_path / "out.zip")
    with open_shop(tmp_path / "other.db", create=True) as other:
        assert merge_zip(other, tmp_path / "out.zip").writings == 1


def test_large_kept_file_comes_back_or_is_refused_when_kept(shop: Shop, tmp_path: Path) -> None:
    text = random.Random(4).randbytes(2_100_000).hex()
    try:
        keep_file(shop, "long.toml", "carwright-rules/1", text)
    except CarwrightError:
        return
    export_zip(shop, tmp_path / "out.zip")
    with open_shop(tmp_path / "other.db", create=True) as other:
        assert merge_zip(other, tmp_path / "out.zip").writings == 1


# --- damaged files -------------------------------------------------------------------------------------------------


def outcome(shop: Shop, path: Path, data: bytes) -> str:
    """What becomes of a damaged export: refused in the one way, or taken because nothing of its content changed."""
    path.write_bytes(data)
    try:
        merge_zip(shop, path)
    except ExchangeError as error:
        assert str(error).endswith("; nothing was imported")  # noqa: PT017 - many files, one after another
        return "refused"
    return "taken"


def test_export_cut_off_anywhere_is_refused(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    size = len(exported)
    places = [0, 1, 4, 21, 22, 100, *range(size - 120, size), *random.Random(1).sample(range(size), 60)]
    assert {outcome(shop, tmp_path / "cut.zip", exported[:place]) for place in places} == {"refused"}
    empty(shop)


def flipped(data: bytes, place: int, mask: int) -> bytes:
    changed = bytearray(data)
    changed[place] ^= mask
    return bytes(changed)


def test_flipped_byte_of_the_directory_is_refused_or_harmless(exported: bytes, tmp_path: Path) -> None:
    start = exported.index(b"PK\x01\x02")
    with open_shop(tmp_path / "sound.db", create=True) as sound:
        (tmp_path / "in.zip").write_bytes(exported)
        merge_zip(sound, tmp_path / "in.zip")
        for place in range(start, len(exported), 7):
            outcome(sound, tmp_path / "bad.zip", flipped(exported, place, 0x05))
        assert content_of(sound, tmp_path / "out.zip") == exported


def test_flipped_byte_of_packed_rows_is_refused(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    places = random.Random(2).sample(range(40, exported.index(b"PK\x01\x02")), 100)
    assert {outcome(shop, tmp_path / "bad.zip", flipped(exported, each, 0xFF)) for each in places} <= {"refused"}


@pytest.mark.parametrize("data", [b"", b"PK\x05\x06", b"SQLite format 3\0" + bytes(200), b"[car]\n" * 50])
def test_what_is_no_zip_is_refused(shop: Shop, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "in.zip").write_bytes(data)
    refused(shop, tmp_path / "in.zip", "is no zip file, or was cut off")


@pytest.mark.skipif(sys.platform != "linux", reason="asks /proc which files are open")
def test_refused_file_is_closed_at_once(shop: Shop, tmp_path: Path) -> None:
    path = raw(tmp_path / "in.zip", b"{}\n", b"")
    with pytest.raises(ExchangeError) as caught:
        merge_zip(shop, path)
    opened = [each.readlink() for each in Path("/proc/self/fd").iterdir() if each.is_symlink() and each.exists()]
    assert caught.value.place == f"{RECORDS}:1"
    assert path not in opened


def test_folder_and_missing_file_are_refused(shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    refused(shop, tmp_path / "folder", "cannot be read")
    refused(shop, tmp_path / "nowhere.zip", "cannot be read")


# --- members -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../records.jsonl",
        "/etc/motd",
        "files/../shop.json",
        "files/" + "A" * 64,
        "files/" + "0" * 63,
        "files/" + "0" * 64 + "/x",
        "files/" + "0" * 64 + "\n",
        "files\\" + "0" * 64,
        "x" * 5000,
        "c:/windows",
        "files/",
    ],
)
def test_member_with_another_name_is_refused(shop: Shop, tmp_path: Path, name: str) -> None:
    refused(shop, raw(tmp_path / "in.zip", b"", b"", [(name, b"x")]), "no part of an export")


@pytest.mark.parametrize("name", [RECORDS, WRITINGS, HEAD])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_member_that_is_there_twice_is_refused(shop: Shop, tmp_path: Path, name: str) -> None:
    path = raw(tmp_path / "in.zip", b"", b"")
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(name, b"")
    refused(shop, path, repr(name), "is there twice")


@pytest.mark.parametrize("name", [RECORDS, WRITINGS, HEAD])
def test_member_that_is_missing_is_named(shop: Shop, tmp_path: Path, name: str) -> None:
    whole = raw(tmp_path / "whole.zip", b"", b"")
    with zipfile.ZipFile(whole) as source, zipfile.ZipFile(tmp_path / "in.zip", "w") as archive:
        for each in source.namelist():
            if each != name:
                archive.writestr(each, source.read(each))
    refused(shop, tmp_path / "in.zip", f"has no {name}")


def test_bomb_is_refused_before_it_is_unpacked(shop: Shop, tmp_path: Path) -> None:
    refused(shop, raw(tmp_path / "in.zip", b" " * 30_000_000, b""), RECORDS, "is longer than")


def test_member_that_says_it_is_small_is_refused(shop: Shop, tmp_path: Path) -> None:
    data = raw(tmp_path / "in.zip", b" " * 30_000_000, b"").read_bytes()
    size = (30_000_000).to_bytes(4, "little")
    (tmp_path / "in.zip").write_bytes(data.replace(size, (1000).to_bytes(4, "little")))
    refused(shop, tmp_path / "in.zip", RECORDS)


def test_locked_member_is_refused(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    place = exported.index(b"PK\x01\x02") + 8
    (tmp_path / "in.zip").write_bytes(flipped(exported, place, 0x01))
    refused(shop, tmp_path / "in.zip", "is locked with a password")


@pytest.mark.parametrize("method", [0, 9, 12, 14, 93, 99])
def test_member_packed_in_another_way_than_it_says_is_refused(
    shop: Shop, exported: bytes, tmp_path: Path, method: int
) -> None:
    (tmp_path / "in.zip").write_bytes(packed_as(exported, method))
    refused(shop, tmp_path / "in.zip", RECORDS)


def packed_as(data: bytes, method: int) -> bytes:
    """The first member said to be packed in some way: ``compress`` in its row of the directory."""
    place = data.index(b"PK\x01\x02") + 10
    return data[:place] + method.to_bytes(2, "little") + data[place + 2 :]


def test_file_that_is_not_what_its_name_says_is_refused(shop: Shop, tmp_path: Path) -> None:
    name = f"files/{hashlib.sha256(b'photo').hexdigest()}"
    refused(shop, raw(tmp_path / "in.zip", b"", b"", [(name, b"phot0")]), name, "is not what its name says")


# --- the head ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "says"),
    [
        ({"format": "carwright-shop/2"}, "was made by a later carwright"),
        ({"format": "carwright-sheet/1"}, "format must be"),
        ({"format": None}, "format must be"),
        ({"format": ["carwright-shop/1"]}, "format must be"),
        ({"counts": None}, "needs counts and digests"),
        ({"counts": {"records": True, "writings": 0, "files": 0}}, "needs counts and digests"),
        ({"counts": {"records": 0, "writings": 0}}, "needs counts and digests"),
        ({"counts": {"records": 1, "writings": 0, "files": 0}}, "is not what the head says"),
        ({"counts": {"records": 0, "writings": 0, "files": 1}}, "has 0 files instead of 1"),
        ({"digests": {RECORDS: "0" * 64, WRITINGS: "0" * 64}}, "is not what the head says"),
        ({"digests": {RECORDS: "x"}}, "needs counts and digests"),
        ({"digests": []}, "needs counts and digests"),
    ],
)
def test_head_that_is_wrong_is_refused(shop: Shop, tmp_path: Path, head: dict[str, object], says: str) -> None:
    refused(shop, raw(tmp_path / "in.zip", b"", b"", head=head), says)


@pytest.mark.parametrize("data", [b"", b"null", b"[]", b"\xff\xfe", b"[" * 90_000, b"{" * 5, b'"carwright-shop/1"'])
def test_head_that_is_no_table_is_refused(shop: Shop, tmp_path: Path, data: bytes) -> None:
    with zipfile.ZipFile(tmp_path / "in.zip", "w") as archive:
        archive.writestr(RECORDS, b"")
        archive.writestr(WRITINGS, b"")
        archive.writestr(HEAD, data)
    refused(shop, tmp_path / "in.zip", HEAD)


# --- rows ----------------------------------------------------------------------------------------------------------

RECORD_CHANGES: list[tuple[str, Change]] = [
    ("a key more", lambda row: row.update(more=1)),
    ("a key less", lambda row: row.pop("key")),
    ("digest of another type", lambda row: row.update(digest=1)),
    ("digest wrong", lambda row: row.update(digest="0" * 64)),
    ("digest a surrogate", lambda row: row.update(digest="\ud800")),
    ("subject no UUID", lambda row: row.update(subject="../x")),
    ("subject in capitals", lambda row: row.update(subject=row["subject"].upper() + "A")),
    ("kind unknown", lambda row: row.update(kind="rumour")),
    ("kind swapped", lambda row: row.update(kind="statement" if row["kind"] == "entry" else "entry")),
    ("body a list", lambda row: row.update(body=[])),
    ("body null", lambda row: row.update(body=None)),
    ("body with NaN", lambda row: row["body"].update(more=float("nan"))),
    ("body with infinity", lambda row: row["body"].update(more=float("inf"))),
    ("body with a lone surrogate", lambda row: row["body"].update(more="\ud800")),
    ("body with a surrogate as key", lambda row: row["body"].update({"\udfff": 1})),
    ("body with more", lambda row: row["body"].update(more=1)),
    ("body empty", lambda row: row.update(body={})),
    ("id another", lambda row: row.update(id=numbered(77))),
    ("id no UUID", lambda row: row.update(id="x")),
    ("key too long", lambda row: row.update(key="k" * 3001)),
    ("key another", lambda row: row.update(key="trouble")),
]
WRITING_CHANGES: list[tuple[str, Change]] = [
    ("a key more", lambda row: row.update(more=1)),
    ("a key less", lambda row: row.pop("who")),
    ("of unknown", lambda row: row.update(of="train")),
    ("of another", lambda row: row.update(of="kept")),
    ("clock a text", lambda row: row.update(clock="1")),
    ("clock a fraction", lambda row: row.update(clock=1.5)),
    ("clock true", lambda row: row.update(clock=True)),
    ("clock NaN", lambda row: row.update(clock=float("nan"))),
    ("clock below 0", lambda row: row.update(clock=-1)),
    ("clock beyond", lambda row: row.update(clock=LATEST + 1)),
    ("clock huge", lambda row: row.update(clock=10**4000)),
    ("who null", lambda row: row.update(who=None)),
    ("who a surrogate", lambda row: row.update(who="\ud800")),
    ("who another", lambda row: row.update(who="somebody")),
    ("no lines", lambda row: row.update(lines=[])),
    ("a line less", lambda row: row["lines"].pop()),
    ("lines turned", lambda row: row["lines"].reverse()),
    ("a line of two", lambda row: row["lines"][0].pop()),
    ("a line of numbers", lambda row: row.update(lines=[[1, 2, 3]])),
    ("a line that is a table", lambda row: row.update(lines=[{"a": 1, "b": 2, "c": 3}])),
    ("a line behind no UUID", lambda row: row["lines"][0].__setitem__(1, "x")),
    ("a line twice", lambda row: row["lines"].append(row["lines"][0])),
    ("subject another", lambda row: row.update(subject=ONE)),
]


@pytest.mark.parametrize("change", [each for _, each in RECORD_CHANGES], ids=[each for each, _ in RECORD_CHANGES])
@pytest.mark.parametrize("kind", ["entry", "statement"])
def test_record_of_wrong_shape_is_refused_at_its_line(
    shop: Shop, exported: bytes, tmp_path: Path, kind: str, change: Change
) -> None:
    found = rows(exported, RECORDS)
    at = next(number for number, row in enumerate(found) if row["kind"] == kind)
    change(found[at])
    path = raw(tmp_path / "in.zip", lines_of(found), lines_of(rows(exported, WRITINGS)))
    refused(shop, path, f"{RECORDS}:{at + 1}: ")


@pytest.mark.parametrize("change", [each for _, each in WRITING_CHANGES], ids=[each for each, _ in WRITING_CHANGES])
def test_writing_of_wrong_shape_is_refused_at_its_line(
    shop: Shop, exported: bytes, tmp_path: Path, change: Change
) -> None:
    found = rows(exported, WRITINGS)
    change(found[1])
    path = raw(tmp_path / "in.zip", lines_of(rows(exported, RECORDS)), lines_of(found))
    refused(shop, path, f"{WRITINGS}:2: ")


def test_record_about_a_lone_surrogate_is_refused(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    found = rows(exported, RECORDS)
    found[0]["key"] = "file:\ud800"
    refused(shop, raw(tmp_path / "in.zip", lines_of(found), lines_of(rows(exported, WRITINGS))), f"{RECORDS}:1: ")


@pytest.mark.parametrize(
    "line",
    [
        b"\n", b"null\n", b"[]\n", b"1\n", b"{}\n", b"\xff\n", b"{\n", b'{"digest":' + b"9" * 5000 + b"}\n",
        b"[" * 100_000 + b"\n", b'{"a":' * 3000 + b"1" + b"}" * 3000 + b"\n",
    ],
)  # fmt: skip
def test_line_that_is_no_table_is_refused(shop: Shop, tmp_path: Path, line: bytes) -> None:
    refused(shop, raw(tmp_path / "in.zip", line, b""), f"{RECORDS}:1: ")
    refused(shop, raw(tmp_path / "in.zip", b"", line), f"{WRITINGS}:1: ")


@pytest.mark.parametrize("depth", [50, 900, 940, 960, 970, 980, 990, 1000])
def test_deeply_nested_statement_with_a_right_digest_is_refused(shop: Shop, tmp_path: Path, depth: int) -> None:
    body = '{"replaces":[],"value":' + "[" * depth + "]" * depth + "}"
    digest = record_digest("", ONE, "statement", "prior", body)
    row = f'{{"digest":"{digest}","id":"","subject":"{ONE}","kind":"statement","key":"prior","body":{body}}}\n'
    refused(shop, raw(tmp_path / "in.zip", row.encode(), b""), f"{RECORDS}:1: ")


def test_line_longer_than_any_sheet_is_refused(shop: Shop, tmp_path: Path) -> None:
    line = b'{"digest":"' + random.Random(3).randbytes(10_100_000).hex().encode() + b'"}\n'
    refused(shop, raw(tmp_path / "in.zip", line, b""), f"{RECORDS}:1: is longer than")


# --- what rows say -------------------------------------------------------------------------------------------------


def test_record_named_by_no_writing_is_refused(shop: Shop, tmp_path: Path) -> None:
    car, loose = stated("car", CAR), note(9)
    path = packed(tmp_path / "in.zip", [car, loose], [writing_of(ONE, "car", 1, "", "", [Line(car.digest)])])
    refused(shop, path, loose.digest[:12], "is named by no writing")


def test_writing_that_names_an_absent_record_is_refused(shop: Shop, tmp_path: Path) -> None:
    car = stated("car", CAR)
    writing = writing_of(ONE, "car", 1, "", "", [Line(car.digest), Line("0" * 64)])
    refused(shop, packed(tmp_path / "in.zip", [car], [writing]), writing.digest[:12], "names record 000000000000")


def test_writing_that_names_a_record_of_another_subject_is_refused(shop: Shop, tmp_path: Path) -> None:
    car, other = stated("car", CAR), note(9, subject=TWO)
    writing = writing_of(ONE, "car", 1, "", "", [Line(car.digest), Line(other.digest)])
    refused(shop, packed(tmp_path / "in.zip", [car, other], [writing]), writing.digest[:12], "of another subject")


def test_writing_that_names_a_held_record_of_another_subject_is_refused(shop: Shop, tmp_path: Path) -> None:
    car, seen = stated("car", CAR), note(9)
    merge_zip(shop, forged(tmp_path / "first.zip", [car, seen]))
    other = stated("car", CAR, subject=TWO)
    writing = writing_of(TWO, "car", 1, "", "", [Line(other.digest), Line(seen.digest)])
    with pytest.raises(ExchangeError, match="of another subject"):
        merge_zip(shop, packed(tmp_path / "in.zip", [other], [writing]))
    export_zip(shop, tmp_path / "out.zip")
    with open_shop(tmp_path / "other.db", create=True) as made:
        assert merge_zip(made, tmp_path / "out.zip").writings == 1


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("car", None),
        ("car", {}),
        ("car", []),
        ("car", {**CAR, "id": ONE}),
        ("car", {**CAR, "geometry": {}}),
        ("car", {**CAR, "scale": 87}),
        ("car", {**CAR, "colour": "red"}),
        ("car", {**CAR, "title": "bell \x07"}),
        ("car.geometry", {"axles_per_truck": 10**400}),
        ("car.geometry", "long"),
        ("car.wheels", {}),
        ("", {}),
        ("report", []),
        ("prior", {}),
        ("part", [1]),
        ("pocket", [None]),
        ("instrument:", {"name": "scale"}),
        ("instrument:rule", {"name": "scale"}),
        ("instrument:rule", []),
        ("kept", {"name": "../x.toml", "format": "f", "text": ""}),
        ("kept", {"name": "x.toml", "format": "f", "text": 1}),
        ("kept:", {"name": "x.toml", "format": "f", "text": ""}),
        ("name", ""),
        ("name", 1),
        ("member:", True),
        ("member:x", 1),
        ("file:a.png", {"digest": "0" * 64}),
        ("file:a.png", {"digest": "G" * 64, "size": 1}),
        ("file:a.png", {"digest": "0" * 64, "size": True}),
        ("file:a.png", {"digest": "0" * 64, "size": 1.0}),
        ("file:a.png", {"digest": ["0"] * 64, "size": 1}),
        ("file:a.png", True),
    ],
)
def test_statement_with_a_bad_value_is_refused(shop: Shop, tmp_path: Path, key: str, value: object) -> None:
    refused(shop, forged(tmp_path / "in.zip", [stated(key, value)]), f"{RECORDS}:1: ")


@pytest.mark.parametrize(
    "name",
    [
        "", ".", "..", "../x", "a/../../x", "/x", "\\x", "..\\x", "c:x", "c:\\x", "\\\\host\\x", "a/", "a\\", "a\0b",
        "a\nb", "con", "NUL.txt", "lpt1", "a.", "a ", "x" * 256, "a\u202eb", "a*b", "dir./x", "aux/x",
    ],
)  # fmt: skip
def test_file_name_that_leads_elsewhere_is_refused(shop: Shop, tmp_path: Path, name: str) -> None:
    value = {"digest": "0" * 64, "size": 1}
    refused(shop, forged(tmp_path / "in.zip", [stated(f"file:{name}", value)]), "is no statement about file")


@pytest.mark.parametrize(
    "body",
    [
        {"replaces": None, "value": 1}, {"replaces": ["x"], "value": 1}, {"replaces": [1], "value": 1},
        {"replaces": {}, "value": 1}, {"value": 1}, {"replaces": []}, {"replaces": [], "value": 1, "more": 1},
    ],
)  # fmt: skip
def test_statement_of_wrong_shape_is_refused(shop: Shop, tmp_path: Path, body: dict[str, Any]) -> None:
    text = json.dumps(body, sort_keys=True, separators=(",", ":"))
    digest = record_digest("", ONE, "statement", "name", text)
    row = {"digest": digest, "id": "", "subject": ONE, "kind": "statement", "key": "name", "body": body}
    refused(shop, raw(tmp_path / "in.zip", lines_of([row]), b""), f"{RECORDS}:1: is no statement")


@pytest.mark.parametrize(
    "body",
    [
        {"kind": "rumour", "note": "x"},
        {"kind": "note"},
        {"kind": "note", "note": ""},
        {"kind": "note", "note": "x" * 2001},
        {"kind": "note", "note": 5},
        {"kind": "note", "note": "x", "supersedes": "x"},
        {"kind": "note", "note": "x", "when": "yesterday"},
        {"kind": "note", "note": "x", "offset_s": 10**400},
        {"kind": "exposure", "runs": 10**400},
        {"kind": "exposure", "runs": -1},
        {"kind": "reading", "what": "coupler.height"},
    ],
)
def test_entry_that_is_none_is_refused(shop: Shop, tmp_path: Path, body: dict[str, Any]) -> None:
    refused(shop, forged(tmp_path / "in.zip", [entry_record(ONE, numbered(9), body)]), f"{RECORDS}:1: ")


NULLS = [("rules", {}), ("rubric", {"rules": ["own.toml"]})]


@pytest.mark.parametrize(("key", "more"), NULLS)
def test_car_with_a_key_that_is_null_is_refused(shop: Shop, tmp_path: Path, key: str, more: dict[str, object]) -> None:
    refused(shop, forged(tmp_path / "in.zip", [stated("car", {**CAR, **more, key: None})]), f"{RECORDS}:1: ")


def test_prototype_with_dated_rules_that_are_null_is_refused(shop: Shop, tmp_path: Path) -> None:
    records = [stated("car", CAR), stated("car.prototype", {"dated": None})]
    refused(shop, forged(tmp_path / "in.zip", records), RECORDS)


def test_entries_that_correct_null_dispute_nothing(shop: Shop, tmp_path: Path) -> None:
    path = forged(tmp_path / "in.zip", [stated("car", CAR), note(8, supersedes=None), note(9, "b", supersedes=None)])
    try:
        merge_zip(shop, path)
    except ExchangeError:
        return
    assert check(shop).of(DISPUTED) == []


# --- histories nobody would write ----------------------------------------------------------------------------------


def goes_on(shop: Shop, car: str, tmp_path: Path) -> None:
    """Whatever was imported, every later call gives an answer or one of carwright's own faults."""
    list_cars(shop)
    check(shop)
    assert shop.bench(car, photos=True).state == shop.state(car)
    calls: list[Callable[[], object]] = [
        lambda: shop.sheet(car),
        lambda: shop.undo(car),
        lambda: shop.revise(car, "report", {"short": "new"}),
    ]
    for call in calls:
        try:
            assert call()
        except CarwrightError as error:
            assert str(error)  # noqa: PT017 - an answer, or a fault in words
    exported_now = content_of(shop, tmp_path / "then.zip")
    with open_shop(tmp_path / "then.db", create=True) as other:
        merge_zip(other, tmp_path / "then.zip")
        assert content_of(other, tmp_path / "then2.zip") == exported_now


@pytest.mark.parametrize(
    "entries",
    [
        [note(8, supersedes=numbered(8))],
        [note(8, supersedes=numbered(9)), note(9, supersedes=numbered(8))],
        [note(7, supersedes=numbered(8)), note(8, supersedes=numbered(9)), note(9, supersedes=numbered(7))],
        [note(8, supersedes=numbered(99))],
    ],
    ids=["itself", "each other", "three in a ring", "nothing"],
)
def test_corrections_that_lead_nowhere_are_said_and_stop_nothing(
    shop: Shop, tmp_path: Path, entries: list[Record]
) -> None:
    merge_zip(shop, forged(tmp_path / "in.zip", [stated("car", CAR), *entries]))
    assert any("supersedes" in each.what for each in check(shop).of(FAULTY))
    goes_on(shop, ONE, tmp_path)


def test_car_that_nothing_states_is_said_and_stops_nothing(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "in.zip", [note(9), stated("report", {"short": "s"})]))
    assert {each.what for each in check(shop).of(FAULTY)} >= {"car: needs title", "car: needs scale"}
    goes_on(shop, ONE, tmp_path)


@pytest.mark.parametrize("of", ["kept", "collection"])
def test_subject_that_is_another_sort_of_thing_stops_nothing(shop: Shop, tmp_path: Path, of: str) -> None:
    merge_zip(shop, forged(tmp_path / "in.zip", [stated("car", CAR), note(9)], of=of))
    assert list_cars(shop) == []
    check(shop)
    first = content_of(shop, tmp_path / "out.zip")
    with open_shop(tmp_path / "other.db", create=True) as other:
        merge_zip(other, tmp_path / "out.zip")
        assert content_of(other, tmp_path / "again.zip") == first


def test_subject_of_two_sorts_is_said(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "a.zip", [stated("car", CAR)], of="car", clock=1))
    merge_zip(shop, forged(tmp_path / "b.zip", [note(9)], of="collection", clock=2))
    assert any("different kinds of thing" in each.what for each in check(shop).of(DAMAGED))


def test_statements_that_all_say_they_replace_nothing_known_hold(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "in.zip", [stated("car", CAR, ["0" * 64]), stated("report", {}, ["f" * 64])]))
    assert [each.title for each in list_cars(shop)] == [CAR["title"]]
    goes_on(shop, ONE, tmp_path)


def test_entries_put_behind_each_other_come_in_one_order(shop: Shop, tmp_path: Path) -> None:
    records = [stated("car", CAR), note(7, "a"), note(8, "b"), note(9, "c")]
    car, *entries = [each.digest for each in records]
    lines = [
        Line(car), Line(entries[0], numbered(9), numbered(8)), Line(entries[1], numbered(8), numbered(8)),
        Line(entries[2], numbered(7), numbered(7)),
    ]  # fmt: skip
    merge_zip(shop, packed(tmp_path / "in.zip", records, [writing_of(ONE, "car", 5, "", "", lines)]))
    assert sorted(each.id for each in shop.state(ONE).entries) == [numbered(each) for each in (7, 8, 9)]
    goes_on(shop, ONE, tmp_path)


def test_file_inside_a_file_stops_no_other_car(shop: Shop, tmp_path: Path) -> None:
    value = {"digest": "0" * 64, "size": 1}
    records = [stated("car", CAR), stated("file:a", value), stated("file:a/b", value)]
    merge_zip(shop, forged(tmp_path / "in.zip", records))
    assert {each.what for each in check(shop).of(DAMAGED)} == {"is named, and was never kept"}
    goes_on(shop, ONE, tmp_path)


def test_file_inside_a_file_does_not_stop_the_list(shop: Shop, tmp_path: Path) -> None:
    content = b"x"
    digest = hashlib.sha256(content).hexdigest()
    records = [stated("car", CAR), *(stated(f"file:{each}", {"digest": digest, "size": 1}) for each in ("a", "a/b"))]
    writing = writing_of(ONE, "car", 1, "", "", [Line(each.digest) for each in records])
    soundly = packed(tmp_path / "sound.zip", records, [writing]).read_bytes()
    records_now, writings_now = lines_of(rows(soundly, RECORDS)), lines_of(rows(soundly, WRITINGS))
    path = raw(tmp_path / "in.zip", records_now, writings_now, [(f"files/{digest}", content)])
    try:
        merge_zip(shop, path)
    except ExchangeError:
        return
    result = CliRunner().invoke(verbs, ["shop", "list", "--shop", str(shop.address)])
    assert result.exception is None
    assert CAR["title"] in result.output


def test_file_with_the_name_of_the_sheet_does_not_replace_it(shop: Shop, tmp_path: Path) -> None:
    content = b"not the sheet"
    digest = hashlib.sha256(content).hexdigest()
    value = {"digest": digest, "size": len(content)}
    records = [stated("car", CAR), stated(f"file:hopper-sedge-valley-7-{ONE[:8]}.toml", value)]
    writing = writing_of(ONE, "car", 1, "", "", [Line(each.digest) for each in records])
    soundly = packed(tmp_path / "sound.zip", records, [writing]).read_bytes()
    records_now, writings_now = lines_of(rows(soundly, RECORDS)), lines_of(rows(soundly, WRITINGS))
    merge_zip(shop, raw(tmp_path / "in.zip", records_now, writings_now, [(f"files/{digest}", content)]))
    arguments = ["shop", "sheet", ONE, "--out", str(tmp_path / "out"), "--shop", str(shop.address)]
    result = CliRunner().invoke(verbs, arguments)
    if result.exception is None:
        written = tmp_path / "out" / f"hopper-sedge-valley-7-{ONE[:8]}.toml"
        assert cw.read_sheet(written).car.title == CAR["title"]
    else:
        assert isinstance(result.exception, CarwrightError)


def test_refusal_shows_no_signs_that_steer_a_terminal(shop: Shop, tmp_path: Path) -> None:
    path = forged(tmp_path / "in.zip", [stated("car", {**CAR, "\x1b[2Jcolour": 1})])
    with pytest.raises(ExchangeError) as caught:
        merge_zip(shop, path)
    assert str(caught.value).isprintable()


def test_imported_due_rules_that_cannot_be_read_do_not_stop_the_list(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "car.zip", [stated("car", CAR)]))
    value = {"name": "due.toml", "format": "carwright-due/1", "text": "no = ["}
    bad = statement_record(kept_id("due.toml"), "kept", value)
    try:
        merge_zip(shop, forged(tmp_path / "in.zip", [bad], of="kept"))
    except ExchangeError:
        return
    assert len(list_cars(shop)) == 1


def test_imported_kept_file_under_another_id_does_not_stop_the_list(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "car.zip", [stated("car", CAR)]))
    value = {"name": "due.toml", "format": "carwright-due/1", "text": ""}
    try:
        merge_zip(shop, forged(tmp_path / "in.zip", [statement_record(TWO, "kept", value)], of="kept"))
    except ExchangeError:
        return
    assert len(list_cars(shop)) == 1


def test_writing_of_the_future_is_noted_and_the_next_one_comes_behind_it(shop: Shop, tmp_path: Path) -> None:
    merge_zip(shop, forged(tmp_path / "in.zip", [stated("car", CAR)], clock=LATEST - 10))
    shop.append(ONE, [{"kind": "note", "note": "later"}])
    assert shop.state(ONE).clock == LATEST - 9
    assert len(check(shop).of(NOTED)) == 2
    goes_on(shop, ONE, tmp_path)


def test_shop_with_a_writing_at_the_last_clock_can_still_be_carried(shop: Shop, tmp_path: Path) -> None:
    try:
        merge_zip(shop, forged(tmp_path / "in.zip", [stated("car", CAR)], clock=LATEST))
    except ExchangeError:
        return
    shop.append(ONE, [{"kind": "note", "note": "later"}])
    export_zip(shop, tmp_path / "out.zip")
    with open_shop(tmp_path / "other.db", create=True) as other:
        assert merge_zip(other, tmp_path / "out.zip").writings == 2


# --- several shops -------------------------------------------------------------------------------------------------


def parts(tmp_path: Path) -> list[Path]:
    """Three people's exports: one car, one id with three contents, a statement each, an entry each."""
    car, made = stated("car", CAR), []
    for number in range(3):
        records = [
            car, note(50, f"version {number}"), stated("report", {"short": f"r{number}"}), note(60 + number, "own"),
        ]  # fmt: skip
        lines = [Line(records[1].digest), Line(records[2].digest), Line(records[3].digest, numbered(50))]
        writings = [
            writing_of(ONE, "car", 5, "", "", [Line(car.digest)]),
            writing_of(ONE, "car", 10 + number // 2, f"p{number}", "", lines),
        ]
        made.append(packed(tmp_path / f"part{number}.zip", records, writings))
    return made


def test_three_shops_merged_in_every_order_are_one(tmp_path: Path) -> None:
    exports, states = set(), set()
    for number, order in enumerate(itertools.permutations(parts(tmp_path))):
        with open_shop(tmp_path / f"{number}.db", create=True) as made:
            for path in (*order, order[0]):
                merge_zip(made, path)
            exports.add(content_of(made, tmp_path / f"{number}.zip"))
            state = made.state(ONE)
            states.add((state.digest, state.forks, tuple(list_cars(made))))
            assert len(check(made).of(DISPUTED)) == 2
    assert len(exports) == 1
    assert len(states) == 1


def test_same_id_with_different_content_keeps_both_and_takes_the_earlier(tmp_path: Path) -> None:
    paths = parts(tmp_path)
    taken = set()
    for number, order in enumerate(([0, 2], [2, 0])):
        with open_shop(tmp_path / f"{number}.db", create=True) as made:
            found = [merge_zip(made, paths[each]) for each in order]
            assert found[0].forks == ()
            assert len(found[1].forks) == 1
            assert numbered(50) in found[1].forks[0]
            state = made.state(ONE)
            entry = state.entry(numbered(50))
            assert entry is not None
            taken.add((entry.content()["note"], state.stated["report"]["short"]))
            versions = {each.digest for each in made.held(ONE).records if each.id == numbered(50)}
            assert len(versions) == 2
    assert taken == {("version 0", "r2")}


def test_dispute_about_a_statement_ends_with_the_next_one(shop: Shop, tmp_path: Path) -> None:
    for path in parts(tmp_path):
        merge_zip(shop, path)
    assert "report" in {each.key for each in shop.state(ONE).forks}
    assert shop.revise(ONE, "report", {"short": "settled"})
    assert "report" not in {each.key for each in shop.state(ONE).forks}


def test_shop_is_not_merged_with_itself(shop: Shop) -> None:
    with pytest.raises(CarwrightError, match="is the shop itself"):
        merge_shop(shop, shop)


# --- another shop that is damaged ----------------------------------------------------------------------------------


def damaged_copy(exported: bytes, tmp_path: Path, *statements: str) -> Path:
    path = tmp_path / "theirs.db"
    (tmp_path / "theirs.zip").write_bytes(exported)
    with open_shop(path, create=True) as made:
        merge_zip(made, tmp_path / "theirs.zip")
    connection = sqlite3.connect(path)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for each in statements:
        connection.execute(each)
    connection.commit()
    connection.close()
    return path


DAMAGES = {
    "entry": "UPDATE record SET body = replace(body, '24 g', '99 g') WHERE key = 'reading'",
    "who": "UPDATE writing SET who = 'somebody else'",
    "clock": "UPDATE writing SET clock = clock + 1",
    "line": "UPDATE line SET after = 'garbage' WHERE ordinal = 5",
    "record": "DELETE FROM record WHERE key = 'gauge'",
}


@pytest.mark.parametrize("statement", DAMAGES.values(), ids=DAMAGES.keys())
def test_rows_of_a_damaged_shop_are_never_taken_in(shop: Shop, exported: bytes, tmp_path: Path, statement: str) -> None:
    with open_shop(damaged_copy(exported, tmp_path, statement)) as other:
        try:
            merge_shop(shop, other)
        except CarwrightError:
            empty(shop)
    assert check(shop).of(DAMAGED) == []


def test_shop_with_a_body_that_is_no_json_is_refused(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    path = damaged_copy(exported, tmp_path, "UPDATE record SET body = 'x' WHERE key = 'car'")
    with open_shop(path) as other, pytest.raises(CarwrightError):
        merge_shop(shop, other)
    empty(shop)


def test_export_of_a_shop_with_an_altered_photo_can_be_imported(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    path = damaged_copy(exported, tmp_path)
    photo = next(path.with_name("theirs.db.photos").glob("*/*"))
    photo.write_bytes(b"altered")
    with open_shop(path) as other:
        export_zip(other, tmp_path / "out.zip")
    assert merge_zip(shop, tmp_path / "out.zip").writings == 2


def test_shop_without_its_photos_is_merged_and_the_photo_is_missed(shop: Shop, exported: bytes, tmp_path: Path) -> None:
    path = damaged_copy(exported, tmp_path)
    shutil.rmtree(path.with_name("theirs.db.photos"))
    with open_shop(path) as other:
        assert merge_shop(shop, other).writings == 2
    assert [each.what for each in check(shop).of(DAMAGED)] == ["is named, and was never kept"]

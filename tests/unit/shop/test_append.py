"""Entries added at the end: once however often they are sent, all of them or none, with their files."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from shops import given

from carwright.errors import SheetError, UnknownNameError
from carwright.shop import Shop, open_shop
from carwright.shop.checking import check
from carwright.shop.faults import ChangedError, ShopError
from carwright.shop.watching import latest_writing
from carwright.shop.workspace import with_entries

Fresh = Callable[[], Shop]


def with_car(shop: Shop) -> str:
    return shop.add([given()])[0].addition.car


def note(text: str, identity: str = "") -> dict[str, Any]:
    return {"kind": "note", "note": text, "id": identity or str(uuid.uuid4())}


def reading(value: str) -> dict[str, Any]:
    return {"kind": "reading", "what": "coupler.height", "at": "A", "values": [value], "id": str(uuid.uuid4())}


def notes(shop: Shop, car: str) -> list[str]:
    return [each.content()["note"] for each in shop.state(car).entries if each.key == "note"]


def test_what_is_sent_twice_is_there_once(fresh: Fresh) -> None:
    shop = fresh()
    car, body = with_car(shop), note("one")
    assert shop.append(car, [body]) == [body["id"]]
    before = latest_writing(shop)
    assert shop.append(car, [body], who="another") == [body["id"]]
    assert latest_writing(shop) == before
    assert notes(shop, car) == ["one"]
    assert check(shop).problems == []


def test_an_id_in_capitals_is_the_same_id(fresh: Fresh) -> None:
    shop = fresh()
    car, body = with_car(shop), note("one", "abcdef01-2345-4789-abcd-ef0123456789")
    first = shop.append(car, [{**body, "id": body["id"].upper()}])
    assert first == [body["id"]]
    assert shop.append(car, [body]) == first
    assert shop.append(car, [{**body, "id": body["id"].upper()}]) == first
    assert notes(shop, car) == ["one"]


@pytest.mark.parametrize("write", [lambda each: each.replace("-", ""), "{{{}}}".format, "urn:uuid:{}".format])
def test_an_id_written_another_way_is_the_same_id(shop: Shop, write: Callable[[str], str]) -> None:
    car, body = with_car(shop), note("one")
    body["id"] = write(body["id"])
    first = shop.append(car, [body])
    assert shop.append(car, [body]) == first
    assert notes(shop, car) == ["one"]


def test_of_a_half_known_batch_the_rest_is_added_in_order(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    batch = [note(text) for text in ("one", "two", "three", "four")]
    shop.append(car, [batch[1], batch[3]])
    assert shop.append(car, batch) == [each["id"] for each in batch]
    assert notes(shop, car) == ["two", "four", "one", "three"]
    assert shop.sheet(car).entries[-1].id == batch[2]["id"]
    assert check(shop).problems == []


@pytest.mark.parametrize(
    "other", [{"note": "two"}, {"who": "me"}, {"kind": "photo", "file": "a.png"}, {"when": "2026-03-01"}]
)
def test_the_same_id_with_another_content_is_refused(fresh: Fresh, other: Mapping[str, str]) -> None:
    shop = fresh()
    car, body = with_car(shop), note("one")
    shop.append(car, [body])
    before = latest_writing(shop)
    changed = {**body, **other}
    with pytest.raises(ChangedError, match=f"entry {body['id']}: says something else than the entry of that id"):
        shop.append(car, [note("new"), changed])
    assert latest_writing(shop) == before
    assert notes(shop, car) == ["one"]


def test_one_id_twice_in_a_batch_is_refused(shop: Shop) -> None:
    car, body = with_car(shop), note("one")
    for _ in ("new", "known"):
        with pytest.raises(SheetError, match="stands on more than one entry"):
            shop.append(car, [body, body])
        if not notes(shop, car):
            shop.append(car, [body])
    assert notes(shop, car) == ["one"]


def test_an_entry_is_added_to_each_car_under_its_own_id(shop: Shop) -> None:
    one, two = with_car(shop), shop.add([given("Another")])[0].addition.car
    assert shop.append(one, [{"kind": "note", "note": "x"}]) != shop.append(two, [{"kind": "note", "note": "x"}])


def test_entries_alike_without_id_are_all_added(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    body = {"kind": "note", "note": "same"}
    found = [*shop.append(car, [body, body]), *shop.append(car, [body])]
    assert len(set(found)) == 3
    assert notes(shop, car) == ["same"] * 3


def test_all_faults_come_at_once_and_nothing_is_written(shop: Shop) -> None:
    car = with_car(shop)
    before = latest_writing(shop)
    with pytest.raises(SheetError) as caught:
        shop.append(car, [note("good"), {"kind": "note"}, {"kind": "nonsense"}, note("x", "7")],
                    files={"a.txt": b"x"})  # fmt: skip
    assert [fault.place.split(" (")[0].split(",")[0] for fault in caught.value.faults] == [
        "entry 4", "entry 5", "entry 6",
    ]  # fmt: skip
    assert latest_writing(shop) == before
    assert not any(key.startswith("file:") for key in shop.state(car).stated)


def test_an_unknown_car_takes_no_entries(shop: Shop) -> None:
    with pytest.raises(UnknownNameError, match="there is no car"):
        shop.append(str(uuid.uuid4()), [note("x")])


def test_an_undone_entry_sent_again_stays_undone(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    body = reading("0.39 in")
    shop.append(car, [body])
    undone = shop.undo(car, body["id"])
    before = latest_writing(shop)
    assert shop.append(car, [body]) == [body["id"]]
    assert latest_writing(shop) == before
    assert shop.state(car).entries[-1].id == undone
    assert len(shop.sheet(car).history.readings) == 1
    again = shop.undo(car, undone)
    assert shop.state(car).entry(again) is not None
    assert len(shop.sheet(car).history.readings) == 2


def test_a_corrected_entry_sent_again_stays_corrected(shop: Shop) -> None:
    car = with_car(shop)
    body = reading("0.39 in")
    shop.append(car, [body])
    shop.append(car, [{**body, "id": str(uuid.uuid4()), "values": ["0.395 in"], "supersedes": body["id"]}])
    count = len(shop.state(car).entries)
    assert shop.append(car, [body]) == [body["id"]]
    assert len(shop.state(car).entries) == count


def test_files_are_kept_by_content(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    body = {"kind": "photo", "file": "left.png", "id": str(uuid.uuid4())}
    shop.append(car, [body], files={"left.png": b"one"})
    before = latest_writing(shop)
    shop.append(car, [body], files={"left.png": b"one"})
    assert latest_writing(shop) == before
    assert shop.bench(car, photos=True).files["left.png"] == b"one"
    shop.append(car, [{"kind": "photo", "file": "right.png"}], files={"right.png": b"one"})
    stated = shop.state(car).stated
    assert stated["file:left.png"] == stated["file:right.png"]
    shop.append(car, [], files={"left.png": b"two"})
    files = shop.bench(car, photos=True).files
    assert (files["left.png"], files["right.png"]) == (b"two", b"one")
    assert check(shop).problems == []


@pytest.mark.parametrize("name", ["../a", "/a", "", "a/", "a/../../b", "con", "a:b", "a\\..\\..\\b", "x" * 300])
def test_a_file_that_would_leave_its_folder_is_refused_with_its_entries(shop: Shop, name: str) -> None:
    car = with_car(shop)
    before = latest_writing(shop)
    with pytest.raises(ShopError, match="is no name of a file below a folder"):
        shop.append(car, [note("x")], files={"good.txt": b"g", name: b"x"})
    assert latest_writing(shop) == before
    assert notes(shop, car) == []


def test_one_file_has_one_statement_however_its_name_is_written(shop: Shop) -> None:
    car = with_car(shop)
    shop.append(car, [], files={"a.png": b"one"})
    shop.append(car, [], files={"./a.png": b"two"})
    assert sum(key.startswith("file:") for key in shop.state(car).stated) == 1


def test_what_was_appended_last_is_undone_first(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    first, last = shop.append(car, [note("one"), note("two")])
    made = shop.undo(car)
    assert shop.state(car).entries[-1].id == made
    assert shop.state(car).entries[-1].content()["supersedes"] == last
    assert first != last


def test_two_writers_sending_the_same_entries_leave_them_once(fresh: Fresh) -> None:
    shop = fresh()
    car = with_car(shop)
    batch = [note(str(number)) for number in range(5)]
    told: list[list[str]] = []
    faults: list[Exception] = []

    def write() -> None:
        try:
            with open_shop(shop.address) as own:
                told.extend(own.append(car, [body]) for body in batch)
        except Exception as error:  # noqa: BLE001 - told by the assertion below
            faults.append(error)

    writers = [threading.Thread(target=write) for _ in range(2)]
    for each in writers:
        each.start()
    for each in writers:
        each.join()
    assert faults == []
    assert len(told) == 10
    assert sorted(notes(shop, car)) == ["0", "1", "2", "3", "4"]
    assert check(shop).problems == []


def test_trying_entries_on_a_bench_writes_nothing_and_changes_no_other_bench(shop: Shop) -> None:
    car = with_car(shop)
    bench, before = shop.bench(car), latest_writing(shop)
    held = bench.document["entry"]
    assert isinstance(held, list)
    count = len(held)
    tried = with_entries(bench, [note("one"), note("two")])
    entries = tried.document["entry"]
    assert isinstance(entries, list)
    assert [each["kind"] for each in entries[count:]] == ["note", "note"]
    assert len(held) == count
    assert bench.document["entry"] is held
    assert {key: each for key, each in tried.document.items() if key != "entry"} == {
        key: each for key, each in bench.document.items() if key != "entry"
    }
    assert latest_writing(shop) == before


def test_a_car_without_entries_can_have_some_tried(shop: Shop) -> None:
    text = 'format = "carwright-sheet/1"\n[car]\ntitle = "{title}"\nscale = "HO"\n'
    bench = shop.bench(shop.add([given("Bare", text=text)])[0].addition.car)
    assert "entry" not in bench.document
    body = note("one")
    assert with_entries(bench, [body]).document["entry"] == [body]

"""A shop on either database: sheets in and out, corrections, undo, lists, what is kept for all, and union."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Callable
from pathlib import Path
from unittest.mock import Mock

import pytest
import sqlalchemy as sa
from shops import given

import carwright as cw
from carwright.errors import SheetError, UnknownNameError
from carwright.history.undo import UndoError
from carwright.publish.document import as_json_text
from carwright.shop import Given, Shop, open_shop
from carwright.shop.checking import check
from carwright.shop.faults import ChangedError, InsertOnlyError
from carwright.shop.judging import due_rules, judge_all, kept_result, opened, stale_cars
from carwright.shop.listing import Wanted, list_cars
from carwright.shop.merging import export_zip, merge_shop, merge_zip
from carwright.shop.shared import collect, collection, collections, keep_file, kept_files, kept_text
from carwright.shop.sheets import ManySheetsError
from carwright.shop.store import AlteredError

Fresh = Callable[[], Shop]
EXAMPLES = [path for path in sorted(Path("examples").glob("*.toml")) if not path.name.startswith(("club-", "stock-"))]
READING = {"kind": "reading", "what": "coupler.height", "at": "B", "values": ["0.391 in"]}


def add_one(shop: Shop, title: str = "Hopper, Tansy River 1") -> str:
    return shop.add([given(title)])[0].addition.car


def exported(shop: Shop, folder: Path) -> bytes:
    path = folder / f"{len(list(folder.iterdir()))}.zip"
    export_zip(shop, path)
    return path.read_bytes()


def test_a_sheet_comes_out_as_it_went_in(fresh: Fresh) -> None:
    shop = fresh()
    for path in EXAMPLES:
        sheet = cw.read_sheet(path)
        added = shop.add([Given(sheet, path.parent)])[0]
        assert added.new
        assert added.addition.entries == len(sheet.entries)
        out = shop.sheet(added.addition.car)
        bare = [entry.model_copy(update={"id": old.id}) for entry, old in zip(out.entries, sheet.entries, strict=True)]
        assert bare == list(sheet.entries)
        assert out.car.model_copy(update={"id": sheet.car.id}) == sheet.car
        assert (out.instruments, out.priors, out.parts, out.pockets, out.report) == (
            sheet.instruments, sheet.priors, sheet.parts, sheet.pockets, sheet.report,
        )  # fmt: skip


def test_the_same_sheet_again_changes_nothing(fresh: Fresh, tmp_path: Path) -> None:
    shop = fresh()
    sheets = [Given(cw.read_sheet(path), path.parent) for path in EXAMPLES]
    shop.add(sheets)
    before = exported(shop, tmp_path)
    assert not any(each.addition.lines for each in shop.add(sheets))
    assert exported(shop, tmp_path) == before


def test_a_car_in_the_shop_is_judged_as_its_sheet_is(fresh: Fresh) -> None:
    shop = fresh()
    for path in EXAMPLES:
        sheet = cw.read_sheet(path)
        car = shop.add([Given(sheet, path.parent)])[0].addition.car
        with opened(shop.bench(car)) as again:
            assert as_json_text(cw.inspect(again)) == as_json_text(cw.inspect(sheet))


def test_what_was_recorded_cannot_be_changed_by_sql(fresh: Fresh) -> None:
    shop = fresh()
    add_one(shop)
    for table in ("record", "writing", "line", "file"):
        with shop.writing() as batch:
            row = {"digest": "0" * 64, "size": 0}
            if table == "file":
                batch.connection.execute(sa.text("INSERT INTO file (digest, size) VALUES (:digest, :size)"), row)
        for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET {_column(table)} = {_column(table)}"):  # noqa: S608
            with pytest.raises(InsertOnlyError, match="never changed or removed"), shop.writing() as batch:
                batch.connection.execute(sa.text(statement))
    sqlite = shop.address.is_file
    replace = "INSERT OR REPLACE INTO record SELECT * FROM record" if sqlite else "TRUNCATE record CASCADE"
    with pytest.raises(InsertOnlyError), shop.writing() as batch:
        batch.connection.execute(sa.text(replace))
    assert len(list_cars(shop)) == 1


def _column(table: str) -> str:
    return {"record": "body", "writing": "who", "line": "ordinal", "file": "size"}[table]


def test_entries_are_appended_and_undone_and_brought_back(fresh: Fresh) -> None:
    shop = fresh()
    car = add_one(shop)
    made = shop.append(car, [READING, {"kind": "note", "note": "filed the shank"}], who="the bench")
    assert [each.id for each in shop.state(car).entries][-2:] == made
    assert shop.state(car).who == "the bench"
    undone = shop.undo(car, made[0])
    sheet = shop.sheet(car)
    assert not [reading for reading in sheet.history.readings if reading.at == "B"]
    assert len(sheet.entries) == 5
    shop.undo(car, undone)
    assert [reading.at for reading in shop.sheet(car).history.readings] == ["A", "B"]
    with pytest.raises(UndoError, match="corrected or undone already"):
        shop.undo(car, made[0])
    with pytest.raises(UndoError, match="there is no entry"):
        shop.undo(car, "5c2b1f0e-7a53-4f0a-9d0e-2f6d1f9b8c11")


def test_undo_takes_the_last_entry_written(fresh: Fresh) -> None:
    shop = fresh()
    car = add_one(shop)
    shop.append(car, [READING])
    shop.revise(car, "report", {"by": "the bench"})
    shop.undo(car)
    assert [reading.at for reading in shop.sheet(car).history.readings] == ["A"]


def test_a_bad_entry_is_refused_and_nothing_is_written(fresh: Fresh) -> None:
    shop = fresh()
    car = add_one(shop)
    with pytest.raises(SheetError, match=r"coupler\.hight"):
        shop.append(car, [READING, {**READING, "what": "coupler.hight"}])
    with pytest.raises(ChangedError, match="unknown scale"):
        shop.revise(car, "car", {"title": "Hopper", "scale": "HX"})
    with pytest.raises(UnknownNameError, match="part of a sheet"):
        shop.revise(car, "geometry", {})
    assert len(shop.state(car).entries) == 2
    assert shop.sheet(car).car.scale == "HO"


def test_one_bad_sheet_keeps_all_of_a_call_out(fresh: Fresh) -> None:
    shop = fresh()
    car = add_one(shop)
    entry = shop.state(car).entries[0]
    changed = given(
        more=f'[[entry]]\nkind = "note"\nnote = "other"\nid = "{entry.id}"\n',
        text=f'format = "carwright-sheet/1"\n[car]\ntitle = "{{title}}"\nscale = "HO"\nid = "{car}"\n',
    )
    with pytest.raises(ManySheetsError, match="never changes"):
        shop.add([given("Another"), changed])
    assert [each.title for each in list_cars(shop)] == ["Hopper, Tansy River 1"]


def test_statements_replace_and_are_kept(fresh: Fresh) -> None:
    shop = fresh()
    car = add_one(shop)
    assert shop.revise(car, "car.geometry", {"body_length": "5.40 in"})
    assert not shop.revise(car, "car.geometry", {"body_length": "5.40 in"})
    assert shop.revise(car, "instrument:steel rule", {"name": "steel rule", "resolution": "0.5 mm"})
    sheet = shop.sheet(car)
    assert sheet.car.geometry.body_length == "5.40 in"
    assert [each.name for each in sheet.instruments] == ["steel rule"]
    assert shop.revise(car, "instrument:steel rule", None)
    assert not shop.sheet(car).instruments
    assert sum(each.key == "car.geometry" for each in shop.held(car).records) == 2


def test_lists_and_searches(fresh: Fresh) -> None:
    shop = fresh()
    ids = [add_one(shop, title) for title in ("Boxcar, Ä 100 %", "boxcar_two", "Flat 7")]
    assert [each.title for each in list_cars(shop)] == ["Boxcar, Ä 100 %", "boxcar_two", "Flat 7"]
    assert [each.title for each in list_cars(shop, Wanted("BOX"))] == ["Boxcar, Ä 100 %", "boxcar_two"]
    assert [each.title for each in list_cars(shop, Wanted("ä"))] == ["Boxcar, Ä 100 %"]
    assert [each.title for each in list_cars(shop, Wanted("100 %"))] == ["Boxcar, Ä 100 %"]
    assert [each.title for each in list_cars(shop, Wanted("r_t"))] == ["boxcar_two"]
    assert [each.title for each in list_cars(shop, first=1, most=1)] == ["boxcar_two"]
    assert not list_cars(shop, Wanted("boxcar nothing"))
    assert shop.find("flat") == shop.find(ids[2]) == shop.find(ids[2][:9]) == ids[2]
    with pytest.raises(UnknownNameError, match="2 have that"):
        shop.find("box")
    for nothing in ("", "  ", "%%", "no such"):
        with pytest.raises(UnknownNameError, match="there is no"):
            shop.find(nothing)


def test_results_are_kept_until_something_they_follow_from_changes(fresh: Fresh) -> None:
    shop = fresh()
    car = shop.add([given(more='[[entry]]\nkind = "look"\nwhat = "motion"\ngrade = "spoilt"\n')])[0].addition.car
    assert stale_cars(shop) == [car]
    judge_all(shop, [car])
    assert not stale_cars(shop)
    known = list_cars(shop)[0]
    assert (known.known, known.status) == (True, cw.inspect(shop.sheet(car)).verdict.status)
    made: list[str] = []

    def make(inspection: cw.Inspection) -> str:
        made.append(inspection.verdict.status)
        return as_json_text(inspection)

    first = kept_result(shop, car, "inspection", make)
    assert kept_result(shop, car, "inspection", make) == first
    assert len(made) == 1
    shop.append(car, [READING])
    assert stale_cars(shop) == [car]
    assert not list_cars(shop)[0].known
    assert kept_result(shop, car, "inspection", make) != first
    judge_all(shop, [car])
    keep_file(shop, "due.toml", "carwright-due/1", 'format = "carwright-due/1"\n')
    assert due_rules(shop).rules == ()
    assert stale_cars(shop) == [car]


def test_a_file_kept_for_all_is_gone_by_and_judged_anew(fresh: Fresh) -> None:
    shop = fresh()
    club = Path("examples/club-sedge.toml").read_text("utf-8")
    sheet = given().sheet
    text = 'format = "carwright-sheet/1"\n[car]\ntitle = "{title}"\nscale = "HO"\nrules = ["nmra", "club.toml"]\n'
    added = shop.add([given(text=text)])[0]
    assert added.missing == ("club.toml",)
    car = added.addition.car
    judge_all(shop, [car])
    assert "club.toml" in list_cars(shop)[0].fault
    keep_file(shop, "club.toml", "carwright-rules/1", club)
    assert stale_cars(shop) == [car]
    judge_all(shop, [car])
    assert not list_cars(shop)[0].fault
    assert kept_text(shop, "club.toml") == club
    keep_file(shop, "club.toml", "carwright-rules/1", club + "# later\n")
    assert stale_cars(shop) == [car]
    assert kept_files(shop) == [("club.toml", "carwright-rules/1")]
    assert sheet.car.title
    with pytest.raises(UnknownNameError, match="kept file"):
        kept_text(shop, "other.toml")


def test_collections(fresh: Fresh) -> None:
    shop = fresh()
    ids = [add_one(shop, title) for title in ("One", "Two", "Three")]
    assert collect(shop, "Show  set", ids[:2]) == 2
    assert collect(shop, "show set", ids) == 1
    assert collect(shop, "Show set", ids[:1], remove=True) == 1
    assert collections(shop) == {"Show set": sorted(ids[1:])}
    assert collection(shop, "SHOW SET") == sorted(ids[1:])
    wanted = Wanted(cars=tuple(collection(shop, "show set")))
    assert {each.title for each in list_cars(shop, wanted)} == {"Two", "Three"}
    with pytest.raises(UnknownNameError, match="there is no collection"):
        collection(shop, "other")
    with pytest.raises(UnknownNameError, match="there is no car"):
        collect(shop, "other", ["5c2b1f0e-7a53-4f0a-9d0e-2f6d1f9b8c11"])
    assert set(collections(shop)) == {"Show set"}


def test_union_in_any_order_gives_the_same_shop(fresh: Fresh, tmp_path: Path) -> None:
    one, two, three = fresh(), fresh(), fresh()
    car = add_one(one)
    for shop in (two, three):
        merge_shop(shop, one)
    one.append(car, [READING])
    two.append(car, [{"kind": "work", "remedy": "washer", "at": "A", "amount": "0.015 in"}])
    two.revise(car, "report", {"by": "two"})
    three.revise(car, "report", {"by": "three"})
    three.undo(car)
    add_one(three, "Only in three")
    results = set()
    for order in itertools.permutations((one, two, three)):
        shop = fresh()
        for each in order:
            merge_shop(shop, each)
        merge_shop(shop, order[0])
        assert check(shop).of("damaged") == []
        results.add((exported(shop, tmp_path), cw.write_sheet(shop.sheet(car))))
    assert len(results) == 1
    shop = open_shop(tmp_path / "last.db", create=True)
    (tmp_path / "whole.zip").write_bytes(results.pop()[0])
    merged = merge_zip(shop, tmp_path / "whole.zip")
    assert len(merged.cars) == 2
    assert any("report" in each for each in merged.forks)
    assert shop.sheet(car).report.by == "three"  # stated last
    shop.close()


def test_two_different_entries_of_one_id_are_both_kept(fresh: Fresh, tmp_path: Path) -> None:
    one, two = fresh(), fresh()
    identity, car = "0d8b6f2e-3f0d-4c26-9a53-111111111111", "0d8b6f2e-3f0d-4c26-9a53-222222222222"
    text = f'format = "carwright-sheet/1"\n[car]\ntitle = "{{title}}"\nscale = "HO"\nid = "{car}"\n'
    for shop, note in ((one, "first"), (two, "second")):
        shop.add([given(text=text, more=f'[[entry]]\nkind = "note"\nnote = "{note}"\nid = "{identity}"\n')])
    together, other_way = fresh(), fresh()
    for shop, order in ((together, (one, two)), (other_way, (two, one))):
        for each in order:
            merge_shop(shop, each)
        assert shop.sheet(car).history.notes == ("first",)
        assert sum(each.id == identity for each in shop.held(car).records) == 2
        assert [each.kind for each in check(shop).problems] == ["disputed"]
        [fork] = shop.state(car).forks
        digests = {each.digest for each in shop.held(car).records if each.id == identity}
        assert {fork.taken, *fork.others} == digests
        assert list_cars(shop)[0].forks == 1
    assert exported(together, tmp_path) == exported(other_way, tmp_path)
    together.append(car, [{"kind": "note", "note": "settled", "supersedes": identity}])
    assert together.sheet(car).history.notes == ("settled",)


def test_many_cars_are_judged_by_several_processes_as_by_one(tmp_path: Path) -> None:
    results = []
    for jobs in (1, 2):
        with open_shop(tmp_path / f"{jobs}.db", create=True) as shop:
            shop.add([given(f"Car {number}") for number in range(60)])
            tell = Mock()
            judge_all(shop, stale_cars(shop), jobs=jobs, progress=tell)
            assert tell.call_args.args == (60, 60)
            assert not stale_cars(shop)
            results.append([(each.title, each.status, each.points, each.reasons) for each in list_cars(shop)])
    assert results[0] == results[1]


def test_what_was_judged_stays_so_when_the_rest_is_stopped(shop: Shop) -> None:
    shop.add([given(f"Car {number}") for number in range(60)])

    def stop(done: int, _of: int) -> None:
        if done >= 25:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        judge_all(shop, stale_cars(shop), progress=stop)
    assert len(stale_cars(shop)) == 35
    assert sum(each.known for each in list_cars(shop)) == 25


def test_results_do_not_outlive_the_program_and_tables_they_follow_from(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    car = add_one(shop)
    judge_all(shop, [car])
    first = kept_result(shop, car, "status", lambda each: each.verdict.status)
    monkeypatch.setattr("carwright.shop.judging.program_digest", lambda: "another")
    assert stale_cars(shop) == [car]
    assert not list_cars(shop)[0].known
    assert kept_result(shop, car, "status", lambda _each: "made anew") == "made anew" != first


def test_one_car_that_cannot_be_read_stops_no_other(shop: Shop) -> None:
    good, bad = add_one(shop, "Good"), add_one(shop, "Bad")
    with sqlite3.connect(str(shop.address.path)) as connection:
        connection.execute("DROP TRIGGER record_no_update")
        connection.execute("UPDATE record SET body = replace(body, '0.412', '0.391') WHERE subject = ?", (bad,))
    judge_all(shop, stale_cars(shop))
    lines = {each.id: each for each in list_cars(shop)}
    assert lines[good].status
    assert "does not come to its digest" in lines[bad].fault
    with pytest.raises(AlteredError, match="does not come to its digest"):
        shop.sheet(bad)


def test_a_damaged_car_keeps_no_rules_from_being_kept(shop: Shop) -> None:
    text = 'format = "carwright-sheet/1"\n[car]\ntitle = "{title}"\nscale = "HO"\nrules = ["nmra", "club.toml"]\n'
    good, bad = (shop.add([given(title, text=text)])[0].addition.car for title in ("Good", "Bad"))
    with sqlite3.connect(str(shop.address.path)) as connection:
        connection.execute("DROP TRIGGER record_no_update")
        connection.execute("UPDATE record SET body = replace(body, 'Bad', 'Mad') WHERE subject = ?", (bad,))
    assert keep_file(shop, "club.toml", "carwright-rules/1", Path("examples/club-sedge.toml").read_text("utf-8"))
    judge_all(shop, stale_cars(shop))
    faults = {each.id: each.fault for each in list_cars(shop)}
    assert not faults[good]
    assert "does not come to its digest" in faults[bad]

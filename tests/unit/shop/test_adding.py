"""Sheets added again after they were changed: what is new, what is known, what is refused, and what is corrected."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import carwright as cw
from carwright.errors import UnknownNameError
from carwright.history.entries import Entry
from carwright.shop import Added, Given, Shop
from carwright.shop.adding import alike
from carwright.shop.checking import DISPUTED, check
from carwright.shop.instruments import kept_instruments, read_for
from carwright.shop.judging import judge_all, stale_cars
from carwright.shop.listing import Wanted, list_cars
from carwright.shop.shared import collect, collections, keep_file
from carwright.shop.sheets import ManySheetsError

CAR = "11111111-2222-4333-8444-555555555555"
ONE, TWO, THREE = (f"{letter * 8}-2222-4333-8444-555555555555" for letter in "abc")
STEP = 'kind = "look"\nwhat = "part"\nname = "step"\ngrade = "sound"'


def reading(value: str, at: str = "A", identity: str = "", supersedes: str = "") -> str:
    lines = [f'id = "{identity}"'] if identity else []
    lines += [f'supersedes = "{supersedes}"'] if supersedes else []
    return "\n".join([*lines, 'kind = "reading"', 'what = "coupler.height"', f'at = "{at}"', f'values = ["{value}"]'])


def note(text: str) -> str:
    return f'kind = "note"\nnote = "{text}"'


def written(*entries: str, title: str = "Boxcar", car: str = "", more: str = "", scale: str = "HO") -> str:
    own = f'id = "{car}"\n' if car else ""
    rows = "".join(f"[[entry]]\n{each}\n" for each in entries)
    return f'format = "carwright-sheet/1"\n[car]\ntitle = "{title}"\nscale = "{scale}"\n{own}{more}\n{rows}'


def add(shop: Shop, text: str, *, correct: bool = False, another: bool = False) -> Added:
    return shop.add([Given(cw.read_sheet_text(text))], correct=correct, another=another)[0]


def said(shop: Shop, car: str = CAR) -> list[str]:
    """What holds of the car: values, grades and notes in their order, without what was superseded."""
    gone = {each.supersedes for each in shop.sheet(car).entries}
    return [_word(each) for each in shop.sheet(car).entries if each.id not in gone]


def _word(entry: Entry) -> str:
    body = entry.model_dump()
    if body.get("values"):
        return str(body["values"][0])
    return str(body.get("grade") or body.get("note"))


THREE_ENTRIES = (reading("9.9 mm"), reading("9.8 mm", "B"), STEP)


MEASURED = (*(reading(f"9.9{number} mm", end) for number in range(3) for end in "AB"), STEP)


@pytest.mark.parametrize(
    "changed",
    [
        written(*MEASURED, title="Toast car"),
        written(reading("9.5 mm"), *MEASURED[1:], title="Toast car"),
        written(*MEASURED, more='[car.geometry]\nbody_length = "5 in"'),
        written(reading("9.7 mm"), *MEASURED[1:]),
        written(note("first"), *MEASURED),
        written(MEASURED[0], note("between"), *MEASURED[1:]),
        written(*MEASURED, note("last")),
        written(*MEASURED[:2]),
        written(*MEASURED[::-1]),
        written(*MEASURED, STEP),
        written(),
    ],
    ids=[
        "title", "title and an entry", "geometry", "an entry", "one first", "one between", "one last", "many gone",
        "order", "one twice", "all gone",
    ],
)  # fmt: skip
def test_a_changed_sheet_without_ids_is_refused_and_writes_nothing(shop: Shop, changed: str) -> None:
    car = add(shop, written(*MEASURED)).addition.car
    before = shop.held(car)
    for correct in (False, True):
        with pytest.raises(ManySheetsError, match=f"has no ids, and looks like a changed sheet of 'Boxcar'.*{car}"):
            add(shop, changed, correct=correct)
    assert shop.held(car) == before
    assert len(list_cars(shop)) == 1
    assert add(shop, changed, another=True).new
    assert len(list_cars(shop)) == 2


def test_a_comment_and_the_order_of_keys_change_nothing(shop: Shop) -> None:
    text = written(*THREE_ENTRIES)
    add(shop, text)
    turned = text.replace('at = "A"\nvalues = ["9.9 mm"]', 'values = ["9.9 mm"] # read twice\nat = "A"')
    assert turned != text
    assert not add(shop, turned).addition.lines


def test_another_makes_a_car_each_time_and_only_where_the_sheet_is_known(shop: Shop) -> None:
    text = written(*THREE_ENTRIES)
    cars = {add(shop, text, another=True).addition.car for _ in range(3)}
    assert len(cars) == 3
    assert not add(shop, text).new


def test_two_versions_of_one_sheet_in_one_call_are_refused_as_they_are_in_two(shop: Shop) -> None:
    sheets = [Given(cw.read_sheet_text(written(reading(each)))) for each in ("9.9 mm", "9.8 mm")]
    with pytest.raises(ManySheetsError, match="has no ids"):
        shop.add(sheets)


def test_a_twin_shares_four_readings_and_most_of_them() -> None:
    assert alike(4, {"x": 4}) == "x"
    assert alike(3, {"x": 3}) == ""
    assert alike(10, {"x": 7}) == ""
    assert alike(10, {"x": 8, "y": 9}) == "y"
    assert alike(10, {}) == ""


def test_looks_alone_make_no_twin(shop: Shop) -> None:
    looks = [STEP.replace("step", f"part {number}") for number in range(6)]
    add(shop, written(*looks))
    assert add(shop, written(*looks, title="Another boxcar")).new


@pytest.mark.parametrize(
    ("changed", "holds"),
    [
        ((note("new"), *THREE_ENTRIES), ["new", "9.9 mm", "9.8 mm", "sound"]),
        ((THREE_ENTRIES[0], note("new"), *THREE_ENTRIES[1:]), ["9.9 mm", "new", "9.8 mm", "sound"]),
        ((*THREE_ENTRIES, note("new")), ["9.9 mm", "9.8 mm", "sound", "new"]),
        ((THREE_ENTRIES[0], *THREE_ENTRIES), ["9.9 mm", "9.9 mm", "9.8 mm", "sound"]),
        ((reading("9.5 mm"), *THREE_ENTRIES), ["9.5 mm", "9.9 mm", "9.8 mm", "sound"]),
        (THREE_ENTRIES[1:], ["9.9 mm", "9.8 mm", "sound"]),
        (THREE_ENTRIES[::-1], ["9.9 mm", "9.8 mm", "sound"]),
    ],
    ids=["first", "between", "last", "twice", "one more reading", "one gone", "order"],
)
def test_with_the_id_of_the_car_new_entries_are_added_where_they_stand(
    shop: Shop, changed: tuple[str, ...], holds: list[str]
) -> None:
    add(shop, written(*THREE_ENTRIES, car=CAR))
    made = add(shop, written(*changed, car=CAR)).addition
    assert made.entries == len(holds) - 3
    assert made.elsewhere == 3 - sum(each in changed for each in THREE_ENTRIES)
    assert said(shop) == holds
    assert not add(shop, written(*changed, car=CAR)).addition.lines


@pytest.mark.parametrize("correct", [False, True])
@pytest.mark.parametrize(
    ("before", "after", "place"),
    [
        (THREE_ENTRIES, (reading("9.7 mm"), *THREE_ENTRIES[1:]), "entry 1 (reading coupler.height at A)"),
        (THREE_ENTRIES, (*THREE_ENTRIES[:2], STEP.replace("sound", "slight")), "entry 3 (look part)"),
        ((THREE_ENTRIES[0],) * 2, (THREE_ENTRIES[0], reading("9.1 mm")), "entry 2 (reading coupler.height at A)"),
    ],
    ids=["reading", "look", "one of two alike"],
)
def test_an_entry_without_id_that_was_changed_is_refused(
    shop: Shop, before: tuple[str, ...], after: tuple[str, ...], place: str, *, correct: bool
) -> None:
    add(shop, written(*before, car=CAR))
    with pytest.raises(ManySheetsError) as caught:
        add(shop, written(*after, car=CAR), correct=correct)
    assert f"{place}: looks like a changed" in str(caught.value)
    assert len(shop.state(CAR).entries) == len(before)


def test_an_entry_with_an_id_is_refused_when_changed_and_corrected_when_told_to(shop: Shop) -> None:
    add(shop, written(reading("9.9 mm", identity=ONE), STEP, car=CAR))
    changed = written(reading("9.7 mm", identity=ONE), STEP, car=CAR)
    with pytest.raises(ManySheetsError, match=f"says something else than the shop has under {ONE}"):
        add(shop, changed)
    made = add(shop, changed, correct=True).addition
    assert (made.entries, made.corrected) == (1, 1)
    assert said(shop) == ["9.7 mm", "sound"]
    assert not add(shop, changed, correct=True).addition.lines
    assert not add(shop, changed).addition.lines


def test_corrections_to_and_fro_hold_in_turn(shop: Shop) -> None:
    add(shop, written(reading("9.9 mm", identity=ONE), car=CAR))
    for value in ("9.7 mm", "9.6 mm", "9.7 mm", "9.6 mm"):
        add(shop, written(reading(value, identity=ONE), car=CAR), correct=True)
        assert said(shop) == [value]
    assert len(shop.state(CAR).entries) == 5
    assert not check(shop).problems


def test_what_was_undone_can_be_corrected_from_the_sheet(shop: Shop) -> None:
    add(shop, written(reading("9.9 mm", identity=ONE), STEP, car=CAR))
    shop.undo(CAR, ONE)
    assert not add(shop, written(reading("9.9 mm", identity=ONE), STEP, car=CAR)).addition.lines
    add(shop, written(reading("9.7 mm", identity=ONE), STEP, car=CAR), correct=True)
    assert said(shop) == ["9.7 mm", "sound"]


def test_a_sheet_set_back_to_what_it_said_first_goes_before_when_told_to(shop: Shop) -> None:
    first = written(reading("9.9 mm", identity=ONE), car=CAR)
    add(shop, first)
    add(shop, written(reading("9.7 mm", identity=ONE), car=CAR), correct=True)
    add(shop, first, correct=True)
    assert said(shop) == ["9.9 mm"]


def test_a_sheet_older_than_a_correction_brings_nothing_back(shop: Shop) -> None:
    first = written(reading("9.9 mm", identity=ONE), car=CAR)
    add(shop, first)
    add(shop, written(reading("9.7 mm", identity=ONE), car=CAR), correct=True)
    again = add(shop, first).addition
    assert (again.lines, again.elsewhere) == ((), 1)
    assert said(shop) == ["9.7 mm"]


def chain(first: str, second: str) -> str:
    """An entry and its correction, both on the sheet."""
    return written(
        reading(first, identity=ONE), reading(second, identity=TWO, supersedes=ONE), reading("9.8 mm", "B"), car=CAR
    )


def test_the_correction_of_a_chain_can_be_corrected(shop: Shop) -> None:
    add(shop, chain("9.9 mm", "9.7 mm"))
    add(shop, chain("9.9 mm", "9.5 mm"), correct=True)
    assert said(shop) == ["9.5 mm", "9.8 mm"]
    assert not check(shop).problems


def test_an_entry_and_its_correction_changed_together_leave_one_that_holds(shop: Shop) -> None:
    add(shop, chain("9.9 mm", "9.7 mm"))
    with pytest.raises(ManySheetsError, match=r"is corrected on this sheet by .*: change that one"):
        add(shop, chain("9.5 mm", "9.6 mm"), correct=True)
    add(shop, chain("9.9 mm", "9.6 mm"), correct=True)
    assert said(shop) == ["9.6 mm", "9.8 mm"]
    assert not check(shop).of(DISPUTED)


def test_a_correction_made_twice_by_one_sheet_is_counted_once(shop: Shop) -> None:
    add(shop, chain("9.9 mm", "9.7 mm"))
    made = add(shop, chain("9.9 mm", "9.5 mm"), correct=True).addition
    assert len(shop.state(CAR).entries) == 4
    assert (made.corrected, len(made.lines), len(made.records)) == (1, 1, 1)


def test_a_second_correction_of_one_entry_is_refused_or_listed_as_disputed(shop: Shop) -> None:
    first = reading("9.9 mm", identity=ONE)
    add(shop, written(first, car=CAR))
    add(shop, written(first, reading("9.7 mm", identity=TWO, supersedes=ONE), car=CAR))
    try:
        add(shop, written(first, reading("9.6 mm", identity=THREE, supersedes=ONE), car=CAR))
    except ManySheetsError as error:
        assert ONE in str(error)  # noqa: PT017 - refusing it is as good as saying so
    else:
        assert list_cars(shop)[0].forks == 1


def test_statements_older_than_the_shop_are_told_and_kept_unless_the_sheet_goes_before(shop: Shop) -> None:
    texts = [written(car=CAR, more=f'[car.geometry]\nbody_length = "{each} in"') for each in (5, 6)]
    for text in texts:
        add(shop, text)
    old = add(shop, texts[0]).addition
    assert (old.older, old.stated) == (("car.geometry",), 0)
    assert shop.state(CAR).stated["car.geometry"]["body_length"] == "6 in"
    assert add(shop, texts[0], correct=True).addition.stated == 1
    assert shop.state(CAR).stated["car.geometry"]["body_length"] == "5 in"


def test_a_part_taken_off_the_sheet_is_taken_back_when_the_sheet_goes_before(shop: Shop) -> None:
    add(shop, written(car=CAR, more='[car.geometry]\nbody_length = "5 in"'))
    add(shop, written(car=CAR), correct=True)
    assert "car.geometry" not in shop.state(CAR).stated


def test_all_sheets_are_added_or_none_and_every_fault_is_named(shop: Shop, tmp_path: Path) -> None:
    add(shop, written(reading("9.9 mm", identity=ONE), car=CAR))
    good = cw.read_sheet_text(written(note("good"), title="Good"))
    changed = cw.read_sheet_text(written(reading("9.1 mm", identity=ONE), car=CAR), file="changed.toml")
    outside = cw.read_sheet_text(written('kind = "photo"\nfile = "con.png"', title="Out"), file="outside.toml")
    with pytest.raises(ManySheetsError) as caught:
        shop.add([Given(good), Given(changed), Given(outside, tmp_path)])
    assert str(caught.value).count("\n") == 1
    assert "changed.toml: entry 1 (reading coupler.height at A)" in str(caught.value)
    assert "outside.toml: entry 1 (photo), file: 'con.png' must lie beside the sheet" in str(caught.value)
    assert [each.title for each in list_cars(shop)] == ["Boxcar"]


def test_a_file_is_missing_then_there_then_changed_then_as_before(shop: Shop, tmp_path: Path) -> None:
    given = Given(cw.read_sheet_text(written('kind = "photo"\nfile = "a/x.png"', car=CAR)), tmp_path)
    assert shop.add([given])[0].missing == ("a/x.png",)
    photo = tmp_path / "a" / "x.png"
    photo.parent.mkdir()
    outcomes = []
    for content in (b"1", b"1", b"2", b"1"):
        photo.write_bytes(content)
        made = shop.add([given])[0]
        outcomes.append((made.missing, made.addition.stated, made.addition.older))
    assert outcomes == [((), 1, ()), ((), 0, ()), ((), 1, ()), ((), 0, ("file:a/x.png",))]
    assert shop.bench(CAR, photos=True).files == {"a/x.png": b"2"}
    shop.add([given], correct=True)
    assert shop.bench(CAR, photos=True).files == {"a/x.png": b"1"}


def test_a_file_the_shop_has_is_not_missing(shop: Shop, tmp_path: Path) -> None:
    given = Given(cw.read_sheet_text(written('kind = "photo"\nfile = "x.png"', car=CAR)), tmp_path)
    (tmp_path / "x.png").write_bytes(b"1")
    shop.add([given])
    (tmp_path / "x.png").unlink()
    assert shop.add([given])[0].missing == ()


def test_two_photos_of_the_same_content_are_two_files(shop: Shop, tmp_path: Path) -> None:
    rows = [f'kind = "photo"\nfile = "{name}.png"' for name in "ab"]
    for name in "ab":
        (tmp_path / f"{name}.png").write_bytes(b"same")
    shop.add([Given(cw.read_sheet_text(written(*rows, car=CAR)), tmp_path)])
    assert shop.bench(CAR, photos=True).files == {"a.png": b"same", "b.png": b"same"}


def test_a_sheet_of_two_thousand_entries_is_known_again_and_corrected_in_one(shop: Shop) -> None:
    rows = [note(f"n {number}") for number in range(1000)]
    rows += [
        reading(f"9.{number:03d} mm", identity=f"{number:08x}-2222-4333-8444-555555555555") for number in range(1000)
    ]
    assert add(shop, written(*rows, car=CAR)).addition.entries == 2000
    assert not add(shop, written(*rows, car=CAR)).addition.lines
    rows[1500] = rows[1500].replace("9.500", "8.500")
    made = add(shop, written(*rows, car=CAR), correct=True).addition
    assert (made.entries, made.corrected) == (1, 1)


def test_an_entry_corrected_from_the_sheet_is_not_told_as_elsewhere(shop: Shop) -> None:
    add(shop, written(reading("9.9 mm", identity=ONE), car=CAR))
    assert add(shop, written(reading("9.7 mm", identity=ONE), car=CAR), correct=True).addition.elsewhere == 0


INSTRUMENTS = (
    'format = "carwright-instruments/1"\n[[instrument]]\nname = "{}"\npreset = "height gauge"\nresolution = "{}"\n'
)


def keep_instrument(shop: Shop, resolution: str, name: str = "bench gauge") -> None:
    keep_file(shop, "bench.toml", "carwright-instruments/1", INSTRUMENTS.format(name, resolution))


def add_file(shop: Shop, path: Path) -> Added:
    sheet, borrowed = read_for(shop, path)
    return shop.add([Given(sheet, path.parent, borrowed)])[0]


def test_a_kept_instrument_is_of_the_car_that_was_read_with_it(shop: Shop, tmp_path: Path) -> None:
    keep_instrument(shop, "0.01 mm")
    path = tmp_path / "a.toml"
    path.write_text(written(reading("9.9 mm") + '\nwith = "bench gauge"', car=CAR), "utf-8")
    add_file(shop, path)
    assert shop.state(CAR).stated["instrument:bench gauge"]["resolution"] == "0.01 mm"


def test_a_car_keeps_the_figures_an_instrument_had_when_its_sheet_was_added(shop: Shop, tmp_path: Path) -> None:
    keep_instrument(shop, "0.01 mm")
    path = tmp_path / "a.toml"
    path.write_text(written(reading("9.9 mm") + '\nwith = "bench gauge"', car=CAR), "utf-8")
    add_file(shop, path)
    keep_instrument(shop, "0.05 mm")
    assert not add_file(shop, path).addition.lines
    assert shop.state(CAR).stated["instrument:bench gauge"]["resolution"] == "0.01 mm"


def test_the_same_sheet_has_the_same_id_whatever_instruments_a_shop_keeps(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text(written(reading("9.9 mm") + '\nwith = "height gauge"', STEP, reading("9.8 mm", "B")), "utf-8")
    first = add_file(shop, path).addition.car
    keep_instrument(shop, "0.05 mm", "height gauge")
    assert add_file(shop, path).addition.car == first


RULES = Path("examples/club-sedge.toml")


def keep_rules(shop: Shop, text: str) -> None:
    keep_file(shop, RULES.name, "carwright-rules/1", text)


def test_kept_rules_serve_a_sheet_that_names_them_with_a_dot_before(shop: Shop) -> None:
    keep_rules(shop, RULES.read_text("utf-8"))
    made = add(shop, written(car=CAR, more='rules = ["nmra", "./club-sedge.toml"]'))
    assert made.missing == ()
    assert shop.bench(CAR).missing == ()


def test_rules_kept_anew_make_the_cars_that_go_by_them_stale(shop: Shop) -> None:
    text = RULES.read_text("utf-8")
    keep_rules(shop, text)
    add(shop, written(car=CAR, more='rules = ["club-sedge.toml"]'))
    judge_all(shop, stale_cars(shop))
    assert stale_cars(shop) == []
    keep_rules(shop, text + "# of another year\n")
    assert stale_cars(shop) == [CAR]


@pytest.mark.parametrize("search", ["%", "_", "\\", '"', "STRASSE", "straße", "ÄÖ", "äö", "вагон", "ВАГОН", "蓋"])
def test_a_search_takes_every_sign_as_itself_and_no_capitals(shop: Shop, search: str) -> None:
    titles = {
        "100% Baumwolle": "%", "a_b": "_", "back\\\\slash": "\\", 'quo\\"te': '"', "Straße": "STRASSE straße",
        "Ö Äö": "ÄÖ äö", "Вагон": "вагон ВАГОН", "有蓋車": "蓋", "plain": "",
    }  # fmt: skip
    for number, title in enumerate(titles):
        add(shop, written(reading(f"9.{number:02d} mm"), title=title))
    found = [each.title for each in list_cars(shop, Wanted(search))]
    assert found == [
        title.replace("\\\\", "\\").replace('\\"', '"') for title, words in titles.items() if search in words
    ]
    assert shop.state(shop.find(search)).title == found[0]


def test_a_search_finds_letters_whichever_way_their_accents_are_written(shop: Shop) -> None:
    add(shop, written(title="e\u0301tage"))
    assert [each.title for each in list_cars(shop, Wanted("\u00e9tage"))] == ["e\u0301tage"]


def test_taking_a_car_out_of_no_collection_makes_none(shop: Shop) -> None:
    car = add(shop, written()).addition.car
    try:
        collect(shop, "summer", [car], remove=True)
    except UnknownNameError as error:
        assert "summer" in str(error)  # noqa: PT017 - refusing it is as good as doing nothing
    assert collections(shop) == {}


def test_one_sheet_makes_one_car_in_any_two_shops(fresh: Callable[[], Shop]) -> None:
    text = written(*THREE_ENTRIES)
    one, two = fresh(), fresh()
    add(one, written(note("another"), title="Before"))
    ids = [add(each, text).addition for each in (one, two)]
    assert (ids[0].car, ids[0].ids) == (ids[1].car, ids[1].ids)


def test_an_instrument_of_the_sheets_own_goes_before_one_kept(shop: Shop, tmp_path: Path) -> None:
    keep_instrument(shop, "0.01 mm")
    name = read_instruments_kept(shop)
    own = f'[[instrument]]\nname = "{name}"\nresolution = "0.2 mm"\n'
    path = tmp_path / "own.toml"
    entry = f'[[entry]]\nkind = "reading"\nwhat = "coupler.height"\nat = "A"\nvalues = ["9.9 mm"]\nwith = "{name}"\n'
    path.write_text(f'format = "carwright-sheet/1"\n[car]\ntitle = "Own"\nscale = "HO"\n{own}{entry}', "utf-8")
    sheet, borrowed = read_for(shop, path)
    assert not borrowed
    assert [each.resolution for each in sheet.instruments] == ["0.2 mm"]


def read_instruments_kept(shop: Shop) -> str:
    """The name of the one instrument that is kept."""
    (name,) = kept_instruments(shop)
    return name

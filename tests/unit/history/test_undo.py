"""Undoing an entry: by a note in its place, or by what it took away, said again."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

import carwright as cw
from carwright.history.entries import MODELS
from carwright.history.undo import UndoError, undoing
from carwright.shop import Given, Shop, open_shop
from carwright.shop.merging import merge_shop

A, B, C, D = (str(uuid.UUID(int=number, version=4)) for number in (0xA, 0xB, 0xC, 0xD))
Body = dict[str, Any]
READ: Body = {"kind": "reading", "what": "coupler.height", "at": "A", "values": ["0.39 in"], "when": "2026-03-01"}


# --- the entry made -----------------------------------------------------------------------------------------------


def test_an_entry_is_undone_by_a_note_that_says_which() -> None:
    assert undoing({A: READ}, A) == {"kind": "note", "note": "Undone: reading coupler.height A", "supersedes": A}


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"kind": "work", "remedy": "straighten", "at": "all"}, "work straighten all"),
        ({"kind": "work", "remedy": "ballast", "at": "all", "amount": "5 g", "note": "lead"}, "work ballast all"),
        ({"kind": "photo", "file": "a.jpg"}, "photo"),
        ({"kind": "note", "note": "words"}, "note"),
        ({"kind": "look", "what": "paint", "grade": "sound"}, "look paint"),
    ],
)
def test_the_note_names_kind_subject_and_place(body: Body, said: str) -> None:
    made = undoing({A: body}, A)
    assert made["note"] == f"Undone: {said}"
    assert MODELS["note"].validate_python(made).note == made["note"]


def test_a_correction_is_undone_by_what_it_corrected_said_again() -> None:
    corrected = {**READ, "values": ["0.40 in"], "supersedes": A}
    assert undoing({A: {**READ, "id": A}, B: corrected}, B) == {**READ, "supersedes": B}


def test_a_correction_of_a_correction_brings_back_the_one_before_it() -> None:
    entries = {A: READ, B: {**READ, "values": ["0.40 in"], "supersedes": A}, C: {**READ, "when": "2026-04-01"}}
    entries[C]["supersedes"] = B
    assert undoing(entries, C) == {**entries[B], "supersedes": C}


def test_what_another_correction_took_away_too_is_not_brought_back() -> None:
    entries = {A: READ, B: {**READ, "values": ["0.40 in"], "supersedes": A}}
    entries[C] = {**READ, "values": ["0.41 in"], "supersedes": A}
    made = undoing(entries, B)
    assert made["supersedes"] == B
    assert made.get("values") != READ["values"]


def test_undoing_over_and_over_takes_away_and_brings_back() -> None:
    entries: dict[str, Body] = {A: READ}
    kinds, last = [], A
    for following in (B, C, D):
        entries[following] = undoing(entries, last)
        last = following
        kinds.append(entries[following]["kind"])
    assert kinds == ["note", "reading", "note"]
    assert entries[C] == {**READ, "supersedes": B}


def test_nothing_given_is_changed() -> None:
    entries: dict[str, Body] = {A: {**READ, "id": A}, B: {**READ, "supersedes": A}}
    before = {key: dict(value) for key, value in entries.items()}
    undoing(entries, B)
    assert entries == before


def test_what_is_not_there_or_does_not_hold_any_more_cannot_be_undone() -> None:
    with pytest.raises(UndoError, match=f"^there is no entry {B} on this car$"):
        undoing({A: READ}, B)
    with pytest.raises(UndoError, match=f"^entry {A} was corrected or undone already, by {B}; undo that instead$"):
        undoing({A: READ, B: {**READ, "supersedes": A}}, A)


# --- in a shop ----------------------------------------------------------------------------------------------------


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with open_shop(str(tmp_path / "shop.db"), create=True) as opened:
        yield opened


def table(**keys: str) -> str:
    return "[[entry]]\n" + "".join(
        f"{key} = {value}\n" if value.startswith("[") else f'{key} = "{value}"\n' for key, value in keys.items()
    )


def reading(value: str, **keys: str) -> str:
    return table(kind="reading", what="coupler.height", at="A", values=f'["{value}"]', **keys)


def added(shop: Shop, *entries: str) -> tuple[str, list[str]]:
    """A car of these entries, and their ids."""
    text = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n' + "".join(entries)
    shop.add([Given(cw.read_sheet_text(text, file="x.toml"), Path())], who="me")
    car = shop.find("x")
    return car, [each.id for each in shop.state(car).entries]


def kinds(shop: Shop, car: str) -> list[tuple[str, int]]:
    return [(each.kind, each.stage) for each in shop.sheet(car).history.log]


def test_an_entry_in_the_middle_is_undone_where_it_stood(shop: Shop) -> None:
    car, ids = added(
        shop, reading("0.39 in", when="2026-03-01"), table(kind="note", note="x"), reading("0.38 in")
    )  # fmt: skip
    shop.undo(car, ids[0])
    assert kinds(shop, car) == [("note", 0), ("note", 0), ("reading", 0)]
    shop.undo(car)
    (first, _, last) = shop.sheet(car).history.log
    assert (first.kind, first.when, last.kind, last.when) == ("reading", "2026-03-01", "reading", "")
    assert [each.values[0].text for each in shop.sheet(car).history.readings] == ["0.39 in", "0.38 in"]


def test_the_only_entry_can_be_undone_and_brought_back(shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"))
    shop.undo(car, ids[0])
    assert shop.sheet(car).history.readings == ()
    shop.undo(car)
    assert len(shop.sheet(car).history.readings) == 1


def test_nothing_is_taken_out_of_the_history(shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"), reading("0.38 in"))
    before = {each.id: each.body for each in shop.state(car).entries}
    made = [shop.undo(car, ids[0]), shop.undo(car, ids[1]), shop.undo(car)]
    after = {each.id: each.body for each in shop.state(car).entries}
    assert {key: after[key] for key in ids} == before
    assert set(after) == {*ids, *made}


def test_undoing_a_work_joins_its_stage_to_the_one_before_and_back(shop: Shop) -> None:
    works = [table(kind="work", remedy=each, at="all", when=when) for each, when in (
        ("straighten", "2026-03-02"), ("truck-screws", "2026-03-04"))]  # fmt: skip
    car, ids = added(
        shop, reading("0.39 in", when="2026-03-01"), works[0], reading("0.38 in", when="2026-03-03"), works[1],
        reading("0.37 in", when="2026-03-05"),
    )  # fmt: skip
    stages = [("reading", 0), ("work", 1), ("reading", 1), ("work", 2), ("reading", 2)]
    assert kinds(shop, car) == stages
    undone = shop.undo(car, ids[1])
    assert kinds(shop, car) == [("reading", 0), ("note", 0), ("reading", 0), ("work", 1), ("reading", 1)]
    history = shop.sheet(car).history
    assert [each.stage for each in history.readings] == [0, 0, 1]
    assert [each.title for each in history.stages] == ["as received", "after truck-screws at all"]
    assert cw.inspect(history, shop.tables).verdict.status_stage == 1
    shop.undo(car, undone)
    assert kinds(shop, car) == stages


def test_undoing_a_work_takes_away_what_was_due_for_it(shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"), table(kind="work", remedy="straighten", at="all"))
    assert [each.rule for each in cw.inspect(shop.sheet(car)).due().reasons] == ["after-work"]
    shop.undo(car, ids[1])
    assert cw.inspect(shop.sheet(car)).due().reasons == ()


def test_undone_evidence_and_photos_are_no_more_and_copies_of_them_stay(shop: Shop) -> None:
    car, ids = added(
        shop, table(kind="photo", file="a.jpg"), table(kind="evidence", source="P1", claim="1957"),
        table(kind="evidence", source="P2", claim="1958", copies="P1"),
    )  # fmt: skip
    assert [each.file for each in shop.sheet(car).history.photos] == ["a.jpg"]
    for each in ids[:2]:
        shop.undo(car, each)
    history = shop.sheet(car).history
    assert history.photos == ()
    assert [(each.source, each.copies) for each in history.evidence] == [("P2", "P1")]
    assert cw.inspect(history, shop.tables).portrayal is not None
    shop.undo(car)
    assert [each.source for each in shop.sheet(car).history.evidence] == ["P1", "P2"]


def test_the_last_written_is_undone_wherever_it_stands(shop: Shop) -> None:
    car, _ = added(shop, reading("0.39 in", when="2026-03-02"))
    (early,) = shop.append(car, [{**READ, "when": "2026-01-01"}])
    made = shop.undo(car)
    body = next(each.content() for each in shop.state(car).entries if each.id == made)
    assert body["supersedes"] == early
    assert kinds(shop, car) == [("note", 0), ("reading", 0)]


def test_one_entry_cannot_be_undone_twice(shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"))
    made = shop.undo(car, ids[0])
    with pytest.raises(UndoError, match=made):
        shop.undo(car, ids[0])
    assert len(shop.state(car).entries) == 2


def test_the_same_undone_in_two_shops_is_one_entry(tmp_path: Path, shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"))
    with open_shop(str(tmp_path / "other.db"), create=True) as other:
        again, _ = added(other, reading("0.39 in"))
        assert again == car
        assert other.undo(car, ids[0]) == shop.undo(car, ids[0])


def test_of_two_peoples_corrections_the_other_holds_alone_where_one_is_undone(tmp_path: Path, shop: Shop) -> None:
    car, ids = added(shop, reading("0.39 in"))
    with open_shop(str(tmp_path / "other.db"), create=True) as other:
        added(other, reading("0.39 in"))
        correction = {**READ, "supersedes": ids[0]}
        (mine,) = shop.append(car, [{**correction, "values": ["0.40 in"]}])
        other.append(car, [{**correction, "values": ["0.41 in"]}])
        merge_shop(shop, other)
    texts = sorted(each.values[0].text for each in shop.sheet(car).history.readings)
    assert texts == ["0.40 in", "0.41 in"]
    shop.undo(car, mine)
    assert [each.values[0].text for each in shop.sheet(car).history.readings] == ["0.41 in"]


@pytest.mark.parametrize("undone", [False, True])
def test_a_reading_added_after_a_correction_is_of_the_car_as_it_stands(shop: Shop, *, undone: bool) -> None:
    car, ids = added(
        shop, reading("0.39 in", when="2026-03-01"),
        table(kind="work", remedy="straighten", at="all", when="2026-03-02"),
    )  # fmt: skip
    shop.append(car, [{**READ, "values": ["0.40 in"], "supersedes": ids[0]}])
    if undone:
        shop.undo(car)
    shop.append(car, [{**{key: value for key, value in READ.items() if key != "when"}, "values": ["0.385 in"]}])
    found = next(each for each in shop.sheet(car).history.readings if each.values[0].text == "0.385 in")
    assert found.stage == 1


@pytest.mark.parametrize("typed", [str.upper, lambda text: text.replace("-", ""), lambda text: "{" + text + "}"])
def test_a_correction_is_undone_however_the_id_was_typed(shop: Shop, typed: Any) -> None:  # noqa: ANN401
    car, _ = added(shop, reading("0.39 in", id="00000000-0000-4000-8000-00000000abcd"))
    correction: Mapping[str, Any] = {**READ, "supersedes": typed("00000000-0000-4000-8000-00000000abcd")}
    shop.append(car, [{**correction, "values": ["0.40 in"]}])
    assert [each.values[0].text for each in shop.sheet(car).history.readings] == ["0.40 in"]
    shop.undo(car)
    assert [each.values[0].text for each in shop.sheet(car).history.readings] == ["0.39 in"]


def test_an_entry_with_a_long_place_can_be_undone(shop: Shop) -> None:
    car, _ = added(shop, table(kind="look", what="paint", grade="sound", at="z" * 2000))
    shop.undo(car)
    assert shop.sheet(car).history.looks == ()


def test_a_car_without_entries_has_nothing_to_undo(shop: Shop) -> None:
    car, _ = added(shop)
    with pytest.raises(UndoError) as error:
        shop.undo(car)
    assert "  " not in str(error.value)

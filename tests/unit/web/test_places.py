"""Every characteristic belongs to one spot of a car at every place it has, and the pad goes through them all."""

from __future__ import annotations

from dataclasses import replace

import pytest

import carwright as cw
from carwright.history import History
from carwright.history.places import places_of
from carwright.inspection import words_of
from carwright.shop.demo import example_sheets
from carwright.tables import shipped
from carwright.web.places import after, by_spot, choices_at, measured_at, spot_of, spots_of, worst
from carwright.words import Characteristic

WORDS = words_of(shipped())
HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "Odd car"\nscale = "HO"\n[car.geometry]\nbody_length = "250 mm"\n'
CARS = {
    **{path.stem: path.read_text("utf-8") for path in example_sheets()},
    **{f"axles {count}": f"{HEAD}axles = {count}\n" for count in (2, 3, 4, 5, 6, 8, 12)},
    "nothing said": HEAD,
    "buffers": f'{HEAD}axles = 2\nlength_over_buffers = "270 mm"\n',
}
EVERY = list(WORDS.characteristics.values())


@pytest.fixture(params=CARS, scope="module")
def history(request: pytest.FixtureRequest) -> History:
    return cw.read_sheet_text(CARS[request.param], folder="examples").history


def valid_places(what: Characteristic, history: History) -> list[str]:
    """Every place of a characteristic on a car, as a sheet names them."""
    axles = range(1, (history.axles or 4) + 1)
    return {
        "none": [""],
        "ends": ["A", "B"],
        "axles": [str(axle) for axle in axles],
        "wheels": [f"{axle}{side}" for axle in axles for side in "LR"],
        "sides": ["L", "R"],
        "directions": ["", "A", "B"],
    }[what.places]


def test_each_place_belongs_to_exactly_one_spot(history: History) -> None:
    for what in EVERY:
        spots = spots_of(history)
        for at in valid_places(what, history):
            owners = [spot for spot in spots if spot.has(what.id, at)]
            assert len(owners) == 1, at
            assert spot_of(spots, what.id, at) is owners[0]
            assert owners[0].end == "" or at[:1].isdigit() or owners[0].end == at


def test_spots_offer_every_place_once_and_a_sheet_takes_it(history: History) -> None:
    for what in EVERY:
        spots = spots_of(history)
        offered = [at for spot in spots if spot.has(what.id, "") for at in choices_at(spot, what)]
        assert sorted(offered) == sorted(valid_places(what, history))
        for at in offered:
            assert isinstance(places_of(what, at or None, history.axles), list)


def test_the_pad_visits_every_place_once_before_it_comes_round(history: History) -> None:
    for what in EVERY:
        spots = {spot.id: spot for spot in spots_of(history)}
        wanted = valid_places(what, history)
        at, seen = wanted[0], []
        for _ in wanted:
            at, spot = after(what, at, history)
            assert spots[spot].has(what.id, at)
            seen.append(at)
        assert sorted(seen) == sorted(wanted)
        assert seen[-1] == wanted[0]
        assert seen == [*wanted[1:], wanted[0]]


def test_from_a_place_nobody_knows_the_pad_begins_anew(history: History) -> None:
    assert after(WORDS.characteristics["coupler.height"], "Z", history) == ("A", "coupler-A")
    assert after(WORDS.characteristics["wheel.back_to_back"], "", history) == ("1", "truck-A")


def test_every_axle_stands_at_one_spot_and_b_comes_first(history: History) -> None:
    spots = spots_of(history)
    assert [spot.id for spot in spots] == ["coupler-B", "truck-B", "body", "truck-A", "coupler-A"]
    axles = [axle for spot in reversed(spots) for axle in spot.axles]
    assert axles == list(range(1, (history.axles or 4) + 1))
    assert abs(len(spots[1].axles) - len(spots[3].axles)) <= 1


def test_a_spot_is_named_as_the_car_is_built(history: History) -> None:
    titles = {spot.id: spot.title for spot in spots_of(history)}
    assert titles["truck-A"] == ("Wheelset at A" if history.axles == 2 else "Truck at A")
    buffers = "length_over_buffers" in history.geometry
    assert titles["coupler-B"] == ("Buffers at B" if buffers else "Coupler at B")


def test_all_that_can_be_measured_is_measured_somewhere(history: History) -> None:
    found = {each.id for spot in spots_of(history) for each in measured_at(spot, WORDS, history)}
    buffers = "length_over_buffers" in history.geometry
    assert found == {each.id for each in EVERY if buffers or not each.id.startswith("buffer.")}


def test_the_usual_comes_first(history: History) -> None:
    first = {spot.id: measured_at(spot, WORDS, history)[0].id for spot in spots_of(history)}
    assert first == {
        "coupler-A": "coupler.height", "coupler-B": "coupler.height", "truck-A": "wheel.back_to_back",
        "truck-B": "wheel.back_to_back", "body": "weight.total",
    }  # fmt: skip


def test_every_finding_has_its_spot_and_none_two() -> None:
    for path in example_sheets():
        sheet = cw.read_sheet(path)
        findings = cw.inspect(sheet).findings
        spots = spots_of(sheet.history)
        told = by_spot(findings, spots)
        assert [spot.id for spot in spots] == list(told)
        assert sum(map(len, told.values())) == len(findings)
        for spot in spots:
            for finding in told[spot.id]:
                if spot.part != "body":
                    assert finding.at
                    assert spot.has(finding.characteristic, finding.at) or finding.characteristic.startswith("look.")


def test_a_look_at_an_end_belongs_to_its_coupler() -> None:
    sheet = cw.read_sheet(example_sheets()[0])
    finding = cw.inspect(sheet).findings[0]
    spots = spots_of(sheet.history)
    for at, spot in (("A", "coupler-A"), ("B", "coupler-B"), ("L", "body"), ("", "body")):
        told = by_spot([replace(finding, characteristic="look.part", at=at)], spots)
        assert [name for name, found in told.items() if found] == [spot]


def test_only_what_may_cost_points_is_counted() -> None:
    finding = cw.inspect(cw.read_sheet(example_sheets()[0])).findings[0]
    findings = [
        replace(finding, force="must", outcome="fails"),
        replace(finding, force="must", outcome="fails"),
        replace(finding, force="must", outcome="conforms"),
        replace(finding, force="informs", outcome="fails"),
    ]
    assert worst(findings, ["must"]) == {"fails": 2, "conforms": 1}
    assert worst(findings, []) == {}

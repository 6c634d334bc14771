"""Stories of one fault or two with known truth: a car is made up, read, worked on, read again, and judged.

The sheets come from the formulas of DESIGN §7 written out here once more, term by term, with a small error on every
reading; nothing of carwright.explain is used to write them.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

import carwright as cw
from carwright.verdict.score import Deduction

A, E, C, WHEELBASE = 54.0, 76.0, 68.0, 19.25
"""Half truck centres, coupler face, coupler pivot, truck wheelbase [mm]."""
MOUTH = 71.0
"""Box mouth: half the body length [mm]."""
NOMINAL, TOLERANCE = 0.391 * 25.4, 0.010 * 25.4
BOX, RIDE, WHEEL = 8.0, 7.5, 9.63
"""Design heights of box floor and truck bearing, design wheel diameter [mm]."""
NOISE = 0.015
OTHER = {"A": "B", "B": "A"}
STATIONS = (-70.0, -52.0, -35.0, -17.0, 0.0, 17.0, 35.0, 52.0, 70.0)


@dataclass(frozen=True)
class Car:
    """What is wrong with a car, by end [mm]; ``sag`` is of the frame over its truck centres."""

    sag: float = 0.0
    truck: dict[str, float] = field(default_factory=lambda: {"A": 0.0, "B": 0.0})
    box: dict[str, float] = field(default_factory=lambda: {"A": 0.0, "B": 0.0})
    shank: dict[str, float] = field(default_factory=lambda: {"A": 0.0, "B": 0.0})
    droop: dict[str, float] = field(default_factory=lambda: {"A": 0.0, "B": 0.0})

    def frame(self, end: str, x: float) -> float:
        """Frame over its design at x from mid-car toward an end, straight on beyond the coupler pivot."""
        curvature = 8 * self.sag / (2 * A) ** 2
        c = min(C, x)
        own, far = self.truck[end], self.truck[OTHER[end]]
        return own + (own - far) * (x - A) / (2 * A) + 0.5 * curvature * (2 * c * x - c * c - A * A)

    def height(self, end: str, *, free: bool = True) -> float:
        """Coupler height."""
        held = NOMINAL + self.frame(end, E) + self.box[end] + self.shank[end]
        return held - (self.droop[end] if free else 0.0)

    def mouth(self, end: str) -> float:
        """Floor of the box mouth."""
        return BOX + self.frame(end, MOUTH) + self.box[end]


def at(end: str, amount: float) -> dict[str, float]:
    """An amount at one end."""
    return {end: amount, OTHER[end]: 0.0}


class Sheet:
    """A bench sheet written entry by entry."""

    def __init__(self, number: int = 1, geometry: str = "", head: str = "") -> None:
        self._dice = random.Random(number)
        self.entries = 0
        self._text = [
            'format = "carwright-sheet/1"', "[car]", 'title = "Made-up boxcar"', 'scale = "HO"', 'type = "boxcar"',
            'coupler = "knuckle"', head, "[car.geometry]", "axles_per_truck = 2", 'coupler_mount = "body"',
            f'body_length = "{2 * MOUTH} mm"', f'truck_centers = "{2 * A} mm"', f'truck_wheelbase = "{WHEELBASE} mm"',
            f'coupler_face = "{E} mm"', f'coupler_pivot = "{C} mm"', geometry,
            "[[instrument]]", 'name = "stand"', 'preset = "height gauge"', 'resolution = "0.001 mm"',
            'calibration = "0.01 mm"', f'repeatability = "{NOISE} mm"', "repeatability_n = 40",
        ]  # fmt: skip

    def _entry(self, kind: str, *lines: str) -> Sheet:
        self.entries += 1
        self._text += ["[[entry]]", f'kind = "{kind}"', *lines]
        return self

    def read(self, what: str, where: str, value: float, *more: str, n: int = 2) -> Sheet:
        """A reading with noise."""
        values = ", ".join(f'"{value + self._dice.gauss(0, NOISE):.3f} mm"' for _ in range(n))
        place = f'at = "{where}"' if where else ""
        return self._entry("reading", f'what = "{what}"', place, f"values = [{values}]", 'with = "stand"', *more)

    def heights(self, car: Car, *more: str, states: Sequence[str] = ("free",), tilt: float = 0.0) -> Sheet:
        """Both couplers; ``tilt`` is what the bench adds at A and takes away at B."""
        for end in "AB":
            slope = tilt if end == "A" else -tilt
            for state in states:
                value = car.height(end, free=state == "free") + slope
                self.read("coupler.height", end, value, f'state = "{state}"', *more)
        return self

    def profile(self, car: Car) -> Sheet:
        """The frame's own shape on a plate."""
        curvature = 8 * car.sag / (2 * A) ** 2
        heights = [8 + 0.5 * curvature * x * x + self._dice.gauss(0, NOISE) for x in STATIONS]
        stations, shown = ([f"{each:.3f} mm" for each in row] for row in (STATIONS, heights))
        return self._entry(
            "profile", 'of = "frame"', 'datum = "plate"', 'side = "centre"', f"stations = {stations}",
            f"heights = {shown}", 'with = "stand"',
        )  # fmt: skip

    def work(self, remedy: str, where: str = "", *more: str) -> Sheet:
        """A work."""
        return self._entry("work", f'remedy = "{remedy}"', f'at = "{where}"' if where else "", *more)

    @property
    def text(self) -> str:
        """The sheet."""
        return "\n".join(self._text)

    def inspect(self, stage: str = "last") -> cw.Inspection:
        """The car judged."""
        return cw.inspect(cw.read_sheet_text(self.text), stage=stage)


def coupling(inspection: cw.Inspection) -> list[Deduction]:
    """Deductions for couplers, those that are cut to nothing too."""
    return [each for each in inspection.verdict.deductions if each.category == "coupling"]


BOWED, STRAIGHT = Car(sag=0.5), Car()
GIVEN = f'box_height = "{BOX} mm"\nride_height = "{RIDE} mm"\nwheel_diameter = "{WHEEL} mm"'
BOTH_STATES = ("free", "lifted")
NUMBERS = (1, 2, 3)
"""Starting points of the readings' errors."""


def everything(sheet: Sheet, car: Car) -> Sheet:
    """Bearing, frame and box at both ends."""
    for end in "AB":
        sheet.read("bolster.height", end, RIDE + car.truck[end]).read("frame.height", end, 9 + car.truck[end])
        sheet.read("box.height", end, car.mouth(end))
    return sheet


def between(inspection: cw.Inspection, cause: str) -> float:
    """A cause's share at A less its share at B, in the car as received [mm]."""
    found = {}
    for end in "AB":
        coupler = inspection.explanations[0].of(end)
        assert coupler is not None
        found[end] = next(share.share for share in coupler.shares if share.name == f"{cause}@{end}")
    return found["A"] - found["B"]


# --- one fault -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", NUMBERS)
def test_a_bowed_frame_that_was_profiled_and_straightened_is_charged_once(number: int) -> None:
    sheet = Sheet(number).heights(BOWED, states=BOTH_STATES).profile(BOWED).work("straighten").heights(STRAIGHT)
    inspection = sheet.inspect()
    [charged] = coupling(inspection)
    assert (charged.cause, charged.at, charged.provisional) == ("frame.bow", "", False)
    assert "coupler height at A" in charged.title
    assert "coupler height at B" in charged.title
    assert charged.settled_by == ""  # a profile told it as received
    dearest = BOWED.height("A") - NOMINAL - TOLERANCE
    assert charged.points == pytest.approx(4 + 6 * dearest / (2.5 * 25.4 / 87.1), abs=0.3)
    assert not [each for each in inspection.findings if each.outcome == "fails"]


@pytest.mark.parametrize("number", NUMBERS)
def test_the_share_of_the_bow_is_what_was_made(number: int) -> None:
    inspection = Sheet(number).heights(BOWED, states=BOTH_STATES).profile(BOWED).inspect()
    for coupler in inspection.explanation.couplers:
        told = next(each for each in coupler.groups if each.lead in {"frame.bow", "frame.kink"})
        assert told.share == pytest.approx(BOWED.frame(coupler.at, E), abs=3.5 * told.u)


@pytest.mark.parametrize("number", NUMBERS)
def test_without_a_profile_the_dearest_stands_and_the_second_is_provisional(number: int) -> None:
    verdict = Sheet(number).heights(BOWED).inspect().verdict
    first, second = (each for each in verdict.deductions if each.category == "coupling")
    assert (first.cause, first.provisional) == ("unexplained", False)
    assert (second.cause, second.provisional) == ("unexplained", True)
    assert verdict.points_if_provisional_lifted == pytest.approx(verdict.points + second.points)
    assert any("not settled" in step for step in first.chain)


@pytest.mark.parametrize("number", NUMBERS)
def test_both_couplers_that_came_right_with_a_straightening_were_one_fault(number: int) -> None:
    sheet = Sheet(number).heights(BOWED).work("straighten").heights(STRAIGHT)
    [charged] = coupling(sheet.inspect())  # it came right with it: one
    assert (charged.cause, charged.provisional) == ("frame.bow", False)
    assert charged.settled_by in {"entry 4", "entry 5"}


@pytest.mark.parametrize("number", NUMBERS)
def test_a_profile_after_the_straightening_settles_it_where_the_heights_had_not(number: int) -> None:
    [without] = coupling(Sheet(number).heights(BOWED).work("straighten").heights(STRAIGHT).inspect())
    sheet = Sheet(number).heights(BOWED).work("straighten").heights(STRAIGHT).profile(STRAIGHT)
    [charged] = coupling(sheet.inspect())
    assert (charged.cause, charged.provisional) == ("frame.bow", False)
    assert charged.settled_by == (f"entry {sheet.entries}" if without.provisional else without.settled_by)


def test_a_reading_that_came_after_it_was_settled_did_not_settle_it() -> None:
    sheet = Sheet(1).heights(BOWED).work("straighten").heights(STRAIGHT).profile(STRAIGHT)
    [before] = coupling(sheet.inspect())
    sheet.read("shank.offset", "A", 0.0)
    [charged] = coupling(sheet.inspect())
    assert charged.settled_by == before.settled_by != ""


def test_wheels_read_at_a_later_stage_settle_and_are_named() -> None:
    big = Car(truck={"A": 0.4, "B": 0.4})  # by its wheels

    def sheet() -> Sheet:
        return Sheet(1, GIVEN).heights(big)

    assert len(coupling(sheet().inspect())) == 2
    later = sheet().work("regauge", "1")
    for axle in "1234":
        later.read("wheel.diameter", axle, WHEEL + 0.8)
    [charged] = coupling(later.inspect())
    assert (charged.cause, charged.provisional) == ("wheel.diameter", False)
    assert charged.settled_by.startswith("entry ")


# --- two faults ------------------------------------------------------------------------------------------------

TWO = Car(sag=0.5, box=at("A", 0.45))
LEFT = replace(TWO, sag=0.0)


@pytest.mark.parametrize("number", NUMBERS)
def test_straightened_and_still_high_is_two_faults(number: int) -> None:
    sheet = Sheet(number, GIVEN).heights(TWO, states=BOTH_STATES).profile(TWO).work("straighten").heights(LEFT)
    inspection = everything(sheet, LEFT).inspect()
    first, second = coupling(inspection)
    assert {(first.cause, first.at), (second.cause, second.at)} == {("frame.bow", ""), ("box.position", "A")}
    assert not first.provisional
    assert not second.provisional
    assert first.settled_by.startswith("entry ")
    left = [each.at for each in inspection.last if each.characteristic == "coupler.height" and each.outcome == "fails"]
    assert set(left) == {"A"}


def test_a_second_fault_is_charged_where_only_its_place_is_not_told() -> None:
    sheet = Sheet(1, GIVEN).heights(TWO).profile(TWO).work("straighten").heights(LEFT)
    for end in "AB":
        sheet.read("box.height", end, LEFT.mouth(end))
    verdict = sheet.inspect().verdict
    certain = [each for each in verdict.deductions if each.category == "coupling" and not each.provisional]
    assert len(certain) == 2


@pytest.mark.parametrize("number", NUMBERS)
def test_more_readings_never_unsettle_a_cause(number: int) -> None:
    def few() -> Sheet:
        return Sheet(number, GIVEN).heights(TWO).work("straighten").heights(LEFT, states=BOTH_STATES)

    def settled(sheet: Sheet) -> bool:
        return any(each.cause == "frame.bow" and not each.provisional for each in coupling(sheet.inspect()))

    assert settled(few())
    assert settled(everything(few(), LEFT))


def test_what_settled_one_cause_is_named_though_another_is_open() -> None:
    sheet = Sheet(1, GIVEN).heights(TWO).work("straighten").heights(LEFT)
    bow = next(each for each in coupling(sheet.inspect()) if each.cause == "frame.bow")
    assert bow.settled_by in {"entry 4", "entry 5"}


# --- the score is of the car as received -------------------------------------------------------------------------


@pytest.mark.parametrize("after", [STRAIGHT, Car(sag=-0.6), Car(sag=0.1, shank=at("B", 0.1))], ids=str)
def test_a_repair_neither_earns_nor_costs_points(after: Car) -> None:
    def received() -> Sheet:
        return Sheet(1, GIVEN).heights(BOWED, states=BOTH_STATES).profile(BOWED)

    before = received().inspect().verdict
    repaired = received().work("straighten").heights(after).profile(after).inspect().verdict
    assert (repaired.points, repaired.out_of) == (before.points, before.out_of)

    def charged(verdict: cw.Verdict) -> list[tuple[str, str, float, bool, str]]:
        return [(each.cause, each.at, each.points, each.provisional, each.settled_by) for each in verdict.deductions]

    assert charged(repaired) == charged(before)
    assert any("held for work: coupler height" in reason for reason in before.status_reasons)
    fails = any(abs(after.height(end) - NOMINAL) > TOLERANCE for end in "AB")
    assert any("held for work: coupler height" in reason for reason in repaired.status_reasons) == fails
    assert (repaired.scored_stage, repaired.status_stage) == (0, 1)


# --- droop and trip pins -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("told", ["lifted", "read", "both"])
def test_droop_that_makes_height_and_droop_fail_is_charged_once(told: str) -> None:
    car = Car(droop=at("A", 1.1))
    states = BOTH_STATES if told in {"lifted", "both"} else ("free",)
    sheet = Sheet(1, 'knuckle_height = "3.7 mm"').heights(car, states=states)
    if told in {"read", "both"}:
        sheet.read("coupler.droop", "A", 1.1)
    [charged] = coupling(sheet.inspect())
    assert (charged.cause, charged.at, charged.provisional) == ("coupler.droop", "A", False)
    assert set(charged.clauses) == {"bench/practice/HO/coupler.height", "bench/practice/HO/coupler.droop"}
    assert charged.points == 10.0  # the height's: the dearer of the two


CLUB = """\
format = "carwright-rules/1"
id = "pins"
title = "House rules (invented)"
[[source]]
key = "pins"
title = "House rules (invented)"
body = "Lower Sedge"
kind = "club rules"
[defaults]
source = "pins"
edition = "1"
locator = "1"
status = "common practice"
confidence = "text"
force = "adopted"
[[clause]]
characteristic = "pin.height"
scales = ["HO"]
nominal = "1/32 in"
plus_minus = "0.010 in"
replaces = ["bench/practice/{scale}/pin.height"]
"""


@pytest.mark.parametrize(("own", "charges"), [(0.0, 1), (0.4, 2)])
def test_a_trip_pin_that_is_off_only_as_its_coupler_is_costs_nothing_more(
    own: float, charges: int, tmp_path: Path
) -> None:
    (tmp_path / "club.toml").write_text(CLUB, encoding="utf-8")
    head = 'trip_pin = "fitted"\nrules = ["nmra", "bench", "club.toml"]'
    sheet = Sheet(1, head=head).heights(BOWED, states=BOTH_STATES).profile(BOWED)
    for end in "AB":
        bent = own if end == "A" else 0.0
        sheet.read("pin.height", end, 25.4 / 32 + BOWED.height(end) - NOMINAL + bent)
    inspection = cw.inspect(cw.read_sheet_text(sheet.text, folder=str(tmp_path)))
    failing = {(each.characteristic, each.at) for each in inspection.findings if each.outcome == "fails"}
    assert {("pin.height", "A"), ("pin.height", "B")} <= failing
    deductions = [each for each in inspection.verdict.deductions if each.points > 0]
    assert len(deductions) == charges
    assert deductions[0].cause == "frame.bow"
    assert any("pin" in step for step in deductions[0].chain)
    if charges == 2:
        assert (deductions[1].at, deductions[1].title) == ("A", "trip pin above the railhead at A")


# --- exchanges, and the car turned end for end ---------------------------------------------------------------------


@pytest.mark.parametrize("number", NUMBERS)
def test_exchanged_couplers_tell_shank_from_box(number: int) -> None:
    shank, box = Car(shank=at("A", 0.3)), Car(box=at("A", 0.3))
    moved = Sheet(number, GIVEN).heights(shank, states=BOTH_STATES).work("exchange-couplers")
    inspection = moved.heights(replace(shank, shank=at("B", 0.3)), states=BOTH_STATES).inspect()
    assert between(inspection, "shank.offset") == pytest.approx(0.3, abs=0.04)
    assert between(inspection, "box.position") == pytest.approx(0.0, abs=0.03)
    stayed = Sheet(number, GIVEN).heights(box, states=BOTH_STATES).work("exchange-couplers")
    inspection = stayed.heights(box, states=BOTH_STATES).inspect()
    assert between(inspection, "shank.offset") == pytest.approx(0.0, abs=0.04)
    assert between(inspection, "box.position") > 0.02


@pytest.mark.parametrize("number", NUMBERS)
def test_exchanged_trucks_tell_truck_from_frame(number: int) -> None:
    ride, box = Car(truck=at("A", 0.2)), Car(box=at("A", 0.3))
    moved = Sheet(number, GIVEN).heights(ride, states=BOTH_STATES).work("exchange-trucks")
    inspection = moved.heights(replace(ride, truck=at("B", 0.2)), states=BOTH_STATES).inspect()
    lever = (E + A) / (2 * A)
    assert between(inspection, "truck.ride") == pytest.approx(0.2 * lever, abs=0.05)
    stayed = Sheet(number, GIVEN).heights(box, states=BOTH_STATES).work("exchange-trucks")
    inspection = stayed.heights(box, states=BOTH_STATES).inspect()
    assert between(inspection, "truck.ride") == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize("number", NUMBERS)
def test_a_car_turned_end_for_end_tells_a_sloping_bench_from_a_sloping_car(number: int) -> None:
    level = Car(truck={"A": 0.12, "B": 0.12})
    once = Sheet(number, GIVEN).heights(level, tilt=0.22).inspect()
    assert [each.at for each in once.received if each.characteristic == "coupler.height" and each.outcome == "fails"]
    assert coupling(once)
    bench = Sheet(number, GIVEN).heights(level, "turned = false", tilt=0.22)
    bench.heights(level, "turned = true", tilt=-0.22)
    assert coupling(bench.inspect()) == []
    sloping = Car(truck=at("A", 0.4))
    car = Sheet(number, GIVEN).heights(sloping, "turned = false").heights(sloping, "turned = true")
    [charged] = coupling(car.inspect())
    assert charged.at == "A"
    coupler = car.inspect().explanation.of("A")
    assert coupler is not None
    assert coupler.value - coupler.nominal == pytest.approx(sloping.height("A") - NOMINAL, abs=0.03)


# --- every story adds up ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("car", [BOWED, TWO, Car(droop=at("A", 0.5)), Car(truck={"A": 0.5, "B": -0.3})], ids=str)
def test_deductions_add_up_to_what_is_missing(car: Car, number: int) -> None:
    for sheet in (
        Sheet(number).heights(car),
        Sheet(number, GIVEN).heights(car, states=BOTH_STATES).profile(car),
        everything(Sheet(number, GIVEN).heights(car, states=BOTH_STATES).profile(car), car),
    ):
        verdict = sheet.inspect().verdict
        assert sum(each.points for each in verdict.deductions) == pytest.approx(verdict.out_of - verdict.points)
        certain = sum(each.points for each in verdict.deductions if not each.provisional)
        assert verdict.points_if_provisional_lifted <= verdict.out_of - certain + 1e-9
        assert len({(each.cause, each.at) for each in verdict.deductions}) == len(verdict.deductions)

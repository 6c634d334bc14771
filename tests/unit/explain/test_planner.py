"""Plans: the same front as a second planner that tries everything, and what a plan must say and keep to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
import second_planner as second
from numpy.typing import NDArray
from second_planner import Car, Enumerated, Piece

import carwright as cw
from carwright.errors import UnknownNameError
from carwright.explain.levers import SLOTS
from carwright.explain.model import Model, model_of
from carwright.explain.options import structures
from carwright.explain.predict import Predictor
from carwright.explain.records import Plan, Step
from carwright.explain.search import Target, search, weigh
from carwright.explain.stock import stock_of
from carwright.inspection import Inspection, words_of

Array = NDArray[np.float64]
WANTED = 0.90
BORDER = 0.01
"""Combinations whose chance lies nearer the one wanted may be offered or not: both chances carry that much error."""
DESIGNED_WHEEL = 0.413 * 25.4
DRAWER = (
    Piece("thin washer", "washer", 0.25),
    Piece("thick washer", "washer", 0.40),
    Piece("strip", "shim", 0.30),
    Piece("high shank", "shank-high", 0.60),
    Piece("low shank", "shank-low", 0.60),
)
STRIPS = (*DRAWER[2:], Piece("thin strip", "shim", 0.10, 2))
BY_HAND = ("box-raise", "dress-bolster", "dress-shank")
NEW = ("straighten", "wheel-size", "cure-droop", "replace-coupler", "shank-high", "shank-low")
BODY_HEIGHT = "Measure both coupler heights again"


def head(mount: str = "body", parts: str = "", car: str = "") -> str:
    return f"""format = "carwright-sheet/1"
[car]
title = "Test car"
scale = "HO"
type = "covered hopper"
rules = ["nmra", "bench"]
system = "metric"
coupler = "knuckle"
stock = "stock.toml"
{car}
[car.geometry]
body_length = "5.35 in"
body_width = "1.44 in"
body_height = "1.90 in"
truck_centers = "3.78 in"
truck_wheelbase = "0.76 in"
axles_per_truck = 2
pivot_offset = "0 mm"
coupler_mount = "{mount}"
coupler_face = "3.02 in"
coupler_pivot = "2.70 in"
floor_clearance = "0.20 in"
knuckle_height = "0.145 in"
wheel_diameter = "0.413 in"
[[instrument]]
name = "height stand"
preset = "height gauge"
resolution = "0.01 mm"
calibration = "0.02 mm"
repeatability = "0.03 mm"
repeatability_n = 25
{parts}"""


def entry(**rows: str) -> str:
    written = "".join(f"{key} = {value}\n" for key, value in rows.items())
    return f'[[entry]]\nwhen = "2026-03-02"\n{written}'


def reading(what: str, at: str, *values: float, state: str = "") -> str:
    read = ", ".join(f'"{value} mm"' for value in values)
    more = {"state": f'"{state}"'} if state else {}
    return entry(
        kind='"reading"', what=f'"{what}"', at=f'"{at}"', **more, values=f"[{read}]", **{"with": '"height stand"'}
    )


def heights(*, a: Sequence[float], b: Sequence[float], lifted_a: Sequence[float] = ()) -> str:
    text = reading("coupler.height", "A", *a, state="free") + reading("coupler.height", "B", *b, state="free")
    return text + (reading("coupler.height", "A", *lifted_a, state="lifted") if lifted_a else "")


def profile(*read: float) -> str:
    stations = ", ".join(f'"{x} in"' for x in (-2.5, -1.25, 0, 1.25, 2.5))
    values = ", ".join(f'"{value} mm"' for value in read)
    designed = ", ".join('"10.4 mm"' for _ in read)
    rows = {"of": '"sill"', "datum": '"rail"', "side": '"left"', "with": '"height stand"'}
    lists = {"stations": f"[{stations}]", "heights": f"[{values}]", "nominal": f"[{designed}]"}
    return entry(kind='"profile"', **rows, **lists)


def part(name: str, material: str) -> str:
    return f'[[part]]\nname = "{name}"\nmaterial = "{material}"\n'


def drawer_text(drawer: Sequence[Piece]) -> str:
    rows = [
        f'[[piece]]\nname = "{each.name}"\nuse = "{each.use}"\ncount = {each.count}\ncost = {each.cost}\n'
        f'{"diameter" if each.use == "wheel" else "thickness"} = "{each.thickness} mm"\n'
        for each in drawer
    ]
    return 'format = "carwright-stock/1"\n' + "".join(rows)


@dataclass(frozen=True)
class Case:
    """A car, its drawer, and the remedies a person closed so that everything can be tried."""

    sheet: str
    drawer: tuple[Piece, ...] = DRAWER
    closed: tuple[str, ...] = BY_HAND


HIGH = heights(a=(10.46, 10.43, 10.47), b=(9.95, 9.98))
HIGH_LOW = heights(a=(10.35, 10.36), b=(9.55, 9.53))
BOWED = heights(a=(10.62, 10.63), b=(10.60, 10.61)) + profile(11.05, 10.40, 10.17, 10.41, 11.07)
CASES = {
    "one high": Case(head() + HIGH),
    "one high, dressed by hand": Case(
        head() + HIGH, (DRAWER[0],), ("wheel-size", "straighten", "cure-droop", "box-raise")
    ),
    "both low": Case(head() + heights(a=(9.55, 9.56), b=(9.50, 9.52))),
    "both low, without washers": Case(
        head() + heights(a=(9.55, 9.56), b=(9.50, 9.52)),
        STRIPS,
        ("washer", "straighten", "dress-bolster", "box-raise@A"),
    ),
    "one high, one low": Case(head() + HIGH_LOW),
    "droop": Case(head() + heights(a=(9.45, 9.44), b=(9.95, 9.96), lifted_a=(10.05, 10.06))),
    "droop, cured first": Case(
        head() + heights(a=(9.33, 9.34), b=(9.60, 9.61), lifted_a=(9.95, 9.96)), closed=(*BY_HAND, "washer@A")
    ),
    "wrong wheels": Case(
        head() + heights(a=(10.38, 10.37), b=(10.33, 10.36)) + reading("wheel.diameter", "all", 11.30),
    ),
    "bow": Case(head() + BOWED, closed=(*BY_HAND, "replace-coupler", "cure-droop")),
    "couplers on the trucks": Case(head("truck") + heights(a=(9.55, 9.56), b=(9.90, 9.92)), STRIPS),
    "couplers on the trucks, by hand": Case(head("truck") + heights(a=(10.35, 10.36), b=(9.55, 9.56)), STRIPS, ()),
}


def inspected(case: Case) -> Inspection:
    with TemporaryDirectory() as folder:
        Path(folder, "stock.toml").write_text(drawer_text(case.drawer), "utf-8")
        return cw.inspect(cw.read_sheet_text(case.sheet, folder=folder))


def plans(case: Case, closed: Sequence[str] | None = None) -> tuple[cw.Inspection, Sequence[Plan], str]:
    """Inspection, plans and reason; the drawer is read when plans are asked for."""
    with TemporaryDirectory() as folder:
        Path(folder, "stock.toml").write_text(drawer_text(case.drawer), "utf-8")
        inspection = cw.inspect(cw.read_sheet_text(case.sheet, folder=folder))
        found = inspection.plan(closed=case.closed if closed is None else closed)
    return inspection, found.offered, found.reason


def model_for(inspection: Inspection) -> tuple[Model, float]:
    judged = judged_heights(inspection)
    nominal = judged["A"][2]
    model = model_of(inspection.history, words_of(inspection.tables), designed=nominal)
    assert isinstance(model, Model)
    return model, nominal


def judged_heights(inspection: Inspection) -> dict[str, tuple[float, float, float]]:
    """Lower, upper and nominal of each coupler, by the clause that may cost points."""
    found = {}
    for each in inspection.last:
        if (
            each.characteristic == "coupler.height"
            and each.force in inspection.rubric.charges
            and each.value is not None
        ):
            assert each.at not in found
            assert each.lower is not None
            assert each.upper is not None
            assert each.nominal is not None
            found[each.at] = (each.lower, each.upper, each.nominal)
    return found


def car_for(inspection: Inspection) -> Car:
    model, nominal = model_for(inspection)
    predictor = Predictor(model)
    judged = judged_heights(inspection)
    droops = [
        each
        for each in inspection.last
        if each.characteristic == "coupler.droop" and each.force in inspection.rubric.charges
    ]
    inch = 25.4 / inspection.history.scale.ratio
    prior = {}
    for what in ("shank.offset", "coupler.droop"):
        row = words_of(inspection.tables).contributions[what]
        prior[what] = (row.mean * inch, math.hypot(row.common, row.own) * inch)
    limits = [(judged[end][0] - nominal, judged[end][1] - nominal) for end in ("A", "B")]
    return Car(
        slots=SLOTS,
        rows=predictor.rows,
        mean=predictor.state_mean,
        covariance=predictor.state_covariance,
        limits=(limits[0], limits[1]),
        inch=inch,
        designed_wheel=DESIGNED_WHEEL,
        on_trucks=model.levers.truck_mounted,
        prior=prior,
        droop_most=next(each.upper for each in droops if each.upper is not None),
        droop_now={each.at: each.p_conform for each in droops if each.value is not None and each.p_conform is not None},
    )


@lru_cache(maxsize=32)
def enumerated(name: str) -> Enumerated:
    case = CASES[name]
    return second.enumerate_all(car_for(inspected(case)), case.drawer, case.closed, ("A", "B"), WANTED)


def names_of(plan: Plan) -> tuple[tuple[str, str], ...]:
    return tuple(sorted((step.remedy, step.at) for step in plan.steps if step.remedy))


def price_of(plan: Plan) -> second.Price:
    return plan.effort, plan.cost, ("yes", "partly", "no").index(plan.reversible), round(plan.risk, 8)


def rounded(price: second.Price) -> second.Price:
    return price[0], price[1], price[2], round(price[3], 8)


@pytest.mark.parametrize("name", CASES)
def test_the_front_is_that_of_trying_everything(name: str) -> None:
    """Same prices; where two combinations cost the same the planner may offer either."""
    _, offered, reason = plans(CASES[name])
    tried = enumerated(name)
    border = [each for each in tried.weighed if abs(each.p - WANTED) < BORDER]
    assert len(border) <= 0.02 * len(tried.weighed) + 1, "too many combinations lie on the border to compare"
    loose = {rounded(each.price) for each in border}
    wanted = {
        rounded(each.price): {other.names for other in tried.front if other.price == each.price} for each in tried.front
    }
    found = {price_of(plan): names_of(plan) for plan in offered}
    assert len(found) == len(offered)
    for price in set(wanted) - set(found):
        assert price in loose, f"not offered: {wanted[price]} at {price}"
    for price in set(found) - set(wanted):
        known = price in loose or any(second.dominates(each, price) for each in loose)
        assert known, f"not on the front: {found[price]}"
    for price in set(found) & set(wanted):
        assert found[price] in wanted[price]
    assert bool(offered) != bool(reason)


def test_enough_cases_have_a_front_and_one_has_more_than_one_plan() -> None:
    fronts = [len(enumerated(name).front) for name in CASES]
    assert sum(front > 0 for front in fronts) >= 8
    assert max(fronts) >= 3


@pytest.mark.parametrize("name", CASES)
def test_the_chances_are_those_of_trying_everything(name: str) -> None:
    _, offered, _ = plans(CASES[name])
    weighed = {}
    for each in sorted(enumerated(name).weighed, key=lambda each: each.p):  # a shank is dressed on its better face
        weighed[rounded(each.price), each.names] = each
    for plan in offered:
        own = weighed[price_of(plan), names_of(plan)]
        assert plan.p_open == pytest.approx(own.p_open, abs=1e-3)
        assert plan.p_closed == pytest.approx(own.p, abs=0.01)


@pytest.mark.parametrize("name", CASES)
def test_every_combination_and_amount_is_counted(name: str) -> None:
    case = CASES[name]
    with TemporaryDirectory() as folder:
        Path(folder, "stock.toml").write_text(drawer_text(case.drawer), "utf-8")
        found = cw.inspect(cw.read_sheet_text(case.sheet, folder=folder)).plan(case.closed)
    assert found.tried == enumerated(name).choices
    assert found.tried >= 100


def combined(case: Case) -> Iterator[tuple[float, float, float, float]]:
    """Open and closed chance of every ninth combination, by the planner and by the second planner."""
    with TemporaryDirectory() as folder:
        Path(folder, "stock.toml").write_text(drawer_text(case.drawer), "utf-8")
        inspection = cw.inspect(cw.read_sheet_text(case.sheet, folder=folder))
        stock = stock_of(inspection.history, inspection.tables)
    car = replace(car_for(inspection), droop_now={})
    model, _ = model_for(inspection)
    predictor = Predictor(model)
    target = Target(car.limits, WANTED)
    own = {
        frozenset((work.remedy, work.at, work.face) for work in works): works
        for works in second.combinations(car, case.drawer, case.closed, ("A", "B"))
    }
    every = structures(model, words_of(inspection.tables), stock, case.closed, ("A", "B"))
    assert len(every) == len(own)
    for structure in every[::9]:
        found = weigh(structure, predictor, target)
        assert found is not None
        works = own[frozenset((act.remedy.id, act.at, act.face) for act in structure.acts)]
        again = second.weigh(car, works, wanted=2.0)
        assert structure.price == pytest.approx(again.price)
        yield found.p_open, again.p_open, found.p_closed, again.p


@pytest.mark.parametrize("name", ["one high", "bow", "couplers on the trucks"])
def test_chances_of_combinations_near_and_far(name: str) -> None:
    rows = list(combined(CASES[name]))
    assert len(rows) > 20
    assert max(abs(mine - theirs) for mine, theirs, _, _ in rows) < 1e-3
    assert max(abs(mine - theirs) for _, _, mine, theirs in rows) < 0.01


PINNED = head(car='trip_pin = "fitted"')


def offered_for(sheet: str, drawer: tuple[Piece, ...] = DRAWER, closed: Sequence[str] = ()) -> Sequence[Plan]:
    return plans(Case(sheet, drawer), closed)[1]


def test_closing_an_option_removes_it_everywhere() -> None:
    before = offered_for(head() + HIGH_LOW)
    assert any(step.remedy == "washer" and step.at == "B" for plan in before for step in plan.steps)
    at_b = offered_for(head() + HIGH_LOW, closed=["washer@B"])
    assert at_b
    assert not any(step.remedy == "washer" and step.at == "B" for plan in at_b for step in plan.steps)
    none = offered_for(head() + HIGH_LOW, closed=["washer"])
    assert none
    assert not any(step.remedy == "washer" for plan in none for step in plan.steps)


def test_a_closed_option_that_would_open_a_plan_is_named() -> None:
    low = Case(head() + heights(a=(9.55, 9.56), b=(9.95, 9.96)), DRAWER[:2])
    everything = ["washer", "box-raise", "dress-shank", "dress-bolster", "cure-droop", "replace-coupler", "straighten",
                  "wheel-size", "box-shim", "shank-high", "shank-low"]  # fmt: skip
    _, offered, reason = plans(low, everything)
    assert not offered
    opening = reason.partition("; opening ")[2].partition(" would allow one")[0].split(" or ")
    assert opening == ["washer", "box-raise", "dress-shank"]
    for option in everything:
        freed = plans(low, [each for each in everything if each != option])[1]
        assert bool(freed) == (option in opening), option


def test_an_unknown_remedy_or_place_is_refused() -> None:
    inspection = inspected(Case(head() + HIGH))
    with pytest.raises(UnknownNameError, match=r"^there is no remedy 'wash'; did you mean 'washer'\?$"):
        inspection.plan(closed=["wash"])
    with pytest.raises(UnknownNameError, match=r"^there is no place 'C' in 'washer@C'; expected A, B, all or an axle$"):
        inspection.plan(closed=["washer@C"])


ORDERED = [
    heights(a=(10.35, 10.36), b=(9.55, 9.53)),
    heights(a=(10.62, 10.63), b=(10.60, 10.61)) + reading("wheel.diameter", "all", 11.00),
    heights(a=(10.62, 10.63), b=(10.60, 10.61)) + reading("wheel.diameter", "all", 11.60),
    BOWED,
    heights(a=(9.33, 9.34), b=(9.60, 9.61), lifted_a=(9.95, 9.96)),
]
PINS = reading("pin.height", "A", 1.35) + reading("pin.height", "B", 1.30)
RANK = {"wheel-size": 0, "straighten": 1, "cure-droop": 2, "replace-coupler": 2, "shank-high": 2, "shank-low": 2,
        "dress-shank": 3, "washer": 3, "dress-bolster": 3, "box-shim": 3, "box-raise": 3, "trim-pin": 4}  # fmt: skip
SWUNG = ("cure-droop", "replace-coupler", "shank-high", "shank-low", "dress-shank", "box-shim", "box-raise")


@lru_cache(maxsize=1)
def many_plans() -> tuple[Plan, ...]:
    found: list[Plan] = []
    for sheet in ORDERED:
        for closed in ([*BY_HAND], ["washer", "box-raise"], ["box-shim", *BY_HAND[1:]]):
            found += offered_for(PINNED + sheet + PINS, (*DRAWER, *STRIPS[3:]), closed)
    return tuple(found)


def test_steps_are_in_working_order() -> None:
    """Wheels, frame, coupler and droop, heights, and the trip pin last."""
    orders = [[RANK[step.remedy] for step in plan.steps if step.remedy] for plan in many_plans()]
    assert all(order == sorted(order) for order in orders)
    assert {rank for order in orders for rank in order} == {0, 1, 2, 3, 4}


def test_heights_are_read_between_what_is_set_anew_and_what_is_chosen() -> None:
    seen = 0
    for plan in many_plans():
        names = [step.remedy for step in plan.steps]
        anew = [place for place, name in enumerate(names) if name in NEW]
        picked = [place for place, name in enumerate(names) if RANK.get(name) == 3]
        if anew and picked:
            seen += 1
            between = plan.steps[max(anew) + 1 : min(picked)]
            assert any(step.words.startswith(BODY_HEIGHT) and "choose the amount" in step.words for step in between)
    assert seen >= 3


def test_a_coupler_change_is_followed_by_a_swing_check() -> None:
    seen = 0
    for plan in many_plans():
        worked = [place for place, step in enumerate(plan.steps) if step.remedy in SWUNG]
        checks = [place for place, step in enumerate(plan.steps) if not step.remedy and "swing" in step.words]
        if worked:
            seen += 1
            assert len(checks) == 1
            assert checks[0] > max(worked)
            for place in worked:
                assert plan.steps[place].at in plan.steps[checks[0]].words.partition(" at ")[2].split(" and ")
        else:
            assert not checks
    assert seen >= 3


def test_a_trip_pin_is_set_only_where_it_was_read_and_moves() -> None:
    only_a = reading("pin.height", "A", 1.35)
    for plan in offered_for(PINNED + HIGH_LOW + only_a):
        moved = {step.at for step in plan.steps if step.remedy and step.remedy != "trim-pin"}
        both = any(step.remedy in {"washer", "dress-bolster"} for step in plan.steps)
        pins = [step.at for step in plan.steps if step.remedy == "trim-pin"]
        assert pins == (["A"] if both or "A" in moved else [])


GROWING = head(parts=part("floor", "growing zinc"))
STOPPED = {"straighten", "untwist", "dress-bolster", "box-raise", "ease-swing"}


def test_growing_zinc_closes_straightening() -> None:
    sound = offered_for(head(parts=part("floor", "brass")) + BOWED, closed=BY_HAND)
    assert any(step.remedy == "straighten" for plan in sound for step in plan.steps)
    growing = offered_for(GROWING + BOWED)
    assert not any(step.remedy in STOPPED for plan in growing for step in plan.steps)
    assert not any(step.remedy in STOPPED for plan in offered_for(GROWING + HIGH_LOW) for step in plan.steps)


def test_growing_zinc_is_never_named_as_an_option_to_open() -> None:
    closed = ["washer", "box-shim", "dress-shank", "shank-low", "shank-high", "replace-coupler", "cure-droop"]
    _, offered, reason = plans(Case(GROWING + heights(a=(10.45, 10.46), b=(9.75, 9.76))), closed)
    assert not offered
    opening = reason.partition("; opening ")[2].partition(" would allow one")[0].split(" or ")
    assert "dress-shank" in opening
    assert not STOPPED & set(opening), reason


def test_lead_gives_its_caution_on_every_step() -> None:
    lead = "Lead: wear gloves"
    offered = offered_for(head(parts=part("weight", "lead sheet")) + HIGH_LOW)
    assert offered
    for plan in offered:
        for step in plan.steps:
            if step.remedy:
                assert any(line.startswith(lead) for line in step.cautions), step.remedy
    plain = offered_for(head(parts=part("weight", "steel")) + HIGH_LOW)
    assert not any(line.startswith(lead) for plan in plain for step in plan.steps for line in step.cautions)


def cut_below_zero(rng: np.random.Generator, mean: float, spread: float, size: int) -> Array:
    """Draws of a normal cut off at zero, by throwing away what is below."""
    kept = np.zeros(0)
    while len(kept) < size:
        drawn = rng.normal(mean, spread, 2 * size)
        kept = np.concatenate([kept, drawn[drawn >= 0]])
    return kept[:size]


def simulated(inspection: Inspection, steps: Sequence[Step], draws: int) -> Array:
    """Both heights after the works of a plan, done one by one on draws of the car as it stands [mm]."""
    model, nominal = model_for(inspection)
    predictor = Predictor(model)
    inch = 25.4 / inspection.history.scale.ratio
    rng = np.random.default_rng(7)
    state = rng.multivariate_normal(predictor.state_mean, predictor.state_covariance, draws, check_valid="ignore")
    contributions = words_of(inspection.tables).contributions
    for step in steps:
        if not step.remedy:
            continue
        amount, spread = step.amount or 0.0, second.table()[step.remedy].get("spread", 0.0)
        for what, mark, factor in second.shifts(step.remedy):
            for index, (name, place) in enumerate(SLOTS):
                if name != what or (place and step.at not in {"", "all", place[0]}):
                    continue
                meant = factor * amount * (-1 if "top of the shank" in step.words else 1)
                if what == "wheel.diameter":
                    meant = (amount - DESIGNED_WHEEL) / 2
                if mark == "+":
                    state[:, index] += meant + rng.normal(0, spread, draws)
                    continue
                if mark == "~":
                    row = contributions[what]
                    meant, spread = meant + row.mean * inch, math.hypot(row.common, row.own) * inch
                own = spread * 0.2 if what == "frame.shape" else spread  # little of it goes into finer bends
                cut = what == "coupler.droop"
                state[:, index] = cut_below_zero(rng, meant, own, draws) if cut else rng.normal(meant, own, draws)
    heights_after: Array = state @ predictor.rows.T + nominal
    return heights_after


@pytest.mark.parametrize("name", ["one high", "one high, dressed by hand", "droop, cured first", "wrong wheels", "bow",
                                  "couplers on the trucks, by hand"])  # fmt: skip
def test_predicted_heights_are_those_of_the_works_done_on_draws(name: str) -> None:
    inspection, offered, _ = plans(CASES[name])
    draws = 60_000
    judged = judged_heights(inspection)
    assert offered
    for plan in offered:
        after = simulated(inspection, plan.steps, draws)
        both = np.ones(draws, dtype=bool)
        rows = {row.at: row for row in plan.predicted if row.characteristic == "coupler.height"}
        for index, end in enumerate(("A", "B")):
            value, u = rows[end].value, rows[end].u
            assert value is not None
            assert u is not None
            assert value == pytest.approx(after[:, index].mean(), abs=5 * u / math.sqrt(draws))
            assert u == pytest.approx(after[:, index].std(), rel=0.02)
            inside = (judged[end][0] <= after[:, index]) & (after[:, index] <= judged[end][1])
            both &= inside
            assert rows[end].p_conform == pytest.approx(inside.mean(), abs=0.02)
        assert plan.p_open == pytest.approx(both.mean(), abs=0.02)


def test_a_droop_that_fails_is_cured_by_the_plan() -> None:
    """The droop counts in the search, not only in what is left of it: the cheapest plan for the heights leaves it."""
    sheet = head() + heights(a=(9.10, 9.12), b=(9.95, 9.96), lifted_a=(10.20, 10.20))
    inspection, offered, reason = plans(Case(sheet))
    tried = second.enumerate_all(car_for(inspection), DRAWER, BY_HAND, ("A", "B"), WANTED)
    assert tried.front
    assert {price_of(plan) for plan in offered} == {rounded(each.price) for each in tried.front}, reason


def test_a_droop_that_fails_beside_good_heights_has_its_plan() -> None:
    sheet = head() + heights(a=(9.85, 9.86), b=(9.95, 9.96), lifted_a=(11.00, 11.02))
    inspection, offered, reason = plans(Case(sheet), ())
    failing = [(each.characteristic, each.at) for each in inspection.last if each.outcome == "fails"]
    assert ("coupler.droop", "A") in failing
    assert offered, reason


def gauge(what: str, at: str) -> str:
    return entry(kind='"gauge"', what=f'"{what}"', at=f'"{at}"', result='"fail"')


def test_a_coupler_replaced_for_its_action_is_predicted_with_its_height() -> None:
    """A new coupler's shank and droop are new: the chance is not that of the height as it stands."""
    sheet = head() + heights(a=(9.95, 9.96), b=(9.95, 9.93)) + gauge("coupler.action", "A")
    inspection, offered, _ = plans(Case(sheet))
    car = replace(car_for(inspection), droop_now={})
    alone = second.weigh(car, (second.Work("replace-coupler", "A"),), WANTED)
    for plan in offered:
        if names_of(plan) == (("replace-coupler", "A"),):
            assert plan.p_open <= alone.p_open + 1e-3


def test_a_coupler_is_not_replaced_and_then_dressed_or_replaced_again() -> None:
    sheet = head() + heights(a=(10.35, 10.36), b=(9.95, 9.93)) + gauge("coupler.action", "A")
    for plan in plans(Case(sheet), ())[1]:
        new = [step.remedy for step in plan.steps if step.at == "A" and step.remedy in {*NEW[2:], "dress-shank"}]
        assert len(new) == 1, new


@pytest.mark.parametrize("limits", [
    ((-0.254, math.inf), (-0.254, math.inf)),
    ((-0.254, math.inf), (-0.254, 0.254)),
])  # fmt: skip
def test_limits_on_one_side_only(limits: second.Limits) -> None:
    """A coupler that must only not be low is lifted past its limit, not to it."""
    case = CASES["both low"]
    with TemporaryDirectory() as folder:
        Path(folder, "stock.toml").write_text(drawer_text(case.drawer), "utf-8")
        inspection = cw.inspect(cw.read_sheet_text(case.sheet, folder=folder))
        stock = stock_of(inspection.history, inspection.tables)
    model, _ = model_for(inspection)
    every = structures(model, words_of(inspection.tables), stock, case.closed, ("A", "B"))
    front, _, _ = search(every, Predictor(model), Target(limits, WANTED))
    washers = replace(car_for(inspection), limits=limits, droop_now={})
    works = (second.Work("washer", "A", (0.25, 0.40, 0.65)), second.Work("washer", "B", (0.25, 0.40, 0.65)))
    assert second.weigh(washers, works, WANTED).p_open > 0.999
    assert [(act.remedy.id, act.at) for act in front[0].structure.acts] == [("washer", "A"), ("washer", "B")]
    assert front[0].p_open > 0.999

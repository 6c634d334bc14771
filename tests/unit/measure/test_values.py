"""Values: repeats pool, places stand apart, derived values keep what they share, stale readings are not carried."""

from __future__ import annotations

import math
import textwrap

import numpy as np
import pytest

import carwright as cw
from carwright.inspection import words_of
from carwright.measure import Value, Values, probability_within, rounding_share, values_at
from carwright.tables import shipped

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
[car.geometry]
axles_per_truck = 2
[[instrument]]
name = "cal"
resolution = "0.01 mm"
calibration = "0.03 mm"
repeatability = "0.02 mm"
repeatability_n = 30
[[instrument]]
name = "gauge"
kind = "gauge"
accepts = ["14.38 mm", "14.60 mm"]
u = "0.02 mm"
"""


def reading(what: str, at: str, *values: str, **keys: str) -> str:
    lines = [f'what = "{what}"', f"values = {list(values)!r}".replace("'", '"')]
    lines += [f'at = "{at}"'] if at else []
    lines += [f'{key.rstrip("_")} = "{value}"' for key, value in ({"with_": "cal"} | keys).items() if value]
    return '[[entry]]\nkind = "reading"\n' + "\n".join(lines) + "\n"


def work(remedy: str, at: str = "") -> str:
    return f'[[entry]]\nkind = "work"\nremedy = "{remedy}"\n' + (f'at = "{at}"\n' if at else "")


def values(body: str, stage: int = 0) -> Values:
    history = cw.read_sheet_text(HEAD + textwrap.dedent(body)).history
    return values_at(history, words_of(shipped()), stage)


def value(body: str, what: str, at: str, stage: int = 0) -> Value:
    return values(body, stage).found[what, at]


def test_repeats_of_one_instrument_pool_over_entries() -> None:
    one = value(reading("coupler.height", "A", "10.00 mm", "10.02 mm"), "coupler.height", "A")
    two = value(
        reading("coupler.height", "A", "10.00 mm") + reading("coupler.height", "A", "10.02 mm"), "coupler.height", "A"
    )
    assert one.places == two.places
    assert one.places[0].n == 2
    assert two.entries == (1, 2)


def test_repeats_shrink_type_a_only() -> None:
    many = value(reading("coupler.height", "A", *(["10.00 mm"] * 50)), "coupler.height", "A").places[0]
    assert many.u == pytest.approx(0.03, rel=0.05)
    parts = {part.label: part.u for part in many.components}
    assert 0 < parts["repeatability of cal"] < 0.003
    assert parts["calibration of cal"] == 0.03


def test_two_instruments_are_weighted_and_named_when_they_disagree() -> None:
    body = reading("coupler.height", "A", "10.00 mm") + reading("coupler.height", "A", "10.6 mm", with_="steel rule")
    found = value(body, "coupler.height", "A")
    assert 10.0 < found.places[0].estimate < 10.1
    assert "disagree by more than three standard uncertainties" in found.notes[0]


def test_turns_are_places_of_their_own() -> None:
    body = reading("wheel.back_to_back", "1", "14.41 mm", turn="0 deg") + reading(
        "wheel.back_to_back", "1", "14.36 mm", turn="180 deg"
    )
    found = value(body, "wheel.back_to_back", "1")
    assert [(place.name, place.estimate) for place in found.places] == [("turn 0 deg", 14.41), ("turn 180 deg", 14.36)]


def test_places_written_as_lists_stand_apart_only_where_each_must_conform() -> None:
    entry = '[[entry]]\nkind = "reading"\nwhat = "{}"\nat = "{}"\nplaces = [["{}"], ["{}"]]\nwith = "cal"\n'
    every = value(entry.format("wheel.back_to_back", "1", "14.4 mm", "14.5 mm"), "wheel.back_to_back", "1")
    repeat = value(entry.format("coupler.height", "A", "10 mm", "10.1 mm"), "coupler.height", "A")
    assert (len(every.places), len(repeat.places)) == (2, 1)


def test_a_gauge_speaks_of_its_own_turn() -> None:
    low = 'what = "wheel.back_to_back"\nat = "1"\nturn = "180 deg"\nresult = "low"\nwith = "gauge"\n'
    body = reading("wheel.back_to_back", "1", "14.41 mm", turn="0 deg") + f'[[entry]]\nkind = "gauge"\n{low}'
    found = value(body, "wheel.back_to_back", "1")
    assert found.told()[0][1] == []
    assert [check.result for check in found.lone_gauges()] == ["low"]


def test_check_gauge_is_derived_and_its_calibration_counts_twice() -> None:
    body = reading("wheel.back_to_back", "2", "14.40 mm") + reading("wheel.flange_thickness", "2L", "0.76 mm")
    found = value(body, "wheel.check_gauge", "2")
    assert found.derived == "back-to-back plus flange thickness"
    assert found.places[0].estimate == pytest.approx(15.16)
    shared = {part.label: part.u for part in found.places[0].components if part.shared}
    assert shared["calibration of cal"] == pytest.approx(0.06)


def test_a_check_gauge_that_was_read_is_not_derived() -> None:
    body = "".join(
        (
            reading("wheel.back_to_back", "2", "14.40 mm"),
            reading("wheel.flange_thickness", "2", "0.76 mm"),
            reading("wheel.check_gauge", "2", "15.20 mm"),
        )
    )
    assert value(body, "wheel.check_gauge", "2").derived == ""


def test_droop_is_lifted_less_free_without_the_calibration() -> None:
    body = reading("coupler.height", "A", "10.00 mm") + reading("coupler.height", "A", "10.20 mm", state="lifted")
    found = values(body).found
    droop = found["coupler.droop", "A"]
    assert droop.places[0].estimate == pytest.approx(0.2)
    assert droop.bounded
    assert all(not part.shared for part in droop.places[0].components)
    assert ("coupler.height~", "A") not in found


def test_a_pulled_height_is_no_free_height() -> None:
    assert not values(reading("coupler.height", "A", "10.00 mm", state="pulled")).found


def test_both_directions_average_the_tracks_slope_away() -> None:
    body = reading("roll.start", "A", "2.2 %", with_="ramp") + reading("roll.start", "B", "1.0 %", with_="ramp")
    found = value(body, "roll.start", "")
    assert math.tan(found.places[0].estimate) == pytest.approx(0.016, abs=1e-4)
    assert "slope drops out" in found.derived


def test_a_work_makes_stale_what_it_touches_and_nothing_else() -> None:
    body = (
        reading("coupler.height", "A", "10.00 mm")
        + reading("weight.total", "", "100 g", with_="kitchen scale")
        + work("washer", "A")
    )
    before, after = values(body, 0), values(body, 1)
    assert ("coupler.height", "A") in before.found
    assert ("coupler.height", "A") not in after.found
    assert after.stale["coupler.height", "A"].remedy == "washer"
    assert ("weight.total", "") in after.found


def test_a_work_at_a_place_touches_only_there() -> None:
    body = (
        reading("wheel.back_to_back", "3", "14.2 mm")
        + reading("wheel.back_to_back", "4", "14.4 mm")
        + work("regauge", "3")
        + reading("wheel.back_to_back", "3", "14.45 mm")
    )
    after = values(body, 1).found
    assert after["wheel.back_to_back", "3"].places[0].estimate == 14.45
    assert after["wheel.back_to_back", "4"].stage == 0
    assert values(body, 0).found["wheel.back_to_back", "3"].places[0].estimate == 14.2


def test_a_later_reading_speaks_for_the_car_as_received_where_no_work_came_between() -> None:
    body = work("washer", "A") + reading("weight.total", "", "100 g", with_="kitchen scale")
    assert values(body, 0).found["weight.total", ""].stage == 1


def test_dimensions_stand_by_their_names() -> None:
    body = reading("dimension", "", "20 mm", name="door") + reading("dimension", "", "10 mm", name="hatch")
    assert {key[0] for key in values(body).found} == {"dimension:door", "dimension:hatch"}


def test_a_prior_gives_a_gauge_a_number() -> None:
    prior = '[[prior]]\nwhat = "wheel.back_to_back"\nvalue = "14.5 mm"\nu = "0.1 mm"\nsource = "ten cars"\n'
    check = '[[entry]]\nkind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "pass"\nwith = "gauge"\n'
    found = value(prior + check, "wheel.back_to_back", "1")
    assert (found.places[0].estimate, found.places[0].n) == (14.5, 0)
    assert value(check, "wheel.back_to_back", "1").places == ()


def test_a_reading_in_several_sums_is_one_reading() -> None:
    """Two turns and one flange: the flange's error is the same in both sums, checked by drawing it once."""
    body = (
        reading("wheel.back_to_back", "1", "14.60 mm", turn="0 deg")
        + reading("wheel.back_to_back", "1", "14.60 mm", turn="180 deg")
        + reading("wheel.flange_thickness", "1", "0.767 mm", with_="steel rule")
    )
    found = value(body, "wheel.check_gauge", "1")
    p = probability_within([(place, ()) for place in found.places], -math.inf, 15.367)
    generator = np.random.default_rng(2)
    flange = 0.75 + 0.05 * generator.standard_normal(200_000) + 0.15 * generator.standard_t(5, 200_000)
    share = rounding_share(0.15, resolution=0.25)
    flange += generator.uniform(-1, 1, 200_000) * 0.125 * math.sqrt(share)
    back = 14.60 + 0.03 * generator.standard_normal(200_000)
    both = np.ones(200_000, dtype=bool)
    for _ in range(2):
        both &= back + 0.02 * generator.standard_t(29, 200_000) + flange + 0.017 <= 15.367
    assert p == pytest.approx(float(both.mean()), abs=0.02)


def test_a_prior_speaks_only_where_nothing_was_read_and_no_work_was_done() -> None:
    prior = '[[prior]]\nwhat = "wheel.back_to_back"\nvalue = "14.5 mm"\nu = "0.1 mm"\nsource = "ten cars"\n'
    check = '[[entry]]\nkind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "pass"\nwith = "gauge"\n'
    both = value(prior + check + reading("wheel.back_to_back", "1", "14.41 mm"), "wheel.back_to_back", "1")
    assert both.places[0].estimate == 14.41
    assert value(prior + work("regauge", "1") + check, "wheel.back_to_back", "1", 1).places == ()


def test_droop_outlasts_a_washer_and_a_check_gauge_no_regauging() -> None:
    body = (
        reading("coupler.height", "A", "10.00 mm")
        + reading("coupler.height", "A", "10.20 mm", state="lifted")
        + reading("wheel.back_to_back", "2", "14.4 mm")
        + reading("wheel.flange_thickness", "2", "0.76 mm")
        + work("washer", "A")
        + work("regauge", "2")
    )
    after = values(body, 2)
    assert after.found["coupler.droop", "A"].places[0].estimate == pytest.approx(0.2)
    assert ("coupler.height", "A") in after.stale
    assert after.stale["wheel.check_gauge", "2"].remedy == "regauge"
    cured = values(body + work("cure-droop", "A"), 3)
    assert ("coupler.droop", "A") not in cured.found


def test_droop_pairs_readings_between_the_same_works() -> None:
    body = (
        reading("coupler.height", "A", "10.00 mm")
        + reading("coupler.height", "A", "10.20 mm", state="lifted")
        + work("ballast")
        + reading("coupler.height", "A", "10.02 mm")
    )
    assert values(body, 0).found["coupler.droop", "A"].places[0].estimate == pytest.approx(0.19)


@pytest.mark.parametrize("at", ["1", "1L", "01"])
def test_a_wheelset_is_worked_on_at_its_axle_however_it_is_written(at: str) -> None:
    body = reading("wheel.back_to_back", "1", "14.0 mm") + work("regauge", at)
    assert ("wheel.back_to_back", "1") not in values(body, 1).found


def test_a_gauge_on_the_check_gauge_stands_beside_the_derived_value() -> None:
    check = '[[entry]]\nkind = "gauge"\nwhat = "wheel.check_gauge"\nat = "2"\nresult = "pass"\n'
    body = reading("wheel.back_to_back", "2", "14.4 mm") + reading("wheel.flange_thickness", "2", "0.76 mm") + check
    found = value(body, "wheel.check_gauge", "2")
    assert (found.derived, len(found.gauges)) == ("back-to-back plus flange thickness", 1)


def test_repeats_that_scatter_too_much_are_named() -> None:
    found = value(reading("coupler.height", "A", "9.9 mm", "9.0 mm"), "coupler.height", "A")
    assert "scatter 32 times as much as it usually does" in found.notes[0]

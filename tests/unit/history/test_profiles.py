"""Profiles as written: read in any unit, refused with their line, their entry and what was expected."""

from __future__ import annotations

import json

import pytest

import carwright as cw
from carwright.history import Profile

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Flat car"
scale = "HO"
[car.geometry]
body_length = "190 mm"
body_width = "31.5 mm"
truck_centers = "132 mm"
axles_per_truck = 2
"""
DECK = '[[car.geometry.deck]]\nfrom = "{}"\nto = "{}"\nheight = "{}"\n'
THREE = ["-80 mm", "0 mm", "80 mm"]
HEIGHTS = ["5.00 mm", "5.01 mm", "5.02 mm"]


def listed(texts: list[str]) -> str:
    return "[" + ", ".join(json.dumps(text, ensure_ascii=False) for text in texts) + "]"


def profile(stations: list[str] | None = None, **keys: str | list[str]) -> str:
    given: dict[str, str | list[str]] = {"of": "deck", "datum": "plate", "side": "left"}
    given |= {"stations": stations or THREE} | keys
    if "gaps" not in given:
        given.setdefault("heights", HEIGHTS)
    lines = (f"{key} = {listed(value) if isinstance(value, list) else repr(value)}" for key, value in given.items())
    return '[[entry]]\nkind = "profile"\n' + "\n".join(lines) + "\n"


def read(body: str, deck: str = "") -> Profile:
    (found,) = cw.read_sheet_text(HEAD + deck + body).history.profiles
    return found


def faults(body: str, deck: str = "") -> list[str]:
    with pytest.raises(cw.SheetError) as error:
        cw.read_sheet_text(HEAD + deck + body, file="car.toml")
    return str(error.value).splitlines()


def test_a_profile_is_kept_as_written() -> None:
    found = read(profile(["-3 in", "0 mm", "5/8 in"], of="sill", datum="rail", side="right"))
    assert (found.entry, found.stage, found.of, found.datum, found.side) == (1, 0, "sill", "rail", "right")
    assert found.stations == pytest.approx((-76.2, 0.0, 15.875))
    assert found.lower == found.upper == pytest.approx((5.00, 5.01, 5.02))
    assert (found.gaps, found.nominal) == (False, None)
    assert found.figures.resolution == pytest.approx(0.01)


def test_heights_may_stand_below_the_datum() -> None:
    assert read(profile(heights=["-0.10 mm", "0.00 mm", "0.10 mm"])).lower == pytest.approx((-0.1, 0.0, 0.1))


def test_scale_lengths_are_taken_to_the_model() -> None:
    assert read(profile(["-100 scale in", "0 mm", "8 scale ft"])).stations == pytest.approx(
        (-100 * 25.4 / 87.1, 0.0, 8 * 304.8 / 87.1)
    )


def test_prototype_lengths_with_their_scale_are_read_as_in_geometry() -> None:
    assert read(profile(["-21' HO", "0 mm", "21' HO"])).stations[0] == pytest.approx(-21 * 304.8 / 87.1)


def test_gaps_are_numbers_ranges_and_bounds() -> None:
    found = read(profile(datum="straightedge", gaps=["0.10..0.15 mm", "< 0.05 mm", "0.00 mm"]))
    assert found.gaps
    assert found.lower == pytest.approx((0.10, 0.0, 0.0))
    assert found.upper == pytest.approx((0.15, 0.05, 0.0))


@pytest.mark.parametrize("of", ["deck", "sill"])
def test_design_heights_come_from_the_deck_for_the_deck_only(of: str) -> None:
    deck = DECK.format("-90 mm", "0 mm", "5 mm") + DECK.format("0.5 mm", "90 mm", "7 mm")
    nominal = read(profile(of=of), deck).nominal
    assert nominal == (pytest.approx((5.0, 5.0, 7.0)) if of == "deck" else None)


def test_a_profile_s_own_design_heights_go_first() -> None:
    deck = DECK.format("-10 mm", "10 mm", "5 mm")
    assert read(profile(nominal=["1 mm", "2 mm", "3 mm"]), deck).nominal == pytest.approx((1.0, 2.0, 3.0))


@pytest.mark.parametrize(
    ("body", "deck", "line", "sentence"),
    [
        (
            profile(datum="straightedge"), "", 13,
            "entry 1 (profile deck), datum: gaps are read under a straightedge, heights from the rail or a plate",
        ),
        (
            profile(gaps=["0 mm", "0.1 mm", "0 mm"]), "", 13,
            "entry 1 (profile deck), datum: gaps are read under a straightedge, heights from the rail or a plate",
        ),
        (
            profile(datum="straightedge", gaps=["0 mm", "-0.1 mm", "0 mm"]), "", 16,
            "entry 1 (profile deck), gaps: a gap is never below zero, got -0.1 mm",
        ),
        (
            profile(datum="straightedge", gaps=["0 mm", "-0.1..0.1 mm", "0 mm"]), "", 16,
            "entry 1 (profile deck), gaps: a gap is never below zero, got -0.1 mm",
        ),
        (
            profile(datum="straightedge", gaps=["0 mm", "0.15..0.10 mm", "0 mm"]), "", 16,
            "entry 1 (profile deck), gaps: cannot read '0.15..0.10 mm': expected the smaller number first",
        ),
        (
            profile(["-80 mm", "0 mm", "-80.0 mm"]), "", 15,
            "entry 1 (profile deck), stations: a station stands twice: give repeats as a profile of their own",
        ),
        (
            profile(["-80 mm", "0 mm", "120 mm"]), "", 15,
            "stations: a station 120.00 mm from mid-car lies beyond the body, which ends at 95.00 mm",
        ),
        (
            profile(), DECK.format("-90 mm", "50 mm", "5 mm"), 19,
            "entry 1 (profile deck), stations: station 80 mm lies on no [[car.geometry.deck]], and no nominal is given",
        ),
        (
            profile(of="sill"), DECK.format("50 mm", "-90 mm", "5 mm"), 11,
            "car.geometry.deck 1, from: must run from the lower to the higher station, got '50 mm' to '-90 mm'",
        ),
        (
            profile(of="sill"), DECK.format("-90 mm", "50 mm", "5"), 13,
            "car.geometry.deck 1, height: cannot read '5' (no unit): expected a length with its unit",
        ),
        (profile(heights=["5 mm", "5 mm"]), "", 10, "entry 1 (profile deck): has 3 stations but 2 heights"),
        (profile(nominal=["5 mm", "5 mm"]), "", 10, "entry 1 (profile deck): has 3 stations but 2 nominal"),
        (profile(heights=HEIGHTS, gaps=HEIGHTS), "", 10, "entry 1 (profile deck): needs either heights or gaps"),
        (
            profile(heights=["5 mm", "5", "5 mm"]), "", 16,
            "entry 1 (profile deck), heights: cannot read '5' (no unit): expected a length with its unit",
        ),
        (
            profile(nominal=["5 mm", "5 g", "5 mm"]), "", None,
            "entry 1 (profile deck), nominal: cannot read '5 g' (unknown unit 'g'): expected a length with its unit",
        ),
        (profile(of="floor"), "", 12, "entry 1 (profile floor), of: 'floor' is not known: expected 'deck', 'frame'"),
        (profile(side="top"), "", 14, "entry 1 (profile deck), side: 'top' is not known: expected 'left', 'right'"),
        (profile() + 'with = "kitchen scale"', "", None, "with: 'kitchen scale' does not measure a length"),
        (profile() + 'with = "hight gauge"', "", None, "'hight gauge'; did you mean 'height gauge'?"),
    ],
)  # fmt: skip
def test_each_fault_has_its_line_and_its_sentence(body: str, deck: str, line: int | None, sentence: str) -> None:
    (found,) = faults(body, deck)
    assert sentence in found
    if line is not None:
        assert found.startswith(f"car.toml:{line}: ")


def test_one_station_is_too_few() -> None:
    (found,) = faults(profile(["0 mm"], heights=["5 mm"]))
    assert "entry 1 (profile deck), stations" in found
    assert "at least 2" in found


def test_a_bound_below_zero_is_refused() -> None:
    faults(profile(datum="straightedge", gaps=["0 mm", "< -0.05 mm", "0 mm"]))


def test_a_little_beyond_the_body_is_the_end_beam() -> None:
    assert read(profile(["-96.8 mm", "0 mm", "96.8 mm"])).stations[2] == pytest.approx(96.8)
    (found,) = faults(profile(["-97 mm", "0 mm", "80 mm"]))
    assert "a station 97.00 mm from mid-car lies beyond the body" in found


def test_all_faults_of_all_profiles_come_at_once() -> None:
    body = profile(datum="straightedge") + profile(["0 mm", "0 mm", "120 mm"]) + profile(of="sill")
    found = faults(body, DECK.format("50 mm", "-90 mm", "5 mm"))
    assert len(found) == 4
    assert [each.partition(": ")[2].partition(",")[0] for each in found] == [
        "car.geometry.deck 1",
        "entry 1 (profile deck)",
        "entry 2 (profile deck)",
        "entry 2 (profile deck)",
    ]
    numbers = [int(each.split(":")[1]) for each in found]
    assert numbers == sorted(numbers)

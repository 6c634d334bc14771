"""Shares: they add up, both ends' causes reach a coupler, and a reading that is named tells what it promises."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import carwright as cw
from carwright.explain.records import Coupler, Explanation, Share, Tell
from carwright.publish.document import as_document, as_json_text

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
NOMINAL = 9.9314
A, E = 54.0, 76.0
STATIONS = (-70, -52, -35, -17, 0, 17, 35, 52, 70)
HEAD = """\
format = "carwright-sheet/1"
[car]
title = "x"
scale = "HO"
coupler = "knuckle"
[car.geometry]
axles_per_truck = 2
coupler_mount = "body"
body_length = "142 mm"
truck_centers = "108 mm"
truck_wheelbase = "19.25 mm"
coupler_face = "76 mm"
coupler_pivot = "68 mm"
box_height = "8 mm"
ride_height = "7.5 mm"
wheel_diameter = "9.63 mm"
frame_height = "9.1 mm"
"""


def tool(name: str, repeatability: float, calibration: float) -> str:
    """An instrument whose record is long, so that its repeatability is known [mm]."""
    return (
        f'[[instrument]]\nname = "{name}"\nresolution = "0.0001 mm"\nrepeatability = "{repeatability} mm"\n'
        f'calibration = "{calibration} mm"\nrepeatability_n = 10000\n'
    )


TOOLS = tool("stand", 0.02, 0.015) + "".join(
    tool(f"new {u}", u, 0.001) for u in (0.015, 0.03, 0.035, 0.045, 0.05)
)  # fmt: skip


def read(what: str, at: str, value: float, state: str = "", with_: str = "stand") -> str:
    """One reading."""
    lines = ["[[entry]]", 'kind = "reading"', f'what = "{what}"', f'at = "{at}"', f'values = ["{value:.4f} mm"]']
    return "\n".join([*lines, f'with = "{with_}"', f'state = "{state}"' if state else "", ""])


def profile(sag: float, with_: str = "stand") -> str:
    """A frame on a plate, its middle low by ``sag`` over the truck centres."""
    heights = [f"{8 + sag * (x / A) ** 2:.4f} mm" for x in STATIONS]
    lines = ["[[entry]]", 'kind = "profile"', 'of = "frame"', 'datum = "plate"', 'side = "centre"']
    lines += [f"stations = {[f'{x} mm' for x in STATIONS]}", f"heights = {heights}", f'with = "{with_}"', ""]
    return "\n".join(lines)


def heights(a: float = 0.4, b: float = 0.35) -> str:
    """Both couplers so far off [mm]."""
    return read("coupler.height", "A", NOMINAL + a, "free") + read("coupler.height", "B", NOMINAL + b, "free")


def explanation(body: str) -> Explanation:
    """Of the last stage."""
    return cw.inspect(cw.read_sheet_text(HEAD + TOOLS + body)).explanation


def named(coupler: Coupler) -> dict[str, Share]:
    """Shares by name."""
    return {share.name: share for share in coupler.shares}


# --- they add up -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_shares_of_the_examples_add_up_exactly(path: Path) -> None:
    inspection = cw.inspect(cw.read_sheet(path), stage="received")
    for told in inspection.explanations.values():
        for coupler in told.couplers:
            total = math.fsum(share.share for share in coupler.shares)
            assert total == pytest.approx(coupler.value - coupler.nominal, abs=1e-9)


offsets = st.floats(-0.8, 0.8).map(lambda value: round(value, 3))


@settings(max_examples=40)
@given(offsets, offsets, st.sampled_from(["", "lifted"]), st.none() | offsets, st.none() | offsets)
def test_shares_add_up_whatever_was_read(
    a: float,
    b: float,
    lifted: str,
    sag: float | None,
    box: float | None,
) -> None:
    body = heights(a, b)
    body += read("coupler.height", "A", NOMINAL + a + 0.1, "lifted") if lifted else ""
    body += profile(sag) if sag is not None else ""
    body += read("box.height", "B", 8 + box) if box is not None else ""
    told = explanation(body)
    assert len(told.couplers) == 2
    for coupler in told.couplers:
        assert math.fsum(share.share for share in coupler.shares) == pytest.approx(
            coupler.value - coupler.nominal, abs=1e-9
        )
        free = [share for share in coupler.shares if not share.fixed]
        assert len(coupler.correlation) == len(free)
        for i, row in enumerate(coupler.correlation):
            assert row[i] == pytest.approx(1.0)
            assert all(-1 <= each <= 1 for each in row)
            assert [other[i] for other in coupler.correlation] == pytest.approx(list(row))
        for share in free:  # a droop is cut off at zero: what is left of it may be wider than what was expected
            assert share.u <= share.before * (1 + 1e-6) or share.cause == "coupler.droop"
        for group in coupler.groups:
            own = named(coupler)
            assert group.share == pytest.approx(sum(own[name].share for name in group.names))
            assert group.lead in group.names
            assert all(own[name].basis == "group" for name in group.names)


# --- levers --------------------------------------------------------------------------------------------------------


def test_the_far_truck_lowers_a_coupler_by_its_lever() -> None:
    up, down = (E + A) / (2 * A), (E - A) / (2 * A)
    body = heights(0.5, -0.08) + "".join(read("bolster.height", at, 7.5 + 0.4 * (at == "A")) for at in "AB")
    told = explanation(body)
    a, b = told.of("A"), told.of("B")
    assert a is not None
    assert b is not None
    for end, other in ((a, b), (b, a)):
        own, far = named(end)[f"truck.ride@{end.at}"], named(other)[f"truck.ride@{end.at}"]
        assert far.before / own.before == pytest.approx(down / up, rel=1e-6)
        assert far.share == pytest.approx(-own.share * down / up, abs=1e-9)
        assert far.u == pytest.approx(own.u * down / up, rel=1e-6)


def test_a_bow_reaches_both_ends_alike_and_by_its_formula() -> None:
    c = 68.0
    lever = (2 * c * E - c * c - A * A) / A**2
    told = explanation(heights(0.5, 0.5) + profile(0.5))
    for coupler in told.couplers:
        assert named(coupler)["frame.bow"].share == pytest.approx(0.5 * lever, abs=0.06)


def test_a_coupler_on_its_truck_feels_no_bow_and_no_far_truck() -> None:
    mounted = HEAD.replace('coupler_mount = "body"', 'coupler_mount = "truck"')
    told = cw.inspect(cw.read_sheet_text(mounted + TOOLS + heights() + profile(0.5))).explanation
    for coupler in told.couplers:
        names = set(named(coupler))
        assert not {name for name in names if name.startswith(("frame.", "truck.ride"))}
        assert not {name for name in names if name.endswith({"A": "@B", "B": "@A"}[coupler.at])}


# --- what a share rests on ------------------------------------------------------------------------------------------


def test_a_measured_share_says_whose_calibration_it_rests_on() -> None:
    def droop(calibration: float) -> Share:
        droops = read("coupler.droop", "A", 0.3, with_="gauge")
        told = explanation(tool("gauge", 0.005, calibration) + heights(-0.3, 0.0) + droops)
        a = told.of("A")
        assert a is not None
        return named(a)["coupler.droop@A"]

    assert droop(0.03).basis == droop(0.0001).basis == "measured"
    assert droop(0.03).rests_on == "gauge"
    assert droop(0.0001).rests_on == ""


def test_only_measured_shares_rest_on_a_calibration_and_only_others_have_a_reading_to_take() -> None:
    told = explanation(heights() + profile(0.4) + read("coupler.height", "A", NOMINAL + 0.5, "lifted"))
    shares = [share for coupler in told.couplers for share in coupler.shares]
    assert {share.basis for share in shares} == {"measured", "assumed", "group"}
    for share in shares:
        assert not share.rests_on or share.basis == "measured"
        assert share.tell is None or share.basis in {"assumed", "group"}
        assert share.tell is None or 0.1 <= share.tell.cut <= 1


# --- the reading that would tell ------------------------------------------------------------------------------------

U = {
    "bolster.height": 0.035, "frame.height": 0.035, "box.height": 0.035, "coupler.exchange": 0.045,
    "shank.offset": 0.03, "coupler.droop": 0.045, "wheel.diameter": 0.015,
}  # fmt: skip
"""How well each of them is taken to be read [mm]."""
VALUES = {
    "bolster.height": 7.52, "frame.height": 9.1, "box.height": 8.3, "coupler.exchange": NOMINAL + 0.3,
    "shank.offset": 0.05, "coupler.droop": 0.1, "wheel.diameter": 9.64,
}  # fmt: skip
STORIES = {
    "heights": heights(),
    "profile": heights() + profile(0.35),
    "lifted": heights() + "".join(read("coupler.height", at, NOMINAL + 0.5, "lifted") for at in "AB"),
    "bearing": heights() + profile(0.35) + "".join(read("bolster.height", at, 7.5) for at in "AB"),
    "boxes": heights() + profile(0.35) + "".join(read("box.height", at, 8.3) for at in "AB"),
    "lifted and boxes": heights()
    + "".join(read("coupler.height", at, NOMINAL + 0.5, "lifted") + read("box.height", at, 8.4) for at in "AB"),
}


def tells(body: str) -> Iterator[tuple[str, tuple[str, ...], Tell]]:
    """End, names, and the reading for every share or group that has one."""
    for coupler in explanation(body).couplers:
        for share in coupler.shares:
            if share.tell is not None:
                yield coupler.at, (share.name, *share.group), share.tell


def variance(body: str, at: str, names: tuple[str, ...]) -> float:
    """What remains open of some shares, each for itself [mm²]."""
    coupler = explanation(body).of(at)
    assert coupler is not None
    own = named(coupler)
    return sum(own[name].u ** 2 for name in names)


def taken(tell: Tell) -> str:
    """The named reading, taken."""
    if tell.what == "coupler.droop":
        return read("coupler.droop", tell.at, VALUES[tell.what], with_=f"new {U[tell.what]}")
    return read(tell.what, tell.at, VALUES[tell.what], with_=f"new {U[tell.what]}")


def of(kind: str, story: str) -> list[tuple[str, tuple[str, ...], Tell]]:
    """Tells of one kind of reading."""
    return [each for each in tells(STORIES[story]) if each[2].what == kind]


CASES = sorted({(tell.what, story) for story, body in STORIES.items() for _, _, tell in tells(body)})


def test_the_stories_name_many_kinds_of_reading() -> None:
    assert len({kind for kind, _ in CASES}) >= 5


@pytest.mark.parametrize(("kind", "story"), [case for case in CASES if case[0] not in {"profile", "frame.height"}])
def test_the_reading_named_tells_as_much_as_it_promises(kind: str, story: str) -> None:
    for at, names, tell in of(kind, story):
        before = variance(STORIES[story], at, names)
        after = variance(STORIES[story] + taken(tell), at, names)
        loose = 0.15 if any("droop" in name for name in names) else 0.03  # a droop is cut off at zero
        assert 1 - after / before == pytest.approx(tell.cut, abs=loose), (at, names, tell)


def profile_tells(story: str) -> list[tuple[float, float]]:
    """Promised and found cuts of a profile."""
    found = []
    for at, names, tell in of("profile", story):
        before = variance(STORIES[story], at, names)
        found.append((tell.cut, 1 - variance(STORIES[story] + profile(0.35, "new 0.03"), at, names) / before))
    return found


PROFILED = [story for kind, story in CASES if kind == "profile" and "profile" in STORIES[story]]


@pytest.mark.parametrize("story", [story for kind, story in CASES if kind == "profile" and story not in PROFILED])
def test_a_profile_that_is_named_tells_as_much_of_the_frame_as_it_promises(story: str) -> None:
    for promised, got in profile_tells(story):
        assert promised - 0.02 <= got <= promised + 0.15  # nine stations, and the promise is for a coarser gauge


@pytest.mark.parametrize("story", PROFILED)
def test_a_further_profile_tells_as_much_of_the_frame_as_it_promises(story: str) -> None:
    for promised, got in profile_tells(story):
        assert got == pytest.approx(promised, abs=0.1)


@pytest.mark.parametrize(("kind", "story"), [case for case in CASES if case[0] == "frame.height"])
def test_the_frame_at_its_pivot_tells_as_much_as_it_promises(kind: str, story: str) -> None:
    for at, names, tell in of(kind, story):
        before = variance(STORIES[story], at, names)
        after = variance(STORIES[story] + taken(tell), at, names)
        assert 1 - after / before == pytest.approx(tell.cut, abs=0.1), (at, names, tell)


# --- the document ---------------------------------------------------------------------------------------------------

CAUSES = {
    "design", "instrument", "frame.bow", "frame.twist", "frame.kink", "truck.ride", "wheel.diameter", "box.position",
    "shank.offset", "coupler.droop", "unexplained", "frame.bolster",
}  # fmt: skip


@pytest.mark.parametrize("stage", ["received", "last"])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_document_holds_numbers_and_the_keys_that_were_agreed(path: Path, stage: str) -> None:
    inspection = cw.inspect(cw.read_sheet(path), stage=stage)
    document = json.loads(as_json_text(inspection), parse_constant=_refuse)
    assert document["format"] == "carwright-inspection/1"
    for row in document["causes"]:
        assert {"cause", "at", "characteristic", "share_mm", "u_mm", "basis"} <= set(row)
        assert row["cause"] in CAUSES
        assert row["basis"] in {"measured", "assumed", "group"}
        assert row["characteristic"] == "coupler.height"
    for row in document["plans"]:
        assert {"steps", "effort_min", "cost", "p_all_conform", "predicted"} <= set(row)
        assert 0 <= row["p_all_conform"] <= 1
        assert row["steps"]
    assert {"stage", "reason", "couplers", "works"} <= set(document["explanation"])
    assert set(document["bench"]) == {"frame", "balance", "rolling"}
    for row in document["verdict"]["deductions"]:
        assert {"points", "provisional", "settled_by", "category", "cause", "chain"} <= set(row)
    _walk(as_document(inspection), math.isfinite)
    for end in document["explanation"]["couplers"]:
        own = [row["share_mm"] for row in document["causes"] if row["at"] == end["at"]]
        assert math.fsum(own) == pytest.approx(end["value_mm"] - end["nominal_mm"], abs=1e-9)


def test_every_cause_in_the_document_has_one_of_the_three_bases() -> None:
    document = as_document(cw.inspect(cw.read_sheet(Path("examples/ho-flat-car.toml"))))
    assert {row["basis"] for row in document["causes"]} <= {"measured", "assumed", "group"}


def _refuse(constant: str) -> float:
    raise AssertionError(constant)


def _walk(value: Any, good: Callable[[float], bool]) -> None:  # noqa: ANN401 - a document of any shape
    if isinstance(value, dict):
        for each in value.values():
            _walk(each, good)
    elif isinstance(value, list | tuple):
        for each in value:
            _walk(each, good)
    elif isinstance(value, float):
        assert good(value)

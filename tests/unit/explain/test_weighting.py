"""``carwright ballast``: target from the clause, pieces from the drawer, cautions, notes and cars pulled."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

import carwright as cw
from carwright.explain.weighting import Advice
from carwright.tables import shipped

OUNCE = 28.349523125
FLAT = Path("examples/ho-flat-car.toml")
STOCK = {"steel strip": (7.0, 6, 0.10), "tungsten cube": (4.9, 8, 1.40), "lead piece": (7.0, 12, 0.15)}
WEIGHT = (91.8 + 91.9) / 2
LEAD = shipped().table("words/cautions").rows["lead"].words["text"]
GROWTH = shipped().table("words/cautions").rows["lead-growth"].words["text"]
MAGNET = shipped().table("words/cautions").rows["iron-magnet"].words["text"]
HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Flat car"
scale = "HO"
{car}
[car.geometry]
body_length = "6 in"
truck_centers = "4.5 in"
axles_per_truck = 2
"""
POCKETS = "".join(
    f'[[pocket]]\nname = "{name}"\nx = "{x} mm"\nz = "9 mm"\nlength = "36 mm"\nwidth = "20 mm"\nheight = "4 mm"\n'
    for name, x in (("at A", 40), ("at B", -40))
)
DRAWER = 'format = "carwright-stock/1"\n' + "".join(
    f'[[piece]]\nname = "{name}"\nuse = "ballast"\nmass = "5 g"\nsize = ["9 mm", "9 mm", "3.5 mm"]\n'
    f'material = "{material}"\ncost = {cost}\ncount = 4\n'
    for name, material, cost in (("grey", "lead", 0.1), ("dull", "steel", 0.2))
)
"""Three in a row along 36 mm would be 27 mm: twelve of these fit, so both kinds are needed for 40 g."""


def weighed(mass: float, *, car: str = "", more: str = "") -> str:
    entry = f'[[entry]]\nkind = "reading"\nwhat = "weight.total"\nvalues = ["{mass:.1f} g"]\nwith = "pocket scale"\n'
    return HEAD.format(car=car) + more + entry


def advice(text: str, folder: Path, **more: Any) -> Advice:  # noqa: ANN401 - passed on
    found = cw.inspect(cw.read_sheet_text(text, folder=str(folder))).ballast(**more)
    assert not isinstance(found, str)
    return found


@pytest.fixture
def drawer(tmp_path: Path) -> Path:
    (tmp_path / "drawer.toml").write_text(DRAWER, encoding="utf-8")
    return tmp_path


STOCKED = 'stock = "drawer.toml"'


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "carwright", "ballast", *arguments], capture_output=True, text=True, check=False
    )


def told(*arguments: str) -> Any:  # noqa: ANN401 - JSON
    def refuse(name: str) -> None:
        pytest.fail(f"{name} in the document")

    done = run(*arguments, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout, parse_constant=refuse)


@pytest.fixture(scope="module")
def flat() -> Any:  # noqa: ANN401 - JSON
    return told(str(FLAT), "--load", "4.2 in x 1.1 in x 0.5 in")


def test_the_target_is_the_clause_s(flat: Any) -> None:  # noqa: ANN401 - JSON
    """HO: 1 oz and half an ounce for each inch of body (NMRA RP-20.1): 53' 6" is 7.371 in, 4.69 oz."""
    target = (1 + 0.5 * 53.5 * 12 / 87.1) * OUNCE
    assert flat["target"] == pytest.approx(target, rel=1e-9)
    assert flat["needed"] == pytest.approx(target - WEIGHT, rel=1e-9)
    assert flat["least"] < target < flat["most"]
    finding = next(each for each in cw.inspect(cw.read_sheet(FLAT)).last if each.characteristic == "weight.total"
                   and each.lower is not None)  # fmt: skip
    assert finding.lower is not None
    assert finding.upper is not None
    assert finding.half_width is not None
    assert flat["least"] == pytest.approx(finding.lower + finding.half_width)
    assert flat["most"] == pytest.approx(finding.upper - finding.half_width)


@pytest.mark.parametrize("which", ["ballast", "without_lead"])
def test_no_more_is_placed_than_lies_in_the_drawer(flat: Any, which: str) -> None:  # noqa: ANN401 - JSON
    placed: Counter[str] = Counter()
    for each in flat[which]["placed"]:
        assert each["pocket"] in {"well at A", "well at B"}
        assert sum(each["layers"]) == each["count"]
        placed[each["piece"]] += each["count"]
    assert placed
    for name, count in placed.items():
        assert count <= STOCK[name][1]
    assert flat[which]["added"] == pytest.approx(sum(STOCK[name][0] * count for name, count in placed.items()))
    assert flat[which]["cost"] == pytest.approx(sum(STOCK[name][2] * count for name, count in placed.items()))
    assert flat[which]["mass"] == pytest.approx(WEIGHT + flat[which]["added"])
    assert flat["least"] <= flat[which]["mass"] <= flat["most"]


def test_lead_comes_with_its_cautions_and_another_way(flat: Any) -> None:  # noqa: ANN401 - JSON
    assert "lead piece" in {each["piece"] for each in flat["ballast"]["placed"]}
    assert "lead piece" not in {each["piece"] for each in flat["without_lead"]["placed"]}
    assert LEAD in flat["cautions"]
    assert GROWTH in flat["cautions"]  # its deck is of wood
    assert len(set(flat["cautions"])) == len(flat["cautions"])


def test_without_lead_there_is_no_other_way_and_no_caution_of_it(drawer: Path) -> None:
    text = DRAWER.replace('"lead"', '"brass"').replace('"steel"', '"tungsten"')
    (drawer / "drawer.toml").write_text(text, encoding="utf-8")
    found = advice(weighed(80.0, car=STOCKED, more=POCKETS), drawer)
    assert found.ballast is not None
    assert found.ballast.placed
    assert found.without_lead is None
    assert found.cautions == ()


def test_iron_placed_is_warned_of_magnets(drawer: Path) -> None:
    found = advice(weighed(80.0, car=STOCKED, more=POCKETS), drawer)
    assert found.ballast is not None
    assert {each.piece for each in found.ballast.placed} == {"grey", "dull"}
    assert set(found.cautions) == {LEAD, MAGNET}
    assert found.without_lead is not None
    assert {each.piece for each in found.without_lead.placed} == {"dull"}


def test_iron_offered_in_place_of_lead_is_warned_of_magnets(flat: Any) -> None:  # noqa: ANN401 - JSON
    assert "steel strip" in {each["piece"] for each in flat["without_lead"]["placed"]}
    assert MAGNET in flat["cautions"]


def test_lead_in_the_drawer_that_is_not_placed_is_not_warned_of(drawer: Path) -> None:
    (drawer / "drawer.toml").write_text(DRAWER.replace("count = 4", "count = 0", 1), encoding="utf-8")
    found = advice(weighed(85.0, car=STOCKED, more=POCKETS), drawer)
    assert found.ballast is not None
    assert {each.piece for each in found.ballast.placed} == {"dull"}
    assert found.without_lead is None
    assert LEAD not in found.cautions


def test_a_stock_file_goes_before_the_sheet_s(drawer: Path) -> None:
    (drawer / "other.toml").write_text(DRAWER.replace("grey", "other"), encoding="utf-8")
    found = advice(weighed(80.0, car=STOCKED, more=POCKETS), drawer, stock=drawer / "other.toml")
    assert found.ballast is not None
    assert "other" in {each.piece for each in found.ballast.placed}


def test_cars_pulled_are_in_proportion_to_their_weight(flat: Any) -> None:  # noqa: ANN401 - JSON
    assert flat["before"] == 20
    assert flat["after"] == pytest.approx(20 * WEIGHT / flat["ballast"]["mass"])


def test_a_measured_resistance_is_taken_and_a_usual_one_is_said(flat: Any, tmp_path: Path) -> None:  # noqa: ANN401 - JSON
    usual = "rolling resistance taken as 2 % of the weight"
    assert not any(note.startswith(usual) for note in flat["notes"])
    assert any(note.startswith(usual) for note in advice(weighed(90.0), tmp_path).notes)


@pytest.mark.parametrize(
    ("car", "more", "stock", "pocket"), [("", "", True, True), ("", POCKETS, True, False), (STOCKED, "", False, True)]
)
def test_what_is_missing_for_a_placement_is_said(
    *, car: str, more: str, stock: bool, pocket: bool, drawer: Path
) -> None:
    found = advice(weighed(90.0, car=car, more=more), drawer)
    assert found.ballast is None
    assert found.needed > 0
    assert any(note.startswith("no ballast in stock: list it as [[piece]]") for note in found.notes) == stock
    assert any(note.startswith("no pocket on the car: list where ballast fits") for note in found.notes) == pocket
    assert found.after == pytest.approx(20 * 90 / found.target)
    assert any(note.startswith("centre of gravity taken at mid-length") for note in found.notes)
    assert any(note.startswith("height of the centre of gravity taken as 45 scale inches") for note in found.notes)


def test_a_car_heavy_enough_gets_nothing(drawer: Path) -> None:
    found = advice(weighed(140.0, car=STOCKED, more=POCKETS), drawer, size=(100.0, 25.0, 12.0))
    assert found.needed < 0
    assert (found.ballast, found.without_lead, found.load) == (None, None, None)
    assert found.notes[-2] == "the car is heavy enough: nothing to add"
    assert found.before == 20
    assert found.after == pytest.approx(20)


def test_a_car_nobody_weighed_gets_a_reason(tmp_path: Path) -> None:
    sheet = tmp_path / "car.toml"
    sheet.write_text(HEAD.format(car=""), encoding="utf-8")
    done = run(str(sheet))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == ["Flat car: as received", "weigh the complete car first: weight.total"]
    assert told(str(sheet)) == {"format": "carwright-ballast/1", "reason": "weigh the complete car first: weight.total"}


def test_weights_and_tips_give_the_centre_of_gravity(flat: Any) -> None:  # noqa: ANN401 - JSON
    assert flat["notes"] == []
    half = (43 * 12 + 3) * 25.4 / 87.1 / 2
    x = half * (46.8 - 45.1) / (46.8 + 45.1)
    moment = WEIGHT * x
    for each in flat["ballast"]["placed"]:
        place = 1.05 * 25.4 * (1 if each["pocket"] == "well at A" else -1)
        moment += STOCK[each["piece"]][0] * each["count"] * place
    assert flat["ballast"]["x"] == pytest.approx(moment / flat["ballast"]["mass"])


def test_a_load_weighs_what_is_missing(flat: Any) -> None:  # noqa: ANN401 - JSON
    load = flat["load"]
    size = [4.2 * 25.4, 1.1 * 25.4, 0.5 * 25.4]
    assert [load["length"], load["width"], load["height"]] == pytest.approx(size)
    assert load["mass"] == pytest.approx(flat["needed"])
    assert load["density"] == pytest.approx(flat["needed"] / math.prod(size) * 1000)
    core = (size[0] - 3) * (size[1] - 3) * (size[2] - 1.5)
    skin = (math.prod(size) - core) * 1.05 / 1000
    lead = next(each for each in load["mixes"] if each["material"] == "lead")
    density = 11.35
    assert lead["share"] == pytest.approx((flat["needed"] - skin) * 1000 / core / density, rel=2e-3)


def test_a_load_offers_lead_with_its_caution(tmp_path: Path) -> None:
    assert LEAD in advice(weighed(90.0), tmp_path, size=(100.0, 25.0, 12.0)).cautions
    assert LEAD not in advice(weighed(90.0), tmp_path).cautions


def test_the_page_says_all_of_it() -> None:
    done = run(str(FLAT), "--load", "4.2 in x 1.1 in x 0.5 in")
    assert (done.returncode, done.stderr) == (0, "")
    page = done.stdout
    assert page.startswith("Flat car, 53 ft 6 in, Bittern Lake 5320: after straighten\nwanted 4.69 oz (")
    assert re.search(r"\nBest placement: 1\.48 oz added, 0\.90 in pieces\n", page)
    assert "\nThe same without lead: 0.99 oz added" in page
    assert "\nA load of that size must weigh 1.45 oz: 1.08 g/cm3 over all\n" in page
    assert "\nAn engine that pulls 20 such cars now would pull 13.7 at that weight\n" in page
    assert f"  ! {LEAD}\n" in page
    assert "nan" not in page


@pytest.mark.parametrize(
    ("size", "sentence"),
    [
        ("4 in", "expected length x width x height, such as 4.2 in x 1.1 in x 0.5 in"),
        ("100 x 25 x 12 mm", "cannot read '100' (no unit): expected a length with its unit"),
        ("4 oz x 1 in x 1 in", "cannot read '4 oz'"),
    ],
)
def test_a_size_that_cannot_be_read_is_refused(size: str, sentence: str) -> None:
    done = run(str(FLAT), "--load", size)
    assert (done.returncode, done.stdout) == (2, "")
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("size", ["4 in x 1 in x 0.05 in", "-4 in x 1 in x 1 in", "0 in x 1 in x 1 in"])
def test_an_impossible_size_is_refused_in_words(size: str) -> None:
    done = run(str(FLAT), "--load", size)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr


def test_metric_signs_in_a_size_are_read() -> None:
    document = told(str(FLAT), "--load", "100 mm X 25 mm × 12 mm")
    assert [document["load"][key] for key in ("length", "width", "height")] == [100.0, 25.0, 12.0]

"""What a person gets from ``plan``, ``washers`` and ``inspect``: plans, washers by hand, causes, and refusals."""

from __future__ import annotations

import json
import math
import re
from itertools import product
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from carwright.cli import main, verbs
from carwright.errors import CarwrightError

CAR = Path("examples/ho-flat-car.toml")
HOPPER = Path("examples/ho-covered-hopper.toml")
EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
NONSENSE = re.compile(r"[-−]0\.?0*(?![.\d])|\bnan\b|\bNone\b|\binf\b")
"""A negative nothing, and what is no number."""
LOW = """\
format = "carwright-sheet/1"
[car]
title = "Low car"
scale = "HO"
coupler = "knuckle"
[car.geometry]
axles_per_truck = 2
coupler_mount = "body"
body_length = "142 mm"
truck_centers = "108 mm"
coupler_face = "76 mm"
coupler_pivot = "68 mm"
[[entry]]
kind = "reading"
what = "coupler.height"
at = "A"
state = "free"
values = ["9.45 mm", "9.46 mm"]
with = "height gauge"
[[entry]]
kind = "reading"
what = "coupler.height"
at = "B"
state = "free"
values = ["9.50 mm", "9.49 mm"]
with = "height gauge"
"""


def ask(*arguments: str | Path) -> Result:
    """Run a command inside this process."""
    return CliRunner().invoke(verbs, [str(each) for each in arguments])


def said(*arguments: str | Path) -> str:
    """What a command that must work prints."""
    result = ask(*arguments)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def low(tmp_path: Path) -> Path:
    """A car both of whose couplers hang low."""
    path = tmp_path / "low.toml"
    path.write_text(LOW, encoding="utf-8")
    return path


# --- plan ---------------------------------------------------------------------------------------------------------


def test_a_low_car_is_offered_plans_that_differ_in_price(low: Path) -> None:
    plans = json.loads(said("plan", low, "--json"))
    assert plans["format"] == "carwright-plans/1"
    assert plans["plans"]
    assert plans["tried"] >= len(plans["plans"])
    for one, other in product(plans["plans"], plans["plans"]):
        if one is other:
            continue
        worse = {"yes": 0, "partly": 1, "no": 2}
        prices = [(each["effort_min"], each["cost"], each["risk"], worse[each["reversible"]]) for each in (one, other)]
        assert prices[0] != prices[1] or one["p_all_conform"] != other["p_all_conform"]
        assert not (all(mine < theirs for mine, theirs in zip(*prices, strict=True)))
    for plan in plans["plans"]:
        assert 0 <= plan["p_all_conform_open"] <= plan["p_all_conform"] + 0.02
        assert any(step["remedy"] for step in plan["steps"])
        heights = [each for each in plan["predicted"] if each["characteristic"] == "coupler.height"]
        assert {each["at"] for each in heights} == {"A", "B"}
        assert all(each["value_mm"] == pytest.approx(9.9314, abs=0.26) for each in heights)


def test_the_page_on_the_terminal_says_what_the_document_says(low: Path) -> None:
    text, plans = said("plan", low), json.loads(said("plan", low, "--json"))
    assert text.startswith("Low car: as received")
    assert f"{len(plans['plans'])} of {plans['tried']:,} combinations" in text
    for number, plan in enumerate(plans["plans"], 1):
        assert f"Plan {number}: {plan['effort_min']:g} min" in text
        for step in plan["steps"]:
            assert step["words"] in text
            for caution in step["cautions"]:
                assert caution in text
    assert "Cautions remind" in text
    assert re.search(r"^\s+now: A [-−+]", text, re.MULTILINE)


def remedies(*arguments: str | Path) -> set[str]:
    """Remedies of all plans offered."""
    plans = json.loads(said("plan", *arguments, "--json"))["plans"]
    return {step["remedy"] for plan in plans for step in plan["steps"] if step["remedy"]}


def test_a_closed_option_is_in_no_plan(low: Path) -> None:
    offered = remedies(low)
    assert offered
    for closed in sorted(offered):
        assert closed not in remedies(low, "--close", closed)
    all_closed = [part for closed in sorted(offered) for part in ("--close", closed)]
    assert not remedies(low, *all_closed) & offered


def test_an_option_closed_at_one_end_is_open_at_the_other(low: Path) -> None:
    plans = json.loads(said("plan", low, "--close", "washer@A", "--json"))
    assert plans["closed"] == ["washer@A"]
    at = {(step["remedy"], step["at"]) for plan in plans["plans"] for step in plan["steps"]}
    assert ("washer", "A") not in at


def test_where_all_that_cures_is_closed_the_plan_says_so() -> None:
    text = said("plan", CAR, "--close", "refit-part")
    assert "no plan: deck boards is cured only by refit-part, which is closed" in text
    assert json.loads(said("plan", CAR, "--close", "refit-part", "--json"))["plans"] == []


def refusal(*arguments: str | Path) -> str:
    """The sentence of a refusal, which exits with 2."""
    with pytest.raises((CarwrightError, click.ClickException)) as caught:
        verbs.main([str(each) for each in arguments], standalone_mode=False)
    return str(caught.value)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("--close", "wash"), "there is no remedy 'wash'; did you mean 'washer'?"),
        (("--close", "washer@C"), "there is no place 'C' in 'washer@C'; expected A, B, all or an axle"),
        (("--close", "@A"), "there is no remedy ''"),
        (("--exaggerate", "0"), "must be between 1 and 500, got 0"),
        (("--exaggerate", "501"), "must be between 1 and 500, got 501"),
        (("--rubric", "/nowhere.toml"), "cannot read the rubric"),
    ],
)
def test_a_bad_option_is_refused_with_a_sentence(arguments: tuple[str, ...], sentence: str) -> None:
    assert sentence in refusal("plan", CAR, *arguments)


@pytest.mark.parametrize("arguments", [("--close", "wash"), ("--close", "washer@C"), ("--exaggerate", "0")])
def test_a_bad_option_exits_with_two(arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.argv", ["carwright", "plan", str(CAR), *arguments])
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 2


def test_an_exaggeration_that_is_no_number_is_refused(tmp_path: Path) -> None:
    assert ask("report", CAR, "--out", tmp_path, "--exaggerate", "nan").exit_code == 2


# --- washers ------------------------------------------------------------------------------------------------------

GREY, RED = 0.010, 0.015
"""Shipped washers, two of each to be stacked at a place [in]."""
STACKS = sorted({round(grey * GREY + red * RED, 6) for grey in range(3) for red in range(3)} - {0.0})
MOST = 3.5 / 87.1
"""Thickest stack [in]."""


def washers(a: str, b: str, *more: str) -> str:
    """The quick chooser on a car with trucks 4 in apart and couplers 3 in from mid-car."""
    return said("washers", "--a", a, "--b", b, "--truck-centers", "4 in", "--coupler-face", "3 in", *more)


@pytest.mark.parametrize(("a", "b"), [(0.380, 0.375), (0.391, 0.391), (0.370, 0.391), (0.391, 0.360), (0.405, 0.37)])
def test_washers_by_hand(a: float, b: float) -> None:
    up, down = (3 + 2) / 4, (3 - 2) / 4
    choices = [0.0, *(each for each in STACKS if each <= MOST)]

    def left(pair: tuple[float, float]) -> tuple[float, float]:
        mine, far = pair
        return a + up * mine - down * far - 0.391, b + up * far - down * mine - 0.391

    least = min(max(map(abs, left(pair))) for pair in product(choices, choices))
    text = washers(f"{a} in", f"{b} in")
    assert "right height 0.391 in" in text
    assert "lifts its own coupler 1.25 times its thickness and lowers the far one 0.25 times" in text
    chosen = []
    for end in "AB":
        line = next(line for line in text.splitlines() if line.startswith(f"  {end}:"))
        found = re.match(r"  [AB]: (?:([\d.]+) in \(|no washer)", line)
        assert found is not None
        chosen.append(float(found[1] or 0))
    rest = left((chosen[0], chosen[1]))
    assert max(map(abs, rest)) == pytest.approx(least, abs=1e-6)
    for end, height, error in zip("AB", (a, b), rest, strict=True):
        line = next(line for line in text.splitlines() if line.startswith(f"  {end}:"))
        now = re.search(r"then ([\d.]+) in, ([-−+]?)([\d.]+) in from right", line)
        assert now is not None
        assert float(now[1]) == pytest.approx(0.391 + error, abs=6e-4), height
        assert float(now[3]) == pytest.approx(abs(error), abs=6e-4)
        assert not now[2] or (now[2] == "−") == (error < 0)
        assert bool(now[2]) == (abs(error) >= 5e-4)


def test_high_couplers_are_left_and_pointed_at_the_plan() -> None:
    text = washers("0.42 in", "0.41 in")
    assert text.count("no washer") == 2
    assert "+0.029 in from right" in text
    assert "washers only lift. `carwright plan`" in text
    assert "washers only lift" not in washers("0.38 in", "0.375 in")


def test_washers_answer_in_the_persons_units() -> None:
    text = washers("9.6 mm", "9.7 mm")
    assert "right height 9.93 mm" in text
    assert " in from right" not in text


def test_a_nominal_of_ones_own_goes_first() -> None:
    assert "right height 0.400 in" in washers("0.38 in", "0.375 in", "--nominal", "0.400 in")


def test_a_stock_of_ones_own_is_chosen_from(tmp_path: Path) -> None:
    stock = tmp_path / "stock.toml"
    piece = '[[piece]]\nname = "card"\nuse = "washer"\nthickness = "0.3 mm"\ncount = 1\n'
    stock.write_text(f'format = "carwright-stock/1"\n{piece}', encoding="utf-8")
    text = washers("9.6 mm", "9.6 mm", "--stock", str(stock))
    assert text.count("0.30 mm (card)") == 2


@pytest.mark.parametrize(
    ("option", "value", "sentence"),
    [
        ("--a", "0.38", "no unit"),
        ("--a", "0.38 kg", "unknown unit 'kg'"),
        ("--b", "nan", "cannot read 'nan'"),
        ("--truck-centers", "0 in", "truck centers above zero and less than twice the coupler face"),
        ("--truck-centers", "7 in", "truck centers above zero and less than twice the coupler face"),
        ("--coupler-face", "-3 in", "less than twice the coupler face"),
        ("--nominal", "0.39", "no unit"),
        ("--scale", "XX", "there is no scale 'XX'"),
        ("--stock", "/nowhere.toml", "cannot read the stock"),
    ],
)
def test_washers_refuse_what_they_cannot_use(option: str, value: str, sentence: str) -> None:
    given = {"--a": "0.38 in", "--b": "0.375 in", "--truck-centers": "4 in", "--coupler-face": "3 in"} | {option: value}
    assert sentence in refusal("washers", *(part for pair in given.items() for part in pair))


@pytest.mark.parametrize(("option", "value"), [("--a", "-0.38 in"), ("--nominal", "-1 in"), ("--nominal", "0 in")])
def test_washers_refuse_a_height_below_the_rail(option: str, value: str) -> None:
    given = {"--a": "0.38 in", "--b": "0.375 in", "--truck-centers": "4 in", "--coupler-face": "3 in"} | {option: value}
    assert ask("washers", *(part for pair in given.items() for part in pair)).exit_code != 0


def test_a_coupler_that_is_right_has_no_sign() -> None:
    assert "+0.000" not in washers("0.391 in", "0.391 in")


def test_two_washers_are_washers() -> None:
    assert not re.search(r"\b[2-9] \w+ washer\b", washers("0.35 in", "0.35 in"))


# --- inspect ------------------------------------------------------------------------------------------------------


def test_inspect_shows_the_causes_of_each_coupler() -> None:
    text = said("inspect", CAR, "--stage", "received")
    causes = text[text.index("Causes (") :]
    for end in "AB":
        assert f"coupler at {end}: " in causes
    assert re.search(r"frame\.bow\s+\+0\.0\d+ ± 0\.0\d+ in\s+█+\s+measured", causes)
    assert re.search(r"░+\s+assumed; read (box|frame|shank|bolster)\.", causes)
    assert "frame.bow: coupler height at A and coupler height at B" in text


def test_the_shares_shown_add_up_to_the_error_shown() -> None:
    for stage in ("received", "last"):
        document = json.loads(said("inspect", CAR, "--json", "--stage", stage))
        for end in "AB":
            own = [row["share_mm"] for row in document["causes"] if row["at"] == end]
            [finding] = [
                row
                for row in document["findings"]
                if (row["characteristic"], row["at"], row["force"]) == ("coupler.height", end, "adopted")
            ]
            assert math.fsum(own) == pytest.approx(finding["value"] - finding["limits"]["nominal"], abs=1e-9)


def test_without_geometry_the_causes_say_what_they_need(tmp_path: Path) -> None:
    sheet = tmp_path / "bare.toml"
    kept = [line for line in LOW.splitlines() if not line.startswith(("truck_centers", "coupler_face"))]
    sheet.write_text("\n".join(kept), encoding="utf-8")
    text = said("inspect", sheet)
    assert "Causes of the coupler heights: needs truck_centers and coupler_face in [car.geometry]" in text


@pytest.mark.parametrize(
    "command", [("inspect",), ("inspect", "--stage", "received", "--all"), ("plan",), ("ballast",)]
)
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_output_holds_a_negative_nothing_or_no_number(path: Path, command: tuple[str, ...]) -> None:
    result = ask(command[0], path, *command[1:])
    if command[0] == "ballast" and result.exit_code:
        return  # a car nobody weighed has nothing to advise on
    assert result.exit_code == 0
    for line in result.output.splitlines():
        assert not NONSENSE.search(line), line


def test_a_hostile_title_is_only_a_title(tmp_path: Path) -> None:
    title = "</svg><script>1</script>"
    sheet = tmp_path / "hostile.toml"
    sheet.write_text(LOW.replace("Low car", title), encoding="utf-8")
    said("report", sheet, "--out", tmp_path)
    [page] = tmp_path.glob("*.html")
    assert "<script" not in page.read_text(encoding="utf-8")
    assert said("plan", sheet).startswith(title)

"""Units: what people write is read, what is printed can be read back, and nothing hostile gets through."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.errors import UnitError
from carwright.units import (
    EXPECTED,
    FACTORS,
    INSIDE,
    Kind,
    as_fraction,
    as_prototype,
    inside,
    matching_digits,
    outside,
    parse,
    parse_band,
    parse_ratio,
    say,
    shown_unit,
)

SCALES = {"HO": 87.1, "N": 160.0}


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("0.390 in", 9.906),
        ('25/64"', 9.921875),
        ("15 thou", 0.381),
        ("9.93mm", 9.93),
        ("1-1/2 in", 38.1),
        ("1 1/2 in", 38.1),
        ("3½ in", 88.9),
        ("9′ 6-1/2″", 2908.3),
        ("9' 6-1/2\"", 2908.3),
        ("9 ft 6.5 in", 2908.3),
        ("9'-6 1/2\"", 2908.3),
        ("40' HO", 12192 / 87.1),
        ("40' 6\" HO", 12344.4 / 87.1),
        ("40 ft at 1:87.1", 12192 / 87.1),
        ("33 in N", 33 * 25.4 / 160),
        ("2.5 scale in", 2.5 * 25.4 / 87.1),
        ("-0.015 in", -0.381),
        ("−3 mm", -3.0),
        ("0.2 m", 200.0),
        (".5 mm", 0.5),
        ("12 µm", 0.012),
        ("12 μm", 0.012),
        ("1 cm", 10.0),
    ],
)
def test_lengths_are_read(text: str, millimetres: float) -> None:
    assert parse(text, "length", ratio=87.1, scales=SCALES).value == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("3.4 oz", "mass", 96.388378625),
        ("1 lb", "mass", 453.59237),
        ("106 g", "mass", 106.0),
        ("2 %", "slope", math.atan(0.02)),
        ("1:50", "slope", math.atan(0.02)),
        ("1 in 50", "slope", math.atan(0.02)),
        ("45 deg", "slope", math.pi / 4),
        ("180°", "angle", math.pi),
        ("25 gf", "force", 0.24516625),
        ("25 g", "force", 0.24516625),
        ("0.18 m/s2", "acceleration", 180.0),
        ("1 min", "time", 60.0),
        ("1.8 %", "ratio", 0.018),
        ("0.018", "ratio", 0.018),
    ],
)
def test_other_kinds_are_read(text: str, kind: Kind, value: float) -> None:
    assert parse(text, kind).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("0.39", "length"),
        ("3.4", "mass"),
        ("2", "slope"),
        ("10 mm", "mass"),
        ("10 oz", "length"),
        ("1/0 in", "length"),
        ("9,93 mm", "length"),
        ("1e5 mm", "length"),
        ("nan mm", "length"),
        ("inf mm", "length"),
        ("٣ mm", "length"),
        ("", "length"),
        ("mm", "length"),
        ("--3 mm", "length"),
        ("3 mm mm", "length"),
        ("40' XX", "length"),
        ("9' 6 thou", "length"),
        ("99999999999999999999 m", "length"),
        ("1:0", "slope"),
        ("x" * 65, "length"),
    ],
)
def test_what_cannot_be_read_says_what_was_expected(text: str, kind: Kind) -> None:
    with pytest.raises(UnitError, match="expected a") as error:
        parse(text, kind, scales=SCALES)
    assert EXPECTED[kind] in str(error.value)


def test_a_scale_length_needs_its_scale() -> None:
    with pytest.raises(UnitError, match="a scale length needs its scale"):
        parse("2 scale in", "length")


def test_a_comma_is_named() -> None:
    with pytest.raises(UnitError, match="write a decimal point, not a comma"):
        parse("14,4 mm", "length")


@given(st.text(max_size=80), st.sampled_from(sorted(INSIDE)))
def test_hostile_text_is_read_or_refused_in_our_own_words(text: str, kind: Kind) -> None:
    try:
        quantity = parse(text, kind, ratio=87.1, scales=SCALES)
    except UnitError as error:
        assert "\n" not in str(error)  # noqa: PT017 - both outcomes are allowed
    else:
        assert math.isfinite(quantity.value)
        assert quantity.last_place > 0


@given(
    st.sampled_from([(kind, unit) for kind, units in FACTORS.items() for unit in units]),
    st.integers(-99999, 99999),
    st.integers(0, 4),
)
def test_a_number_with_a_unit_goes_in_and_comes_out(pair: tuple[Kind, str], digits: int, places: int) -> None:
    kind, unit = pair
    if kind == "slope":
        digits %= 80
    number = digits / 10**places
    quantity = parse(f"{number:.{places}f} {unit}", kind)
    assert outside(quantity.value, kind, unit) == pytest.approx(number, rel=1e-9, abs=1e-12)
    assert inside(number, kind, unit) == pytest.approx(quantity.value, rel=1e-9, abs=1e-12)
    assert quantity.text.startswith(f"{number:.{places}f}")


@given(st.floats(0.001, 2000), st.sampled_from(["us", "metric"]), st.sampled_from(["length", "mass", "force"]))
def test_what_is_printed_can_be_read_back(value: float, system: str, kind: Kind) -> None:
    text = say(value, kind, system)  # type: ignore[arg-type]
    quantity = parse(text, kind)
    assert abs(quantity.value - value) <= quantity.last_place * 0.5000001


@given(st.integers(1, 4000))
def test_fractions_of_an_inch_round_trip(sixtyfourths: int) -> None:
    value = sixtyfourths / 64 * 25.4
    assert parse(as_fraction(value), "length").value == pytest.approx(value, rel=1e-12)


@given(st.integers(1, 4000))
def test_prototype_feet_and_inches_round_trip(quarters: int) -> None:
    full = quarters / 4 * 25.4
    text = as_prototype(full / 87.1, 87.1)
    assert parse(f"{text} HO", "length", scales=SCALES).value == pytest.approx(full / 87.1, rel=1e-9)


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [
        (10.46, 0.0762, "0.412 ± 0.003 in"),
        (10.46, 0.03, "0.4118 ± 0.0012 in"),
        (10.46, 3.0, "0.41 ± 0.12 in"),
        (10.46, 250.0, "0 ± 10 in"),
        (-0.0001, 0.0762, "0.000 ± 0.003 in"),
    ],
)
def test_uncertainty_sets_the_digits(value: float, u: float, text: str) -> None:
    assert say(value, "length", "us", u) == text


def test_a_slope_prints_as_its_tangent() -> None:
    assert say(math.atan(0.0235), "slope", "us", 0.002) == "2.35 ± 0.20 %"


@given(st.floats(1e-9, 1e6))
def test_matching_digits_show_one_or_two_digits(spread: float) -> None:
    digits = matching_digits(spread)
    shown = round(spread, digits)
    assert digits == 0 or 0.5 * spread <= shown <= 2 * spread


def test_bands() -> None:
    assert parse_band("0.10..0.15 mm", "length") == pytest.approx((0.10, 0.15))
    assert parse_band("0.1 mm..0.15 mm", "length") == pytest.approx((0.10, 0.15))
    assert parse_band("< 0.05 mm", "length") == pytest.approx((0.0, 0.05))
    assert parse_band("4 thou", "length") == pytest.approx((0.1016, 0.1016))
    with pytest.raises(UnitError, match="the smaller number first"):
        parse_band("0.2..0.1 mm", "length")


def test_ratios() -> None:
    assert parse_ratio("1:87.1") == 87.1
    for text in ("87.1", "1:0", "1:5000", "HO"):
        with pytest.raises(UnitError, match=r"expected a scale ratio such as 1:87\.1"):
            parse_ratio(text)


def test_shown_units() -> None:
    assert (shown_unit("length", "us"), shown_unit("mass", "metric")) == ("in", "g")
    with pytest.raises(UnitError, match="expected a mass"):
        inside(1.0, "mass", "in")

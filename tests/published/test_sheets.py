"""Table rows spot-checked against their sheets, and the worked examples of the weight rules.

Figures were read in the sheets named, or in texts that quote them (then *second-hand*); each case says which.
"""

from __future__ import annotations

import pytest

import carwright as cw
from carwright.inspection import words_of
from carwright.judge import resolve
from carwright.tables import load_rules, shipped


@pytest.mark.parametrize(
    ("table", "row", "column", "value"),
    [
        # NMRA S-4.2 Wheels, limits edition (text), inches
        ("nmra/s-4.2", "HO", "K_max", 0.605),
        ("nmra/s-4.2", "HO", "B_min", 0.566),
        ("nmra/s-4.2", "HO", "N_min", 0.108),
        ("nmra/s-4.2", "HO", "D_max", 0.028),
        ("nmra/s-4.2", "N", "B_min", 0.297),
        ("nmra/s-4.2", "O", "K_max", 1.179),
        ("nmra/s-4.2", "S", "B_min", 0.800),
        ("nmra/s-4.2", "Z", "K_max", 0.236),
        ("nmra/s-4.2", "TT", "D_max", 0.026),
        # NMRA S-4.1, corrected edition (text), inches
        ("nmra/s-4.1", "Proto48", "B_min", 1.100),
        ("nmra/s-4.1", "Proto48", "B_max", 1.112),
        # NMRA RP-25 (text), inches
        ("nmra/rp-25", "110", "T", 0.030),
        ("nmra/rp-25", "88", "N", 0.088),
        # NMRA S-2 (second-hand), inches
        ("nmra/s-2", "HO", "height", 0.391),
        # NMRA RP-20.1 (second-hand), ounces
        ("nmra/rp-20.1", "N", "per_inch", 0.15),
        ("nmra/rp-20.1", "O", "initial", 5.0),
        # NEM 310:2009 (text, partial), millimetres
        ("nem/310-2009", "16.5", "B_min", 14.4),
        ("nem/310-2009", "16.5", "B_max", 14.6),
        ("nem/310-2009", "9", "K_max", 8.1),
        # NEM 310:1977 (text), millimetres
        ("nem/310-1977", "16.5", "B_min", 14.3),
        ("nem/310-1977", "45", "K_max", 41.8),
        # NEM 302:2015 (text), grams per millimetre over buffers
        ("nem/302-2015", "H0", "g_per_mm", 0.40),
        ("nem/302-2015", "II", "g_per_mm", 4.00),
        # NEM 303:2015 (text), millimetres
        ("nem/303-2015", "H0", "h", 12.2),
        ("nem/303-2015", "H0", "a", 20.0),
        # 49 CFR 231.31(a), annual edition of 1 October 2006 (text), prototype inches
        ("cfr/231.31", "standard", "low", 31.5),
        ("cfr/231.31", "standard", "high", 34.5),
        ("cfr/231.31", "three-foot", "low", 23.0),
        ("cfr/231.31", "two-foot", "high", 17.5),
        # P87.1 (text), millimetres
        ("p87/p87.1", "Proto87.1", "B_min", 15.48),
    ],
)
def test_a_figure_is_that_of_its_sheet(table: str, row: str, column: str, value: float) -> None:
    rows = shipped().table(table).rows
    name = row if row in rows else f"{float(row)}"
    assert rows[name].cells[column].value == value


def limits_of(sheet: str, clause_id: str) -> tuple[float | None, float | None, float | None]:
    history = cw.read_sheet_text(sheet).history
    words = words_of(shipped())
    rules = load_rules(history.rules, scale=history.scale, tables=shipped(), words=words)
    clause = next(each for each in rules.clauses if each.id == clause_id)
    found = resolve(clause, history, {})
    return found.nominal, found.lower, found.upper


def car(scale: str, rules: str, geometry: str) -> str:
    return (
        f'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "{scale}"\nrules = [{rules}]\n'
        f"[car.geometry]\n{geometry}\n"
    )


@pytest.mark.parametrize(
    ("length", "ounces"),
    [
        ("5.5 in", 3.75),  # a hobby page's worked example (common practice)
        ("8.0 in", 5.0),  # the same
        ("6.0 in", 4.0),  # the example in the sheet's own wording (second-hand)
    ],
)
def test_the_weight_rule_in_ho(length: str, ounces: float) -> None:
    """NMRA RP-20.1: initial weight plus weight per inch of the body, couplers left out."""
    nominal, lower, upper = limits_of(
        car("HO", '"nmra", "bench"', f'body_length = "{length}"\ncoupler_face = "4.5 in"'),
        "bench/practice/HO/weight.total",
    )
    assert nominal == pytest.approx(ounces * 28.349523125)
    assert lower == pytest.approx((ounces - 0.5) * 28.349523125)
    assert upper == pytest.approx((ounces + 0.5) * 28.349523125)


def test_the_weight_rule_in_n() -> None:
    """NMRA RP-20.1 (second-hand): N 0.5 oz + 0.15 oz per inch: a 3 in body is 0.95 oz."""
    nominal, _, _ = limits_of(car("N", '"bench"', 'body_length = "3 in"'), "bench/practice/N/weight.total")
    assert nominal == pytest.approx(0.95 * 28.349523125)


def test_the_european_mass_is_over_buffers() -> None:
    """NEM 302:2015: H0 0.40 g per mm over buffers, nothing below: 104.5 mm is 41.8 g."""
    _, lower, upper = limits_of(
        car("H0", '"nem"', 'length_over_buffers = "104.5 mm"\nbody_length = "91 mm"'), "nem/302-2015/H0/weight.total"
    )
    assert lower == pytest.approx(41.8)
    assert upper is None


@pytest.mark.parametrize(
    ("scale", "low", "high"),
    [
        ("O", 0.656, 0.719),
        ("S", 0.492, 0.539),
        ("HO", 0.362, 0.396),
        ("TT", 0.263, 0.288),
        ("N", 0.197, 0.216),
        ("Z", 0.143, 0.157),
        ("On3", 0.479, 0.542),
        ("HOn3", 0.264, 0.299),
        ("On2", 0.302, 0.365),
    ],
)
def test_the_drawbar_law_scaled(scale: str, low: float, high: float) -> None:
    """49 CFR 231.31 divided by the scale ratio, as computed by hand beside the law's text (derived)."""
    _, lower, upper = limits_of(car(scale, '"nmra"', ""), f"cfr/231.31-scaled/{scale}/coupler.height")
    assert lower is not None
    assert upper is not None
    assert lower / 25.4 == pytest.approx(low, abs=0.0005001)
    assert upper / 25.4 == pytest.approx(high, abs=0.0005001)


def test_the_ho_height_lies_in_the_laws_band() -> None:
    """Derived: 0.391 in × 87.1 = 34.06 prototype inches, within 31½ to 34½; 25/64 in is 34.02."""
    assert 31.5 < 0.391 * 87.1 < 34.5
    assert pytest.approx(34.02, abs=0.03) == 25 / 64 * 87.1


def test_check_gauge_is_back_to_back_plus_flange() -> None:
    """NEM 310:2009: K max = B max + T min and K min = B min + T min hold exactly at 9, 12 and 16.5 mm."""
    rows = shipped().table("nem/310-2009").rows
    for name, row in rows.items():
        if float(name) in {9.0, 12.0, 16.5}:
            cells = {key: cell.value or 0.0 for key, cell in row.cells.items()}
            assert cells["K_max"] == pytest.approx(cells["B_max"] + cells["T_min"])
            assert cells["K_min"] == pytest.approx(cells["B_min"] + cells["T_min"])


def test_the_derived_window_is_k_less_t() -> None:
    """B max = K max − T of the matching RP-25 code (derived): HO 0.575 in, N 0.303 in."""
    derived = shipped().table("nmra/s-4.2-derived").rows
    assert derived["HO"].cells["B_max"].value == pytest.approx(0.605 - 0.030)
    assert derived["N"].cells["B_max"].value == pytest.approx(0.323 - 0.020)


def test_a_wheelset_passes_the_old_sheet_and_fails_the_new() -> None:
    """NEM 310: at 14.33 mm it passes the edition of 1977 (B ≥ 14.3) and fails that of 2009 (14.4 to 14.6)."""
    inspection = cw.inspect(cw.read_sheet("examples/h0-four-wheel-van.toml"))
    new = {
        each.at: each.outcome for each in inspection.findings if each.clause == "nem/310-2009/16.5/wheel.back_to_back"
    }
    old = {each.at: each.outcome for each in inspection.older if each.clause == "nem/310-1977/16.5/wheel.back_to_back"}
    assert new == {"1": "fails", "2": "fails"}
    assert old == {"1": "conforms", "2": "conforms"}


def test_exact_conversion_factors() -> None:
    """NIST SP 811, appendix B: the inch and the avoirdupois ounce and pound are exact."""
    from carwright.units import parse  # noqa: PLC0415 - one check

    assert parse("1 in", "length").value == 25.4
    assert parse("1 oz", "mass").value == 28.349523125
    assert parse("1 lb", "mass").value == 453.59237
    assert parse("1 ozf", "force").value == pytest.approx(0.2780138509537812)

"""What an instrument is taken to do, and how that is said."""

from __future__ import annotations

import pytest

import carwright as cw
from carwright.history import Figures
from carwright.inspection import words_of
from carwright.measure import values_at
from carwright.tables import shipped

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n'


def figures(instrument: str, name: str = "mine", value: str = "0.40 in") -> Figures:
    with_ = f'with = "{name}"\n' if name else ""
    body = f'[[entry]]\nkind = "reading"\nwhat = "coupler.height"\nat = "A"\nvalues = ["{value}"]\n{with_}'
    return cw.read_sheet_text(HEAD + instrument + body).history.readings[0].figures


def test_declared_figures_are_taken() -> None:
    found = figures(
        '[[instrument]]\nname = "mine"\nresolution = "0.01 mm"\ncalibration = "0.02 mm"\n'
        'repeatability = "0.03 mm"\nrepeatability_n = 20\n'
    )
    assert (found.resolution, found.calibration, found.repeatability, found.dof) == (0.01, 0.02, 0.03, 19.0)
    assert found.basis == "declared"


def test_a_preset_is_a_judgement_worth_five_degrees_of_freedom() -> None:
    found = figures("", "calliper")
    assert (found.repeatability, found.dof, found.basis) == (0.02, 5.0, "judgement")
    mixed = figures('[[instrument]]\nname = "mine"\npreset = "calliper"\nresolution = "0.02 mm"\n')
    assert (mixed.resolution, mixed.calibration, mixed.basis) == (0.02, 0.02, "judgement")


def test_without_an_instrument_the_digits_written_speak() -> None:
    found = figures("", "", "0.40 in")
    assert found.resolution == pytest.approx(0.254)
    assert found.repeatability == pytest.approx(0.254)
    assert found.calibration == pytest.approx(0.127)
    assert (found.name, found.basis, found.dof) == ("digits written", "assumed", 5.0)


def test_to_leave_the_instrument_out_never_makes_a_reading_surer() -> None:
    unnamed, named = figures("", "", "9.93 mm"), figures("", "height gauge", "9.93 mm")
    assert unnamed.calibration >= named.calibration
    assert unnamed.repeatability >= named.repeatability


def test_digits_of_another_size_speak_for_another_instrument() -> None:
    text = HEAD + '[[entry]]\nkind = "reading"\nwhat = "weight.total"\nvalues = ["112 g", "4 oz", "113 g"]\n'
    readings = cw.read_sheet_text(text).history.readings
    assert [[quantity.text for quantity in each.values] for each in readings] == [["112 g", "113 g"], ["4 oz"]]
    [value] = values_at(cw.read_sheet_text(text).history, words_of(shipped()), 0).found.values()
    assert value.places[0].u < 2.0
    assert value.places[0].estimate == pytest.approx(112.5, abs=0.2)


def test_missing_figures_are_assumed_from_the_resolution() -> None:
    found = figures('[[instrument]]\nname = "mine"\nresolution = "0.1 mm"\n')
    assert (found.calibration, found.repeatability, found.basis) == (0.05, 0.05, "assumed")


def test_a_gauge_is_no_instrument() -> None:
    with pytest.raises(cw.SheetError, match="'mine' is a gauge: it belongs in an entry of kind gauge"):
        figures('[[instrument]]\nname = "mine"\nkind = "gauge"\naccepts = ["14 mm", "15 mm"]\n')


@pytest.mark.parametrize(
    ("keys", "fault"),
    [
        ('accepts = ["15 mm", "14 mm"]', "must accept a lower and a higher limit"),
        ('accepts = ["14 mm", "15 g"]', "expected a length"),
        ('accepts = ["14 mm"]', "needs a lower and an upper limit"),
    ],
)
def test_a_gauge_accepts_a_lower_and_a_higher_limit(keys: str, fault: str) -> None:
    text = f'[[instrument]]\nname = "g"\nkind = "gauge"\n{keys}\n'
    check = '[[entry]]\nkind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "pass"\nwith = "g"\n'
    with pytest.raises(cw.SheetError, match=fault):
        cw.read_sheet_text(HEAD + text + check)


def test_calibration_below_zero_or_of_another_kind_is_refused() -> None:
    for bad, fault in (("-0.1 mm", "must be above zero"), ("1 g", "does not go with its resolution")):
        with pytest.raises(cw.SheetError, match=fault):
            figures(f'[[instrument]]\nname = "mine"\nresolution = "0.1 mm"\ncalibration = "{bad}"\n')

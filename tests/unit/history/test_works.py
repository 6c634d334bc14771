"""Amounts of works, faces, and priors of contributions: of the right kind, or refused in one sentence."""

from __future__ import annotations

import pytest

import carwright as cw
from carwright.history import History
from carwright.history.works import read_amount

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n[car.geometry]\naxles_per_truck = 2\n'


def table(name: str, **keys: str) -> str:
    return f"[[{name}]]\n" + "".join(f"{key} = '{value}'\n" for key, value in keys.items())


def work(remedy: str, **keys: str) -> str:
    return table("entry", kind="work", remedy=remedy, **keys)


def read(body: str) -> History:
    return cw.read_sheet_text(HEAD + body).history


def fault(body: str) -> str:
    with pytest.raises(cw.SheetError) as error:
        cw.read_sheet_text(HEAD + body, file="car.toml")
    (found,) = str(error.value).splitlines()
    return found


@pytest.mark.parametrize(
    ("text", "wanted", "remedy", "found"),
    [
        ("0.015 in", "length", "washer", (0.381, "mm")),
        ("-0.015 in", "length", "washer", (-0.381, "mm")),
        ("-12 g", "mass", "ballast", (-12.0, "g")),
        ("-1 oz", "mass", "add-load", (-28.349523125, "g")),
        ("2 mm", "any", "move-ballast", (2.0, "mm")),
        ("2 g", "any", "move-ballast", (2.0, "g")),
        ("0 mm", "length", "box-shim", (0.0, "mm")),
    ],
)
def test_an_amount_comes_in_mm_or_g(text: str, wanted: str, remedy: str, found: tuple[float, str]) -> None:
    read_back = read_amount(text, wanted, remedy)
    assert not isinstance(read_back, str)
    assert read_back[0] == pytest.approx(found[0])
    assert read_back[1] == found[1]


@pytest.mark.parametrize(
    ("text", "wanted", "remedy", "sentence"),
    [
        ("1 mm", "", "free-bearings", "free-bearings takes no amount"),
        (
            "-0.1 mm", "length", "box-shim",
            "'-0.1 mm' is below zero: box-shim never undoes itself; write the remedy that was done",
        ),
        ("-3 g", "any", "move-ballast", "'-3 g' is below zero: move-ballast never undoes itself"),
        ("3 mm", "mass", "ballast", "cannot read '3 mm': expected a mass with its unit, such as 3.75 oz or 106 g"),
        ("3 g", "length", "washer", "cannot read '3 g': expected a length with its unit"),
        ("3 s", "any", "move-ballast", "expected a length with its unit"),
        ("3", "any", "move-ballast", "or a mass with its unit, such as 3.75 oz or 106 g"),
    ],
)  # fmt: skip
def test_a_wrong_amount_is_a_sentence(text: str, wanted: str, remedy: str, sentence: str) -> None:
    found = read_amount(text, wanted, remedy)
    assert isinstance(found, str)
    assert sentence in found


def test_works_keep_their_amounts_faces_and_stages() -> None:
    history = read(
        work("washer", at="A", amount="0.015 in")
        + work("washer", at="A", amount="-0.015 in", note="taken out")
        + work("dress-shank", at="B", amount="0.1 mm", face="under")
        + work("ballast", amount="-5 g")
        + work("free-bearings", at="A")
    )
    assert [(each.remedy, each.at, each.kind, each.face, each.stage) for each in history.works] == [
        ("washer", "A", "mm", "", 1),
        ("washer", "A", "mm", "", 2),
        ("dress-shank", "B", "mm", "under", 3),
        ("ballast", "", "g", "", 4),
        ("free-bearings", "A", "", "", 5),
    ]
    assert [each.size for each in history.works] == [
        pytest.approx(0.381), pytest.approx(-0.381), pytest.approx(0.1), -5.0, None,
    ]  # fmt: skip
    assert history.stages[2].title == "after washer -0.015 in at A"


@pytest.mark.parametrize(
    ("body", "line", "sentence"),
    [
        (
            work("box-shim", at="A", amount="-0.1 mm"), 11,
            "amount: '-0.1 mm' is below zero: box-shim never undoes itself; write the remedy that was done",
        ),
        (
            work("free-bearings", amount="1 mm"), 10,
            "entry 1 (work free-bearings), amount: free-bearings takes no amount",
        ),
        (
            work("ballast", amount="3 mm"), 10,
            "amount: cannot read '3 mm': expected a mass with its unit, such as 3.75 oz or 106 g",
        ),
        (
            work("washer", at="A", amount="3 g"), 11,
            "entry 1 (work washer at A), amount: cannot read '3 g': expected a length with its unit",
        ),
        (
            work("box-shim", at="A", face="top"), 11,
            "entry 1 (work box-shim at A), face: only a shank has a face that is dressed",
        ),
        (
            work("dress-shank", at="A", face="left"), 11,
            "entry 1 (work dress-shank at A), face: 'left' is not known: expected 'top' or 'under'",
        ),
        (work("straightn"), 9, "remedy: unknown remedy 'straightn'; did you mean 'straighten'?"),
        (work("box-shim", amount="0.1 mm"), 7, "entry 1 (work box-shim), at: box-shim needs the place it was done at"),
        (
            table("entry", kind="reading", what="wheel.diameter", at="1") + 'values = ["9.64 mm"]\nturned = true\n', 12,
            "turned: only a reading at an end of the car has the car turned end for end",
        ),
        (
            table("prior", what="truck.ride", u="0 mm", source="x"), 9,
            "prior 1 (truck.ride), u: u must be above zero, got '0 mm'",
        ),
        (
            table("prior", what="frame.bow", u="-0.1 mm", source="x"), 9,
            "prior 1 (frame.bow), u: u must be above zero, got '-0.1 mm'",
        ),
        (
            table("prior", what="truck.rid", u="1 mm", source="x"), 8,
            "prior 1 (truck.rid), what: unknown characteristic 'truck.rid'; did you mean 'truck.ride'?",
        ),
        (
            table("prior", what="truck.ride", u="1 g", source="x"), 7,
            "prior 1 (truck.ride): cannot read '1 g' (unknown unit 'g'): expected a length with its unit",
        ),
        (table("prior", what="coupler.height", at="A", u="1 mm", source="x"), 7, "(coupler.height): needs value"),
    ],
)  # fmt: skip
def test_bad_works_and_priors_are_refused_at_their_line(body: str, line: int, sentence: str) -> None:
    found = fault(body)
    assert sentence in found
    assert found.startswith(f"car.toml:{line}: ")


def test_a_contribution_s_prior_becomes_its_spread() -> None:
    history = read(table("prior", what="truck.ride", u="0.2 mm", source="maker") + table(
        "prior", what="frame.bow", value="0.3 mm", u="6 scale in", source="maker"
    ))  # fmt: skip
    assert [(each.what, each.value, each.source) for each in history.spreads] == [
        ("truck.ride", 0.0, "maker"),
        ("frame.bow", pytest.approx(0.3), "maker"),
    ]
    assert [each.u for each in history.spreads] == [pytest.approx(0.2), pytest.approx(6 * 25.4 / 87.1)]
    assert history.priors == ()


def test_a_reading_at_an_end_may_have_the_car_turned() -> None:
    body = table("entry", kind="reading", what="coupler.height", at="A") + 'values = ["9.9 mm"]\nturned = true\n'
    assert read(body).readings[0].turned is True

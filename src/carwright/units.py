"""Lengths, masses, angles, forces and times: read as people write them, kept in one unit inside.

Inside: mm, g, rad, N, s, mm/s² (:data:`INSIDE`). Outside: ``0.390 in``, ``25/64"``, ``15 thou``, ``3.4 oz``,
``9' 6-1/2"``, ``2 %``, ``1:50``. Conversion factors are exact: the inch is 25.4 mm, the pound 453.59237 g
(NIST SP 811, appendix B), standard gravity 9.80665 m/s² (3rd CGPM, 1901).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from carwright.errors import UnitError

Kind = Literal["length", "mass", "angle", "slope", "force", "acceleration", "time", "ratio"]
System = Literal["us", "metric"]

INSIDE: Mapping[Kind, str] = {
    "length": "mm",
    "mass": "g",
    "angle": "rad",
    "slope": "rad",
    "force": "N",
    "acceleration": "mm/s2",
    "time": "s",
    "ratio": "1",
}
"""The unit each kind of quantity is kept in."""

EXPECTED: Mapping[Kind, str] = {
    "length": 'a length with its unit, such as 0.391 in, 25/64", 15 thou or 9.93 mm',
    "mass": "a mass with its unit, such as 3.75 oz or 106 g",
    "angle": "an angle with its unit, such as 12 deg or 0.2 rad",
    "slope": "a slope, such as 2 %, 1:50, 1 in 50 or 1.15 deg",
    "force": "a force with its unit, such as 25 gf, 0.9 ozf or 240 mN",
    "acceleration": "an acceleration with its unit, such as 180 mm/s2 or 0.18 m/s2",
    "time": "a time with its unit, such as 2.4 s or 1 min",
    "ratio": "a plain number or a percentage, such as 0.018 or 1.8 %",
}

GRAVITY = 9806.65
"""Standard acceleration of free fall [mm/s²], exact."""

_LENGTH = {
    "mm": 1.0, "millimetres": 1.0, "millimeters": 1.0, "cm": 10.0, "m": 1000.0, "um": 0.001, "µm": 0.001,
    "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4,
    "ft": 304.8, "foot": 304.8, "feet": 304.8, "'": 304.8,
    "thou": 0.0254, "mil": 0.0254, "mils": 0.0254,
}  # fmt: skip
_MASS = {
    "g": 1.0, "gram": 1.0, "grams": 1.0, "kg": 1000.0, "mg": 0.001,
    "oz": 28.349523125, "ounce": 28.349523125, "ounces": 28.349523125, "lb": 453.59237, "lbs": 453.59237,
}  # fmt: skip
_ANGLE = {"rad": 1.0, "mrad": 0.001, "deg": math.pi / 180, "degree": math.pi / 180, "degrees": math.pi / 180,
          "°": math.pi / 180}  # fmt: skip
_FORCE = {
    "N": 1.0, "mN": 0.001,
    "gf": 0.00980665, "g": 0.00980665, "ozf": 0.2780138509537812, "oz": 0.2780138509537812,
}  # fmt: skip
_ACCELERATION = {"mm/s2": 1.0, "mm/s²": 1.0, "mm/s^2": 1.0, "m/s2": 1000.0, "m/s²": 1000.0, "m/s^2": 1000.0}
_TIME = {"s": 1.0, "sec": 1.0, "ms": 0.001, "min": 60.0, "h": 3600.0}
_GRADE = {"%": 0.01, "percent": 0.01, "‰": 0.001}
FACTORS: Mapping[Kind, Mapping[str, float]] = {
    "length": _LENGTH,
    "mass": _MASS,
    "angle": _ANGLE,
    "slope": _ANGLE,
    "force": _FORCE,
    "acceleration": _ACCELERATION,
    "time": _TIME,
    "ratio": _GRADE | {"": 1.0},
}
"""Inside units in one of each outside unit."""

_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅓": "1/3",
    "⅔": "2/3",
}
_SAME = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"', "“": '"', "−": "-", "–": "-", "⁄": "/",
                       "\u00a0": " ", "\u202f": " ", "μ": "µ"})  # fmt: skip
_MIXED = r"(?:(?P<whole>\d+)[ -]+)?(?P<num>\d+)/(?P<den>\d+)"
_DECIMAL = r"(?P<dec>\d+(?:\.\d*)?|\.\d+)"
_NUMBER = re.compile(rf"(?P<sign>[+-]?) ?(?:{_MIXED}|{_DECIMAL}) ?(?P<unit>\D.*)?\Z", re.ASCII)
_FEET = re.compile(r"(?P<sign>[+-]?) ?(?P<feet>\d+) ?(?:'|ft|feet|foot) ?-? ?(?P<inches>\d[^'f]*)\Z", re.ASCII)
_SCALED = re.compile(
    r"(?P<body>.*?)\s*(?:at\s+)?(?:1:(?P<ratio>\d+(?:\.\d+)?)|(?P<name>[A-Z0-9][A-Za-z0-9./]*))\Z", re.ASCII
)
_SLOPE = re.compile(r"1 ?(?::|in) ?(?P<run>\d+(?:\.\d+)?)\Z", re.ASCII)
_LONGEST = 64
_LARGEST = 1e9


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, as a person wrote it.

    Attributes
    ----------
    kind : str
        What it measures.
    value : float
        In the unit of :data:`INSIDE`.
    last_place : float
        One unit in the last written place, same unit; the digits written speak.
    unit : str
        The unit written.
    text : str
        The text itself.
    """

    kind: Kind
    value: float
    last_place: float
    unit: str
    text: str


def parse(text: str, kind: Kind, *, ratio: float | None = None, scales: Mapping[str, float] | None = None) -> Quantity:
    """Read a quantity.

    Parameters
    ----------
    text : str
        What was written, at most 64 characters.
    kind : str
        What is expected.
    ratio : float, optional
        Scale ratio for ``scale in`` and ``scale ft`` [-].
    scales : mapping, optional
        Ratios by scale name, so that ``40' HO`` is a prototype length taken to HO [-].

    Returns
    -------
    Quantity
        In mm, g, rad, N, s or mm/s²; a slope is the angle whose tangent was written.

    Raises
    ------
    UnitError
        "cannot read '0.39': expected a length with its unit, such as ..."
    """
    if len(text) > _LONGEST:
        raise UnitError(text, EXPECTED[kind], f"longer than {_LONGEST} characters")
    plain = _plain(text)
    quantity = _parse_length(plain, text, ratio, scales or {}) if kind == "length" else _parse_other(plain, text, kind)
    if not abs(quantity.value) <= _LARGEST:
        raise UnitError(text, EXPECTED[kind], "far too large")
    return quantity


@lru_cache(maxsize=4096)
def _plain(text: str) -> str:
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, " " + fraction)
    return " ".join(text.translate(_SAME).split())


def _number(plain: str, text: str, kind: Kind) -> tuple[float, float, str]:
    """Value, last place and unit of ``3 1/2 in`` or ``3.50 in``, in the unit written."""
    match = _NUMBER.match(plain)
    if match is None or re.search(r"\d,\d", plain):
        why = "write a decimal point, not a comma" if re.search(r"\d,\d", plain) else ""
        raise UnitError(text, EXPECTED[kind], why)
    if match["dec"] is not None:
        size = float(match["dec"])
        place = 10.0 ** -len(match["dec"].partition(".")[2])
    else:
        if int(match["den"]) == 0:
            raise UnitError(text, EXPECTED[kind], "a fraction over zero")
        size = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
        place = 1.0 / int(match["den"])
    return (-size if match["sign"] == "-" else size), place, (match["unit"] or "").strip()


def _parse_length(plain: str, text: str, ratio: float | None, scales: Mapping[str, float]) -> Quantity:
    feet = _FEET.match(plain)
    if feet is not None:
        inches = feet["inches"].strip()
        if not inches.endswith(('"', "in", "inches", "inch")):
            scaled = _scaled(plain, text, scales)
            if scaled is not None:
                return scaled
            inches += '"'
        size, place, unit = _number(inches, text, "length")
        if unit not in {'"', "in", "inch", "inches"}:
            scaled = _scaled(plain, text, scales)
            if scaled is not None:
                return scaled
            raise UnitError(text, EXPECTED["length"], f"{unit!r} after feet")
        value = (int(feet["feet"]) * 12 + size) * 25.4
        return Quantity("length", -value if feet["sign"] == "-" else value, place * 25.4, "ft in", text)
    size, place, unit = _number(plain, text, "length")
    if unit.startswith("scale "):
        factor = _LENGTH.get(unit.removeprefix("scale ").strip())
        if factor is None or ratio is None:
            raise UnitError(text, EXPECTED["length"], "a scale length needs its scale" if factor else "")
        return Quantity("length", size * factor / ratio, place * factor / ratio, unit, text)
    factor = _LENGTH.get(unit)
    if factor is None:
        scaled = _scaled(plain, text, scales)
        if scaled is not None:
            return scaled
        raise UnitError(text, EXPECTED["length"], f"unknown unit {unit!r}" if unit else "no unit")
    return Quantity("length", size * factor, place * factor, unit, text)


def _scaled(plain: str, text: str, scales: Mapping[str, float]) -> Quantity | None:
    """``9' 6" HO`` or ``40 ft at 1:87.1``: a prototype length taken to a named scale; None if none is named."""
    match = _SCALED.match(plain)
    if match is None or not match["body"]:
        return None
    ratio = float(match["ratio"]) if match["ratio"] else scales.get(match["name"])
    if not ratio:
        return None
    full = _parse_length(match["body"].strip(), text, None, {})
    return replace(full, value=full.value / ratio, last_place=full.last_place / ratio)


def _parse_other(plain: str, text: str, kind: Kind) -> Quantity:
    if kind == "slope":
        steep = _SLOPE.match(plain)
        if steep is not None and float(steep["run"]) > 0:
            run = float(steep["run"])
            return Quantity(kind, math.atan(1 / run), 1 / run - 1 / (run + 1), "1:n", text)
    size, place, unit = _number(plain, text, kind)
    if kind == "slope" and unit in _GRADE:
        factor = _GRADE[unit]
        return Quantity(kind, math.atan(size * factor), place * factor, unit, text)
    wanted = FACTORS[kind].get(unit)
    if wanted is None:
        raise UnitError(text, EXPECTED[kind], f"unknown unit {unit!r}" if unit else "no unit")
    return Quantity(kind, size * wanted, place * wanted, unit, text)


_BARE = re.compile(
    r"[-+−<>~ ]*(?:\d+(?:[ -]\d+/\d+|/\d+|[.,]\d*)?|\d* ?[¼-¾⅐-⅞]|[.,]\d+)|[-+−]?[\d.,]+\.\.[\d.,]+", re.ASCII
)


def is_bare(text: str) -> bool:
    """Whether a text is a number, a fraction or a band of numbers without a unit: one may be put behind it."""
    return _BARE.fullmatch(text) is not None


def parse_band(text: str, kind: Kind) -> tuple[float, float]:
    """Read a quantity, a range or a bound: ``0.1 mm``, ``0.10..0.15 mm``, ``< 0.05 mm``.

    Parameters
    ----------
    text : str
        What was written.
    kind : str
        What is expected.

    Returns
    -------
    tuple[float, float]
        Lower and upper end, equal for a plain quantity; 0 below a bound [inside unit].

    Raises
    ------
    UnitError
        As :func:`parse`, or when the range runs downward.
    """
    if text.lstrip().startswith("<"):
        bound = parse(text.lstrip().removeprefix("<"), kind).value
        if bound <= 0:
            raise UnitError(text, "a bound above zero, such as < 0.05 mm")
        return 0.0, bound
    low, dots, high = text.partition("..")
    if not dots:
        value = parse(text, kind).value
        return value, value
    upper = parse(high, kind)
    try:
        lower = parse(low, kind).value
    except UnitError:
        lower = parse(f"{low.strip()} {upper.unit}", kind).value
    if lower > upper.value:
        raise UnitError(text, "the smaller number first, such as 0.10..0.15 mm")
    return lower, upper.value


def parse_ratio(text: str) -> float:
    """Read a scale ratio such as ``1:87.1``.

    Returns
    -------
    float
        87.1 [-].

    Raises
    ------
    UnitError
        "cannot read '87': expected a scale ratio such as 1:87.1"
    """
    match = re.fullmatch(r"1 ?: ?(\d+(?:\.\d+)?)", text.strip(), re.ASCII)
    if match is None or not 1 <= float(match[1]) <= 1000:  # noqa: PLR2004 - no scale model lies outside
        raise UnitError(text, "a scale ratio such as 1:87.1")
    return float(match[1])


_SHOWN: Mapping[tuple[Kind, System], tuple[str, int]] = {
    ("length", "us"): ("in", 3),
    ("length", "metric"): ("mm", 2),
    ("mass", "us"): ("oz", 2),
    ("mass", "metric"): ("g", 1),
    ("angle", "us"): ("deg", 1),
    ("angle", "metric"): ("deg", 1),
    ("slope", "us"): ("%", 2),
    ("slope", "metric"): ("%", 2),
    ("force", "us"): ("ozf", 2),
    ("force", "metric"): ("mN", 0),
    ("acceleration", "us"): ("mm/s2", 0),
    ("acceleration", "metric"): ("mm/s2", 0),
    ("time", "us"): ("s", 1),
    ("time", "metric"): ("s", 1),
    ("ratio", "us"): ("%", 2),
    ("ratio", "metric"): ("%", 2),
}


def shown_unit(kind: Kind, system: System) -> str:
    """Unit a quantity is printed in."""
    return _SHOWN[kind, system][0]


def outside(value: float, kind: Kind, unit: str) -> float:
    """Take a value from its inside unit to ``unit``; a slope in % is its tangent."""
    if unit in _GRADE and kind == "slope":
        return math.tan(value) / _GRADE[unit]
    return value / FACTORS[kind][unit]


def inside(number: float, kind: Kind, unit: str) -> float:
    """Take a number in ``unit`` to the inside unit; a slope in % becomes its angle.

    Raises
    ------
    UnitError
        When the unit does not belong to the kind.
    """
    if unit in _GRADE and kind == "slope":
        return math.atan(number * _GRADE[unit])
    factor = FACTORS[kind].get("" if unit == "1" else unit)
    if factor is None:
        raise UnitError(f"{number} {unit}", EXPECTED[kind])
    return number * factor


def say(value: float, kind: Kind, system: System, u: float | None = None, *, unit: bool = True) -> str:
    """Write a value, with its uncertainty at matching digits.

    Parameters
    ----------
    value, u : float
        In the inside unit; ``u`` may be any half-width the caller names.
    kind, system : str
        What it measures and which units the person uses.
    unit : bool
        Whether the unit is written.

    Returns
    -------
    str
        ``0.412 ± 0.003 in``: u keeps two digits when its first is 1 or 2, otherwise one.
    """
    name, digits = _SHOWN[kind, system]
    number = outside(value, kind, name)
    tail = f" {name}" if unit else ""
    if u is None or u <= 0:
        return f"{_fixed(number, digits)}{tail}"
    spread = u / FACTORS[kind][name] if name not in _GRADE else u * (1 + math.tan(value) ** 2) / _GRADE[name]
    if kind == "ratio":
        spread = u / _GRADE[name]
    digits = min(matching_digits(spread), 6)
    return f"{_fixed(number, digits)} ± {_fixed(spread, digits)}{tail}"


def say_probability(p: float) -> str:
    """``0.801``, ``< 0.001`` or ``> 0.999``."""
    least = 0.001
    return f"< {least}" if p < least else f"> {1 - least}" if p > 1 - least else f"{p:.3f}"


def matching_digits(spread: float) -> int:
    """Decimals that show ``spread`` > 0 with one digit, or two when its first is 1 or 2."""
    exponent = math.floor(math.log10(spread))
    first = round(spread / 10.0**exponent, 1)
    return max(0, -exponent + (1 if first < 3 else 0))  # noqa: PLR2004 - the rule just stated


def _fixed(number: float, digits: int) -> str:
    text = f"{number:.{digits}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def as_fraction(value: float, *, denominator: int = 64) -> str:
    """Nearest inch fraction: 9.921875 mm is ``25/64"``.

    Parameters
    ----------
    value : float
        Length [mm].
    denominator : int
        Finest division, a power of two [-].
    """
    steps = round(abs(value) / 25.4 * denominator)
    whole, part = divmod(steps, denominator)
    sign = "-" if value < 0 and steps else ""
    if not part:
        return f'{sign}{whole}"'
    fraction = Fraction(part, denominator)
    text = f"{fraction.numerator}/{fraction.denominator}"
    return f'{sign}{whole}-{text}"' if whole else f'{sign}{text}"'


def as_prototype(value: float, ratio: float, *, denominator: int = 4) -> str:
    """Full-size feet and inches of a model length: 34.94 mm at 1:87.1 is ``9' 11-3/4"``.

    Parameters
    ----------
    value : float
        Model length [mm].
    ratio : float
        Scale ratio [-].
    denominator : int
        Finest division of the inch [-].
    """
    steps = round(abs(value) * ratio / 25.4 * denominator)
    feet, rest = divmod(steps, 12 * denominator)
    sign = "-" if value < 0 and steps else ""
    inches = as_fraction(rest / denominator * 25.4, denominator=denominator)
    return f"{sign}{feet}' {inches}" if feet else f"{sign}{inches}"

"""The rubric: categories, points and words of a verdict, as a file the user may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from carwright.errors import TableError
from carwright.judge import Thresholds
from carwright.tables.load import read_toml
from carwright.tables.model import FORCES
from carwright.tables.shape import check_shape
from carwright.verdict.status import STATUSES
from carwright.words import nearest

FORMAT = "carwright-rubric/1"
GRADES = ("slight", "marked", "spoilt", "missing")
_FAR = ("scale_in", "share", "percent")
_FILE_KEYS = {
    **dict.fromkeys(("format", "id", "title", "note"), "a text"),
    "charges": "a list of texts",
    **dict.fromkeys(("further_places", "least_examined"), "a number of zero or more"),
    **dict.fromkeys(("thresholds", "service", "fidelity"), "a table"),
    **dict.fromkeys(("category", "charge", "look", "band"), "a list of tables"),
}
_NUMBER = "a number of zero or more"
_CATEGORY_KEYS = {"id": "a text", "title": "a text", "points": _NUMBER}
_BAND_KEYS = {"from": _NUMBER, "word": "a text"}
_THRESHOLD_KEYS = {"conform": _NUMBER, "fail": _NUMBER}
_SERVICE_KEYS = {"needs": "a list of texts or of lists of texts"}
_FIDELITY_KEYS = {"class": "a text"}
_FAR_KEYS = dict.fromkeys(_FAR, _NUMBER)
_CHARGE_KEYS = {
    "about": "a list of texts",
    **dict.fromkeys(("cause", "category", "status", "status_far"), "a text"),
    **dict.fromkeys(("least", "most"), _NUMBER),
    "far": "a table",
}
_LOOK_KEYS = {
    **dict.fromkeys(("what", "category", "status", "status_from"), "a text"),
    **dict.fromkeys(GRADES, _NUMBER),
}


@dataclass(frozen=True, slots=True)
class Category:
    """A group of faults and the most it can cost [points]."""

    id: str
    title: str
    points: float


@dataclass(frozen=True, slots=True)
class ChargeRule:
    """What a failing clause about a characteristic costs."""

    about: tuple[str, ...]
    cause: str
    category: str
    least: float
    most: float
    far: Mapping[str, float]
    status: str
    status_far: str


@dataclass(frozen=True, slots=True)
class LookRule:
    """What each grade of a look costs, and from which grade it changes the status."""

    what: str
    category: str
    points: Mapping[str, float]
    status: str
    status_from: str


@dataclass(frozen=True, slots=True)
class Rubric:
    """All of it.

    Attributes
    ----------
    id, title, file : str
        What it is called, and where it was read.
    charges : tuple[str, ...]
        Forces that may cost points.
    further_places : float
        Share of the first charge that the same cause costs at each further place [-].
    thresholds : Thresholds
        When a value conforms or fails.
    categories, charge_rules, look_rules, bands
        As in the file.
    least_examined : float
        Share of all points that must have been examined before a band is given [-].
    needs : tuple of tuples
        Characteristics that hold a car while they are open; of each group at least one must be judged.
    fidelity : str
        Tolerance class dimensions are judged by, a row of ``fidelity/classes``.
    """

    id: str
    title: str
    file: str
    charges: tuple[str, ...]
    further_places: float
    thresholds: Thresholds
    categories: tuple[Category, ...]
    charge_rules: tuple[ChargeRule, ...]
    look_rules: Mapping[str, LookRule]
    bands: tuple[tuple[float, str], ...]
    least_examined: float
    needs: tuple[tuple[str, ...], ...]
    fidelity: str = "close"

    @property
    def out_of(self) -> float:
        """All points [points]."""
        return sum(category.points for category in self.categories)

    def rule_for(self, characteristic: str) -> ChargeRule | None:
        """First charge rule about a characteristic."""
        for rule in self.charge_rules:
            if any(fnmatchcase(characteristic, pattern) for pattern in rule.about):
                return rule
        return None

    def band(self, share: float) -> str:
        """Word for a share of all points."""
        return next((word for least, word in self.bands if share >= least), self.bands[-1][1])


@lru_cache(maxsize=1)
def _shipped() -> Rubric:
    text = (files("carwright.verdict") / "rubrics" / "bench.toml").read_text("utf-8")
    return read_rubric(text, "rubrics/bench.toml")


def load_rubric(path: str = "", folder: str = "") -> Rubric:
    """The shipped rubric, or a file of the user's relative to ``folder``.

    Raises
    ------
    TableError
        When the file cannot be read or is not as it must be.
    """
    if not path:
        return _shipped()
    file = Path(folder) / path
    try:
        text = file.read_text("utf-8")
    except (OSError, ValueError) as error:
        raise TableError(repr(str(file)), f"cannot read the rubric: {error}") from error
    return read_rubric(text, str(file))


def read_rubric(text: str, file: str) -> Rubric:
    """Read a rubric.

    Parameters
    ----------
    text : str
        TOML.
    file : str
        Its name, for errors.

    Raises
    ------
    TableError
        Names the file, the row and what was expected.
    """
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {raw.get('format')!r}")
    check_shape(raw, _FILE_KEYS, file)
    for name, keys in (("category", _CATEGORY_KEYS), ("band", _BAND_KEYS)):
        for number, row in enumerate(raw.get(name, []), 1):
            check_shape(row, keys, f"{file}, {name} {number}")
    check_shape(raw.get("thresholds", {}), _THRESHOLD_KEYS, f"{file}, thresholds")
    check_shape(raw.get("service", {}), _SERVICE_KEYS, f"{file}, service")
    check_shape(raw.get("fidelity", {}), _FIDELITY_KEYS, f"{file}, fidelity")
    categories = tuple(
        Category(_text(row, "id", f"{file}, category {i}"), _text(row, "title", f"{file}, category {i}"),
                 _number(row, "points", f"{file}, category {i}"))
        for i, row in enumerate(raw.get("category", []), 1)
    )  # fmt: skip
    if not categories:
        raise TableError(file, "needs at least one category")
    ids = [category.id for category in categories]
    limits = raw.get("thresholds", {})
    thresholds = Thresholds(float(limits.get("conform", 0.95)), float(limits.get("fail", 0.05)))
    if not 0 < thresholds.fail < 0.5 < thresholds.conform < 1:  # noqa: PLR2004 - the two must not cross
        raise TableError(file, "thresholds must be fail < 0.5 < conform, between 0 and 1")
    charges = tuple(raw.get("charges", []))
    for force in charges:
        if force not in FORCES:
            raise TableError(file, f"charges: unknown force {force!r}{nearest(force, FORCES)}")
    bands = sorted(
        ((_number(row, "from", f"{file}, band {i}"), _text(row, "word", f"{file}, band {i}"))
         for i, row in enumerate(raw.get("band", []), 1)), reverse=True,
    )  # fmt: skip
    if not bands or bands[-1][0] != 0:
        raise TableError(file, "needs bands, the last from 0")
    looks = [_look(row, ids, f"{file}, look {i}") for i, row in enumerate(raw.get("look", []), 1)]
    return Rubric(
        id=_text(raw, "id", file),
        title=_text(raw, "title", file),
        file=file,
        charges=charges,
        further_places=float(raw.get("further_places", 1.0)),
        thresholds=thresholds,
        categories=categories,
        charge_rules=tuple(_charge(row, ids, f"{file}, charge {i}") for i, row in enumerate(raw.get("charge", []), 1)),
        look_rules={look.what: look for look in looks},
        bands=tuple(bands),
        least_examined=float(raw.get("least_examined", 0.0)),
        needs=tuple(
            (each,) if isinstance(each, str) else tuple(each) for each in raw.get("service", {}).get("needs", [])
        ),
        fidelity=raw.get("fidelity", {}).get("class", "close"),
    )


def _charge(row: Mapping[str, Any], ids: list[str], place: str) -> ChargeRule:
    check_shape(row, _CHARGE_KEYS, place)
    check_shape(row.get("far", {}), _FAR_KEYS, f"{place}, far")
    least, most = _number(row, "least", place), _number(row, "most", place)
    if most < least:
        raise TableError(place, f"most must be at least least, got {most} and {least}")
    far = row.get("far", {})
    if most > least and (len(far) != 1 or set(far) - set(_FAR) or min(far.values()) <= 0):
        raise TableError(place, f"far must be one of {', '.join(_FAR)} and above zero")
    about = row.get("about")
    if not isinstance(about, list) or not about:
        raise TableError(place, "needs about, a list of characteristics")
    return ChargeRule(
        tuple(about), _text(row, "cause", place), _category(row, ids, place), least, most, far,
        _status(row, "status", place), _status(row, "status_far", place),
    )  # fmt: skip


def _look(row: Mapping[str, Any], ids: list[str], place: str) -> LookRule:
    check_shape(row, _LOOK_KEYS, place)
    points = {grade: _number(row, grade, place) for grade in GRADES}
    start = row.get("status_from", "spoilt")
    if start not in GRADES:
        raise TableError(place, f"status_from must be one of {', '.join(GRADES)}")
    return LookRule(_text(row, "what", place), _category(row, ids, place), points, _status(row, "status", place), start)


def _text(row: Mapping[str, Any], key: str, place: str) -> str:
    value = row.get(key)
    if not isinstance(value, str) or not value:
        raise TableError(place, f"needs {key}")
    return value


def _number(row: Mapping[str, Any], key: str, place: str) -> float:
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or value < 0:
        raise TableError(place, f"{key} must be a number of zero or more, got {value!r}")
    return float(value)


def _category(row: Mapping[str, Any], ids: list[str], place: str) -> str:
    name = _text(row, "category", place)
    if name not in ids:
        raise TableError(place, f"unknown category {name!r}{nearest(name, ids)}")
    return name


def _status(row: Mapping[str, Any], key: str, place: str) -> str:
    value = str(row.get(key, ""))
    if value and value not in STATUSES:
        raise TableError(place, f"{key} must be one of {', '.join(STATUSES)}")
    return value

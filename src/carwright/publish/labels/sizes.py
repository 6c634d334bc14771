"""Sheets of labels: where on the paper each label stands, read from a table and checked before anything is printed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, get_args

from carwright.errors import TableError, UnitError, UnknownNameError
from carwright.publish.report.printed import PAPERS, Paper
from carwright.publish.scene import Point
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.units import parse
from carwright.words import nearest

KINDS = ("box", "shelf", "tag")
"""What a label is for: the car's box, its place on a shelf, a car that is held."""
DEFAULTS: Mapping[str, str] = {"box": "a4-63x38", "shelf": "a4-shelf", "tag": "a4-tag"}
"""Sheet taken for each kind where none is named."""
STANDINGS = ("memory", "own")
"""Where a grid comes from: written down from memory, or this program's own."""
_FILE = "labels/sizes.toml"
_ROUNDING = 1e-6
"""What a sum of lengths may miss the paper by and still lie on it [mm]."""

_LENGTHS = ("width", "height", "left", "top", "pitch_x", "pitch_y")
_COUNT = "a number of zero or more"
_KEYS = {
    **dict.fromkeys(("id", "paper", "status"), "a text"),
    **dict.fromkeys(("columns", "rows"), _COUNT),
    **dict.fromkeys((*_LENGTHS, "cut"), "anything"),
    "kinds": "a list of texts",
}


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels.

    Attributes
    ----------
    id : str
        Paper and size, such as ``a4-63x38``.
    paper : str
        ``a4`` or ``letter``.
    columns, rows : int
        How many labels stand side by side, and one below the other [-].
    width, height : float
        Of a label [mm].
    left, top : float
        From the paper's edges to the first label [mm].
    pitch_x, pitch_y : float
        From a label's edge to the same edge of the next one [mm].
    kinds : tuple[str, ...]
        What it suits: ``box``, ``shelf``, ``tag``.
    cut : bool
        Whether the user cuts it, so that cut lines are drawn.
    status : str
        ``memory`` or ``own``.
    """

    id: str
    paper: Paper
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    pitch_x: float
    pitch_y: float
    kinds: tuple[str, ...]
    cut: bool
    status: str

    @property
    def per_page(self) -> int:
        """Labels on one sheet."""
        return self.columns * self.rows

    @property
    def page(self) -> tuple[float, float]:
        """Width and height of the paper [mm]."""
        return PAPERS[self.paper]

    def corner(self, place: int) -> Point:
        """Upper left corner of a label; places count from 0, row by row from the upper left [mm]."""
        row, column = divmod(place, self.columns)
        return self.left + column * self.pitch_x, self.top + row * self.pitch_y

    def edges(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Where labels begin and end, across and down, each once [mm]."""
        across = {round(self.left + n * self.pitch_x + far, 3) for n in range(self.columns) for far in (0, self.width)}
        down = {round(self.top + n * self.pitch_y + far, 3) for n in range(self.rows) for far in (0, self.height)}
        return tuple(sorted(across)), tuple(sorted(down))


@lru_cache(maxsize=1)
def label_sheets() -> Mapping[str, LabelSheet]:
    """The shipped sheets by id, in the order of their file."""
    return read_label_sheets(files("carwright.publish").joinpath(_FILE).read_text("utf-8"))


def label_sheet(name: str) -> LabelSheet:
    """A sheet by its id.

    Raises
    ------
    UnknownNameError
        "there is no label size 'a4-63x83'; did you mean 'a4-63x38'?"
    """
    known = label_sheets()
    if name not in known:
        raise UnknownNameError("label size", name, nearest(name, known))
    return known[name]


def read_label_sheets(text: str, file: str = _FILE) -> Mapping[str, LabelSheet]:
    """Sheets from their table.

    Parameters
    ----------
    text : str
        TOML, a ``[[sheet]]`` for each.
    file : str
        Its name, for messages.

    Raises
    ------
    TableError
        "<file>, sheet 2 (a4-63x38): 3 columns end at 214.3 mm, the paper at 210 mm"
    """
    document = read_toml(text, file)
    check_shape(document, {"sheet": "a list of tables"}, file)
    found: dict[str, LabelSheet] = {}
    for number, row in enumerate(document.get("sheet", []), 1):
        place = f"{file}, sheet {number} ({str(row.get('id', 'no id'))[:40]})"
        sheet = _sheet(row, place)
        if sheet.id in found:
            raise TableError(place, "a sheet of that id is there already")
        found[sheet.id] = sheet
    return found


def _sheet(row: Mapping[str, Any], place: str) -> LabelSheet:
    check_shape(row, _KEYS, place)
    missing = [key for key in _KEYS if key != "cut" and key not in row]
    if missing:
        raise TableError(place, f"needs {', '.join(missing)}")
    paper: Paper | None = next((each for each in get_args(Paper) if each == row["paper"]), None)
    if paper is None:
        raise TableError(place, f"paper must be {' or '.join(PAPERS)}, got {row['paper'][:40]!r}")
    if row["status"] not in STANDINGS:
        raise TableError(place, f"status must be {' or '.join(STANDINGS)}, got {row['status'][:40]!r}")
    if not row["kinds"] or not set(row["kinds"]) <= set(KINDS):
        raise TableError(place, f"kinds must be some of {', '.join(KINDS)}, got {', '.join(row['kinds'])[:40]!r}")
    if not isinstance(row.get("cut", False), bool):
        raise TableError(place, f"cut must be true or false, got {str(row['cut'])[:40]!r}")
    for name in ("columns", "rows"):
        if not isinstance(row[name], int) or row[name] < 1:
            raise TableError(place, f"{name} must be a whole number of one or more, got {row[name]}")
    sizes = {name: _length(row[name], name, place) for name in _LENGTHS}
    sheet = LabelSheet(
        id=row["id"],
        paper=paper,
        columns=row["columns"],
        rows=row["rows"],
        kinds=tuple(row["kinds"]),
        cut=row.get("cut", False),
        status=row["status"],
        **sizes,
    )
    _check_room(sheet, place)
    return sheet


def _length(value: object, name: str, place: str) -> float:
    """A length as a number of millimetres or as a text with its unit [mm]."""
    if isinstance(value, str):
        try:
            found = parse(value, "length").value
        except UnitError as error:
            raise TableError(place, f"{name}: {error}") from error
    elif isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        found = float(value)
    else:
        raise TableError(place, f"{name} must be millimetres or a text such as '1 in', got {str(value)[:40]!r}")
    if found < 0 or (found == 0 and name not in {"left", "top"}):
        least = "zero or more" if name in {"left", "top"} else "above zero"
        raise TableError(place, f"{name} must be {least}, got {found:g} mm")
    return found


def _check_room(sheet: LabelSheet, place: str) -> None:
    """Labels lie on the paper and not on one another."""
    for count, many, size, start, pitch, paper in (
        (sheet.columns, "columns", sheet.width, sheet.left, sheet.pitch_x, sheet.page[0]),
        (sheet.rows, "rows", sheet.height, sheet.top, sheet.pitch_y, sheet.page[1]),
    ):
        if count > 1 and pitch < size - _ROUNDING:
            raise TableError(place, f"{many} overlap: labels of {size:g} mm stand {pitch:g} mm apart")
        end = start + (count - 1) * pitch + size
        if end > paper + _ROUNDING:
            raise TableError(place, f"{count} {many} end at {end:g} mm, the paper at {paper:g} mm")

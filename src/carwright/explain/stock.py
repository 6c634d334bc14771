"""Stock: what lies in the drawer to choose from, shipped or the person's own ``carwright-stock/1`` file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from carwright.errors import TableError, UnitError
from carwright.history import History
from carwright.tables import Tables
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.units import Kind, parse
from carwright.words import nearest

FORMAT = "carwright-stock/1"
USES = ("washer", "shim", "shank-high", "shank-low", "wheel", "ballast")
_TEXTS = ("name", "use", "thickness", "diameter", "mass", "material")
_KEYS = {**dict.fromkeys(_TEXTS, "a text"), "size": "a list of texts", "cost": "a number of zero or more",
         "count": "a number of zero or more"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Item:
    """One kind of thing in stock.

    Attributes
    ----------
    name, use, material : str
        ``use`` is one of :data:`USES`.
    thickness : float
        Of a washer or shim, offset of a shank, diameter of a wheel; 0 for ballast [mm].
    mass : float
        Of a piece of ballast [g].
    size : tuple[float, ...]
        Its three edges [mm].
    cost : float
        Of one.
    count : int
        How many there are; of shipped stock, how many may be stacked at one place.
    """

    name: str
    use: str
    material: str = ""
    thickness: float = 0.0
    mass: float = 0.0
    size: tuple[float, ...] = ()
    cost: float = 0.0
    count: int = 1


def stock_of(history: History, tables: Tables) -> tuple[Item, ...]:
    """The car's stock: its own file where the sheet names one, the usual drawer otherwise.

    Raises
    ------
    TableError
        Names the file, the piece and what was expected.
    """
    if history.stock:
        return read_stock(Path(history.folder) / history.stock)
    return usual_stock(tables)


def usual_stock(tables: Tables) -> tuple[Item, ...]:
    """Washers, strip and shanks a bench usually has."""
    found = []
    for name, row in tables.table("words/stock").rows.items():
        thickness = (row.cells["thickness"].value or 0.0) * 25.4
        found.append(Item(name, row.words["use"], thickness=thickness, count=int(row.cells["count"].value or 1)))
    return tuple(found)


def read_stock(path: Path) -> tuple[Item, ...]:
    """Read a stock file.

    Raises
    ------
    TableError
        "stock.toml, piece 2 (red washer): thickness must be above zero, got '-0.015 in'" and the like.
    """
    try:
        text = path.read_text("utf-8")
    except (OSError, ValueError) as error:
        raise TableError(repr(str(path)), f"cannot read the stock: {error}") from error
    return read_stock_text(text, str(path))


def read_stock_text(text: str, file: str) -> tuple[Item, ...]:
    """Read stock from its text; see :func:`read_stock`."""
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {raw.get('format')!r}")
    check_shape(raw, {"format": "a text", "piece": "a list of tables"}, file)
    rows = raw.get("piece", [])
    found = tuple(_item(row, f"{file}, piece {number}") for number, row in enumerate(rows, 1))
    if not found:
        raise TableError(file, "needs at least one [[piece]]")
    return found


def _item(row: Mapping[str, Any], place: str) -> Item:
    check_shape(row, _KEYS, place)
    name = str(row.get("name", ""))
    if not name:
        raise TableError(place, "needs name")
    place = f"{place} ({name})"
    use = str(row.get("use", "ballast"))
    if use not in USES:
        raise TableError(place, f"unknown use {use!r}{nearest(use, USES)}")
    key = "mass" if use == "ballast" else "diameter" if use == "wheel" else "thickness"
    amount = _above_zero(row, key, "mass" if key == "mass" else "length", place)
    count = row.get("count", 1)
    if count != int(count):
        raise TableError(place, f"count must be a whole number, got {count!r}")
    size = tuple(_length(text, "size", place) for text in row.get("size", []))
    if use == "ballast" and len(size) != 3:  # noqa: PLR2004 - three edges
        raise TableError(place, f"needs size, its three edges, got {len(size)}")
    return Item(
        name,
        use,
        str(row.get("material", "")),
        thickness=0.0 if use == "ballast" else amount,
        mass=amount if use == "ballast" else 0.0,
        size=size,
        cost=float(row.get("cost", 0.0)),
        count=int(count),
    )


def _above_zero(row: Mapping[str, Any], key: str, kind: Kind, place: str) -> float:
    text = row.get(key)
    if text is None:
        raise TableError(place, f"needs {key}")
    try:
        value = parse(str(text), kind).value
    except UnitError as error:
        raise TableError(place, f"{key}: {error}") from error
    if value <= 0:
        raise TableError(place, f"{key} must be above zero, got {text!r}")
    return value


def _length(text: str, key: str, place: str) -> float:
    return _above_zero({key: text}, key, "length", place)


def stacks(items: Iterable[Item], use: str, most: float) -> list[tuple[float, float, str]]:
    """Every thickness that can be stacked from stock: thickness [mm], cost, and of what; thinnest first.

    Parameters
    ----------
    items : iterable of Item
        Stock.
    use : str
        ``washer`` or ``shim``.
    most : float
        Thickest stack that makes sense [mm].
    """
    own = [item for item in items if item.use == use and item.count > 0]
    found: dict[float, tuple[float, float, str, int]] = {}
    for counts in product(*(range(min(item.count, 4) + 1) for item in own)):
        total = sum(count * item.thickness for count, item in zip(counts, own, strict=True))
        if not 0 < total <= most * 1.0001:
            continue
        pieces, cost = sum(counts), sum(count * item.cost for count, item in zip(counts, own, strict=True))
        words = " and ".join(
            f"{count} x {item.name}" if count > 1 else item.name
            for count, item in zip(counts, own, strict=True)
            if count
        )
        key = round(total, 4)
        if key not in found or (pieces, cost) < (found[key][3], found[key][1]):
            found[key] = (total, cost, words, pieces)
    return [found[key][:3] for key in sorted(found)]


def washers_for(
    *, high_a: float, high_b: float, up: float, down: float, stock: Sequence[Item], most: float
) -> tuple[float, float, float, float]:
    """The pair of washer stacks that leaves both couplers nearest their height, from the heights alone.

    A washer t under an end lifts its own coupler by ``up`` t and lowers the far one by ``down`` t (DESIGN §7). Washers
    only lift: a high coupler wants the far end lifted, as far as that helps.

    Parameters
    ----------
    high_a, high_b : float
        Coupler heights above nominal, negative where low [mm].
    up, down : float
        (e + a)/2a and (e − a)/2a, down ≥ 0 [-].
    stock : sequence of Item
        With its washers.
    most : float
        Thickest stack [mm].

    Returns
    -------
    tuple[float, float, float, float]
        Stack at A and at B, and what is left at A and at B [mm].

    Raises
    ------
    ValueError
        "up must be > 0 and down >= 0, got 1.2 and -0.2"
    """
    if not (up > 0 and down >= 0):
        msg = f"up must be > 0 and down >= 0, got {up} and {down}"
        raise ValueError(msg)
    choices = [0.0, *(thickness for thickness, _, _ in stacks(stock, "washer", most))]

    def left(pair: tuple[float, float]) -> tuple[float, float]:
        a, b = pair
        return high_a + up * a - down * b, high_b + up * b - down * a

    def worst(pair: tuple[float, float]) -> tuple[float, float]:
        rest = left(pair)
        return round(max(abs(rest[0]), abs(rest[1])), 9), sum(pair)

    best = min(product(choices, choices), key=worst)
    return (*best, *left(best))

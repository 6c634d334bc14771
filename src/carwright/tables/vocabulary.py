"""The names a sheet may use, gathered from the tables that define them."""

from __future__ import annotations

from typing import cast

from carwright.errors import TableError
from carwright.tables.load import Tables
from carwright.tables.model import Row
from carwright.units import INSIDE, Kind
from carwright.words import Characteristic, Places, Remedy, Scale, Vocabulary

_PLACES = ("none", "ends", "axles", "wheels", "sides", "directions")


def vocabulary(tables: Tables) -> Vocabulary:
    """Gather every name.

    Parameters
    ----------
    tables : Tables
        The shipped ones, or a test's own.

    Raises
    ------
    TableError
        When a defining row is not as it must be.
    """
    scales: dict[str, Scale] = {}
    for table_id in ("scales/nmra", "scales/nem"):
        for name, row in tables.table(table_id).rows.items():
            scale = _scale(row)
            if scale is not None:
                scales.setdefault(name, scale)
    return Vocabulary(
        characteristics={
            name: _characteristic(row) for name, row in tables.table("words/characteristics").rows.items()
        },
        scales=scales,
        instruments={name: row.words for name, row in tables.table("words/instruments").rows.items()},
        remedies={name: _remedy(row) for name, row in tables.table("words/remedies").rows.items()},
        looks={name: row.words["title"] for name, row in tables.table("words/looks").rows.items()},
        rule_sets=tables.rule_sets(),
        european=frozenset(tables.table("scales/nem").rows) - frozenset(tables.table("scales/nmra").rows),
    )


def _scale(row: Row) -> Scale | None:
    ratio, gauge, track = (row.cells[name] for name in ("ratio", "gauge", "track"))
    if ratio.value is None or gauge.value is None:
        return None
    return Scale(row.key, ratio.value, gauge.value * (25.4 if gauge.unit == "in" else 1.0), track.value)


def _characteristic(row: Row) -> Characteristic:
    words = row.words
    kind = words.get("kind") or None
    if kind is not None and kind not in INSIDE:
        raise TableError(row.key, f"kind {kind!r} must be one of {', '.join(INSIDE)}")
    if words["places"] not in _PLACES or words["combine"] not in {"repeat", "every"}:
        raise TableError(row.key, f"places must be one of {', '.join(_PLACES)} and combine repeat or every")
    number = {name: cell.value for name, cell in row.cells.items()}
    return Characteristic(
        id=row.key,
        title=words["title"],
        kind=cast("Kind | None", kind),
        places=cast("Places", words["places"]),
        combine="every" if words["combine"] == "every" else "repeat",
        bounded=words.get("bounded") == "yes",
        believable=(number["least"] or 0.0, number["greatest"] or 0.0),
        per=words["per"],
        minutes=number["minutes"] or 0.0,
        spread=number["spread"] or 0.0,
    )


def _remedy(row: Row) -> Remedy:
    touches = tuple(row.words.get("touches", "").split())
    return Remedy(row.key, row.words["title"], touches, row.words.get("there") == "yes")

"""The names a sheet may use, gathered from the tables that define them."""

from __future__ import annotations

import re
from typing import cast

from carwright.errors import TableError
from carwright.tables.dated import dated_of
from carwright.tables.load import Tables
from carwright.tables.model import Row
from carwright.units import INSIDE, Kind
from carwright.words import Characteristic, Contribution, Places, Remedy, Scale, Shift, Vocabulary

REVERSIBLE = ("yes", "partly", "no")
_SHIFT = re.compile(r"([a-z.]+?)(<>|\+|-|=|~)(-?\d*)")
_AMOUNTS = ("", "length", "mass", "any")
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
        contributions={name: _contribution(row) for name, row in tables.table("words/contributions").rows.items()},
        cautions={name: row.words["text"] for name, row in tables.table("words/cautions").rows.items()},
        features=lambda: dated_of(tables).written,
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
    words = row.words
    number = {name: cell.value or 0.0 for name, cell in row.cells.items()}
    if words["reversible"] not in REVERSIBLE or words.get("amount", "") not in _AMOUNTS:
        raise TableError(
            row.key, f"reversible must be one of {', '.join(REVERSIBLE)}, amount length, mass, any or none"
        )
    shifts = []
    for text in words.get("shifts", "").split():
        found = _SHIFT.fullmatch(text)
        if found is None:
            raise TableError(row.key, f"cannot read the shift {text!r}: expected such as truck.ride+1 or frame.bow=0")
        sign = -1.0 if found[2] == "-" else 1.0
        mode = "+" if found[2] == "-" else found[2]
        shifts.append(Shift(found[1], mode, sign * float(found[3] or 0)))
    return Remedy(
        row.key,
        words["title"],
        tuple(words.get("touches", "").split()),
        words.get("there") == "yes",
        amount=words.get("amount", ""),
        shifts=tuple(shifts),
        spread=number["spread"],
        step=number["step"],
        most=number["most"],
        effort=number["effort"],
        cost=number["cost"],
        risk=number["risk"],
        reversible=words["reversible"],
        order=int(number["order"]),
        success=number["success"],
        cures=tuple(words.get("cures", "").split()),
        how=words.get("how", ""),
        needs=words.get("needs", ""),
        side=words.get("side", ""),
        cautions=tuple(words.get("cautions", "").split()),
    )


def _contribution(row: Row) -> Contribution:
    number = {name: cell.value or 0.0 for name, cell in row.cells.items()}
    return Contribution(
        row.key, row.words["title"], number["mean"], number["common"], number["own"], row.source.status,
        row.words["signs"],
    )  # fmt: skip

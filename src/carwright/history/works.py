"""Amounts of works: of the right kind, and never below zero where that means nothing."""

from __future__ import annotations

from carwright.errors import UnitError
from carwright.units import EXPECTED, Kind, parse

_KINDS: dict[str, tuple[Kind, ...]] = {"length": ("length",), "mass": ("mass",), "any": ("length", "mass"), "": ()}
_MAY_BE_TAKEN_OUT = {"washer", "ballast", "add-load"}
"""Remedies whose amount may be negative: the thing was taken out."""


def read_amount(text: str, wanted: str, remedy: str) -> tuple[float, str] | str:
    """Size and unit of a work's amount, or what is wrong with it.

    Parameters
    ----------
    text : str
        As written.
    wanted : str
        Kind of amount the remedy takes: ``length``, ``mass``, ``any`` or "" for none.
    remedy : str
        Its id.

    Returns
    -------
    tuple[float, str] or str
        mm or g with the unit's name; the fault in words.
    """
    kinds = _KINDS[wanted]
    if not kinds:
        return f"{remedy} takes no amount"
    for kind in kinds:
        try:
            value = parse(text, kind).value
        except UnitError:
            continue
        if value < 0 and remedy not in _MAY_BE_TAKEN_OUT:
            return f"{text!r} is below zero: {remedy} never undoes itself; write the remedy that was done"
        return value, "mm" if kind == "length" else "g"
    return f"cannot read {text!r}: expected {' or '.join(EXPECTED[kind] for kind in kinds)}"

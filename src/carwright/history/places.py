"""Places on a car: ends, axles, wheels, sides, and what a sheet may write for them."""

from __future__ import annotations

import re

from carwright.words import Characteristic, Remedy

_AXLE = re.compile(r"(\d{1,2})([LR]?)\Z", re.ASCII)
_ALLOWED: dict[str, tuple[tuple[str | None, ...], str]] = {
    "none": ((None,), "no place: leave `at` out"),
    "ends": (("A", "B"), "an end, A or B"),
    "directions": ((None, "A", "B"), "the end that leads, A or B, or nothing"),
    "sides": (("L", "R"), "a side, L or R"),
}


def places_of(what: Characteristic, at: str | None, axles: int | None) -> list[str] | str:
    """Places an ``at`` stands for, or what is wrong with it.

    Parameters
    ----------
    what : Characteristic
        Says which places it has.
    at : str or None
        As written.
    axles : int or None
        How many the car has, None where unknown.

    Returns
    -------
    list[str] or str
        One place, every axle for ``all``, ``""`` where the characteristic has none; or the fault in words.
    """
    at = at.upper() if at is not None and at != "all" else at
    if what.places in _ALLOWED:
        allowed, wanted = _ALLOWED[what.places]
        return [at or ""] if at in allowed else f"{what.id} needs {wanted}, got {at!r}"
    if at == "all":
        return [str(axle) for axle in range(1, (axles or 0) + 1)] or ["all"]
    wheels = what.places == "wheels"
    axle = _AXLE.match(at or "")
    if axle is None or (axle[2] and not wheels):
        wheel = ", or a wheel such as 3L or 3R" if wheels else ""
        return f"expected an axle number counted from the A end{wheel}, got {at!r}"
    return _beyond(int(axle[1]), axles) or [f"{int(axle[1])}{axle[2]}"]


def work_place(remedy: Remedy, at: str | None, axles: int | None) -> str:
    """The place of a work as readings name it; what is wrong with it behind a ``!``.

    A remedy for wheelsets is done at an axle (its wheels count as the axle), one for couplers at an end.
    """
    if at in {None, "all"}:
        return "all" if at else f"!{remedy.id} needs the place it was done at"
    axle = _AXLE.match(str(at).upper())
    wheels = all(what.startswith("wheel.") for what in remedy.touches)
    if remedy.only_there and wheels and axle is None:
        return f"!{remedy.id} is done at an axle, counted from the A end, got {at!r}"
    if str(at).upper() in {"A", "B"} and not (remedy.only_there and wheels):
        return str(at).upper()
    if axle is None or (remedy.only_there and not wheels):
        return f"!{remedy.id} is done at an end, A or B, got {at!r}"
    beyond = _beyond(int(axle[1]), axles)
    return f"!{beyond}" if beyond else str(int(axle[1]))


def _beyond(axle: int, axles: int | None) -> str:
    if axle < 1:
        return f"axle {axle}: axles count from 1 at the A end"
    return f"axle {axle} is beyond this car's {axles}" if axles is not None and axle > axles else ""

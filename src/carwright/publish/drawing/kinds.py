"""Kinds of car a drawing knows, and the size of each where a sheet does not say.

Heights are in scale inches above the railhead, widths in scale inches. They only draw; no finding is judged by them.
Common practice: round figures of ordinary cars.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of car: usual floor, top and width [scale in], and which body it is drawn with."""

    name: str
    floor: float
    top: float
    width: float
    body: str


_KINDS = (
    Kind("boxcar", 42, 168, 120, "box"),
    Kind("refrigerator car", 42, 168, 120, "refrigerator"),
    Kind("stock car", 42, 160, 118, "stock"),
    Kind("covered hopper", 16, 160, 122, "covered_hopper"),
    Kind("open hopper", 14, 130, 122, "open_hopper"),
    Kind("gondola", 42, 96, 118, "gondola"),
    Kind("flat car", 34, 46, 116, "flat"),
    Kind("depressed-center flat car", 20, 46, 116, "depressed"),
    Kind("well car", 12, 72, 116, "well"),
    Kind("tank car", 36, 150, 108, "tank"),
    Kind("caboose", 42, 180, 118, "caboose"),
    Kind("brake van", 42, 150, 106, "brake_van"),
    Kind("passenger car", 40, 168, 122, "passenger"),
    Kind("four-wheel wagon", 42, 96, 106, "wagon"),
    Kind("four-wheel van", 42, 150, 106, "van"),
)
KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _KINDS}
PLAIN = Kind("car", 42, 150, 118, "plain")
"""Any other kind."""


def kind_of(name: str) -> tuple[Kind, bool]:
    """Kind by its name on the sheet, and whether the name was known."""
    found = KINDS.get(name.strip().lower().replace("centre", "center"))
    return (found, True) if found is not None else (PLAIN, False)

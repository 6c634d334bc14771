"""Facts of a car as a form has them: its name, its rules and the sizes the maker built."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from carwright.explain.stock import FORMAT as STOCK
from carwright.history.entries import Geometry
from carwright.history.faults import known_keys
from carwright.shop.shared import kept_files
from carwright.shop.shop import Shop
from carwright.tables.rules import FORMAT as RULES
from carwright.verdict.rubric import FORMAT as RUBRIC
from carwright.web.fields import Choice, Field
from carwright.words import Vocabulary

KINDS = (
    "boxcar",
    "refrigerator car",
    "stock car",
    "flat car",
    "gondola",
    "open hopper",
    "covered hopper",
    "tank car",
    "caboose",
    "coach",
    "four-wheel van",
)
"""Kinds of car that are drawn; any other words may be written."""
_WHOLE = ("axles", "axles_per_truck")
_CHOICES: Mapping[str, tuple[Choice, ...]] = {
    "system": (("", "by its rules"), ("us", "inches and ounces"), ("metric", "millimetres and grams")),
    "coupler": (("", "not said"), ("knuckle", "knuckle"), ("loop", "loop"), ("hook", "hook"), ("solid", "solid")),
    "trip_pin": (("", "not said"), ("fitted", "fitted"), ("none", "none")),
    "wheels": (("", "not said"), ("metal", "metal"), ("plastic", "plastic")),
    "coupler_mount": (("", "not said"), ("body", "body"), ("truck", "truck")),
}
_TITLES = {
    "coupler_face": "Coupler face from mid-car", "coupler_face_A": "Coupler face at A, from mid-car",
    "coupler_face_B": "Coupler face at B, from mid-car", "coupler_pivot": "Coupler pivot from mid-car",
    "truck_centers": "Truck centres, pivot to pivot", "truck_wheelbase": "Truck wheelbase, outer axles",
    "floor_clearance": "Lowest fixed point between the trucks", "trip_pin": "Trip pins",
}  # fmt: skip
_FIRST = (
    "body_length",
    "truck_centers",
    "truck_wheelbase",
    "axles_per_truck",
    "coupler_face",
    "coupler_pivot",
    "coupler_mount",
)
GEOMETRY = tuple(
    sorted((key for key in known_keys(Geometry) if key != "deck"), key=lambda key: (*_FIRST, key).index(key))
)
"""Sizes that are one figure each, those most asked for first."""
CAR = ("title", "scale", "type", "rules", "rubric", "stock", "system", "coupler", "trip_pin", "wheels")
PROTOTYPE = ("owner", "number", "class", "builder", "built", "wanted", "country")
"""Of the prototype: facts that are one text each."""


def car_fields(shop: Shop, words: Vocabulary) -> tuple[Field, ...]:
    """Fields of a car's own facts."""
    kept = kept_files(shop)
    rules = [*words.rule_sets, *(name for name, form in kept if form == RULES)]

    def files(form: str, usual: str) -> tuple[Choice, ...]:
        return (("", usual), *((name, name) for name, found in kept if found == form))

    return (
        Field("title", "What it is called", hint="such as: Boxcar, 40 ft, of road and number", required=True),
        Field(
            "scale",
            "Scale",
            "choice",
            choices=tuple((name, f"{name}, 1:{each.ratio:g}") for name, each in words.scales.items()),
        ),
        Field("type", "Kind of car", choices=tuple((each, each) for each in KINDS)),
        Field(
            "rules",
            "Rule sets",
            hint=f"in order, a later one overrides; with commas between. Known: {', '.join(rules)}",
        ),
        Field("rubric", "Rubric", "choice", choices=files(RUBRIC, "the shipped one")),
        Field("stock", "Stock of parts", "choice", choices=files(STOCK, "the usual one")),
        *(
            Field(name, _title(name), "choice", choices=_CHOICES[name])
            for name in ("system", "coupler", "trip_pin", "wheels")
        ),
    )


def size_fields() -> tuple[Field, ...]:
    """Fields of what the maker built."""
    return tuple(
        Field(name, _title(name), "choice", choices=_CHOICES[name])
        if name in _CHOICES
        else Field(name, _title(name), hint="a count" if name in _WHOLE else "")
        for name in GEOMETRY
    )


def prototype_fields(locked: Collection[str] = ()) -> tuple[Field, ...]:
    """Fields of the prototype; those of which rival claims stand on the sheet are only shown."""
    hints = {
        "built": "a month or a year",
        "wanted": "the year or years the model is to stand in",
        "country": "for epochs",
    }
    titles = {"wanted": "Years wanted", "class": "Class of cars"}
    return tuple(
        Field(name, titles.get(name, _title(name)), hint="rival claims of it stand on the sheet", locked=True)
        if name in locked
        else Field(name, titles.get(name, _title(name)), hint=hints.get(name, ""))
        for name in PROTOTYPE
    )


def rival_claims(stated: Mapping[str, Any]) -> list[str]:
    """Facts of the prototype that are no single text, so that no field holds them."""
    prototype = stated.get("car.prototype", {})
    return [name for name in PROTOTYPE if name in prototype and not _is_plain(prototype[name])]


def _title(name: str) -> str:
    return _TITLES.get(name, name.replace("_", " ").capitalize())


def typed_facts(stated: Mapping[str, Any]) -> dict[str, str]:
    """What stands in the fields for what is stated; a fact with rival claims is not shown, and stays."""
    car, geometry, prototype = (stated.get(key, {}) for key in ("car", "car.geometry", "car.prototype"))
    typed = {name: _shown(car[name]) for name in CAR if name in car}
    typed |= {name: _shown(geometry[name]) for name in GEOMETRY if name in geometry}
    return typed | {
        name: _shown(prototype[name]) for name in PROTOTYPE if name in prototype and _is_plain(prototype[name])
    }


def _shown(value: Any) -> str:  # noqa: ANN401 - whatever a sheet states
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _is_plain(value: Any) -> bool:  # noqa: ANN401
    return isinstance(value, str | int)


def facts_of(typed: Mapping[str, str], stated: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Statements about a car that follow from the fields; what no field shows stays as it is stated.

    Parameters
    ----------
    typed : mapping
        Fields as typed; one that is not there at all changes nothing, an empty one takes its fact back.
    stated : mapping
        What is stated of the car now.
    """
    return {
        "car": _merged(stated.get("car", {}), typed, CAR),
        "car.geometry": _merged(stated.get("car.geometry", {}), typed, GEOMETRY),
        "car.prototype": _merged(stated.get("car.prototype", {}), typed, PROTOTYPE),
    }


def _merged(before: Mapping[str, Any], typed: Mapping[str, str], names: Sequence[str]) -> dict[str, Any]:
    found = dict(before)
    for name in names:
        if name not in typed or (name in before and not _is_plain(before[name]) and not isinstance(before[name], list)):
            continue
        if name in before and isinstance(before[name], list) and name != "rules":
            continue
        text = typed[name].strip()
        if name in before and text == _shown(before[name]):
            continue
        if not text.strip(", "):
            found.pop(name, None)
        elif name == "rules":
            found[name] = [part.strip() for part in text.split(",") if part.strip()]
        elif name in _WHOLE:
            found[name] = int(text) if text.isascii() and text.isdigit() else text
        else:
            found[name] = text
    return found

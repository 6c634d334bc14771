"""From what is typed at the bench to entries of a history: the forms, and the bodies made from them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

from carwright.history import History
from carwright.units import Kind, System, is_bare
from carwright.web.fields import Choice, Field
from carwright.web.places import Spot, choices_at
from carwright.words import Characteristic, Remedy, Vocabulary

GRADES = ("sound", "slight", "marked", "spoilt", "missing", "not seen")
UNITS: Mapping[Kind, Mapping[System, tuple[str, ...]]] = {
    "length": {"us": ("in", "thou", "mm"), "metric": ("mm", "in", "thou")},
    "mass": {"us": ("oz", "g"), "metric": ("g", "oz")},
    "angle": {"us": ("deg",), "metric": ("deg",)},
    "slope": {"us": ("%",), "metric": ("%",)},
    "force": {"us": ("gf", "mN"), "metric": ("mN", "gf")},
    "time": {"us": ("s",), "metric": ("s",)},
    "acceleration": {"us": ("mm/s2",), "metric": ("mm/s2",)},
    "ratio": {"us": ("%",), "metric": ("%",)},
}
"""Units offered for a kind of quantity, the usual one of a system first."""
STEPS: Mapping[str, str] = {
    "in": "0.001", "thou": "1", "mm": "0.01", "oz": "0.05", "g": "0.1", "deg": "0.5", "%": "0.1", "s": "0.1",
    "gf": "0.1", "mN": "1", "mm/s2": "10",
}  # fmt: skip
"""How far a step goes in each unit; judgement."""
_KNOWN_UNITS = tuple(STEPS)


@dataclass(frozen=True, slots=True)
class Doing:
    """Something one does at the bench, and the form for it.

    Attributes
    ----------
    id, title : str
        ``measure``; in words.
    kind : str
        Of the entry it makes.
    says : str
        What it is for, in a line.
    """

    id: str
    title: str
    kind: str
    says: str


DOINGS = (
    Doing("measure", "Measure", "reading", "A number read from an instrument."),
    Doing("gauge", "Gauge", "gauge", "A gauge that passes, or not; or a thing tried by hand."),
    Doing("look", "Look", "look", "Judged by eye: take the sentence that is true of this car."),
    Doing("repair", "Repair", "work", "Work done on the car; what was measured before belongs to the stage before."),
    Doing("photo", "Photo", "photo", "A picture, kept without the place it was taken."),
    Doing("line", "Frame line", "profile", "Heights, or gaps under a straight edge, along the frame."),
    Doing("trouble", "Trouble", "trouble", "What went wrong on the line, and where."),
    Doing("runs", "Good runs", "exposure", "Runs without trouble, so that trouble can be weighed against them."),
    Doing("ruling", "Ruling", "ruling", "A person's own decision on points, or on where the car may run."),
    Doing("place", "Where it is", "placement", "Where the car stands, and how."),
    Doing("bought", "Bought", "acquisition", "What it cost, and until when it may go back."),
    Doing("note", "Note", "note", "Words."),
)
BY_ID = {each.id: each for each in DOINGS}
FIRST = ("measure", "gauge", "look", "repair", "photo")
"""Shown at once; the others stand under More."""


def now_text() -> str:
    """The moment by the clock on the wall, as a history says it."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def with_unit(text: str, unit: str) -> str:
    """What was typed, with the chosen unit where it names none."""
    plain = text.strip()
    bare = is_bare(plain)
    plain = plain.replace(",", ".")
    return f"{plain} {unit}" if bare and unit in _KNOWN_UNITS else plain


def instruments_for(
    what: Characteristic, words: Vocabulary, kept: Mapping[str, Mapping[str, Any]], own: Sequence[str]
) -> list[Choice]:
    """Instruments for a characteristic: the car's own, those of the shop, then those any bench has."""
    found = {name: name for name in own}
    for name, row in kept.items():
        if row.get("kind", "measure") == "measure":
            found.setdefault(name, name)
    for name, row in words.instruments.items():
        if row["kind"] == what.kind and any(fnmatchcase(what.id, each) for each in row.get("suits", "").split()):
            found.setdefault(name, name)
    return [*found.items(), ("", "not said: the digits speak")]


def fields_of(doing: Doing, spot: Spot, words: Vocabulary, history: History) -> tuple[Field, ...]:
    """Fields of a form that is no measuring pad."""
    made = _FIELDS.get(doing.id)
    own = made(spot, words, history) if made else ()
    return (*own, *((Field("note", "Note"),) if doing.id != "note" else ()))


def _ends(spot: Spot) -> tuple[Choice, ...]:
    every = (("", "the whole car"), ("A", "A end"), ("B", "B end"), ("L", "left side"), ("R", "right side"))
    return tuple(sorted(every, key=lambda each: each[0] != spot.end))


def _look(spot: Spot, words: Vocabulary, _: History) -> tuple[Field, ...]:
    usual = "paint" if spot.part == "body" else "part"
    looked = tuple(sorted(words.looks.items(), key=lambda each: each[0] != usual))
    return (
        Field("what", "What was looked at", "choice", choices=looked),
        Field("at", "Where", "choice", choices=_ends(spot)),
        Field("name", "Which part", hint="such as stirrup step; leave it empty for all of it"),
    )


def _gauge(spot: Spot, words: Vocabulary, _: History) -> tuple[Field, ...]:
    named = [each for each in words.characteristics.values() if spot.has(each.id, "")]
    tried = sorted(named, key=lambda each: each.kind is not None)
    places = dict.fromkeys(place for each in named for place in choices_at(spot, each))
    results = (("pass", "pass"), ("low", "low or tight"), ("high", "high or loose"), ("fail", "fail"))
    return (
        Field("what", "What was tried", "choice", choices=tuple((each.id, each.title) for each in tried)),
        Field("at", "Where", "choice", choices=tuple((place, place or "the whole car") for place in places)),
        Field("result", "What it said", "choice", choices=results),
        Field("with", "With which gauge", hint="its name where its limits are described; else it counts as by eye"),
    )


def _repair(spot: Spot, words: Vocabulary, history: History) -> tuple[Field, ...]:
    def fits(each: Remedy) -> bool:
        return any(spot.has(what, "") for what in each.touches)

    ranked = sorted(words.remedies.values(), key=lambda each: (not fits(each), each.title))
    remedies = tuple((each.id, each.title) for each in ranked)
    count = history.axles or 4
    places = [("A", "A end"), ("B", "B end"), ("", "the whole car"), ("all", "every axle")]
    places += [(str(axle), f"axle {axle}") for axle in range(1, count + 1)]
    first = {spot.end, *(str(axle) for axle in spot.axles)} - {""}
    return (
        Field("remedy", "What was done", "choice", choices=remedies),
        Field("at", "Where", "choice", choices=tuple(sorted(places, key=lambda each: each[0] not in first))),
        Field("amount", "How much", hint="with its unit, such as 0.015 in or 0.25 oz; empty where it has none"),
        Field(
            "face", "Face of the shank", "choice", choices=(("", "does not apply"), ("top", "top"), ("under", "under"))
        ),
    )


def _photo(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    return (
        Field("file", "Picture", "file", hint="JPEG, PNG or WebP, from the camera or from a file"),
        Field("shows", "What it shows", required=True),
    )


def _line(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    parts = (("frame", "frame"), ("deck", "deck"), ("sill", "sill"), ("roof", "roof"))
    data = (
        ("rail", "heights above the rail"),
        ("plate", "heights above a plate"),
        ("straightedge", "gaps under a straight edge"),
    )
    return (
        Field("of", "Of what", "choice", choices=parts),
        Field(
            "side", "Along which side", "choice", choices=(("centre", "middle"), ("left", "left"), ("right", "right"))
        ),
        Field("datum", "Measured from", "choice", choices=data),
        Field("stations", "Stations", "long", hint="from mid-car, + toward A, with units: -60 mm; 0 mm; 60 mm"),
        Field(
            "heights", "Heights or gaps", "long", hint="one for each station, in the same order; a gap may be < 0.05 mm"
        ),
        Field("nominal", "Design heights", "long", hint="one, or one for each station; needed where the deck steps"),
        Field("with", "With"),
    )


def _running(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    return (
        Field("place", "Place on the line"),
        Field("direction", "Direction"),
        Field("facing", "Leading end", "choice", choices=(("", "not seen"), ("A", "A"), ("B", "B"))),
        Field(
            "move", "Pulled or pushed", "choice", choices=(("", "not seen"), ("pulled", "pulled"), ("pushed", "pushed"))
        ),
        Field("neighbours", "Beside which cars", hint="with ; between them"),
        Field("finder", "Who saw it"),
    )


def _trouble(spot: Spot, words: Vocabulary, history: History) -> tuple[Field, ...]:
    return (Field("defect", "What went wrong", required=True), *_running(spot, words, history))


def _runs(spot: Spot, words: Vocabulary, history: History) -> tuple[Field, ...]:
    return (Field("runs", "Runs without trouble", "number", required=True), *_running(spot, words, history))


def _ruling(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    return (
        Field("reason", "Reason", "long", required=True),
        Field("category", "Category of the rubric", hint="with the points it costs"),
        Field("points", "Points", "number"),
        Field("waives", "Waives", hint="a cause that shall cost nothing, such as look.packing"),
        Field("route", "May run only", hint="such as: branch line, 10 cars at most"),
    )


def _place(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    how = ("", "layout", "shelf", "storage", "transport", "lent", "show")
    return (
        Field("where", "Where", required=True),
        Field("how", "How", "choice", choices=tuple((each, each or "not said") for each in how)),
        Field("from", "From", "date"),
        Field("to", "Until", "date"),
    )


def _bought(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    return (
        Field("paid", "Paid", "number"),
        Field("list_price", "List price", "number"),
        Field("currency", "Currency", hint="such as USD or EUR"),
        Field("from", "From whom"),
        Field("condition", "Condition as sold"),
        Field("return_by", "May go back until", "date"),
    )


def _note(_: Spot, __: Vocabulary, ___: History) -> tuple[Field, ...]:
    return (Field("note", "Note", "long", required=True),)


_FIELDS: Mapping[str, Callable[[Spot, Vocabulary, History], tuple[Field, ...]]] = {
    "look": _look, "gauge": _gauge, "repair": _repair, "photo": _photo, "line": _line, "trouble": _trouble,
    "runs": _runs, "ruling": _ruling, "place": _place, "bought": _bought, "note": _note,
}  # fmt: skip
_NUMBERS = {"points": float, "paid": float, "list_price": float, "runs": int}
_LISTS = ("stations", "heights", "nominal", "neighbours")
MEASURE = ("what", "at", "value", "unit", "with", "state", "name", "turn", "turned", "note")
"""Fields of the measuring pad."""
KEYS: Mapping[str, tuple[str, ...]] = {
    "measure": MEASURE,
    "look": ("what", "at", "name", "grade", "note"),
    "gauge": ("what", "at", "result", "with", "note"),
    "repair": ("remedy", "at", "amount", "face", "note"),
    "photo": ("file", "shows", "note"),
    "line": ("of", "side", "datum", "stations", "heights", "nominal", "with", "note"),
    "trouble": ("defect", "place", "direction", "facing", "move", "neighbours", "finder", "note"),
    "runs": ("runs", "place", "direction", "facing", "move", "neighbours", "finder", "note"),
    "ruling": ("reason", "category", "points", "waives", "route", "note"),
    "place": ("where", "how", "from", "to", "note"),
    "bought": ("paid", "list_price", "currency", "from", "condition", "return_by", "note"),
    "note": ("note",),
}
"""Fields each form sends."""


def body_of(doing: Doing, typed: Mapping[str, str], before: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The entry a form means, as on a sheet; what cannot be read stays as typed, so that the reader refuses it.

    Parameters
    ----------
    doing : Doing
        Which form.
    typed : mapping
        Its fields as typed; empty ones say nothing.
    before : mapping, optional
        The entry it corrects: what the form has no field for stays as it was.
    """
    shown = {*KEYS[doing.id], "values", "gaps", "kind", "id", "when", "who", "supersedes"}
    body: dict[str, Any] = {key: value for key, value in (before or {}).items() if key not in shown}
    body["kind"] = doing.kind
    for key in KEYS[doing.id]:
        text = typed.get(key, "").replace("\r\n", "\n").strip()
        if key in {"value", "unit", "file", "turned"} or not text:
            continue
        body[key] = _read(key, text)
    if doing.id == "measure":
        text = typed.get("value", "")
        parts = [with_unit(part, typed.get("unit", "")) for part in text.split(";") if part.strip()]
        if parts or "places" not in body:
            body["values"] = parts or [""]
            body.pop("places", None)
        if typed.get("turned"):
            body["turned"] = True
    if doing.id == "line" and body.get("datum") == "straightedge" and "heights" in body:
        body["gaps"] = body.pop("heights")
    if typed.get("supersedes"):
        body["supersedes"] = typed["supersedes"]
    return body


def _read(key: str, text: str) -> Any:  # noqa: ANN401 - as on a sheet
    if key in _LISTS:
        return [part.strip() for part in text.replace("\n", ";").split(";") if part.strip()]
    if key in _NUMBERS:
        try:
            return _NUMBERS[key](text.replace(",", "."))
        except ValueError:
            return text
    return text


def typed_of(body: Mapping[str, Any]) -> dict[str, str]:
    """What to type into a form to get an entry again."""
    shown = {key: value for key, value in body.items() if key not in {"kind", "id", "when", "who", "supersedes"}}
    if shown.get("turned") is False:
        del shown["turned"]
    if "gaps" in shown:
        shown["heights"] = shown.pop("gaps")
    if "values" in shown:
        shown["value"] = "; ".join(shown.pop("values"))
    return {key: "; ".join(map(str, value)) if isinstance(value, list) else str(value) for key, value in shown.items()}

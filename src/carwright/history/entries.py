"""What a person writes: one pydantic model per kind of entry, strict, versioned by the sheet's format.

Quantities stay text here, so that a sheet written back keeps every digit; :mod:`carwright.history.check` reads them.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    TypeAdapter,
    model_validator,
)

FORMAT = "carwright-sheet/1"


def _moment(value: Any) -> str:
    if isinstance(value, dt.datetime | dt.date):
        return value.isoformat()
    if not isinstance(value, str):
        msg = "expected a date or time such as 2026-03-01 or 2026-03-01T19:30"
        raise ValueError(msg)  # noqa: TRY004 - pydantic turns ValueError into a fault
    try:
        dt.datetime.fromisoformat(value)
    except ValueError as error:
        msg = f"{value!r} is not a date or time such as 2026-03-01 or 2026-03-01T19:30"
        raise ValueError(msg) from error
    return value


def _uuid(value: str) -> str:
    try:
        return str(UUID(value))
    except ValueError as error:
        msg = f"{value!r} is not a UUID"
        raise ValueError(msg) from error


_CLOCK = re.compile(r"(?:(\d{1,2}):)?([0-5]?\d):([0-5]\d(?:\.\d+)?)")
_LONGEST_VIDEO = 24 * 3600.0
"""Seconds a recording may run."""


def _seconds(value: Any) -> float:
    """Seconds, or a time as players show it: 12:34 or 1:02:03."""
    seconds = value
    if isinstance(value, str) and (found := _CLOCK.fullmatch(value.strip())):
        seconds = 3600.0 * int(found[1] or 0) + 60.0 * int(found[2]) + float(found[3])
    if isinstance(seconds, bool) or not isinstance(seconds, int | float) or not 0 <= seconds <= _LONGEST_VIDEO:
        msg = f"expected a time in the recording such as 754, 754.5 or '12:34', got {value!r}"
        raise ValueError(msg)
    return float(seconds)


Moment = Annotated[str, BeforeValidator(_moment)]
Offset = Annotated[float, BeforeValidator(_seconds)]
Identity = Annotated[str, AfterValidator(_uuid)]


def _words(value: str) -> str:
    if any(unicodedata.category(sign) == "Cc" and sign not in "\n\t" for sign in value):
        msg = "control characters cannot stand in a text"
        raise ValueError(msg)
    return value


Text = Annotated[str, Field(min_length=1, max_length=2000), AfterValidator(_words)]
Amount = Annotated[str, Field(min_length=1, max_length=64)]
Use = Literal["interchange", "home road", "company service"]
Money = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)]


class _Written(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, populate_by_name=True)


class _Entry(_Written):
    when: Moment | None = None
    who: Text | None = None
    note: Text | None = None
    id: Identity | None = None
    supersedes: Identity | None = None
    offset_s: Offset | None = None


class ReadingEntry(_Entry):
    """One observed value, or repeats of it at one place, or several places."""

    kind: Literal["reading"]
    what: Text
    at: Text | None = None
    name: Text | None = None
    state: Literal["free", "lifted", "pulled"] | None = None
    turn: Amount | None = None
    turned: bool | None = None
    values: Annotated[list[Amount], Field(min_length=1, max_length=200)] | None = None
    places: (
        Annotated[
            list[Annotated[list[Amount], Field(min_length=1, max_length=200)]],
            Field(min_length=1, max_length=200),
        ]
        | None
    ) = None
    with_: Text | None = Field(default=None, alias="with")

    @model_validator(mode="after")
    def _one_of(self) -> ReadingEntry:
        if (self.values is None) == (self.places is None):
            msg = "needs either values or places"
            raise ValueError(msg)
        return self


class GaugeEntry(_Entry):
    """An attribute check: passed, low, high, or failed where there is no size."""

    kind: Literal["gauge"]
    what: Text
    at: Text | None = None
    turn: Amount | None = None
    grade: Amount | None = None
    result: Literal["pass", "low", "high", "fail"]
    with_: Text | None = Field(default=None, alias="with")


class ProfileEntry(_Entry):
    """Heights or gaps along the car."""

    kind: Literal["profile"]
    of: Literal["deck", "frame", "sill", "roof"]
    datum: Literal["rail", "plate", "straightedge"]
    side: Literal["left", "right", "centre"]
    stations: Annotated[list[Amount], Field(min_length=2, max_length=500)]
    heights: list[Amount] | None = None
    gaps: list[Amount] | None = None
    nominal: list[Amount] | None = None
    with_: Text | None = Field(default=None, alias="with")

    @model_validator(mode="after")
    def _one_of(self) -> ProfileEntry:
        if (self.heights is None) == (self.gaps is None):
            msg = "needs either heights or gaps"
            raise ValueError(msg)
        for name in ("heights", "gaps", "nominal"):
            given = getattr(self, name)
            if given is not None and len(given) != len(self.stations):
                msg = f"has {len(self.stations)} stations but {len(given)} {name}"
                raise ValueError(msg)
        return self


class LookEntry(_Entry):
    """A thing judged by eye against an anchored sentence."""

    kind: Literal["look"]
    what: Text
    at: Text | None = None
    name: Text | None = None
    grade: Literal["sound", "slight", "marked", "spoilt", "missing", "not seen"]


class WorkEntry(_Entry):
    """An operation on the car; it starts a new stage."""

    kind: Literal["work"]
    remedy: Text
    at: Text | None = None
    amount: Amount | None = None
    face: Literal["top", "under"] | None = None
    feature: Text | None = None
    date: Text | None = None


class PhotoEntry(_Entry):
    """A picture file beside the sheet."""

    kind: Literal["photo"]
    file: Text
    shows: Text | None = None


class Seen(_Written):
    """One feature in a piece of evidence, or a stencil and the date it bears."""

    feature: Text
    state: Literal["present", "absent", "not visible"] = "present"
    date: Text | None = None
    trust: Annotated[float, Field(ge=0, le=1)] | None = None


class EvidenceEntry(_Entry):
    """A photo, drawing or roster line, or the model itself, with what it shows and what is claimed of it."""

    kind: Literal["evidence"]
    of: Literal["photo", "drawing", "roster", "model"] = "photo"
    source: Text
    claim: Text | None = None
    trust: Annotated[float, Field(ge=0, le=1)] | None = None
    copies: Text | None = None
    number: Text | None = None
    built: Text | None = None
    rebuilt: Text | None = None
    repainted: Text | None = None
    renumbered: Text | None = None
    last_seen: Text | None = None
    type: Text | None = None
    use: Use | None = None
    seen: Annotated[list[Seen], Field(max_length=200)] = []


class _RunningEntry(_Entry):
    """How the car stood in its train and on the line while it ran."""

    place: Text | None = None
    direction: Text | None = None
    facing: Literal["A", "B"] | None = None
    move: Literal["pulled", "pushed"] | None = None
    neighbours: list[Text] = []
    finder: Text | None = None


class TroubleEntry(_RunningEntry):
    """A defect met in running."""

    kind: Literal["trouble"]
    defect: Text


class ExposureEntry(_RunningEntry):
    """Runs without trouble, counted the same way."""

    kind: Literal["exposure"]
    runs: Annotated[int, Field(ge=1, le=1_000_000)]


class RulingEntry(_Entry):
    """A person's own deduction, or the waiver of one, with its reason."""

    kind: Literal["ruling"]
    category: Text | None = None
    points: Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)] | None = None
    reason: Text
    waives: Text | None = None
    route: Text | None = None

    @model_validator(mode="after")
    def _some(self) -> RulingEntry:
        nothing = self.waives is None and self.points is None and self.route is None
        if (self.points is None) != (self.category is None) or nothing:
            msg = "needs category and points, or waives, or route"
            raise ValueError(msg)
        return self


class PlacementEntry(_Entry):
    """Where the car stands."""

    kind: Literal["placement"]
    where: Text
    how: Literal["layout", "shelf", "storage", "transport", "lent", "show"] | None = None
    from_: Text | None = Field(default=None, alias="from")
    to: Text | None = None


class AcquisitionEntry(_Entry):
    """How the car was come by."""

    kind: Literal["acquisition"]
    paid: Money | None = None
    list_price: Money | None = None
    currency: Text | None = None
    from_: Text | None = Field(default=None, alias="from")
    condition: Text | None = None
    return_by: Moment | None = None


class NoteEntry(_Entry):
    """Words."""

    kind: Literal["note"]

    @model_validator(mode="after")
    def _some(self) -> NoteEntry:
        if self.note is None:
            msg = "needs note"
            raise ValueError(msg)
        return self


Entry = (
    ReadingEntry
    | GaugeEntry
    | ProfileEntry
    | LookEntry
    | WorkEntry
    | PhotoEntry
    | EvidenceEntry
    | TroubleEntry
    | ExposureEntry
    | RulingEntry
    | PlacementEntry
    | AcquisitionEntry
    | NoteEntry
)
ENTRY_MODELS: dict[str, type[_Entry]] = {
    "reading": ReadingEntry,
    "gauge": GaugeEntry,
    "profile": ProfileEntry,
    "look": LookEntry,
    "work": WorkEntry,
    "photo": PhotoEntry,
    "evidence": EvidenceEntry,
    "trouble": TroubleEntry,
    "exposure": ExposureEntry,
    "ruling": RulingEntry,
    "placement": PlacementEntry,
    "acquisition": AcquisitionEntry,
    "note": NoteEntry,
}
ENTRY_KINDS = tuple(ENTRY_MODELS)


class Deck(_Written):
    """A stretch of a stepped deck and its nominal height."""

    from_: Amount = Field(alias="from")
    to: Amount
    height: Amount


class Geometry(_Written):
    """What the maker built, model size."""

    body_length: Amount | None = None
    body_width: Amount | None = None
    body_height: Amount | None = None
    length_over_buffers: Amount | None = None
    truck_centers: Amount | None = None
    truck_wheelbase: Amount | None = None
    wheelbase: Amount | None = None
    axles_per_truck: Annotated[int, Field(ge=1, le=6)] | None = None
    axles: Annotated[int, Field(ge=2, le=24)] | None = None
    pivot_offset: Amount | None = None
    coupler_mount: Literal["body", "truck"] | None = None
    coupler_face: Amount | None = None
    coupler_face_A: Amount | None = None
    coupler_face_B: Amount | None = None
    coupler_pivot: Amount | None = None
    coupler_pivot_A: Amount | None = None
    coupler_pivot_B: Amount | None = None
    floor_clearance: Amount | None = None
    knuckle_height: Amount | None = None
    ride_height: Amount | None = None
    bolster_stack: Amount | None = None
    wheel_diameter: Amount | None = None
    box_height: Amount | None = None
    frame_height: Amount | None = None
    coupler_height: Amount | None = None
    sink_per_100g: Amount | None = None
    deck: list[Deck] = []


class Claim(_Written):
    """A fact about the prototype with where it comes from."""

    value: str | int
    source: Text | None = None
    trust: Annotated[float, Field(ge=0, le=1)] | None = None


Fact = str | int | Claim | list[Claim]
"""A fact, or rival claims of one."""


class Dimension(_Written):
    """A dimension of the full-size car, with where the figure comes from."""

    name: Text
    value: Amount
    u: Amount | None = None
    of: Literal["drawing", "photo", "measured", "roster"] = "drawing"
    source: Text | None = None
    trust: Annotated[float, Field(ge=0, le=1)] | None = None
    over_scale: Text | None = None


class Prototype(_Written):
    """The full-size car the model stands for."""

    owner: Fact | None = None
    class_: Fact | None = Field(default=None, alias="class")
    number: Fact | None = None
    series: Fact | None = None
    quantity: Fact | None = None
    builder: Fact | None = None
    built: Fact | None = None
    rebuilt: Fact | None = None
    repainted: Fact | None = None
    renumbered: Fact | None = None
    last_seen: Fact | None = None
    capacity: Fact | None = None
    wanted: Text | None = None
    country: Text | None = None
    use: Use | None = None
    dated: Annotated[list[Text], Field(max_length=12)] | None = None
    roster: Text | None = None
    dimension: Annotated[list[Dimension], Field(max_length=200)] = []


class Car(_Written):
    """The car as its sheet heads it."""

    title: Text
    scale: Text
    id: Identity | None = None
    type: Text | None = None
    rules: Annotated[list[Text], Field(max_length=12)] | None = None
    rubric: Text | None = None
    system: Literal["us", "metric"] | None = None
    coupler: Literal["knuckle", "loop", "hook", "solid"] | None = None
    trip_pin: Literal["fitted", "none"] | None = None
    wheels: Literal["metal", "plastic"] | None = None
    stock: Text | None = None
    layout: Text | None = None
    geometry: Geometry = Geometry()
    prototype: Prototype | None = None


class InstrumentRow(_Written):
    """An instrument of the person's own."""

    name: Text
    kind: Literal["measure", "gauge"] = "measure"
    preset: Text | None = None
    resolution: Amount | None = None
    calibration: Amount | None = None
    repeatability: Amount | None = None
    repeatability_n: Annotated[int, Field(ge=2, le=10_000)] | None = None
    accepts: Annotated[list[Amount], Field(min_length=2, max_length=2)] | None = None
    u: Amount | None = None
    edition: Text | None = None


class PriorRow(_Written):
    """What is known before this bench: of a characteristic, or of how far a maker's parts stray from their design."""

    what: Text
    at: Text | None = None
    value: Amount | None = None
    u: Amount
    source: Text


class Part(_Written):
    """A part of the car and what it is made of."""

    name: Text
    material: Text | None = None
    at: Text | None = None
    fragile: bool | None = None
    removable: bool | None = None


class Pocket(_Written):
    """A space that can take ballast."""

    name: Text | None = None
    x: Amount
    z: Amount
    length: Amount
    width: Amount
    height: Amount


class Report(_Written):
    """Who publishes, for whom, and how: what a reader of the report is told besides the car."""

    by: Text | None = None
    place: Text | None = None
    for_: Text | None = Field(default=None, alias="for")
    number: Text | None = None
    issued: Moment | None = None
    short: Annotated[str, Field(min_length=1, max_length=60), AfterValidator(_words)] | None = None
    video_length: Offset | None = None


MODELS: dict[str, TypeAdapter[Any]] = {
    "car": TypeAdapter(Car),
    "report": TypeAdapter(Report),
    "instrument": TypeAdapter(InstrumentRow),
    "prior": TypeAdapter(PriorRow),
    "part": TypeAdapter(Part),
    "pocket": TypeAdapter(Pocket),
    **{kind: TypeAdapter(model) for kind, model in ENTRY_MODELS.items()},
}

"""From what was written to what can be judged: places, units, believable values, stages; all faults at once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import PurePosixPath
from typing import Any

from carwright.errors import UnitError
from carwright.history.entries import (
    AcquisitionEntry,
    Entry,
    EvidenceEntry,
    GaugeEntry,
    LookEntry,
    PhotoEntry,
    PriorRow,
    ProfileEntry,
    ReadingEntry,
    RulingEntry,
    WorkEntry,
)
from carwright.history.evidence import FEATURE_WORK, Names, read_evidence, read_feature_work
from carwright.history.faults import Faults
from carwright.history.geometry import ReadGeometry
from carwright.history.instruments import Instruments
from carwright.history.movements import Placement, Running, movements_of
from carwright.history.order import identity_faults, in_order
from carwright.history.places import places_of, work_place
from carwright.history.profiles import read_profile
from carwright.history.records import (
    Acquisition,
    Evidence,
    GaugeCheck,
    GaugeLimits,
    Look,
    Photo,
    Prior,
    Profile,
    Reading,
    Ruling,
    Spread,
    Stage,
    Work,
)
from carwright.history.works import read_amount
from carwright.units import EXPECTED, Quantity, parse, say
from carwright.words import Characteristic, Scale, Vocabulary, nearest

KEPT = ("trouble", "exposure", "placement")
"""Kinds of entry that are checked and kept, and that no room judges yet."""


class Checker:
    """Reads the entries of one sheet into records.

    Parameters
    ----------
    words : Vocabulary
        Known names.
    scale : Scale
        The car's.
    geometry : ReadGeometry
        Its lengths, deck and axles.
    instruments : Instruments
        What may be named in ``with``.
    faults : Faults
        Where to note what is wrong.
    own_features : bool
        Whether the sheet names files that may define features of the person's own.
    """

    def __init__(
        self,
        words: Vocabulary,
        scale: Scale,
        geometry: ReadGeometry,
        instruments: Instruments,
        faults: Faults,
        *,
        own_features: bool = False,
    ) -> None:
        self._words, self._scale, self._geometry, self._axles = words, scale, geometry, geometry.axles
        self._ratios = words.ratios
        self._instruments, self._faults = instruments, faults
        self.readings: list[Reading] = []
        self.gauges: list[GaugeCheck] = []
        self.looks: list[Look] = []
        self.works: list[Work] = []
        self.rulings: list[Ruling] = []
        self.photos: list[Photo] = []
        self.acquisitions: list[Acquisition] = []
        self.profiles: list[Profile] = []
        self.spreads: list[Spread] = []
        self.evidence: list[Evidence] = []
        self._own_features = own_features
        self.kept: Counter[str] = Counter()
        self.placements: Sequence[Placement] = ()
        self.running: Sequence[Running] = ()

    def run(self, entries: Sequence[tuple[int, Entry]]) -> tuple[Stage, ...]:
        """Read every entry in its order, and name the stages."""
        stages = [Stage(0, "as received")]
        for (number, entry), key, message in identity_faults(entries):
            self._fault(number, entry, key, message)
        for number, entry in in_order(entries):
            if isinstance(entry, WorkEntry):
                stages.append(self._work(number, entry, len(stages)))
                continue
            read = _READERS.get(type(entry))
            if read is not None:
                read(self, number, entry, len(stages) - 1)
            if entry.kind in KEPT:
                self.kept[entry.kind] += 1
        self.placements, self.running, wrong = movements_of(entries)
        for number, entry, key, message in wrong:
            self._fault(number, entry, key, message)
        return tuple(stages)

    # --- kinds ---------------------------------------------------------------------------------------------

    def _reading(self, number: int, entry: ReadingEntry, stage: int) -> None:
        what = self._characteristic(number, entry)
        if what is None:
            return
        if what.kind is None:
            self._fault(number, entry, "what", f"{what.id} is passed or failed: write it as an entry of kind gauge")
            return
        self._only_where_it_belongs(number, entry, what)
        places = self._places(number, entry, what, entry.at)
        turn = self._turn(number, entry, entry.turn)
        groups = [entry.values] if entry.values is not None else list(entry.places or [])
        for index, texts in enumerate(groups, 1):
            values = self._values(number, entry, what, texts)
            place = turn if entry.values is not None else f"{turn} place {index}".strip()
            for alike in _same_digits(values) if entry.with_ is None else [values]:
                if not alike:
                    continue
                figures = self._instruments.figures(entry.with_, what.kind, alike, what.id)
                if isinstance(figures, str):
                    if figures:
                        self._fault(number, entry, "with", figures)
                    return
                self.readings += [
                    Reading(
                        number + 1,
                        what.id,
                        at,
                        place,
                        entry.state or "free",
                        alike,
                        figures,
                        stage,
                        entry.name or "",
                        entry.turned,
                    )
                    for at in places
                ]

    def _only_where_it_belongs(self, number: int, entry: ReadingEntry, what: Characteristic) -> None:
        """Keys that only some characteristics take."""
        if entry.state is not None and what.id != "coupler.height":
            self._fault(number, entry, "state", "only a coupler height has a state")
        if entry.turned is not None and what.places != "ends":
            self._fault(number, entry, "turned", "only a reading at an end of the car has the car turned end for end")
        if (entry.name is not None) != (what.id == "dimension"):
            self._fault(number, entry, "name", "goes with a dimension, and a dimension needs it")

    def _values(self, number: int, entry: ReadingEntry, what: Characteristic, texts: list[str]) -> tuple[Quantity, ...]:
        values: list[Quantity] = []
        for text in texts:
            value = self._quantity(number, entry, "values" if entry.values else "places", text, what)
            if value is None:
                return ()
            values.append(value)
        return tuple(values)

    def _quantity(self, number: int, entry: Entry, key: str, text: str, what: Characteristic) -> Quantity | None:
        kind = what.kind
        if kind is None:
            return None
        try:
            value = parse(text, kind, ratio=self._scale.ratio, scales=self._ratios)
        except UnitError as error:
            self._fault(number, entry, key, str(error))
            return None
        low, high = (bound * self._scale.unit(what.per) for bound in what.believable)
        if what.per == "%":
            low, high = math.atan(low / 100), math.atan(high / 100)
        if what.per == "deg":
            low, high = math.radians(low), math.radians(high)
        if self._scale.track is None and self._scale.ratio == 1:
            return value  # the scale itself was not read
        if high > low and not low <= value.value <= high:
            span = f"{say(low, kind, _system(value))} to {say(high, kind, _system(value))}"
            self._fault(
                number, entry, key,
                f"{text!r} is not believable for {what.title} in {self._scale.name}: expected {span} (a slip of unit?)",
            )  # fmt: skip
            return None
        return value

    def _gauge(self, number: int, entry: GaugeEntry, stage: int) -> None:
        what = self._characteristic(number, entry)
        if what is None:
            return
        allowed = ("pass", "low", "high") if what.kind is not None else ("pass", "fail")
        if entry.result not in allowed:
            self._fault(number, entry, "result", f"expected {' or '.join(allowed)}, got {entry.result!r}")
            return
        places = self._places(number, entry, what, entry.at)
        turn = self._turn(number, entry, entry.turn)
        if what.id == "roll.free":
            self._roll(number, entry, places, stage)
            return
        if entry.grade is not None:
            self._fault(number, entry, "grade", "only roll.free is tried on a grade")
        limits = self._instruments.gauge(entry.with_, what.kind)
        if isinstance(limits, str):
            self._fault(number, entry, "with", limits)
            return
        self.gauges += [GaugeCheck(number + 1, what.id, at, turn, entry.result, limits, stage) for at in places]

    def _roll(self, number: int, entry: GaugeEntry, places: list[str], stage: int) -> None:
        """It rolled on a grade: a gauge that accepts any starting slope up to that grade."""
        if entry.grade is None:
            self._fault(number, entry, "grade", f"roll.free needs the ramp's grade: {EXPECTED['slope']}")
            return
        try:
            grade = parse(entry.grade, "slope")
        except UnitError as error:
            self._fault(number, entry, "grade", str(error))
            return
        figures = self._instruments.figures(entry.with_, "slope", (grade,), "roll.start")
        if isinstance(figures, str):
            if figures:
                self._fault(number, entry, "with", figures)
            return
        if entry.with_ is None:
            u = figures.resolution / 12**0.5
        else:
            u = (figures.calibration**2 + figures.repeatability**2 + figures.resolution**2 / 12) ** 0.5
        limits = GaugeLimits(f"ramp at {entry.grade}", float("-inf"), grade.value, u)
        result = "pass" if entry.result == "pass" else "high"
        self.gauges += [GaugeCheck(number + 1, "roll.start", at, "", result, limits, stage) for at in places]

    def _profile(self, number: int, entry: ProfileEntry, stage: int) -> None:
        read = read_profile(entry, self._scale, self._geometry, self._ratios)
        for key, message in read.faults:
            self._fault(number, entry, key, message)
        if read.faults:
            return
        what = "frame.rock" if read.gaps else "frame.height"
        figures = self._instruments.figures(entry.with_, "length", tuple(read.digits), what)
        if isinstance(figures, str):
            if figures:
                self._fault(number, entry, "with", figures)
            return
        self.profiles.append(
                Profile(
                    number + 1, stage, entry.of, entry.datum, entry.side, read.stations, read.lower, read.upper,
                    read.gaps, read.nominal, figures,
                )
            )  # fmt: skip

    def _look(self, number: int, entry: LookEntry, stage: int) -> None:
        if entry.what not in self._words.looks:
            hint = nearest(entry.what, self._words.looks)
            self._fault(number, entry, "what", f"unknown look {entry.what!r}{hint}")
            return
        self.looks.append(
            Look(number + 1, entry.what, entry.at or "", entry.name or "", entry.grade, entry.note or "", stage)
        )

    def _work(self, number: int, entry: WorkEntry, stage: int) -> Stage:
        remedy = self._words.remedies.get(entry.remedy)
        if remedy is None:
            hint = nearest(entry.remedy, self._words.remedies)
            self._fault(number, entry, "remedy", f"unknown remedy {entry.remedy!r}{hint}")
        at = entry.at or ""
        if remedy is not None and (entry.at is not None or remedy.only_there):
            found = work_place(remedy, entry.at, self._axles)
            if found.startswith("!"):
                self._fault(number, entry, "at", found[1:])
            at = found
        size, kind = None, ""
        if entry.amount is not None and remedy is not None:
            read = read_amount(entry.amount, remedy.amount, remedy.id)
            if isinstance(read, str):
                self._fault(number, entry, "amount", read)
            else:
                size, kind = read
        if entry.face is not None and remedy is not None and remedy.id != "dress-shank":
            self._fault(number, entry, "face", "only a shank has a face that is dressed")
        feature, month = "", None
        if entry.remedy in FEATURE_WORK or entry.feature is not None or entry.date is not None:
            feature, month, faults = read_feature_work(entry, self._names())
            for key, message in faults:
                self._fault(number, entry, key, message)
        where = f" at {at}" if at else ""
        amount = f" {entry.amount}" if entry.amount else f" {entry.feature}" if entry.feature else ""
        self.works.append(
            Work(
                number + 1,
                entry.remedy,
                at,
                entry.amount or "",
                entry.note or "",
                stage,
                entry.when or "",
                size,
                kind,
                entry.face or "",
                feature,
                month,
            )
        )
        return Stage(stage, f"after {entry.remedy}{amount}{where}")

    def _ruling(self, number: int, entry: RulingEntry, stage: int) -> None:
        del stage
        self.rulings.append(
            Ruling(
                number + 1,
                entry.category or "",
                entry.points or 0.0,
                entry.reason,
                entry.waives or "",
                entry.who or "",
                entry.route or "",
            )
        )

    def _names(self) -> Names:
        return Names(self._words.features(), self._own_features)

    def _evidence(self, number: int, entry: EvidenceEntry, stage: int) -> None:
        read, faults = read_evidence(entry, number + 1, stage, self._names())
        for key, message in faults:
            self._fault(number, entry, key, message)
        self.evidence.append(read)

    def _photo(self, number: int, entry: PhotoEntry, stage: int) -> None:
        path = PurePosixPath(entry.file.replace("\\", "/"))
        if path.is_absolute() or ".." in path.parts or ":" in entry.file:
            self._fault(number, entry, "file", f"{entry.file!r} must lie beside the sheet or in a folder below it")
            return
        self.photos.append(Photo(number + 1, str(path), entry.shows or "", entry.note or "", entry.when or "", stage))

    def _acquisition(self, number: int, entry: AcquisitionEntry, stage: int) -> None:
        del stage
        if (entry.paid is not None or entry.list_price is not None) and not entry.currency:
            self._fault(number, entry, "currency", "a price needs its currency")
        self.acquisitions.append(
            Acquisition(
                number + 1, entry.paid, entry.list_price, entry.currency or "", entry.from_ or "",
                entry.condition or "", entry.return_by or "", entry.when or "",
            )
        )  # fmt: skip

    # --- shared --------------------------------------------------------------------------------------------

    def priors(self, rows: Sequence[tuple[int, PriorRow]]) -> tuple[Prior, ...]:
        """Read what was known before this bench; a contribution's spread goes to :attr:`spreads`."""
        found = []
        for number, row in rows:
            place = f"prior {number + 1} ({row.what})"
            what = self._words.characteristics.get(row.what)
            if what is None and row.what not in self._words.contributions:
                hint = nearest(row.what, [*self._words.characteristics, *self._words.contributions])
                self._faults.add(place, f"unknown characteristic {row.what!r}{hint}", "prior", number, "what")
                continue
            if what is not None and what.kind is None:
                self._faults.add(place, f"{row.what} is only passed or failed", "prior", number, "what")
                continue
            if row.value is None and row.what not in self._words.contributions:
                self._faults.add(place, "needs value", "prior", number)
                continue
            kind = what.kind if what is not None and what.kind is not None else "length"
            places = places_of(what, row.at, self._axles) if row.at is not None and what is not None else [""]
            if isinstance(places, str):
                self._faults.add(place, places, "prior", number, "at")
                continue
            try:
                value = parse(row.value, kind, ratio=self._scale.ratio).value if row.value is not None else 0.0
                u = parse(row.u, kind, ratio=self._scale.ratio).value
            except UnitError as error:
                self._faults.add(place, str(error), "prior", number)
                continue
            if u <= 0:
                self._faults.add(place, f"u must be above zero, got {row.u!r}", "prior", number, "u")
                continue
            if row.what in self._words.contributions:
                self.spreads.append(Spread(row.what, value, u, row.source))
            if what is not None:
                found.append(Prior(row.what, row.at or "", value, u, row.source))
        return tuple(found)

    def _characteristic(self, number: int, entry: ReadingEntry | GaugeEntry) -> Characteristic | None:
        what = self._words.characteristics.get(entry.what)
        if what is None:
            hint = nearest(entry.what, self._words.characteristics)
            self._fault(number, entry, "what", f"unknown characteristic {entry.what!r}{hint}")
        return what

    def _turn(self, number: int, entry: Entry, text: str | None) -> str:
        if text is None:
            return ""
        try:
            return f"turn {parse(text, 'angle').value * 57.29577951308232:.0f} deg"
        except UnitError as error:
            self._fault(number, entry, "turn", str(error))
            return ""

    def _places(self, number: int, entry: ReadingEntry | GaugeEntry, what: Characteristic, at: str | None) -> list[str]:
        found = places_of(what, at, self._axles)
        if isinstance(found, str):
            self._fault(number, entry, "at", found)
            return []
        return found

    def _fault(self, number: int, entry: Entry, key: str, message: str) -> None:
        self._faults.add(entry_place(number, entry.kind, entry), message, "entry", number, key)


def _same_digits(values: tuple[Quantity, ...]) -> list[tuple[Quantity, ...]]:
    """Values by their last written place: digits of another size speak for another instrument."""
    groups: dict[float, list[Quantity]] = {}
    for value in values:
        groups.setdefault(value.last_place, []).append(value)
    return [tuple(group) for group in groups.values()]


def entry_place(number: int, kind: str, entry: Any) -> str:
    """``entry 4 (reading coupler.height at A)``; works on models and on raw tables."""
    get: Callable[[str], Any] = entry.get if isinstance(entry, dict) else lambda key: getattr(entry, key, None)
    words = [" ".join(str(kind).split())]
    named = get("source") if kind == "evidence" else None
    what = get("what") or get("remedy") or named or get("of")
    if what:
        words.append(" ".join(str(what).split())[:60])
    if get("at"):
        words.append(" ".join(f"at {get('at')}".split())[:30])
    return f"entry {number + 1} ({' '.join(words)})"


def _system(value: Quantity) -> Any:
    return "us" if value.unit in {"in", '"', "thou", "ft in", "oz", "lb", "inch", "inches"} else "metric"


_READERS: dict[type, Callable[[Checker, int, Any, int], None]] = {
    ReadingEntry: Checker._reading,  # noqa: SLF001 - the table of this class's own methods
    GaugeEntry: Checker._gauge,  # noqa: SLF001
    ProfileEntry: Checker._profile,  # noqa: SLF001
    LookEntry: Checker._look,  # noqa: SLF001
    RulingEntry: Checker._ruling,  # noqa: SLF001
    EvidenceEntry: Checker._evidence,  # noqa: SLF001
    PhotoEntry: Checker._photo,  # noqa: SLF001
    AcquisitionEntry: Checker._acquisition,  # noqa: SLF001
}

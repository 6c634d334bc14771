"""The pad of the bench: the form that is open, with all there is to choose from."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from carwright.history import History
from carwright.inspection import words_of
from carwright.judge import OUTCOMES
from carwright.shop.instruments import kept_instruments
from carwright.units import outside
from carwright.web.asked import Asked
from carwright.web.desk import Seen
from carwright.web.entering import FIRST, GRADES, STEPS, UNITS, Doing, fields_of, instruments_for, typed_of
from carwright.web.fields import Choice, Field, Typed
from carwright.web.places import Spot, choices_at, measured_at
from carwright.words import Characteristic


@dataclass(frozen=True, slots=True)
class Pad:
    """The pad: what is about to be put down.

    Attributes
    ----------
    doing : Doing
        Which form.
    what, at, place : Characteristic or None, str, str
        Of a reading: characteristic, place as sent, and in words.
    names, places : tuple
        Characteristics and places to choose from: address, words, shape of the outcome, whether chosen.
    instruments, units, states : tuple
        To choose from.
    unit, step, last : str
        Unit chosen, how far a step goes in it, and the value read last.
    fields : tuple of Field
        Of a form that is no reading.
    grades : tuple of (grade, sentence)
        Of a look.
    typed : Typed
        What stands in it.
    supersedes : str
        The entry it corrects.
    """

    doing: Doing
    what: Characteristic | None = None
    at: str = ""
    place: str = ""
    names: tuple[tuple[str, str, str, bool], ...] = ()
    places: tuple[tuple[str, str, str, bool], ...] = ()
    instruments: tuple[Choice, ...] = ()
    instrument: str = ""
    units: tuple[str, ...] = ()
    states: tuple[Choice, ...] = ()
    unit: str = ""
    step: str = ""
    last: str = ""
    fields: tuple[Field, ...] = ()
    grades: tuple[tuple[str, str], ...] = ()
    typed: Typed = field(default_factory=Typed)
    supersedes: str = ""
    more: bool = False


@dataclass(frozen=True)
class Wish:
    """What of the bench a person asked for."""

    spot: str = ""
    do: str = "measure"
    what: str = ""
    at: str | None = None
    entry: str = ""
    fill: Mapping[str, str] = field(default_factory=dict)


class Pads:
    """Makes the pad of one car.

    Parameters
    ----------
    asked : Asked
        Who asks, and with what they measured last.
    seen : Seen
        The car.
    href : callable
        An address of the bench, by what is chosen there.
    """

    def __init__(self, asked: Asked, seen: Seen, href: Callable[..., str]) -> None:
        self._asked, self._seen, self._href = asked, seen, href
        self._words = words_of(seen.inspection.tables)

    @property
    def _history(self) -> History:
        return self._seen.history

    def made(self, doing: Doing, spot: Spot, wish: Wish, typed: Typed | None) -> Pad:
        """The pad for a form at a spot."""
        entry = wish.entry or (self._bought() if doing.id == "bought" and typed is None else "")
        wish = replace(wish, entry=entry)
        before = self._entry(entry)
        if typed is None:
            typed = Typed(before or wish.fill)
        if doing.id == "measure":
            return self._reading_pad(doing, spot, wish, typed, before)
        fields = fields_of(doing, spot, self._words, self._history)
        if doing.id in {"gauge", "look"} and not typed.values and (wish.what or wish.at is not None):
            typed = Typed({"what": wish.what, **({"at": wish.at} if wish.at is not None else {})})
        grades: tuple[tuple[str, str], ...] = ()
        if doing.id == "look":
            rows = self._seen.inspection.tables.table("words/looks").rows
            what = typed.value("what", fields[0].choices[0][0])
            row = rows.get(what) or next(iter(rows.values()))
            grades = tuple((grade, row.words.get(grade, "Nobody looked, or it cannot be seen.")) for grade in GRADES)
        if doing.id == "repair":
            fields = tuple(self._with_planned(each) for each in fields)
        return Pad(
            doing,
            fields=fields,
            grades=grades,
            typed=typed,
            supersedes=wish.entry if before else "",
            more=doing.id not in FIRST,
        )

    def _with_planned(self, each: Field) -> Field:
        """Remedies of the offered plans before all others."""
        if each.name != "remedy":
            return each
        planned = list(
            dict.fromkeys(
                step.remedy for plan in self._seen.inspection.plans.offered[:3] for step in plan.steps if step.remedy
            )
        )
        rank = {name: index for index, name in enumerate(planned)}
        return Field(
            each.name,
            each.label,
            each.kind,
            each.hint,
            tuple(sorted(each.choices, key=lambda one: rank.get(one[0], len(rank)))),
            each.required,
        )

    def _bought(self) -> str:
        """The last entry that says what the car cost: it is added to, and not hidden by another one."""
        rows = self._seen.state.entries
        gone = {str(each.content().get("supersedes", "")) for each in rows}
        return next((each.id for each in reversed(rows) if each.key == "acquisition" and each.id not in gone), "")

    def _entry(self, identity: str) -> dict[str, str]:
        """What to type to get an entry again, to correct it."""
        found = self._seen.state.entry(identity) if identity else None
        return typed_of(found.content()) if found is not None else {}

    def _reading_pad(self, doing: Doing, spot: Spot, wish: Wish, typed: Typed, before: Mapping[str, str]) -> Pad:
        offered = [each for each in measured_at(spot, self._words, self._history) if each.kind is not None]
        wanted = typed.value("what") or wish.what
        what = next((each for each in offered if each.id == wanted), offered[0])
        choices = choices_at(spot, what)
        at = self._at(what, choices, wish, typed, is_correction=bool(before))
        system = self._history.system
        own = [name.removeprefix("instrument:") for name, row in self._seen.state.stated.items()
               if name.startswith("instrument:") and row.get("kind", "measure") == "measure"]  # fmt: skip
        instruments = instruments_for(what, self._words, kept_instruments(self._asked.desk.shop), own)
        used = self._asked.request.session.get(f"with:{what.kind}")
        known = [name for name, _ in instruments]
        usual = used if used in known else self._usual(what, known)
        units = UNITS[what.kind][system] if what.kind is not None and what.kind in UNITS else ()
        unit = typed.value("unit") or str(self._asked.request.session.get(f"unit:{what.kind}", ""))
        unit = unit if unit in units else units[0] if units else ""
        marks = self._marks()
        states = (("free", "free"), ("lifted", "lifted"), ("pulled", "pulled")) if what.id == "coupler.height" else ()
        return Pad(
            doing,
            what,
            at,
            place_words(at),
            names=tuple(
                (self._href(spot=spot.id, what=each.id), each.title, marks.get((each.id, ""), ""), each is what)
                for each in offered
            ),
            places=tuple(
                (
                    self._href(spot=spot.id, what=what.id, at=each),
                    place_words(each) or "whole car",
                    marks.get((what.id, each), ""),
                    each == at,
                )
                for each in choices
            )
            if len(choices) > 1
            else (),
            instruments=tuple(instruments),
            instrument=typed.value("with") if before or "with" in typed.values else usual,
            units=units,
            states=states,
            unit=unit,
            step=STEPS.get(unit, "1"),
            last=self._last(what, at, unit),
            typed=typed,
            supersedes=wish.entry if before else "",
        )

    def _at(
        self, what: Characteristic, choices: Sequence[str], wish: Wish, typed: Typed, *, is_correction: bool
    ) -> str:
        """The place: as typed, as corrected, as asked for, or the first that nobody read."""
        if "at" in typed.values or is_correction:
            return typed.value("at")
        if wish.at is not None and wish.at in choices:
            return wish.at
        return self._unread(what, choices)

    def _usual(self, what: Characteristic, known: Sequence[str]) -> str:
        """The instrument last used for a characteristic on this car, else the first that suits."""
        for each in reversed(self._history.readings):
            if each.what == what.id and each.figures.name in known:
                return each.figures.name
        return known[0]

    def _unread(self, what: Characteristic, choices: Sequence[str]) -> str:
        """The first place nobody has read yet at this stage."""
        stage = self._seen.inspection.stage
        read = {each.at for each in self._history.readings if each.what == what.id and each.stage == stage}
        return next((each for each in choices if each not in read), choices[0])

    def _last(self, what: Characteristic, at: str, unit: str) -> str:
        """The value read last, in the unit chosen: where steps begin."""
        found = [each for each in self._history.readings if each.what == what.id and each.at in {at, ""}]
        if not found or what.kind is None or not unit:
            return ""
        digits = len(STEPS.get(unit, "1").partition(".")[2])
        return f"{outside(found[-1].values[-1].value, what.kind, unit):.{digits}f}"

    def _marks(self) -> dict[tuple[str, str], str]:
        """Shape of the worst outcome by characteristic and place, and by characteristic alone."""
        charges = self._seen.inspection.rubric.charges
        found: dict[tuple[str, str], str] = {}
        for each in sorted(self._seen.inspection.findings, key=lambda one: -OUTCOMES.index(one.outcome)):
            if each.force in charges:
                found[each.characteristic, each.at] = each.outcome
                found[each.characteristic, ""] = each.outcome
        return found


def place_words(at: str) -> str:
    """A place as people say it."""
    if not at:
        return ""
    if at[0].isdigit():
        side = {"L": " left", "R": " right"}.get(at[-1], "")
        return f"axle {at.rstrip('LR')}{side}"
    return {"A": "A end", "B": "B end", "L": "left", "R": "right", "all": "every axle"}.get(at, at)

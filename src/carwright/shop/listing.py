"""Cars in a list: searched by words, by status, by what is due, by collection."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, and_, select

from carwright.shop.judging import ground_of
from carwright.shop.records import CAR
from carwright.shop.schema import judged, standing
from carwright.shop.shop import Shop
from carwright.shop.standing import searched
from carwright.shop.store import AT_ONCE
from carwright.verdict.due import DueReason


@dataclass(frozen=True, slots=True)
class CarLine:
    """A car as a list shows it.

    Attributes
    ----------
    id, title, scale, type, owner, number, place, who : str
        As stated last.
    entries, forks : int
        How many it has, and on how many points people disagree.
    clock : int
        When it was last written about [µs].
    known : bool
        Whether the rest follows from the car as it is now; where not, it is not known yet.
    status, band, route, fault : str
        Of the verdict; the route of a restricted car; why it cannot be inspected.
    points, out_of : float
        Of the verdict.
    reasons : tuple[str, ...]
        Why it has that status.
    due : tuple[DueReason, ...]
        What it is to be looked at again for, now or later.
    fails, undecided, unmeasured : int
        Findings that may cost points, at the last stage.
    """

    id: str
    title: str
    scale: str
    type: str
    owner: str
    number: str
    place: str
    who: str
    entries: int
    forks: int
    clock: int
    known: bool
    status: str = ""
    band: str = ""
    route: str = ""
    fault: str = ""
    points: float = 0.0
    out_of: float = 0.0
    reasons: tuple[str, ...] = ()
    due: tuple[DueReason, ...] = ()
    fails: int = 0
    undecided: int = 0
    unmeasured: int = 0

    def due_now(self, today: dt.date) -> tuple[DueReason, ...]:
        """What it is due for on a day."""
        return tuple(each for each in self.due if each.is_due(today))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which cars.

    Attributes
    ----------
    words : str
        All of these words stand in title, type, owner, number, place, notes or id.
    status : str
        A status, "" for any.
    cars : tuple[str, ...] or None
        Only these.
    due : date or None
        Only what is due on that day.
    """

    words: str = ""
    status: str = ""
    cars: tuple[str, ...] | None = None
    due: dt.date | None = None


_STANDING = ("title", "scale", "type", "owner", "number", "place", "who", "entries", "forks", "clock")
_JUDGED = ("status", "band", "route", "fault", "points", "out_of", "fails", "undecided", "unmeasured")


def list_cars(
    shop: Shop,
    wanted: Wanted | None = None,
    *,
    first: int = 0,
    most: int | None = None,
    loose: Mapping[str, Mapping[str, Any]] | None = None,
) -> list[CarLine]:
    """Cars in order of their titles.

    Parameters
    ----------
    shop : Shop
        Where.
    wanted : Wanted, optional
        Which; all where omitted.
    first, most : int
        How many to pass over, and how many to give at most.
    loose : mapping, optional
        Results by car that the shop could not keep.
    """
    wanted = wanted or Wanted()
    ground = ground_of(shop)
    columns = [standing.c.subject, *(standing.c[name] for name in _STANDING), judged.c.subject.label("known"),
               *(judged.c[name] for name in _JUDGED), judged.c.reasons, judged.c.due]  # fmt: skip
    current = and_(
        judged.c.subject == standing.c.subject, judged.c.history == standing.c.digest, judged.c.program == ground
    )
    query = _where(select(*columns).select_from(standing.outerjoin(judged, current)), wanted)
    if wanted.status and not loose:
        query = query.where(judged.c.status == wanted.status)
    query = query.order_by(standing.c.sort, standing.c.subject)
    in_database = wanted.due is None and not loose and not (wanted.cars is not None and len(wanted.cars) > AT_ONCE)
    if in_database:
        query = query.offset(first).limit(most)
    with shop.reading() as connection:
        found = [_line(row._mapping, loose or {}) for row in connection.execute(query)]  # noqa: SLF001 - public in SQLAlchemy
    if in_database:
        return found
    kept = set(wanted.cars) if wanted.cars is not None else None
    found = [
        each for each in found
        if (not wanted.status or each.status == wanted.status)
        and (wanted.due is None or each.due_now(wanted.due))
        and (kept is None or each.id in kept)
    ]  # fmt: skip
    return found[first : None if most is None else first + most]


def _where(query: Select[Any], wanted: Wanted) -> Select[Any]:
    query = query.where(standing.c.of == CAR)
    for word in searched(wanted.words).split():
        query = query.where(standing.c.words.contains(word, autoescape=True))
    if wanted.cars is not None and len(wanted.cars) <= AT_ONCE:
        query = query.where(standing.c.subject.in_(wanted.cars))
    return query


def _line(row: Mapping[Any, Any], loose: Mapping[str, Mapping[str, Any]]) -> CarLine:
    own = {name: row[name] for name in _STANDING}
    found: Mapping[Any, Any] | None = loose.get(row["subject"]) or (row if row["known"] is not None else None)
    if found is None:
        return CarLine(id=row["subject"], known=False, **own)
    reasons: Sequence[str] = json.loads(found["reasons"])
    due = tuple(
        DueReason("", why, dt.date.fromisoformat(start) if start else None, tuple(read))
        for start, why, read in json.loads(found["due"])
    )
    return CarLine(id=row["subject"], known=True, reasons=tuple(reasons), due=due,
                   **own, **{name: found[name] for name in _JUDGED})  # fmt: skip

"""What adding a sheet to a shop comes to: which entries are new, which are known, and what is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from carwright.history import Sheet
from carwright.shop.canonical import canonical, named_id
from carwright.shop.comparing import Comparison
from carwright.shop.document import FILE, INSTRUMENT, TABLES, apart
from carwright.shop.faults import ChangedError
from carwright.shop.records import ENTRY, Line, Record, statement_record
from carwright.shop.state import State
from carwright.shop.store import Held


@dataclass(frozen=True, slots=True)
class Addition:
    """What a sheet adds.

    Attributes
    ----------
    car : str
        Its UUID.
    records : tuple[Record, ...]
        New statements and entries.
    lines : tuple[Line, ...]
        The same, with their places.
    ids : tuple[str, ...]
        Id of every entry of the sheet, in its order.
    entries, corrected, stated : int
        How many entries are new, how many of those correct one, and how many statements are new.
    elsewhere : int
        Entries of the car that the sheet does not have; they are kept.
    older : tuple[str, ...]
        Statements in which the sheet is older than the shop; the shop's are kept.
    unstated : tuple[str, ...]
        Tables of a sheet that the shop has of the car and the sheet has not; they are kept.
    """

    car: str
    records: tuple[Record, ...]
    lines: tuple[Line, ...]
    ids: tuple[str, ...]
    entries: int
    corrected: int
    stated: int
    elsewhere: int
    older: tuple[str, ...]
    unstated: tuple[str, ...] = ()


def car_id(sheet: Sheet, borrowed: frozenset[str] = frozenset()) -> str:
    """The car's own id, or one that follows from all the sheet says, without instruments it has from the shop."""
    if sheet.car.id:
        return sheet.car.id
    stated, entries = apart(sheet)
    stated = {key: value for key, value in stated.items() if key.removeprefix(INSTRUMENT) not in borrowed}
    return named_id("car", canonical([stated, [list(each) for each in entries]]))


def addition_of(
    sheet: Sheet,
    known: Held,
    *,
    car: str,
    files: Mapping[str, Mapping[str, Any]] | None = None,
    borrowed: frozenset[str] = frozenset(),
    correct: bool = False,
) -> Addition:
    """Compare a sheet with what the shop holds of its car.

    Parameters
    ----------
    sheet : Sheet
        As read.
    known : Held
        What the shop holds of the car; nothing for a new one.
    car : str
        Its UUID.
    files : mapping, optional
        Digest and size of the files the sheet names, by name.
    borrowed : frozenset of str
        Instruments the sheet has from the shop; a car that knows them keeps the figures it has.
    correct : bool
        Whether what the sheet says goes before what the shop says: a changed entry becomes a correction, what the sheet
        does not state any more is taken back.

    Raises
    ------
    ChangedError
        "entry 3 (reading coupler.height at A): says something else than ... ; an entry never changes: ..."
    """
    state = known.state
    stated, entries = apart(sheet)
    for name, facts in (files or {}).items():
        stated[f"{FILE}{name}"] = dict(facts)
    for name in borrowed:
        if f"{INSTRUMENT}{name}" in state.stated:
            del stated[f"{INSTRUMENT}{name}"]
    older: list[str] = []
    statements = _statements(car, stated, state, known, older, correct=correct)
    gone = [key for key in state.stated if key in TABLES and key not in stated]
    if correct:
        statements += [statement_record(car, key, None, state.heads[key]) for key in gone]
    compared = Comparison(car, state, known, correct=correct)
    compared.take(entries)
    if compared.problems:
        raise ChangedError(sheet.file or "sheet", compared.problems)
    lines = [Line(each.digest) for each in statements]
    lines += compared.lines()
    fresh = compared.fresh
    return Addition(
        car=car,
        records=(*statements, *fresh),
        lines=tuple(lines),
        ids=tuple(compared.ids),
        entries=len(fresh),
        corrected=compared.corrected,
        stated=len(statements),
        elsewhere=len({each.id for each in state.entries} - set(compared.ids) - compared.followed),
        older=tuple(older),
        unstated=() if correct else tuple(gone),
    )


def _statements(
    car: str, stated: Mapping[str, Any], state: State, known: Held, older: list[str], *, correct: bool
) -> list[Record]:
    said_before: dict[str, set[str]] = {}
    for record in known.records:
        if record.kind != ENTRY:
            said_before.setdefault(record.key, set()).add(canonical(record.content()["value"]))
    found = []
    for key, value in stated.items():
        text = canonical(value)
        if key in state.stated and canonical(state.stated[key]) == text:
            continue
        if text in said_before.get(key, ()) and not correct:
            older.append(key)
            continue
        found.append(statement_record(car, key, value, state.heads.get(key, ())))
    return found


def alike(measured: int, found: Mapping[str, int]) -> str:
    """The car whose readings a sheet without ids repeats, "" for none.

    Parameters
    ----------
    measured : int
        How many different readings the sheet has.
    found : mapping
        How many of those each car of the shop has.
    """
    best = max(found, key=lambda each: (found[each], each), default="")
    return best if best and found[best] >= max(LEAST_ALIKE, MOSTLY * measured) else ""


LEAST_ALIKE = 4
"""Readings two cars may share by chance; judgement."""
MOSTLY = 0.8
"""Share of a sheet's readings that are the same where it is the same car: somebody changed a few; judgement."""

"""The line of each subject that lists and searches show, kept in step with every writing."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, insert, select, update

from carwright.shop.canonical import canonical, digest_of
from carwright.shop.document import files_of
from carwright.shop.naming import kept_id, plain_name
from carwright.shop.records import CAR, COLLECTION, KEPT
from carwright.shop.schema import standing
from carwright.shop.state import State
from carwright.shop.store import held_of

NAME, FILE_KEPT = "name", "kept"
"""Statements: the name of a collection, and the file kept for all cars."""


def uses_of(state: State) -> list[str]:
    """Files a car's sheet names that it does not have itself, so that those kept for all cars serve."""
    car, prototype = state.stated.get("car", {}), state.stated.get("car.prototype", {})
    named = [name for name in car.get("rules", []) if name.endswith(".toml")]
    named += [car[key] for key in ("rubric", "stock", "layout") if key in car]
    named += [*prototype.get("dated", []), *filter(None, [prototype.get("roster")])]
    own = files_of(state)
    return sorted({name for name in named if name not in own})


def kept_texts(connection: Connection, names: Iterable[str]) -> dict[str, str]:
    """Texts of the files kept for all cars, by name; names that are not kept are left out."""
    wanted: dict[str, list[str]] = {}
    for name in names:
        wanted.setdefault(kept_id(name), []).append(name)
    found = {}
    for held in held_of(connection, list(wanted)):
        kept = held.state.stated.get(FILE_KEPT)
        if kept is not None:
            found.update(dict.fromkeys(wanted[held.subject], str(kept["text"])))
    return found


def refresh(connection: Connection, states: Iterable[State]) -> None:
    """Bring the lines of some subjects up to date, and of the cars that go by a file kept for all."""
    listed = list(states)
    _write(connection, listed)
    kept = [state.stated[FILE_KEPT]["name"] for state in listed if state.of == KEPT and FILE_KEPT in state.stated]
    touched: set[str] = set()
    for name in kept:
        sign = json.dumps(plain_name(name), ensure_ascii=False)
        query = select(standing.c.subject).where(standing.c.of == CAR, standing.c.uses.contains(sign, autoescape=True))
        touched.update(connection.execute(query).scalars())
    if touched:
        _write(connection, [held.state for held in held_of(connection, sorted(touched)) if not held.altered])


def _write(connection: Connection, states: list[State]) -> None:
    rows = [line_of(connection, state) for state in states if state.of]
    ids = [row["subject"] for row in rows]
    there: set[str] = set()
    for start in range(0, len(ids), 500):
        query = select(standing.c.subject).where(standing.c.subject.in_(ids[start : start + 500]))
        there.update(connection.execute(query).scalars())
    fresh = [row for row in rows if row["subject"] not in there]
    if fresh:
        connection.execute(insert(standing), fresh)
    for row in rows:
        if row["subject"] in there:
            connection.execute(update(standing).where(standing.c.subject == row["subject"]), row)


def line_of(connection: Connection, state: State) -> dict[str, Any]:
    """The line of a subject, as it should be."""
    row: dict[str, Any] = {
        "subject": state.subject, "of": state.of, "title": "", "scale": "", "type": "", "owner": "", "number": "",
        "place": "", "entries": len(state.entries), "clock": state.clock, "who": state.who, "uses": "[]",
        "digest": digest_now(connection, state), "forks": len(state.forks) + len(state.twice),
    }  # fmt: skip
    if state.of == CAR:
        row |= _car(state)
    elif state.of == COLLECTION:
        row["title"] = str(state.stated.get(NAME, ""))
    elif FILE_KEPT in state.stated:
        row |= {"title": state.stated[FILE_KEPT]["name"], "type": state.stated[FILE_KEPT]["format"]}
    words = [row[key] for key in ("title", "scale", "type", "owner", "number", "place")]
    row["sort"] = sort_key(f"{row['title']} {row['number']}")
    row["words"] = searched(" ".join([*words, state.subject, *_told(state)]))
    return row


def searched(text: str) -> str:
    """A text as searches compare it: whatever its capitals, and however its accents are put together."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", text).casefold())


def digest_now(connection: Connection, state: State) -> str:
    """Digest of what results follow from: the history, and the files kept for all cars that it goes by."""
    uses = uses_of(state) if state.of == CAR else []
    if not uses:
        return state.digest
    texts = kept_texts(connection, uses)
    return digest_of(canonical([state.digest, [[name, digest_of(texts[name])] for name in sorted(texts)]]))


def _car(state: State) -> dict[str, Any]:
    car, prototype = state.stated.get("car", {}), state.stated.get("car.prototype", {})
    return {
        "title": car.get("title", ""),
        "scale": car.get("scale", ""),
        "type": car.get("type", ""),
        "owner": _fact(prototype.get("owner")),
        "number": number_of(state),
        "place": _place(state),
        "uses": json.dumps([plain_name(name) for name in uses_of(state)], ensure_ascii=False),
    }


_DIGITS = re.compile(r"\d+")


def sort_key(text: str) -> str:
    """A title as lists put it in order: without capitals, numbers by their size."""
    return _DIGITS.sub(lambda found: found[0].zfill(_WIDEST), text.casefold())


_WIDEST = 9
"""Digits up to which numbers are put in order by their size."""


def number_of(state: State) -> str:
    """The number a car bears, "" where nobody says."""
    return _fact(state.stated.get("car.prototype", {}).get("number"))


def _fact(value: Any) -> str:  # noqa: ANN401 - a fact, or rival claims of one
    first = value[0] if isinstance(value, list) and value else value
    found = first.get("value", "") if isinstance(first, Mapping) else first
    return "" if found is None or isinstance(found, list) else str(found)


def _place(state: State) -> str:
    """Where it was last put."""
    gone = _gone(state)
    placed = [each.content() for each in state.entries if each.key == "placement" and each.id not in gone]
    return str(placed[-1]["where"]) if placed else ""


def _gone(state: State) -> set[str]:
    """Entries that were corrected or undone."""
    return {str(each.content().get("supersedes")) for each in state.entries if '"supersedes"' in each.body}


def _told(state: State) -> list[str]:
    """What people wrote in words, for searches."""
    said = [state.stated.get("report", {}).get("short", "")]
    gone = _gone(state)
    for each in state.entries:
        if each.id in gone:
            continue
        if '"note"' in each.body or each.key in {"acquisition", "trouble"}:
            content = each.content()
            said += [str(content[key]) for key in ("note", "from", "condition", "defect") if key in content]
    return [each for each in said if each]

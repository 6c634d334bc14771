"""Undoing an entry: a new one that stands in its place; nothing is taken out of a history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from carwright.errors import CarwrightError


class UndoError(CarwrightError):
    """An entry cannot be undone."""

    http_status = 409


def undoing(entries: Mapping[str, Mapping[str, Any]], identity: str) -> dict[str, Any]:
    """The entry that undoes another.

    A correction is undone by what it corrected, said again; an undoing likewise, which brings back what was undone; any
    other entry by a note in its place.

    Parameters
    ----------
    entries : mapping
        Every entry of the car as written, by id.
    identity : str
        Which to undo.

    Returns
    -------
    dict
        A new entry without id.

    Raises
    ------
    UndoError
        "there is no entry ... on this car", "entry ... was corrected or undone already, by ...; undo that instead"
    """
    if not identity:
        raise UndoError("there is nothing to undo on this car")
    if identity not in entries:
        raise UndoError(f"there is no entry {identity} on this car")
    later = _later(entries, identity)
    if later:
        raise UndoError(f"entry {identity} was corrected or undone already, by {later}; undo that instead")
    body = entries[identity]
    corrected = str(body.get("supersedes", ""))
    earlier = entries.get(corrected)
    if earlier is not None and not _corrected_otherwise(entries, corrected, identity):
        return {**{key: value for key, value in earlier.items() if key != "id"}, "supersedes": identity}
    what = " ".join(str(body[key]) for key in ("kind", "what", "remedy", "at") if key in body)
    return {"kind": "note", "note": f"Undone: {what[:_LONGEST]}", "supersedes": identity}


_LONGEST = 200
"""Characters of an entry repeated in the note that undoes it."""


def _later(entries: Mapping[str, Mapping[str, Any]], identity: str) -> str:
    return next((each for each, body in entries.items() if body.get("supersedes") == identity), "")


def _corrected_otherwise(entries: Mapping[str, Mapping[str, Any]], corrected: str, identity: str) -> bool:
    """Whether another correction of the same entry holds, so that the entry itself must not come back."""
    for other, body in entries.items():
        if other == identity or body.get("supersedes") != corrected:
            continue
        last, seen = other, {other}
        while (later := _later(entries, last)) and later not in seen:
            last = later
            seen.add(last)
        if entries[last]["kind"] == body["kind"]:
            return True
    return False

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
    if identity not in entries:
        raise UndoError(f"there is no entry {identity} on this car")
    later = next((each for each, body in entries.items() if body.get("supersedes") == identity), "")
    if later:
        raise UndoError(f"entry {identity} was corrected or undone already, by {later}; undo that instead")
    body = entries[identity]
    earlier = entries.get(str(body.get("supersedes", "")))
    if earlier is not None:
        return {**{key: value for key, value in earlier.items() if key != "id"}, "supersedes": identity}
    what = " ".join(str(body[key]) for key in ("kind", "what", "remedy", "at") if key in body)
    return {"kind": "note", "note": f"Undone: {what}", "supersedes": identity}

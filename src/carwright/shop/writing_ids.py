"""Putting ids into a sheet as its owner wrote it: every word, comment and blank line of theirs stays."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Sequence

from carwright.errors import CarwrightError
from carwright.history.lines import Lines


class IdsError(CarwrightError):
    """Ids cannot be put into a sheet as it is written."""

    http_status = 422


def with_ids(text: str, car: str, entries: Sequence[str], *, file: str) -> str:
    """A sheet with an id for its car and for every entry that has none.

    Parameters
    ----------
    text : str
        The sheet.
    car : str
        Id of the car.
    entries : sequence of str
        Ids of all entries, in the order of the sheet.
    file : str
        Its name, for errors.

    Returns
    -------
    str
        The text, a line longer for each id; the same where it has all of them.

    Raises
    ------
    IdsError
        "hopper.toml: ids can be put in only where every entry stands under a line [[entry]] of its own, ..."
    """
    document = tomllib.loads(text.removeprefix("\ufeff"))
    wanted = copy.deepcopy(document)
    headers = Lines(text).tables
    added: dict[int, str] = {}
    rows = [("car", 0, document["car"], wanted["car"], car)]
    listed = document.get("entry", [])
    rows += [("entry", at, row, wanted["entry"][at], entries[at]) for at, row in enumerate(listed)]
    for table, number, row, aim, identity in rows:
        if "id" not in row:
            aim["id"] = identity
            added[headers.get((table, number), 0)] = identity
    if not added:
        return text
    lines = text.split("\n")
    if 0 not in added:
        for number, identity in sorted(added.items(), reverse=True):
            end = "\r" if lines[number - 1].endswith("\r") else ""
            lines.insert(number, f'id = "{identity}"{end}')
    made = "\n".join(lines)
    try:
        good = 0 not in added and tomllib.loads(made.removeprefix("\ufeff")) == wanted
    except tomllib.TOMLDecodeError:
        good = False
    if not good:
        raise IdsError(
            f"{file}: ids can be put in only where the car stands under a line [car] and every entry under a line "
            "[[entry]] of its own; the shop has the sheet, and `carwright shop sheet` writes it with its ids"
        )
    return made

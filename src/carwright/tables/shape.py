"""What a key of a rule set or rubric must hold, said in one sentence where it does not."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from carwright.errors import TableError
from carwright.words import nearest


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) for each in value)


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


_HOLDS: Mapping[str, Callable[[Any], bool]] = {
    "a text": lambda value: isinstance(value, str),
    "a list of texts": _texts,
    "a table": lambda value: isinstance(value, dict),
    "a table of texts": lambda value: isinstance(value, dict) and _texts(list(value.values())),
    "a list of tables": lambda value: isinstance(value, list) and all(isinstance(each, dict) for each in value),
    "a number of zero or more": lambda value: _number(value) and value >= 0,
    "a list of texts or of lists of texts": lambda value: (
        isinstance(value, list) and all(isinstance(each, str) or _texts(each) for each in value)
    ),
    "anything": lambda value: value is not None,
}


def check_shape(raw: Mapping[str, Any], keys: Mapping[str, str], place: str) -> None:
    """Check that a table has only known keys, and that each holds what it must.

    Parameters
    ----------
    raw : mapping
        As read from TOML.
    keys : mapping
        For every known key what it holds, one of the sentences above.
    place : str
        File and row.

    Raises
    ------
    TableError
        "<place>: unknown key 'plusminus'; did you mean 'plus_minus'?", "<place>: off must be a list of texts, got '*'"
    """
    for key, value in raw.items():
        if key not in keys:
            raise TableError(place, f"unknown key {key!r}{nearest(key, keys)}")
        if not _HOLDS[keys[key]](value):
            raise TableError(place, f"{key} must be {keys[key]}, got {str(value)[:40]!r}")

"""Rules by which a car is due again, as a file the user may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from carwright.errors import TableError
from carwright.tables.load import read_toml
from carwright.tables.shape import check_shape
from carwright.words import Vocabulary, nearest

FORMAT = "carwright-due/1"
AFTER = ("work", "trouble", "transport", "storage", "running", "time")
_KEYS = {
    **dict.fromkeys(("id", "after", "why"), "a text"),
    **dict.fromkeys(("read", "remedy"), "a list of texts"),
    **dict.fromkeys(("days", "runs"), "a number of zero or more"),
}
_NEEDS = {"storage": "days", "time": "days", "running": "runs"}
_MOST = {"days": 36_500, "runs": 1_000_000}
"""A hundred years, and as many runs as an entry may count."""


@dataclass(frozen=True, slots=True)
class DueRule:
    """One rule.

    Attributes
    ----------
    id, after, why : str
        Its name, one of :data:`AFTER`, and the reason in words.
    read : tuple[str, ...]
        Characteristics that must be read again; where there are none, what a work made stale, or any look at the car.
    remedies : tuple[str, ...]
        Works it counts, () for all.
    days, runs : int
        How long it may stand, and how often it may run.
    """

    id: str
    after: str
    why: str
    read: tuple[str, ...] = ()
    remedies: tuple[str, ...] = ()
    days: int = 0
    runs: int = 0


@dataclass(frozen=True, slots=True)
class DueRules:
    """Rules that go together."""

    id: str
    title: str
    rules: tuple[DueRule, ...]


@lru_cache(maxsize=1)
def usual_rules() -> DueRules:
    """The shipped rules: common practice."""
    text = (files("carwright.verdict") / "rubrics" / "due.toml").read_text("utf-8")
    return read_due_rules(text, "rubrics/due.toml")


def read_due_rules(text: str, file: str, words: Vocabulary | None = None) -> DueRules:
    """Read rules.

    Parameters
    ----------
    text : str
        TOML, ``format = "carwright-due/1"``.
    file : str
        Its name, for errors.
    words : Vocabulary, optional
        Where characteristics and remedies are checked.

    Raises
    ------
    TableError
        "my-due.toml, rule 2 (show): unknown after 'travel'; did you mean 'transport'?", "...: storage needs days"
    """
    raw = read_toml(text, file)
    if raw.get("format") != FORMAT:
        raise TableError(file, f"format must be {FORMAT!r}, got {raw.get('format')!r}")
    check_shape(raw, {**dict.fromkeys(("format", "id", "title"), "a text"), "rule": "a list of tables"}, file)
    rules: list[DueRule] = []
    for number, row in enumerate(raw.get("rule", []), 1):
        place = f"{file}, rule {number} ({row.get('id', '?')})"
        rules.append(_rule(row, place, words))
        if rules[-1].id in [each.id for each in rules[:-1]]:
            raise TableError(place, "its id stands twice")
    return DueRules(str(raw.get("id", "")), str(raw.get("title", "")), tuple(rules))


def _rule(row: Mapping[str, Any], place: str, words: Vocabulary | None) -> DueRule:
    check_shape(row, _KEYS, place)
    for key in ("id", "after", "why"):
        if not str(row.get(key, "")).strip():
            raise TableError(place, f"needs {key}")
    after = row["after"]
    if after not in AFTER:
        raise TableError(place, f"unknown after {after!r}{nearest(after, AFTER)}")
    _check_counts(row, after, place)
    if row.get("remedy") and after != "work":
        raise TableError(place, f"remedy does not go with {after}")
    if words is not None:
        _check_names(row, words, place)
    return DueRule(
        id=row["id"],
        after=after,
        why=" ".join(row["why"].split()),
        read=tuple(row.get("read", ())),
        remedies=tuple(row.get("remedy", ())),
        days=int(row.get("days", 0)),
        runs=int(row.get("runs", 0)),
    )


def _check_counts(row: Mapping[str, Any], after: str, place: str) -> None:
    need = _NEEDS.get(after)
    for key in ("days", "runs"):
        value = row.get(key)
        if (key == need) != (value is not None):
            raise TableError(place, f"{after} needs {need}" if key == need else f"{key} does not go with {after}")
        if value is not None and (value != int(value) or not 1 <= value <= _MOST[key]):
            raise TableError(place, f"{key} must be a whole number from 1 to {_MOST[key]}, got {value!r}")


def _check_names(row: Mapping[str, Any], words: Vocabulary, place: str) -> None:
    for key, known in (("read", words.characteristics), ("remedy", words.remedies)):
        for name in row.get(key, []):
            if name not in known:
                raise TableError(place, f"{key}: unknown name {name!r}{nearest(name, known)}")

"""Reading dated rules: every one has its source, and no feature's events contradict their own order."""

from __future__ import annotations

import calendar
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from carwright.dates import check_day, month_of, read_date
from carwright.errors import DateError, SheetError, TableError
from carwright.tables.dated_model import (
    DATED_CONFIDENCES,
    EVENTS,
    SCOPES,
    STRENGTHS,
    AgeRule,
    Dated,
    DatedRule,
    Epoch,
    Feature,
    Group,
    Interval,
    Stencil,
    Weights,
)
from carwright.tables.load import Tables, read_toml
from carwright.tables.shape import check_shape
from carwright.textfile import read_text
from carwright.words import KINDS, kind_of, nearest

FORMAT = "carwright-dated/1"
LARGEST = 1_000_000
"""Bytes a file of a person's own rules may have."""
_RULE_KEYS = {
    "id": "a text", "feature": "a text", "event": "a text", "earliest": "a text", "latest": "a text", "date": "a text",
    "scope": "a text", "types": "a list of texts", "not_types": "a list of texts", "when": "a list of texts",
    "unless": "a list of texts", "owners": "a list of texts", "classes": "a list of texts", "rivals": "a list of texts",
    "share": "a number of zero or more", "strength": "a text", "authority": "a text", "sources": "a list of texts",
    "source": "a text", "confidence": "a text", "preferred": "anything", "note": "a text",
}  # fmt: skip
_GROUP_KEYS = {
    "id": "a text", "title": "a text", "where": "a text", "seen": "a text", "one": "anything",
    "types": "a list of texts", "states": "a list of tables", "also": "a list of texts",
}  # fmt: skip
_STATE_KEYS = {
    "id": "a text", "title": "a text", "add": "a text", "remove": "a text", "add_min": "a number of zero or more",
    "remove_min": "a number of zero or more", "fixed": "anything", "size": "a text", "size_source": "a text",
    "rare": "anything",
}  # fmt: skip


@lru_cache(maxsize=4)
def dated_of(tables: Tables) -> Dated:
    """The shipped dated rules, read when first asked for.

    Raises
    ------
    TableError
        Names file and row.
    """

    def document(name: str) -> dict[str, Any]:
        return read_toml(tables.dated_text(name), f"dated/{name}.toml")

    rules, stencils = document("rules"), document("stencils")
    groups = read_groups(document("features").get("group", []), "dated/features.toml")
    known = set(tables.bibliography)
    dated = Dated(
        region=str(rules["region"]),
        groups=groups,
        rules=(),
        stencils={raw["id"]: Stencil(raw["id"], raw["title"], raw["where"]) for raw in stencils["stencil"]},
        intervals=tuple(_interval(raw, known) for raw in stencils["interval"]),
        ages=tuple(_age(raw, known) for raw in stencils["age"]),
        epochs=tuple(epoch for raw in document("epochs")["country"] for epoch in _epochs(raw, known)),
        weights=_weights(stencils["weights"]),
    )
    _check_sizes(dated, known)
    return with_rules(dated, rules["rule"], "dated/rules.toml", known)


def with_own(dated: Dated, path: Path, tables: Tables) -> Dated:
    """Dated rules with a person's own put beside them.

    Parameters
    ----------
    dated : Dated
        What stands already.
    path : Path
        TOML with ``format = "carwright-dated/1"``, ``[[rule]]`` and, for features nobody defined, ``[[group]]``.
    tables : Tables
        For the bibliography.

    Raises
    ------
    TableError
        When the file cannot be read, or a row is not as it must be.
    """
    name = path.name
    try:
        text = read_text(path, most=LARGEST, what="file of dated rules")
    except SheetError as error:
        raise TableError(str(path), error.faults[0].message) from error
    document = read_toml(text, name)
    if document.get("format") != FORMAT:
        raise TableError(name, f"expected format = {FORMAT!r}, got {document.get('format')!r}")
    check_shape(document, {"format": "a text", "region": "a text", "rule": "a list of tables",
                           "group": "a list of tables"}, name)  # fmt: skip
    groups = read_groups(document.get("group", []), name)
    twice = sorted((set(groups) | {each for group in groups.values() for each in group.ids()}) & dated.names)
    if twice:
        raise TableError(name, f"{twice[0]!r} is defined already")
    wider = replace(dated, groups={**dated.groups, **groups}, own=(*dated.own, name))
    return with_rules(wider, document.get("rule", []), name, set(tables.bibliography), own=True)


def with_rules(dated: Dated, rows: list[Any], file: str, known: set[str], *, own: bool = False) -> Dated:
    """Dated rules with further rows read, checked alone and against all of their feature."""
    found = [_rule(raw, number, file, dated, known, own=own) for number, raw in enumerate(rows, 1)]
    rules = (*dated.rules, *found)
    ids: set[str] = set()
    for rule in rules:
        if rule.id in ids:
            raise TableError(f"{file}, rule {rule.id}", "stands twice")
        ids.add(rule.id)
    for rule in found:
        for rival in rule.rivals:
            if rival not in ids:
                raise TableError(f"{file}, rule {rule.id}", f"its rival {rival!r} is no rule{nearest(rival, ids)}")
    check_order(rules, dated, file)
    return replace(dated, rules=rules)


_BEFORE = {"first seen": 0, "permitted": 0, "required on new": 1, "required on rebuilt": 1, "required on all": 2}
_AFTER = {"banned on new": 1, "no longer required": 2, "banned on all": 2}


def check_order(rules: tuple[DatedRule, ...], dated: Dated, file: str) -> None:
    """Check that no feature is asked for before it could be seen, nor asked of all after it was banned.

    Raises
    ------
    TableError
        "<file>: brake.K is banned on all by 1953-07-01 (brake.K/banned-on-all/1953) before it was first seen,
        1960-01-01 at the earliest (mine)"
    """
    for name in dated.group_of:
        own = [rule for rule in rules if rule.feature == name and rule.preferred]
        for first in own:
            for then in own:
                if _contradict(first, then):
                    raise TableError(
                        file,
                        f"{name} is {then.event} by {then.latest} ({then.id}) before it was {first.event}, "
                        f"{first.earliest} at the earliest ({first.id})",
                    )


def _contradict(first: DatedRule, then: DatedRule) -> bool:
    """Whether an event that must come later is over before the earlier one begins, for cars both are about."""
    if first is then or then.latest >= first.earliest or not _same_cars(first, then):
        return False
    if first.event in {"first seen", "permitted"}:
        asked = _BEFORE.get(then.event, 0) > 0
        return (asked or then.event in _AFTER or then.event == "gone in practice") and not first.when
    return first.event == "required on all" and then.event == "banned on all"


def _same_cars(one: DatedRule, other: DatedRule) -> bool:
    if one.when != other.when or one.owners != other.owners or one.classes != other.classes:
        return False
    return not one.types or not other.types or bool(set(one.types) & set(other.types))


def _texts(raw: Mapping[str, Any], key: str) -> tuple[str, ...]:
    return tuple(raw.get(key, ()))


def _yes(raw: Mapping[str, Any], key: str, place: str, *, default: bool) -> bool:
    value = raw.get(key, default)
    if not isinstance(value, bool):
        raise TableError(place, f"{key} must be true or false, got {value!r}")
    return value


def _kinds(raw: Mapping[str, Any], key: str, place: str) -> tuple[str, ...]:
    """Kinds of car, however a sheet would call them."""
    for name in _texts(raw, key):
        if not kind_of(name):
            raise TableError(place, f"{key}: {name!r} is no kind of car that dated rules know{nearest(name, KINDS)}")
    return tuple(kind_of(name) for name in _texts(raw, key))


def _one_of(raw: Mapping[str, Any], key: str, allowed: tuple[str, ...], place: str, default: str = "") -> str:
    value = str(raw.get(key, default))
    if value not in allowed:
        raise TableError(place, f"{key} {value!r} must be one of {', '.join(allowed)}{nearest(value, allowed)}")
    return value


def _rule(raw: object, number: int, file: str, dated: Dated, known: set[str], *, own: bool) -> DatedRule:
    if not isinstance(raw, dict):
        raise TableError(f"{file}, rule {number}", "write it as [[rule]], with two brackets")
    place = f"{file}, rule {raw.get('id') or number}"
    check_shape(raw, _RULE_KEYS, place)
    if raw.get("feature") not in dated.group_of:
        feature = str(raw.get("feature", ""))
        raise TableError(place, f"nobody defined the feature {feature!r}{nearest(feature, dated.group_of)}")
    for key in ("when", "unless"):
        for name in _texts(raw, key):
            if name not in dated.group_of:
                raise TableError(place, f"{key}: nobody defined the feature {name!r}{nearest(name, dated.group_of)}")
    event = _one_of(raw, "event", EVENTS, place)
    earliest, latest = _days(raw, place)
    share = raw.get("share")
    if (share is not None) != (event == "share") or (share is not None and share > 1):
        raise TableError(place, "a share from 0 to 1 goes with the event share, and with no other")
    sources = _texts(raw, "sources") or ((str(raw["source"]),) if raw.get("source") else ())
    if not sources:
        raise TableError(place, "needs a source")
    unknown = [source for source in sources if source not in known]
    if unknown and not own:
        raise TableError(place, f"source {unknown[0]!r} is not in the bibliography")
    return DatedRule(
        id=str(raw.get("id") or f"{file}/{number}"),
        feature=str(raw["feature"]),
        event=event,
        earliest=earliest,
        latest=latest,
        strength=_one_of(raw, "strength", STRENGTHS, place, "practice" if own else ""),
        confidence=_one_of(raw, "confidence", DATED_CONFIDENCES, place, "medium" if own else ""),
        sources=sources,
        scope=_one_of(raw, "scope", SCOPES, place, "all"),
        types=_kinds(raw, "types", place),
        not_types=_kinds(raw, "not_types", place),
        when=_texts(raw, "when"),
        unless=_texts(raw, "unless"),
        owners=_texts(raw, "owners"),
        classes=_texts(raw, "classes"),
        share=None if share is None else float(share),
        rivals=_texts(raw, "rivals"),
        preferred=_yes(raw, "preferred", place, default=True),
        authority=str(raw.get("authority", "")),
        note=str(raw.get("note", "")),
        file=file if own else "",
    )


def _days(raw: Mapping[str, Any], place: str) -> tuple[str, str]:
    """Earliest and latest day; a person may write one ``date`` in words instead."""
    try:
        if "date" in raw:
            span = read_date(raw["date"])
            if span.first is None or span.last is None:
                raise TableError(place, f"date {raw['date']!r} must have a first and a last month")
            return f"{_month(span.first)}-01", f"{_month(span.last)}-{_days_of(span.last):02d}"
        earliest, latest = check_day(raw.get("earliest")), check_day(raw.get("latest", raw.get("earliest")))
    except DateError as error:
        raise TableError(place, str(error)) from error
    if earliest > latest:
        raise TableError(place, f"earliest {earliest} lies after latest {latest}")
    return earliest, latest


def _month(month: int) -> str:
    return f"{month // 12:04d}-{month % 12 + 1:02d}"


def _days_of(month: int) -> int:
    return calendar.monthrange(month // 12, month % 12 + 1)[1]


def read_groups(rows: list[Any], file: str) -> dict[str, Group]:
    """Groups of features.

    Raises
    ------
    TableError
        Names the group and what is wrong.
    """
    groups: dict[str, Group] = {}
    for number, raw in enumerate(rows, 1):
        place = f"{file}, group {raw.get('id') or number}"
        check_shape(raw, _GROUP_KEYS, place)
        if not raw.get("id") or not raw.get("title") or not raw.get("states") or raw["id"] in groups:
            raise TableError(place, "needs its own id, a title and states")
        seen = _one_of(raw, "seen", ("high", "medium", "low"), place, "medium")
        features = tuple(_feature(state, raw, place) for state in raw["states"])
        if len({feature.id for feature in features}) < len(features):
            raise TableError(place, "two of its states have one id")
        groups[raw["id"]] = Group(
            raw["id"], raw["title"], raw.get("where", ""), seen, _yes(raw, "one", place, default=False),
            _texts(raw, "types"), features, _texts(raw, "also"),
        )  # fmt: skip
    return groups


def _feature(state: Mapping[str, Any], group: Mapping[str, Any], place: str) -> Feature:
    check_shape(state, _STATE_KEYS, place)
    if not state.get("title"):
        raise TableError(place, "every state needs a title")
    own = state.get("id", "")
    return Feature(
        id=f"{group['id']}.{own}" if own else group["id"],
        group=group["id"],
        title=state["title"],
        where=group.get("where", ""),
        add=state.get("add", ""),
        add_min=float(state.get("add_min", 0)),
        remove=state.get("remove", ""),
        remove_min=float(state.get("remove_min", 0)),
        fixed=_yes(state, "fixed", place, default=False),
        size=state.get("size", ""),
        size_source=state.get("size_source", ""),
        rare=_yes(state, "rare", place, default=False),
    )


def _check_sizes(dated: Dated, known: set[str]) -> None:
    for feature in dated.features.values():
        if bool(feature.size) != (feature.size_source in known):
            raise TableError(f"dated/features.toml, {feature.id}", "a size goes with its source in the bibliography")


def _common(raw: Mapping[str, Any], place: str, known: set[str]) -> tuple[str, str, tuple[str, ...]]:
    sources = _texts(raw, "sources")
    if not sources or not set(sources) <= known:
        raise TableError(place, "needs sources of the bibliography")
    strength = _one_of(raw, "strength", STRENGTHS, place)
    return strength, _one_of(raw, "confidence", DATED_CONFIDENCES, place), sources


def _interval(raw: Mapping[str, Any], known: set[str]) -> Interval:
    strength, confidence, sources = _common(raw, f"dated/stencils.toml, {raw.get('id')}", known)
    start = read_date(raw["from"]).first if "from" in raw else None
    return Interval(
        raw["id"], raw["stencil"], raw["first"], raw["later"], _texts(raw, "types"), start, strength, confidence,
        sources, raw.get("note", ""),
    )  # fmt: skip


def _age(raw: Mapping[str, Any], known: set[str]) -> AgeRule:
    strength, confidence, sources = _common(raw, f"dated/stencils.toml, {raw.get('id')}", known)
    return AgeRule(
        id=raw["id"],
        years=raw["years"],
        extended=raw["extended"],
        start=read_date(raw["from"]).first or 0,
        scope=raw["scope"],
        strength=strength,
        confidence=confidence,
        sources=sources,
        built_before=read_date(raw["built_before"]).first if "built_before" in raw else None,
        built_from=read_date(raw["built_from"]).first if "built_from" in raw else None,
        note=raw.get("note", ""),
    )


def _epochs(raw: Mapping[str, Any], known: set[str]) -> list[Epoch]:
    place = f"dated/epochs.toml, {raw.get('country')}"
    if raw["source"] not in known:
        raise TableError(place, "needs a source of the bibliography")
    second = set(raw.get("second_hand", ()))
    found = []
    for name, (first, last) in raw["epochs"].items():
        if first > last:
            raise TableError(place, f"epoch {name} ends before it begins")
        confidence = "second-hand" if name in second else raw["confidence"]
        found.append(Epoch(raw["country"], name, raw["title"], first, last, raw["source"], confidence))
    return found


def _weights(raw: Mapping[str, Any]) -> Weights:
    figures = {key: value for key, value in raw.items() if key not in {"horizon", "grid"}}
    months = {key: read_date(raw[key]).first or month_of(1850, 1) for key in ("horizon", "grid")}
    return Weights(**months, **figures)

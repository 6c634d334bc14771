"""Dated rules for ``carwright tables``: all of them, those of a feature, or one with its sources."""

from __future__ import annotations

import click

from carwright.publish.era import model_size
from carwright.tables import Tables
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import AgeRule, Dated, DatedRule, Interval
from carwright.words import plain

ALL = "dated"
"""The name all dated rules go by."""


def names(tables: Tables) -> list[str]:
    """Everything :func:`show` knows: features, groups, stencils, rules, intervals and ages."""
    dated = dated_of(tables)
    rows = [rule.id for rule in dated.rules] + [each.id for each in dated.intervals] + [each.id for each in dated.ages]
    return [ALL, "epochs", "ages", *sorted(dated.names), *rows]


def meant(name: str, tables: Tables) -> str:
    """The name :func:`show` knows something by, "" where it knows nothing of it."""
    name = name.removeprefix(f"{ALL}/")
    if name in names(tables):
        return name
    return dated_of(tables).written.get(plain(name), "")


def show(name: str, tables: Tables) -> None:
    """Print what is known by a name."""
    dated = dated_of(tables)
    if name == ALL:
        _all(dated)
        return
    if name == "epochs":
        _epochs(dated)
        return
    limits: list[Interval | AgeRule] = [each for each in dated.intervals if name in {each.id, each.stencil}]
    limits += [each for each in dated.ages if name in {each.id, "ages"}]
    for each in limits:
        click.echo(f"{each.id}: {each.strength}, confidence {each.confidence}{f'; {each.note}' if each.note else ''}")
        _sources(each.sources, tables)
    rules = [rule for rule in dated.rules if name in {rule.id, rule.feature, dated.group_of[rule.feature].id}]
    if name in dated.group_of:
        _feature(name, dated)
    for rule in rules:
        click.echo(f"  {_line(rule)}")
        if name in {rule.id, rule.feature}:
            _sources(rule.sources, tables)
    if name in dated.stencils:
        click.echo(f"{name}: {dated.stencils[name].title}; {dated.stencils[name].where}")


def _all(dated: Dated) -> None:
    click.echo(f"Dated rules for {dated.region}: {len(dated.rules)}; a rule from memory says so")
    for rule in dated.rules:
        click.echo(f"  {_line(rule)}")
    click.echo("Intervals of stencils, and ages")
    for interval in dated.intervals:
        marks = f"{interval.strength}, confidence {interval.confidence}"
        click.echo(f"  {interval.id}: {interval.first} months, then {interval.later} ({marks})")
    for age in dated.ages:
        click.echo(f"  {age.id}: {age.years} years, {age.extended} where rebuilt or approved ({age.strength}, "
                   f"confidence {age.confidence})")  # fmt: skip
    _epochs(dated)
    click.echo("Weights (judgement)")
    for key, value in vars_of(dated).items():
        click.echo(f"  {key} = {value:g}")


def _epochs(dated: Dated) -> None:
    click.echo("Epochs")
    for epoch in dated.epochs:
        years = f"{epoch.first or '…'} to {epoch.last if epoch.last < 9999 else '…'}"  # noqa: PLR2004 - open
        click.echo(f"  {epoch.country} {epoch.name}: {years} ({epoch.source}; {epoch.confidence})")


def vars_of(dated: Dated) -> dict[str, float]:
    """The weights dating goes by, but for the two ends of its grid."""
    return {key: getattr(dated.weights, key) for key in dated.weights.__slots__ if key not in {"grid", "horizon"}}


def _feature(name: str, dated: Dated) -> None:
    group = dated.group_of[name]
    click.echo(f"{group.id}: {group.title}; {group.where}; seen in pictures: {group.seen}")
    for feature in group.features:
        if name in {group.id, feature.id}:
            size = f"; {feature.size} ({feature.size_source}), {model_size(feature.size, 87.1, 'us')} in HO"
            click.echo(f"  {feature.id}: {feature.title}{size if feature.size else ''}")


def _line(rule: DatedRule) -> str:
    for_cars = [rule.scope if rule.scope != "all" else "", ", ".join(rule.types)]
    for word, some in (("not", rule.not_types), ("with", rule.when), ("without", rule.unless)):
        for_cars.append(f"{word} {', '.join(some)}" if some else "")
    cars = "; ".join(filter(None, for_cars))
    share = f" {rule.share:.0%}" if rule.share is not None else ""
    kept = "" if rule.preferred else "; kept because often quoted, sets no limit"
    note = f"; {rule.note}" if rule.note else ""
    return (
        f"{rule.id}: {rule.event}{share} {rule.date_words()}{f' ({cars})' if cars else ''}; {rule.marks()}{kept}{note}"
    )


def _sources(keys: tuple[str, ...], tables: Tables) -> None:
    for key in keys:
        row = tables.bibliography[key]
        address = row.get("url") or row.get("note", "")
        click.echo(f"    {key}: {row['title']}; {row['kind']}{f'; {address}' if address else ''}")

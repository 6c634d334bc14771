"""``carwright words``: the names a sheet may use."""

from __future__ import annotations

from collections.abc import Iterator

import click

from carwright.history import ENTRY_KINDS
from carwright.inspection import words_of
from carwright.tables import Tables, shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Group
from carwright.units import EXPECTED
from carwright.words import Characteristic, Vocabulary

_PLACES = {
    "none": "no place",
    "ends": "A or B",
    "axles": "axle 1, 2, … from the A end, or all",
    "wheels": "axle 3, wheel 3L or 3R, or all",
    "sides": "L or R",
    "directions": "leading end A or B, or none",
}


@click.command("words")
@click.argument("like", default="")
def command(like: str) -> None:
    """List characteristics, places and units; LIKE keeps the lines that hold it."""
    words = words_of(shipped())
    shown = 0
    for head, lines in sections(words, shipped()):
        kept = [line for line in lines if like.casefold() in line.casefold()]
        if kept:
            click.echo(("\n" if shown else "") + head)
            click.echo("\n".join(f"  {line}" for line in kept))
            shown += 1
    if not shown:
        click.echo(f"nothing here holds {like!r}")


def sections(words: Vocabulary, tables: Tables) -> Iterator[tuple[str, list[str]]]:
    """Every heading and its lines."""
    yield "Characteristics (what, at, unit)", [_characteristic(each) for each in words.characteristics.values()]
    yield "Kinds of entry", [", ".join(ENTRY_KINDS)]
    grades = ("sound", "slight", "marked", "spoilt", "missing")
    yield (
        "Looks and their anchors (not seen: nobody looked, or it cannot be seen; never taken for missing)",
        [
            f"{row.key:<9} {grade:<8} {row.words[grade]}"
            for row in tables.table("words/looks").rows.values()
            for grade in grades
        ],
    )
    yield (
        "Instruments that need no description (their figures are judgements)",
        [
            f"{name:<14} {each['title']}: resolution {each['resolution']}, calibration {each['calibration']}, "
            f"repeatability {each['repeatability']}"
            for name, each in words.instruments.items()
        ],
    )
    yield "Remedies a work entry may name", [f"{each.id:<18} {each.title}" for each in words.remedies.values()]
    dated = dated_of(tables)
    yield (
        "Features evidence may show (by group; a car shows one of a group at most) and stencils it may bear",
        [_group(group) for group in dated.groups.values()]
        + [f"{each.id:<26} {each.title}; with its date" for each in dated.stencils.values()],
    )
    yield "Scales", [", ".join(words.scales)]
    yield "Rule sets", [", ".join(words.rule_sets)]


def _group(group: Group) -> str:
    also = f" (also: {', '.join(group.also)})" if group.also else ""
    features = ", ".join(feature.id for feature in group.features if feature.id != group.id)
    return f"{group.id:<26} {group.title}{also}{f': {features}' if features else ''}"


def _characteristic(what: Characteristic) -> str:
    unit = EXPECTED[what.kind].partition(", such as ")[2] if what.kind else "pass or fail, in an entry of kind gauge"
    every = "; every place must conform" if what.combine == "every" else ""
    return f"{what.id:<24} {what.title}; {_PLACES[what.places]}; {unit}{every}"

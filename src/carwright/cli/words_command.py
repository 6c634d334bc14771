"""``carwright words``: the names a sheet may use."""

from __future__ import annotations

import click

from carwright.history import ENTRY_KINDS
from carwright.inspection import words_of
from carwright.tables import shipped
from carwright.units import EXPECTED

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
    """List characteristics, places and units; LIKE keeps the names that hold it."""
    tables = shipped()
    words = words_of(tables)
    known = [each for each in words.characteristics.values() if like in each.id]
    click.echo("Characteristics (what, at, unit)")
    for each in known:
        unit = (
            EXPECTED[each.kind].partition(", such as ")[2] if each.kind else "pass or fail, in an entry of kind gauge"
        )
        every = "; every place must conform" if each.combine == "every" else ""
        click.echo(f"  {each.id:<24} {each.title}; {_PLACES[each.places]}; {unit}{every}")
    if like:
        return
    click.echo("\nKinds of entry\n  " + ", ".join(ENTRY_KINDS))
    click.echo("\nLooks and their anchors")
    for row in tables.table("words/looks").rows.values():
        click.echo(f"  {row.key}")
        for grade in ("sound", "slight", "marked", "spoilt", "missing"):
            click.echo(f"    {grade:<8} {row.words[grade]}")
    click.echo("    not seen nobody looked, or it cannot be seen; never taken for missing")
    click.echo("\nInstruments that need no description (their figures are judgements)")
    for name, figures in words.instruments.items():
        click.echo(
            f"  {name:<14} {figures['title']}: resolution {figures['resolution']}, "
            f"calibration {figures['calibration']}, repeatability {figures['repeatability']}"
        )
    click.echo("\nRemedies a work entry may name")
    for remedy in words.remedies.values():
        click.echo(f"  {remedy.id:<18} {remedy.title}")
    click.echo("\nScales\n  " + ", ".join(words.scales))
    click.echo("\nRule sets\n  " + ", ".join(words.rule_sets))

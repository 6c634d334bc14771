"""``carwright ballast``: what to add, where, and what it costs a train."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from carwright import inspect, read_sheet
from carwright.errors import UnitError
from carwright.units import System, parse, say

if TYPE_CHECKING:
    from carwright.explain.ballast import Ballast
    from carwright.explain.load import Load
    from carwright.explain.weighting import Advice


@click.command("ballast")
@click.argument("sheet", type=click.Path(path_type=Path))
@click.option("--stock", type=click.Path(path_type=Path), help="A stock file, before the sheet's.")
@click.option("--load", metavar="'L x W x H'", help="Design a load of this outside size for an open car.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
def command(sheet: Path, *, stock: Path | None, load: str | None, as_json: bool) -> None:
    """Choose ballast for SHEET and place it: total, balance, lowest centre of gravity; say what it costs in cars."""
    inspection = inspect(read_sheet(sheet))
    size = _size(load, inspection.history.scale.ratio) if load else None
    try:
        found = inspection.ballast(stock, size)
    except ValueError as error:  # a size no load can have
        raise UnitError(load or "", _SIZE, str(error)) from error
    if as_json:
        advice = {"reason": found} if isinstance(found, str) else dataclasses.asdict(found)
        document = {"format": "carwright-ballast/1", **advice}
        click.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(f"{inspection.history.title}: {inspection.history.stages[-1].title}")
    if isinstance(found, str):
        click.echo(found)
        return
    _show(found, inspection.history.system)


def _size(text: str, ratio: float) -> tuple[float, float, float]:
    parts = text.lower().replace("×", "x").split(" x ")
    if len(parts) != 3:  # noqa: PLR2004 - length, width, height
        raise UnitError(text, _SIZE)
    first, second, third = (parse(part, "length", ratio=ratio).value for part in parts)
    return first, second, third


_SIZE = "length x width x height, such as 4.2 in x 1.1 in x 0.5 in"


def _show(advice: Advice, system: System) -> None:
    band = f"{say(advice.least, 'mass', system)} to {say(advice.most, 'mass', system)}"
    click.echo(f"wanted {say(advice.target, 'mass', system)} ({band}), missing {_grams(advice.needed, system)}")
    if advice.ballast is not None:
        _placed(advice.ballast, "Best placement", system)
    if advice.without_lead is not None:
        _placed(advice.without_lead, "The same without lead", system)
    if advice.load is not None:
        _load(advice.load, system)
    if advice.needed > 0:
        click.echo(
            f"An engine that pulls {advice.before:.0f} such cars now would pull {advice.after:.1f} at that weight"
        )
    for line in advice.notes:
        click.echo(f"  {line}")
    for line in advice.cautions:
        click.echo(f"  ! {line}")


def _grams(mass: float, system: System) -> str:
    return f"{'−' if mass < 0 else ''}{say(abs(mass), 'mass', system)}"


def _placed(ballast: Ballast, head: str, system: System) -> None:
    click.echo(f"\n{head}: {say(ballast.added, 'mass', system)} added, {ballast.cost:.2f} in pieces")
    for each in ballast.placed:
        layers = f" in {len(each.layers)} layers" if len(each.layers) > 1 else ""
        click.echo(f"  {each.count} x {each.piece} in {each.pocket}{layers}")
    side = "toward A" if ballast.x >= 0 else "toward B"
    place = f"{say(abs(ballast.x), 'length', system)} {side}, {say(ballast.z, 'length', system)} above the rail"
    click.echo(f"  then {say(ballast.mass, 'mass', system)}, centre of gravity {place}")
    if ballast.reason:
        click.echo(f"  {ballast.reason}")


def _load(load: Load, system: System) -> None:
    click.echo(f"\nA load of that size must weigh {say(load.mass, 'mass', system)}: {load.density:.2f} g/cm3 over all")
    for mix in load.mixes:
        click.echo(f"  {mix.material}: {_mix_words(mix)}")
    if load.reason:
        click.echo(f"  {load.reason}")


def _mix_words(mix: Any) -> str:  # noqa: ANN401 - a Mix, whose room loads NumPy
    if not mix.solid:
        return "not even a solid core is heavy enough" if mix.share > 1 else "too heavy even as a trace: leave it out"
    kind = "as shot or solid" if mix.shot else "only as solid pieces"
    return f"{mix.share:.0%} of the core, {kind}"

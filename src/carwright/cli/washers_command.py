"""``carwright washers``: the quick chooser, from two coupler heights alone."""

from __future__ import annotations

from pathlib import Path

import click

from carwright.errors import UnitError, UnknownNameError
from carwright.explain.stock import Item, read_stock, stacks, usual_stock, washers_for
from carwright.history.sheet import DEFAULT_RULES
from carwright.inspection import words_of
from carwright.publish.why import signed
from carwright.tables import load_rules, shipped
from carwright.units import System, parse, say
from carwright.words import Scale, nearest


@click.command("washers")
@click.option("--a", "height_a", required=True, metavar="HEIGHT", help="Coupler height at A, such as 0.380 in.")
@click.option("--b", "height_b", required=True, metavar="HEIGHT", help="Coupler height at B.")
@click.option("--scale", default="HO", show_default=True, help="Scale of the car.")
@click.option("--truck-centers", required=True, metavar="LENGTH", help="Pivot to pivot.")
@click.option("--coupler-face", required=True, metavar="LENGTH", help="Mid-car to pulling face.")
@click.option("--nominal", metavar="HEIGHT", help="The right height; the scale's clause where omitted.")
@click.option("--stock", type=click.Path(path_type=Path), help="A stock file; the usual washers where omitted.")
def command(
    *,
    height_a: str,
    height_b: str,
    scale: str,
    truck_centers: str,
    coupler_face: str,
    nominal: str | None,
    stock: Path | None,
) -> None:
    """Say which washers under each truck leave both couplers nearest their height; washers only lift."""
    words, tables = words_of(shipped()), shipped()
    if scale not in words.scales:
        raise UnknownNameError("scale", scale, nearest(scale, words.scales))
    named = words.scales[scale]
    texts = (height_a, height_b, truck_centers, coupler_face)
    a_height, b_height, centers, face = (parse(text, "length", ratio=named.ratio).value for text in texts)
    for text, height in ((height_a, a_height), (height_b, b_height)):
        if height <= 0:
            raise UnitError(text, "a height above the rail, above zero")
    if not 0 < centers < 2 * face:
        raise UnitError(truck_centers, "truck centers above zero and less than twice the coupler face")
    right = parse(nominal, "length").value if nominal is not None else _nominal(named)
    if right <= 0:
        raise UnitError(nominal or "", "a height above the rail, above zero")
    items = read_stock(stock) if stock is not None else usual_stock(tables)
    a = centers / 2
    up, down = (face + a) / (2 * a), (face - a) / (2 * a)
    most = words.remedies["washer"].most * 25.4 / named.ratio
    at_a, at_b, left_a, left_b = washers_for(
        high_a=a_height - right, high_b=b_height - right, up=up, down=down, stock=items, most=most
    )
    system: System = "metric" if "mm" in height_a else "us"
    click.echo(f"right height {say(right, 'length', system)}")
    click.echo(f"a washer lifts its own coupler {up:.2f} times its thickness and lowers the far one {down:.2f} times")
    for end, amount, left, before in (("A", at_a, left_a, a_height), ("B", at_b, left_b, b_height)):
        what = _made_of(amount, items, most, system)
        now = say(before + (left - (before - right)), "length", system)
        click.echo(f"  {end}: {what}; then {now}, {signed(left, system)} from right")
    if max(left_a, left_b) > _FAR:
        click.echo("A coupler stays high: washers only lift. `carwright plan` on its sheet weighs other remedies.")


_FAR = 0.1
"""What is left high from which other remedies are pointed at [mm]."""


def _made_of(amount: float, items: tuple[Item, ...], most: float, system: System) -> str:
    if amount == 0:
        return "no washer"
    words = next(words for thickness, _, words in stacks(items, "washer", most) if abs(thickness - amount) < 1e-6)  # noqa: PLR2004
    return f"{say(amount, 'length', system)} ({words})"


def _nominal(scale: Scale) -> float:
    """Nominal coupler height of a scale by the rule sets a sheet takes by default [mm]."""
    rules = load_rules(DEFAULT_RULES, scale=scale, tables=shipped(), words=words_of(shipped()))
    for clause in rules.clauses:
        nominal = clause.nominal
        if clause.characteristic == "coupler.height" and nominal is not None and nominal.value is not None:
            return nominal.value
    raise UnknownNameError("coupler height clause", scale.name, "; give --nominal")

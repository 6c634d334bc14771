"""``carwright new``: a short commented sheet that already inspects."""

from __future__ import annotations

from pathlib import Path

import click

from carwright import read_sheet_text
from carwright.errors import CarwrightError, UnknownNameError
from carwright.files import write_whole
from carwright.inspection import words_of
from carwright.publish.drawing.kinds import KINDS
from carwright.tables import shipped
from carwright.words import Scale, nearest

_TEMPLATE = """\
# A bench sheet. Fill in what you measured, then: carwright inspect {file}
# Lines with a # are ignored; take the # away from those you need. `carwright words` lists every name and unit.
format = "carwright-sheet/1"

[car]
title = "{title}"
scale = "{scale}"
type = "{type}"
rules = [{rules}]
system = "{system}"

# Geometry is asked for only by what needs it, as model size ("5.35 in") or as the real car's ("40' 6\\" {scale}").
[car.geometry]
{axles}
# {length} = "{size}"          # the weight rule needs it
# {base} = "{centers}"        # causes and plans of coupler heights need this,
# coupler_face = "{face}"         # this (mid-car to pulling face),
# coupler_pivot = "{pivot}"        # and are surer with this

# One reading. Repeats go into one list; `with` may name: {instruments}.
# Leave `with` out, and the digits you write are taken for the instrument's resolution.
# [[entry]]
# kind = "reading"
# what = "coupler.height"
# at = "A"                       # the B end carries the hand brake
# values = ["{height}", "{height}"]
# with = "height gauge"

# A check with a gauge: pass, low or high.
# [[entry]]
# kind = "gauge"
# what = "wheel.back_to_back"
# at = "all"                     # or the axle, counted from the A end
# result = "pass"

# The whole car, on a scale.
# [[entry]]
# kind = "reading"
# what = "weight.total"
# values = ["{weight}"]
# with = "kitchen scale"

# Something judged by eye: sound, slight, marked, spoilt, missing or not seen.
[[entry]]
kind = "look"
what = "packing"
grade = "not seen"
"""


@click.command("new")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--scale", required=True, help="Such as HO, N, O, S, or H0 for the European norms.")
@click.option("--type", "car_type", default="boxcar", show_default=True, help="Such as boxcar, gondola, tank car.")
@click.option("--title", default="", help="What the car is called.")
def command(file: Path, scale: str, car_type: str, title: str) -> None:
    """Write FILE: a short commented sheet that already inspects. A file that is there is never replaced."""
    words = words_of(shipped())
    if scale not in words.scales:
        raise UnknownNameError("scale", scale, nearest(scale, words.scales))
    text = new_sheet(words.scales[scale], car_type, title, file.name, european=_european(scale))
    read_sheet_text(text, file=str(file))
    click.echo(write_whole(file, text, replace=False))
    if car_type not in KINDS:
        click.echo(f"no outline is known for a {car_type!r}{nearest(car_type, KINDS)}; a plain box will be drawn")


def _european(scale: str) -> bool:
    """Whether only the European norms know a scale."""
    tables = shipped()
    return scale in tables.table("scales/nem").rows and scale not in tables.table("scales/nmra").rows


class TextError(CarwrightError):
    """A title or type cannot stand in a sheet."""


def new_sheet(scale: Scale, car_type: str, title: str, file: str, *, european: bool) -> str:
    """The text of a new sheet.

    Parameters
    ----------
    scale : Scale
        Its scale; example figures are of its size.
    car_type, title, file : str
        As asked for.
    european : bool
        Whether to judge by the European norms, in millimetres.

    Raises
    ------
    TextError
        Where a quote, backslash or control character stands in the title or type.
    """
    for text in (car_type, title):
        if any(sign in text for sign in '"\\') or not text.isprintable():
            raise TextError(f"{text!r} must be plain words without quotes")
    inch = 1 / scale.ratio
    words = words_of(shipped())
    four_wheel = car_type.startswith("four-wheel")
    return _TEMPLATE.format(
        file=file,
        title=title or f"New {car_type}",
        scale=scale.name,
        type=car_type,
        rules='"nem", "bench"' if european else '"nmra", "bench"',
        system="metric" if european else "us",
        axles="axles = 2" if four_wheel else "axles_per_truck = 2",
        length="length_over_buffers" if european else "body_length",
        base="wheelbase" if four_wheel else "truck_centers",
        centers=_length(245 if four_wheel else 370, inch, european=european),
        face=_length(263, inch, european=european),
        pivot=_length(238, inch, european=european),
        size=f"{490 * inch * 25.4:.1f} mm" if european else f"{490 * inch:.2f} in",
        instruments=", ".join(words.instruments),
        height=f"{34 * inch * 25.4:.2f} mm" if european else f"{34 * inch:.3f} in",
        weight=_usual_weight(scale, 490 * inch, european=european),
    )


def _length(scale_inches: float, inch: float, *, european: bool) -> str:
    """A usual size, as an example to write over."""
    return f"{scale_inches * inch * 25.4:.1f} mm" if european else f"{scale_inches * inch:.2f} in"


def _usual_weight(scale: Scale, length: float, *, european: bool) -> str:
    """A weight the scale's own sheet would accept for a body of ``length`` inches, as an example to write over."""
    tables = shipped()
    if european and scale.name in (rows := tables.table("nem/302-2015").rows):
        per_mm = rows[scale.name].cells["g_per_mm"].value or 0.0
        return f"{1.1 * per_mm * length * 25.4:.0f} g"
    if not european and scale.name in (rows := tables.table("nmra/rp-20.1").rows):
        cells = rows[scale.name].cells
        return f"{(cells['initial'].value or 0.0) + (cells['per_inch'].value or 0.0) * length:.1f} oz"
    grams = 7e7 / scale.ratio**3
    return f"{grams:.0f} g" if european else f"{grams / 28.35:.1f} oz"

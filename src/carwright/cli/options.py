"""Options several commands share."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import Any

import click

LEAST, MOST = 1.0, 500.0
"""How much deformation may be drawn larger [-]."""


def _finite(context: click.Context, parameter: click.Parameter, value: float | None) -> float | None:
    if value is not None and not (math.isfinite(value) and LEAST <= value <= MOST):
        message = f"must be between {LEAST:g} and {MOST:g}, got {value:g}"
        raise click.BadParameter(message, context, parameter)
    return value


exaggerate: Callable[[Any], Any] = click.option(
    "--exaggerate",
    type=float,
    callback=_finite,
    metavar="TIMES",
    help="How much deformation is drawn larger; else chosen.",
)
"""How many times deformation is drawn larger."""


def ascii_only() -> bool:
    """Whether stdout cannot show all letters, so that JSON escapes them."""
    return "utf" not in (sys.stdout.encoding or "").lower()

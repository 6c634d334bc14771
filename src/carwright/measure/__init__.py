"""From readings to values with their uncertainty."""

from carwright.measure.combine import Component, Place, combine_linear, merge
from carwright.measure.gum import Input, Propagated, propagate
from carwright.measure.joint import probability_within
from carwright.measure.knowledge import Knowledge, knowledge
from carwright.measure.montecarlo import Draws, draw, propagate_draws
from carwright.measure.repeatability import pooled_repeatability, rounding_share
from carwright.measure.values import Value, Values, characteristic_of, values_at

__all__ = [
    "Component",
    "Draws",
    "Input",
    "Knowledge",
    "Place",
    "Propagated",
    "Value",
    "Values",
    "characteristic_of",
    "combine_linear",
    "draw",
    "knowledge",
    "merge",
    "pooled_repeatability",
    "probability_within",
    "propagate",
    "propagate_draws",
    "rounding_share",
    "values_at",
]

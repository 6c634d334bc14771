"""The verdict: points of the car as received, status of the last stage, and the chain of every point."""

from carwright.verdict.charges import Charge, charges_of
from carwright.verdict.rubric import Rubric, load_rubric, read_rubric
from carwright.verdict.score import Deduction, Verdict, verdict_of
from carwright.verdict.status import STATUSES

__all__ = [
    "STATUSES",
    "Charge",
    "Deduction",
    "Rubric",
    "Verdict",
    "charges_of",
    "load_rubric",
    "read_rubric",
    "verdict_of",
]

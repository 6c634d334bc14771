"""Clauses judged on values: findings, and what to measure next."""

from carwright.judge.clauses import Thresholds, facts_of, judge_measured, judge_stage
from carwright.judge.finding import OUTCOMES, Finding
from carwright.judge.limits import Limits, resolve
from carwright.judge.looks import judge_looks
from carwright.judge.next_reading import NextReading, next_readings

__all__ = [
    "OUTCOMES",
    "Finding",
    "Limits",
    "NextReading",
    "Thresholds",
    "facts_of",
    "judge_looks",
    "judge_measured",
    "judge_stage",
    "next_readings",
    "resolve",
]

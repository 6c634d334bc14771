"""Speed of causes and plans, each beside a baseline measured in the same run.

Explaining is measured on cars that all differ, so that nothing kept helps; beside it the same posterior by a plain
least-squares solve of the stacked equations. Plans: combinations of remedies and amounts weighed a second, beside a
loop that asks SciPy's bivariate normal for each.
"""

from __future__ import annotations

import random
import re
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.stats import multivariate_normal

import carwright as cw
from carwright.explain.model import Model, model_of
from carwright.explain.options import structures
from carwright.explain.planner import target_of
from carwright.explain.predict import Predictor
from carwright.explain.search import amount_grid, open_chances, search
from carwright.explain.shares import designed_height, explain, heights_of
from carwright.explain.stock import usual_stock
from carwright.history import History
from carwright.inspection import words_of
from carwright.tables import shipped

ROOT = Path(__file__).resolve().parent.parent
_NAMES = ("ho-boxcar", "ho-covered-hopper", "ho-flat-car")


def cars(count: int) -> list[tuple[History, tuple[cw.Finding, ...]]]:
    """Cars as received, no two alike, with their findings."""
    found = []
    for number in range(count):
        text = (ROOT / "examples" / f"{_NAMES[number % len(_NAMES)]}.toml").read_text("utf-8")
        digits = random.Random(number)  # noqa: S311 - readings, no secrets
        lines = [
            re.sub(r"(\d\.\d)\d( mm\")", rf"\g<1>{digits.randrange(10)}\2", line)
            if line.startswith(("values", "heights"))
            else line
            for line in text.splitlines()
        ]
        text = "\n".join(lines)
        sheet = cw.read_sheet_text(text, folder=str(ROOT / "examples"))
        found.append((sheet.history, cw.inspect(sheet, stage="received").findings))
    return found


def plain(model: Model) -> None:
    """The same posterior by least squares over prior and readings stacked."""
    mean, covariance = model.latent.prior()
    size = len(mean)
    root = np.linalg.cholesky(np.linalg.inv(covariance + 1e-12 * np.eye(size))).T
    rows = [np.concatenate([each.row, np.zeros(size - len(each.row))]) / each.u for each in model.observations]
    system = np.vstack([root, *rows])
    values = np.concatenate([root @ mean, [each.value / each.u for each in model.observations]])
    np.linalg.lstsq(system, values, rcond=None)
    np.linalg.inv(system.T @ system)


def explaining(count: int = 300) -> str:
    """Milliseconds a car."""
    ready, words = cars(count), words_of(shipped())
    start = time.process_time()
    for history, findings in ready:
        explain(history, words, findings, 0)
    taken = (time.process_time() - start) / count
    models = [model_of(history, words, designed=9.93) for history, _ in ready[:60]]
    start = time.process_time()
    for model in models:
        if isinstance(model, Model):
            plain(model)
    baseline = (time.process_time() - start) / len(models)
    beside = f"{taken / baseline:5.1f} x a plain least-squares solve"
    return f"explain, cars that all differ {taken * 1e3:31.2f} ms CPU  {beside}"


def planning() -> list[str]:
    """Combinations a second, and a whole search."""
    history = cw.read_sheet(ROOT / "examples" / "ho-covered-hopper.toml").history
    first = replace(history, works=(), stages=history.stages[:1], profiles=history.profiles[:1],
                    readings=tuple(each for each in history.readings if each.stage == 0))  # fmt: skip
    findings = cw.inspect(first).findings
    words, heights = words_of(shipped()), heights_of(findings)
    designed = designed_height(first, heights)
    model = model_of(first, words, designed=designed)
    if isinstance(model, str):
        raise TypeError(model)
    found = structures(model, words, usual_stock(shipped()), (), ("A", "B"))
    predictor, target = Predictor(model), target_of(heights, designed, 0.9)
    start = time.process_time()
    _, tried, _ = search(found, predictor, target)
    whole = time.process_time() - start
    weighed, start = 0, time.process_time()
    for structure in found[:4000]:
        after = predictor.after(structure)
        _, moves = amount_grid(structure, after)
        open_chances(after, moves, target)
        weighed += len(moves)
    rate = weighed / (time.process_time() - start)
    after = predictor.after(found[0])
    lower, upper = (np.array([limits[side] for limits in target.limits]) for side in (0, 1))
    start = time.process_time()
    for _ in range(300):
        multivariate_normal(after.mean, after.covariance).cdf(upper, lower_limit=lower)
    naive = 300 / (time.process_time() - start)
    loop = f"{rate / naive:7.0f} x SciPy's bivariate normal in a loop"
    speed = f"{tried / whole / 1e6:5.1f} million/s, most never weighed"
    return [
        f"chances of combinations {rate / 1e6:37.2f} million/s  {loop}",
        f"search of {tried:,} combinations {whole:24.2f} s CPU  {speed}",
    ]


def measure() -> list[str]:
    """Printable lines."""
    return [explaining(), *planning()]


if __name__ == "__main__":
    print("\n".join(measure()))

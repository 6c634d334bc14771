"""Run the long studies and write their results into docs/studies/. Fixed seeds: the same figures every time."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path

import dating_study
import plan_study
import stack_study
from coverage_study import TRIALS, Coverage, coverage, instruments

DOCS = Path(__file__).resolve().parent.parent / "docs" / "studies"
LEAST, MOST = 0.94, 0.96
_HEAD = f"""# Coverage of stated 95 % intervals

Made by `make studies`; {TRIALS:,} trials for each row, seeds fixed. A trial draws a truth between two steps of the
display, a calibration error and one to three repeats, rounds them, and asks the program for its interval. *Preset*: the
instrument is one out of the population that a tabled judgement worth five degrees of freedom describes. *Declared*: its
owner's standard deviation of twenty readings. The standard error of each figure is {(0.95 * 0.05 / TRIALS) ** 0.5:.4f}.

| instrument | figures | repeats all equal | interval held the truth |
|---|---|---|---|
"""


def row(found: Coverage) -> str:
    """One line of the table."""
    return f"| {found.instrument} | {found.mode} | {found.equal:,} | {found.held:.4f} |\n"


def main() -> None:
    """Run everything, on all cores."""
    jobs = [(name, mode) for name in instruments() for mode in ("preset", "declared")]
    with ProcessPoolExecutor() as pool:
        results = list(pool.map(coverage, *zip(*jobs, strict=True), repeat(TRIALS)))
    for found in results:
        print(row(found), end="")
    outside = [found for found in results if not LEAST <= found.held <= MOST]
    verdict = "All lie between 94 and 96 %." if not outside else f"Outside 94 to 96 %: {len(outside)}."
    DOCS.mkdir(parents=True, exist_ok=True)
    (DOCS / "coverage.md").write_text(_HEAD + "".join(map(row, results)) + f"\n{verdict}\n", "utf-8")
    print(verdict)
    with ProcessPoolExecutor() as pool:
        for name, study in (("stack", stack_study), ("plans", plan_study), ("dating", dating_study)):
            text = study.page(study.study(mapper=pool.map))
            (DOCS / f"{name}.md").write_text(text, "utf-8")
            print(text)


if __name__ == "__main__":
    main()

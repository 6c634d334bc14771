"""Our own past output, dated: the examples give what they gave on 2026-11-26.

A change here is no bug by itself, but it must be meant: ``python tests/regression/test_examples.py`` renews the file.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import carwright as cw

HERE = Path(__file__).parent
PAST = HERE / "examples-2026-11-26.json"
EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))


def digest(path: Path) -> dict[str, Any]:
    """The parts a person would notice, probabilities to three digits."""
    inspection = cw.inspect(cw.read_sheet(path))
    verdict = inspection.verdict
    return {
        "findings": [
            [
                each.clause,
                each.title,
                each.at,
                each.outcome,
                None if each.p_conform is None else round(each.p_conform, 3),
            ]
            for each in inspection.findings
        ],
        "next": [[each.what, each.at, each.instrument, each.n] for each in inspection.next_readings],
        "verdict": [verdict.points, verdict.out_of, verdict.band, verdict.status, list(verdict.status_reasons)],
        "deductions": [[each.title, each.points, each.provisional, each.category] for each in verdict.deductions],
    }


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_gives_what_it_gave(path: Path) -> None:
    past = json.loads(PAST.read_text("utf-8"))[path.stem]
    assert json.loads(json.dumps(digest(path))) == past


if __name__ == "__main__":
    found = {path.stem: digest(path) for path in EXAMPLES}
    PAST.write_text(json.dumps(found, ensure_ascii=False, indent=1) + "\n", "utf-8")

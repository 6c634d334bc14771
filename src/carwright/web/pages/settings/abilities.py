"""What each instrument can ever decide about a car, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase

from carwright.history import Figures
from carwright.history.instruments import Instruments
from carwright.inspection import Inspection, words_of
from carwright.judge import Finding
from carwright.judge.capability import capability_of
from carwright.publish.wording import limit_words
from carwright.units import System, say


@dataclass(frozen=True, slots=True)
class Ability:
    """What one instrument can decide about one clause."""

    title: str
    limits: str
    one: str
    many: str
    mark: str


def abilities(inspection: Inspection, name: str, instruments: Instruments) -> Iterator[Ability]:
    """What an instrument can decide about the clauses this car is judged by, one for each limit.

    Parameters
    ----------
    inspection : Inspection
        Of a car, for its limits.
    name : str
        The instrument.
    instruments : Instruments
        Where its figures are.
    """
    words, system = words_of(inspection.tables), inspection.history.system
    seen: set[tuple[str, float | None, float | None]] = set()
    for finding in inspection.findings:
        key = (finding.characteristic, finding.lower, finding.upper)
        if finding.characteristic not in words.characteristics or key in seen:
            continue
        what = words.characteristics[finding.characteristic]
        if what.kind is None or (finding.lower is None and finding.upper is None):
            continue
        figures = instruments.figures(name, what.kind, ())
        if isinstance(figures, str) or not _suits(figures, finding.characteristic):
            continue
        seen.add(key)
        yield _ability(finding, figures, inspection, system)


def _suits(figures: Figures, what: str) -> bool:
    return not figures.suits or any(fnmatchcase(what, each) for each in figures.suits.split())


def _ability(finding: Finding, figures: Figures, inspection: Inspection, system: System) -> Ability:
    found = capability_of(figures, inspection.rubric.thresholds, lower=finding.lower, upper=finding.upper)
    kind = finding.kind or "length"
    informs = "" if finding.force in inspection.rubric.charges else " (informs)"
    title = f"{finding.title}{informs}"

    def told(can: bool, near: float) -> str:  # noqa: FBT001 - one of two
        if not can:
            return f"can never show that it conforms; u of {say(found.u_needed, kind, system)} or less could"
        return f"undecided within {say(near, kind, system)} of a limit"

    mark = "conforms" if found.can_conform else "undecided" if found.could_conform else "fails"
    return Ability(
        title,
        limit_words(finding, system),
        told(found.can_conform, found.near_one),
        told(found.could_conform, found.near_many),
        mark,
    )

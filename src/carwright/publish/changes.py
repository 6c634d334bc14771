"""What changed between two looks at one car: every finding of both, side by side, and how sure the change is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from carwright.judge import Finding
from carwright.units import System, say

Fate = Literal["came right", "went wrong", "still fails", "decided", "undone", "moved", "as before", "new", "gone"]
"""What became of a finding. ``decided``: it was undecided or unmeasured, and is not now; ``undone`` the other way."""
SURE = 1.96
"""A change is called one where it exceeds so many of its standard uncertainties [-]: with probability 0.95."""


@dataclass(frozen=True, slots=True)
class Change:
    """One requirement at one place, before and after.

    Attributes
    ----------
    before, after : Finding or None
        None where it was not judged then.
    moved, u : float or None
        After less before, and its standard uncertainty; None where either was not measured. What both readings share by
        one instrument's calibration cancels between them and is left in all the same, so that a change is rather
        overlooked than invented [inside unit].
    fate : str
        What became of it.
    """

    before: Finding | None
    after: Finding | None
    moved: float | None
    u: float | None
    fate: Fate

    @property
    def finding(self) -> Finding:
        """The later of the two."""
        found = self.after if self.after is not None else self.before
        if found is None:
            msg = "a change needs a finding"
            raise ValueError(msg)
        return found

    @property
    def sure(self) -> bool:
        """Whether the value itself is known to have moved."""
        return self.moved is not None and self.u is not None and abs(self.moved) > SURE * self.u


def changes_of(before: Sequence[Finding], after: Sequence[Finding]) -> list[Change]:
    """Findings of two looks, paired by clause, thing and place.

    Parameters
    ----------
    before, after : sequence of Finding
        In any order.

    Returns
    -------
    list of Change
        What went wrong first, then what came right, what moved, and the rest; each group in the order of ``after``.
    """
    old = {_key(finding): finding for finding in before}
    new = {_key(finding): finding for finding in after}
    keys = dict.fromkeys([*new, *old])
    found = [_change(old.get(key), new.get(key)) for key in keys]
    return sorted(found, key=lambda change: _ORDER.index(change.fate))


_ORDER: tuple[Fate, ...] = (
    "went wrong", "undone", "still fails", "came right", "decided", "moved", "new", "gone", "as before",
)  # fmt: skip


def _key(finding: Finding) -> tuple[str, str, str, str]:
    return finding.clause, finding.characteristic, finding.at, finding.title


def _change(before: Finding | None, after: Finding | None) -> Change:
    moved, u = _moved(before, after)
    change = Change(before, after, moved, u, "as before")
    return Change(before, after, moved, u, _fate(before, after, sure=change.sure))


def _moved(before: Finding | None, after: Finding | None) -> tuple[float | None, float | None]:
    if before is None or after is None or before.value is None or after.value is None:
        return None, None
    if before.u is None or after.u is None or before.entries == after.entries:
        return None, None  # the very same readings: nothing was measured again
    return after.value - before.value, math.hypot(before.u, after.u)


def _fate(before: Finding | None, after: Finding | None, *, sure: bool) -> Fate:
    if before is None:
        return "new"
    if after is None:
        return "gone"
    was, now = before.outcome, after.outcome
    if was == now == "fails":
        return "still fails"
    if now == "fails":
        return "went wrong"
    if was == "fails" and now == "conforms":
        return "came right"
    if was == now:
        grades = bool(after.grade) and before.grade != after.grade
        return "moved" if sure or grades else "as before"
    return "decided" if now == "conforms" else "undone"


def fate_words(change: Change, system: System) -> str:
    """``came right; moved −0.018 ± 0.002 in``."""
    if change.moved is None or change.u is None or change.finding.kind is None:
        return change.fate
    kind = change.finding.kind
    amount = say(abs(change.moved), kind, system, SURE * change.u)
    if not change.sure:
        return f"{change.fate}; no change shown ({_sign(change.moved)}{amount})"
    return f"{change.fate}; moved {_sign(change.moved)}{amount}"


def _sign(value: float) -> str:
    return "−" if value < 0 else "+"


def worth_telling(changes: Sequence[Change]) -> list[Change]:
    """Changes without what is as it was."""
    return [change for change in changes if change.fate != "as before"]

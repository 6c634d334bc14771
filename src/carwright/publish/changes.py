"""What changed between two looks at one car: every finding of both, side by side, and how sure the change is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from carwright.judge import Finding
from carwright.units import System, say

Fate = Literal["came right", "went wrong", "still fails", "decided", "undone", "moved", "as before", "new", "gone"]
"""What became of a finding. ``decided``: it was undecided or not measured, and is not now, whichever way it went;
``undone`` the other way."""
_OPEN = {"undecided", "not measured"}
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


def of_same_entries(before: Finding, after: Finding) -> bool:
    """Whether two findings of one sheet rest on the very same readings."""
    return before.entries == after.entries


def changes_of(
    before: Sequence[Finding],
    after: Sequence[Finding],
    same: Callable[[Finding, Finding], bool] = of_same_entries,
) -> list[Change]:
    """Findings of two looks, paired by clause, thing and place.

    Parameters
    ----------
    before, after : sequence of Finding
        In any order.
    same : callable
        Whether two of them rest on the very same readings, so that nothing was measured again.

    Returns
    -------
    list of Change
        What went wrong first, then what came right, what moved, and the rest; each group in the order of ``after``.
    """
    old = {_key(finding): finding for finding in before}
    new = {_key(finding): finding for finding in after}
    keys = dict.fromkeys([*new, *old])
    found = [_change(old.get(key), new.get(key), same) for key in keys]
    return sorted(found, key=lambda change: _ORDER.index(change.fate))


_ORDER: tuple[Fate, ...] = (
    "went wrong", "undone", "still fails", "came right", "decided", "moved", "new", "gone", "as before",
)  # fmt: skip


def _key(finding: Finding) -> tuple[str, str, str, str]:
    return finding.clause, finding.characteristic, finding.at, finding.title


def _change(before: Finding | None, after: Finding | None, same: Callable[[Finding, Finding], bool]) -> Change:
    moved, u = _moved(before, after, same)
    change = Change(before, after, moved, u, "as before")
    return Change(before, after, moved, u, _fate(before, after, sure=change.sure))


def _moved(
    before: Finding | None, after: Finding | None, same: Callable[[Finding, Finding], bool]
) -> tuple[float | None, float | None]:
    if before is None or after is None or before.value is None or after.value is None:
        return None, None
    if before.u is None or after.u is None or same(before, after):
        return None, None  # the very same readings: nothing was measured again
    return after.value - before.value, math.hypot(before.u, after.u)


def _fate(before: Finding | None, after: Finding | None, *, sure: bool) -> Fate:
    if before is None:
        return "new"
    if after is None:
        return "gone"
    was, now = before.outcome, after.outcome
    if was == now:
        if now == "fails":
            return "still fails"
        grades = bool(after.grade) and before.grade != after.grade
        return "moved" if sure or grades else "as before"
    if was in _OPEN:
        # what nobody could say before is decided now, or as open as it was
        return "as before" if now in _OPEN and now != "not measured" else "undone" if now in _OPEN else "decided"
    if now in _OPEN:
        return "undone"
    return "came right" if now == "conforms" else "went wrong"


def fate_words(change: Change, system: System) -> str:
    """``came right; moved −0.018 ± 0.002 in``."""
    if change.moved is None or change.u is None or change.finding.kind is None:
        return change.fate
    kind = change.finding.kind
    amount = say(abs(change.moved), kind, system, SURE * change.u)
    sign = _sign(change.moved) if any(digit in amount.partition(" ")[0] for digit in "123456789") else ""
    if not change.sure:
        return f"{change.fate}; no change shown ({sign}{amount})"
    return f"{change.fate}; moved {sign}{amount}"


def _sign(value: float) -> str:
    return "−" if value < 0 else "+"


def worth_telling(changes: Sequence[Change]) -> list[Change]:
    """Changes without what is as it was."""
    return [change for change in changes if change.fate != "as before"]

"""What to measure next: which reading is expected to lower the loss of deciding wrongly most, per minute."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase

from carwright.history import Figures, History
from carwright.judge.clauses import Thresholds
from carwright.judge.finding import Finding
from carwright.judge.limits import MEASURED_GEOMETRY
from carwright.judge.outlook import SETTLED, State, loss, outlook
from carwright.measure import Values
from carwright.units import Kind
from carwright.words import Characteristic, Vocabulary


@dataclass(frozen=True, slots=True)
class NextReading:
    """One thing to measure.

    Attributes
    ----------
    what, at : str
        Characteristic and place.
    instrument : str
        With what.
    n : int
        How many readings.
    minutes : float
        Bench time [min].
    p_decided : float or None
        Probability that these readings decide the finding; None for what a clause waits for [-].
    drop : float
        Expected fall of the decision loss [points].
    settles : tuple[str, ...]
        Clauses it bears on.
    why : str
        In words.
    """

    what: str
    at: str
    instrument: str
    n: int
    minutes: float
    p_decided: float | None
    drop: float
    settles: tuple[str, ...]
    why: str

    @property
    def worth(self) -> float:
        """Expected fall of the loss per minute [points/min]."""
        return self.drop / self.minutes


@dataclass(frozen=True, slots=True)
class _Open:
    """An open finding as the ranking sees it: estimate, u, limits, stake."""

    finding: Finding
    estimate: float
    u: float
    lower: float
    upper: float
    stake: float


def next_readings(
    findings: Sequence[Finding],
    values: Values,
    history: History,
    words: Vocabulary,
    thresholds: Thresholds,
    stake: Callable[[Finding], float],
    presets: Mapping[tuple[str, Kind], Figures],
) -> list[NextReading]:
    """Rank what to measure next.

    Parameters
    ----------
    findings : sequence of Finding
        Of one stage.
    values, history, words
        What was read, with what, and what a reading costs in time.
    thresholds : Thresholds
        When a finding counts as decided.
    stake : callable
        Points that hang on a finding [points].
    presets : mapping
        Instruments a bench usually has, by name and kind of quantity.

    Returns
    -------
    list of NextReading
        Best first; one per characteristic and place.
    """
    best: dict[tuple[str, str], NextReading] = {}
    for key, group in _by_place(findings).items():
        characteristic = words.characteristics[key[0]]
        reading: NextReading | None
        if characteristic.kind is None:
            reading = _by_eye(group, characteristic, stake)
        elif all(finding.lower is None and finding.upper is None for finding in group):
            reading = _waiting(group, characteristic, presets, stake)
        else:
            opened = [_opened(finding, characteristic, history, stake) for finding in group]
            reading = _best(
                [each for each in opened if each is not None],
                characteristic,
                values,
                history,
                thresholds,
                presets,
            )
        if reading is not None and reading.drop > 0:
            best[key] = reading
    needed = _geometry(findings, words, stake)
    return sorted([*best.values(), *needed], key=lambda each: (-round(each.worth, 9), each.what, each.at))


def _by_place(findings: Iterable[Finding]) -> dict[tuple[str, str], list[Finding]]:
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        waits = finding.outcome in {"undecided", "not measured"} and not finding.grade
        if waits and finding.basis not in {
            "no limit",
            "needs geometry",
        }:
            groups.setdefault((finding.characteristic, finding.at), []).append(finding)
    return groups


def _by_eye(group: Sequence[Finding], characteristic: Characteristic, stake: Callable[[Finding], float]) -> NextReading:
    points = max(stake(finding) for finding in group)
    return NextReading(
        characteristic.id, group[0].at, "by hand", 1, characteristic.minutes, 1.0, points / 2,
        tuple(finding.clause for finding in group), "nobody has tried it",
    )  # fmt: skip


def _waiting(
    group: Sequence[Finding],
    characteristic: Characteristic,
    presets: Mapping[tuple[str, Kind], Figures],
    stake: Callable[[Finding], float],
) -> NextReading:
    """Something unread whose limits wait for geometry."""
    fit = [figures.name for figures in presets.values() if figures.suits and _suits(figures, characteristic.id)]
    return NextReading(
        what=characteristic.id,
        at=group[0].at,
        instrument=fit[0] if fit else "a fit instrument",
        n=1,
        minutes=characteristic.minutes,
        p_decided=None,
        drop=max(stake(finding) for finding in group) / 2,
        settles=tuple(finding.clause for finding in group),
        why="nothing was read here; its limits wait for geometry",
    )


def _opened(
    finding: Finding, characteristic: Characteristic, history: History, stake: Callable[[Finding], float]
) -> _Open | None:
    """State of knowledge about an open finding; before any reading the tabled car-to-car spread (judgement)."""
    lower = finding.lower if finding.lower is not None else -math.inf
    upper = finding.upper if finding.upper is not None else math.inf
    points = stake(finding)
    if points <= 0 or (math.isinf(lower) and math.isinf(upper)):
        return None
    if finding.value is not None and finding.u is not None and finding.basis == "measured":
        return _Open(finding, finding.value, math.hypot(finding.u, finding.u_limit), lower, upper, points)
    spread = characteristic.spread * history.scale.unit(characteristic.per) / (100 if characteristic.per == "%" else 1)
    if spread <= 0:
        return None
    if finding.nominal is not None:
        centre = finding.nominal
    elif math.isfinite(lower) and math.isfinite(upper):
        centre = (lower + upper) / 2
    else:
        centre = lower + spread if math.isfinite(lower) else upper - spread
    return _Open(finding, centre, spread, lower, upper, points)


def _best(
    opened: Sequence[_Open],
    characteristic: Characteristic,
    values: Values,
    history: History,
    thresholds: Thresholds,
    presets: Mapping[tuple[str, Kind], Figures],
) -> NextReading | None:
    if not opened:
        return None
    target = max(opened, key=lambda each: (_at_stake(each), each.finding.clause))
    value = values.found.get((characteristic.id, target.finding.at))
    used = {figures.name: figures for figures in value.figures} if value is not None else {}
    offered = {
        name: figures
        for (name, kind), figures in (*presets.items(), *history.instruments.items())
        if kind == characteristic.kind and _suits(figures, characteristic.id)
    } | used
    if not offered:
        return None
    candidates = [
        _with(target, figures, characteristic, thresholds, n_before=target.finding.n if name in used else 0)
        for name, figures in sorted(offered.items())
    ]
    settling = [each for each in candidates if (each.p_decided or 0.0) >= SETTLED]
    chosen = max(settling or candidates, key=lambda each: (each.worth, each.instrument))
    settles = tuple(each.finding.clause for each in opened)
    return NextReading(
        chosen.what, chosen.at, chosen.instrument, chosen.n, chosen.minutes, chosen.p_decided, chosen.drop, settles,
        _why(chosen, candidates, used, target),
    )  # fmt: skip


def _at_stake(each: _Open) -> float:
    return loss(each.estimate, each.u, State(each.estimate, each.u, each.lower, each.upper)) * each.stake


def _suits(figures: Figures, what: str) -> bool:
    return not figures.suits or any(fnmatchcase(what, pattern) for pattern in figures.suits.split())


def _why(chosen: NextReading, candidates: Sequence[NextReading], used: Mapping[str, Figures], target: _Open) -> str:
    if not used:
        return "nothing was read here" if target.finding.basis != "stale" else target.finding.reason
    same = [each for each in candidates if each.instrument in used]
    hopeless = same and all((each.p_decided or 0.0) < SETTLED for each in same)
    if target.finding.basis == "contradiction":
        return "what was observed contradicts itself"
    if (chosen.p_decided or 0.0) < SETTLED:
        return f"not even {chosen.n} readings are likely to settle it: it lies on the limit"
    if hopeless:
        return f"no number of repeats with the {same[0].instrument} settles it"
    return "more repeats settle it" if chosen.instrument in used else "a better instrument settles it sooner"


def _with(
    target: _Open, figures: Figures, characteristic: Characteristic, thresholds: Thresholds, *, n_before: int
) -> NextReading:
    """What readings with one instrument would do for an open finding."""
    state = State(target.estimate, target.u, target.lower, target.upper)
    n, p, drop = outlook(state, figures, thresholds, n_before, unread=target.finding.value is None)
    return NextReading(
        what=characteristic.id,
        at=target.finding.at,
        instrument=figures.name,
        n=n,
        minutes=characteristic.minutes * n,
        p_decided=p,
        drop=drop * target.stake,
        settles=(),
        why="",
    )


def _geometry(findings: Sequence[Finding], words: Vocabulary, stake: Callable[[Finding], float]) -> list[NextReading]:
    """Geometry that a clause waits for, as a reading where it can be one."""
    names = MEASURED_GEOMETRY
    wanted: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.basis == "needs geometry":
            for name in names:
                if f" {name}" in finding.reason or f"{name}," in finding.reason:
                    wanted.setdefault(name, []).append(finding)
    return [
        NextReading(
            what=names[name],
            at="",
            instrument="steel rule",
            n=1,
            minutes=words.characteristics[names[name]].minutes,
            p_decided=None,
            drop=max(stake(finding) for finding in group) / 2,
            settles=tuple(finding.clause for finding in group),
            why=group[0].reason,
        )
        for name, group in wanted.items()
    ]

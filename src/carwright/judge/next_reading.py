"""What to measure next: which reading is expected to lower the loss of deciding wrongly most, per minute.

The loss of deciding now is min(p, 1 − p) times the points at stake. A further reading leaves a smaller uncertainty
u′ and moves the estimate by a normal amount of variance u² − u′²; the expected loss after it is an integral over
that (preposterior analysis). Repeats with the same instrument shrink neither its calibration nor the rounding they
share; another instrument is independent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import lru_cache
from typing import NamedTuple

from carwright.history import Figures, History
from carwright.judge.clauses import Thresholds
from carwright.judge.finding import Finding
from carwright.judge.limits import MEASURED_GEOMETRY
from carwright.measure import Values, rounding_share
from carwright.measure.knowledge import normal_cdf, normal_quantile
from carwright.units import Kind
from carwright.words import Characteristic, Vocabulary

SETTLED = 0.8
"""A plan of readings "would settle" a finding when it decides it with this probability."""
MOST_REPEATS = 30


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
    p_decided : float
        Probability that these readings decide the finding [-].
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
    p_decided: float
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


def _opened(
    finding: Finding, characteristic: Characteristic, history: History, stake: Callable[[Finding], float]
) -> _Open | None:
    """State of knowledge about an open finding; before any reading the tabled car-to-car spread (judgement)."""
    lower = finding.lower if finding.lower is not None else -math.inf
    upper = finding.upper if finding.upper is not None else math.inf
    points = stake(finding)
    if points <= 0:
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
    settling = [each for each in candidates if each.p_decided >= SETTLED]
    chosen = max(settling or candidates, key=lambda each: (each.worth, each.instrument))
    settles = tuple(each.finding.clause for each in opened)
    return NextReading(
        chosen.what, chosen.at, chosen.instrument, chosen.n, chosen.minutes, chosen.p_decided, chosen.drop, settles,
        _why(chosen, candidates, used, target),
    )  # fmt: skip


def _at_stake(each: _Open) -> float:
    return _loss(each.estimate, each.u, State(each.estimate, each.u, each.lower, each.upper)) * each.stake


def _suits(figures: Figures, what: str) -> bool:
    return not figures.suits or any(fnmatchcase(what, pattern) for pattern in figures.suits.split())


def _why(chosen: NextReading, candidates: Sequence[NextReading], used: Mapping[str, Figures], target: _Open) -> str:
    if not used:
        return "nothing was read here" if target.finding.basis != "stale" else target.finding.reason
    same = [each for each in candidates if each.instrument in used]
    hopeless = same and all(each.p_decided < SETTLED for each in same)
    if chosen.p_decided < SETTLED:
        return "no number of repeats is likely to settle it: it lies on the limit"
    if hopeless:
        return f"no number of repeats with the {same[0].instrument} settles it"
    return "more repeats settle it" if chosen.instrument in used else "a better instrument settles it sooner"


def _with(
    target: _Open, figures: Figures, characteristic: Characteristic, thresholds: Thresholds, *, n_before: int
) -> NextReading:
    """What readings with one instrument would do for an open finding."""
    state = State(target.estimate, target.u, target.lower, target.upper)
    n, p, drop = outlook(state, figures, thresholds, n_before)
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


class State(NamedTuple):
    """A normal state of knowledge and the limits it is judged by."""

    estimate: float
    u: float
    lower: float
    upper: float


@lru_cache(maxsize=1024)
def outlook(state: State, figures: Figures, thresholds: Thresholds, n_before: int) -> tuple[int, float, float]:
    """The least number of readings that would settle a finding, else three; their chance; the fall of the loss.

    Parameters
    ----------
    state : State
        Before.
    figures : Figures
        The instrument.
    thresholds : Thresholds
        When a finding counts as decided.
    n_before : int
        Readings already made with this instrument.

    Returns
    -------
    tuple[int, float, float]
        n, P(decided) [-], and the expected fall of min(p, 1 − p) [-].
    """

    def chance(n: int) -> float:
        return _p_decided(state, after_u(state.u, figures, n=n, n_before=n_before), thresholds)

    low, high = 1, MOST_REPEATS
    if chance(high) < SETTLED:
        low = 3
    else:
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if chance(middle) >= SETTLED else (middle + 1, high)
    after = after_u(state.u, figures, n=low, n_before=n_before)
    drop = _loss(state.estimate, state.u, state) - _expected_loss(state, after)
    return low, chance(low), max(0.0, drop)


def after_u(u: float, figures: Figures, *, n: int, n_before: int = 0) -> float:
    """Standard uncertainty after n more readings.

    Parameters
    ----------
    u : float
        Before [inside unit].
    figures : Figures
        The instrument.
    n : int
        Further readings.
    n_before : int
        Readings already made with this instrument, 0 where it is another one.

    Returns
    -------
    float
        With the same instrument √(u_c² + s²/(n + n₀)), never above u; with another the two combined by inverse
        variance [inside unit].
    """
    share = rounding_share(figures.repeatability, resolution=figures.resolution)
    common = figures.calibration**2 + figures.resolution**2 / 12 * share
    fresh = common + figures.repeatability**2 / (n + n_before)
    if n_before:
        return min(u, math.sqrt(fresh))
    return 1 / math.sqrt(1 / u**2 + 1 / fresh)


def _p(estimate: float, u: float, lower: float, upper: float) -> float:
    return normal_cdf((upper - estimate) / u) - normal_cdf((lower - estimate) / u)


def _loss(estimate: float, u: float, target: State) -> float:
    p = _p(estimate, u, target.lower, target.upper)
    return min(p, 1 - p)


_NODES = tuple((-4 + 8 * i / 32, math.exp(-((-4 + 8 * i / 32) ** 2) / 2)) for i in range(33))
_MASS = math.fsum(weight for _, weight in _NODES)


def _expected_loss(target: State, after: float) -> float:
    move = math.sqrt(max(0.0, target.u**2 - after**2))
    return math.fsum([weight * _loss(target.estimate + move * z, after, target) for z, weight in _NODES]) / _MASS


def _p_decided(target: State, after: float, thresholds: Thresholds) -> float:
    """P that the probability of conformity after the readings is past a threshold.

    With one limit that probability falls steadily across it, with two it falls to both sides of their middle; so the
    estimates that decide are found by bisection, and their probability is that of the estimate's move.
    """
    move = math.sqrt(max(0.0, target.u**2 - after**2))
    if move == 0:
        p = _p(target.estimate, after, target.lower, target.upper)
        return 1.0 if p >= thresholds.conform or p <= thresholds.fail else 0.0
    sure, lost = after * normal_quantile(thresholds.conform), after * normal_quantile(1 - thresholds.fail)
    if math.isfinite(target.lower) and math.isfinite(target.upper):
        middle, half = (target.lower + target.upper) / 2, (target.upper - target.lower) / 2
        inner, outer = half - sure, half + lost
        if half < _WIDE * after:
            inner = _crossing(target, after, middle, thresholds.conform)
            outer = _crossing(target, after, middle, thresholds.fail)
        within = _between(target.estimate, move, middle - inner, middle + inner) if inner > 0 else 0.0
        return within + 1 - _between(target.estimate, move, middle - outer, middle + outer)
    limit, sign = (target.upper, 1.0) if math.isfinite(target.upper) else (target.lower, -1.0)
    return 1 - _between(sign * (target.estimate - limit), move, -sure, lost)


_WIDE = 4.0
"""Half-width of limits, in u, from which the far limit no longer matters at the near one."""


def _crossing(target: State, after: float, middle: float, level: float) -> float:
    """Distance from the middle of two limits at which the probability of conformity comes down to a level."""

    def above(distance: float) -> bool:
        return _p(middle + distance, after, target.lower, target.upper) >= level

    low, high = 0.0, (target.upper - target.lower) / 2 + 8 * after
    if not above(low):
        return 0.0
    for _ in range(40):
        distance = (low + high) / 2
        low, high = (distance, high) if above(distance) else (low, distance)
    return (low + high) / 2


def _between(estimate: float, move: float, low: float, high: float) -> float:
    return normal_cdf((high - estimate) / move) - normal_cdf((low - estimate) / move)


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
            names[name],
            "",
            "steel rule",
            1,
            words.characteristics[names[name]].minutes,
            1.0,
            max(stake(finding) for finding in group) / 2,
            tuple(finding.clause for finding in group),
            group[0].reason,
        )
        for name, group in wanted.items()
    ]

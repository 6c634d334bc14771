"""Shares: how much of a coupler's error each cause holds, what is measured of it and what is assumed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from carwright.explain.latent import Array
from carwright.explain.levers import ENDS, Levers, Row
from carwright.explain.model import Model, model_of
from carwright.explain.posterior import DISAGREE, MISFIT, partner
from carwright.explain.records import Coupler, Execution, Explanation, Group, Share, Tell
from carwright.history import History
from carwright.judge import Finding
from carwright.words import Vocabulary

MEASURED = 0.75
"""Share of its variance that readings must cut before a share is measured [-]."""
_HOLDS = 1.15**2
"""How much a share's variance may grow, were all beliefs twice as wide, for it to count as measured [-]."""
FRAME = ("frame.bow", "frame.kink")
"""Causes that a profile tells together: which of the two it is depends on stations it does not have."""
TOGETHER = 0.7
"""Correlation beyond which two shares are one [-]."""
_SMALL = 0.02
"""Shares whose remaining standard deviation is below this part of the whole error's spread need no reading [-]."""
_RESTS = 0.25
"""Part of a share's variance from which it rests on an instrument's calibration [-]."""
_WORTH = 5
"""Works a remedy's tabled spread counts as, when one more is seen: judgement [-]."""
_TELLS = 0.1
"""Least part of the remaining variance that a reading must take away to be named [-]."""


@dataclass(frozen=True)
class _Part:
    cause: str
    place: str
    row: Array


def explain(history: History, words: Vocabulary, findings: Sequence[Finding], stage: int) -> Explanation:
    """Causes of the coupler heights of a stage.

    Parameters
    ----------
    history : History
        The whole of it: later readings tell of earlier stages.
    words : Vocabulary
        Contributions and remedies.
    findings : sequence of Finding
        Of that stage, for the heights read and the clause's nominal.
    stage : int
        Its number.

    Returns
    -------
    Explanation
        Shares that add up to reading less nominal, or why nothing can be told.
    """
    heights = heights_of(findings)
    if not heights:
        return Explanation(stage, reason="no coupler height was read against a clause with a nominal")
    model = model_of(history, words, designed=designed_height(history, heights))
    if isinstance(model, str):
        return Explanation(stage, reason=model)
    return explanation_of(model, heights, stage)


def heights_of(findings: Sequence[Finding]) -> dict[str, Finding]:
    """The finding that judges each coupler's height, by end."""
    found: dict[str, Finding] = {}
    for finding in findings:
        usable = finding.value is not None and finding.nominal is not None and finding.at in ENDS
        if finding.characteristic == "coupler.height" and usable:
            held = found.get(finding.at)
            if held is None or (_rank(finding) < _rank(held)):
                found[finding.at] = finding
    return found


def _rank(finding: Finding) -> tuple[bool, bool]:
    """Clauses in force that have limits first."""
    return finding.force not in {"standard", "recommended", "adopted"}, finding.lower is None


def designed_height(history: History, heights: dict[str, Finding]) -> float:
    """Coupler height as designed: the sheet's, or the clause's nominal [mm]."""
    nominal = next(iter(heights.values())).nominal
    return history.geometry.get("coupler_height", nominal if nominal is not None else 0.0)


def explanation_of(model: Model, heights: dict[str, Finding], stage: int) -> Explanation:
    """Causes from a model that was solved already."""
    tells = Readings(model, stage)
    couplers = [_coupler(model, finding, stage, tells) for _, finding in sorted(heights.items())]
    bow, _ = model.estimate(model.row({("frame.bow", ""): 1.0}, stage))
    kink, _ = model.estimate(model.row({("frame.kink", ""): 1.0}, stage))
    notes = list(model.levers.notes)
    if "coupler_height" not in model.history.geometry:
        notes.append("couplers taken as designed at the clause's nominal")
    notes += [f"{name} not given: taken from a wide prior" for name in model.latent.names if name.startswith("design")]
    for shape in model.frames.values():
        notes += shape.reasons
        if shape.kind.startswith("bow or"):
            notes.append(f"{shape.kind} (weight of the bow {shape.weight:.2f})")
        if shape.off_centre:
            notes.append("the kink lies off mid-car, where the stack has it: what the frame adds is assumed")
    return Explanation(
        stage=stage,
        couplers=tuple(couplers),
        p=model.posterior.p,
        disagreements=tuple(disagreements(model)),
        executions=tuple(executions(model)),
        notes=tuple(dict.fromkeys(notes)),
        priors={name: row[3] for name, row in model.spreads.rows.items()},
        bow=bow,
        kink=kink,
        kink_at=0.0,
        half_span=model.levers.a,
        seats={end: model.estimate(model.row(model.levers.seat(end), stage))[0] for end in ENDS},
    )


def parts_of(model: Model, end: str, stage: int) -> list[_Part]:
    """Causes that reach a coupler, each as a row over the unknowns."""
    coefficients = model.levers.coupler(end)
    grouped: dict[tuple[str, str], Row] = {}
    for slot, value in coefficients.items():
        what, place = slot
        whole = what in {"wheel.diameter", "frame.shape"}  # wheels come in sets, a frame's shape is one
        cause = "frame.bow" if what == "frame.shape" else what
        grouped.setdefault((cause, "" if whole else place[:1]), {})[slot] = value
    return [_Part(cause, place, model.row(row, stage)) for (cause, place), row in grouped.items() if any(row.values())]


def _coupler(model: Model, finding: Finding, stage: int, tells: Readings) -> Coupler:
    end, value, nominal = finding.at, finding.value or 0.0, finding.nominal or 0.0
    parts = parts_of(model, end, stage)
    rows = np.array([part.row for part in parts])
    covariance = rows @ model.posterior.covariance @ rows.T
    before = np.sqrt(np.diag(rows @ model.posterior.prior_covariance @ rows.T))
    means = rows @ model.posterior.mean
    u = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    scale = np.where(u > 0, u, 1.0)
    correlation = np.clip(covariance / np.outer(scale, scale), -1.0, 1.0)
    whole = float(np.sqrt(np.sum(before**2)))
    loose = np.einsum("ij,jk,ik->i", rows, model.posterior.loose, rows)
    measured = [bool(u[i] < _SMALL * whole or _told(u[i] ** 2, loose[i], before[i] ** 2)) for i in range(len(parts))]
    for i, part in enumerate(parts):
        if part.cause in FRAME:
            measured[i] = False  # bow and kink are told together, or not at all
    members = _together(correlation, measured, [part.cause for part in parts])
    shares = []
    cuts = tells.cuts(rows)
    for index, part in enumerate(parts):
        group = members[index]
        basis = "measured" if measured[index] else "group" if len(group) > 1 else "assumed"
        share = Share(
            part.cause, part.place, "coupler.height", end, float(means[index]), float(u[index]), float(before[index]),
            basis, rests_on=_rests_on(model, part.row, float(u[index])) if basis == "measured" else "",
            u_loose=math.sqrt(max(float(loose[index]), 0.0)),
        )  # fmt: skip
        if basis == "assumed":
            share = replace(share, tell=tells.best(cuts[:, [index]], float(u[index] ** 2)))
        if basis == "group":
            names = tuple(_name(parts[other]) for other in group if other != index)
            share = replace(share, group=names, tell=tells.best(cuts[:, group], float((u[group] ** 2).sum())))
        shares.append(share)
    groups = []
    for own in dict.fromkeys(tuple(each) for each in members.values() if len(each) > 1):
        tell = tells.best(cuts[:, own], float((u[list(own)] ** 2).sum()))
        groups.append(_group(own, parts, end, means, covariance, model, tell, stage))
    designed = model.history.geometry.get("coupler_height", nominal) - nominal
    instrument = _instrument(model, finding, stage)
    rest = value - nominal - designed - instrument - math.fsum(float(each) for each in means)
    drawn = "measured" if "coupler_height" in model.history.geometry else "assumed"
    fixed = (("design", designed, drawn), ("instrument", instrument, "measured"), ("unexplained", rest, "measured"))
    shares += [Share(cause, "", "coupler.height", end, amount, 0.0, 0.0, basis) for cause, amount, basis in fixed]
    return Coupler(end, value, nominal, tuple(shares), tuple(map(tuple, correlation.tolist())), tuple(groups))


def _rests_on(model: Model, row: Array, u: float) -> str:
    """The instrument whose unknown calibration error makes up more than a quarter of a share's variance."""
    for index, name in enumerate(model.latent.names):
        if not name.startswith("calibration of ") or u <= 0:
            continue
        own = float(model.posterior.covariance[index, index])
        pulled = float(row @ model.posterior.covariance[:, index])
        if own > 0 and pulled * pulled > _RESTS * own * u * u:
            return name.removeprefix("calibration of ")
    return ""


def _told(variance: float, loose: float, before: float) -> bool:
    """Whether a share is measured: variance cut by three quarters, and hardly more with all beliefs twice as wide."""
    return variance <= (1 - MEASURED) * before and loose <= _HOLDS * variance


def _name(part: _Part) -> str:
    return f"{part.cause}@{part.place}" if part.place else part.cause


def _together(correlation: Array, measured: Sequence[bool], causes: Sequence[str]) -> dict[int, list[int]]:
    """For each share the ones it cannot be told from, itself included, through any chain of correlations.

    One cause at two places is one cause: it is not grouped with itself.
    """
    size = len(measured)

    def one(i: int, j: int) -> bool:
        told = measured[i] or measured[j] or causes[i] == causes[j]
        return i == j or (abs(correlation[i, j]) > TOGETHER and not told)

    near = [[j for j in range(size) if one(i, j) or (causes[i] in FRAME and causes[j] in FRAME)] for i in range(size)]
    found: dict[int, list[int]] = {}
    for start in range(size):
        seen, waiting = {start}, [start]
        while waiting:
            for other in near[waiting.pop()]:
                if other not in seen:
                    seen.add(other)
                    waiting.append(other)
        found[start] = sorted(seen)
    return found


def _group(
    group: Sequence[int],
    parts: Sequence[_Part],
    end: str,
    means: Array,
    covariance: Array,
    model: Model,
    tell: Tell | None,
    stage: int,
) -> Group:
    own = list(group)
    row = sum((parts[index].row for index in own), np.zeros_like(parts[0].row))
    variance = float(covariance[np.ix_(own, own)].sum())
    wide = float(row @ model.posterior.prior_covariance @ row)
    loose = float(row @ model.posterior.loose @ row)
    told = _told(variance, loose, wide)
    if {parts[index].cause for index in own} & set(FRAME) and any(each.off_centre for each in model.frames.values()):
        told, loose = False, math.inf  # the stack has its kink at mid-car
    return Group(
        names=tuple(_name(parts[index]) for index in own),
        lead=_lead([parts[index] for index in own], means[own], model, stage),
        at=end,
        share=float(means[own].sum()),
        u=math.sqrt(max(variance, 0.0)),
        measured=told,
        tell=tell,
        rests_on=_rests_on(model, row, math.sqrt(max(variance, 0.0))) if told else "",
        u_loose=math.sqrt(max(loose, 0.0)),
        before=math.sqrt(max(wide, 0.0)),
    )


def _lead(parts: Sequence[_Part], means: Array, model: Model, stage: int) -> str:
    """The likeliest of a group: of a frame's bend what bends it most wherever one looks, else the largest share."""
    if {part.cause for part in parts} <= set(FRAME):
        sizes = [abs(model.estimate(model.row({(part.cause, ""): 1.0}, stage))[0]) for part in parts]
    else:
        sizes = [abs(float(mean)) for mean in means]
    return _name(parts[sizes.index(max(sizes))])


def _instrument(model: Model, finding: Finding, stage: int) -> float:
    """What instruments and bench add to a height's own readings, as far as is known [mm]."""
    names = model.latent.names
    nuisance = np.array([name.startswith(("calibration", "bench")) for name in names])
    prior = np.diag(model.latent.prior()[1])
    total = weight = 0.0
    for each in model.observations:
        if each.entry not in finding.entries or each.what != "coupler.height" or "lifted" in each.label:
            continue
        row = np.concatenate([each.row, np.zeros(len(names) - len(each.row))]) * nuisance
        own = 1 / (each.u**2 + float((row**2) @ prior))
        total += own * float(row @ model.posterior.mean)
        weight += own
    del stage
    return total / weight if weight else 0.0


_SHAPE = (("frame.bow", ""), ("frame.kink", ""), ("frame.shape", "cubic"), ("frame.shape", "quartic"))
_STATIONS, _READ = 9, 0.03
"""Stations of the profile that is advised, and a tabled height gauge's standard deviation [-, mm]."""


def _profile(levers: Levers) -> Array:
    """What such a profile along the body would tell of the shape, as rows with u = 1, shape (9, 4) [1/mm]."""
    share = np.linspace(-1, 1, _STATIONS) * 0.97 * max(levers.mouths.values()) / levers.a
    columns = np.column_stack([share**2 - 1, 2 * np.maximum(0.0, share), share**3 - share, share**4 - 1])
    plane = np.column_stack([np.ones(_STATIONS), share])
    left: Array = (columns - plane @ np.linalg.lstsq(plane, columns, rcond=None)[0]) / _READ
    return left


class Readings:
    """Readings that could still be taken, and what each would tell."""

    def __init__(self, model: Model, stage: int) -> None:
        self._offered = list(_candidates(model, stage))
        self._rows = np.array([row for *_, row in self._offered])
        self._pulled = self._rows @ model.posterior.covariance
        own = np.array([u for _, _, _, u, _, _ in self._offered])
        self._total = np.einsum("ij,ij->i", self._pulled, self._rows) + own**2
        seen = _profile(model.levers) @ np.array([model.row({slot: 1.0}, stage) for slot in _SHAPE])
        self._shape = seen @ model.posterior.covariance
        self._seen = self._shape @ seen.T + np.eye(len(seen))

    def cuts(self, rows: Array) -> Array:
        """What each reading takes off the variance of each share, shape (readings, shares) [mm²].

        The last is a profile: it tells bow, kink, cubic and quartic at once.
        """
        own = (self._pulled @ rows.T) ** 2 / self._total[:, None]
        bent = self._shape @ rows.T
        found: Array = np.vstack([own, np.einsum("ij,ij->j", bent, np.linalg.solve(self._seen, bent))])
        return found

    def best(self, cuts: Array, whole: float) -> Tell | None:
        """The reading that cuts the variance of these shares most.

        Parameters
        ----------
        cuts : Array
            Columns of :meth:`cuts` for the shares meant [mm²].
        whole : float
            Sum of their variances [mm²].
        """
        if whole <= 0:
            return None
        parts = cuts.sum(axis=1) / whole
        index = int(np.argmax(np.round(parts, 9)))
        if index == len(self._offered):
            what, at, with_, words = "profile", "", "height gauge", "a profile of the frame, seven stations or more"
        else:
            what, at, with_, _, words, _ = self._offered[index]
        return Tell(what, at, with_, float(parts[index]), words) if parts[index] >= _TELLS else None


def _candidates(model: Model, stage: int) -> Iterable[tuple[str, str, str, float, str, Array]]:
    """Characteristic, place, instrument, u of the reading [mm], words, row over the unknowns."""
    levers = model.levers

    def over(row: Row) -> Array:
        return model.row(row, stage)

    known = model.history.geometry
    given = "" if "ride_height" in known else ", ride_height given"
    bearing = "the truck's bearing face above the rail at {}" + given
    floor = "the floor of the box mouth above the rail at {}" + ("" if "box_height" in known else ", box_height given")
    datum = "the frame above the rail at the pivot at {}" + ("" if "frame_height" in known else ", frame_height given")
    for end in ENDS:
        yield "bolster.height", end, "height gauge", 0.035, bearing.format(end), over(levers.truck(end))
        yield "frame.height", end, "height gauge", 0.035, datum.format(end), over(levers.seat(end))
        yield "box.height", end, "height gauge", 0.035, floor.format(end), over(levers.box(end))
        exchange = over(levers.coupler(end, own=False))
        yield "coupler.exchange", end, "height gauge", 0.045, f"a known-good coupler in the box at {end}", exchange
        shank = over({("shank.offset", end): 1.0})
        yield "shank.offset", end, "calliper", 0.03, f"the shank's offset at {end}, on the bench", shank
        droop = over({("coupler.droop", end): 1.0})
        yield "coupler.droop", end, "height gauge", 0.045, f"the coupler at {end} lifted and free", droop
    wheels = over(dict.fromkeys(levers.axle_slots("all"), 0.25))
    treads = "the wheels over their treads" + ("" if "wheel_diameter" in known else ", wheel_diameter given")
    yield "wheel.diameter", "all", "calliper", 0.015, treads, wheels


def disagreements(model: Model) -> list[str]:
    """Readings that do not fit the others, each with its partner."""
    found = []
    named: set[tuple[int, int | None]] = set()
    for index, z in enumerate(model.posterior.standard):
        if abs(z) <= DISAGREE or not model.observations[index].entry:
            continue
        other = partner(model.total, model.residual, index)
        if other is not None and (other, index) in named:
            continue
        named.add((index, other))
        beside = f" and {model.observations[other].label}" if other is not None else ""
        found.append(f"{model.observations[index].label}{beside} disagree by {abs(z):.1f} standard uncertainties")
    if not found and model.posterior.p < MISFIT:
        found.append(f"the readings do not fit one another (probability {model.posterior.p:.4f}): read them again")
    return found


def executions(model: Model) -> list[Execution]:
    """How each work came out."""
    found = []
    _, prior = model.latent.prior()
    for work, index, meant in model.latent.executed:
        spread = math.sqrt(float(prior[index, index]))
        was, u = (
            float(model.posterior.mean[index]),
            math.sqrt(max(0.0, float(model.posterior.covariance[index, index]))),
        )
        name = model.latent.names[index].removeprefix(f"{work.remedy} ").partition(" (")[0].strip()
        z = (was - meant) / spread if spread > 0 else 0.0
        known = u * u <= (1 - MEASURED) * spread * spread
        now = math.sqrt((_WORTH * spread**2 + (was - meant) ** 2 + u * u) / (_WORTH + 1))
        found.append(Execution(work.stage, work.remedy, work.at, name, meant, was, u, spread, z, known, now))
    return found

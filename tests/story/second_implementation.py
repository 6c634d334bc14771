"""A second way from a sheet to probabilities, that shares no code with carwright: raw TOML and brute force.

Readings become values by drawing their errors many times: calibration (normal, one error per instrument), repeatability
(Student's t with the pooled degrees of freedom) and the part of rounding that all repeats share (rectangular). A
probability of conformity is the share of the draws that lie within the limits, with every place drawn together. What is
not reckoned here (looks, profiles, gauges without a prior) has no entry in the result.

Lengths are in mm, masses in g, slopes in percent.
"""

import math
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, ndtr

DATA = Path(__file__).parents[2] / "src" / "carwright" / "tables" / "data"
DRAWS = 400_000
SEED = 20260305
UNITS = {
    "mm": 1.0, "in": 25.4, '"': 25.4, "g": 1.0, "oz": 28.349523125, "%": 1.0,
    "mN": 0.001, "gf": 0.00980665, "mm/s2": 1.0,
}  # fmt: skip
PRINTED = ("nmra_s-4.2", "nmra_s-4.2-derived", "nmra_s-4.2-2010", "nem_310-2009", "nem_310-311-2002", "nem_303-2015")
BOUNDED = ("coupler.droop", "roll.start", "weight.total")
PRESET_DOF = 5.0
CUT_OFF = 4.0

Draws = NDArray[np.float64]
Table = Mapping[str, Any]


@dataclass(frozen=True)
class Limits:
    """What a clause asks of a characteristic; an end that is missing is infinite."""

    characteristic: str
    lower: float = -math.inf
    upper: float = math.inf


@dataclass(frozen=True)
class Instrument:
    """How far one instrument may be trusted; `dof` belongs to the repeatability."""

    name: str
    resolution: float
    calibration: float
    repeatability: float
    dof: float


@dataclass(frozen=True)
class Group:
    """Repeats at one place with one instrument, pooled with what the instrument did before."""

    number: int
    instrument: Instrument
    mean: float
    count: int
    scatter: float
    dof: float

    @property
    def rounding(self) -> float:
        """Half-width of the rounding error common to all repeats."""
        share = common_share_of_rounding(self.scatter / self.instrument.resolution)
        return self.instrument.resolution / 2 * math.sqrt(share)


Term = tuple[float, Group]


@dataclass(frozen=True)
class Judged:
    """Probability of conformity, with the limits, estimates and standard uncertainties that went into it."""

    limits: Limits
    p: float
    places: tuple[tuple[float, float], ...]


def toml(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def row_of(table: Table, key: str) -> Table | None:
    name = table["table"]["key"]
    return next((row for row in table["row"] if row[name] == key), None)


# --- what people write


def number(text: str) -> float:
    """`0.412`, `-0.01`, `25/64` or `6-1/2`."""
    over, stroke, under = text.strip().partition("/")
    if not stroke:
        return float(over)
    whole, _, over = over.rpartition("-")
    return float(whole or 0) + float(over) / float(under)


def quantity(text: str, ratio: float) -> float:
    """A written quantity: mm, g or percent; feet and inches, and scale inches, are divided by the ratio."""
    if "'" in text:
        feet, rest = text.split("'")
        inches, _, scale = rest.partition('"') if '"' in rest else ("", "", rest)
        model = (12 * number(feet) + (number(inches) if inches.strip() else 0.0)) * 25.4
        return model / (ratio if scale.strip() else 1.0)
    figure, unit = split_unit(text)
    if unit == "scale in":
        return number(figure) * 25.4 / ratio
    if unit == "deg":
        return 100 * math.tan(math.radians(number(figure)))
    return number(figure) * UNITS[unit]


def split_unit(text: str) -> tuple[str, str]:
    found = re.fullmatch(r"\s*([-0-9./]+)\s*(\D+?2?)\s*", text)
    if found is None:
        raise ValueError(f"expected a number and a unit, got {text!r}")
    return found[1], found[2]


def step(text: str, ratio: float) -> float:
    """One unit in the last written digit."""
    figure, unit = split_unit(text)
    decimals = len(figure.partition(".")[2])
    return quantity(f"{10.0**-decimals:.9f} {unit}", ratio)


# --- clauses


def rule_sets(sheet: Table) -> list[str]:
    return list(sheet["car"].get("rules", ["nmra", "bench"]))


def scale_row(sheet: Table) -> Table:
    table = toml(DATA / ("scales_nem.toml" if "nem" in rule_sets(sheet) else "scales_nmra.toml"))
    row = row_of(table, sheet["car"]["scale"])
    if row is None:
        raise ValueError(f"no scale {sheet['car']['scale']!r}")
    return row


def limits_of(sheet: Table, folder: Path) -> dict[str, Limits]:
    """Every clause reckoned here that the sheet's rule sets put to it, by the clause's id."""
    bodies = [name for name in rule_sets(sheet) if name in ("nmra", "nem")]
    clauses = dict(printed_clauses(sheet, bodies))
    if "nmra" in bodies:
        clauses |= drawbar_clause(sheet)
    if "nem" in bodies:
        clauses |= least_mass_clauses(sheet)
    for name in rule_sets(sheet):
        if name in bodies:
            continue
        document = toml(DATA / "rules" / "bench.toml" if name == "bench" else folder / name)
        for clause in document["clause"]:
            limits = rule_limits(clause, sheet)
            if limits is None:
                continue
            for replaced in clause.get("replaces", []):
                clauses.pop(replaced.format(scale=sheet["car"]["scale"]), None)
            clauses[f"{document['id']}/practice/{sheet['car']['scale']}/{limits.characteristic}"] = limits
    return clauses


def printed_clauses(sheet: Table, bodies: Sequence[str]) -> Iterator[tuple[str, Limits]]:
    """Clauses whose limits stand in a table as they are."""
    scale = scale_row(sheet)
    for name in PRINTED:
        if name.partition("_")[0] not in bodies:
            continue
        table = toml(DATA / f"{name}.toml")
        key = f"{scale['track']:g}" if table["table"]["key"] == "gauge" else sheet["car"]["scale"]
        row = row_of(table, key)
        if row is None:
            continue
        figures: defaultdict[str, dict[str, float]] = defaultdict(dict)
        for column, about in table["table"]["columns"].items():
            if column in row and "limit" in about:
                figures[about["characteristic"]][about["limit"]] = row[column] * UNITS[table["table"]["unit"]]
        for characteristic, ends in figures.items():
            yield f"{table['table']['id']}/{key}/{characteristic}", printed_limits(characteristic, ends)


def printed_limits(characteristic: str, ends: Mapping[str, float]) -> Limits:
    nominal = ends.get("nominal", math.nan)
    lower = nominal - ends["minus"] if "minus" in ends else -math.inf
    upper = nominal + ends["plus"] if "plus" in ends else math.inf
    return Limits(characteristic, ends.get("lower", lower), ends.get("upper", upper))


def drawbar_clause(sheet: Table) -> dict[str, Limits]:
    row = row_of(toml(DATA / "cfr_231.31-scaled.toml"), sheet["car"]["scale"])
    if row is None:
        return {}
    one = 25.4 / scale_row(sheet)["ratio"]
    limits = Limits("coupler.height", row["low"] * one, row["high"] * one)
    return {f"cfr/231.31-scaled/{row['scale']}/coupler.height": limits}


def least_mass_clauses(sheet: Table) -> dict[str, Limits]:
    row = row_of(toml(DATA / "nem_302-2015.toml"), sheet["car"]["scale"])
    length = geometry(sheet, "length_over_buffers")
    if row is None or length is None:
        return {}
    least = row["g_per_mm"] * length
    return {
        f"nem/302-2015/{row['scale']}/weight.total": Limits("weight.total", lower=least),
        f"nem/302-2015-raise/{row['scale']}/weight.total": Limits("weight.total", upper=1.3 * least),
    }


def rule_limits(clause: Table, sheet: Table) -> Limits | None:
    """Limits of a clause of a rule file, or nothing where it does not bear on this car or has no limits."""
    car, ratio = sheet["car"], scale_row(sheet)["ratio"]
    what = clause["characteristic"]
    if car["scale"] not in clause.get("scales", [car["scale"]]):
        return None
    if any(car.get(key) != value for key, value in clause.get("applies", {}).items()):
        return None
    if "nominal" in clause:
        middle = nominal(clause["nominal"], what, sheet)
        spread = clause["plus_minus"]
        half = quantity(spread if isinstance(spread, str) else spread["value"], ratio)
        return Limits(what, middle - half, middle + half)
    if what == "coupler.droop":
        knuckle = geometry(sheet, "knuckle_height")
        return None if knuckle is None else Limits(what, upper=knuckle / 4)
    return Limits(what, upper=quantity(clause["upper"], ratio)) if "upper" in clause else None


def nominal(written: str | Table, what: str, sheet: Table) -> float:
    """A nominal as written, or taken from the sheet of heights or of weights."""
    scale = sheet["car"]["scale"]
    if isinstance(written, str):
        return quantity(written, scale_row(sheet)["ratio"])
    if "value" in written:
        return quantity(written["value"], scale_row(sheet)["ratio"])
    row = row_of(toml(DATA / ("nmra_s-2.toml" if what == "coupler.height" else "nmra_rp-20.1.toml")), scale)
    length = geometry(sheet, "body_length")
    if row is None or length is None:
        raise ValueError(f"no nominal of {what} for {scale}")
    if what == "coupler.height":
        return float(row["height"]) * 25.4
    return float(row["initial"] + row["per_inch"] * length / 25.4) * UNITS["oz"]


def geometry(sheet: Table, name: str) -> float | None:
    written = sheet["car"].get("geometry", {}).get(name)
    return None if written is None else quantity(written, scale_row(sheet)["ratio"])


# --- the history of the car


def speaking_entries(sheet: Table, *, last: bool) -> list[Table]:
    """Entries that speak for the stage: no work that touches what they read lies between."""
    touches = {row["id"]: row for row in toml(DATA / "words_remedies.toml")["row"]}
    entries = in_order_of_time(sheet["entry"])
    works = [entry for entry in entries if entry["kind"] == "work"]
    speaking, done = [], 0
    for entry in entries:
        done += entry["kind"] == "work"
        between = works[done:] if last else works[:done]
        if entry["kind"] in ("reading", "gauge") and not any(touched(entry, work, touches) for work in between):
            speaking.append(entry)
    return speaking


def in_order_of_time(entries: Sequence[Table]) -> list[Table]:
    """Entries by date; one without a date stays with the one written before it."""
    dates, now = [], ""
    for entry in entries:
        now = str(entry.get("when", now))
        dates.append(now)
    return [entry for _, entry in sorted(zip(dates, entries, strict=True), key=lambda pair: pair[0])]


def touched(entry: Table, work: Table, touches: Mapping[str, Table]) -> bool:
    row = touches[work["remedy"]]
    if entry["what"] not in row["touches"].split():
        return False
    there = row.get("there") == "yes" and "at" in work and entry.get("at", "all") != "all"
    return not there or axle(entry["at"]) == axle(work["at"])


def axle(at: str) -> str:
    """The axle of a wheel: `3L` runs on axle `3`; an end is itself."""
    return at[:-1] if at[0].isdigit() and at[-1] in "LR" else at


def axles(sheet: Table) -> list[str]:
    shape = sheet["car"].get("geometry", {})
    count = shape["axles"] if "axles" in shape else 2 * shape["axles_per_truck"]
    return [str(n + 1) for n in range(count)]


def ats(entry: Table, sheet: Table) -> list[str]:
    return axles(sheet) if entry.get("at") == "all" else [entry.get("at", "")]


# --- values


def instrument(entry: Table, sheet: Table) -> Instrument:
    """The instrument of a reading: the sheet's own, a preset, or what the written digits say."""
    ratio = scale_row(sheet)["ratio"]
    name = entry.get("with")
    presets = {row["name"]: row for row in toml(DATA / "words_instruments.toml")["row"]}
    if name is None:
        one = step(entry["values"][0], ratio)
        kind = next(
            row["kind"] for row in toml(DATA / "words_characteristics.toml")["row"] if row["id"] == entry["what"]
        )
        fit = [
            row
            for row in presets.values()
            if row["kind"] == kind
            and any(fnmatchcase(entry["what"], pattern) for pattern in row["suits"].split())
            and quantity(row["resolution"], ratio) <= 1.001 * one
        ]
        calibration = max([one / 2, *(quantity(row["calibration"], ratio) for row in fit)])
        repeatability = max([one, *(quantity(row["repeatability"], ratio) for row in fit)])
        return Instrument(f"digits to {one:g}", one, calibration, repeatability, PRESET_DOF)
    own: Table = next((row for row in sheet.get("instrument", []) if row["name"] == name), {"preset": name})
    figures = {**presets.get(own.get("preset", ""), {}), **own}
    tried = "repeatability" in own and "repeatability_n" in own
    return Instrument(
        name,
        quantity(figures["resolution"], ratio),
        quantity(figures["calibration"], ratio),
        quantity(figures["repeatability"], ratio),
        own["repeatability_n"] - 1.0 if tried else PRESET_DOF,
    )


def groups_of(entries: Sequence[Table], sheet: Table) -> dict[tuple[str, str, str, str], Group]:
    """Repeats by characteristic, state, place and turn of the wheelset."""
    ratio = scale_row(sheet)["ratio"]
    repeats: defaultdict[tuple[str, str, str, str], list[float]] = defaultdict(list)
    tools: dict[tuple[str, str, str, str], Instrument] = {}
    for entry in entries:
        if entry["kind"] != "reading":
            continue
        tool = instrument(entry, sheet)
        spots = {str(n): values for n, values in enumerate(entry["places"])} if "places" in entry else {}
        for at in ats(entry, sheet):
            for spot, values in (spots or {entry.get("turn", ""): entry["values"]}).items():
                key = (entry["what"], entry.get("state", "free"), at, spot)
                repeats[key] += [quantity(text, ratio) for text in values]
                if tools.setdefault(key, tool) != tool:
                    raise ValueError(f"two instruments at one place: {key}")
    return {key: pooled(n, tools[key], repeats[key]) for n, key in enumerate(repeats)}


def pooled(group: int, tool: Instrument, values: Sequence[float]) -> Group:
    mean = sum(values) / len(values)
    squares = tool.dof * tool.repeatability**2 + sum((x - mean) ** 2 for x in values)
    dof = tool.dof + len(values) - 1
    return Group(group, tool, mean, len(values), math.sqrt(squares / dof), dof)


def common_share_of_rounding(scatter: float) -> float:
    """ρ: the part of the rounding error that repeats share, from the scatter of readings in steps.

    The noise q before rounding solves q² + (1 − ρ(q))/12 = scatter², found by bisection.
    """
    low, high = 0.0, max(scatter, 1.0)
    for _ in range(60):
        q = (low + high) / 2
        low, high = (q, high) if q**2 + (1 - rho(q)) / 12 < scatter**2 else (low, q)
    return rho((low + high) / 2)


def rho(q: float) -> float:
    k = np.arange(1, 3001, dtype=np.float64)
    return float(6 / math.pi**2 * np.sum(np.exp(-4 * (math.pi * k * q) ** 2) / k**2))


def draw(places: Sequence[Sequence[Term]], *, tailed: bool) -> list[Draws]:
    """Every place drawn together: one error per instrument and one of each group, wherever they enter.

    `tailed` draws repeatability from Student's t; without it from a normal, whose spread is the standard uncertainty.
    """
    random = np.random.default_rng(SEED)
    offsets: dict[str, Draws] = {}
    chances: dict[str, Draws] = {}
    noises: dict[int, Draws] = {}
    drawn = []
    for terms in places:
        total = np.zeros(DRAWS)
        for sign, group in terms:
            tool = group.instrument
            if tool.name not in offsets:
                offsets[tool.name] = tool.calibration * random.standard_normal(DRAWS)
            if group.number not in noises:
                # One record of the instrument's repeatability stands behind all its readings: if its spread is truly
                # larger for one of them, it is for all.
                chance = chances.setdefault(tool.name, random.uniform(size=DRAWS))
                noise = random.standard_normal(DRAWS)
                if tailed:
                    noise /= np.sqrt(chdtri(group.dof, chance) / group.dof)
                rounding = random.uniform(-group.rounding, group.rounding, DRAWS)
                noises[group.number] = noise * group.scatter / math.sqrt(group.count) + rounding
            total += sign * (group.mean + offsets[tool.name] + noises[group.number])
        drawn.append(total)
    return drawn


def characteristics(entries: Sequence[Table], sheet: Table) -> dict[tuple[str, str], list[list[Term]]]:
    """Places by characteristic and where; each place is a sum of groups with their signs."""
    groups = groups_of(entries, sheet)
    found: defaultdict[tuple[str, str], list[list[Term]]] = defaultdict(list)
    for (what, state, at, _), group in groups.items():
        if state == "free":
            found[what, at].append([(1.0, group)])
    for (what, state, at, turn), group in groups.items():
        free = groups.get((what, "free", at, turn))
        if what == "coupler.height" and state == "lifted" and free and ("coupler.droop", at) not in found:
            found["coupler.droop", at].append([(1.0, group), (-1.0, free)])
    for n in [at for what, at in found if what == "wheel.back_to_back" and ("wheel.check_gauge", at) not in found]:
        flanges = [
            group for (what, _, at, _), group in groups.items() if what == "wheel.flange_thickness" and axle(at) == n
        ]
        sums = [[*back, (1.0, flange)] for back in found["wheel.back_to_back", n] for flange in flanges]
        if sums:
            found["wheel.check_gauge", n] = sums
    if ("roll.start", "A") in found and ("roll.start", "B") in found:
        both = [found.pop(("roll.start", end))[0][0][1] for end in ("A", "B")]
        found["roll.start", ""] = [[(0.5, group) for group in both]]
    return dict(found)


# --- judging


def judge_by_readings(places: Sequence[Sequence[Term]], limits: Limits) -> Judged:
    """All places within the limits at once; a bounded characteristic cannot be under zero."""
    bounded = limits.characteristic in BOUNDED
    kept = np.ones(DRAWS, dtype=bool)
    within = np.ones(DRAWS, dtype=bool)
    for x in draw(places, tailed=True):
        within &= (limits.lower <= x) & (x <= limits.upper)
        kept &= (x >= 0) | (not bounded)
    spread = []
    for plain, tailed in zip(draw(places, tailed=False), draw(places, tailed=True), strict=True):
        # what zero cuts off has no plain u: its spread is that of the draws that are left
        near = bounded and plain.mean() < CUT_OFF * plain.std()
        spread.append(tailed[tailed >= 0] if near else plain)
    return Judged(
        limits,
        float(within[kept].mean()),
        tuple((float(x.mean()), float(x.std())) for x in spread),
    )


def judge_by_gauges(checks: Sequence[Table], prior: Table, limits: Limits, sheet: Table) -> Judged:
    """The prior drawn, each draw weighted by how likely the gauges were to do what they did."""
    ratio = scale_row(sheet)["ratio"]
    random = np.random.default_rng(SEED)
    x = quantity(prior["value"], ratio) + quantity(prior["u"], ratio) * random.standard_normal(DRAWS)
    weight = np.ones(DRAWS)
    for check in checks:
        tool = gauge(check, sheet)
        low, high = (quantity(text, ratio) for text in tool["accepts"])
        u = quantity(tool["u"], ratio)
        likelihood = {
            "pass": ndtr((x - low) / u) * ndtr((high - x) / u),
            "low": ndtr((low - x) / u),
            "high": ndtr((x - high) / u),
        }
        weight *= likelihood[check["result"]]
    within = (limits.lower <= x) & (x <= limits.upper)
    mean = float(np.average(x, weights=weight))
    spread = math.sqrt(float(np.average((x - mean) ** 2, weights=weight)))
    return Judged(limits, float(np.average(within, weights=weight)), ((mean, spread),))


def gauge(check: Table, sheet: Table) -> Table:
    """The gauge of a check, empty where it was judged by eye."""
    return next((row for row in sheet.get("instrument", []) if row["name"] == check.get("with")), {})


def judge(path: Path, *, last: bool) -> dict[tuple[str, str], Judged]:
    """Everything on a sheet that can be reckoned here, by clause and place."""
    sheet = toml(path)
    entries = speaking_entries(sheet, last=last)
    measured = characteristics(entries, sheet)
    priors = {prior["what"]: prior for prior in sheet.get("prior", [])}
    checks: defaultdict[tuple[str, str], list[Table]] = defaultdict(list)
    for entry in entries:
        if entry["kind"] == "gauge" and "accepts" in gauge(entry, sheet):
            for at in ats(entry, sheet):
                checks[entry["what"], at].append(entry)
    if both := set(checks) & set(measured):
        raise ValueError(f"a gauge and a reading at one place are not reckoned together here: {sorted(both)}")
    judged: dict[tuple[str, str], Judged] = {}
    for clause, limits in limits_of(sheet, path.parent).items():
        for (what, at), places in measured.items():
            if what == limits.characteristic:
                judged[clause, at] = judge_by_readings(places, limits)
        for (what, at), done in checks.items():
            if what == limits.characteristic and what in priors:
                judged[clause, at] = judge_by_gauges(done, priors[what], limits, sheet)
    return judged

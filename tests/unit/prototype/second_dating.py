"""A second, slow implementation of dating a picture, written from docs/method.md alone, to test the first one against.

Months are numbers, 12 * year + month - 1. Everything is enumerated: every month of building, every month of the
picture, every value of the chance of a false sighting.
"""

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

DATA = Path(__file__).resolve().parents[3] / "src" / "carwright" / "tables" / "data" / "dated"
FALSE_SIGHTING = ((0.2, 0.65), (1.0, 0.3), (10.0, 0.05))  # times `false_seen`, with what probability
LEFT = {"regulation": "left_regulation", "interchange rule": "left_rule", "practice": "left_practice"}
ON_NEW = ("new", "new or rebuilt")


@dataclass(frozen=True)
class Seen:
    """What a picture says of one feature or one whole group."""

    feature: str
    state: str
    trust: float = 1.0


@dataclass(frozen=True)
class Picture:
    """A picture of one car: what it shows, what is stencilled on it, what is claimed of it."""

    kind: str
    seen: tuple[Seen, ...] = ()
    stencils: tuple[tuple[str, int, float], ...] = ()
    claims: tuple[tuple[str, int | None, int | None, float, str], ...] = ()
    until: int | None = None


@dataclass(frozen=True)
class Rule:
    """One dated rule, as in the data file."""

    feature: str
    event: str
    earliest: str
    latest: str
    scope: str
    types: tuple[str, ...]
    not_types: tuple[str, ...]
    when: tuple[str, ...]
    unless: tuple[str, ...]
    strength: str
    confidence: str
    preferred: bool
    share: float

    @property
    def begin(self) -> int:
        """Return the month of the earlier day."""
        return month_of(self.earliest)

    @property
    def end(self) -> int:
        """Return the month of the later day."""
        return month_of(self.latest)

    @property
    def left(self) -> float:
        """Return the share of cars that do not heed the rule."""
        doubt = 0.1 if self.confidence in ("low", "memory") else 0.0
        return float(WEIGHTS[LEFT[self.strength]]) + doubt

    @property
    def sure(self) -> bool:
        """Say whether the rule holds for sure."""
        return self.strength in ("regulation", "interchange rule") and self.confidence in ("high", "medium")

    @property
    def for_new_cars(self) -> bool:
        """Say whether the rule binds cars by the month they were built in."""
        if self.event == "gone in practice":
            return self.scope in ON_NEW
        return self.event in ("required on new", "banned on new")


@dataclass(frozen=True)
class Group:
    """A group of features, oldest first."""

    id: str
    seen: str
    one: bool
    types: tuple[str, ...]
    features: tuple[str, ...]
    rare: frozenset[str]


def month_of(day: str) -> int:
    """Return the month of a day such as 1953-07-15, or of a month such as 1953-07."""
    return 12 * int(day[:4]) + int(day[5:7]) - 1


def last_month_before(day: str) -> int:
    """Return the last month that begins before a day."""
    return month_of(day) - 1 if day[8:10] == "01" else month_of(day)


def read(name: str) -> dict[str, Any]:
    """Read one data file."""
    with (DATA / name).open("rb") as file:
        return tomllib.load(file)


def read_groups() -> dict[str, Group]:
    """Read the groups of features, by id."""
    groups = {}
    for row in read("features.toml")["group"]:
        ids = [row["id"] + ("." + state["id"] if state["id"] else "") for state in row["states"]]
        rare = frozenset(id_ for id_, state in zip(ids, row["states"], strict=True) if state.get("rare", False))
        types = tuple(row.get("types", ()))
        groups[row["id"]] = Group(row["id"], row["seen"], row.get("one", False), types, tuple(ids), rare)
    return groups


def read_rules() -> tuple[Rule, ...]:
    """Read the dated rules."""
    return tuple(
        Rule(
            feature=row["feature"],
            event=row["event"],
            earliest=row["earliest"],
            latest=row["latest"],
            scope=row.get("scope", "all"),
            types=tuple(row.get("types", ())),
            not_types=tuple(row.get("not_types", ())),
            when=tuple(row.get("when", ())),
            unless=tuple(row.get("unless", ())),
            strength=row["strength"],
            confidence=row["confidence"],
            preferred=row.get("preferred", True),
            share=row.get("share", math.nan),
        )
        for row in read("rules.toml")["rule"]
    )


WEIGHTS: dict[str, Any] = read("stencils.toml")["weights"]
INTERVALS: list[dict[str, Any]] = read("stencils.toml")["interval"]
GROUPS = read_groups()
RULES = read_rules()


# --- Shares ---


def group_of(id_: str) -> Group:
    """Return the group of a feature, or the group an id names."""
    return GROUPS[id_.split(".", maxsplit=1)[0]]


def every_car_shows_one(group: Group, kind: str) -> bool:
    """Say whether a car of this kind shows exactly one feature of the group."""
    return group.one and (not group.types or not kind or kind in group.types)


def binds(rule: Rule, kind: str) -> bool:
    """Say whether a rule binds a car of this kind in interchange."""
    if rule.scope == "company service" or kind in rule.not_types:
        return False
    return not rule.types or kind in rule.types


@cache
def rules_of(feature: str, kind: str, present: frozenset[str]) -> tuple[Rule, ...]:
    """Return the rules that count for a feature, given the kind of car and what the picture shows."""
    fit = [
        rule
        for rule in RULES
        if rule.feature in (feature, group_of(feature).id)
        and rule.preferred
        and binds(rule, kind)
        and all(id_ in present for id_ in rule.when)
        and not any(id_ in present for id_ in rule.unless)
    ]
    conditional = {rule.event for rule in fit if rule.when}
    return tuple(rule for rule in fit if rule.when or rule.event not in conditional)


def events(rules: tuple[Rule, ...], *names: str) -> list[Rule]:
    """Return the rules of certain events."""
    return [rule for rule in rules if rule.event in names]


def counts_of(rules: tuple[Rule, ...]) -> list[Rule]:
    """Return the counted shares of all cars."""
    return [rule for rule in events(rules, "share") if rule.scope == "all"]


def line(t: float, t0: float, y0: float, t1: float, y1: float) -> float:
    """Return the height at t of the straight line through two points."""
    return y0 + (y1 - y0) * (t - t0) / (t1 - t0)


def beginning(rules: tuple[Rule, ...]) -> int | None:
    """Return the month B in which a feature began."""
    return min((rule.begin for rule in events(rules, "first seen", "permitted")), default=None)


def counted_end(
    feature: str, kind: str, present: frozenset[str], rules: tuple[Rule, ...], last_count: int
) -> tuple[int, float] | None:
    """Return the point the line runs to after the last count, where there is one."""
    group = group_of(feature)
    duties = events(rules, "required on all")
    own = [rule for rule in events(rules, "banned on all") if rule.sure]
    others: list[Rule] = []
    if every_car_shows_one(group, kind) and feature != group.features[0]:
        for other in group.features:
            if other != feature:
                others += [rule for rule in events(rules_of(other, kind, present), "banned on all") if rule.sure]
    for candidates, falls in ((duties, False), (own, True), (others, False)):
        if candidates:
            month = max(rule.end for rule in candidates)
            left = max(rule.left for rule in candidates)
            if month > last_count:
                return month, left if falls else 1 - left
    return None


def counted_part(feature: str, t: int, kind: str, present: frozenset[str]) -> float:
    """Return r of a feature with counted shares, for cars no rule for new cars binds."""
    group = group_of(feature)
    rules = rules_of(feature, kind, present)
    is_oldest = every_car_shows_one(group, kind) and feature == group.features[0]
    b0 = beginning(rules)
    if b0 is not None and t < b0:
        return 0.0
    points = sorted((rule.begin, rule.share) for rule in counts_of(rules))
    first_count, last_count = points[0][0], points[-1][0]
    if is_oldest:
        points.insert(0, (first_count - 480, 1.0))
    elif b0 is not None and b0 < first_count:
        points.insert(0, (b0, 0.0))
    end = counted_end(feature, kind, present, rules, last_count)
    if end is not None:
        points.append(end)
    if t <= points[0][0]:
        return points[0][1]
    for (t0, y0), (t1, y1) in pairwise(points):
        if t0 <= t <= t1 and t0 < t1:
            return line(t, t0, y0, t1, y1)
    month, height = points[-1]
    if is_oldest:
        return float(height * 2 ** (-(t - month) / WEIGHTS["fade_months"]))
    return height


def spread_part(feature: str, t: int, rules: tuple[Rule, ...], first: int) -> float:
    """Return r of a feature that is neither counted nor the oldest, for cars no rule for new cars binds."""
    rare = feature in group_of(feature).rare
    b0 = beginning(rules)
    if b0 is not None and t < b0:
        return 0.0
    duties = [rule for rule in events(rules, "required on all") if b0 is None or rule.end > b0]
    if b0 is not None and b0 > first:
        start, height = b0, 0.0
        spread = 1 - 2 ** (-(t - b0) / WEIGHTS["turnover_months"])
        r = spread * WEIGHTS["rare"] if rare else spread
    else:
        start = first
        r = height = WEIGHTS["rare"] if rare else 0.5
    if duties:
        month = min(rule.end for rule in duties)
        goal = 1 - max(rule.left for rule in duties if rule.end == month)
        r = goal if t >= month else line(t, start, height, month, goal)
    return float(r)


def part(feature: str, t: int, b: int, kind: str, present: frozenset[str], first: int) -> float:
    """Return r: the part a feature takes of what newer ones leave."""
    group = group_of(feature)
    rules = rules_of(feature, kind, present)
    b0 = beginning(rules)
    binding = [rule for rule in rules if rule.for_new_cars and b >= rule.end]
    if binding:
        rule = max(binding, key=lambda rule: rule.end)
        if b0 is not None and t < b0:
            return 0.0
        return 1 - rule.left if rule.event == "required on new" else rule.left
    if counts_of(rules):
        return counted_part(feature, t, kind, present)
    if every_car_shows_one(group, kind) and feature == group.features[0]:
        return 1.0
    return spread_part(feature, t, rules, first)


def fall(feature: str, t: int, kind: str, present: frozenset[str]) -> float:
    """Return d: what bans and disuse leave of a feature."""
    rules = rules_of(feature, kind, present)
    counted = bool(counts_of(rules))
    fade = WEIGHTS["fade_months"]
    falls = [1.0]
    for rule in rules:
        if rule.event == "banned on all" and not (rule.sure and counted):
            start = last_month_before(rule.earliest)
            end = max(rule.end, start + 1)
            if t > end:
                falls.append(rule.left * 2 ** (-(t - end) / fade))
            elif t > start:
                falls.append(line(t, start, 1.0, end, rule.left))
        in_disuse = rule.event == "no longer required" or (
            rule.event == "gone in practice" and rule.scope not in ON_NEW and not (rule.scope == "older" and counted)
        )
        if in_disuse and t > rule.begin:
            falls.append(2 ** (-(t - rule.begin) / fade))
    return min(falls)


def turns(group: Group, kind: str, present: frozenset[str]) -> list[int]:
    """Return the months of building from which on a rule for new cars binds a feature of the group."""
    return sorted({r.end for f in group.features for r in rules_of(f, kind, present) if r.for_new_cars})


def shares(group: Group, t: int, b: int, kind: str, present: frozenset[str], first: int) -> dict[str, float]:
    """Return the share of every feature of a group, in month t, of cars built in month b."""
    result: dict[str, float] = {}
    counts: dict[str, float] = {}
    free = 1.0
    for feature in reversed(group.features):
        r = part(feature, t, b, kind, present, first)
        d = fall(feature, t, kind, present)
        result[feature] = free * r * d
        free *= 1 - r
        if counts_of(rules_of(feature, kind, present)):
            counts[feature] = r * d
    if not every_car_shows_one(group, kind):
        return result
    if any(b >= month for month in turns(group, kind, present)):
        counts = {}
    total = sum(counts.values())
    if total > 1:
        counts = {feature: count / total for feature, count in counts.items()}
        total = 1.0
    rest = sum(value for feature, value in result.items() if feature not in counts)
    scale = (1 - total) / rest if rest > 0 else 0.0
    return {feature: counts[feature] if feature in counts else value * scale for feature, value in result.items()}


def share(feature_id: str, t: int, b: int, kind: str, present: frozenset[str], first: int) -> float:
    """Return the share of cars built in month b that show a feature in month t."""
    return shares(group_of(feature_id), t, b, kind, present, first)[feature_id]


# --- Likelihood ---


def chance(seen: Seen, group: Group, feature: str | None, false_seen: float) -> float:
    """Return the chance of one sighting, where the car shows a feature of the group, or none."""
    is_it = feature is not None and seen.feature in (feature, group.id)
    error = (1 - seen.trust) / 2 if seen.trust < 1 else false_seen
    present = seen.trust * float(WEIGHTS["seen_" + group.seen]) + (1 - seen.trust) / 2 if is_it else error
    return present if seen.state == "present" else 1 - present


def observation(group: Group, sightings: list[Seen], pi: dict[str, float], false_seen: float) -> float:
    """Return the likelihood of all that is seen of a group."""
    truths: list[tuple[str | None, float]] = list(pi.items())
    truths.append((None, max(0.0, 1 - sum(pi.values()))))
    return sum(
        weight * math.prod(chance(seen, group, feature, false_seen) for seen in sightings) for feature, weight in truths
    )


def survival(months: int) -> float:
    """Return S: the part of the cars that live so long."""
    life, spread = WEIGHTS["life_years"], WEIGHTS["life_spread"]
    return normal((life - months / 12) / spread) / normal(life / spread)


def normal(x: float) -> float:
    """Return the normal distribution function."""
    return math.erfc(-x / math.sqrt(2)) / 2


def shown(picture: Picture) -> frozenset[str]:
    """Return the features a picture shows, and their groups."""
    present = [seen.feature for seen in picture.seen if seen.state == "present"]
    return frozenset(present) | {group_of(id_).id for id_ in present}


def interval(picture: Picture, stencil: str, date: int) -> tuple[float, float]:
    """Return how long a stencilled date stands, and in what time it halves when it is late."""
    with_car = {day for id_, day, _ in picture.stencils if id_ in ("stencil.built", "stencil.rebuilt")}
    beside_new = stencil == "stencil.weighed" and "new-mark" in shown(picture)
    key = "first" if date in with_car or beside_new else "later"
    for row in INTERVALS:
        of_kind = "types" not in row or picture.kind in row["types"]
        in_force = "from" not in row or date >= month_of(row["from"])
        if row["stencil"] == stencil and of_kind and in_force:
            return float(row[key]), float(WEIGHTS["late_months"])
    return float(WEIGHTS["paint_months"]), float(WEIGHTS["fade_months"])


def stands(age: int, months: float, halving: float) -> float:
    """Return g: the likelihood of the age of a stencilled date."""
    if age < 0:
        return 0.0
    q = 2 ** (-1 / halving)
    return float(2 ** (-max(age - months, 0) / halving) / (months + 1 + q / (1 - q)))


def claims_once(picture: Picture) -> list[tuple[str, int | None, int | None, float]]:
    """Return the claims, those about one thing from one source once, with the greatest trust."""
    kept: dict[tuple[str, str, int], tuple[str, int | None, int | None, float]] = {}
    for number, (about, begin, end, trust, source) in enumerate(picture.claims):
        key = (about, source, -1 if source else number)
        if key not in kept or trust > kept[key][3]:
            kept[key] = (about, begin, end, trust)
    return list(kept.values())


def claimed(
    month: int, begin: int | None, end: int | None, trust: float, first: int, last: int, near_part: float = 0.0
) -> float:
    """Return what a claim that a month lies in a span multiplies by."""
    begin = first if begin is None else max(begin, first)
    end = last if end is None else min(end, last)
    length, reach = max(end - begin + 1, 1), WEIGHTS["near_months"]
    inside = 1.0 if begin <= month <= end else 0.0
    near = length / (length + 2 * reach) if begin - reach <= month <= end + reach else 0.0
    guess = length / (last - first + 1)
    return trust * inside + (1 - trust) * (near_part * near + (1 - near_part) * guess)


def weight_of_built(picture: Picture, b: int, first: int, last: int) -> float:
    """Return what claims and built stencils multiply a month of building by."""
    weight = 1.0
    for about, begin, end, trust in claims_once(picture):
        if about == "built":
            weight *= claimed(b, begin, end, trust, first, last, WEIGHTS["near_part"])
    for stencil, date, trust in picture.stencils:
        if stencil == "stencil.built":
            weight *= trust * (b == date) + (1 - trust) / (last - first + 1)
    return weight


def weight_of_taken(picture: Picture, t: int, first: int, last: int) -> float:
    """Return what claims and stencils multiply a month of the picture by."""
    if picture.until is not None and t > picture.until:
        return 0.0
    weight = 1.0
    for about, begin, end, trust in claims_once(picture):
        if about == "taken":
            weight *= claimed(t, begin, end, trust, first, last, WEIGHTS["near_part"])
        elif about == "last seen":
            weight *= claimed(t, None, end, trust, first, last)
    for stencil, date, trust in picture.stencils:
        if stencil == "stencil.built":
            likelihood = float(t >= date)
        else:
            likelihood = stands(t - date, *interval(picture, stencil, date))
        weight *= trust * likelihood + (1 - trust) / (last - first + 1)
    return weight


def posterior(picture: Picture, first: int, last: int) -> dict[int, float]:
    """Return the mass of every month of the picture, on a grid from one month to another."""
    present = shown(picture)
    sightings: dict[str, list[Seen]] = {}
    for seen in picture.seen:
        sightings.setdefault(group_of(seen.feature).id, []).append(seen)
    turning = {id_: turns(GROUPS[id_], picture.kind, present) for id_ in sightings}
    false_seen = [WEIGHTS["false_seen"] * times for times, _ in FALSE_SIGHTING]
    of_built = {b: weight_of_built(picture, b, first, last) for b in range(first, last + 1)}
    lives = [survival(months) for months in range(last - first + 1)]
    mass: dict[int, float] = {}
    for t in range(first, last + 1):
        # The shares in month t are the same for all cars built between the same two turns: they are reckoned once.
        known: dict[tuple[str, int], list[float]] = {}
        total = 0.0
        for b in range(first, t + 1):
            rows = []
            for id_, of_group in sightings.items():
                key = (id_, sum(b >= month for month in turning[id_]))
                if key not in known:
                    pi = shares(GROUPS[id_], t, b, picture.kind, present, first)
                    known[key] = [observation(GROUPS[id_], of_group, pi, error) for error in false_seen]
                rows.append(known[key])
            for number, (_, probability) in enumerate(FALSE_SIGHTING):
                likelihood = math.prod(row[number] for row in rows)
                total += lives[t - b] * of_built[b] * probability * likelihood
        mass[t] = total * weight_of_taken(picture, t, first, last)
    whole = sum(mass.values())
    if whole <= 0:
        raise ValueError("no month of the grid fits the picture")
    return {t: value / whole for t, value in mass.items()}

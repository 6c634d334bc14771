"""Points and status, never mixed: the score is of the car as received, the status of the last stage."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from carwright.errors import TableError
from carwright.history import Ruling
from carwright.judge import Finding
from carwright.units import System, say, say_probability
from carwright.verdict.charges import Charge, further_places
from carwright.verdict.rubric import Category, Rubric
from carwright.verdict.status import RESTRICTED, worst
from carwright.words import nearest

ROUTE = "may run: "
"""Begins the reason that says where a restricted car may run."""


@dataclass(frozen=True, slots=True)
class Deduction:
    """Points lost, and the chain that leads to them.

    Attributes
    ----------
    points : float
        [points]
    provisional : bool
        True while undecided; what it would be without stays visible.
    settled_by : str
        The later reading that settled it, "" where it was settled as received.
    category, cause, at, title : str
        Head, cause, place and plain words.
    chain : tuple[str, ...]
        Reading → finding → cause → deduction.
    clauses : tuple[str, ...]
        Findings it makes fail.
    """

    points: float
    provisional: bool
    settled_by: str
    category: str
    cause: str
    at: str
    title: str
    chain: tuple[str, ...]
    clauses: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Counterfactual:
    """Points of the car as received, if only this had been right."""

    cause: str
    at: str
    title: str
    points: float


@dataclass(frozen=True, slots=True)
class CategoryScore:
    """What one category has and lost [points]; one nobody looked into is not examined and counts nowhere."""

    id: str
    title: str
    points: float
    lost: float
    examined: bool


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict.

    Attributes
    ----------
    points, out_of : float
        Of the car as received, over the categories that were examined: nothing read is not nothing wrong [points].
    unexamined : float
        Points of the other categories [points].
    unmeasured : int
        Requirements that may cost points and that nobody measured [-].
    points_if_provisional_lifted : float
        If every provisional deduction fell away [points].
    band : str
        The rubric's word for that share, where enough was examined.
    scored_stage : int
        0, the car as received.
    status, status_stage, status_reasons
        What may be done with it now, at which stage, and why.
    deductions : tuple[Deduction, ...]
        They add up to ``out_of − points``.
    waived : tuple[str, ...]
        Charges a ruling waived, with its reason.
    categories : tuple[CategoryScore, ...]
        By head.
    rubric : str
        Id of the rubric.
    notes : tuple[str, ...]
        Rulings that met nothing.
    if_only : tuple[Counterfactual, ...]
        For each cause charged, the points without it; most gained first.
    """

    points: float
    out_of: float
    unexamined: float
    unmeasured: int
    points_if_provisional_lifted: float
    band: str
    scored_stage: int
    status: str
    status_stage: int
    status_reasons: tuple[str, ...]
    deductions: tuple[Deduction, ...]
    waived: tuple[str, ...]
    categories: tuple[CategoryScore, ...]
    rubric: str
    notes: tuple[str, ...] = ()
    if_only: tuple[Counterfactual, ...] = ()


def verdict_of(
    received: Sequence[Charge],
    now: Sequence[Charge],
    first: Sequence[Finding],
    last: Iterable[Finding],
    rulings: Sequence[Ruling],
    rubric: Rubric,
    *,
    last_stage: int,
    stage_of_entry: Mapping[int, int],
    system: System = "us",
) -> Verdict:
    """Add up.

    Parameters
    ----------
    received : sequence of Charge
        Of the car as received.
    now : sequence of Charge
        Of the last stage.
    first : sequence of Finding
        Findings of the car as received, for what was examined.
    last : iterable of Finding
        Findings of the last stage, for what is still open.
    rulings : sequence of Ruling
        A person's own.
    rubric : Rubric
        Categories, bands, and what holds a car.
    last_stage : int
        Its number.
    stage_of_entry : mapping
        Stage of each entry, to tell what a later reading settled.
    system : str
        Units the chains are written in.

    Raises
    ------
    TableError
        "entry 9 (ruling): unknown category 'bild'; did you mean 'build'?"
    """
    for ruling in rulings:
        ids = [category.id for category in rubric.categories]
        if ruling.category and ruling.category not in ids:
            place = f"entry {ruling.entry} (ruling)"
            raise TableError(place, f"unknown category {ruling.category!r}{nearest(ruling.category, ids)}")
    waivers = [ruling for ruling in rulings if ruling.waives]
    kept = [charge for charge in received if _waiver(charge, waivers) is None]
    dropped = [charge for charge in received if _waiver(charge, waivers) is not None]
    ruled = [_ruled(ruling) for ruling in rulings if ruling.points > 0]

    def deducted(charges: Sequence[Charge]) -> list[Deduction]:
        own = [_deduction(charge, stage_of_entry, system) for charge in further_places(charges, rubric)]
        return _within_categories([*own, *ruled], rubric)

    deductions = deducted(kept)
    lost = sum(deduction.points for deduction in deductions)
    lost_for_certain = sum(each.points for each in deducted([charge for charge in kept if not charge.provisional]))
    examined = _examined(first, rulings, rubric)
    out_of = sum(category.points for category in rubric.categories if category.id in examined)
    points = round(out_of - lost, 1)
    status, reasons = _status(now, last, rubric, waivers)
    reasons = _route(status, rulings) + reasons
    return Verdict(
        points=points,
        out_of=out_of,
        unexamined=rubric.out_of - out_of,
        unmeasured=sum(each.outcome == "not measured" and each.force in rubric.charges for each in first),
        points_if_provisional_lifted=round(out_of - lost_for_certain, 1),
        band=_band(points, out_of, rubric),
        scored_stage=0,
        status=status,
        status_stage=last_stage,
        status_reasons=tuple(reasons),
        deductions=tuple(deductions),
        waived=tuple(_waived(charge, waivers) for charge in dropped),
        categories=tuple(_category(category, deductions, examined) for category in rubric.categories),
        rubric=rubric.id,
        if_only=tuple(_if_only(kept, deducted, out_of)),
        notes=tuple(
            f"entry {ruling.entry}: waives {ruling.waives!r}, which is charged nowhere"
            for ruling in waivers
            if not any(_waives(ruling, charge) for charge in received)
        ),
    )


def _if_only(
    kept: Sequence[Charge], deducted: Callable[[Sequence[Charge]], list[Deduction]], out_of: float
) -> list[Counterfactual]:
    found = []
    for charge in kept:
        without = sum(each.points for each in deducted([each for each in kept if each is not charge]))
        found.append(Counterfactual(charge.cause, charge.at, _cause_title(charge), round(out_of - without, 1)))
    return sorted(found, key=lambda each: -each.points)


TOO_LITTLE = "too little examined for a word"


def _band(points: float, out_of: float, rubric: Rubric) -> str:
    if out_of <= 0 or out_of < rubric.least_examined * rubric.out_of:
        return TOO_LITTLE
    return rubric.band(points / out_of)


def _examined(findings: Iterable[Finding], rulings: Iterable[Ruling], rubric: Rubric) -> set[str]:
    """Categories in which something that may cost points was read or seen."""
    found = {ruling.category for ruling in rulings if ruling.category}
    for finding in findings:
        if finding.outcome == "not measured" or finding.force not in rubric.charges:
            continue
        if finding.grade:
            look = rubric.look_rules.get(finding.characteristic.removeprefix("look."))
            found |= {look.category} if look is not None else set()
        elif (rule := rubric.rule_for(finding.characteristic)) is not None and finding.basis != "no limit":
            found.add(rule.category)
    return found


def _category(category: Category, deductions: Iterable[Deduction], examined: set[str]) -> CategoryScore:
    lost = sum(each.points for each in deductions if each.category == category.id)
    return CategoryScore(category.id, category.title, category.points, round(lost, 1), category.id in examined)


def _route(status: str, rulings: Sequence[Ruling]) -> list[str]:
    """Where a restricted car may run, by the last ruling that says so."""
    route = next((each.route for each in reversed(rulings) if each.route), "")
    return [f"{ROUTE}{' '.join(route.split())}"] if route and status == RESTRICTED else []


def _waives(ruling: Ruling, charge: Charge) -> bool:
    cause, _, at = ruling.waives.partition("@")
    if at and at not in {charge.at, *(finding.at for finding in charge.findings)}:
        return False
    names = {charge.cause}
    for finding in charge.findings:
        names |= {finding.clause, finding.characteristic}
    return cause in names


def _waiver(charge: Charge, waivers: Sequence[Ruling]) -> Ruling | None:
    return next((ruling for ruling in waivers if _waives(ruling, charge)), None)


def _waived(charge: Charge, waivers: Sequence[Ruling]) -> str:
    ruling = _waiver(charge, waivers)
    by = ruling.who if ruling is not None and ruling.who else "a ruling"
    return f"{_title(charge)}: waived by {by}: {ruling.reason if ruling is not None else ''}"


def _title(charge: Charge) -> str:
    finding = charge.findings[0]
    return f"{finding.subject}: {finding.grade}" if finding.grade else finding.subject


def _cause_title(charge: Charge) -> str:
    """What is charged: the cause and what it makes fail, or the finding itself."""
    heights = [finding.subject for finding in charge.findings if finding.characteristic == "coupler.height"]
    if not heights or charge.cause in {"unexplained", "coupler.height"}:
        return _title(charge)
    where = f" at {charge.at}" if charge.at else ""
    return f"{charge.cause}{where}: {' and '.join(heights)}"


def _points(points: float) -> str:
    return f"{points:.1f} point" + ("" if round(points, 1) == 1 else "s")


def _ruled(ruling: Ruling) -> Deduction:
    by = ruling.who or "the reviewer"
    return Deduction(
        points=ruling.points,
        provisional=False,
        settled_by="",
        category=ruling.category,
        cause="ruling",
        at="",
        title=ruling.reason,
        chain=(
            f"entry {ruling.entry}: ruling by {by}: {ruling.reason}",
            f"{_points(ruling.points)} in {ruling.category}",
        ),
    )


def _deduction(charge: Charge, stage_of_entry: Mapping[int, int], system: System) -> Deduction:
    points = round(charge.points, 1)
    chain = [_read(finding, system) for finding in charge.findings]
    for finding in charge.findings:
        p = f", probability of conformity {say_probability(finding.p_conform)}" if finding.p_conform is not None else ""
        chain.append(f"finding: {finding.clause} {finding.outcome} ({finding.basis}{p})")
    chain += [line for line in charge.because if line]
    cause = "none inferred, the finding stands for itself" if charge.cause == "unexplained" else charge.cause
    if charge.because and charge.cause == "unexplained":
        cause = "not settled, the finding stands for itself"
    chain.append(f"cause: {cause}" + (f", at {charge.at}" if charge.at else ""))
    chain.append(f"deduction: {_points(points)} in {charge.category}: {charge.why}")
    entries = {entry for finding in charge.findings for entry in finding.entries}
    later = sorted(entry for entry in entries if stage_of_entry.get(entry, 0) > 0)
    return Deduction(
        points=points,
        provisional=charge.provisional,
        settled_by=charge.settled_by or (f"entry {later[-1]}" if later and not charge.provisional else ""),
        category=charge.category,
        cause=charge.cause,
        at=charge.at,
        title=_cause_title(charge),
        chain=tuple(dict.fromkeys(chain)),
        clauses=tuple(dict.fromkeys(finding.clause for finding in charge.findings)),
    )


def _read(finding: Finding, system: System) -> str:
    """Where the chain starts: what was read or seen, and in which entries."""
    entries = "entry" if len(finding.entries) == 1 else "entries"
    where = f"{entries} {', '.join(map(str, finding.entries))}"
    if finding.grade:
        return f"look: {finding.subject} {finding.grade} ({where})"
    if finding.basis == "dated rule":
        return f"evidence: {finding.subject}: {finding.reason} ({where})"
    if finding.value is None or finding.kind is None:
        return f"check: {finding.subject} {finding.basis} ({where})"
    value = say(finding.value, finding.kind, system, finding.half_width)
    instruments = f" with {', '.join(finding.instruments)}" if finding.instruments else ""
    derived = f", {finding.derived}" if finding.derived else ""
    return f"reading: {finding.subject} {value}{instruments} ({where}{derived})"


def _within_categories(deductions: Sequence[Deduction], rubric: Rubric) -> list[Deduction]:
    """A category cannot lose more than it has: certain deductions first, then provisional ones, are cut to fit."""
    left = {category.id: category.points for category in rubric.categories}
    kept: dict[int, Deduction] = {}
    for index, deduction in sorted(enumerate(deductions), key=lambda pair: pair[1].provisional):
        points = round(min(deduction.points, left[deduction.category]), 1)
        left[deduction.category] -= points
        chain = deduction.chain
        if points < deduction.points:
            chain = (*chain, f"cut to {_points(points)}: the category has no more to lose")
        kept[index] = replace(deduction, points=points, chain=chain)
    return [kept[index] for index in range(len(deductions))]


def _status(
    now: Sequence[Charge], last: Iterable[Finding], rubric: Rubric, waivers: Sequence[Ruling]
) -> tuple[str, list[str]]:
    found = [
        (charge.status, f"{charge.status}: {_title(charge)}")
        for charge in now
        if charge.status and _waiver(charge, waivers) is None
    ]
    open_ones: dict[tuple[str, str], list[str]] = {}
    judged: set[str] = set()
    for finding in last:
        if finding.force not in rubric.charges:
            continue
        judged.add(finding.characteristic)
        needed = any(finding.characteristic in group for group in rubric.needs)
        if needed and finding.outcome in {"undecided", "not measured"}:
            until = "decided" if finding.outcome == "undecided" else "measured"
            open_ones.setdefault((finding.title, until), []).append(finding.where)
    for (what, until), places in open_ones.items():
        where = ", ".join(dict.fromkeys(filter(None, places)))
        found.append(("held for work", f"held until {until}: {what}" + (f" ({where})" if where else "")))
    for group in rubric.needs:
        if not judged & set(group):
            names = " or ".join(group)
            found.append(("held for work", f"held: no clause of the chosen rule sets that counts is about {names}"))
    return worst(each for each, _ in found), list(dict.fromkeys(reason for _, reason in found))

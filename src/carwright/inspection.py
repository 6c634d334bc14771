"""The walk: history → measure → judge → explain → verdict, and the frozen Inspection every face renders."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from carwright.errors import UnknownNameError
from carwright.explain.records import Explanation, Plans
from carwright.history import Figures, History, Sheet
from carwright.history.faults import Faults
from carwright.history.instruments import Instruments
from carwright.history.lines import Lines
from carwright.history.records import Portrayed
from carwright.judge import Finding, NextReading, judge_looks, judge_stage, next_readings
from carwright.measure import Value, Values, characteristic_of, values_at
from carwright.tables import RuleSet, Tables, load_rules, shipped, vocabulary
from carwright.units import Kind
from carwright.verdict import Rubric, Verdict, charges_of, load_rubric, verdict_of
from carwright.verdict.causes import by_cause
from carwright.verdict.charges import Charge, stake_of
from carwright.verdict.flips import Flip, limit_flips, prior_flips
from carwright.verdict.status import RESTRICTED
from carwright.words import Vocabulary, nearest

if TYPE_CHECKING:
    from carwright.explain.weighting import Advice
    from carwright.measure.bench import Bench
    from carwright.prototype.fidelity import Fidelity
    from carwright.prototype.portrayal import Portrayal
    from carwright.verdict.due import Due
    from carwright.verdict.due_rules import DueRules

FORMAT = "carwright-inspection/1"
_READ_ELSEWHERE = {
    "coupler.exchange", "shank.offset", "box.height", "bolster.height", "frame.height", "frame.rock", "wheel.diameter",
    "wheel.flange_thickness", "weight.truck", "tip.angle", "roll.coast", "roll.runout", "roll.pull",
}  # fmt: skip
"""Characteristics that causes, balance and rolling read, so that no clause about them is missed."""
_OWN_WORK = ("dated", "fidelity")
"""Findings no plan is for: what does not go with the wanted year has a work list of its own, dimensions have none."""


@dataclass(frozen=True)
class Inspection:
    """Everything carwright has to say of one car.

    Attributes
    ----------
    history : History
        What was put in.
    stage : int
        Stage whose findings are given.
    findings : tuple[Finding, ...]
        Of that stage: faults first, then undecided, not measured, conforming.
    older : tuple[Finding, ...]
        The same values judged by superseded editions.
    next_readings : tuple[NextReading, ...]
        Best first.
    verdict : Verdict
        Points as received, status of the last stage.
    unjudged : tuple[Value, ...]
        Values no chosen clause applies to.
    conditions : tuple[str, ...]
        What clauses about them ask of the car.
    rules : RuleSet
        Clauses in force.
    rubric : Rubric
        What costs how much.
    explanations : mapping
        Causes, by stage: as received, as shown, and last.
    last : tuple[Finding, ...]
        Findings of the last stage, which plans are for.
    received : tuple[Finding, ...]
        Findings of the car as received, which the score is of.
    tables : Tables
        The facts used.
    portrayal : Portrayal or None
        What the car portrays and when, None where the sheet says nothing of it.
    fidelity : Fidelity or None
        Dimensions against the full-size car at the stage shown, None where none is known.
    shown_status : str
        Status at the stage shown; the verdict's is that of the last stage.
    """

    history: History
    stage: int
    findings: tuple[Finding, ...]
    older: tuple[Finding, ...]
    next_readings: tuple[NextReading, ...]
    verdict: Verdict
    unjudged: tuple[Value, ...]
    conditions: tuple[str, ...]
    rules: RuleSet
    rubric: Rubric
    explanations: Mapping[int, Explanation] = field(default_factory=dict)
    last: tuple[Finding, ...] = ()
    received: tuple[Finding, ...] = ()
    tables: Tables = field(default_factory=shipped, repr=False)
    portrayal: Portrayal | None = None
    fidelity: Fidelity | None = None
    shown_status: str = ""

    @property
    def route(self) -> str:
        """Where the car may run while it is restricted, by the last ruling that says so; "" where none does."""
        return next((" ".join(each.route.split()) for each in reversed(self.history.rulings) if each.route), "")

    @property
    def is_restricted(self) -> bool:
        """Whether it may run only where a route allows."""
        return self.verdict.status == RESTRICTED and bool(self.route)

    def due(self, rules: DueRules | None = None) -> Due:
        """What the car is to be looked at again for, by the rules given or by the shipped ones."""
        from carwright.verdict.due import due_of  # noqa: PLC0415 - asked for by few
        from carwright.verdict.due_rules import usual_rules  # noqa: PLC0415

        values = values_at(self.history, words_of(self.tables), len(self.history.stages) - 1)
        return due_of(self.history, values.stale, rules or usual_rules(), words_of(self.tables))

    @property
    def explanation(self) -> Explanation:
        """Causes of the stage whose findings are given."""
        return self.explanations[self.stage]

    @cached_property
    def bench(self) -> Bench:
        """Frame, balance and rolling at the stage shown: measured, and judged by no clause."""
        from carwright.measure.bench import bench_of  # noqa: PLC0415 - NumPy is loaded only where asked for

        return bench_of(self.history, values_at(self.history, words_of(self.tables), self.stage))

    @cached_property
    def plans(self) -> Plans:
        """Plans for the car as it stands at its last stage; searched when first asked for."""
        return self.plan()

    def plan(self, closed: Sequence[str] = ()) -> Plans:
        """Plans with some options closed.

        Parameters
        ----------
        closed : sequence of str
            ``straighten``, or ``washer@A`` for one place.

        Raises
        ------
        UnknownNameError
            "there is no remedy 'wash'; did you mean 'washer'?"
        TableError
            When the stock the sheet names cannot be used.
        """
        from carwright.explain.planner import Task, plans_of  # noqa: PLC0415 - NumPy is loaded only for plans
        from carwright.explain.stock import stock_of  # noqa: PLC0415

        words = words_of(self.tables)
        for option in closed:
            name, _, place = option.partition("@")
            if name not in words.remedies:
                raise UnknownNameError("remedy", name, nearest(name, words.remedies))
            if place not in {"", "A", "B", "all"} and not place.isdigit():
                raise UnknownNameError("place", place, f" in {option!r}; expected A, B, all or an axle")
        stock = stock_of(self.history, self.tables)
        findings = tuple(each for each in self.last if each.rule_set not in _OWN_WORK)
        task = Task(self.history, words, self.tables, findings, self.rubric.charges, stock, tuple(closed))
        return plans_of(task)

    def ballast(self, stock: Path | None = None, size: tuple[float, float, float] | None = None) -> Advice | str:
        """What to add and where, or why nothing can be advised.

        Parameters
        ----------
        stock : path, optional
            A stock file, before the sheet's own.
        size : tuple of float, optional
            Length, width and height of a load to design for an open car [mm].

        Raises
        ------
        TableError
            When the stock cannot be used.
        """
        from carwright.explain.stock import read_stock, stock_of  # noqa: PLC0415 - NumPy is loaded only where asked for
        from carwright.explain.weighting import advise  # noqa: PLC0415

        weights = [each for each in self.last if each.characteristic == "weight.total" and each.kind is not None]
        ranked = sorted(weights, key=lambda each: (each.force not in self.rubric.charges, each.lower is None))
        items = read_stock(stock) if stock is not None else stock_of(self.history, self.tables)
        return advise(self.history, self.tables, ranked[0] if ranked else None, self.bench, items, size)

    @cached_property
    def flips(self) -> tuple[Flip, ...]:
        """What would flip the verdict: priors of the stack and limits, nearest first."""
        words = words_of(self.tables)
        found = list(limit_flips(self.received, self.rubric, self.history.system))
        explanation = self.explanations[0]
        if explanation.couplers:
            from carwright.explain.model import model_of  # noqa: PLC0415 - NumPy is loaded only where asked for
            from carwright.explain.shares import designed_height, explanation_of, heights_of  # noqa: PLC0415

            heights = heights_of(self.received)
            designed = designed_height(self.history, heights)

            def again(name: str, factor: float) -> Explanation:
                model = model_of(self.history, words, designed=designed, factors={name: factor})
                return explanation if isinstance(model, str) else explanation_of(model, heights, 0)

            plain = charges_of(self.received, self.rubric, self.history.scale)
            found += prior_flips(plain, explanation, words.contributions, again)
        return tuple(sorted(found, key=lambda each: (each.nearness, each.name)))

    def count(self, outcome: str) -> int:
        """How many findings have an outcome."""
        return sum(finding.outcome == outcome for finding in self.findings)


@lru_cache(maxsize=4)
def words_of(tables: Tables) -> Vocabulary:
    """The names a sheet may use with these tables."""
    return vocabulary(tables)


@lru_cache(maxsize=4)
def presets_of(tables: Tables) -> Mapping[tuple[str, Kind], Figures]:
    """Instruments a bench usually has, by name and kind of quantity."""
    words = words_of(tables)
    instruments = Instruments([], words, Faults(Lines("")))
    for name, row in words.instruments.items():
        instruments.figures(name, row["kind"], ())  # type: ignore[arg-type]
    return instruments.used


@lru_cache(maxsize=256)
def _shipped_rules(names: tuple[str, ...], scale: str, tables: Tables) -> RuleSet:
    words = words_of(tables)
    return load_rules(names, scale=words.scales[scale], tables=tables, words=words)


def rules_of(history: History, tables: Tables) -> RuleSet:
    """Rule sets of a sheet, stacked for its scale."""
    if any(name.endswith(".toml") for name in history.rules):
        words = words_of(tables)
        return load_rules(history.rules, scale=history.scale, tables=tables, words=words, folder=Path(history.folder))
    return _shipped_rules(history.rules, history.scale.name, tables)


def stage_number(history: History, stage: str) -> int:
    """Number of a stage named ``received``, ``last`` or by its number.

    Raises
    ------
    UnknownNameError
        "there is no stage '3'; known: received, last, 0, 1"
    """
    last = len(history.stages) - 1
    named = {"received": 0, "last": last, **{str(each.number): each.number for each in history.stages}}
    if stage not in named:
        raise UnknownNameError("stage", stage, f"; known: {', '.join(named)}")
    return named[stage]


def inspect(
    sheet: Sheet | History, tables: Tables | None = None, *, stage: str = "last", rubric: str = ""
) -> Inspection:
    """Judge a car.

    Parameters
    ----------
    sheet : Sheet or History
        What was seen and done.
    tables : Tables, optional
        Facts; the shipped ones where omitted.
    stage : str
        ``received``, ``last`` or a number: whose findings are given. The verdict does not depend on it.
    rubric : str
        Path of a rubric that goes before the sheet's own.

    Returns
    -------
    Inspection
        A pure function of the history, the tables, the rule sets and the rubric.

    Raises
    ------
    CarwrightError
        When a rule set or rubric the sheet names cannot be used, or the stage does not exist.
    """
    history = sheet.history if isinstance(sheet, Sheet) else sheet
    tables = tables or shipped()
    words = words_of(tables)
    rules = rules_of(history, tables)
    chosen = load_rubric(rubric) if rubric else load_rubric(history.rubric, history.folder)
    number = stage_number(history, stage)
    last = len(history.stages) - 1
    anchors = tables.table("words/looks")
    portrayal = portrayed(history, tables)
    found: dict[int, list[Finding]] = {}
    values = {each: values_at(history, words, each) for each in {0, number, last}}
    for each, at_stage in values.items():
        judged = judge_stage(rules.clauses, at_stage, history, words, chosen.thresholds)
        found[each] = judged + judge_looks(history, anchors, each)
        if portrayal is not None:
            from carwright.prototype.findings import era_findings  # noqa: PLC0415 - read only where there is evidence

            found[each] += era_findings(portrayal, each)
        if history.portrayed.dimensions:
            from carwright.prototype.findings import fidelity_findings  # noqa: PLC0415

            measured = compared(history, at_stage, chosen, tables)
            found[each] += fidelity_findings(measured, history, each, chosen.thresholds)
    explanations = {each: explained(history, words, findings, each) for each, findings in found.items()}
    charges = {
        each: charged(history, words, findings, each, explanations[each], chosen) for each, findings in found.items()
    }
    stage_of_entry = {
        **{reading.entry: reading.stage for reading in history.readings},
        **{check.entry: check.stage for check in history.gauges},
        **{look.entry: look.stage for look in history.looks},
        **{piece.entry: piece.stage for piece in history.evidence},
    }

    def verdict_at(at: int) -> Verdict:
        return verdict_of(
            charges[0],
            charges[at],
            found[0],
            found[at],
            history.rulings,
            chosen,
            last_stage=at,
            stage_of_entry=stage_of_entry,
            system=history.system,
        )

    verdict = verdict_at(last)
    shown = verdict if number == last else verdict_at(number)
    older = judge_stage(rules.older, values[number], history, words, chosen.thresholds)
    ranked = next_readings(
        [each for each in found[number] if each.grade or each.characteristic in words.characteristics],
        values[number],
        history,
        words,
        chosen.thresholds,
        lambda finding: stake_of(finding, chosen),
        presets_of(tables),
    )
    judged_about = {finding.characteristic for finding in found[number]}
    full_size = {full.name for full in history.portrayed.dimensions}
    unjudged = [
        value
        for (what, _), value in sorted(values[number].found.items())
        if characteristic_of(what) not in judged_about
        and characteristic_of(what) not in _READ_ELSEWHERE
        and what.removeprefix("dimension:") not in full_size
    ]
    waiting = {characteristic_of(value.what) for value in unjudged}
    conditions = [
        f"{clause.id} applies only where the car's {key} is {wanted!r} in [car]"
        for clause in rules.clauses
        for key, wanted in clause.applies.items()
        if clause.characteristic in waiting
    ]
    return Inspection(
        history=history,
        stage=number,
        findings=tuple(sorted(found[number], key=_shown_order)),
        older=tuple(sorted(older, key=_shown_order)),
        next_readings=tuple(ranked),
        verdict=verdict,
        shown_status=shown.status,
        unjudged=tuple(unjudged),
        conditions=tuple(conditions),
        rules=rules,
        rubric=chosen,
        explanations=explanations,
        last=tuple(found[last]),
        received=tuple(found[0]),
        tables=tables,
        portrayal=portrayal,
        fidelity=compared(history, values[number], chosen, tables) if history.portrayed.dimensions else None,
    )


def portrayed(history: History, tables: Tables) -> Portrayal | None:
    """What the car portrays; the dated rules are read only where its sheet says something of it."""
    if not history.evidence and history.portrayed == Portrayed():
        return None
    from carwright.prototype.portrayal import portrayal_of  # noqa: PLC0415

    return portrayal_of(history, tables, european="nem" in history.rules)


def compared(history: History, values: Values, rubric: Rubric, tables: Tables) -> Fidelity | None:
    """Dimensions of the model against those of the full-size car, by the rubric's tolerance class.

    Raises
    ------
    UnknownNameError
        "there is no tolerance class 'closer'; did you mean 'close'?"
    """
    from carwright.prototype.fidelity import ToleranceClass, fidelity_of  # noqa: PLC0415

    rows = tables.table("fidelity/classes").rows
    if rubric.fidelity not in rows:
        raise UnknownNameError("tolerance class", rubric.fidelity, nearest(rubric.fidelity, rows))
    row = rows[rubric.fidelity]
    width = {name: cell.value or 0.0 for name, cell in row.cells.items()}
    tolerance = ToleranceClass(row.key, row.words["title"], width["scale_in"], width["percent"])
    measured = {
        what.removeprefix("dimension:"): value for (what, at), value in values.found.items() if at in {"", "all"}
    }
    return fidelity_of(history.portrayed.dimensions, measured, history.scale.ratio, tolerance)


def explained(history: History, words: Vocabulary, findings: Sequence[Finding], stage: int) -> Explanation:
    """Causes of one stage; NumPy is loaded only where a coupler height was read against a nominal."""
    read = any(each.characteristic == "coupler.height" and each.value is not None for each in findings)
    if not read:
        return Explanation(stage, reason="no coupler height was read against a clause with a nominal")
    from carwright.explain.shares import explain  # noqa: PLC0415

    return explain(history, words, findings, stage)


def charged(
    history: History,
    words: Vocabulary,
    findings: Sequence[Finding],
    stage: int,
    explanation: Explanation,
    rubric: Rubric,
) -> list[Charge]:
    """Charges of one stage by cause; what only later readings settle says which did."""
    plain = charges_of(findings, rubric, history.scale)

    def earlier() -> Iterator[tuple[str, Explanation]]:
        for entry, known in _as_it_grew(history, stage):
            yield entry, explained(known, words, findings, stage)

    return by_cause(plain, explanation, rubric, history.scale, system=history.system, earlier=earlier())


def _as_it_grew(history: History, stage: int) -> Iterator[tuple[str, History]]:
    """The history as it stood at a stage, and after each later entry that bears on coupler heights."""
    yield "", up_to(history, stage)
    told = {(reading.stage, reading.entry) for reading in history.readings if reading.what.startswith(_TELLS)}
    told |= {(profile.stage, profile.entry) for profile in history.profiles}
    for until, entry in sorted(told):
        if until > stage:
            known = up_to(history, until)
            yield (
                f"entry {entry}",
                replace(
                    known,
                    readings=tuple(each for each in known.readings if each.stage < until or each.entry <= entry),
                    profiles=tuple(each for each in known.profiles if each.stage < until or each.entry <= entry),
                ),
            )


_TELLS = ("coupler.", "box.", "bolster.", "frame.", "shank.", "wheel.diameter")
"""Readings that bear on coupler heights."""


def up_to(history: History, stage: int) -> History:
    """The history as it stood at a stage, before any later work or reading."""
    return replace(
        history,
        stages=history.stages[: stage + 1],
        works=tuple(work for work in history.works if work.stage <= stage),
        readings=tuple(reading for reading in history.readings if reading.stage <= stage),
        gauges=tuple(check for check in history.gauges if check.stage <= stage),
        profiles=tuple(profile for profile in history.profiles if profile.stage <= stage),
    )


_ORDER = {"fails": 0, "undecided": 1, "not measured": 2, "conforms": 3}


def _shown_order(finding: Finding) -> tuple[int, str, str, str, str]:
    return (_ORDER[finding.outcome], finding.characteristic, finding.at, finding.clause, finding.title)

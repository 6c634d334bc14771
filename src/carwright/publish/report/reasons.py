"""Causes, plans, works and what was measured beside the clauses, as sections of the report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carwright.explain.records import Plan, Plans
from carwright.inspection import Inspection
from carwright.measure.frame import height_u
from carwright.publish.changes import Change, changes_of, worth_telling
from carwright.publish.charts.along import Along, along_scene
from carwright.publish.charts.shares import shares_scene
from carwright.publish.drawing.deformed import before_after, deformation_of, deformed_scene
from carwright.publish.report.content import (
    Abreast,
    Block,
    Cell,
    Column,
    Figure,
    Item,
    Items,
    Paragraph,
    Piece,
    Section,
    Table,
)
from carwright.publish.report.tables import change_table
from carwright.publish.scene import Scene
from carwright.publish.why import (
    bench_lines,
    coupler_heading,
    execution_lines,
    plan_heading,
    plan_table,
    predicted_words,
    share_lines,
    signed,
)
from carwright.publish.wording import upper_first
from carwright.units import System, say

_SHOWN_PLANS, _TOLD_PLANS = 5, 3
_BARS = (
    "What each cause puts into the height; the bars of one coupler add up to its whole error. Solid: the readings "
    "tell. Hatched: mostly assumed from what such parts usually do, with the reading that would tell. "
    "Lines reach over 95 %."
)
_CAREFUL = "Cautions remind; local codes and licensed practice go before them."


def causes(inspection: Inspection, exaggerate: float | None) -> Iterator[Section]:
    """Why the couplers stand where they stand."""
    explanation, system = inspection.explanation, inspection.history.system
    reason = explanation.reason if "needs" in explanation.reason else ""
    if not explanation.couplers and not reason:
        return
    blocks: list[Block] = []
    if reason:
        blocks.append(Paragraph(f"Causes of the coupler heights: {reason}."))
    blocks += [Paragraph(line, "strong") for line in explanation.disagreements]
    pieces = []
    for coupler in explanation.couplers:
        lines = share_lines(coupler, system)
        told = [f"{line.name}: {line.basis}{'; ' + line.note if line.note else ''}" for line in lines if line.hatched]
        under: list[Block] = [Figure((shares_scene(coupler, lines, system),), "", wide=False)]
        if told:
            under.append(Items(tuple(Item(text, mark="▨") for text in told), "told"))
        pieces.append(Piece(upper_first(coupler_heading(coupler, system)), tuple(under)))
    if pieces:
        blocks += [Abreast(tuple(pieces)), Paragraph(_BARS, "key")]
    blocks += _deformed(inspection, exaggerate)
    executions = execution_lines(explanation, system)
    if executions:
        blocks.append(Piece("How the works came out", (Items(tuple(Item(line) for line in executions)),)))
    if explanation.notes:
        blocks.append(Paragraph(f"Taken for the causes: {'; '.join(explanation.notes)}.", "note"))
    yield Section("Why", tuple(blocks))


def _deformed(inspection: Inspection, exaggerate: float | None) -> list[Block]:
    offered = inspection.plans.offered
    found = deformation_of(inspection, offered[0] if offered else None, exaggerate)
    if found is None:
        return []
    history = inspection.history
    after = " and as plan 1 would leave them (dashed, circles)" if found.after is not None else ""
    caption = (
        "Frame and couplers of the car as it stands, against the frame as designed and the right coupler height (dash "
        f"and dot): now (solid, squares){after}; triangles are the truck pivots."
    )
    larger = (
        f"The car with its deviations drawn {found.bent_factor:g} times larger; dash and dot, the right coupler height."
    )
    return [
        Figure((deformed_scene(found, history.system, history.title),), caption),
        Figure(tuple(before_after(inspection, found)), larger),
    ]


def plans(inspection: Inspection, found: Plans | None = None, *, told: int = _TOLD_PLANS) -> Iterator[Section]:
    """What to do; ``found`` instead of the inspection's own plans, where options were closed, and how many are told."""
    plans_ = found or inspection.plans
    offered, system = plans_.offered, inspection.history.system
    if not offered:
        reason = plans_.reason
        if reason and not reason.startswith("nothing"):
            yield Section("What to do", (Paragraph(f"{upper_first(reason)}."),))
        return
    blocks: list[Block] = [_plan_table(offered, system)]
    for number, plan in enumerate(offered[:told], 1):
        steps = tuple(
            Item(
                step.words,
                tuple(
                    part
                    for part in (
                        f"Needs: {step.needs}." if step.needs else "",
                        f"Also: {step.side}." if step.side else "",
                    )
                    if part
                ),
            )
            for step in plan.steps
        )
        under: list[Block] = [Items(steps, "numbered")]
        cautions = tuple(dict.fromkeys(line for step in plan.steps for line in step.cautions))
        if cautions:
            under.append(Items(tuple(Item(line) for line in cautions), "cautions"))
        predicted = "; ".join(predicted_words(each, system) for each in plan.predicted)
        more = [f"Changes: {line}." for line in plan.changes] + [f"Leaves: {line}." for line in plan.leaves]
        under.append(Paragraph(" ".join([f"Then {predicted}.", *more]), "note"))
        blocks.append(Piece(plan_heading(number, plan), tuple(under), "plan"))
    if len(offered) > told:
        blocks.append(Paragraph(f"The steps of {len(offered) - told} more: carwright plan SHEET.", "note"))
    blocks.append(Paragraph(_CAREFUL, "key"))
    yield Section("What to do", tuple(blocks))


def _plan_table(offered: Sequence[Plan], system: System) -> Table:
    head, *rows = plan_table(offered[:_SHOWN_PLANS], system)
    columns = tuple(Column(cell, label=cell) for cell in head)
    cells = tuple(tuple(Cell(cell) for cell in row) for row in rows)
    caption = "Plans side by side: none is better than another in time, parts, undoing and risk together"
    return Table(caption, columns, cells, "abreast")


def work_done(inspection: Inspection) -> Iterator[Section]:
    """Works in order, and what was measured before and after them."""
    history = inspection.history
    if not history.works:
        return
    items = []
    for work in history.works:
        title = history.stages[work.stage].title.removeprefix("after ")
        when = f", {work.when}" if work.when else ""
        items.append(Item(f"{title}{when}{': ' + work.note if work.note else ''}"))
    blocks: list[Block] = [Items(tuple(items), "numbered")]
    charged = [
        each for each in worth_telling(changes_of(inspection.received, inspection.last)) if _charged(each, inspection)
    ]
    told = [each for each in charged if each.finding.rule_set != "dated"]
    if told:
        last = history.stages[-1].title
        blocks += [
            change_table("Before and after", told, history.system, ("As received", f"{upper_first(last)}")),
            Paragraph(
                "A change is called one where it exceeds its own uncertainty with probability 0.95. What a work "
                "touched and nobody has measured since is not measured.",
                "key",
            ),
        ]
    yield Section("Work done", tuple(blocks))


def _charged(change: Change, inspection: Inspection) -> bool:
    return change.finding.force in inspection.rubric.charges


def measured_beside(inspection: Inspection) -> Iterator[Section]:
    """Frame: measured, and judged by no clause."""
    system = inspection.history.system
    lines = [line for line in bench_lines(inspection.bench, system) if not _of_running(line)]
    blocks: list[Block] = []
    if lines:
        blocks.append(Items(tuple(Item(upper_first(line)) for line in lines)))
    charts = list(_profiles(inspection))
    if charts:
        blocks.append(
            Figure(
                tuple(charts),
                "Heights along the car less their design heights, each with its 95 % interval among the others.",
                wide=False,
            )
        )
    if blocks:
        yield Section("Measured beside", tuple(blocks))


def _profiles(inspection: Inspection) -> Iterator[Scene]:
    history = inspection.history
    for profile in history.profiles:
        if profile.stage > inspection.stage or len(profile.stations) < 2:  # noqa: PLR2004 - a line has two ends
            continue
        middle = [(low + high) / 2 for low, high in zip(profile.lower, profile.upper, strict=True)]
        base = profile.nominal if profile.nominal is not None else (middle[0],) * len(middle)
        half = [1.96 * height_u(profile, index) for index in range(len(profile.stations))]
        ordered = sorted(zip(profile.stations, middle, base, half, strict=True))
        words = "gap" if profile.gaps else "height"
        against = "less design" if profile.nominal is not None else "less the first"
        name = f"{upper_first(profile.of)}, {profile.side}: {words}{'' if profile.gaps else ' ' + against}"
        yield along_scene(
            Along(
                name,
                tuple(x for x, *_ in ordered),
                tuple(z if profile.gaps else z - design for _, z, design, _ in ordered),
                x_words=lambda x: f"{signed(x, history.system)} from mid-car",
                value_words=lambda value: signed(value, history.system),
                half_width=tuple(reach for *_, reach in ordered),
                ends=("B end", "A end"),
                joined=False,
            )
        )


_RUNNING = ("rolling", "starts to roll", "rolled at", "centre of gravity")


def _of_running(line: str) -> bool:
    return line.startswith(_RUNNING)


def running(inspection: Inspection) -> Iterator[Section]:
    """How it rolls and balances, and what was noted of its running."""
    history, system = inspection.history, inspection.history.system
    lines = [upper_first(line) for line in bench_lines(inspection.bench, system) if _of_running(line)]
    bench = inspection.bench
    notes = list(bench.rolling.notes) if bench.rolling is not None else []
    runs = [each for each in history.log if each.kind in {"trouble", "exposure"}]
    for each in runs:
        said = f": {each.note}" if each.note else ""
        where = f" at {each.at}" if each.at else ""
        lines.append(
            f"{upper_first(each.kind)} noted{', ' + each.when if each.when else ''}: {each.what or 'runs'}{where}{said}"
        )
    if not lines:
        return
    clearance = history.geometry.get("floor_clearance")
    if clearance is not None:
        lines.append(f"Floor clearance as the sheet gives it: {say(clearance, 'length', system)}")
    blocks: list[Block] = [Items(tuple(Item(line) for line in lines))]
    if notes:
        blocks.append(Paragraph(" ".join(notes), "note"))
    kept = " What was noted of its running is kept, and not judged." if runs else ""
    blocks.append(Paragraph(f"Curves, hills and trains are not judged by this report.{kept}", "key"))
    yield Section("Running", tuple(blocks))

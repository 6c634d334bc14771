"""What the car portrays and when, as sections of the report: prototype, era, evidence, dimensions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from carwright.inspection import Inspection
from carwright.prototype.fidelity import Fidelity
from carwright.prototype.portrayal import Portrayal
from carwright.publish.charts.timeline import evidence_scene, timeline_scene
from carwright.publish.era import (
    JUDGED,
    UNFINISHED,
    anachronism_words,
    bound_lines,
    change_words,
    conflict_lines,
    dimension_cells,
    life_lines,
    other_ways,
    piece_heading,
    posterior_words,
    record_lines,
    represents_words,
    scale_words,
    side_by_side,
    states_of,
    telling_lines,
    wanted_words,
    window_words,
    work_heading,
)
from carwright.publish.lettering import Lettering
from carwright.publish.report.content import Block, Cell, Column, Figure, Item, Items, Paragraph, Piece, Section, Table
from carwright.publish.wording import upper_first
from carwright.units import System

_CLASHES = 4
"""Clashes told in full."""
_COLUMNS = 4
"""Pieces of evidence that stand beside the model in one table."""
_TOOLS = "Knives, drills and solvents: the usual care; local codes and licensed practice go first."


def portrait(inspection: Inspection, letters: Lettering) -> Iterator[Section]:
    """Everything of the prototype that the sheet speaks of."""
    history, portrayal = inspection.history, inspection.portrayal
    if portrayal is not None:
        yield from _prototype(portrayal)
        yield from _era(inspection, portrayal, letters)
        yield from _evidence(portrayal, inspection.stage, letters)
    if inspection.fidelity is not None:
        yield _dimensions(inspection.fidelity, history.system)


def _listed(lines: Sequence[str]) -> Items:
    return Items(tuple(Item(upper_first(line)) for line in lines))


def _prototype(portrayal: Portrayal) -> Iterator[Section]:
    life, lines = portrayal.life, list(record_lines(portrayal.record))
    if not lines and life is None:
        return
    blocks: list[Block] = [_listed(lines)] if lines else []
    if life is not None:
        told = list(life_lines(life))
        if told:
            blocks.append(Piece("Life line", (Items(tuple(Item(line) for line in told), "numbered"),)))
        represents = represents_words(life)
        if represents:
            blocks.append(Paragraph(f"{upper_first(represents)}."))
    yield Section("Prototype", tuple(blocks))


def _era(inspection: Inspection, portrayal: Portrayal, letters: Lettering) -> Iterator[Section]:
    stage = inspection.stage
    window, aim = portrayal.window(stage), portrayal.aim(stage)
    if window is None:
        return
    said = window_words(window)
    wanted = f" {wanted_words(portrayal.wanted, aim)}." if portrayal.wanted is not None else ""
    blocks: list[Block] = [
        Paragraph(f"The model can be right {'in ' if said.startswith('no month') else ''}{said}.{wanted}", "lead")
    ]
    epochs = [f"{each.name} ({each.title})" for each in portrayal.epochs(stage)]
    if epochs:
        blocks.append(Paragraph(f"Epochs: {', '.join(epochs)}."))
    scene = timeline_scene(window, aim, portrayal.dated, letters)
    if scene is not None:
        band = " The band through all rows is the wanted time." if aim is not None else ""
        memory = " A date from memory sets no sure limit." if window.from_memory else ""
        caption = (
            "Solid: no source objects. Outlined: only sources that are not sure object. A side without an end line is "
            "open."
        )
        blocks.append(Figure((scene,), f"{caption}{band}{memory}", wide=False))
    wrong = portrayal.anachronisms(stage)
    if wrong:
        items = tuple(Item(f"{each.judged}: {anachronism_words(each)}", mark=JUDGED[each.judged]) for each in wrong)
        blocks.append(
            Piece(f"What is not right for {aim.words() if aim is not None else ''}", (Items(items, "marked"),))
        )
    clashes = portrayal.clashes(stage)
    if clashes is not None and clashes.clashes:
        blocks.append(Piece("What clashes with itself", (_listed(list(conflict_lines(clashes, _CLASHES))),)))
    if portrayal.work is not None:
        blocks.append(_work(inspection, portrayal))
    bounds = bound_lines(window, portrayal.dated)
    if bounds:
        blocks.append(Piece("What bounds it", (_listed(bounds),)))
    blocks += [Paragraph(line, "note") for line in window.notes]
    yield Section("Era", tuple(blocks))


def _work(inspection: Inspection, portrayal: Portrayal) -> Piece:
    work, ratio, system = portrayal.work, inspection.history.scale.ratio, inspection.history.system
    if work is None:
        msg = "there is no work list"
        raise ValueError(msg)
    blocks: list[Block] = []
    lines = [change_words(change, portrayal.dated, ratio, system) for change in work.changes]
    if lines:
        blocks.append(Items(tuple(Item(line) for line in lines), "numbered"))
    blocks += [Paragraph(f"{upper_first(line)}.") for line in other_ways(work, portrayal.dated, ratio, system)]
    if work.incurable:
        blocks.append(Paragraph(f"No work cures: {'; '.join(work.incurable)}."))
    if work.unfinished:
        blocks.append(Paragraph(f"{upper_first(UNFINISHED)}.", "note"))
    if work.ways_out:
        blocks.append(Paragraph(f"Or {'; or '.join(work.ways_out)}.", "note"))
    if lines:
        blocks.append(Paragraph(_TOOLS, "key"))
    return Piece(work_heading(work), tuple(blocks))


def _evidence(portrayal: Portrayal, stage: int, letters: Lettering) -> Iterator[Section]:
    pieces = portrayal.datings
    if not pieces:
        return
    blocks: list[Block] = []
    scene = evidence_scene(pieces, letters)
    if scene is not None:
        caption = (
            "When each piece of evidence is from: the bar holds it with probability 0.80, the line with 0.95, the "
            "stroke halves it."
        )
        blocks.append(Figure((scene,), caption, wide=False))
    for each in pieces:
        under: list[Block] = [
            Paragraph(f"{upper_first(posterior_words(each.posterior))}."),
            Paragraph(f"Not ruled out: {window_words(each.window)}.", "note"),
        ]
        tells = telling_lines(each)
        if tells:
            under.append(Items(tuple(Item(line) for line in tells), "told"))
        clashes = [*each.posterior.warnings, *conflict_lines(each.conflicts, _CLASHES)]
        if clashes:
            under.append(Items(tuple(Item(line) for line in clashes)))
        blocks.append(Piece(upper_first(piece_heading(each)), tuple(under)))
    model = portrayal.models[stage]
    columns = [] if model is None else [("model", states_of(model, portrayal.dated))]
    columns += [
        (each.piece.name, states_of(each.piece.subject, portrayal.dated, each.piece)) for each in pieces[:_COLUMNS]
    ]
    head, *rows = side_by_side(portrayal.dated, columns)
    cells = tuple(tuple(Cell(cell) for cell in row) for row in rows)
    blocks.append(Table("Side by side", tuple(Column(cell, label=cell) for cell in head), cells, "abreast"))
    if len(pieces) > _COLUMNS:
        blocks.append(Paragraph(f"{len(pieces) - _COLUMNS} more pieces: carwright date SHEET.", "note"))
    told = (
        "Bits: how far the date moved by it. What is not visible tells nothing; what is seen to be missing tells a "
        "little."
    )
    blocks.append(Paragraph(told, "key"))
    yield Section("Evidence", tuple(blocks))


def _dimensions(fidelity: Fidelity, system: System) -> Section:
    blocks: list[Block] = []
    rows = [tuple(Cell(cell) for cell in dimension_cells(each, fidelity, system)) for each in fidelity.compared]
    for each in fidelity.over_scale:
        name, *rest = dimension_cells(each, fidelity, system)
        why = f"Over scale on purpose: {each.full.over_scale}; not a fault."
        rows.append((Cell(name, (why,)), *(Cell(cell) for cell in rest)))
    if rows:
        titles = ("Full size", "To scale", "Model", "Off by", "At full size", "Part")
        columns = (
            Column("Dimension", share=1.6),
            *(Column(title, numbers=True, label=title.lower()) for title in titles),
        )
        allows = f"{fidelity.tolerance.scale_in:g} scale in or {fidelity.tolerance.percent:g} %"
        blocks += [
            Table(f"Class {fidelity.tolerance.id}: {allows}, whichever is more", columns, tuple(rows)),
            Paragraph(f"{upper_first(scale_words(fidelity))}."),
        ]
    if fidelity.unmeasured:
        names = ", ".join(full.name for full in fidelity.unmeasured)
        blocks.append(Paragraph(f"Not measured on the model: {names}.", mark="○"))
    whole = (
        "Intervals are ± 2 u. The error of the scale as a whole is a regression through the origin; what it leaves is "
        "each dimension's own."
    )
    blocks.append(Paragraph(whole, "key"))
    return Section("Dimensions against the full-size car", tuple(blocks))

"""What a car portrays and when, on a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import click

from carwright.prototype.fidelity import Fidelity
from carwright.prototype.portrayal import DatedPiece, Portrayal
from carwright.prototype.roster import Judgement, sides_of
from carwright.publish.era import (
    JUDGED,
    UNFINISHED,
    anachronism_words,
    bound_lines,
    conflict_lines,
    dimension_cells,
    doubt_words,
    life_lines,
    other_ways,
    piece_heading,
    posterior_words,
    record_lines,
    represents_words,
    scale_words,
    telling_lines,
    wanted_words,
    window_words,
    work_heading,
    work_lines,
)
from carwright.units import System


def show_portrayal(portrayal: Portrayal, stage: int, title: str, ratio: float | None, system: System) -> None:
    """Print the model's window and work, the evidence, the record and the life line."""
    click.echo(title)
    show_model(portrayal, stage, ratio, system)
    for each in portrayal.datings:
        _piece(each)
    _list("Prototype", record_lines(portrayal.record))
    life = portrayal.life
    if life is not None:
        _list("Life line", life_lines(life))
        words = represents_words(life)
        if words:
            click.echo(f"  {words}")


def show_model(portrayal: Portrayal, stage: int, ratio: float | None, system: System) -> None:
    """Print what the model shows: when it can be right, what is wrong, what to change."""
    clashes = portrayal.clashes(stage)
    _window(portrayal, stage)
    if clashes is not None and clashes.clashes:
        _list("It clashes with itself", conflict_lines(clashes))
    if portrayal.wanted is not None and portrayal.window(stage) is not None:
        found = portrayal.anachronisms(stage)
        head = wanted_words(portrayal.wanted, portrayal.aim(stage))
        if not found:
            click.echo(f"\n{head}: everything shown is right")
        else:
            _list(head, (f"{JUDGED[each.judged]} {each.judged}: {anachronism_words(each)}" for each in found))
    _work(portrayal, ratio, system)


def show_model_briefly(portrayal: Portrayal, stage: int, ratio: float | None, system: System) -> None:
    """Print the window, what is likeliest wrong and the work list; findings stand above, reasons in ``date``."""
    _window(portrayal, stage)
    clashes = portrayal.clashes(stage)
    if clashes is not None and clashes.clashes:
        likeliest = f": likeliest wrong {doubt_words(clashes.doubts[0])}" if clashes.doubts else ""
        count = len(clashes.clashes)
        what = "1 clash" if count == 1 else f"{count} clashes"
        click.echo(f"  {what} among what it shows{likeliest} (carwright date says why)")
    _work(portrayal, ratio, system)


def _window(portrayal: Portrayal, stage: int) -> None:
    window = portrayal.window(stage)
    if window is None:
        return
    click.echo(f"\nThe model can be right {'in ' if not window.hard else ''}{window_words(window)}")
    for line in (*bound_lines(window, portrayal.dated), *window.notes):
        click.echo(f"  {line}")
    epochs = portrayal.epochs(stage)
    if epochs:
        click.echo(f"  epochs: {', '.join(f'{each.name} ({each.title})' for each in epochs)}")


def _work(portrayal: Portrayal, ratio: float | None, system: System) -> None:
    work = portrayal.work
    if work is not None and (work.changes or work.settles != "right"):
        _list(work_heading(work), work_lines(work, portrayal.dated, ratio, system), numbered=True)
        for line in other_ways(work, portrayal.dated, ratio, system):
            click.echo(f"  {line}")
        for label, lines in (("no work cures", work.incurable), ("or", work.ways_out)):
            for line in lines:
                click.echo(f"  {label}: {line}")
        if work.unfinished:
            click.echo(f"  note: {UNFINISHED}")


def show_fidelity(fidelity: Fidelity, system: System) -> None:
    """Print dimensions against the full-size car."""
    rows = [dimension_cells(each, fidelity, system) for each in fidelity.compared]
    rows += [(f"{cells[0]} (over scale on purpose)", *cells[1:])
             for cells in (dimension_cells(each, fidelity, system) for each in fidelity.over_scale)]  # fmt: skip
    if rows:
        click.echo(f"\nDimensions against the full-size car, class {fidelity.tolerance.id}")
        widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
        for row in rows:
            click.echo("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
        click.echo(f"  {scale_words(fidelity)}")
    if fidelity.unmeasured:
        click.echo(f"  not measured on the model: {', '.join(full.name for full in fidelity.unmeasured)}")


def _piece(each: DatedPiece) -> None:
    click.echo(f"\n{piece_heading(each)}")
    click.echo(f"  {posterior_words(each.posterior)}")
    click.echo(f"  not ruled out: {window_words(each.window)}")
    lines = telling_lines(each)
    for line in lines:
        click.echo(f"  tells {line}")
    for line in (*each.posterior.warnings, *conflict_lines(each.conflicts)):
        click.echo(f"  {line}")


def _list(head: str, lines: Iterable[str], *, numbered: bool = False) -> None:
    listed = list(lines)
    if listed or numbered:
        click.echo(f"\n{head}")
    for number, line in enumerate(listed, 1):
        click.echo(f"  {number}. {line}" if numbered else f"  {line}")


def show_roster(judged: Sequence[Judgement]) -> None:
    """Print a line for each car of a roster."""
    head = ("owner", "number", "not before", "right from", "right until", "not after", "as wanted")
    rows: list[tuple[str, ...]] = [head]
    for each in judged:
        window, cells = each.window, each.line.cells
        shown = [words or "open" for words in sides_of(window)]
        mark = f"{JUDGED[each.as_wanted]} {each.as_wanted}" if each.as_wanted else ""
        rows.append((cells.get("owner", ""), cells.get("number", ""), *shown, mark))
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    for row in rows:
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())

"""``carwright tables``: any fact with its source."""

from __future__ import annotations

import click

from carwright.cli.dated_tables import ALL, meant, names, show
from carwright.errors import UnknownNameError
from carwright.inspection import words_of
from carwright.tables import Clause, Limit, Table, Tables, load_rules, shipped
from carwright.tables.dated import dated_of
from carwright.tables.model import Cell, Row
from carwright.units import System, say
from carwright.words import nearest


@click.command("tables")
@click.argument("name", metavar="[ID]", default="")
@click.option("--scale", default="HO", show_default=True, help="Scale a rule set is shown for.")
def command(name: str, scale: str) -> None:
    """Show every table, or what is called ID: table, row, clause, rule set, dated rule, feature or source."""
    tables = shipped()
    if not name:
        _list(tables)
    elif name in tables.ids():
        _table(tables.table(name))
    elif name in tables.rule_sets():
        _rule_set(name, scale, tables)
    elif name in tables.bibliography:
        _source(name, tables)
    elif meant(name, tables):
        show(meant(name, tables), tables)
    else:
        _row(name, tables)


def _list(tables: Tables) -> None:
    click.echo("Tables")
    for table in tables.all():
        click.echo(
            f"  {table.id:<26} {table.title}; {table.source.edition}; {table.source.status}; {len(table.rows)} rows"
        )
    dated = dated_of(tables)
    click.echo(
        f"Dated rules\n  {ALL}: {len(dated.rules)} rules of {len(dated.features)} features for {dated.region}; "
        "a feature or a rule by its own name"
    )
    click.echo("Rule sets\n  " + ", ".join(tables.rule_sets()))
    click.echo("Sources\n  " + ", ".join(tables.bibliography))


def _table(table: Table) -> None:
    click.echo(f"{table.id}: {table.title}")
    click.echo(f"  {table.source.sentence()}")
    if table.force:
        click.echo(f"  force: {table.force}")
    if table.note:
        click.echo(f"  {table.note}")
    for column in table.columns.values():
        click.echo(f"  {column.name} [{column.unit}]: {column.meaning}")
    for entry in table.formulas:
        click.echo(f"  {entry.characteristic} {entry.limit} = {entry.formula.expression} [{entry.formula.unit}]")
    for row in table.rows.values():
        cells = ", ".join(f"{name} {_cell(cell)}" for name, cell in row.cells.items())
        words = ", ".join(f"{name}: {text}" for name, text in row.words.items())
        old = f"; superseded by {row.superseded_by}" if row.superseded_by else ""
        marked = f" [{row.source.status}, {row.source.confidence}]" if row.source.status != table.source.status else ""
        click.echo(f"  {row.key}: {'; '.join(filter(None, (cells, words)))}{marked}{old}")
    for rival in table.rivals:
        click.echo(
            f"  rival figure: {rival.row}, {rival.column} {rival.value:g}: {rival.source.sentence()}; {rival.note}"
        )


def _cell(cell: Cell) -> str:
    return f"{cell.value:g}" if cell.value is not None else f"empty ({cell.reason})"


def _row(name: str, tables: Tables) -> None:
    """``nmra/s-4.2/HO``, or a clause of it."""
    parts = name.split("/")
    table_id = "/".join(parts[:2])
    if name.startswith("carwright/looks"):
        _table(tables.table("words/looks"))
        return
    if table_id not in tables.ids():
        if parts[0] not in tables.rule_sets():
            known = [*tables.ids(), *tables.rule_sets(), *tables.bibliography, *names(tables)]
            raise UnknownNameError("table, rule set or source", name, nearest(name, known))
        _rule_set(parts[0], parts[2] if len(parts) > 2 else "HO", tables, only=name)  # noqa: PLR2004 - set/sheet/scale
        return
    _cells(parts, tables)


def _cells(parts: list[str], tables: Tables) -> None:
    """A row of a table, or the cells of one clause, each with its source."""
    table_id = "/".join(parts[:2])
    table = tables.table(table_id)
    row: Row | None = table.rows.get(parts[2]) if len(parts) > 2 else None  # noqa: PLR2004 - body/sheet/row
    if row is None:
        raise UnknownNameError(f"row of {table_id}", "/".join(parts[2:]), nearest("/".join(parts[2:]), table.rows))
    what = "/".join(parts[3:])
    about = {column.characteristic for column in table.columns.values()} | {
        each.characteristic for each in table.formulas
    }
    if what and what not in about:
        raise UnknownNameError(f"clause of {table_id}/{row.key}", what, nearest(what, about - {""}))
    click.echo(f"{table.id}/{row.key}: {table.title}")
    for column in table.columns.values():
        cell = row.cells[column.name]
        if not what or column.characteristic == what:
            click.echo(
                f"  {column.name} = {_cell(cell)} {cell.unit if cell.value is not None else ''}: {column.meaning}"
            )
            click.echo(f"    {cell.source.sentence()}")
    for entry in table.formulas:
        click.echo(f"  {entry.characteristic} {entry.limit} = {entry.formula.expression} [{entry.formula.unit}]")
    for text in (row.note, table.note):
        if text:
            click.echo(f"  {text}")


def _rule_set(name: str, scale: str, tables: Tables, only: str = "") -> None:
    words = words_of(tables)
    if scale not in words.scales:
        raise UnknownNameError("scale", scale, nearest(scale, words.scales))
    rules = load_rules([name], scale=words.scales[scale], tables=tables, words=words)
    system: System = "metric" if name == "nem" else "us"
    clauses = [clause for clause in rules.clauses if clause.id.startswith(only)]
    if not clauses and only:
        known = [*tables.ids(), *tables.rule_sets(), *tables.bibliography, *(clause.id for clause in rules.clauses)]
        raise UnknownNameError("table, rule set or source", only, nearest(only, known))
    click.echo(f"{rules.title} for {scale}: {len(clauses)} clauses")
    for clause in clauses:
        _clause(clause, system)
    for clause in rules.older if not only else ():
        click.echo(f"  superseded by {clause.superseded_by}:")
        _clause(clause, system)


def _clause(clause: Clause, system: System) -> None:
    click.echo(f"  {clause.id}: {clause.force}")
    for side in ("nominal", "lower", "upper", "plus", "minus"):
        limit: Limit | None = getattr(clause, side)
        if limit is not None and clause.kind is not None:
            text = (
                say(limit.value, clause.kind, system)
                if limit.value is not None
                else f"{limit.formula.expression} [{limit.formula.unit}]"
                if limit.formula
                else ""
            )
            click.echo(f"    {side} {text}: {limit.source.sentence()}")
    if clause.note:
        click.echo(f"    {clause.note}")


def _source(key: str, tables: Tables) -> None:
    row = tables.bibliography[key]
    click.echo(f"{key}: {row['title']}; {row['body']}; {row['kind']}")
    for extra in ("url", "note"):
        if row.get(extra):
            click.echo(f"  {row[extra]}")
    for table in tables.all():
        if key in {table.source.key, *(each.source.key for each in table.rows.values())}:
            click.echo(f"  cited by {table.id}")

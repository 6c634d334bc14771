"""``carwright shop show`` and ``carwright shop undo``: one car."""

from __future__ import annotations

import click

from carwright.cli.options import ascii_only
from carwright.cli.shop.options import count, one_line, opened, place, who
from carwright.errors import UnknownNameError
from carwright.history.telling import told
from carwright.shop import Shop
from carwright.shop.clock import moment
from carwright.shop.judging import due_rules, kept_result
from carwright.shop.judging import opened as laid
from carwright.shop.shared import collections
from carwright.shop.state import State


@click.command("show")
@click.argument("car")
@click.option("--history", "as_history", is_flag=True, help="Every entry, with its id.")
@click.option("--stage", default="last", show_default=True, metavar="received|last|N", help="Whose findings to show.")
@click.option("--all", "everything", is_flag=True, help="Show what conforms and what was not measured, line by line.")
@click.option("--json", "as_json", is_flag=True, help="One JSON document on stdout.")
@place
def show(car: str, *, as_history: bool, stage: str, everything: bool, as_json: bool, place: str) -> None:
    """Show one CAR, named by its id, the beginning of it, its title, or words only it has."""
    with opened(place) as shop:
        found = shop.find(car)
        if as_history:
            _history(shop.state(found))
            return
        if as_json:
            click.echo(_json(shop, found, stage))
            return
        _inspection(shop, found, stage, everything=everything)


def _json(shop: Shop, car: str, stage: str) -> str:
    from carwright.publish.document import as_json_text  # noqa: PLC0415 - loaded only when asked for

    plain = ascii_only()
    kind = "inspection in ASCII" if plain else "inspection"
    return kept_result(shop, car, kind, lambda each: as_json_text(each, ascii_only=plain), stage=stage)


def _head(shop: Shop, car: str) -> None:
    state = shop.known(car)
    inside = [name for name, cars in collections(shop).items() if car in cars]
    by = f" by {state.who}" if state.who else ""
    click.echo(f"{car}: {count(len(state.entries), 'entry')}, last written {moment(state.clock)}{by}")
    if inside:
        click.echo(f"in {', '.join(inside)}")
    for fork in state.forks:
        click.echo(f"disputed: {fork.key}; one version is taken, the others are kept")
    for identity, ids in state.twice:
        click.echo(f"disputed: {identity} is corrected by {', '.join(ids)}; all of them hold")


def _inspection(shop: Shop, car: str, stage: str, *, everything: bool) -> None:
    from carwright import inspect  # noqa: PLC0415 - loaded only where judged
    from carwright.cli.show import show_inspection  # noqa: PLC0415

    with laid(shop.bench(car), shop.tables) as sheet:
        inspection = inspect(sheet, shop.tables, stage=stage)
        due = inspection.due(due_rules(shop))
        _head(shop, car)
        show_inspection(inspection, everything=everything)
    for reason in due.reasons:
        since = f" from {reason.start.isoformat()}" if reason.start else ""
        click.echo(f"Look again{since}: {reason.sentence}")
    for line in due.untold:
        click.echo(f"Cannot be told: {line}")


def _history(state: State) -> None:
    bodies = {each.id: each.content() for each in state.entries}
    later: dict[str, list[str]] = {}
    for identity, body in bodies.items():
        if "supersedes" in body:
            later.setdefault(str(body["supersedes"]), []).append(identity[:8])
    for identity, body in bodies.items():
        by = ", ".join(filter(None, [str(body.get("when", "")), str(body.get("who", ""))]))
        gone = f"  [superseded by {', '.join(later[identity])}]" if identity in later else ""
        click.echo(f"{identity[:8]}  {told(body)}{f'  ({by})' if by else ''}{gone}")


@click.command("undo")
@click.argument("car")
@click.argument("entry", default="")
@place
@who
def undo(car: str, entry: str, *, place: str, who: str) -> None:
    """Undo an ENTRY of a CAR, the last one written where none is named, by a new entry in its place.

    Nothing is taken out of the history; undoing an undoing brings back what was undone.
    """
    with opened(place) as shop:
        found = shop.find(car)
        state = shop.state(found)
        made = shop.undo(found, _entry(state, entry), who=who)
        now = shop.state(found).entry(made)
    body = now.content() if now is not None else {}
    click.echo(
        f"{one_line(state.title)} ({found[:8]}): {str(body.get('supersedes', ''))[:8]} is superseded by {made[:8]}"
    )


def _entry(state: State, beginning: str) -> str:
    """The entry whose id begins so; as it stands where none does, which the shop then refuses."""
    found = [each.id for each in state.entries if beginning and each.id.startswith(beginning.casefold())]
    if len(found) > 1:
        raise UnknownNameError("one entry", beginning, f": {', '.join(found[:3])} begin so")
    return found[0] if found else beginning

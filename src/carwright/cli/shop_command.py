"""``carwright shop``: the history of every car, kept."""

from __future__ import annotations

import click

from carwright.cli.lazy import LazyGroup, Verb

VERBS = {
    "add": Verb("carwright.cli.shop.add", "command", "Add sheets, with the files they name."),
    "list": Verb("carwright.cli.shop.listing", "command", "List cars with status and points; search; what is due."),
    "show": Verb("carwright.cli.shop.showing", "show", "Show one car, or its history."),
    "undo": Verb("carwright.cli.shop.showing", "undo", "Undo an entry by a new one."),
    "sheet": Verb("carwright.cli.shop.carrying", "sheet", "Write the sheet of a car, and its files."),
    "inspect": Verb("carwright.cli.shop.inspecting", "inspect_all", "Inspect every car whose result is not known."),
    "tags": Verb("carwright.cli.shop.inspecting", "tags", "Print a tag for every car that is held, restricted or due."),
    "collect": Verb("carwright.cli.shop.sharing", "collect", "Put cars into collections, or list them."),
    "keep": Verb("carwright.cli.shop.sharing", "keep", "Keep rules, rubric, stock, instruments, track for all cars."),
    "kept": Verb("carwright.cli.shop.sharing", "kept", "List or print what is kept for all cars."),
    "export": Verb("carwright.cli.shop.carrying", "export", "Write the shop, or some cars, into one file."),
    "import": Verb("carwright.cli.shop.carrying", "import_", "Take in an export or another shop."),
    "backup": Verb("carwright.cli.shop.carrying", "backup", "Copy the shop while it is in use."),
    "check": Verb("carwright.cli.shop.caring", "check_", "Look through all of it; rescue what is damaged."),
    "upgrade": Verb("carwright.cli.shop.caring", "upgrade", "Bring an earlier shop up to date."),
}


@click.group("shop", cls=LazyGroup, verbs=VERBS)
def command() -> None:
    """Keep the history of every car, so that nothing confirmed is ever lost.

    The shop is one file with a photo folder beside it, or a PostgreSQL database a club shares. What was recorded is
    never changed: a correction is a new entry. Start with `carwright shop add SHEET`.
    """

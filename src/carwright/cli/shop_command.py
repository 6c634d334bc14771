"""``carwright shop``: the history of every car, kept."""

from __future__ import annotations

import importlib

import click

VERBS = {
    "add": ("add", "command", "Add sheets, with the files they name."),
    "list": ("listing", "command", "List cars with status and points; search; what is due."),
    "show": ("showing", "show", "Show one car, or its history."),
    "undo": ("showing", "undo", "Undo an entry by a new one."),
    "sheet": ("carrying", "sheet", "Write the sheet of a car, and its files."),
    "inspect": ("inspecting", "inspect_all", "Inspect every car whose result is not known."),
    "tags": ("inspecting", "tags", "Print a tag for every car that is held, restricted or due."),
    "collect": ("sharing", "collect", "Put cars into collections, or list them."),
    "keep": ("sharing", "keep", "Keep rules, rubric, stock, instruments, track for all cars."),
    "kept": ("sharing", "kept", "List or print what is kept for all cars."),
    "export": ("carrying", "export", "Write the shop, or some cars, into one file."),
    "import": ("carrying", "import_", "Take in an export or another shop."),
    "backup": ("carrying", "backup", "Copy the shop while it is in use."),
    "check": ("caring", "check_", "Look through all of it; rescue what is damaged."),
    "upgrade": ("caring", "upgrade", "Bring an earlier shop up to date."),
}
"""Module and command of each verb, and what it does."""


class _Verbs(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in VERBS:
            return None
        module, name, _ = VERBS[cmd_name]
        command = getattr(importlib.import_module(f"carwright.cli.shop.{module}"), name)
        if not isinstance(command, click.Command):
            raise TypeError(cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_, _, says) in VERBS.items()])


@click.group("shop", cls=_Verbs)
def command() -> None:
    """Keep the history of every car, so that nothing confirmed is ever lost.

    The shop is one file with a photo folder beside it, or a PostgreSQL database a club shares. What was recorded is
    never changed: a correction is a new entry. Start with `carwright shop add SHEET`.
    """

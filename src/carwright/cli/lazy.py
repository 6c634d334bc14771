"""A group of commands that are imported when they are called, so that its help stays quick."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import click


@dataclass(frozen=True, slots=True)
class Verb:
    """Where a command is, and what it does in a line."""

    module: str
    command: str
    says: str


class LazyGroup(click.Group):
    """Commands in the order of a mapping.

    Parameters
    ----------
    verbs : mapping
        By name.
    """

    def __init__(self, *arguments: Any, verbs: Mapping[str, Verb], **settings: Any) -> None:  # noqa: ANN401 - click's own
        super().__init__(*arguments, **settings)
        self._verbs = verbs

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names, in order."""
        del ctx
        return list(self._verbs)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of a name, imported now."""
        del ctx
        verb = self._verbs.get(cmd_name)
        if verb is None:
            return None
        command = getattr(importlib.import_module(verb.module), verb.command)
        if not isinstance(command, click.Command):
            raise TypeError(cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """What each does, without importing any."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, verb.says) for name, verb in self._verbs.items()])

"""What the verbs of the shop share: where it is, who writes, and how far a long one is."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import click

from carwright.shop import Shop, open_shop

Command = TypeVar("Command", bound=Callable[..., Any])
_EVERY = 5.0
"""Between two lines that say how far it is, where there is no terminal to draw on [s]."""


def place(command: Command) -> Command:
    """``--shop``."""
    return click.option(
        "--shop", "place", default="", metavar="FILE|URL",
        help="The shop: a file, or a PostgreSQL URL; else $CARWRIGHT_SHOP, else your own.",
    )(command)  # fmt: skip


def who(command: Command) -> Command:
    """``--who``."""
    return click.option(
        "--who", default="", envvar="CARWRIGHT_WHO", metavar="NAME",
        help="Who writes, as the history is to say; else $CARWRIGHT_WHO, else nobody's name.",
    )(command)  # fmt: skip


def count(number: int, what: str) -> str:
    """``1 entry``, ``2 entries``; a thing of several words bends in its first noun where it has ``of``."""
    if number == 1:
        return f"{number} {what}"
    noun, of, rest = what.partition(" of ")
    many = f"{noun[:-1]}ies" if noun.endswith("y") else f"{noun}s"
    return f"{number} {many}{of}{rest}"


def one_line(text: str) -> str:
    """A text people wrote, on one line."""
    return " ".join(text.split())


@contextmanager
def opened(where: str, *, create: bool = False) -> Iterator[Shop]:
    """The shop, closed in the end."""
    with open_shop(where, create=create) as shop:
        yield shop


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on a terminal, else a line now and then; always on stderr."""
    if not sys.stderr.isatty():
        yield _lines(what)
        return
    from rich.console import Console  # noqa: PLC0415 - only a terminal needs it
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)

        def show(done: int, of: int) -> None:
            bar.update(task, completed=done, total=of)

        yield show


def _lines(what: str) -> Callable[[int, int], None]:
    last = time.monotonic()

    def say(done: int, of: int) -> None:
        nonlocal last
        if time.monotonic() - last >= _EVERY:
            last = time.monotonic()
            click.echo(f"{what}: {done} of {of}", err=True)

    return say


FEW = 40
"""Cars below which starting another process takes longer than it saves."""


def processes(cars: int) -> int:
    """How many processes many cars are worth."""
    return 1 if cars < FEW else max(1, min(os.cpu_count() or 1, 8))

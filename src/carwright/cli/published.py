"""What the publishing commands share: formats, themes, papers, and files written all or none."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from carwright.files import WriteError, write_bytes_whole
from carwright.publish.formats import LISTING

Command = TypeVar("Command", bound=Callable[..., Any])


class Formats(click.ParamType):  # type: ignore[type-arg] # generic only in newer releases
    """Formats separated by commas, such as ``html,pdf``."""

    name = "formats"

    def __init__(self, known: Sequence[str]) -> None:
        self.known = tuple(known)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, ...]:  # noqa: ANN401
        """Each format once, in the order asked for; ``all`` is every one, and stays among them."""
        asked = [each.strip() for each in str(value).split(",") if each.strip()]
        for each in asked:
            if each not in {*self.known, EVERY}:
                self.fail(f"{each!r} is none of {', '.join(self.known)}, all", param, ctx)
        if not asked:
            self.fail(f"expected one or more of {', '.join(self.known)}, all", param, ctx)
        return (*self.known, EVERY) if EVERY in asked else tuple(dict.fromkeys(asked))


def paper(command: Command) -> Command:
    """``--paper``."""
    sizes = click.Choice(["a4", "letter"])
    return click.option("--paper", type=sizes, default="a4", show_default=True, help="Sheet a PDF is printed on.")(
        command
    )


def theme(command: Command) -> Command:
    """``--theme``."""
    return click.option(
        "--theme", type=click.Path(path_type=Path), help="A theme of your own: type, colours and spacing."
    )(command)


EVERY = "all"
"""Asks for every format that a sheet has something for."""
_CARD = re.compile(r"\d{2,4}-[a-z0-9-]+\.(svg|png)")


def write_all(folder: Path, files: Iterable[tuple[str, bytes]]) -> list[Path]:
    """Write files once every one of them has been made, all or none.

    Raises
    ------
    WriteError
        Where a file cannot be put in its place; those already put there are taken away, older ones put back.
    """
    made = [(folder / name, data) for name, data in files]
    older = {path: content for path, _ in made if (content := _older(path)) is not None}
    done: list[Path] = []
    try:
        for path, data in made:
            done.append(write_bytes_whole(path, data))
    except WriteError:
        for path in done:
            if path in older:
                path.write_bytes(older[path])
            else:
                path.unlink()
        raise
    for listing in [path for path in done if path.name == LISTING]:
        _take_away(older.get(listing, b""), listing.parent, done)
    return done


def _older(path: Path) -> bytes | None:
    """What stands where a file is to be put, None for nothing."""
    try:
        if path.is_dir():
            raise WriteError(path, "cannot be written: a folder of that name is there")
        return path.read_bytes() if path.is_file() else None
    except OSError as error:
        raise WriteError(path, f"cannot be written: {error.strerror or error}") from error


def _take_away(listing: bytes, folder: Path, kept: Sequence[Path]) -> None:
    """Cards of an earlier run, by its own list, that are not among the new ones."""
    for name in listing.decode("utf-8", "replace").splitlines():
        if _CARD.fullmatch(name) and folder / name not in kept:
            (folder / name).unlink(missing_ok=True)

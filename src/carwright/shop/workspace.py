"""A folder with the files a car names, as its sheet expects them beside it, for as long as it is looked at."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from carwright.shop.faults import ShopError
from carwright.shop.naming import stays_inside
from carwright.shop.state import State


class MissingFileError(ShopError):
    """A car names a file that is neither with it nor kept for all cars."""

    http_status = 409


@dataclass(frozen=True, slots=True)
class Bench:
    """A car laid out to be read: its document, and the files it names.

    Attributes
    ----------
    state : State
        Of the car.
    title : str
        What it is called.
    document : mapping
        Of its sheet.
    files : mapping
        Content by name; what is kept for all cars stands in where the car has no file of its own.
    missing : tuple[str, ...]
        Names no content is known for.
    """

    state: State
    title: str
    document: Mapping[str, object]
    files: Mapping[str, bytes]
    missing: tuple[str, ...]


def with_entries(
    bench: Bench, bodies: Sequence[Mapping[str, Any]], instruments: Mapping[str, Mapping[str, Any]] | None = None
) -> Bench:
    """A car as it would be with more entries at its end; nothing is written.

    Parameters
    ----------
    bench : Bench
        The car.
    bodies : sequence of mapping
        Entries as on a sheet.
    instruments : mapping, optional
        Instruments they name that the car does not have yet, by name.
    """
    document = {**bench.document}
    for key, rows in (("entry", bodies), ("instrument", list((instruments or {}).values()))):
        held = document.get(key, [])
        if rows:
            document[key] = [*(held if isinstance(held, list) else []), *rows]
    return replace(bench, document=document)


@contextmanager
def laid_out(bench: Bench, folder: Path | None = None) -> Iterator[Path]:
    """The folder, gone when the block ends unless it is one's own.

    Raises
    ------
    MissingFileError
        "Hopper: names club.toml, which is neither with the car nor kept in the shop; ..."
    """
    if bench.missing:
        names = ", ".join(bench.missing)
        raise MissingFileError(
            f"{bench.title}: names {names}, neither with the car nor kept in the shop; add the sheet again with it "
            "beside, or `carwright shop keep` it"
        )
    if folder is not None:
        write_files(folder, bench.files)
        yield folder
        return
    with tempfile.TemporaryDirectory(prefix="carwright-") as name:
        write_files(Path(name), bench.files)
        yield Path(name)


def write_files(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Write files below a folder; none may lead out of it.

    Raises
    ------
    ShopError
        "'../x' is no name of a file below a folder", "'a/b' cannot be laid beside the other files of its car: ..."
    """
    written = []
    for name, content in files.items():
        if not stays_inside(name):
            raise ShopError(f"{name!r} is no name of a file below a folder")
        path = folder / name.replace("\\", "/")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        except OSError as error:
            raise ShopError(f"{name!r} cannot be laid beside the other files of its car: {error.strerror}") from error
        written.append(path)
    return written

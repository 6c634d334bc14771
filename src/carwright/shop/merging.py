"""Two shops become one: the union of what was recorded, in any order and as often as one likes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TypeVar

from carwright.errors import SheetError
from carwright.shop.blobs import keep
from carwright.shop.exchange import ZipSource, write_export
from carwright.shop.faults import ShopError
from carwright.shop.records import CAR
from carwright.shop.shop import Shop
from carwright.shop.source import Progress, ShopSource, Source
from carwright.shop.standing import refresh
from carwright.shop.store import AT_ONCE, held_of, known_subjects, known_writings, put, put_records
from carwright.shop.whole import check_whole

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Merged:
    """What a union added.

    Attributes
    ----------
    writings : int
        New ones.
    cars : tuple[str, ...]
        Cars they are about.
    forks : tuple[str, ...]
        Cars on which people now disagree on some point, one sentence each.
    faulty : tuple[str, ...]
        Cars whose entries do not make one good sheet any more, one sentence each.
    """

    writings: int
    cars: tuple[str, ...]
    forks: tuple[str, ...]
    faulty: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export holds.

    Attributes
    ----------
    counts : dict
        How many ``records``, ``writings`` and ``files``.
    lost : tuple[str, ...]
        Digests of files the shop names and does not have any more as they were.
    """

    counts: dict[str, int]
    lost: tuple[str, ...]


def merge_zip(shop: Shop, path: Path, progress: Progress | None = None) -> Merged:
    """Take in an export: all of it, or none.

    Parameters
    ----------
    shop : Shop
        Where to.
    path : Path
        The export.
    progress : callable, optional
        Told how many records and writings are in, of how many.

    Raises
    ------
    ExchangeError
        When it is not whole, or not what it says; names the place.
    """
    with closing(ZipSource(path)) as source:
        return _merge(shop, source, str(path), progress)


def merge_shop(shop: Shop, other: Shop, progress: Progress | None = None) -> Merged:
    """Take in another shop; it is only read."""
    if other.address == shop.address:
        raise ShopError(f"{shop.address}: is the shop itself")
    with other.reading() as connection:
        return _merge(shop, ShopSource(connection, other.address), str(other.address), progress)


def export_zip(shop: Shop, path: Path, cars: Sequence[str] | None = None, progress: Progress | None = None) -> Exported:
    """Write a shop, or some of its cars, into a file that is not there yet.

    Raises
    ------
    ShopError
        "<path>: is there already; nothing was changed"
    DamagedError
        When something in the shop is not what was written.
    """
    with shop.reading() as connection:
        source = ShopSource(connection, shop.address, cars)
        counts = write_export(path, source, progress)
    return Exported(counts, tuple(source.lost))


def _merge(shop: Shop, source: Source, name: str, progress: Progress | None) -> Merged:
    with shop.writing() as batch:
        connection = batch.connection
        check_whole(name, source, lambda digests: known_subjects(connection, digests))
        for _, content in source.files():
            keep(connection, shop.address, content)
        about: set[str] = set()
        count = done = 0
        tell, size = progress or _nothing, source.size()
        for records in _pieces(source.records(), AT_ONCE):
            put_records(connection, records)
            done += len(records)
            tell(done, size)
        for writings in _pieces(source.writings(), AT_ONCE):
            have = known_writings(connection, [each.digest for each in writings])
            about.update(each.subject for each in writings if each.digest not in have)
            count += put(connection, [], writings)
            done += len(writings)
            tell(done, size)
        cars, forks, faulty = [], [], []
        for known in held_of(connection, sorted(about)):
            state = known.state
            refresh(connection, [state])
            if state.of != CAR:
                continue
            cars.append(known.subject)
            if state.forks:
                forks.append(f"{state.title} ({known.subject[:8]}): {', '.join(each.key for each in state.forks)}")
            if len(known.writings) > 1:
                try:
                    shop.read(state)
                except SheetError as error:
                    faulty.append(f"{state.title} ({known.subject[:8]}): {error.faults[0].message}")
    return Merged(count, tuple(cars), tuple(forks), tuple(faulty))


def _nothing(_done: int, _of: int) -> None:
    """Nobody wants to know how far it is."""


def _pieces(values: Iterable[T], size: int) -> Iterator[list[T]]:
    rest = iter(values)
    while piece := list(islice(rest, size)):
        yield piece

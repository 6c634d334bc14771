"""Where writings come from when two shops become one: another shop, or a file written by one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from sqlalchemy import Connection, func, select

from carwright.shop.address import Address
from carwright.shop.blobs import fetch
from carwright.shop.records import Record, Writing
from carwright.shop.schema import file, record, writing
from carwright.shop.store import all_records, all_writings

Progress = Callable[[int, int], None]
"""Told how many are done, of how many."""


class Source(Protocol):
    """All of a shop, or of some of its subjects, piece by piece and in the order of the digests."""

    def size(self) -> int:
        """Records and writings, at most."""

    def records(self) -> Iterator[Record]:
        """Records, verified."""

    def writings(self) -> Iterator[Writing]:
        """Writings, verified."""

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Files, verified."""


class ShopSource:
    """Another shop, as it is at one moment.

    Parameters
    ----------
    connection : Connection
        Within a transaction of a reader.
    address : Address
        The shop's.
    subjects : sequence of str, optional
        Only these.
    """

    def __init__(self, connection: Connection, address: Address, subjects: Sequence[str] | None = None) -> None:
        self._connection, self._address, self._subjects = connection, address, subjects

    def size(self) -> int:
        """Records and writings of the whole shop."""
        tables = (record, writing)
        return sum(
            int(self._connection.execute(select(func.count()).select_from(each)).scalar() or 0) for each in tables
        )

    def records(self) -> Iterator[Record]:
        """Records."""
        return all_records(self._connection, self._subjects)

    def writings(self) -> Iterator[Writing]:
        """Writings."""
        return all_writings(self._connection, self._subjects)

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Files that are there and are what they were."""
        for digest in self.digests():
            content = fetch(self._connection, self._address, digest)
            if content is not None:
                yield digest, content

    def digests(self) -> list[str]:
        """Digests of the files, those of some subjects by what is stated of them."""
        if self._subjects is None:
            return list(self._connection.execute(select(file.c.digest).order_by(file.c.digest)).scalars())
        named = {
            str(each.content()["value"]["digest"])
            for each in self.records()
            if each.key.startswith("file:") and each.content()["value"]
        }
        return sorted(named)

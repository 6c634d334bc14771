"""Where writings come from when two shops become one: another shop, or a file written by one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from sqlalchemy import Connection, func, select

from carwright.shop.address import Address
from carwright.shop.blobs import fetch
from carwright.shop.canonical import digest_of
from carwright.shop.faults import DamagedError
from carwright.shop.records import Record, Writing
from carwright.shop.schema import file, record, writing
from carwright.shop.store import all_records, all_writings
from carwright.shop.trust import record_fault, writing_fault

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

    Attributes
    ----------
    lost : list of str
        Digests of files that are gone or altered, once :meth:`files` was read.
    """

    def __init__(self, connection: Connection, address: Address, subjects: Sequence[str] | None = None) -> None:
        self._connection, self._address, self._subjects = connection, address, subjects
        self.lost: list[str] = []

    def size(self) -> int:
        """Records and writings of the whole shop."""
        tables = (record, writing)
        return sum(
            int(self._connection.execute(select(func.count()).select_from(each)).scalar() or 0) for each in tables
        )

    def records(self) -> Iterator[Record]:
        """Records that are what was written.

        Raises
        ------
        DamagedError
            When one is not.
        """
        for each in all_records(self._connection, self._subjects):
            fault = record_fault(each)
            if fault:
                raise DamagedError(self._address, f"{each.kind} {each.id or each.key} of car {each.subject} {fault}")
            yield each

    def writings(self) -> Iterator[Writing]:
        """Writings that are what was written.

        Raises
        ------
        DamagedError
            When one is not.
        """
        for each in all_writings(self._connection, self._subjects):
            fault = writing_fault(each)
            if fault:
                raise DamagedError(self._address, f"writing {str(each.digest)[:12]} of car {each.subject} {fault}")
            yield each

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Files that are there and are what they were; :attr:`lost` names the others."""
        for digest in self.digests():
            content = fetch(self._connection, self._address, digest)
            if content is not None and digest_of(content) == digest:
                yield digest, content
            else:
                self.lost.append(digest)

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

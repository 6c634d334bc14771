"""Rows out of the pages of an SQLite file, without the tree that leads to them.

The layout is that of "Database File Format", sqlite.org: sections 1.3 (header), 1.6 (b-tree pages), 1.7 (overflow) and
2.1 (records); from memory, and checked in tests against what SQLite itself writes.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

Value = int | float | str | bytes | None
_LEAF = 0x0D
_HEADER = 100
"""Bytes of the file's own header, on its first page."""
_SIZES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
"""Bytes of an integer by its serial type."""
_MOST_PAYLOAD = 50_000_000
_USUAL = 4096


class _BrokenCellError(ValueError):
    """A cell is not as it must be."""


def leaf_rows(path: Path) -> Iterator[tuple[int, tuple[Value, ...]]]:
    """Number and values of every row of every table, page by page; what is not as it must be is passed over.

    Parameters
    ----------
    path : Path
        An SQLite file, damaged or not; its page size is taken to be the usual one where the header is gone.
    """
    with path.open("rb") as file:
        head = file.read(_HEADER)
        size = int.from_bytes(head[16:18], "big")
        size = 65536 if size == 1 else size
        good = head.startswith(b"SQLite format 3\0") and size >= 512 and size & (size - 1) == 0  # noqa: PLR2004 - the least page
        reader = _Reader(file, size if good else _USUAL, head[20] if good else 0)
        for number in range(path.stat().st_size // reader.size):
            yield from reader.rows(number)


class _Reader:
    def __init__(self, file: BinaryIO, size: int, reserved: int) -> None:
        self._file, self.size, self._usable = file, size, size - reserved

    def _page(self, number: int) -> bytes:
        self._file.seek(number * self.size)
        return self._file.read(self.size)

    def rows(self, number: int) -> Iterator[tuple[int, tuple[Value, ...]]]:
        page = self._page(number)
        start = _HEADER if number == 0 else 0
        if len(page) < self.size or page[start] != _LEAF:
            return
        count = int.from_bytes(page[start + 3 : start + 5], "big")
        for index in range(min(count, self.size // 4)):
            pointer = start + 8 + 2 * index
            try:
                yield self._cell(page, int.from_bytes(page[pointer : pointer + 2], "big"))
            except (IndexError, ValueError):  # this cell is broken; the others need not be
                continue

    def _cell(self, page: bytes, at: int) -> tuple[int, tuple[Value, ...]]:
        length, at = _varint(page, at)
        row, at = _varint(page, at)
        if not 0 < length <= _MOST_PAYLOAD:
            raise _BrokenCellError(length)
        return row, _values(self._payload(page, at, length))

    def _payload(self, page: bytes, at: int, length: int) -> bytes:
        """What a cell holds, the rest of it from overflow pages."""
        most = self._usable - 35
        if length <= most:
            return page[at : at + length]
        least = (self._usable - 12) * 32 // 255 - 23
        local = least + (length - least) % (self._usable - 4)
        local = local if local <= most else least
        found = bytearray(page[at : at + local])
        following = int.from_bytes(page[at + local : at + local + 4], "big")
        while following and len(found) < length:
            rest = self._page(following - 1)
            found += rest[4 : self._usable]
            following = int.from_bytes(rest[:4], "big")
        if len(found) < length:
            raise _BrokenCellError(length)
        return bytes(found[:length])


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for count in range(8):
        byte = data[at + count]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:  # noqa: PLR2004 - the last byte has its first bit clear
            return value, at + count + 1
    return value << 8 | data[at + 8], at + 9


def _values(payload: bytes) -> tuple[Value, ...]:
    head, at = _varint(payload, 0)
    if head > len(payload):
        raise _BrokenCellError(head)
    kinds = []
    while at < head:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    found = []
    for kind in kinds:
        value, at = _value(payload, at, kind)
        found.append(value)
    return tuple(found)


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    """A value of a serial type; floating-point numbers stand in no table that is rescued."""
    if kind in {0, 8, 9}:
        return (None if kind == 0 else kind - 8), at
    if kind in _SIZES:
        end = at + _SIZES[kind]
        return int.from_bytes(payload[at:end], "big", signed=True), end
    if kind < 12:  # noqa: PLR2004 - a number with a point, or one of SQLite's own
        raise _BrokenCellError(kind)
    end = at + (kind - 12) // 2
    if end > len(payload):
        raise _BrokenCellError(kind)
    return (payload[at:end].decode("utf-8") if kind % 2 else payload[at:end]), end

"""Photos and other files of cars, kept by the digest of their content: in a folder beside SQLite, or in PostgreSQL."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Connection, insert, select

from carwright.shop.address import Address
from carwright.shop.canonical import digest_of
from carwright.shop.schema import file

LARGEST = 100_000_000
"""Bytes one file may have: no bench photo is larger."""


def keep(connection: Connection, address: Address, content: bytes) -> str:
    """Keep a file; the same content twice is kept once.

    The content is on the disk before the row that names it, so that a row never names what is not there.

    Parameters
    ----------
    connection : Connection
        Of a writer.
    address : Address
        The shop.
    content : bytes
        Of the file.

    Returns
    -------
    str
        Its digest.
    """
    digest = digest_of(content)
    known = connection.execute(select(file.c.digest).where(file.c.digest == digest)).first()
    if address.folder is not None:
        _put(place_of(address.folder, digest), content)
    if known is None:
        row = {"digest": digest, "size": len(content), "content": None if address.is_file else content}
        connection.execute(insert(file), row)
    return digest


def fetch(connection: Connection, address: Address, digest: str) -> bytes | None:
    """Content of a file, None where it is gone; whether it is still what it was, :mod:`checking` says."""
    if address.folder is None:
        found = connection.execute(select(file.c.content).where(file.c.digest == digest)).scalar()
        return None if found is None else bytes(found)
    try:
        return place_of(address.folder, digest).read_bytes()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        return None


def in_folder(folder: Path) -> Iterator[str]:
    """Digests of all files in a photo folder, in order."""
    for path in sorted(folder.glob("[0-9a-f][0-9a-f]/*")):
        if len(path.name) == 2 * 32 and path.is_file():
            yield path.name


def place_of(folder: Path, digest: str) -> Path:
    """Where a file lies in a photo folder."""
    return folder / digest[:2] / digest


def _put(place: Path, content: bytes) -> None:
    """Write a file beside its place, down to the disk, then move it there."""
    if place.exists() and place.stat().st_size == len(content) and digest_of(place.read_bytes()) == place.name:
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=place.parent, prefix=".carwright-")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(place)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    for each in (place.parent, place.parent.parent):
        folder = os.open(each, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

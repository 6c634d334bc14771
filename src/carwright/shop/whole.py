"""Whether what is to be merged is whole: every writing names records that are there, and every record is named."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Mapping

from carwright.shop.exchange import ExchangeError
from carwright.shop.records import Writing
from carwright.shop.source import Source

Subjects = Callable[[set[str]], Mapping[str, str]]
"""Tells the subjects of those records, of some, that a shop has, by their digests."""


def check_whole(file: str, source: Source, held: Subjects) -> None:
    """Read all of an export once, before anything of it is written.

    Parameters
    ----------
    file : str
        Its name.
    source : Source
        The export.
    held : callable
        Tells the subjects of those records, of some, that the shop has, by their digests.

    Raises
    ------
    ExchangeError
        When a writing names a record that is nowhere, or one of another subject, or a record is named by none.
    """
    own: dict[bytes, int] = {}  # digests as bytes: there may be hundreds of thousands
    numbers: dict[str, int] = {}
    subjects = array("L")
    for each in source.records():
        own[bytes.fromhex(each.digest)] = len(subjects)
        subjects.append(numbers.setdefault(each.subject, len(numbers)))
    named = bytearray(len(subjects))
    elsewhere: dict[str, Writing] = {}
    for writing in source.writings():
        for line in writing.lines:
            index = own.get(bytes.fromhex(line.record))
            if index is None:
                elsewhere[line.record] = writing
                continue
            named[index] = 1
            if subjects[index] != numbers.get(writing.subject):
                raise ExchangeError(file, f"writing {writing.digest[:12]}", "names a record of another subject")
    _check_elsewhere(file, elsewhere, held)
    if 0 in named:
        loose = min(digest for digest, index in own.items() if not named[index])
        raise ExchangeError(file, f"record {loose.hex()[:12]}", "is named by no writing")
    for _ in source.files():
        pass


def _check_elsewhere(file: str, elsewhere: Mapping[str, Writing], held: Subjects) -> None:
    """Records that do not come with the writings that name them are there already, and of the same subject."""
    known = held(set(elsewhere))
    for digest, writing in elsewhere.items():
        place = f"writing {writing.digest[:12]}"
        if digest not in known:
            raise ExchangeError(file, place, f"names record {digest[:12]}, not here")
        if known[digest] != writing.subject:
            raise ExchangeError(file, place, "names a record of another subject")

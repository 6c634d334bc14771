"""What a shop is made of: records and the writings that brought them, each known by the digest of its content.

A shop is a set of these, and nothing else that matters: two shops merge by union of their sets, in any order.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from carwright.shop.canonical import canonical, digest_of, said_of

CAR, COLLECTION, KEPT = "car", "collection", "kept"
SORTS = (CAR, COLLECTION, KEPT)
"""What a subject may be: a car, a collection of cars, or a file kept for all cars."""
ENTRY, STATEMENT = "entry", "statement"


@dataclass(frozen=True, slots=True)
class Record:
    """One entry, or one statement about its subject.

    Attributes
    ----------
    id : str
        UUID of an entry; "" for a statement, which is known by its digest alone.
    subject : str
        UUID of the car, collection or kept file.
    kind : str
        ``entry`` or ``statement``.
    key : str
        Kind of the entry, or what the statement is about: ``car.geometry``, ``instrument:letter scale``.
    body : str
        Canonical JSON; of a statement ``{"replaces": [digests], "value": ...}``.
    digest : str
        SHA-256 over all the above.
    """

    id: str
    subject: str
    kind: str
    key: str
    body: str
    digest: str

    def content(self) -> dict[str, Any]:
        """The body as plain values."""
        found: dict[str, Any] = json.loads(self.body)
        return found

    @property
    def said(self) -> str:
        """What an entry says, without its id; "" for a statement."""
        return said_of(self.content()) if self.kind == ENTRY else ""


def record_digest(identity: str, subject: str, kind: str, key: str, body: str) -> str:
    """What a record's content comes to."""
    return digest_of(canonical([identity, subject, kind, key, body]))


def entry_record(subject: str, identity: str, body: Mapping[str, Any]) -> Record:
    """An entry of a car; its id stands beside its body."""
    text = canonical({key: value for key, value in body.items() if key != "id"})
    key = str(body["kind"])
    return Record(identity, subject, ENTRY, key, text, record_digest(identity, subject, ENTRY, key, text))


def statement_record(subject: str, key: str, value: Any, replaces: Iterable[str] = ()) -> Record:  # noqa: ANN401
    """A statement that takes the place of others; a value of None takes back what was stated."""
    text = canonical({"replaces": sorted(replaces), "value": value})
    return Record("", subject, STATEMENT, key, text, record_digest("", subject, STATEMENT, key, text))


@dataclass(frozen=True, slots=True)
class Line:
    """A record as one writing brought it, and between which entries of its car it was put.

    Attributes
    ----------
    record : str
        Digest of the record.
    after, before : str
        Ids of the entries it stands after and before, "" for none.
    """

    record: str
    after: str = ""
    before: str = ""


@dataclass(frozen=True, slots=True)
class Writing:
    """What was recorded about one subject at one moment, whole or not at all.

    Attributes
    ----------
    subject, of : str
        Its UUID, and one of :data:`SORTS`.
    clock : int
        When, see :mod:`carwright.shop.clock` [µs].
    who, program : str
        Who wrote it, as they call themselves, and with which version.
    lines : tuple[Line, ...]
        In order.
    digest : str
        SHA-256 over all the above.
    """

    subject: str
    of: str
    clock: int
    who: str
    program: str
    lines: tuple[Line, ...]
    digest: str


def writing_of(subject: str, of: str, clock: int, who: str, program: str, lines: Sequence[Line]) -> Writing:
    """A writing with its digest."""
    return Writing(
        subject, of, clock, who, program, tuple(lines), writing_digest(subject, of, clock, who, program, lines)
    )


def writing_digest(subject: str, of: str, clock: int, who: str, program: str, lines: Sequence[Line]) -> str:
    """What a writing's content comes to."""
    rows = [[line.record, line.after, line.before] for line in lines]
    return digest_of(canonical([subject, of, clock, who, program, rows]))

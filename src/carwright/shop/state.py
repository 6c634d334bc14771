"""What a subject's records come to: what is stated of it now, its entries in order, and what people disagree on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from carwright.shop.canonical import canonical, digest_of
from carwright.shop.order import Placed, in_written_order
from carwright.shop.records import ENTRY, Record, Writing


@dataclass(frozen=True, slots=True)
class Fork:
    """Something two people changed without knowing of one another; all of it is kept.

    Attributes
    ----------
    key : str
        What was stated, or the id of an entry.
    taken, others : str, tuple[str, ...]
        Digest of the record that holds, and of those beside it.
    """

    key: str
    taken: str
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class State:
    """A subject as it stands.

    Attributes
    ----------
    subject, of : str
        Its UUID and what it is; "" where nothing is known of it.
    stated : mapping
        Value by key, in the order in which the keys were first stated; what was taken back is left out.
    heads : mapping
        By key, the digests a new statement replaces.
    entries : tuple[Record, ...]
        In the order written; what was corrected is among them.
    forks : tuple[Fork, ...]
        Where more than one version holds.
    twice : tuple[tuple[str, tuple[str, ...]], ...]
        Entries that several corrections that hold are about, and those corrections.
    clock : int
        Of the latest writing [µs].
    who : str
        Who wrote that.
    """

    subject: str
    of: str = ""
    stated: Mapping[str, Any] = field(default_factory=dict)
    heads: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    entries: tuple[Record, ...] = ()
    forks: tuple[Fork, ...] = ()
    twice: tuple[tuple[str, tuple[str, ...]], ...] = ()
    clock: int = 0
    who: str = ""

    @property
    def title(self) -> str:
        """What the car is called, "?" where nothing says so."""
        return str(self.stated.get("car", {}).get("title", "?"))

    @property
    def digest(self) -> str:
        """Digest of what results follow from: statements and entries in their order."""
        return digest_of(canonical([dict(self.stated), [[each.id, each.body] for each in self.entries]]))

    def entry(self, identity: str) -> Record | None:
        """The entry of an id."""
        return next((each for each in self.entries if each.id == identity), None)


def state_of(subject: str, records: Iterable[Record], writings: Iterable[Writing]) -> State:
    """What the records of one subject come to, the same for everybody who holds the same ones.

    Parameters
    ----------
    subject : str
        Its UUID.
    records, writings
        All of it that is held, in any order.
    """
    by_digest = {record.digest: record for record in records if record.subject == subject}
    written = sorted((each for each in writings if each.subject == subject), key=lambda each: (each.clock, each.digest))
    first: dict[str, tuple[int, str, int]] = {}
    placed: dict[str, Placed] = {}
    for writing in written:
        for ordinal, line in enumerate(writing.lines):
            spot = (writing.clock, writing.digest, ordinal)
            first.setdefault(line.record, spot)
            record = by_digest.get(line.record)
            if record is not None and record.kind == ENTRY:
                here = placed.setdefault(record.id, Placed(spot))
                here.after |= {line.after} - {""}
                here.before |= {line.before} - {""}
    held = sorted((each for each in by_digest.values() if each.digest in first), key=lambda each: first[each.digest])
    stated, heads, forks = _stated([each for each in held if each.kind != ENTRY])
    versions: dict[str, list[Record]] = {}
    for record in held:
        if record.kind == ENTRY:
            versions.setdefault(record.id, []).append(record)
    for identity, found in versions.items():
        if len(found) > 1:
            forks.append(Fork(identity, found[0].digest, tuple(each.digest for each in found[1:])))
    last = written[-1] if written else None
    entries = tuple(versions[identity][0] for identity in in_written_order(placed) if identity in versions)
    return State(
        subject=subject,
        of=written[0].of if written else "",
        stated=stated,
        heads=heads,
        entries=entries,
        forks=tuple(forks),
        twice=tuple(_corrected_twice(entries)),
        clock=last.clock if last else 0,
        who=last.who if last else "",
    )


def _stated(statements: Sequence[Record]) -> tuple[dict[str, Any], dict[str, tuple[str, ...]], list[Fork]]:
    """Values and heads by key; of several heads the one recorded last holds."""
    gone: dict[str, set[str]] = {}
    for record in statements:
        gone.setdefault(record.key, set()).update(record.content()["replaces"])
    stated: dict[str, Any] = {}
    heads: dict[str, tuple[str, ...]] = {}
    forks: list[Fork] = []
    for key, replaced in gone.items():
        found = [each for each in statements if each.key == key and each.digest not in replaced]
        if not found:  # a circle, which only a forged shop can hold
            found = [next(each for each in reversed(statements) if each.key == key)]
        *others, taken = found
        heads[key] = tuple(each.digest for each in found)
        value = taken.content()["value"]
        if value is not None:
            stated[key] = value
        if any(each.content()["value"] != value for each in others):
            forks.append(Fork(key, taken.digest, tuple(each.digest for each in others)))
    return stated, heads, forks


def _corrected_twice(entries: Sequence[Record]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Entries that more than one correction which itself was not corrected or undone is about."""
    about = {each.id: str(each.content()["supersedes"]) for each in entries if '"supersedes"' in each.body
             and "supersedes" in each.content()}  # fmt: skip
    gone = set(about.values())
    by: dict[str, list[str]] = {}
    for identity, corrected in about.items():
        if identity not in gone:
            by.setdefault(corrected, []).append(identity)
    yield from ((corrected, tuple(ids)) for corrected, ids in by.items() if len(ids) > 1)

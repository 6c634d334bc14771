"""One transaction of a writer: what it records, and what lists say of that afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection

from carwright.shop import clock as clocks
from carwright.shop.program import version
from carwright.shop.records import Line, Record, statement_record, writing_of
from carwright.shop.state import State
from carwright.shop.store import Held, put


@dataclass
class Batch:
    """What one transaction writes.

    Attributes
    ----------
    connection : Connection
        Of the only writer.
    clock : int
        The latest moment recorded so far [µs].
    who : str
        Who writes.
    touched : dict
        State of every subject written about.
    """

    connection: Connection
    clock: int
    who: str
    touched: dict[str, State] = field(default_factory=dict)

    def write(self, known: Held, of: str, records: Sequence[Record], lines: Sequence[Line]) -> None:
        """Record something about one subject, next to what is known of it."""
        if not lines:
            return
        self.clock = clocks.after(self.clock, clocks.now())
        made = writing_of(known.subject, of, self.clock, self.who, version(), lines)
        put(self.connection, records, [made])
        self.touched[known.subject] = Held(known.subject, (*known.records, *records), (*known.writings, made)).state

    def state(self, known: Held, of: str, key: str, value: Any) -> bool:  # noqa: ANN401 - whatever JSON holds
        """State something anew; False where it is stated so already, and by nobody otherwise."""
        now = known.state
        heads = now.heads.get(key, ())
        if now.stated.get(key) == value and len(heads) == (1 if value is not None else len(heads)):
            return False
        made = statement_record(known.subject, key, value, heads)
        self.write(known, of, [made], [Line(made.digest)])
        return True

"""Which entries of a sheet the shop knows, which are new, and which were changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any
from uuid import uuid4

from carwright.shop.canonical import named_id, said_of
from carwright.shop.records import ENTRY, Line, Record, entry_record
from carwright.shop.state import State
from carwright.shop.store import Held

_SAME = ("what", "at", "remedy", "of", "name", "file", "source")
"""Keys by which a changed entry is taken for the one it was."""


class Comparison:
    """Tells the entries of a sheet that are known from those that are new or changed."""

    def __init__(self, car: str, state: State, known: Held, *, correct: bool) -> None:
        self._car, self._correct = car, correct
        self._versions: dict[str, list[Record]] = {}
        for record in known.records:
            if record.kind == ENTRY:
                self._versions.setdefault(record.id, []).append(record)
        self._bodies = {each.id: each.content() for each in state.entries}
        self._corrected_by = {
            str(body["supersedes"]): identity for identity, body in self._bodies.items() if "supersedes" in body
        }
        self._alike: dict[tuple[str, str], list[str]] = {}
        for each in state.entries:
            self._alike.setdefault(_signature(self._bodies[each.id]), []).append(each.id)
        self._fresh: dict[int, Record] = {}
        self._met: set[str] = set()
        self._given: set[str] = set()
        self.ids: list[str] = []
        self.problems: list[str] = []
        self.followed: set[str] = set()
        self.corrected = 0

    @property
    def fresh(self) -> list[Record]:
        """New entries, in the order of the sheet."""
        return [self._fresh[at] for at in sorted(self._fresh)]

    def take(self, entries: Sequence[tuple[str, Mapping[str, Any]]]) -> None:
        """All entries of a sheet: first those that are known, so that none of them is taken for a changed one."""
        self._given = {identity for identity, _ in entries if identity}
        found = [identity if identity in self._versions else "" for identity, _ in entries]
        self._met = {each for each in found if each}
        for at, (identity, body) in enumerate(entries):
            if not identity:
                waiting = (each for each in self._alike.get(_signature(body), ()) if each not in self._met)
                found[at] = next(waiting, "")
                self._met.add(found[at])
        seen: Counter[tuple[str, str]] = Counter()
        for at, (identity, body) in enumerate(entries):
            if identity and found[at]:
                found[at] = self._again(at, identity, body)
            elif identity:
                self._refuse_second(at, body)
                self._fresh[at] = entry_record(self._car, identity, body)
                found[at] = identity
            elif not found[at]:
                signature = _signature(body)
                count = seen[signature] + len(self._alike.get(signature, ()))
                seen[signature] += 1
                self._refuse_second(at, body)
                self._refuse_if_changed(at, body)
                found[at] = named_id("entry", self._car, *signature, str(count))
                self._fresh[at] = entry_record(self._car, found[at], body)
        self.ids = found

    def lines(self) -> list[Line]:
        """The new entries, each behind what stands before it on the sheet, and before the next that is known."""
        found, following = [], ""
        for at in range(len(self.ids) - 1, -1, -1):
            if at in self._fresh:
                found.append(Line(self._fresh[at].digest, self.ids[at - 1] if at else "", following))
            else:
                following = self.ids[at]
        return found[::-1]

    def _again(self, at: int, identity: str, body: Mapping[str, Any]) -> str:
        """An entry whose id the shop has: as it is there, corrected to this since, or changed."""
        mine = entry_record(self._car, identity, body).digest
        same = any(each.digest == mine for each in self._versions[identity])
        chain = self._chain(identity)
        last = chain[-1]
        as_corrected = last != identity and said_of(self._bodies[last]) == said_of(body)
        undone = self._bodies[last]["kind"] != body["kind"]
        if as_corrected:
            self.followed.update(chain[1:])
        if as_corrected or (same and (last == identity or undone or not self._correct)):
            return identity
        on_sheet = next((each for each in chain[1:] if each in self._given), "")
        if on_sheet:
            if same:
                return identity
            self._refuse(at, body, f"is corrected on this sheet by {on_sheet}: change that one")
        elif not self._correct:
            self._refuse(
                at,
                body,
                f"says something else than the shop has under {identity}; what was recorded never changes: correct it "
                "by a new entry with supersedes, or let this sheet go before with `carwright shop add --correct`",
            )
        else:
            return self._corrected(at, identity, last, body)
        return identity

    def _corrected(self, at: int, identity: str, last: str, body: Mapping[str, Any]) -> str:
        correction = {**body, "supersedes": last}
        fresh = named_id("entry", self._car, *_signature(correction), "correction")
        self._fresh[at] = entry_record(self._car, fresh, correction)
        self._bodies[fresh] = correction
        self._corrected_by[last] = fresh
        self.followed.update(self._chain(identity))
        self.corrected += 1
        return fresh

    def _chain(self, identity: str) -> list[str]:
        """An entry and what corrected it, one after the other."""
        found = [identity]
        while (later := self._corrected_by.get(found[-1])) is not None and later not in found:
            found.append(later)
        return found

    def _refuse(self, at: int, body: Mapping[str, Any], why: str) -> None:
        self.problems.append(f"{_place(at, body)}: {why}")

    def _refuse_second(self, at: int, body: Mapping[str, Any]) -> None:
        """A new correction of what the shop has corrected otherwise already."""
        corrected = str(body.get("supersedes", ""))
        other = self._corrected_by.get(corrected, "")
        if other and other not in self._given:
            self._refuse(at, body, f"corrects {corrected}, which was corrected or undone by {other}: supersede that")

    def _refuse_if_changed(self, at: int, body: Mapping[str, Any]) -> None:
        was = self._was(body)
        if was:
            self._refuse(
                at,
                body,
                f"looks like a changed {_name(self._bodies[was])}, which the shop has as {was}: "
                "put ids in the sheet before you change it (`carwright shop add --write-ids`), or write it anew with "
                f'`carwright shop sheet`; where it is one more, give it an id of its own, id = "{uuid4()}"',
            )

    def _was(self, body: Mapping[str, Any]) -> str:
        """The entry a changed one may have been: alike, given its id by a shop, and not on the sheet otherwise."""
        for identity, was in self._bodies.items():
            if identity in self._met or was["kind"] != body["kind"]:
                continue
            if all(was.get(key) == body.get(key) for key in _SAME) and self._is_given(identity, was):
                return identity
        return ""

    def _is_given(self, identity: str, body: Mapping[str, Any]) -> bool:
        signature = _signature(body)
        counts = range(len(self._alike.get(signature, ())))
        return identity in {named_id("entry", self._car, *signature, str(count)) for count in counts}


def _signature(body: Mapping[str, Any]) -> tuple[str, str]:
    """What an entry says and corrects, whatever its id."""
    return said_of(body), str(body.get("supersedes", ""))


def _name(body: Mapping[str, Any]) -> str:
    what = next((str(body[key]) for key in _SAME if key in body and key != "at"), "")
    return " ".join(filter(None, [str(body["kind"]), what, f"at {body['at']}" if "at" in body else ""]))


def _place(at: int, body: Mapping[str, Any]) -> str:
    return f"entry {at + 1} ({_name(body)})"

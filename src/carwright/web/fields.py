"""Forms: their fields, what was typed in them, and what is wrong with it, beside the field it is wrong with."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from carwright.errors import CarwrightError, Fault, SheetError

Kind = Literal["text", "number", "choice", "grades", "long", "file", "date"]
Choice = tuple[str, str]
"""What is sent, and what is shown."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form.

    Attributes
    ----------
    name : str
        As on a sheet.
    label : str
        As shown.
    kind : str
        How it is typed: ``choice`` from a few, ``grades`` each with its sentence, ``long`` over several lines.
    hint : str
        What is expected, under the label.
    choices : tuple
        To choose from; also offered while typing into a ``text``.
    required : bool
        Whether the browser asks for it before sending.
    locked : bool
        Whether it is only shown.
    """

    name: str
    label: str
    kind: Kind = "text"
    hint: str = ""
    choices: tuple[Choice, ...] = ()
    required: bool = False
    locked: bool = False


@dataclass(frozen=True)
class Typed:
    """What was typed, and what is wrong with it.

    Attributes
    ----------
    values : mapping
        By field, as typed.
    faults : mapping
        Sentences by field; those of no field are under "".
    """

    values: Mapping[str, str] = field(default_factory=dict)
    faults: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def value(self, name: str, usual: str = "") -> str:
        """What stands in a field."""
        return self.values.get(name, usual)

    def wrong(self, name: str) -> Sequence[str]:
        """What is wrong with a field."""
        return self.faults.get(name, ())


_SHOWN_AS = {"values": "value", "places": "value", "gaps": "heights"}
"""Keys that one field stands for."""


def faults_by_field(error: CarwrightError, names: Iterable[str], *, entry: int = 0) -> dict[str, list[str]]:
    """What is wrong, by the field it is wrong with; "" for what is wrong with none of them.

    Parameters
    ----------
    error : CarwrightError
        As raised when what was typed was read.
    names : iterable of str
        Fields of the form.
    entry : int
        Number of the entry that was typed, 0 where it is no entry.
    """
    if not isinstance(error, SheetError):
        return {"": [str(error)]}
    found: dict[str, list[str]] = {}
    known = set(names)
    for fault in error.faults:
        is_own = not entry or not fault.place.startswith("entry ") or f"{fault.place} ".startswith(f"entry {entry} ")
        name = _field_of(fault, known) if is_own else ""
        told = fault.message
        if not name and fault.place and not (entry and is_own and fault.place.startswith("entry ")):
            told = f"{fault.place}: {fault.message}"
        sentences = found.setdefault(name, [])
        if told not in sentences:
            sentences.append(told)
    return found


_COUNT = re.compile(r"has \d+ stations but \d+ (\w+)")


def _field_of(fault: Fault, known: set[str]) -> str:
    """The field a fault's place ends in, or one its message begins with."""
    tail = fault.place.rpartition(", ")[2].split(" ")[0]
    counted = _COUNT.match(fault.message)
    needed = (
        fault.message.removeprefix("needs ").split(" ")[0].rstrip(",;:") if fault.message.startswith("needs ") else ""
    )
    for name in (tail, tail.partition(".")[0], tail.rpartition(".")[2], needed, counted[1] if counted else ""):
        if _SHOWN_AS.get(name, name) in known:
            return _SHOWN_AS.get(name, name)
    return ""

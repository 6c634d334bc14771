"""Every error carwright raises on purpose, in one family.

Each class carries the fields a caller may want, composes its own sentence, and names the HTTP status a
web page answers with.
"""

from __future__ import annotations

from dataclasses import dataclass

SHOWN_AT_MOST = 20
"""Faults printed before the rest is only counted."""
LONGEST_SHOWN = 40
"""Characters of a text repeated in an error."""


class CarwrightError(Exception):
    """Root of all errors meant for the person at the bench."""

    http_status = 400


class UnitError(CarwrightError):
    """A quantity could not be read.

    Attributes
    ----------
    text : str
        What was written.
    expected : str
        What would have been understood, with an example.
    """

    def __init__(self, text: str, expected: str, why: str = "") -> None:
        self.text = text
        self.expected = expected
        shown = text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."
        reason = f" ({why})" if why else ""
        super().__init__(f"cannot read {shown!r}{reason}: expected {expected}")


class DateError(CarwrightError):
    """A date could not be read, or is none.

    Attributes
    ----------
    text : str
        What was written.
    """

    def __init__(self, text: str, why: str) -> None:
        self.text = text
        shown = text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 3] + "..."
        super().__init__(f"cannot read {shown!r} as a date: {why}")


class TableError(CarwrightError):
    """A table of facts, a rule set or a rubric is not as it must be.

    Attributes
    ----------
    place : str
        File and row.
    """

    def __init__(self, place: str, why: str) -> None:
        self.place = place
        super().__init__(f"{place}: {why}")


class UnknownNameError(CarwrightError):
    """A name is in no table; the nearest known one is offered.

    Attributes
    ----------
    name : str
        What was asked for.
    """

    http_status = 404

    def __init__(self, what: str, name: str, hint: str = "") -> None:
        self.name = name
        super().__init__(f"there is no {what} {name!r}{hint}")


class ContradictionError(CarwrightError):
    """Two observations of one value cannot both be right."""

    def __init__(self) -> None:
        super().__init__("the observations contradict each other, or what is possible")


class NothingToDateError(CarwrightError):
    """A file says nothing that could be dated."""

    def __init__(self, file: str) -> None:
        super().__init__(f"{file}: nothing to date: it holds no evidence and says nothing of the prototype")


class NothingToPublishError(CarwrightError):
    """A sheet has nothing for a format: no fault to claim, no time for a chapter."""


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing wrong in a file a person wrote.

    Parameters
    ----------
    line : int
        Line in the file, 0 when it has none [-].
    place : str
        Entry and key.
    message : str
        What was found and what was expected.
    """

    line: int
    place: str
    message: str

    def sentence(self, file: str) -> str:
        """One line: file, line, place, message."""
        where = f"{file}:{self.line}" if self.line else file
        return f"{where}: {self.place}: {self.message}" if self.place else f"{where}: {self.message}"


class SheetError(CarwrightError):
    """A bench sheet has faults; all of them are listed.

    Attributes
    ----------
    file : str
        The file's name.
    faults : tuple[Fault, ...]
        In the order of the file.
    """

    http_status = 422

    def __init__(self, file: str, faults: list[Fault]) -> None:
        self.file = file
        self.faults = tuple(sorted(faults))
        lines = [fault.sentence(file) for fault in self.faults[:SHOWN_AT_MOST]]
        hidden = len(self.faults) - len(lines)
        if hidden:
            lines.append(f"{file}: and {hidden} more")
        super().__init__("\n".join(lines))

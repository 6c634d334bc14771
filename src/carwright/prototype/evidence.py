"""Pieces of evidence as dating reads them: what each shows, what is claimed of it, and how far it is trusted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from carwright.dates import Span
from carwright.prototype.subject import Subject

CLAIMS = ("built", "rebuilt", "repainted", "renumbered", "last seen")
"""Dates of a car's life a piece of evidence may state."""


@dataclass(frozen=True, slots=True)
class Dating:
    """A date a piece of evidence shows on the car: a stencil somebody could read."""

    stencil: str
    month: int
    trust: float = 1.0


@dataclass(frozen=True, slots=True)
class Claim:
    """What somebody says: when the picture was taken (``taken``), or one of :data:`CLAIMS`.

    Attributes
    ----------
    about : str
        What is dated.
    span : Span
        The months it may mean.
    trust : float
        Chance that it is right [-].
    words, source : str
        As written, and who says so.
    root : str
        The source it was copied from, itself where it was not.
    """

    about: str
    span: Span
    trust: float
    words: str
    source: str
    root: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """One photograph, drawing, roster line, or the model itself.

    Attributes
    ----------
    name, of : str
        In words, and ``photo``, ``drawing``, ``roster`` or ``model``.
    subject : Subject
        The car as it stood, kind and use included.
    datings : tuple[Dating, ...]
        Legible stencils.
    claims : tuple[Claim, ...]
        Of the picture's date and the car's life.
    number : str
        The number the car bears there, "" where it is not known.
    hidden : tuple[str, ...]
        Features looked for and not visible.
    until : int or None
        The month it was looked at: no picture is later [months].
    entry, stage : int
        Entry of the sheet, counted from 1; 0 outside sheets. Stage of the model.
    """

    name: str
    of: str
    subject: Subject
    datings: tuple[Dating, ...] = ()
    claims: tuple[Claim, ...] = ()
    number: str = ""
    hidden: tuple[str, ...] = ()
    until: int | None = None
    entry: int = 0
    stage: int = 0

    def as_of(self) -> Subject:
        """The subject with its legible stencils."""
        return replace(self.subject, stencils={each.stencil: each.month for each in self.datings})


def counted_once(claims: Iterable[Claim]) -> tuple[Claim, ...]:
    """Claims without copies: of those that go back to one source and date one thing, the most trusted."""
    best: dict[tuple[str, str], Claim] = {}
    for claim in claims:
        key = (claim.about, (claim.root or claim.source).casefold())
        if key not in best or claim.trust > best[key].trust:
            best[key] = claim
    return tuple(best.values())

"""Cautions that follow from the materials in a car's parts list."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from carwright.history import CarPart, History
from carwright.tables import Tables


@dataclass(frozen=True, slots=True)
class Hazard:
    """A caution, the parts it comes from, and the remedies it matters to.

    Attributes
    ----------
    id, caution, text : str
        Row of ``words/hazards``, row of ``words/cautions``, and its words.
    parts : tuple[str, ...]
        Names of the parts.
    remedies : tuple[str, ...]
        Ids; ``*`` for any work.
    stops : bool
        Whether these works must not be done at all.
    """

    id: str
    caution: str
    text: str
    parts: tuple[str, ...]
    remedies: tuple[str, ...]
    stops: bool

    def matters_to(self, remedy: str) -> bool:
        """Whether a remedy must be warned of it."""
        return "*" in self.remedies or remedy in self.remedies


def hazards_of(history: History, tables: Tables) -> tuple[Hazard, ...]:
    """Hazards of a car, by what its parts are said to be made of."""
    texts = {name: row.words["text"] for name, row in tables.table("words/cautions").rows.items()}
    found = []
    for name, row in tables.table("words/hazards").rows.items():
        parts = _made_of(history.parts, row.words["material"])
        near = row.words.get("near", "")
        if not parts or (near and not _near(history.parts, parts, near)):
            continue
        remedies = tuple(row.words["remedies"].split())
        caution = row.words["caution"]
        named = tuple(part.name for part in parts)
        found.append(Hazard(name, caution, texts[caution], named, remedies, row.words.get("stops") == "yes"))
    return tuple(found)


def _made_of(parts: Iterable[CarPart], words: str) -> list[CarPart]:
    pattern = re.compile(rf"\b(?:{words})\b", re.IGNORECASE)
    return [part for part in parts if pattern.search(part.material)]


def _near(parts: Iterable[CarPart], own: Sequence[CarPart], words: str) -> bool:
    """Whether something in the car, or the same part's own description, is what the hazard needs beside it."""
    pattern = re.compile(rf"\b(?:{words})\b", re.IGNORECASE)
    return any(pattern.search(f"{part.material} {part.name}") for part in (*parts, *own))


def stops(hazards: Iterable[Hazard]) -> list[str]:
    """Remedies that must not be done."""
    return [remedy for hazard in hazards if hazard.stops for remedy in hazard.remedies]


def removed_first(history: History) -> list[str]:
    """Fragile parts: to take off before heavy work, or to guard where they stay on."""
    return [part.name for part in history.parts if part.fragile]

"""What is shown of one car, on a model or in a piece of evidence, as the rest of this room reads it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from carwright.dates import Span

State = Literal["present", "absent"]
Use = Literal["interchange", "home road", "company service"]
USES: tuple[Use, ...] = ("interchange", "home road", "company service")


@dataclass(frozen=True, slots=True)
class Shown:
    """One feature, or a whole group of them, that is there or is not.

    Attributes
    ----------
    feature : str
        A feature, or a group.
    state : str
        ``present`` or ``absent``; what is not visible is not among them.
    trust : float
        Chance that it was seen rightly [-].
    source : str
        Who says so, in words.
    """

    feature: str
    state: State
    trust: float = 1.0
    source: str = ""


@dataclass(frozen=True, slots=True)
class Subject:
    """A car as it stood at one time.

    Attributes
    ----------
    kind : str
        One of :data:`carwright.words.KINDS`, "" where it is not known.
    use : str
        Whether it ran in interchange, on its home road only, or in company service.
    owner, car_class : str
        For rules of one owner or class.
    shown : tuple[Shown, ...]
        Features.
    stencils : mapping
        Month of each date it bears, by stencil.
    built, rebuilt : Span or None
        When it was built and rebuilt, where no stencil says so.
    last_seen : Span or None
        When it was last seen, where anybody says so.
    """

    kind: str = ""
    use: Use = "interchange"
    owner: str = ""
    car_class: str = ""
    shown: tuple[Shown, ...] = ()
    stencils: Mapping[str, int] = field(default_factory=dict)
    built: Span | None = None
    rebuilt: Span | None = None
    last_seen: Span | None = None

    def present(self) -> frozenset[str]:
        """Features it shows, and their groups."""
        found = {each.feature for each in self.shown if each.state == "present"}
        return frozenset(found | {name.partition(".")[0] for name in found})

    def build(self) -> Span | None:
        """When it was built: its stencil, or what is known otherwise."""
        stencil = self.stencils.get("stencil.built")
        return Span(stencil, stencil) if stencil is not None else self.built

    def rebuild(self) -> Span | None:
        """When it was rebuilt, likewise."""
        stencil = self.stencils.get("stencil.rebuilt")
        return Span(stencil, stencil) if stencil is not None else self.rebuilt

    def painted(self) -> int | None:
        """The last month it was surely painted anew: repainted, rebuilt or built."""
        known = [self.stencils.get(f"stencil.{what}") for what in ("repainted", "rebuilt", "built")]
        known += [span.first for span in (self.built, self.rebuilt) if span is not None]
        return max((month for month in known if month is not None), default=None)

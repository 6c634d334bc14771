"""The life line of one car: built, rebuilt, repainted, renumbered, last seen, in one order with all its pictures.

Every event and every picture is a span of months. They are narrowed until each fits the others: nothing comes before
the car was built, nothing after it was last seen, a new number lies between the last picture of the old and the first
of the new. What changed between two pictures changed between them; long stretches nobody pictured are named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from carwright.dates import Span, iso
from carwright.prototype.evidence import Claim, Piece, counted_once
from carwright.prototype.subject import Subject
from carwright.prototype.window import BELIEVED
from carwright.tables.dated_model import Dated

GAP = 60
"""Months without a picture that are named as a gap."""
EVENTS = ("built", "rebuilt", "repainted", "renumbered", "last seen")


@dataclass(frozen=True, slots=True)
class Event:
    """One event and when it was; ``by`` names what says so, ``claimed`` whether somebody states it."""

    what: str
    span: Span
    by: str
    claimed: bool = True


@dataclass(frozen=True, slots=True)
class Sight:
    """One piece of evidence on the line, and how well the model agrees with it.

    Attributes
    ----------
    piece : Piece
        Which.
    span : Span
        When it can be from, all others considered.
    agrees, differs : tuple[str, ...]
        Features in which the model agrees with it, and those in which it does not.
    """

    piece: Piece
    span: Span
    agrees: tuple[str, ...] = ()
    differs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LifeLine:
    """All of it.

    Attributes
    ----------
    events : tuple[Event, ...]
        In order.
    sights : tuple[Sight, ...]
        In order.
    gaps : tuple[Span, ...]
        Stretches of five years and more between events and pictures.
    conflicts : tuple[str, ...]
        Where no order fits, in words.
    represents : int or None
        Place among ``sights`` of the one the model agrees with best.
    notes : tuple[str, ...]
        Claims that were not used, because more trusted ones say otherwise.
    """

    events: tuple[Event, ...]
    sights: tuple[Sight, ...]
    gaps: tuple[Span, ...] = ()
    conflicts: tuple[str, ...] = ()
    represents: int | None = None
    notes: tuple[str, ...] = ()


def life_line(
    dated: Dated, pieces: Sequence[Piece], spans: Sequence[Span], claims: Sequence[Claim], model: Subject | None
) -> LifeLine:
    """The line through several pieces of evidence of one car.

    Parameters
    ----------
    dated : Dated
        For names of features.
    pieces, spans : sequences
        Pictures, drawings and roster lines, and the months each can be from.
    claims : sequence of Claim
        Of the record, beside those of the pieces.
    model : Subject or None
        The model, to say which state it represents.
    """
    events, notes = _events([*claims, *(claim for piece in pieces for claim in piece.claims)], pieces)
    names = [f"{piece.of} {piece.name!r}" for piece in pieces]
    known, conflicts = _narrowed(events, list(spans), names)
    order = sorted(range(len(pieces)), key=lambda index: _middle(known.spans[index]))
    sights = [_sight(pieces[index], known.spans[index], model, dated) for index in order]
    made = [Event(what, span, by) for what, (span, by) in known.events.items()]
    made += _changes(sights, dated)
    made.sort(key=lambda event: (_middle(event.span), EVENTS.index(event.what) if event.what in EVENTS else 9))
    return LifeLine(
        events=tuple(made),
        sights=tuple(sights),
        gaps=tuple(_gaps(made, sights)),
        conflicts=tuple(conflicts),
        represents=_represents(sights),
        notes=tuple(notes),
    )


@dataclass(slots=True)
class _Known:
    events: dict[str, tuple[Span, str]]
    spans: list[Span]


def _events(claims: Sequence[Claim], pieces: Sequence[Piece]) -> tuple[dict[str, tuple[Span, str]], list[str]]:
    """Of each event the most trusted claim, narrowed by others that go with it; a legible stencil goes before all."""
    found: dict[str, tuple[Span, str]] = {}
    notes = []
    stencils = {"stencil.built": "built", "stencil.rebuilt": "rebuilt", "stencil.repainted": "repainted"}
    told = [
        Claim(stencils[each.stencil], Span(each.month, each.month), _legible(each.trust), iso(each.month), piece.name)
        for piece in pieces
        for each in piece.datings
        if each.stencil in stencils
    ]
    for claim in sorted([*told, *counted_once(claims)], key=lambda each: -each.trust):
        if claim.about == "taken":
            continue
        if claim.about not in found:
            found[claim.about] = (claim.span, claim.source)
            continue
        span, by = found[claim.about]
        both = span.common(claim.span)
        if both is None:
            notes.append(f"{claim.about} {claim.words} ({claim.source}) is not used: {by} says {span.words()}")
        else:
            found[claim.about] = (both, by if both == span else f"{by}; {claim.source}")
    return found, notes


def _legible(trust: float) -> float:
    """Trust in a stencil that was read, before that of any claim where it was read with any confidence."""
    return 1.0 + trust if trust >= BELIEVED else trust


def _narrowed(events: dict[str, tuple[Span, str]], spans: list[Span], names: Sequence[str]) -> tuple[_Known, list[str]]:
    """Spans that fit one another: built, then everything, then last seen."""
    known = _Known(dict(events), spans)
    conflicts: list[str] = []

    def before(first: str, then: str) -> None:
        left, right = _get(known, first, names), _get(known, then, names)
        if left is None or right is None:
            return
        (early, early_name), (late, late_name) = left, right
        if early.first is not None and late.last is not None and early.first > late.last:
            words = (
                f"{late_name} ({late.words()}) comes before {early_name} ({early.words()}), and should come after it"
            )
            if words not in conflicts:
                conflicts.append(words)
            return
        _put(known, first, Span(early.first, _least(early.last, late.last)))
        _put(known, then, Span(_most(late.first, early.first), late.last))

    things = [*(f"#{index}" for index in range(len(spans)))]
    for _ in range(2):
        for each in ("rebuilt", "repainted", "renumbered", *things):
            before("built", each)
            before(each, "last seen")
        before("built", "last seen")
    return known, conflicts


def _get(known: _Known, name: str, names: Sequence[str]) -> tuple[Span, str] | None:
    if name.startswith("#"):
        index = int(name[1:])
        return known.spans[index], names[index]
    return (known.events[name][0], name) if name in known.events else None


def _put(known: _Known, name: str, span: Span) -> None:
    if name.startswith("#"):
        known.spans[int(name[1:])] = span
    else:
        known.events[name] = (span, known.events[name][1])


def _least(one: int | None, other: int | None) -> int | None:
    return min((each for each in (one, other) if each is not None), default=None)


def _most(one: int | None, other: int | None) -> int | None:
    return max((each for each in (one, other) if each is not None), default=None)


def _middle(span: Span) -> float:
    if span.first is None or span.last is None:
        return float(span.first if span.first is not None else span.last if span.last is not None else 0)
    return (span.first + span.last) / 2


def _states(subject: Subject, dated: Dated) -> Mapping[str, str]:
    """By group, the feature that is there, "" where it is known that none is."""
    found: dict[str, str] = {}
    for each in subject.shown:
        group = dated.group_of[each.feature].id
        if each.state == "present":
            found[group] = each.feature
        elif len(dated.groups[group].features) == 1 or each.feature == group:
            found.setdefault(group, "")
    return found


def _sight(piece: Piece, span: Span, model: Subject | None, dated: Dated) -> Sight:
    if model is None:
        return Sight(piece, span)
    own, its = _states(model, dated), _states(piece.subject, dated)
    both = [group for group in own if group in its]
    same = tuple(dated.groups[group].title for group in both if own[group] == its[group])
    other = tuple(
        f"{dated.groups[group].title}: {_named(its[group], dated)}, on the model {_named(own[group], dated)}"
        for group in both
        if own[group] != its[group]
    )
    return Sight(piece, span, same, other)


def _named(feature: str, dated: Dated) -> str:
    return dated.title(feature) if feature else "none"


def _changes(sights: Sequence[Sight], dated: Dated) -> list[Event]:
    """What differs from one picture to the next that shows it, or its number, changed between the two."""
    found = []
    last: dict[str, tuple[str, Sight]] = {}
    for sight in sights:
        states = dict(_states(sight.piece.subject, dated))
        if sight.piece.number:
            states["number"] = sight.piece.number
        for group, state in states.items():
            before = last.get(group)
            if before is not None and before[0] != state:
                title = "number" if group == "number" else dated.groups[group].title
                old, new = (name if group == "number" else _named(name, dated) for name in (before[0], state))
                span = Span(before[1].span.first, sight.span.last)
                found.append(Event(f"{title}: {old} → {new}", span, f"{before[1].piece.name}; {sight.piece.name}",
                                   claimed=False))  # fmt: skip
            last[group] = (state, sight)
    return found


def _gaps(events: Sequence[Event], sights: Sequence[Sight]) -> list[Span]:
    """Stretches in which nothing is known of the car."""
    marks = [event.span for event in events if event.claimed] + [sight.span for sight in sights]
    whole = sorted((span.first, span.last) for span in marks if span.first is not None and span.last is not None)
    found = []
    until: int | None = None
    for first, last in whole:
        if until is not None and first - until > GAP:
            found.append(Span(until + 1, first - 1))
        until = last if until is None else max(until, last)
    return found


def _represents(sights: Sequence[Sight]) -> int | None:
    """The piece the model differs from least, then agrees with most; None where they share nothing."""
    shared = [index for index, sight in enumerate(sights) if sight.agrees or sight.differs]
    return min(
        shared, key=lambda index: (len(sights[index].differs), -len(sights[index].agrees), index), default=None
    )  # fmt: skip

"""What the bench shows: everything its template needs, worked out beforehand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from carwright.history import History
from carwright.history.telling import told
from carwright.inspection import words_of
from carwright.judge import OUTCOMES, Finding
from carwright.publish.charts.limits import limits_scene
from carwright.publish.scene import Scene
from carwright.publish.why import coupler_heading, share_lines
from carwright.publish.wording import limit_words, probability_words, rule_words, upper_first, value_words
from carwright.units import System
from carwright.web.asked import Asked
from carwright.web.desk import Seen
from carwright.web.entering import BY_ID, DOINGS, FIRST, Doing
from carwright.web.fields import Typed
from carwright.web.pages.bench.pad import Pad, Pads, Wish, place_words
from carwright.web.places import Spot, by_spot, spot_of, spots_of
from carwright.web.rendering import query
from carwright.web.touch import touchable

SHOWN_NEXT = 5
"""Readings named as the next ones."""
SHOWN_HISTORY = 12
"""Entries shown before the rest is folded away."""


@dataclass(frozen=True, slots=True)
class Line:
    """A finding as a row: words ready to be shown."""

    subject: str
    outcome: str
    value: str
    limits: str
    chance: str
    rule: str
    reason: str
    informs: bool
    scene: Scene | None
    href: str


@dataclass(frozen=True, slots=True)
class Next:
    """A reading to take next, and where that is done."""

    title: str
    how: str
    href: str


@dataclass(frozen=True, slots=True)
class Past:
    """An entry of the history as a row."""

    id: str
    words: str
    when: str
    who: str
    gone: bool
    correct: str


@dataclass(frozen=True)
class BenchView:
    """The page."""

    seen: Seen
    scene: Scene
    spot: Spot
    pad: Pad
    doings: tuple[tuple[str, str, bool], ...]
    more: tuple[tuple[str, str, bool], ...]
    here: tuple[Line, ...]
    elsewhere: tuple[Line, ...]
    counts: Mapping[str, int]
    causes: tuple[str, ...]
    next: tuple[Next, ...]
    past: tuple[Past, ...]
    due: tuple[str, ...]


class View:
    """Makes the bench of one car.

    Parameters
    ----------
    asked : Asked
        Who asks.
    seen : Seen
        The car.
    """

    def __init__(self, asked: Asked, seen: Seen) -> None:
        self._asked, self._seen = asked, seen
        self._words = words_of(seen.inspection.tables)
        self._spots = spots_of(seen.history)

    @property
    def _history(self) -> History:
        return self._seen.history

    def href(self, **names: object) -> str:
        """An address of the bench."""
        return f"/car/{self._seen.car}{query(**names)}"

    def made(self, wish: Wish, typed: Typed | None = None) -> BenchView:
        """The page for a wish, with what was typed where it was refused."""
        inspection = self._seen.inspection
        wish = self._wished(wish)
        spot = next(each for each in self._spots if each.id == wish.spot)
        doing = BY_ID.get(wish.do, DOINGS[0])
        findings = inspection.findings
        told_at = by_spot(findings, self._spots)
        lines = [self._line(each) for each in self._ordered(told_at[spot.id])]
        away = [each for each in findings if each not in told_at[spot.id] and each.outcome in {"fails", "undecided"}]

        def address(to: Spot) -> str:
            return self.href(spot=to.id, do=doing.id if doing.id != "measure" else "")

        charges = inspection.rubric.charges
        return BenchView(
            seen=self._seen,
            scene=touchable(self._history, findings, charges, chosen=spot.id, address=address),
            spot=spot,
            pad=Pads(self._asked, self._seen, self.href).made(doing, spot, wish, typed),
            doings=tuple(self._doing(each, doing, spot) for each in FIRST),
            more=tuple(self._doing(each.id, doing, spot) for each in DOINGS if each.id not in FIRST),
            here=tuple(lines),
            elsewhere=tuple(self._line(each) for each in self._ordered(away) if each.force in charges),
            counts={
                outcome: sum(each.outcome == outcome and each.force in charges for each in findings)
                for outcome in OUTCOMES
            },
            causes=tuple(self._causes()),
            next=tuple(self._next()),
            past=tuple(self._past()),
            due=tuple(each.sentence for each in self._seen.due.reasons),
        )

    def _wished(self, wish: Wish) -> Wish:
        """A wish with what it leaves open filled in: the best next reading where nothing was asked for."""
        known = {each.id for each in self._spots}
        if wish.spot in known:
            return wish
        best = next(iter(self._seen.inspection.next_readings), None)
        place = spot_of(self._spots, best.what, best.at) if best is not None else None
        if best is None or place is None or wish.do != "measure":
            return Wish("coupler-A", wish.do, wish.what, wish.at, wish.entry)
        return Wish(place.id, wish.do, best.what, best.at, wish.entry)

    def _doing(self, name: str, chosen: Doing, spot: Spot) -> tuple[str, str, bool]:
        return BY_ID[name].title, self.href(spot=spot.id, do=name), chosen.id == name

    def _ordered(self, findings: Sequence[Finding]) -> list[Finding]:
        charges = self._seen.inspection.rubric.charges
        return sorted(findings, key=lambda each: (each.force not in charges, OUTCOMES.index(each.outcome)))

    def _line(self, finding: Finding) -> Line:
        inspection, system = self._seen.inspection, self._history.system
        spot = spot_of(self._spots, finding.characteristic, finding.at)
        readable = finding.characteristic in self._words.characteristics
        return Line(
            finding.subject,
            finding.outcome,
            value_words(finding, system),
            limit_words(finding, system),
            probability_words(finding.p_conform),
            rule_words(finding, inspection.rubric.charges),
            finding.reason,
            finding.force not in inspection.rubric.charges,
            limits_scene(finding, system),
            self.href(spot=spot.id, what=finding.characteristic, at=finding.at) if spot and readable else "",
        )

    def _causes(self) -> Iterator[str]:
        system = self._history.system
        failing = {
            each.at for each in self._seen.inspection.findings
            if each.characteristic == "coupler.height" and each.outcome in {"fails", "undecided"}
        }  # fmt: skip
        for coupler in self._seen.inspection.explanation.couplers:
            if coupler.at in failing:
                lines = share_lines(coupler, system)[:3]
                shares = "; ".join(
                    f"{line.name} {line.amount}{f' ({line.basis})' if line.basis else ''}" for line in lines
                )
                yield f"{upper_first(coupler_heading(coupler, system))}: {shares}"

    def _next(self) -> Iterator[Next]:
        for each in self._seen.inspection.next_readings[:SHOWN_NEXT]:
            spot = spot_of(self._spots, each.what, each.at)
            title = self._words.characteristics[each.what].title
            where = place_words(each.at)
            chance = f", decides with probability {each.p_decided:.2f}" if each.p_decided is not None else ""
            by = "by hand" if each.instrument == "by hand" else f"with the {each.instrument}"
            times = f", {each.n} readings" if each.n > 1 else ""
            do = "gauge" if self._words.characteristics[each.what].kind is None else ""
            yield Next(
                f"{upper_first(title)}{f', {where}' if where else ''}",
                f"{by}{times}, about {each.minutes:.2g} min{chance}; {each.why}",
                self.href(spot=spot.id, do=do, what=each.what, at=each.at) if spot else "",
            )

    def _titled(self, body: Mapping[str, object]) -> dict[str, object]:
        """An entry with the plain names of what it is about."""
        what, remedy = str(body.get("what", "")), str(body.get("remedy", ""))
        shown = dict(body)
        if what in self._words.characteristics:
            shown["what"] = self._words.characteristics[what].title
        elif body.get("kind") == "look":
            shown["what"] = self._words.looks.get(what, what)
        if remedy in self._words.remedies:
            shown["remedy"] = self._words.remedies[remedy].title
        if body.get("name"):
            shown["what"] = f"{body['name']}" if what == "dimension" else f"{shown['what']}, {body['name']}"
        return shown

    def _past(self) -> Iterator[Past]:
        rows = self._seen.state.entries
        later = {str(each.content().get("supersedes", "")) for each in rows}
        for each in reversed(rows):
            body = each.content()
            doing = next((do.id for do in DOINGS if do.kind == body["kind"]), "")
            spot = spot_of(self._spots, str(body.get("what", "")), str(body.get("at", "")))
            correct = (
                self.href(spot=spot.id if spot else "body", do=doing, entry=each.id)
                if doing and doing != "photo"
                else ""
            )
            when = str(body.get("when", "")).replace("T", " ")[:16]
            yield Past(
                each.id,
                upper_first(told(self._titled(body))),
                when,
                str(body.get("who", "")),
                each.id in later,
                correct,
            )


@dataclass(frozen=True, slots=True)
class Preview:
    """What a value would come to: the value with its uncertainty, and each outcome with what it is held against."""

    value: str
    lines: tuple[tuple[str, str], ...]


def preview(findings: Sequence[Finding], what: str, at: str, system: System, charges: Sequence[str]) -> Preview:
    """What a value would come to, the rules that may cost points first.

    Parameters
    ----------
    findings : sequence of Finding
        Of the car as it would be.
    what, at : str
        Characteristic and place.
    system : str
        Units to say it in.
    charges : sequence of str
        Forces that may cost points.
    """
    own = [each for each in findings if each.characteristic == what and each.at in {at, ""}]
    told = [each for each in own if each.outcome != "not measured"]
    lines = []
    for each in sorted(told, key=lambda one: one.force not in charges):
        informs = "" if each.force in charges else ", informs"
        chance = probability_words(each.p_conform)
        limits = limit_words(each, system)
        parts = [limits, f"probability {chance}" if chance else ""]
        lines.append((each.outcome, f"{', '.join(filter(None, parts))}{informs}"))
    return Preview(value_words(told[0], system) if told else "", tuple(dict.fromkeys(lines)))

"""What is wrong on a car in a wanted month or year: each thing once, with the rule and its source."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from carwright.dates import Span, Spans, iso, spans_words
from carwright.prototype.book import Limit
from carwright.prototype.window import Stretch, Window
from carwright.tables.dated_model import Dated, DatedRule

Judged = Literal["wrong", "doubtful", "right"]


@dataclass(frozen=True, slots=True)
class Anachronism:
    """One thing that does not go with the wanted months.

    Attributes
    ----------
    name, state : str
        A feature there or missing, a stencil with its date, or ``age``.
    judged : str
        ``wrong`` where a sure source rules it out, ``doubtful`` where some source does.
    title, says : str
        What it is, and when it would be right.
    rules : tuple[DatedRule, ...]
        What says so.
    why : tuple[str, ...]
        What says so where it is no dated rule.
    """

    name: str
    state: str
    judged: Judged
    title: str
    says: str
    rules: tuple[DatedRule, ...] = ()
    why: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The whole in one sentence."""
        return f"{self.title}: {self.says}"


def judge(stretch: Stretch, wanted: Span) -> Judged:
    """Whether one thing is right in all the wanted months, wrong in all of them, or doubtful."""
    if stretch.broken or not any(span.meets(wanted) for span in stretch.hard):
        return "wrong"
    if stretch.doubtful or not any(span.covers(wanted) for span in stretch.soft):
        return "doubtful"
    return "right"


def anachronisms(window: Window, wanted: Span, dated: Dated) -> list[Anachronism]:
    """Everything that is not right in the wanted months: what is wrong first, by the strength of what says so.

    Parameters
    ----------
    window : Window
        Of the car.
    wanted : Span
        Months it is to be right in.
    dated : Dated
        For names.
    """
    found = [
        _made(stretch, judged, wanted, dated)
        for stretch in told_once(window.stretches, wanted)
        if (judged := judge(stretch, wanted)) != "right"
    ]
    return sorted(found, key=lambda each: (each.judged != "wrong", _strength(each.rules), each.name))


def best_year(window: Window, wanted: Span) -> Span:
    """The year of a longer stretch in which least is wrong, then least doubtful, then the one in its middle.

    A stretch of a year or less, or one without an end, is itself.
    """
    if wanted.first is None or wanted.last is None or wanted.last - wanted.first < 12:  # noqa: PLR2004 - a year
        return wanted
    years = [Span(12 * year, 12 * year + 11) for year in range(-(-wanted.first // 12), (wanted.last + 1) // 12)]
    if not years:
        return wanted
    middle = (wanted.first + wanted.last) / 2

    def off(year: Span) -> tuple[int, int, float]:
        judged = [judge(stretch, year) for stretch in window.stretches]
        return judged.count("wrong"), judged.count("doubtful"), abs((year.first or 0) + 5.5 - middle)

    return min(years, key=off)


def told_once(stretches: Sequence[Stretch], wanted: Span) -> list[Stretch]:
    """Stretches without those only implied where the feature that implies them is itself not right."""
    named = {stretch.name.partition(".")[0] for stretch in stretches
             if not stretch.implied and judge(stretch, wanted) != "right"}  # fmt: skip
    return [each for each in stretches if not (each.implied and each.name.partition(".")[0] in named)]


def _strength(rules: Sequence[DatedRule]) -> int:
    order = {"regulation": 0, "interchange rule": 1, "practice": 2}
    return min((order[rule.strength] for rule in rules), default=1)


def _made(stretch: Stretch, judged: Judged, wanted: Span, dated: Dated) -> Anachronism:
    title = dated.title(stretch.name)
    if stretch.bar is None:
        allowed = spans_words(stretch.soft if judged == "doubtful" else stretch.hard)
        return Anachronism(
            stretch.name, stretch.state, judged, f"{title} ({stretch.state})", f"right {allowed}", (), stretch.why
        )  # fmt: skip
    limits = list(stretch.broken if judged == "wrong" else (*stretch.broken, *stretch.doubtful))
    words = [_dated(limit, stretch.state, hard=judged == "wrong") for limit in limits]
    spans = stretch.hard if judged == "wrong" else stretch.soft
    if not any(span.meets(wanted) if judged == "wrong" else span.covers(wanted) for span in spans):
        setting = [limit for limit in stretch.bar.limits if limit.about == "seen" and _sets(limit, spans, judged)]
        limits += setting
        part = any(span.meets(wanted) for span in spans)
        verb = {"present": "right", "absent": "may be missing"}[stretch.state]
        words.append(f"{verb} {spans_words(spans)}{', so in a part of the wanted months' if part else ''}")
    missing = "missing: " if stretch.state == "absent" else ""
    rules = tuple(dict.fromkeys(limit.rule for limit in limits))
    return Anachronism(stretch.name, stretch.state, judged, f"{missing}{title}", "; ".join(words), rules)


def _sets(limit: Limit, spans: Spans, judged: Judged) -> bool:
    value = limit.hard if judged == "wrong" else limit.soft
    edges = {edge for span in spans for edge in (span.first, span.last)}
    return value is not None and (not spans or value in edges)


def _dated(limit: Limit, state: str, *, hard: bool) -> str:
    last = limit.hard if hard else limit.soft
    what = {"built": "cars built", "rebuilt": "cars rebuilt", "painted": "cars painted"}[limit.about]
    return f"{'missing only' if state == 'absent' else 'only'} on {what} until {iso(last)}"


def words_of_rules(rules: Iterable[DatedRule]) -> str:
    """Rules with their dates and marks, for the end of a line."""
    return "; ".join(f"{rule.event} {rule.date_words()} ({rule.id}; {rule.marks()})" for rule in rules)

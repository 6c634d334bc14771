"""The re-inspection report: what changed in a car since it was last looked at."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from carwright.errors import CarwrightError
from carwright.history.records import Work
from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.changes import Change, changes_of, of_same_entries
from carwright.publish.drawing.elevation import elevation
from carwright.publish.report.content import Block, Figure, Front, Item, Items, Paragraph, Report, Section
from carwright.publish.report.tables import change_table
from carwright.publish.wording import upper_first


def _was_decided(change: Change) -> bool:
    return change.before is not None and change.before.outcome in {"conforms", "fails"}


_GROUPS: tuple[tuple[str, Callable[[Change], bool]], ...] = (
    ("Went wrong", lambda each: each.fate == "went wrong"),
    ("Fails, and was not decided before", lambda each: each.fate == "decided" and each.finding.outcome == "fails"),
    ("Came right", lambda each: each.fate == "came right"),
    (
        "Conforms, and was not decided before",
        lambda each: each.fate == "decided" and each.finding.outcome == "conforms",
    ),
    ("Still fails", lambda each: each.fate == "still fails"),
    ("Moved, and judged as before", lambda each: each.fate == "moved"),
    ("No longer decided", lambda each: each.fate == "undone" and _was_decided(each)),
    ("Open then, and not measured now", lambda each: each.fate == "undone" and not _was_decided(each)),
    ("Judged at one time only", lambda each: each.fate in {"new", "gone"}),
)
"""What became of requirements, in the order a reader wants it."""


class OtherCarError(CarwrightError):
    """Two sheets are not of one car."""

    def __init__(self, then: str, now: str, why: str) -> None:
        self.then, self.now = then, now
        super().__init__(f"{then[:50]!r} and {now[:50]!r} are not one car: {why}")


def reinspection_of(
    before: Inspection, after: Inspection, *, version: str, then: str = "before", now: str = "now"
) -> Report:
    """What changed between two inspections of one car.

    Parameters
    ----------
    before, after : Inspection
        The findings shown of each are compared: of two sheets, or of two stages of one.
    version : str
        The program's.
    then, now : str
        What each is called.

    Raises
    ------
    OtherCarError
        "'Boxcar' and 'Boxcar' are not one car: their ids differ"
    """
    _same_car(before, after)
    history, one_sheet = after.history, before.history is after.history
    same = of_same_entries if one_sheet else _same_readings(before, after)
    told = [each for each in changes_of(before.findings, after.findings, same) if _counts(each, before, after)]
    sections: list[Section] = []
    for title, belongs in _GROUPS:
        rows = [each for each in told if belongs(each)]
        if rows:
            caption = f"{len(rows)} {'requirement' if len(rows) == 1 else 'requirements'}"
            table = change_table(caption, rows, history.system, (upper_first(then), upper_first(now)))
            sections.append(Section(title, (table,)))
    sections.append(Section("As before", tuple(_as_before(told))))
    first = before.stage if one_sheet else -1
    known = set() if one_sheet else {_work_key(work) for work in before.history.works}
    works = [work for work in history.works if first < work.stage <= after.stage and _work_key(work) not in known]
    if works:
        items = tuple(
            Item(f"{history.stages[w.stage].title.removeprefix('after ')}{', ' + w.when if w.when else ''}")
            for w in works
        )
        sections.append(Section("Works the history holds", (Items(items, "numbered"),)))
    failing = len(_failing(after))
    figure = Figure((elevation(history, after.findings, []),), "The car as it stands, to scale, A end on the right.")
    front = Front(
        kicker="Re-inspection: what changed",
        title=history.title,
        facts=f"{then}: {before.history.stages[before.stage].title}; {now}: {history.stages[after.stage].title}",
        verdict=(
            ("Status then", before.shown_status, ""),
            ("Status now", after.shown_status, ""),
            ("Fails now", str(failing), f"of {len(told)} requirements that count"),
        ),
        summary=tuple(_summary(told, before, after)),
        figure=figure,
    )
    foot = (f"carwright {version}. A change is called one where it exceeds its own uncertainty with probability 0.95.",)
    return Report(front, tuple(sections), foot, f"Re-inspection, {history.title}")


def _work_key(work: Work) -> tuple[str, ...]:
    return work.remedy, work.at, work.amount, work.when


def _same_car(before: Inspection, after: Inspection) -> None:
    one, other = before.history, after.history
    if one.id and other.id and one.id != other.id:
        raise OtherCarError(one.title, other.title, "their ids differ")
    if one.scale.name != other.scale.name:
        raise OtherCarError(one.title, other.title, f"one is in {one.scale.name}, the other in {other.scale.name}")
    if not (one.id and other.id) and one.title != other.title:
        raise OtherCarError(one.title, other.title, "their titles differ, and no id under [car] says that they are one")


def _same_readings(before: Inspection, after: Inspection) -> Callable[[Finding, Finding], bool]:
    """Whether findings of two sheets rest on readings copied from one to the other: by what was written, and when."""

    def read(inspection: Inspection, finding: Finding) -> list[tuple[object, ...]]:
        history = inspection.history
        when = {each.entry: each.when for each in history.log}
        return sorted(
            (
                each.what,
                each.at,
                each.place,
                each.figures.name,
                when.get(each.entry, ""),
                [v.value for v in each.values],
            )
            for each in history.readings
            if each.entry in finding.entries
        )

    return lambda one, other: read(before, one) == read(after, other)


def _counts(change: Change, before: Inspection, after: Inspection) -> bool:
    return change.finding.force in {*before.rubric.charges, *after.rubric.charges}


def _failing(inspection: Inspection) -> list[Finding]:
    return [each for each in inspection.findings if each.outcome == "fails" and each.force in inspection.rubric.charges]


def _summary(told: Sequence[Change], before: Inspection, after: Inspection) -> list[str]:
    def subjects(*fates: str) -> list[str]:
        return list(dict.fromkeys(each.finding.subject for each in told if each.fate in fates))

    wrong, right = subjects("went wrong"), subjects("came right")
    first = f"Went wrong: {', '.join(wrong)}." if wrong else "Nothing that conformed has gone wrong."
    second = f"Came right: {', '.join(right)}." if right else "Nothing that failed has come right."
    still = subjects("still fails")
    third = f"Still fails: {', '.join(still)}." if still else "Nothing fails at both times."
    same = before.verdict.points == after.verdict.points and before.verdict.out_of == after.verdict.out_of
    if before.history is not after.history and not same:
        third += (
            f" Points as received: {before.verdict.points:g} of {before.verdict.out_of:g} then, "
            f"{after.verdict.points:g} of {after.verdict.out_of:g} now."
        )
    return [first, second, third]


def _as_before(told: Sequence[Change]) -> list[Block]:
    same = [each for each in told if each.fate == "as before"]
    again = [each.finding.subject for each in same if each.moved is not None]
    rest = [each.finding.subject for each in same if each.moved is None]
    blocks: list[Block] = []
    if again:
        blocks.append(
            Paragraph(f"Measured again and the same within its uncertainty: {', '.join(dict.fromkeys(again))}.")
        )
    if rest:
        blocks.append(Paragraph(f"Not measured again, or not by figures: {', '.join(dict.fromkeys(rest))}."))
    return blocks or [Paragraph("Nothing stayed as it was.")]

"""The cards of one car: title, each measurement against its limits, looks, before and after, points so far, verdict."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.changes import Change, changes_of, fate_words
from carwright.publish.charts.limits import bar_shapes, window_of
from carwright.publish.drawing.deformed import before_after, deformation_of
from carwright.publish.drawing.elevation import elevation
from carwright.publish.lettering import Lettering
from carwright.publish.scene import Group, Path, Rect, Scene, Shape, Text, line
from carwright.publish.video.frame import (
    BOTTOM,
    HEIGHT,
    LEFT,
    PAD,
    RIGHT,
    SMALLEST,
    TOP,
    WIDTH,
    Card,
    card_scene,
    label,
    plate,
)
from carwright.publish.wording import MARKS, limit_words, probability_words, rule_words, split, value_words
from carwright.verdict import Deduction, Verdict

_LOWER = 300.0
"""Height of the plate of a measurement [px]."""
_REASONS = 3
"""Lines of reasons a verdict card has room for."""
_CAME = {"came right", "went wrong", "moved", "decided", "undone"}


def cards_of(inspection: Inspection, letters: Lettering) -> list[Card]:
    """Every card, in the order they are wanted: title, bench order, before and after, points, verdict.

    Parameters
    ----------
    inspection : Inspection
        What is told.
    letters : Lettering
        For the room words take.

    Raises
    ------
    TextFitError
        "title card: '...' does not fit 2 lines of 1232 at size 44; write it shorter"
    """
    makers = [
        _title(inspection, letters),
        *_measurements(inspection, letters),
        *_before_and_after(inspection, letters),
        *_points(inspection, letters),
        _verdict(inspection, letters),
    ]
    digits = max(2, len(str(len(makers))))
    return [
        Card(f"{number:0{digits}d}-{name}", about, scene, entries)
        for number, (name, about, scene, entries) in enumerate(makers, 1)
    ]


_Made = tuple[str, str, Scene, tuple[int, ...]]


def slug(text: str) -> str:
    """A name for a file: small letters, digits and hyphens, 48 at most."""
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")[:48].strip("-") or "card"


def short_title(inspection: Inspection) -> str:
    """The title cards bear: the sheet's short one, else the car's."""
    return inspection.history.reported.short or inspection.history.title


def _title(inspection: Inspection, letters: Lettering) -> _Made:
    history = inspection.history
    width = 1300.0
    room = width - 2 * PAD
    place = "title card"
    title = letters.fit(short_title(inspection), width=room, lines=2, largest=84, smallest=44, place=place, bold=True)
    facts = [f"{history.scale.name}, 1:{history.scale.ratio:g}", *([history.type] if history.type else [])]
    facts += [f"{name} {history.prototype[name]}" for name in ("owner", "number") if name in history.prototype]
    second = letters.cut(", ".join(facts), room, 40.0)
    by = letters.cut(f"inspected by {history.reported.by}", room, 36.0) if history.reported.by else ""
    height = PAD * 2 + title.size * 1.12 * len(title.lines) + 58 + (48 if by else 0)
    top = BOTTOM - height
    shapes = plate(LEFT, top, LEFT + width, BOTTOM)
    y = top + PAD + title.size * 0.82
    for words in title.lines:
        shapes.append(label(LEFT + PAD, y, words, title.size, bold=True))
        y += title.size * 1.12
    shapes.append(label(LEFT + PAD, y + 8, second, 40.0, ink="soft"))
    if by:
        shapes.append(label(LEFT + PAD, y + 56, by, 36.0, ink="soft"))
    return "title", "the car's title", card_scene(shapes, f"{short_title(inspection)}; {second}"), ()


def bench_order(findings: Sequence[Finding]) -> list[Finding]:
    """Findings by the first entry behind them: the order in which things were done."""
    return sorted(findings, key=lambda each: (min(each.entries, default=10**6), each.title, each.at))


def _measurements(inspection: Inspection, letters: Lettering) -> Iterator[_Made]:
    charged, _ = split(inspection)
    told = [each for each in charged if each.rule_set != "dated"]
    for finding in bench_order(told):
        yield _measurement(finding, inspection, letters)


def _measurement(finding: Finding, inspection: Inspection, letters: Lettering) -> _Made:
    """A lower third: what, how much, the bar, the outcome as word and shape."""
    system = inspection.history.system
    width = 1500.0
    left, right, top = LEFT, LEFT + width, BOTTOM - _LOWER
    x, room = left + PAD, width - 2 * PAD
    shapes = plate(left, top, right, BOTTOM)
    outcome = f"{MARKS[finding.outcome]} {finding.outcome}"
    side = letters.width(outcome, 54.0, bold=True)
    place = f"card of {finding.subject}"
    name = letters.fit(
        finding.subject, width=room - side - 40, lines=1, largest=54, smallest=34, place=place, bold=True
    )
    shapes += [
        label(x, top + 70, name.lines[0], name.size, bold=True),
        label(right - PAD, top + 70, outcome, 54.0, bold=True, end=True),
    ]
    value, limits = value_words(finding, system), limit_words(finding, system)
    bar = bar_shapes(finding, x + room * 0.5, top + 100, room * 0.5, 96.0, 4.0)
    if bar:
        shapes.append(label(x, top + 158, letters.cut(value, room * 0.48, 58.0), 58.0))
        shapes += bar
        second = f"limits {limits}" if limits else ""
    else:
        shapes.append(label(x, top + 158, letters.cut(value or finding.basis, room, 58.0), 58.0))
        second = finding.reason or (f"limits {limits}" if limits else "")
    p = probability_words(finding.p_conform)
    chance = f"P conforms {p}" if p else ""
    rule = rule_words(finding, inspection.rubric.charges)
    last = "; ".join(part.rstrip(".") for part in (second, chance, rule) if part)
    lines = letters.wrap(last, room, 36.0)[:2]
    if len(letters.wrap(last, room, 36.0)) > len(lines):
        lines[-1] = letters.cut(f"{lines[-1]} …", room, 36.0)
    shapes += [label(x, top + 222 + 44 * index, words, 36.0, ink="soft") for index, words in enumerate(lines)]
    words = f"{finding.subject}: {value}; {last}; {finding.outcome}"
    return slug(f"{finding.characteristic} {finding.at}"), finding.subject, card_scene(shapes, words), finding.entries


def _before_and_after(inspection: Inspection, letters: Lettering) -> Iterator[_Made]:
    """Changes that works brought, one card each, then the car bent before and after."""
    if not inspection.history.works:
        return
    for change in changes_of(inspection.received, inspection.last):
        finding = change.finding
        if change.fate in _CAME and finding.force in inspection.rubric.charges and finding.rule_set != "dated":
            yield _change(change, inspection, letters)
    yield from _bent(inspection)


def _change(change: Change, inspection: Inspection, letters: Lettering) -> _Made:
    system = inspection.history.system
    width, height = 1500.0, 340.0
    left, right, top = LEFT, LEFT + width, BOTTOM - height
    x, room = left + PAD, width - 2 * PAD
    shapes = plate(left, top, right, BOTTOM)
    place = f"before and after card of {change.finding.subject}"
    name = letters.fit(change.finding.subject, width=room, lines=1, largest=50, smallest=34, place=place, bold=True)
    shapes.append(label(x, top + 66, name.lines[0], name.size, bold=True))
    window = window_of([each for each in (change.before, change.after) if each is not None])
    for index, (when, finding) in enumerate((("as received", change.before), ("now", change.after))):
        y = top + 130 + 80 * index
        shapes.append(label(x, y, when, 38.0, ink="soft"))
        if finding is None:
            shapes.append(label(x + 260, y, "not judged", 44.0))
            continue
        told = f"{MARKS[finding.outcome]} {value_words(finding, system) or finding.outcome}"
        shapes.append(label(x + 240, y, letters.cut(told, 560.0, 44.0), 44.0))
        shapes += bar_shapes(finding, x + 830, y - 46, room - 830, 64.0, 3.0, window)
    fate = letters.cut(fate_words(change, system), room, 38.0)
    shapes.append(label(x, top + 302, fate, 38.0, bold=True))
    entries = change.after.entries if change.after is not None else ()
    subject = change.finding.subject
    name_of = slug(f"after {change.finding.characteristic} {change.finding.at}")
    return name_of, f"{subject}, before and after", card_scene(shapes, f"{subject}: {fate}"), entries


def _bent(inspection: Inspection) -> Iterator[_Made]:
    """The car itself, drawn bent, as it stands and as plan 1 would leave it."""
    offered = inspection.plans.offered
    found = deformation_of(inspection, offered[0] if offered else None)
    if found is None:
        return
    states = (("bent-now", "as it stands"), ("bent-then", "as plan 1 would leave it"))
    for scene, (name, state) in zip(before_after(inspection, found), states, strict=False):
        bare = replace(scene, items=tuple(item for item in scene.items if not isinstance(item, Text)))
        shapes = plate(LEFT, TOP, RIGHT, BOTTOM)
        shapes.append(fitted(bare, LEFT + PAD + 8, TOP + PAD + 70, RIGHT - PAD, BOTTOM - PAD - 60))
        larger = f"deviations drawn {found.bent_factor:g} times larger"
        shapes += [
            label(LEFT + PAD, TOP + 70, state, 54.0, bold=True),
            label(LEFT + PAD, BOTTOM - PAD, "B end", 38.0, ink="soft"),
            label(RIGHT - PAD, BOTTOM - PAD, "A end", 38.0, ink="soft", end=True),
            label(RIGHT - PAD, TOP + 66, larger, 38.0, ink="soft", end=True),
        ]
        yield name, f"the car {state}", card_scene(shapes, f"{scene.words}; {larger}"), ()


def fitted(scene: Scene, left: float, top: float, right: float, bottom: float) -> Group:
    """A scene as large as it goes within a frame, in its middle."""
    scale = min((right - left) / scene.width, (bottom - top) / scene.height)
    x = (left + right - scale * scene.width) / 2 - scale * scene.x
    y = (top + bottom - scale * scene.height) / 2 - scale * scene.y
    return Group(scene.items, move=(x, y), scale=scale, what=scene.kind)


def _points(inspection: Inspection, letters: Lettering) -> Iterator[_Made]:
    """The points so far, one card after each deduction."""
    verdict = inspection.verdict
    for index in range(1, len(verdict.deductions) + 1):
        yield _so_far(verdict, index, letters)


def _so_far(verdict: Verdict, index: int, letters: Lettering) -> _Made:
    lost = verdict.deductions[index - 1]
    standing = verdict.out_of - sum(each.points for each in verdict.deductions[:index])
    width, height = 760.0, 250.0
    left, top = RIGHT - width, TOP
    x, room = left + PAD, width - 2 * PAD
    shapes = plate(left, top, RIGHT, top + height)
    amount = f"−{lost.points:.1f}{' ?' if lost.provisional else ''}"
    shapes += [
        label(x, top + 84, f"{standing:.1f}", 76.0, bold=True),
        label(
            x + letters.width(f"{standing:.1f} ", 76.0, bold=True),
            top + 84,
            f"of {verdict.out_of:g} so far",
            38.0,
            ink="soft",
        ),
        label(RIGHT - PAD, top + 84, amount, 52.0, bold=True, end=True),
    ]
    bar, y = room, top + 112
    kept = bar * standing / verdict.out_of
    step = bar * lost.points / verdict.out_of
    shapes += [
        Rect(x, y, bar, 26.0, "ink", 2.0, "none", "whole"),
        Rect(x, y, kept, 26.0, fill="ink", what="kept"),
        Path(line([(x + kept, y - 8), (x + kept, y + 34)]), "accent", 4.0, what="step"),
        Rect(x + kept, y, max(step, 2.0), 26.0, fill="accent", what="lost"),
    ]
    told = f"{_plainly(lost)}{', provisional' if lost.provisional else ''}"
    lines = letters.wrap(letters.shown(told), room, 34.0)
    shown = lines[:2]
    if len(lines) > len(shown):
        shown[-1] = letters.cut(f"{shown[-1]} …", room, 34.0)
    shapes += [label(x, top + 184 + 42 * row, words, 34.0) for row, words in enumerate(shown)]
    words = f"{standing:.1f} of {verdict.out_of:g} points so far; {told} {amount}"
    return slug(f"points {index} {lost.title}"), words, card_scene(shapes, words), ()


def _plainly(deduction: Deduction) -> str:
    """Title of a deduction, its cause in words: ``frame bow`` for ``frame.bow``."""
    return deduction.title.replace(deduction.cause, deduction.cause.replace(".", " "), 1)


def _verdict(inspection: Inspection, letters: Lettering) -> _Made:
    """Status, points and the rubric's word, in the middle of the frame."""
    verdict = inspection.verdict
    width, room = 1300.0, 1300.0 - 2 * PAD - 10
    name = short_title(inspection)
    title = letters.fit(name, width=room, lines=2, largest=52, smallest=36, place="verdict card", bold=True)
    reasons = letters.wrap(letters.shown("; ".join(verdict.status_reasons)), room, 36.0)
    shown = reasons[:_REASONS]
    if len(reasons) > len(shown):
        shown[-1] = letters.cut(f"{shown[-1]} …", room, 36.0)
    head = title.size * 1.15 * len(title.lines)
    height = head + 250 + 44 * len(shown)
    left, top = (WIDTH - width) / 2, (HEIGHT - height) / 2
    x, y = left + PAD + 10, top + 74
    shapes = plate(left, top, left + width, top + height)
    for words in title.lines:
        shapes.append(label(x, y, words, title.size, bold=True))
        y += title.size * 1.15
    points = f"{verdict.points:g} of {verdict.out_of:g} points" if verdict.out_of else "no points yet"
    told = f"{points} as received: {verdict.band}" if verdict.out_of else points
    shapes.append(label(x, y + 60, letters.cut(verdict.status, room, 84.0, bold=True), 84.0, bold=True))
    shapes.append(label(x, y + 130, letters.cut(told, room, 46.0), 46.0))
    shapes += [label(x, y + 192 + 44 * row, words, 36.0, ink="soft") for row, words in enumerate(shown)]
    said = f"{name}: {verdict.status}; {told}"
    return "verdict", "the verdict", card_scene(shapes, said), ()


def cover_scene(inspection: Inspection, letters: Lettering) -> Scene:
    """The still for the cover: the car to scale over its title, on a ground of its own.

    Raises
    ------
    TextFitError
        "cover: '...' does not fit 2 lines of 1728 at size 56; write it shorter"
    """
    history, verdict = inspection.history, inspection.verdict
    room = RIGHT - LEFT
    title = letters.fit(
        short_title(inspection), width=room, lines=2, largest=110, smallest=56, place="cover", bold=True
    )
    drawing = elevation(history, inspection.findings, [])
    car = [
        item
        for item in drawing.items
        if getattr(item, "what", "") not in {"extension", "dimension", "arrow", "figure", "end"}
    ]
    bare = Scene(drawing.x, drawing.y, drawing.width, -drawing.y + 0.02 * drawing.width, tuple(car), "", "elevation")
    foot = title.size * 1.1 * len(title.lines) + 150
    shapes: list[Shape] = [
        Rect(0.0, 0.0, WIDTH, HEIGHT, fill="paper", what="ground"),
        fitted(bare, LEFT, TOP + 10, RIGHT, BOTTOM - foot - 20),
    ]
    y = BOTTOM - foot + title.size * 0.9
    for words in title.lines:
        shapes.append(label(LEFT, y, words, title.size, bold=True))
        y += title.size * 1.1
    told = f"{history.scale.name}{', ' + history.type if history.type else ''}: {verdict.status}"
    shapes.append(label(LEFT, y + 20, letters.cut(told, room, 56.0), 56.0, ink="soft"))
    shapes.append(Rect(LEFT, BOTTOM - 14, 220.0, 14.0, fill="accent", what="edge"))
    return Scene(0.0, 0.0, WIDTH, HEIGHT, tuple(shapes), f"{short_title(inspection)}: {told}", "cover")


__all__ = ["SMALLEST", "bench_order", "cards_of", "cover_scene", "fitted", "short_title", "slug"]

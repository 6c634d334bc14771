"""Two to six cars side by side: drawings to one scale, verdicts, every measurement beside its like, points lost."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.errors import CarwrightError
from carwright.inspection import Inspection
from carwright.judge import Finding
from carwright.publish.charts.composition import composition_scene
from carwright.publish.drawing.elevation import side_pen
from carwright.publish.drawing.gear import draw_couplers, draw_running_gear, rail
from carwright.publish.drawing.pen import PAPER
from carwright.publish.drawing.shape import sizes_of
from carwright.publish.lettering import Lettering, lettering_of
from carwright.publish.report.content import Block, Cell, Column, Figure, Front, Paragraph, Report, Section, Table
from carwright.publish.scene import Group, Scene, Shape, Text
from carwright.publish.theme import Theme, load_theme
from carwright.publish.wording import MARKS, limit_words, split, value_words
from carwright.verdict import Verdict

FEWEST, MOST = 2, 6
_ROW = 9.0
"""Room for the words under a car [mm of paper]."""


class ComparisonError(CarwrightError):
    """These cars cannot stand side by side."""

    def __init__(self, count: int) -> None:
        self.count = count
        super().__init__(f"a comparison takes {FEWEST} to {MOST} cars, got {count}")


def comparison_of(inspections: Sequence[Inspection], *, version: str, theme: Theme | None = None) -> Report:
    """The comparison.

    Parameters
    ----------
    inspections : sequence of Inspection
        Two to six.
    version : str
        The program's.
    theme : Theme, optional
        For the room its letters take.

    Raises
    ------
    ComparisonError
        "a comparison takes 2 to 6 cars, got 1"
    """
    if not FEWEST <= len(inspections) <= MOST:
        raise ComparisonError(len(inspections))
    letters = lettering_of(theme or load_theme())
    names = _names(inspections)
    drawing = Figure((_drawings(inspections, names, letters),), "All to one scale, A end on the right.")
    sections = [
        Section("Verdicts", (_verdicts(inspections, names), Paragraph(_FAIR, "key"))),
        Section("Where the points went", tuple(_points(inspections, names, letters))),
        Section("Measurement by measurement", tuple(_measurements(inspections, names))),
    ]
    told = [_told(name, each) for name, each in zip(names, inspections, strict=True)]
    facts = "; ".join(f"{name}: {each.history.title}" for name, each in zip(names, inspections, strict=True))
    front = Front(
        "Comparison", f"{len(inspections)} cars side by side", facts, (), tuple(f"{line}." for line in told), drawing
    )
    return Report(front, tuple(sections), (f"carwright {version}. End of the comparison.",), "Comparison")


def _told(name: str, inspection: Inspection) -> str:
    verdict = inspection.verdict
    return f"{name}: {verdict.status}, {_points_of(verdict)}"


def _points_of(verdict: Verdict) -> str:
    return f"{verdict.points:g} of {verdict.out_of:g} points" if verdict.out_of else "no points yet"


_FAIR = (
    "Points compare only where the same was examined: a car nobody measured has lost nothing. Prices stand beside, and "
    "never change points."
)


def _names(inspections: Sequence[Inspection]) -> list[str]:
    return [f"Car {number}" for number in range(1, len(inspections) + 1)]


def _drawings(inspections: Sequence[Inspection], names: Sequence[str], letters: Lettering) -> Scene:
    """Every car from the side, one under another, a millimetre a millimetre."""
    sized = [sizes_of(each.history, each.findings) for each in inspections]
    reach = max(each.reach for each in sized)
    mm = 2 * reach / (PAPER - 12)
    shapes: list[Shape] = []
    y = 0.0
    for name, inspection, sizes in zip(names, inspections, sized, strict=True):
        pen = side_pen(sizes, mm)
        pen.items.insert(0, rail(pen, -reach, reach))
        draw_running_gear(pen, sizes)
        draw_couplers(pen, sizes)
        y += sizes.top + 5 * mm
        words = letters.cut(f"{name}: {inspection.history.title}", 2 * reach - 30 * mm, 3.0 * mm)
        under: list[Shape] = [
            Text(-reach, 5.2 * mm, words, 3.0 * mm, bold=True, what="name"),
            Text(reach, 5.2 * mm, inspection.verdict.status, 3.0 * mm, "end", "soft", what="name"),
        ]
        shapes.append(Group((*pen.items, *under), move=(0.0, y), what="car"))
        y += _ROW * mm
    said = "; ".join(f"{name}, {each.history.title}" for name, each in zip(names, inspections, strict=True))
    return Scene(
        -reach - 6 * mm,
        0.0,
        2 * reach + 12 * mm,
        y,
        tuple(shapes),
        f"Side elevations to one scale: {said}",
        "cars",
        1.0,
    )


def _columns(names: Sequence[str], first: str = "") -> tuple[Column, ...]:
    return (Column(first, share=1.5), *(Column(name, label=name) for name in names))


def _verdicts(inspections: Sequence[Inspection], names: Sequence[str]) -> Table:
    def row(title: str, cells: Sequence[str]) -> tuple[Cell, ...]:
        return (Cell(title), *(Cell(cell) for cell in cells))

    def counted(inspection: Inspection, outcome: str) -> str:
        return str(sum(each.outcome == outcome for each in split(inspection)[0]))

    verdicts = [each.verdict for each in inspections]
    rows = [
        row(
            "scale and kind",
            [
                f"{each.history.scale.name}{', ' + each.history.type if each.history.type else ''}"
                for each in inspections
            ],
        ),
        row("status", [each.status for each in verdicts]),
        row("points", [_points_of(each).removesuffix(" points") for each in verdicts]),
        row("in words", [each.band for each in verdicts]),
        row("not examined", [f"{each.unexamined:g} points" if each.unexamined else "" for each in verdicts]),
        row("fails", [counted(each, "fails") for each in inspections]),
        row("undecided", [counted(each, "undecided") for each in inspections]),
        row("not measured", [str(each.count("not measured")) for each in inspections]),
        row("paid", [_paid(each) for each in inspections]),
    ]
    categories = dict.fromkeys(each.title for verdict in verdicts for each in verdict.categories)
    rows += [row(f"lost: {name}", [_lost(each, name) for each in inspections]) for name in categories]
    return Table("Side by side", _columns(names), tuple(rows), "abreast")


def _paid(inspection: Inspection) -> str:
    paid = [each for each in inspection.history.acquisitions if each.paid is not None]
    return f"{paid[-1].paid:.2f} {paid[-1].currency}" if paid else ""


def _lost(inspection: Inspection, category: str) -> str:
    found = next((each for each in inspection.verdict.categories if each.title == category), None)
    if found is None or not found.examined:
        return "not examined"
    return f"{found.lost:.1f} of {found.points:g}"


def _points(inspections: Sequence[Inspection], names: Sequence[str], letters: Lettering) -> list[Block]:
    scenes = []
    for name, inspection in zip(names, inspections, strict=True):
        parts = [(each.title, each.lost, f"{each.lost:.1f}") for each in inspection.verdict.categories if each.examined]
        scene = composition_scene(f"{name}: points lost", parts, letters)
        if scene is not None:
            scenes.append(scene)
    if not scenes:
        return [Paragraph("None of these cars lost a point.")]
    return [
        Figure(tuple(scenes), "What each car's lost points are made of; a car without a bar lost none.", wide=False)
    ]


def _measurements(inspections: Sequence[Inspection], names: Sequence[str]) -> list[Block]:
    """A row for everything measured on at least one car, in the order of the first."""
    found: list[dict[tuple[str, str, int], Finding]] = []
    for inspection in inspections:
        charged = [each for each in split(inspection)[0] if each.rule_set != "dated"]
        found.append(_by_name(charged))
    keys = dict.fromkeys(key for own in found for key in own)
    rows = []
    for title, where, nth in keys:
        seen = [own.get((title, where, nth)) for own in found]
        by_eye = any(each is not None and each.grade for each in seen)
        nothing = Cell("not looked at" if by_eye else "not measured", mark=MARKS["not measured"])
        cells = [
            _cell(each, inspection) if each is not None else nothing
            for each, inspection in zip(seen, inspections, strict=True)
        ]
        rows.append((Cell(f"{title} {where}".strip()), *cells))
    if not rows:
        return [Paragraph("Nothing was measured on any of them.")]
    table = Table("Found, with its limits", _columns(names, "What"), tuple(rows), "abreast")
    marks = "✕ fails, ◇ undecided, ● conforms, ○ not measured or not looked at."
    return [table, Paragraph(f"{marks} Each car is judged by the rules its own sheet names.", "key")]


def _by_name(findings: Sequence[Finding]) -> dict[tuple[str, str, int], Finding]:
    """Findings by title, place and number among those of one name: none hides another."""
    found: dict[tuple[str, str, int], Finding] = {}
    for each in findings:
        nth = sum(key[:2] == (each.title, each.where) for key in found)
        found[each.title, each.where, nth] = each
    return found


def _cell(finding: Finding, inspection: Inspection) -> Cell:
    system = inspection.history.system
    value, limits = value_words(finding, system), limit_words(finding, system)
    return Cell(
        f"{value or finding.outcome}, {finding.outcome}" if value else finding.outcome,
        (limits,) if limits else (),
        MARKS[finding.outcome],
    )

"""Time lines: a bar for everything a model shows, all together, the wanted months; and dated evidence."""

from __future__ import annotations

from collections.abc import Sequence

from carwright.dates import ALWAYS, Span, Spans, iso, spans_words
from carwright.prototype.portrayal import DatedPiece
from carwright.prototype.window import Stretch, Window
from carwright.publish.era import posterior_words, window_words
from carwright.publish.lettering import Lettering
from carwright.publish.scene import Anchor, Group, Path, Rect, Scene, Shape, Text, number
from carwright.tables.dated_model import Dated

WIDTH, _ROW, _BAR, _TOP = 340.0, 34.0, 10.0, 6.0
"""Of the picture, of a row with its words, of its bar, and above the first [px]; a phone shows it in its own size."""
TEXT = 11.0
"""Size of a name [px]."""
_MEMORY = " [a date from memory]"
"""What stands beside a name one of whose dates is from memory."""
_PAD = 36
"""Months left free at either side of all that is known."""
_TICKS = (1, 2, 5, 10, 20, 50)


class _Axis:
    """Months across the picture."""

    def __init__(self, edges: Sequence[int]) -> None:
        self.first, self.last = min(edges) - _PAD, max(edges) + _PAD

    def x(self, month: int | None, *, end: bool = False) -> float:
        """Where a month begins, or ends; an open side lies at the edge."""
        if month is None:
            return WIDTH if end else 0.0
        share = (month + end - self.first) / (self.last + 1 - self.first)
        return min(max(share, 0.0), 1.0) * WIDTH

    def ticks(self) -> list[int]:
        """Years with a mark, seven at most."""
        years = self.last // 12 - self.first // 12
        step = next((each for each in _TICKS if years / each <= 7), 100)  # noqa: PLR2004 - what a phone has room for
        first = -(-(self.first // 12 + 1) // step) * step
        return list(range(first, self.last // 12 + 1, step))


def timeline_scene(window: Window, wanted: Span | None, dated: Dated, letters: Lettering) -> Scene | None:
    """A bar for each thing that has a date: solid where no source objects, outlined where only unsure ones do.

    Parameters
    ----------
    window : Window
        Of the model.
    wanted : Span or None
        Months it is wanted for, marked through all rows.
    dated : Dated
        For names.
    letters : Lettering
        For the room names take.

    Returns
    -------
    Scene or None
        None where nothing shown has a date.
    """
    rows = [stretch for stretch in window.stretches if _bounded(stretch)]
    edges = [edge for stretch in rows for spans in (stretch.soft, stretch.hard) for edge in _edges(spans)]
    edges += [edge for edge in ((wanted.first, wanted.last) if wanted is not None else ()) if edge is not None]
    if not edges:
        return None
    axis = _Axis(edges)
    height = _TOP + _ROW * (len(rows) + 1) + 22
    words = f"Time line. {'; '.join(_described(row, dated) for row in rows)}. Together: {window_words(window)}."
    words += f" Wanted: {wanted.words()}." if wanted is not None else ""
    shapes: list[Shape] = [*_wanted(axis, wanted, height - 22), *_grid(axis, height - 22)]
    for index, stretch in enumerate(rows):
        y = _TOP + _ROW * index
        room = WIDTH - (112.0 if stretch.broken else 0.0)
        shapes += [
            _name(_title(stretch, dated), y, room, letters),
            *_bars(axis, stretch.soft, stretch.hard, y + 16, ""),
        ]
        if stretch.broken:
            shapes.append(_amount("✕ built too late", y))
    y = _TOP + _ROW * len(rows)
    shapes += [
        Path(f"M0 {number(y - 3)}H{number(WIDTH)}", "ink", 0.7, what="under"),
        Text(0.0, y + 8, "All together", TEXT, bold=True, what="name strong"),
        *_bars(axis, window.soft, window.hard, y + 16, " together"),
    ]
    if not window.hard:
        shapes.append(_amount("✕ no month", y))
    return Scene(0.0, 0.0, WIDTH, height, tuple(shapes), words, "timeline")


def evidence_scene(pieces: Sequence[DatedPiece], letters: Lettering) -> Scene | None:
    """For each piece of evidence the months it is from: 80 % thick, 95 % thin, the middle marked; None for none."""
    told = [each for each in pieces if not each.posterior.reason]
    if not told:
        return None
    spans = [each.posterior.interval(0.95)[0] for each in told]
    axis = _Axis([edge for span in spans for edge in _edges((span,))])
    height = _TOP + _ROW * len(told) + 22
    words = "; ".join(f"{each.piece.name}: {posterior_words(each.posterior)}" for each in told)
    shapes: list[Shape] = [*_grid(axis, height - 22)]
    for index, each in enumerate(told):
        y = _TOP + _ROW * index
        middle = number(y + 16 + _BAR / 2)
        outer, inner = each.posterior.interval(0.95)[0], each.posterior.interval(0.8)[0]
        left, right = number(axis.x(outer.first)), number(axis.x(outer.last, end=True))
        x, width = axis.x(inner.first), axis.x(inner.last, end=True) - axis.x(inner.first)
        half = number(axis.x(each.posterior.quantile(0.5)))
        cap = number(y + 16 + _BAR / 2 - 3)
        shapes += [
            _name(f"{each.piece.of}: {each.piece.name}", y, WIDTH, letters),
            Path(f"M{left} {cap}v6M{left} {middle}H{right}m0 -3v6", "ink", 1.2, what="reach"),
            Rect(x, y + 16, max(width, 1.5), _BAR, fill="ink", what="soft"),
            Path(f"M{half} {number(y + 13)}v{_BAR + 6:g}", "accent", 2.0, what="half"),
        ]
    return Scene(0.0, 0.0, WIDTH, height, tuple(shapes), words, "timeline")


def _amount(words: str, y: float) -> Text:
    return Text(WIDTH, y + 8, words, 10.0, "end", what="amount")


def _bounded(stretch: Stretch) -> bool:
    return bool(stretch.broken) or stretch.soft != (ALWAYS,) or stretch.hard != (ALWAYS,)


def _edges(spans: Spans) -> list[int]:
    return [edge for span in spans for edge in (span.first, span.last) if edge is not None]


def _title(stretch: Stretch, dated: Dated) -> str:
    if stretch.bar is None:
        return f"{dated.title(stretch.name)} {stretch.state}"
    title = dated.title(stretch.name)
    memory = any(limit.rule.confidence == "memory" for limit in stretch.bar.limits)
    return f"{'missing: ' if stretch.state == 'absent' else ''}{title}{_MEMORY if memory else ''}"


def _described(stretch: Stretch, dated: Dated) -> str:
    return f"{_title(stretch, dated)}: {spans_words(stretch.soft)}, {spans_words(stretch.hard)} by sure sources"


def _name(text: str, y: float, room: float, letters: Lettering) -> Text:
    mark = _MEMORY if text.endswith(_MEMORY) else ""
    plain = text.removesuffix(mark)
    shown = letters.cut(plain, room - letters.width(mark, TEXT), TEXT) + mark
    return Text(0.0, y + 8, shown, TEXT, what="name")


def _bars(axis: _Axis, soft: Spans, hard: Spans, y: float, kind: str) -> list[Shape]:
    """Outlined where no sure source objects, solid where none does; an open side has no end line."""
    ink = "accent" if kind else "ink"
    shapes: list[Shape] = []
    low, high = number(y), number(y + _BAR)
    for span in hard:
        left, right = number(axis.x(span.first)), number(axis.x(span.last, end=True))
        ends = f"M{left} {low}H{right}M{left} {high}H{right}"
        ends += f"M{left} {low}v{_BAR:g}" if span.first is not None else ""
        ends += f"M{right} {low}v{_BAR:g}" if span.last is not None else ""
        shapes.append(Path(ends, ink, 0.9, what=f"hard{kind}"))
    for span in soft:
        x, right_x = axis.x(span.first), axis.x(span.last, end=True)
        shapes.append(Rect(x, y, max(right_x - x, 1.5), _BAR, fill=ink, what=f"soft{kind}"))
    return shapes


def _grid(axis: _Axis, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    for year in axis.ticks():
        x = axis.x(12 * year)
        shapes.append(Path(f"M{number(x)} 0V{number(bottom)}", "line", 0.7, what="grid"))
        anchor: Anchor = "start" if x < 16 else "end" if x > WIDTH - 16 else "middle"  # noqa: PLR2004 - half a year's width
        shapes.append(Text(x, bottom + 14, str(year), 10.0, anchor, "soft", what="year"))
    return shapes


def _wanted(axis: _Axis, wanted: Span | None, bottom: float) -> list[Shape]:
    if wanted is None:
        return []
    left, right = axis.x(wanted.first), axis.x(wanted.last, end=True)
    band = Rect(left, 0.0, max(right - left, 2.0), bottom, fill="allowed", what="wanted")
    return [Group((band,), f"wanted {iso(wanted.first)} to {iso(wanted.last)}")]

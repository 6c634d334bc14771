"""Time lines as SVG: a bar for everything a model shows, all together, the wanted months; and dated evidence."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from carwright.dates import ALWAYS, Span, Spans, iso, spans_words
from carwright.prototype.portrayal import DatedPiece
from carwright.prototype.window import Stretch, Window
from carwright.publish.era import posterior_words, window_words
from carwright.tables.dated_model import Dated

_WIDTH, _ROW, _BAR, _TOP = 340.0, 34.0, 10.0, 6.0
"""Of the picture, of a row with its words, of its bar, and above the first [px]; a phone shows it in its own size."""
_LONGEST = 46
"""Characters of a name that fit above a bar."""
_MEMORY = " [a date from memory]"
"""What stands beside a name one of whose dates is from memory."""
_SHORT = 30
"""And beside a word at the right edge."""
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
            return _WIDTH if end else 0.0
        share = (month + end - self.first) / (self.last + 1 - self.first)
        return min(max(share, 0.0), 1.0) * _WIDTH

    def ticks(self) -> list[int]:
        """Years with a mark, seven at most."""
        years = self.last // 12 - self.first // 12
        step = next((each for each in _TICKS if years / each <= 7), 100)  # noqa: PLR2004 - what a phone has room for
        first = -(-(self.first // 12 + 1) // step) * step
        return list(range(first, self.last // 12 + 1, step))


def timeline_svg(window: Window, wanted: Span | None, dated: Dated) -> str:
    """A bar for each thing that has a date: solid where no source objects, outlined where only unsure ones do.

    Parameters
    ----------
    window : Window
        Of the model.
    wanted : Span or None
        Months it is wanted for, marked through all rows.
    dated : Dated
        For names.

    Returns
    -------
    str
        "" where nothing shown has a date.
    """
    rows = [stretch for stretch in window.stretches if _bounded(stretch)]
    edges = [edge for stretch in rows for spans in (stretch.soft, stretch.hard) for edge in _edges(spans)]
    edges += [edge for edge in ((wanted.first, wanted.last) if wanted is not None else ()) if edge is not None]
    if not edges:
        return ""
    axis = _Axis(edges)
    height = _TOP + _ROW * (len(rows) + 1) + 22
    words = escape(f"Time line. {'; '.join(_described(row, dated) for row in rows)}. Together: {window_words(window)}.")
    parts = [
        f'<svg class="timeline" viewBox="0 0 {_WIDTH:g} {height:g}" role="img" aria-label="{words}">',
        *_grid(axis, height - 22),
        *_wanted(axis, wanted, height - 22),
    ]
    for index, stretch in enumerate(rows):
        y = _TOP + _ROW * index
        longest = _LONGEST if not stretch.broken else _SHORT
        parts += [
            _name(_title(stretch, dated), y, longest=longest),
            *_bars(axis, stretch.soft, stretch.hard, y + 16, ""),
        ]
        if stretch.broken:
            parts.append(f'<text class="amount" x="{_WIDTH:g}" y="{y + 8:.1f}">✕ built too late</text>')
    y = _TOP + _ROW * len(rows)
    parts += [f'<path class="under" d="M0 {y - 3:.1f}H{_WIDTH:g}"/>', _name("All together", y, strong=True),
              *_bars(axis, window.soft, window.hard, y + 16, " together")]  # fmt: skip
    if not window.hard:
        parts.append(f'<text class="amount" x="{_WIDTH:g}" y="{y + 8:.1f}">✕ no month</text>')
    return "".join([*parts, "</svg>"])


def evidence_svg(pieces: Sequence[DatedPiece]) -> str:
    """For each piece of evidence the months it is from: 80 % thick, 95 % thin, the middle marked; "" for none."""
    told = [each for each in pieces if not each.posterior.reason]
    if not told:
        return ""
    spans = [each.posterior.interval(0.95)[0] for each in told]
    axis = _Axis([edge for span in spans for edge in _edges((span,))])
    height = _TOP + _ROW * len(told) + 22
    words = escape("; ".join(f"{each.piece.name}: {posterior_words(each.posterior)}" for each in told))
    parts = [
        f'<svg class="timeline" viewBox="0 0 {_WIDTH:g} {height:g}" role="img" aria-label="{words}">',
        *_grid(axis, height - 22),
    ]
    for index, each in enumerate(told):
        y = _TOP + _ROW * index
        middle = y + 16 + _BAR / 2
        outer, inner = each.posterior.interval(0.95)[0], each.posterior.interval(0.8)[0]
        left, right = axis.x(outer.first), axis.x(outer.last, end=True)
        x, width = axis.x(inner.first), axis.x(inner.last, end=True) - axis.x(inner.first)
        half = axis.x(each.posterior.quantile(0.5))
        parts += [
            _name(f"{each.piece.of}: {each.piece.name}", y),
            f'<path class="reach" d="M{left:.1f} {middle - 3:.1f}v6M{left:.1f} {middle:.1f}H{right:.1f}m0 -3v6"/>',
            f'<rect class="soft" x="{x:.1f}" y="{y + 16:.1f}" width="{max(width, 1.5):.1f}" height="{_BAR:g}"/>',
            f'<path class="half" d="M{half:.1f} {y + 13:.1f}v{_BAR + 6:g}"/>',
        ]
    return "".join([*parts, "</svg>"])


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


def _name(text: str, y: float, *, strong: bool = False, longest: int = _LONGEST) -> str:
    mark = _MEMORY if text.endswith(_MEMORY) else ""
    plain = text.removesuffix(mark)
    room = longest - len(mark)
    shown = (plain if len(plain) <= room else plain[: room - 1].rstrip() + "…") + mark
    kind = "name strong" if strong else "name"
    return f'<text class="{kind}" x="0" y="{y + 8:.1f}">{escape(shown)}</text>'


def _bars(axis: _Axis, soft: Spans, hard: Spans, y: float, kind: str) -> list[str]:
    """Outlined where no sure source objects, solid where none does; an open side has no end line."""
    parts = []
    for span in hard:
        left, right = axis.x(span.first), axis.x(span.last, end=True)
        ends = f"M{left:.1f} {y:.1f}H{right:.1f}M{left:.1f} {y + _BAR:.1f}H{right:.1f}"
        ends += f"M{left:.1f} {y:.1f}v{_BAR:g}" if span.first is not None else ""
        ends += f"M{right:.1f} {y:.1f}v{_BAR:g}" if span.last is not None else ""
        parts.append(f'<path class="hard{kind}" d="{ends}"/>')
    for span in soft:
        left, right = axis.x(span.first), axis.x(span.last, end=True)
        box = f'x="{left:.1f}" y="{y:.1f}" width="{max(right - left, 1.5):.1f}" height="{_BAR:g}"'
        parts.append(f'<rect class="soft{kind}" {box}/>')
    return parts


def _grid(axis: _Axis, bottom: float) -> list[str]:
    parts = []
    for year in axis.ticks():
        x = axis.x(12 * year)
        parts.append(f'<path class="grid" d="M{x:.1f} 0V{bottom:.1f}"/>')
        anchor = "start" if x < 16 else "end" if x > _WIDTH - 16 else "middle"  # noqa: PLR2004 - half of a year's width
        label = f'<text class="year" x="{x:.1f}" y="{bottom + 14:.1f}" text-anchor="{anchor}">{year}</text>'
        parts.append(label)
    return parts


def _wanted(axis: _Axis, wanted: Span | None, bottom: float) -> list[str]:
    if wanted is None:
        return []
    left, right = axis.x(wanted.first), axis.x(wanted.last, end=True)
    width = max(right - left, 2.0)
    title = escape(f"wanted {iso(wanted.first)} to {iso(wanted.last)}")
    box = f'x="{left:.1f}" y="0" width="{width:.1f}" height="{bottom:.1f}"'
    return [f'<rect class="wanted" {box}><title>{title}</title></rect>']

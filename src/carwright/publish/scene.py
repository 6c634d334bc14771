"""A drawing or chart before it is anything else: shapes in named inks. One scene makes page, print and picture alike.

Strokes and fills name what an ink is for (:data:`carwright.publish.theme.INKS`), never a colour. In a page the inks are
the page's own custom properties, so that day and night both suit; elsewhere they are the theme's colours.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape as escaped
from typing import Literal

from carwright.publish.lettering import lettering_of
from carwright.publish.signs import allowed, clusters
from carwright.publish.theme import Medium, Theme

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Path:
    """A path in SVG's own path language, stroked and filled.

    ``what`` says what it shows, so that a test or a reader of the file finds it; ``dash`` is in user units.
    """

    d: str
    stroke: str = "ink"
    width: float = 1.0
    fill: str = "none"
    dash: tuple[float, ...] = ()
    what: str = ""


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle by its upper left corner."""

    x: float
    y: float
    width: float
    height: float
    stroke: str = "none"
    stroke_width: float = 0.0
    fill: str = "ink"
    what: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle."""

    x: float
    y: float
    r: float
    stroke: str = "none"
    width: float = 0.0
    fill: str = "ink"
    what: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is its base line."""

    x: float
    y: float
    text: str
    size: float
    anchor: Anchor = "start"
    ink: str = "ink"
    bold: bool = False
    what: str = ""
    turn: float = 0.0


@dataclass(frozen=True, slots=True)
class Raster:
    """A picture from a camera, as a ``data:`` address."""

    x: float
    y: float
    width: float
    height: float
    data: str


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes that belong together; on a page a link where ``href`` says so."""

    items: tuple[Shape, ...]
    title: str = ""
    href: str = ""
    what: str = ""
    move: Point = (0.0, 0.0)
    scale: float = 1.0


Shape = Path | Rect | Circle | Text | Raster | Group


@dataclass(frozen=True, slots=True)
class Scene:
    """Shapes in a frame.

    Attributes
    ----------
    x, y, width, height : float
        The frame, in user units.
    items : tuple of Shape
        What is in it, back to front.
    words : str
        The same in words, for whoever cannot see it.
    kind : str
        What it is: ``elevation``, ``limits``, …
    unit_mm : float
        Millimetres of paper a user unit takes where the scene stands in its own size; 0 where it fits what it stands
        in.
    links : bool
        Whether it holds links, so that a page does not read it as one picture.
    """

    x: float
    y: float
    width: float
    height: float
    items: tuple[Shape, ...]
    words: str
    kind: str
    unit_mm: float = 0.0
    links: bool = False

    def walk(self) -> Iterator[Shape]:
        """Every shape, groups opened; places within a moved group stay as they are written."""
        yield from _opened(self.items)

    def placed(self) -> Iterator[Shape]:
        """Every shape where it stands in the frame, groups moved and scaled; paths left out, whose places are text."""
        yield from _placed(self.items, (0.0, 0.0), 1.0)


def _opened(items: Sequence[Shape]) -> Iterator[Shape]:
    for item in items:
        yield item
        if isinstance(item, Group):
            yield from _opened(item.items)


def _placed(items: Sequence[Shape], move: Point, scale: float) -> Iterator[Shape]:
    for item in items:
        if isinstance(item, Group):
            inner = (move[0] + scale * item.move[0], move[1] + scale * item.move[1])
            yield from _placed(item.items, inner, scale * item.scale)
        elif not isinstance(item, Path):
            x, y = move[0] + scale * item.x, move[1] + scale * item.y
            if isinstance(item, Text):
                yield replace(item, x=x, y=y, size=scale * item.size)
            elif isinstance(item, Circle):
                yield replace(item, x=x, y=y, r=scale * item.r)
            else:
                yield replace(item, x=x, y=y, width=scale * item.width, height=scale * item.height)


def simplified(scene: Scene) -> Scene:
    """The same with every sign of its texts without what is joined to it, for a typesetter that cannot join them."""
    return replace(scene, items=tuple(_simple(item) for item in scene.items))


def _simple(item: Shape) -> Shape:
    if isinstance(item, Text):
        return replace(item, text="".join(cluster[0] for cluster in clusters(item.text)))
    if isinstance(item, Group):
        return replace(item, items=tuple(_simple(each) for each in item.items))
    return item


def escape(text: str) -> str:
    """A text as it may stand in SVG."""
    return escaped(allowed(text))


def number(value: float) -> str:
    """A number as SVG wants it: three decimals at most, no trailing zeros, never ``-0``."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def line(points: Sequence[Point], *, closed: bool = False) -> str:
    """A path through points."""
    body = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f"M{body}{'Z' if closed else ''}"


def box(left: float, top: float, right: float, bottom: float) -> str:
    """A closed rectangle as a path."""
    return f"M{number(left)} {number(top)}H{number(right)}V{number(bottom)}H{number(left)}Z"


def inline_svg(scene: Scene) -> str:
    """The scene for a page: inks are the page's custom properties, letters the page's own."""
    role = "group" if scene.links else "img"
    return (
        f'<svg class="{scene.kind}" viewBox="{_frame(scene)}" role="{role}" '
        f'aria-label="{escape(scene.words)}">{_items(scene.items, None, "light", page=True)}</svg>'
    )


def standalone_svg(scene: Scene, theme: Theme, medium: Medium = "print", *, ground: bool = False) -> str:
    """The scene as a file of its own, in a theme's colours.

    Parameters
    ----------
    scene : Scene
        What.
    theme : Theme
        Colours and type.
    medium : str
        Which of its colours.
    ground : bool
        Whether the paper is drawn behind it; transparent where not.
    """
    unit = scene.unit_mm
    size = (
        f'width="{number(scene.width * unit)}mm" height="{number(scene.height * unit)}mm"'
        if unit
        else f'width="{number(scene.width)}" height="{number(scene.height)}"'
    )
    families = ", ".join(f"&quot;{escape(each)}&quot;" for each in (theme.family, *theme.fallback))
    paper = theme.ink("paper", medium)
    corner = f'x="{number(scene.x)}" y="{number(scene.y)}"'
    sized = f'width="{number(scene.width)}" height="{number(scene.height)}"'
    behind = f'<rect {corner} {sized} fill="{paper}"/>' if ground else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{_frame(scene)}" {size} font-family="{families}">'
        f"<title>{escape(scene.words)}</title>{behind}{_items(scene.items, theme, medium, page=False)}</svg>"
    )


def _frame(scene: Scene) -> str:
    return " ".join(number(each) for each in (scene.x, scene.y, scene.width, scene.height))


def _items(items: Sequence[Shape], theme: Theme | None, medium: Medium, *, page: bool) -> str:
    return "".join(_item(item, theme, medium, page=page) for item in items)


def _item(item: Shape, theme: Theme | None, medium: Medium, *, page: bool) -> str:
    def ink(name: str) -> str:
        if name == "none":
            return name
        return theme.ink(name, medium) if theme is not None else f"var(--{name})"

    named = f' class="{item.what}"' if not isinstance(item, Raster) and item.what else ""
    match item:
        case Path():
            dash = f' stroke-dasharray="{" ".join(number(each) for each in item.dash)}"' if item.dash else ""
            stroke = _stroke(ink(item.stroke), item.width)
            return f'<path{named} d="{item.d}" fill="{ink(item.fill)}"{stroke}{dash}/>'
        case Rect():
            size = f'width="{number(item.width)}" height="{number(item.height)}"'
            stroke = _stroke(ink(item.stroke), item.stroke_width)
            return f'<rect{named} x="{number(item.x)}" y="{number(item.y)}" {size} fill="{ink(item.fill)}"{stroke}/>'
        case Circle():
            stroke = _stroke(ink(item.stroke), item.width)
            place = f'cx="{number(item.x)}" cy="{number(item.y)}" r="{number(item.r)}"'
            return f'<circle{named} {place} fill="{ink(item.fill)}"{stroke}/>'
        case Text():
            return _text(item, ink(item.ink), named, theme)
        case Raster():
            size = f'width="{number(item.width)}" height="{number(item.height)}"'
            return f'<image x="{number(item.x)}" y="{number(item.y)}" {size} href="{item.data}"/>'
        case Group():
            return _group(item, named, _items(item.items, theme, medium, page=page), page=page)


def _stroke(colour: str, width: float) -> str:
    if colour == "none" or width <= 0:
        return ""
    return f' stroke="{colour}" stroke-width="{number(width)}" stroke-linejoin="round"'


def _text(item: Text, colour: str, named: str, theme: Theme | None) -> str:
    bold = ' font-weight="600"' if item.bold else ""
    x, y = number(item.x), number(item.y)
    turn = f' transform="rotate({number(item.turn)} {x} {y})"' if item.turn else ""
    look = f'font-size="{number(item.size)}" fill="{colour}"{bold}{turn}'
    mixed = _mixed(item, theme) if theme is not None and not item.text.isascii() else ""
    if mixed:
        return f'<text{named} x="{x}" y="{y}" {look}>{mixed}</text>'
    anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
    return f'<text{named} x="{x}" y="{y}" {look}{anchor}>{escape(item.text)}</text>'


def _mixed(item: Text, theme: Theme) -> str:
    """Pieces of a line that needs more than one family, each at its own place; "" where one family does.

    Placed one by one, since a renderer that meets a sign its font lacks may set the whole stretch in another font.
    """
    letters = lettering_of(theme)
    runs = letters.runs(letters.shown(item.text), bold=item.bold)
    if runs == [(theme.family, item.text)]:
        return ""
    widths = [letters.width(piece, item.size, bold=item.bold) for _, piece in runs]
    x = item.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor] * sum(widths)
    pieces = []
    for (family, piece), width in zip(runs, widths, strict=True):
        pieces.append(f'<tspan x="{number(x)}" font-family="&quot;{escape(family)}&quot;">{escape(piece)}</tspan>')
        x += width
    return "".join(pieces)


def _factor(value: float) -> str:
    """A factor to seven digits: what it multiplies may be large."""
    return f"{value:.7g}"


def _group(item: Group, named: str, inside: str, *, page: bool) -> str:
    title = f"<title>{escape(item.title)}</title>" if item.title else ""
    moved = ""
    if item.move != (0.0, 0.0) or item.scale != 1.0:
        moved = f' transform="translate({number(item.move[0])} {number(item.move[1])}) scale({_factor(item.scale)})"'
    if item.href and page:
        return f'<a{named} href="{escape(item.href)}"{moved}>{title}{inside}</a>'
    return f"<g{named}{moved}>{title}{inside}</g>"

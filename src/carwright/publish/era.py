"""What a car portrays and when, in words: the same on the screen and on a page."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from carwright.dates import Span, iso, spans_words
from carwright.history import Statement
from carwright.prototype.anachronism import Anachronism, words_of_rules
from carwright.prototype.conflicts import Conflicts, Doubt
from carwright.prototype.evidence import Piece
from carwright.prototype.fidelity import Compared, Fidelity
from carwright.prototype.life import LifeLine
from carwright.prototype.portrayal import DatedPiece
from carwright.prototype.record import Record, trust_of
from carwright.prototype.subject import Subject
from carwright.prototype.window import Bound, Window
from carwright.prototype.work import Change, WorkList
from carwright.tables.dated_model import Dated
from carwright.units import System, say

if TYPE_CHECKING:
    from carwright.prototype.posterior import Posterior

JUDGED = {"wrong": "✕", "doubtful": "◇", "right": "●"}
"""How one thing goes with the wanted months, as a shape; the word always stands beside it."""
_TOLD = 4
"""Lines of what tells, and of what to doubt, that are shown."""
_SIZE = re.compile(r"(\d+(?:\.\d+)?)(?: x (\d+(?:\.\d+)?))? in\b")
_SCATTERED = 4.0
"""χ² for each degree of freedom from which dimensions do not fit one scale [-]."""
NEVER = "no month: what it shows cannot all be right at once"


def window_words(window: Window) -> str:
    """``1955-03 to 1959-03; 1955-03 to 1979-12 by sure sources alone``."""
    if not window.hard:
        return NEVER
    hard = spans_words(window.hard)
    if not window.soft:
        return f"{hard} by sure sources alone; some source objects to every month"
    soft = spans_words(window.soft)
    return soft if soft == hard else f"{soft}; {hard} by sure sources alone"


def bound_lines(window: Window, dated: Dated) -> list[str]:
    """What sets each side of the window."""
    return [bound_words(bound, dated) for bound in window.bounds]


def bound_words(bound: Bound, dated: Dated) -> str:
    """``until 1953-06 for sure: K brakes (brake.K/banned-on-all/1953; interchange rule, confidence high)``."""
    missing = "missing " if bound.state == "absent" else ""
    title = dated.title(bound.name)
    sure = " for sure" if bound.hard else ""
    rule = "; ".join(filter(None, (bound.rule, bound.marks)))
    return f"{bound.side} {iso(bound.month)}{sure}: {missing}{title}{f' ({rule})' if rule else ''}"


def wanted_words(wanted: Span, aim: Span | None) -> str:
    """``Wanted 1957``, or ``Wanted 1949 to 1970, judged for 1957, the year of it that suits best``."""
    judged = (
        "" if aim in {None, wanted} or aim is None else f", judged for {aim.words()}, the year of it that suits best"
    )
    return f"Wanted {wanted.words()}{judged}"


def anachronism_words(each: Anachronism) -> str:
    """The sentence, and what says so."""
    told = words_of_rules(each.rules) or "; ".join(each.why)
    return f"{each.words}; {told}" if told else each.words


def model_size(size: str, ratio: float | None, system: System) -> str:
    """A full-size size taken to the model: ``20 in wide`` is ``5.8 mm wide`` in HO; "" without a scale."""
    if not size or ratio is None:
        return ""

    def scaled(found: re.Match[str]) -> str:
        parts = [float(part) * 25.4 / ratio for part in found.groups() if part]
        if system == "us":
            return f"{' x '.join(f'{part / 25.4:.3f}' for part in parts)} in"
        return f"{' x '.join(f'{part:.2f}' for part in parts)} mm"

    return _SIZE.sub(scaled, size)


def change_words(change: Change, dated: Dated, ratio: float | None, system: System, *, brief: bool = False) -> str:
    """One line of a work list; briefly only what is done."""
    title = dated.title(change.name)
    match change.verb:
        case "restencil":
            what = f"restencil the {title} to {change.to}"
        case "remove":
            what = f"take off: {title}"
        case "exchange":
            what = f"{title} instead of {dated.title(change.instead_of)}"
        case _:
            what = f"add: {title}"
    if brief:
        return what
    size = model_size(change.size, ratio, system)
    sized = f"; {size} on the model ({change.size} at full size, {change.size_source})" if size else ""
    plain = f"; {change.size} at full size ({change.size_source})" if change.size and not size else ""
    return f"{what}: {change.where}; {change.how}{sized}{plain}; about {change.minutes:g} min"


def work_lines(work: WorkList, dated: Dated, ratio: float | None, system: System) -> Iterator[str]:
    """The work list in words, least work first."""
    for change in work.changes:
        yield change_words(change, dated, ratio, system)


UNFINISHED = "the search ended before every set of changes was tried: other work may do more, or be less"


def other_ways(work: WorkList, dated: Dated, ratio: float | None, system: System) -> Iterator[str]:
    """Other ways in a line each: minutes, and what is done."""
    for changes in work.others:
        steps = "; ".join(change_words(change, dated, ratio, system, brief=True) for change in changes)
        yield f"another way, about {sum(change.minutes for change in changes):g} min: {steps}"


def work_heading(work: WorkList) -> str:
    """What the list brings."""
    wanted = work.wanted.words()
    if work.settles == "nothing":
        rest = f"; what work can mend, about {work.minutes:g} min in all" if work.changes else ""
        return f"No work makes it right for {wanted}{rest}"
    if not work.changes:
        if work.settles == "allowed":
            return f"As it is, no sure source objects to {wanted}; no work takes away what is doubtful"
        return f"Nothing need be done for {wanted}"
    result = "no source objects" if work.settles == "right" else "no sure source objects"
    return f"To be right for {wanted}, about {work.minutes:g} min in all; afterwards {result}"


def posterior_words(posterior: Posterior) -> str:
    """``1955-10 to 1960-03 with probability 0.80, most likely about 1957-10; 1955-04 to 1961-08 with 0.95``."""
    if posterior.reason:
        return posterior.reason
    inner, p_inner = posterior.interval(0.8)
    outer, p_outer = posterior.interval(0.95)
    middle = iso(posterior.quantile(0.5))
    return (
        f"{inner.words()} with probability {p_inner:.2f}, half of it up to {middle}; "
        f"{outer.words()} with probability {p_outer:.2f}"
    )


def telling_lines(each: DatedPiece) -> list[str]:
    """What speaks loudest, and what the date would be without it."""
    return [
        f"{telling.label}: {telling.bits:.2f} bits; without it {iso(telling.p10)} to {iso(telling.p90)}"
        for telling in each.tellings[:_TOLD]
        if telling.bits >= 0.01  # noqa: PLR2004 - less tells nothing
    ]


def conflict_lines(conflicts: Conflicts, most: int | None = None) -> Iterator[str]:
    """Clashes, at most so many where asked, then the smallest sets to doubt, likeliest first."""
    for clash in conflicts.clashes[:most]:
        yield f"clash: {clash.why}"
    if most is not None and len(conflicts.clashes) > most:
        yield f"and {len(conflicts.clashes) - most} more clashes (carwright date lists them)"
    shown = [doubt for doubt in conflicts.doubts if doubt.odds >= 0.005][:_TOLD]  # noqa: PLR2004 - rounds to nothing
    for doubt in shown:
        yield f"doubt {doubt_words(doubt)} ({doubt.odds:.0%} of what could be wrong)"
    if len(conflicts.doubts) > len(shown):
        rest = len(conflicts.doubts) - len(shown)
        yield f"{rest} less likely {'set' if rest == 1 else 'sets'} to doubt: see --json"
    yield from conflicts.warnings


def doubt_words(doubt: Doubt) -> str:
    """The facts of a set, joined."""
    return " and ".join(fact.label for fact in doubt.facts)


def piece_heading(each: DatedPiece) -> str:
    """``photo: north yard, invented``, with its number."""
    number = f", number {each.piece.number}" if each.piece.number else ""
    return f"{each.piece.of}: {each.piece.name}{number}"


def record_lines(record: Record) -> Iterator[str]:
    """Each claim with its source and trust, rivals in one line."""
    for fact in record.facts:
        claims = "; ".join(_claim(claim, alone=len(fact.claims) == 1) for claim in fact.claims)
        yield f"{fact.what.replace('_', ' ')}: {claims}{'' if fact.agreed else ' [sources differ]'}"
    if record.quantity is not None and record.quantity.u > 0:
        cars = record.quantity
        claimed = f"{cars.low} to {cars.high} claimed"
        yield f"cars built, all claims weighed: {cars.estimate:.0f}, u = {cars.u:.2g}; {claimed}"


def _claim(claim: Statement, *, alone: bool) -> str:
    """A claim with its source and trust; what nobody disputes needs none."""
    if alone and not claim.source and claim.trust is None:
        return claim.value
    return f"{claim.value} ({claim.source or 'no source given'}, trust {trust_of(claim):g})"


def life_lines(life: LifeLine) -> Iterator[str]:
    """The life line with its gaps, in order, then what does not fit."""
    lines = [(event.span, f"{event.what} ({event.by})") for event in life.events]
    lines += [(gap, "nothing known") for gap in life.gaps]
    for span, words in sorted(lines, key=lambda line: _begins(line[0])):
        yield f"{span.words()}: {words}"
    for line in life.conflicts:
        yield f"does not fit: {line}"
    yield from life.notes


def _begins(span: Span) -> int:
    return span.first if span.first is not None else span.last if span.last is not None else 0


def represents_words(life: LifeLine) -> str:
    """Which state the model represents."""
    if life.represents is None:
        return ""
    sight = life.sights[life.represents]
    agrees = f"agrees in {', '.join(sight.agrees)}" if sight.agrees else "agrees in nothing both show"
    differs = f"; differs in {'; '.join(sight.differs)}" if sight.differs else ""
    named = f"{sight.piece.of} “{sight.piece.name}”"
    return f"the model stands nearest to {named}, {sight.span.words()}: it {agrees}{differs}"


def dimension_cells(each: Compared, fidelity: Fidelity, system: System) -> tuple[str, ...]:
    """Name, full size, taken to scale, measured, deviation in mm, scale inches and per cent."""
    return (
        each.full.name,
        each.full.text,
        say(each.nominal, "length", system, 2 * each.u_nominal),
        say(each.value, "length", system, 2 * each.u),
        f"{each.deviation:+.2f} mm",
        f"{each.scale_inches(fidelity.ratio):+.1f} scale in",
        f"{each.percent:+.{1 if abs(each.percent) < 10 else 0}f} %",  # noqa: PLR2004 - two digits tell enough
    )


def scale_words(fidelity: Fidelity) -> str:
    """The error of the scale as a whole, and whether it is one."""
    scale = fidelity.scale
    if scale is None:
        return "one dimension cannot tell the scale from itself"
    percent, wide = 100 * (scale.factor - 1), 196 * scale.u
    size = f"{percent:+.2f} % ± {wide:.2f} %, as 1:{fidelity.ratio / scale.factor:.1f}"
    told = "the model as a whole is off scale" if scale.told else "no error of the scale as a whole is told"
    scatter = f"; χ² {scale.chi2:.1f} on {scale.dof}"
    if scale.chi2 > _SCATTERED * scale.dof:
        scatter += ": some dimension does not fit the others"
    return f"{told}: {size}{scatter}"


def side_by_side(dated: Dated, columns: Sequence[tuple[str, dict[str, str]]]) -> list[list[str]]:
    """What the model and each piece of evidence show, group by group: a head and a row for every group.

    Parameters
    ----------
    dated : Dated
        For names.
    columns : sequence of (head, mapping)
        Of each, the state of every group it speaks of, in words.
    """
    groups = [name for name in (*dated.groups, *dated.stencils) if any(name in states for _, states in columns)]
    head = ["", *(name for name, _ in columns)]
    return [head, *([dated.title(group), *(states.get(group, "") for _, states in columns)] for group in groups)]


def states_of(subject: Subject, dated: Dated, piece: Piece | None = None) -> dict[str, str]:
    """What a model, or a piece of evidence, says of every group, in words."""
    found: dict[str, str] = {}
    for shown in subject.shown:
        group = dated.group_of[shown.feature].id
        if shown.state == "present":
            found[group] = "there" if shown.feature == group else dated.title(shown.feature)
        else:
            found.setdefault(group, "not there" if shown.feature == group else f"not: {dated.title(shown.feature)}")
    for name in piece.hidden if piece is not None else ():
        if name in dated.group_of:
            found.setdefault(dated.group_of[name].id, "not visible")
    stencils = dict(subject.stencils)
    if piece is not None:
        stencils |= {dating.stencil: dating.month for dating in piece.datings}
    return found | {name: iso(month) for name, month in stencils.items()}

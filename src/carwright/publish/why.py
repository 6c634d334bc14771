"""Causes, plans and what was measured beside the clauses, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from carwright.explain.records import Coupler, Explanation, Plan, Predicted, Share
from carwright.inspection import Inspection
from carwright.measure.bench import Bench
from carwright.measure.rolling import Both, Measured
from carwright.units import System, say, shown_unit
from carwright.units import outside as converted
from carwright.verdict.flips import Flip

_COUNTS, _SPREADS = 0.1, 0.4
"""Shares below the one part of the largest share and the other of the largest spread are gathered as the rest [-]."""
STANDING = {
    "measured": "measured",
    "measured together": "measured",
    "assumed": "assumed",
    "group": "not told apart",
}


@dataclass(frozen=True, slots=True)
class ShareLine:
    """One share in words; ``hatched`` where it is not measured."""

    name: str
    amount: str
    value: float
    u: float
    basis: str
    hatched: bool
    note: str
    reading: str = ""


def share_lines(coupler: Coupler, system: System) -> list[ShareLine]:
    """Shares of a coupler, largest first, the small ones gathered, adding up to the whole error."""
    shares = _as_told(coupler)
    most = max((abs(share.share) for share in shares), default=0.0)
    widest = max((share.u for share in shares), default=0.0)
    shown = [share for share in shares if abs(share.share) >= _COUNTS * most or share.u >= _SPREADS * widest > 0]
    rest = sum(share.share for share in shares if share not in shown)
    lines = [_line(share, system) for share in sorted(shown, key=lambda each: -abs(each.share))]
    if len(shown) < len(shares):
        lines.append(ShareLine("all the rest", signed(rest, system), rest, 0.0, "", hatched=False, note=""))
    return lines


def _as_told(coupler: Coupler) -> list[Share]:
    """Shares with causes whose sum is measured, though not its split, as one."""
    shares = list(coupler.shares)
    for group in coupler.groups:
        if group.measured:
            lead = next(share for share in shares if share.name == group.lead)
            others = tuple(name for name in group.names if name != group.lead)
            shares = [share for share in shares if share.name not in group.names]
            shares.append(
                replace(
                    lead,
                    share=group.share,
                    u=group.u,
                    basis="measured together",
                    group=others,
                    tell=None,
                    rests_on=group.rests_on,
                )
            )
    return shares


def _line(share: Share, system: System) -> ShareLine:
    name = f"{share.cause} at {share.place}" if share.place else share.cause
    note = ""
    if share.group:
        what = "together with" if share.basis == "measured together" else "not told from"
        note = f"{what} {', '.join(share.group)}"
    if share.tell is not None:
        note = f"{note}; to tell, read {share.tell.words}".removeprefix("; ")
    elif share.basis in {"assumed", "group"}:
        note = f"{note}; no single reading tells".removeprefix("; ")
    if share.rests_on:
        note = f"{note}; rests on the calibration of the {share.rests_on}".removeprefix("; ")
    amount = signed(share.share, system, None if share.fixed else share.u)
    hatched = share.basis in {"assumed", "group"} and not (share.fixed and share.share == 0)
    reading = ""
    if share.tell is not None:
        reading = f"{share.tell.what} at {share.tell.at}" if share.tell.at else share.tell.what
    return ShareLine(name, amount, share.share, share.u, STANDING[share.basis], hatched, note, reading)


def signed(value: float, system: System, u: float | None = None) -> str:
    """A length with its sign, and ± its 95 % half-width."""
    text = say(abs(value), "length", system, None if u is None else 1.96 * u)
    if not any(digit in text.partition(" ")[0] for digit in "123456789"):
        return text
    return f"{'−' if value < 0 else '+'}{text}"


def coupler_heading(coupler: Coupler, system: System) -> str:
    """``coupler at A: 0.4115 in, 0.0205 in above 0.3910 in``."""
    gap = coupler.value - coupler.nominal
    word = "above" if gap >= 0 else "below"
    value, nominal = say(coupler.value, "length", system), say(coupler.nominal, "length", system)
    return f"coupler at {coupler.at}: {value}, {say(abs(gap), 'length', system)} {word} {nominal}"


def execution_lines(explanation: Explanation, system: System) -> list[str]:
    """How each work came out against what was meant."""
    lines = []
    for each in explanation.executions:
        if each.what.startswith("frame.shape"):
            continue  # a part of the bow, told with it
        where = f" at {each.at}" if each.at else ""
        meant, was = signed(each.meant, system), signed(each.was, system, each.u)
        told = "" if each.known else "; later readings hardly tell"
        how = "as well as predicted" if abs(each.z) <= 2 else f"{abs(each.z):.1f} spreads off"  # noqa: PLR2004 - 95 %
        now = say(each.spread_now, "length", system)
        lines.append(f"{each.remedy}{where}, {each.what}: meant {meant}, was {was}, {how}{told}; spread now {now}")
    return lines


def bench_lines(bench: Bench, system: System) -> Iterator[str]:
    """Frame, balance and rolling in sentences."""
    yield from _frame_lines(bench, system)
    if bench.balance is not None:
        named = (("x", "toward A from mid-length"), ("y", "toward the left side"), ("z", "above the railhead"))
        for name, words in named:
            found: Measured | None = getattr(bench.balance, name)
            if found is not None:
                shown = signed(found.value, system, found.u) if name != "z" else _with_u(found, system)
                yield f"centre of gravity {shown} {words}"
        yield from bench.balance.notes
    if bench.rolling is not None:
        names = {"run_out": "run-out", "pull": "pull", "coast": "coast"}
        for name, both in bench.rolling.methods.items():
            yield f"rolling resistance by {names[name]}: {_grade(both)}"
        if bench.rolling.breakaway is not None:
            yield f"starts to roll at {_grade(bench.rolling.breakaway)}; that is breakaway, not rolling"
        if len(bench.rolling.methods) > 1:
            yield bench.rolling.comparison.why
        if bench.rolling.mass is not None and bench.rolling.methods:
            yield f"rolled at {say(bench.rolling.mass, 'mass', system)}"
        yield from bench.rolling.notes


def _frame_lines(bench: Bench, system: System) -> Iterator[str]:
    frame = bench.frame
    if frame is not None:
        if frame.sag is not None and frame.u_sag is not None:
            word = "the middle is low" if frame.sag > 0 else "the middle is high"
            yield f"frame: taken as a bow, sag {signed(frame.sag, system, frame.u_sag)} over the truck centres, {word}"
        if frame.kink is not None and frame.u_kink is not None and frame.kind != "bow":
            place = say(frame.kink_at or 0.0, "length", system)
            sag = signed(frame.kink, system, frame.u_kink)
            yield f"frame: taken as a kink {place} from mid-car, worth a sag at mid-car of {sag}"
        if frame.kind.startswith("bow or"):
            yield f"frame: {frame.kind}; weight of the bow {frame.weight:.2f}"
        elif frame.kind:
            yield f"frame: it is a {frame.kind}"
        if frame.twist is not None and frame.u_twist is not None:
            yield f"frame: twist {signed(frame.twist, system, frame.u_twist)} over its width between the truck centres"
        yield from (f"frame: {reason}" for reason in frame.reasons)
        for line in bench.straight:
            bias = length_words(line.bias, system)
            yield f"{line.line}: straight within {say(line.width, 'length', system)} (noise adds {bias} on average)"
    if bench.rock is not None:
        yield f"rocks {say(bench.rock, 'length', system)} corner to corner on a plate"


def _with_u(found: Measured, system: System) -> str:
    return say(found.value, "length", system, 1.96 * found.u)


def _grade(both: Both) -> str:
    ways = "both ways" if both.slope is not None else "one way only, so the track's slope enters"
    slope = f"; track slope {_percent(100 * both.slope.value)} %" if both.slope is not None else ""
    c = both.resistance
    return f"{100 * c.value:.2f} ± {196 * c.u:.2f} % of the weight ({ways}{slope})"


def _percent(value: float) -> str:
    return f"{'−' if value < 0 else '+'}{abs(value):.2f}"


def plan_heading(number: int, plan: Plan) -> str:
    """``Plan 1: 12 min, 2.10 in parts, can be undone, risk 2 %; all conform 0.96``."""
    undone = {"yes": "can be undone", "partly": "can partly be undone", "no": "cannot be undone"}[plan.reversible]
    loop = f" ({plan.p_open:.2f} without measuring between)" if plan.p_closed - plan.p_open > 0.005 else ""  # noqa: PLR2004
    chance = min(plan.p_closed, 0.99)
    more = "more than " if plan.p_closed > 0.99 else ""  # noqa: PLR2004 - nobody promises more
    return (
        f"Plan {number}: {plan.effort:g} min, parts about {plan.cost:.2f} dollars, {undone}, risk {plan.risk:.0%}; "
        f"chance that all conforms {more}{chance:.2f}{loop}"
    )


def flip_lines(inspection: Inspection, count: int = 6) -> list[Flip]:
    """The nearest flips, priors and limits each."""
    priors = [flip for flip in inspection.flips if flip.kind == "prior"][:count]
    limits = [flip for flip in inspection.flips if flip.kind == "limit"][:count]
    return [*priors, *limits]


def length_words(value: float, system: System) -> str:
    """A length in the person's unit to three digits."""
    unit = shown_unit("length", system)
    return f"{converted(value, 'length', unit):.3g} {unit}"


def predicted_words(each: Predicted, system: System) -> str:
    """``coupler.height at A: 0.391 ± 0.003 in, conforms with probability 0.98``."""
    where = f" at {each.at}" if each.at else ""
    known = each.value is not None and each.u is not None
    shown = f"{say(each.value or 0.0, 'length', system, 1.96 * (each.u or 0.0))}, " if known else f"{each.how}, "
    return f"{each.characteristic}{where}: {shown}conforms with probability {chance_words(each.p_conform)}"


def chance_words(p: float) -> str:
    """A chance to two digits; nobody promises more than 0.99."""
    return "> 0.99" if p > 0.99 else f"{p:.2f}"  # noqa: PLR2004 - the last step before certainty


def plan_table(offered: Sequence[Plan], system: System) -> list[list[str]]:
    """Plans side by side: one column each, the first naming the rows."""
    heights = dict.fromkeys(
        (each.characteristic, each.at) for plan in offered for each in plan.predicted if each.value is not None
    )
    rows = [
        ["", *(f"plan {number}" for number in range(1, len(offered) + 1))],
        ["bench time", *(f"{plan.effort:g} min" for plan in offered)],
        ["parts, about", *(f"{plan.cost:.2f} dollars" for plan in offered)],
        ["can be undone", *(plan.reversible for plan in offered)],
        ["risk to spoil", *(f"{plan.risk:.0%}" for plan in offered)],
        ["all conform", *(chance_words(plan.p_closed) for plan in offered)],
        ["  unmeasured between", *(chance_words(plan.p_open) for plan in offered)],
    ]
    for what, at in heights:
        rows.append([f"{what} at {at}", *(_height_cell(plan, what, at, system) for plan in offered)])
    works = [[f"{step.remedy} {step.at}".strip() for step in plan.steps if step.remedy] for plan in offered]
    rows += [
        ["works" if index == 0 else "", *(own[index] if index < len(own) else "" for own in works)]
        for index in range(max(map(len, works), default=0))
    ]
    return rows


def _height_cell(plan: Plan, what: str, at: str, system: System) -> str:
    for each in plan.predicted:
        if (each.characteristic, each.at) == (what, at) and each.value is not None and each.u is not None:
            return say(each.value, "length", system, 1.96 * each.u)
    return ""

"""What this room finds, as findings the verdict can charge: features against the wanted months, dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from carwright.dates import spans_words
from carwright.history import History
from carwright.judge import Finding, Limits, Thresholds, facts_of, judge_measured
from carwright.prototype.anachronism import anachronisms, judge, told_once, words_of_rules
from carwright.prototype.conflicts import Conflicts
from carwright.prototype.fidelity import Compared, Fidelity
from carwright.prototype.portrayal import Portrayal
from carwright.prototype.window import Stretch
from carwright.tables import Source
from carwright.tables.dated_model import Dated, DatedRule

_OUTCOME = {"right": "conforms", "doubtful": "undecided", "wrong": "fails"}


def era_findings(portrayal: Portrayal, stage: int) -> list[Finding]:
    """Whether what the model shows goes with the wanted months, or with itself where none are wanted.

    Parameters
    ----------
    portrayal : Portrayal
        Of the car.
    stage : int
        Stage judged.

    Returns
    -------
    list of Finding
        One for each thing shown; where no months are wanted, one for the whole, or one for each thing to doubt.
    """
    window = portrayal.window(stage)
    if window is None:
        return []
    entries = tuple(piece.entry for piece in portrayal.pieces if piece.of == "model")
    aim = portrayal.aim(stage)
    if aim is None:
        return _together(portrayal, stage, entries)
    told = {each.name: each for each in anachronisms(window, aim, portrayal.dated)}
    built_breaks = [stretch for stretch in window.stretches if _built_broken(stretch)]
    found = []
    for stretch in told_once(window.stretches, aim):
        judged = judge(stretch, aim)
        if judged == "right" and stretch.implied:
            continue
        each = told.get(stretch.name)
        rules = each.rules if each is not None else _rules(stretch)
        cause = _cause(stretch, rules, portrayal.dated)
        if len(built_breaks) > 1 and stretch in built_breaks:
            cause = "era.stencil.built"  # several things are too old for its built date: the date is what is wrong
        found.append(
            Finding(
                clause=f"dated/{rules[0].id if rules else stretch.name}",
                title=_title(stretch, portrayal.dated),
                characteristic=f"era.{stretch.name}",
                at="",
                stage=stage,
                outcome=_OUTCOME[judged],  # type: ignore[arg-type]
                force=_force(rules, judged) if stretch.bar is not None else _own_force(stretch, judged),
                status=_status(rules),
                rule_set="dated",
                basis="dated rule",
                sources=_sources(rules),
                entries=entries,
                reason=f"wanted {aim.words()}; {each.says}" if each is not None else "",
                notes=_notes(stretch, rules),
                cause=cause,
            )
        )
    return found


def _built_broken(stretch: Stretch) -> bool:
    return any(limit.about == "built" for limit in stretch.broken)


def _rules(stretch: Stretch) -> tuple[DatedRule, ...]:
    return tuple(dict.fromkeys(limit.rule for limit in stretch.bar.limits)) if stretch.bar is not None else ()


def _cause(stretch: Stretch, rules: Sequence[DatedRule], dated: Dated) -> str:
    """What a thing that is missing because another was changed is charged to: that other."""
    conditions = [name for rule in rules for name in rule.when if not _fixed(name, dated)]
    if conditions and stretch.state == "absent":
        return f"era.{dated.group_of[conditions[0]].id}"
    return f"era.{stretch.name.partition('.')[0] if stretch.bar is not None else stretch.name}"


def _fixed(name: str, dated: Dated) -> bool:
    """Whether a condition is of the car itself, and no work that something else was forgotten at."""
    return all(feature.fixed for feature in dated.group_of[name].features)


def _title(stretch: Stretch, dated: Dated) -> str:
    title = dated.title(stretch.name)
    if stretch.bar is None:
        return f"{title} {stretch.state}"
    return title if stretch.state == "present" else f"missing: {title}"


def _own_force(stretch: Stretch, judged: str) -> str:
    """Of stencils, ages and claims: a date on the car that is too late is wrong whoever says so."""
    return "standard" if judged == "wrong" and stretch.force != "adopted" else stretch.force


def _force(rules: Sequence[DatedRule], judged: str) -> str:
    """What may cost points: regulations and interchange rules somebody read, and a person's own rules."""
    if not rules:
        return "standard"
    if any(rule.file for rule in rules):
        return "adopted"
    if judged == "wrong":  # only what is sure rules a month out: regulations and rules, or a first sighting
        return "standard" if any(rule.strength != "practice" for rule in rules) else "adopted"
    if all(rule.confidence == "memory" for rule in rules):
        return "memory"
    sure = any(rule.strength != "practice" and rule.confidence in {"high", "medium"} for rule in rules)
    return "standard" if sure else "practice"


def _status(rules: Sequence[DatedRule]) -> str:
    if any(rule.confidence == "memory" for rule in rules):
        return "memory"
    return "standard" if any(rule.strength != "practice" for rule in rules) else "common practice"


def _sources(rules: Sequence[DatedRule]) -> tuple[tuple[str, Source], ...]:
    return tuple((rule.event, source_of(rule)) for rule in rules)


def source_of(rule: DatedRule) -> Source:
    """A dated rule as a source of a finding."""
    status = {"regulation": "standard", "interchange rule": "standard", "practice": "common practice"}[rule.strength]
    confidence = {"high": "text" if rule.strength == "regulation" else "second-hand", "memory": "memory"}
    return Source(
        rule.sources[0],
        rule.date_words(),
        rule.id,
        "memory" if rule.confidence == "memory" else status,
        confidence.get(rule.confidence, "second-hand"),
    )


def _notes(stretch: Stretch, rules: Sequence[DatedRule]) -> tuple[str, ...]:
    if stretch.bar is None:
        return stretch.why
    return tuple(filter(None, (words_of_rules(rules), *(rule.note for rule in rules))))


# --- without a wanted year -----------------------------------------------------------------------------------


def _together(portrayal: Portrayal, stage: int, entries: tuple[int, ...]) -> list[Finding]:
    window, conflicts = portrayal.window(stage), portrayal.clashes(stage)
    if window is None or conflicts is None or not window.stretches:
        return []
    common = {
        "at": "", "stage": stage, "status": "standard", "rule_set": "dated", "basis": "dated rule", "entries": entries,
    }  # fmt: skip
    if not conflicts.clashes:
        reason = "" if window.soft else "no month in which no source objects"
        title = "everything shown goes together" if window.soft else "whether everything shown goes together"
        return [
            Finding(
                clause="dated/window", title=title, characteristic="era.window",
                outcome="conforms" if window.soft else "undecided", force="practice", reason=reason,
                notes=(f"{spans_words(window.soft)}; {spans_words(window.hard)} by sure sources alone",),
                **common,  # type: ignore[arg-type]
            )
        ]  # fmt: skip
    blamed = conflicts.doubts[0].facts if conflicts.doubts else ()
    return [
        Finding(
            clause="dated/conflict", title=fact.label, characteristic=f"era.{fact.name}",
            outcome="fails", force="standard", cause=f"era.{fact.name}",
            reason="; ".join(clash.why for clash in conflicts.clashes if fact in clash.facts),
            notes=_others(conflicts),
            **common,  # type: ignore[arg-type]
        )
        for fact in blamed
    ]  # fmt: skip


def _others(conflicts: Conflicts) -> tuple[str, ...]:
    rest = [" and ".join(fact.label for fact in doubt.facts) for doubt in conflicts.doubts[1:4]]
    return (f"or else: {'; or '.join(rest)}",) if rest else ()


# --- dimensions ----------------------------------------------------------------------------------------------


def fidelity_findings(fidelity: Fidelity | None, history: History, stage: int, thresholds: Thresholds) -> list[Finding]:
    """Dimensions against the full-size car, judged by the rubric's tolerance class.

    Parameters
    ----------
    fidelity : Fidelity or None
        Of the model; None gives no finding.
    history : History
        For units.
    stage : int
        Stage judged.
    thresholds : Thresholds
        The rubric's.

    Returns
    -------
    list of Finding
        One for each dimension that was measured; larger on purpose only informs; not measured is said.
    """
    if fidelity is None:
        return []
    found = [_dimension(each, fidelity, history, stage, thresholds) for each in fidelity.compared]
    found += [
        replace(
            _dimension(each, fidelity, history, stage, thresholds), force="practice", outcome="conforms",
            p_conform=None, reason="", notes=(f"over scale on purpose: {each.full.over_scale}",), excess=0.0,
            basis="no limit",
        )
        for each in fidelity.over_scale
    ]  # fmt: skip
    return found


def _dimension(each: Compared, fidelity: Fidelity, history: History, stage: int, thresholds: Thresholds) -> Finding:
    source = Source(
        each.full.source or "full-size figure", each.full.of, f"{each.full.name} {each.full.text}", "measured here"
        if each.full.of == "measured" else "handbook", "second-hand",
    )  # fmt: skip
    tolerance = Source("carwright", "1", f"fidelity/classes, {fidelity.tolerance.id}", "judgement", "own")
    sides = (("nominal", source), ("tolerance", tolerance))
    limits = Limits(
        each.nominal, max(0.0, each.nominal - each.allowed), each.nominal + each.allowed, each.u_nominal, sides, ()
    )  # fmt: skip
    facts = {
        "clause": f"fidelity/classes/{fidelity.tolerance.id}/{history.scale.name}/{each.full.name}",
        "title": f"{each.full.name.replace('.', ' ')} against the prototype",
        "characteristic": f"dimension.{each.full.name}",
        "at": "",
        "stage": stage,
        "force": "adopted",
        "status": "judgement",
        "rule_set": "fidelity",
        "kind": "length",
        "nominal": limits.nominal,
        "lower": limits.lower,
        "upper": limits.upper,
        "u_limit": limits.u,
        "sources": sides,
        "cause": "dimension.scale" if _by_scale(each, fidelity) else f"dimension.{each.full.name}",
    } | facts_of(each.measured, (_deviation(each, fidelity),))
    return judge_measured(facts, "length", each.measured, limits, history, thresholds)


def _by_scale(each: Compared, fidelity: Fidelity) -> bool:
    """Whether a dimension is off only because the model as a whole is: within its tolerance, were the scale right."""
    return (
        fidelity.scale is not None
        and fidelity.scale.told
        and abs(each.deviation) > each.allowed
        and abs(each.local) <= each.allowed
    )


def _deviation(each: Compared, fidelity: Fidelity) -> str:
    """``0.21 mm, 0.72 scale in and 1.4 % over``."""
    side = "over" if each.deviation > 0 else "under"
    inches = abs(each.scale_inches(fidelity.ratio))
    words = f"{abs(each.deviation):.2f} mm, {inches:.2g} scale in and {abs(each.percent):.2g} % {side}"
    if each.u_nominal > each.u:
        words += f"; most of the doubt is in the full-size figure ({each.full.of}, u = {each.full.u / 25.4:.2g} in)"
    return words

"""Looks as findings: a grade by eye, with the anchored sentence it stands for."""

from __future__ import annotations

from carwright.history import History
from carwright.judge.finding import Finding, Outcome
from carwright.tables import Table


def judge_looks(history: History, anchors: Table, stage: int) -> list[Finding]:
    """Looks of one stage: for each thing looked at, the last grade up to that stage.

    Parameters
    ----------
    history : History
        With its looks.
    anchors : Table
        ``words/looks``: the sentence of each grade.
    stage : int
        Stage asked for; where a thing was first looked at later, that look speaks for it.

    Returns
    -------
    list of Finding
        ``sound`` conforms, ``not seen`` is not measured, every other grade fails; no probability is given.
    """
    last = {}
    for look in sorted(history.looks, key=lambda each: (each.stage > stage, abs(each.stage - stage)), reverse=True):
        # A look without a name is one of its own: nothing says that two of them mean the same thing.
        last[look.what, look.at, look.name or f"entry {look.entry}"] = look
    findings = []
    for look in sorted(last.values(), key=lambda each: each.entry):
        row = anchors.rows[look.what]
        outcome: Outcome = "fails"
        if look.grade == "sound":
            outcome = "conforms"
        elif look.grade == "not seen":
            outcome = "not measured"
        sentence = row.words.get(look.grade, "Not looked at, or it cannot be seen.")
        findings.append(
            Finding(
                clause=f"carwright/looks/{look.what}",
                title=look.name or row.words["title"],
                characteristic=f"look.{look.what}",
                at=look.at,
                stage=stage,
                outcome=outcome,
                force="adopted",
                status=row.source.status,
                rule_set="looks",
                basis="by eye",
                sources=(("anchor", row.source),),
                entries=(look.entry,),
                reason=sentence,
                notes=(look.note,) if look.note else (),
                grade=look.grade,
            )
        )
    return findings

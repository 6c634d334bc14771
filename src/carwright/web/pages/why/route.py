"""Causes of the coupler heights, the plans that would cure what is wrong, and what was measured beside."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse

from carwright.explain.records import Plan
from carwright.web.asked import Asking, Car
from carwright.web.pages import Bar
from carwright.web.rendering import query

router = APIRouter(include_in_schema=False)
BAR = Bar("Why", 20, "/why")
_ALL = 50
"""More plans than are ever offered."""


@router.get("/car/{car}/why")
def why(
    asking: Asking,
    car: Car,
    close: Annotated[list[Annotated[str, Query(max_length=60)]] | None, Query(max_length=40)] = None,
) -> HTMLResponse:
    """The page; options a person closes are left out of every plan."""
    from carwright.publish.report import reasons  # noqa: PLC0415 - what publishes is loaded when it is first asked for

    seen = asking.seen(car)
    inspection = seen.inspection
    closed = sorted(set(close or []))
    plans = inspection.plan(closed) if closed else inspection.plans
    options = sorted(
        {_option(step.remedy, step.at) for plan in inspection.plans.offered for step in plan.steps if step.remedy}
    )
    words = asking.desk.words
    named = [
        (each, f"{words.remedies[each.partition('@')[0]].title}{_at(each)}", each in closed)
        for each in dict.fromkeys([*options, *closed])
    ]
    return asking.page(
        "why/why.html",
        car=car,
        title=seen.history.title,
        causes=[*reasons.causes(inspection, None)],
        plans=[*reasons.plans(inspection, plans, told=_ALL)],
        steps=[(number, _steps(car, plan)) for number, plan in enumerate(plans.offered, 1)],
        more=[*reasons.work_done(inspection), *reasons.measured_beside(inspection), *reasons.running(inspection)],
        options=named,
    )


def _option(remedy: str, at: str) -> str:
    return f"{remedy}@{at}" if at in {"A", "B"} else remedy


def _at(option: str) -> str:
    place = option.partition("@")[2]
    return f" at {place}" if place else ""


def _steps(car: str, plan: Plan) -> list[tuple[str, str]]:
    """Works of a plan in words, and where each is logged once it is done."""
    found = []
    for step in plan.steps:
        if step.remedy:
            spot = f"coupler-{step.at}" if step.at in {"A", "B"} else "body"
            amount = f"{step.amount:.3f} {step.unit}" if step.amount is not None and step.unit else ""
            found.append(
                (
                    step.words,
                    f"/car/{car}{query(spot=spot, do='repair', remedy=step.remedy, at=step.at, amount=amount)}",
                )
            )
    return found

"""What the car keeps and loses, and why."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import HTMLResponse

from carwright.web.asked import Asking, Car
from carwright.web.pages import Bar

router = APIRouter(include_in_schema=False)
BAR = Bar("Verdict", 30, "/verdict")


@router.get("/car/{car}/verdict")
def verdict(asking: Asking, car: Car) -> HTMLResponse:
    """The page."""
    from carwright.publish.lettering import lettering_of  # noqa: PLC0415 - what publishes is loaded when it is first asked for
    from carwright.publish.report import judged  # noqa: PLC0415
    from carwright.publish.report.assemble import summary  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    seen = asking.seen(car)
    inspection = seen.inspection
    sections = [
        judged.verdict(inspection, lettering_of(load_theme())),
        judged.findings(inspection, judged.numbered_findings(inspection)),
        *judged.editions(inspection),
    ]
    return asking.page(
        "verdict/verdict.html",
        car=car,
        title=seen.history.title,
        verdict=inspection.verdict,
        route=inspection.route if inspection.is_restricted else "",
        summary=summary(inspection),
        due=seen.due,
        sections=sections,
    )

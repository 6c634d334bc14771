"""The way in: the car looked at last, else the first one, else adding one."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import RedirectResponse, Response

from carwright.errors import UnknownNameError
from carwright.shop.demo import DEMO_TITLE
from carwright.shop.listing import list_cars
from carwright.web.asked import LAST, Asking

router = APIRouter(include_in_schema=False)


@router.get("/")
def home(asking: Asking) -> Response:
    """Lead to a car: that is where work is done."""
    last = str(asking.request.session.get(LAST, ""))
    if last:
        try:
            asking.desk.shop.known(last)
        except UnknownNameError:
            last = ""
    if not last and asking.desk.is_demo:
        last = _titled(asking, DEMO_TITLE)
    if not last:
        cars = list_cars(asking.desk.shop, most=1)
        last = cars[0].id if cars else ""
    return RedirectResponse(f"/car/{last}" if last else "/add", status_code=303)


def _titled(asking: Asking, title: str) -> str:
    try:
        return asking.desk.shop.find(title)
    except UnknownNameError:
        return ""

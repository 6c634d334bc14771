"""The list: found by words, by status, by what is due, by collection."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse

from carwright.shop.listing import CarLine, Wanted, list_cars
from carwright.shop.shared import collection, collections
from carwright.verdict.status import STATUSES
from carwright.web.asked import Asking
from carwright.web.pages import Bar
from carwright.web.rendering import query

router = APIRouter(include_in_schema=False)
BAR = Bar("Cars", 10, "/cars", of_car=False)
AT_ONCE = 40
"""Cars of one page."""


@router.get("/cars")
def cars(
    asking: Asking,
    words: Annotated[str, Query(max_length=200)] = "",
    status: Annotated[str, Query(max_length=40)] = "",
    group: Annotated[str, Query(max_length=200)] = "",
    first: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> HTMLResponse:
    """The page."""
    shop, today = asking.desk.shop, dt.datetime.now().astimezone().date()
    inside = tuple(collection(shop, group)) if group else None
    is_due = status == "due"
    wanted = Wanted(words, status if status in STATUSES else "", inside, today if is_due else None)
    found = list_cars(shop, wanted, first=first, most=AT_ONCE + 1)
    unknown = [each.id for each in found[:AT_ONCE] if not each.known]
    waiting = asking.desk.judge_beside(unknown) if unknown else 0
    later = query(words=words, status=status, group=group, first=first + AT_ONCE) if len(found) > AT_ONCE else ""
    before = query(words=words, status=status, group=group, first=max(0, first - AT_ONCE) or "") or "?" if first else ""
    return asking.page(
        "cars/cars.html",
        cars=[(each, _facts(each, today)) for each in found[:AT_ONCE]],
        words=words,
        status=status,
        statuses=STATUSES,
        group=group,
        groups=list(collections(shop)),
        first=first,
        later=later,
        before=before,
        waiting=waiting,
        is_filtered=bool(words or status or group or first),
    )


def _facts(line: CarLine, today: dt.date) -> list[str]:
    """What stands under a title: status, points, what is due, where it is."""
    if not line.known:
        return ["being judged", *_plain(line)]
    if line.fault:
        return [f"cannot be judged: {line.fault}"]
    told = [line.status, f"{line.points:g} of {line.out_of:g} points"]
    told += [f"{count} {word}" for count, word in ((line.fails, "fail"), (line.undecided, "undecided")) if count]
    due = line.due_now(today)
    told += [f"look again: {due[0].sentence}"] if due else []
    told += [f"may run: {line.route}"] if line.route else []
    return [*told, *_plain(line)]


def _plain(line: CarLine) -> list[str]:
    place = [f"at {line.place}"] if line.place else []
    return [each for each in (line.scale, line.type) if each] + place

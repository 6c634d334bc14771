"""JSON: cars, what is recorded of them and what follows; entries put in; and changes as they happen."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Annotated, Any

from fastapi import APIRouter, Body, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response, StreamingResponse

from carwright.shop.judging import kept_result
from carwright.shop.listing import CarLine, Wanted, list_cars
from carwright.shop.watching import latest_writing, written_since
from carwright.verdict.status import STATUSES
from carwright.web.asked import Asking, Car, borrowed, superseded
from carwright.web.entering import BY_ID, KEYS, body_of
from carwright.web.guard.tokens import keys_of, token_for

MOST_CARS = 500
"""Cars of one answer."""
MOST_ENTRIES = 500
"""Entries put in at once."""
_EVERY = 0.8
"""Between two looks for changes [s]."""
_ALIVE = 15.0
"""Between two signs of life on a quiet stream [s]."""


class FaultRow(BaseModel):
    """One thing wrong."""

    place: str
    sentence: str


class ErrorBody(BaseModel):
    """What went wrong."""

    status: int
    sentence: str
    faults: list[FaultRow]


class ErrorDocument(BaseModel):
    """The one form of every error."""

    error: ErrorBody


class CarRow(BaseModel):
    """A car as lists show it; what is not judged yet has no status."""

    id: str
    title: str
    scale: str
    type: str
    owner: str
    number: str
    place: str
    entries: int
    judged: bool
    status: str
    band: str
    points: float
    out_of: float
    fault: str


class CarsDocument(BaseModel):
    """Some cars, in order of their titles."""

    cars: list[CarRow]


class AddedDocument(BaseModel):
    """Ids of entries that are now held."""

    ids: list[str]


class TokenDocument(BaseModel):
    """What a request that changes something sends as ``x-carwright-token``."""

    token: str


class TypedEntry(BaseModel):
    """A form of the bench as it was typed while the shop could not be reached."""

    model_config = ConfigDict(extra="forbid", strict=True)
    id: str = Field(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")
    when: str = Field(max_length=40)
    doing: str = Field(pattern=f"^({'|'.join(BY_ID)})$")
    typed: dict[Annotated[str, Field(max_length=40)], Annotated[str, Field(max_length=20_000)]]


_ERRORS: dict[int | str, dict[str, Any]] = {
    code: {"model": ErrorDocument, "description": what}
    for code, what in (
        (400, "cannot be done"),
        (401, "not paired"),
        (403, "not of this session"),
        (404, "not there"),
        (409, "says something else than what is held"),
        (413, "too large"),
        (422, "cannot be read"),
        (429, "asked too often"),
        (500, "what is held is damaged"),
        (503, "the shop cannot be reached or written"),
    )
}
router = APIRouter(prefix="/api", tags=["shop"], responses=_ERRORS)


@router.get("/token")
def token(asking: Asking) -> TokenDocument:
    """Begin a session, and the token its requests need."""
    return TokenDocument(token=token_for(asking.request))


@router.get("/cars")
def cars(
    asking: Asking,
    words: Annotated[str, Query(max_length=200)] = "",
    status: Annotated[str, Query(max_length=20, pattern=f"^({'|'.join(STATUSES)})?$")] = "",
    first: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    most: Annotated[int, Query(ge=1, le=MOST_CARS)] = 50,
) -> CarsDocument:
    """Cars in which all of some words stand."""
    found = list_cars(asking.desk.shop, Wanted(words, status), first=first, most=most)
    return CarsDocument(cars=[_row(each) for each in found])


def _row(each: CarLine) -> CarRow:
    names = set(CarRow.model_fields) - {"judged"}
    return CarRow(judged=each.known, **{name: getattr(each, name) for name in names})


@router.get("/cars/{car}", responses={200: {"content": {"application/json": {"schema": {"type": "object"}}}}})
def inspection(asking: Asking, car: Car) -> Response:
    """The inspection of a car, the document that ``carwright inspect --json`` prints."""
    from carwright.publish.document import as_json_text  # noqa: PLC0415 - what publishes is loaded when it is first asked for

    text = kept_result(asking.desk.shop, car, "inspection", as_json_text)
    return Response(text, media_type="application/json")


@router.post("/cars/{car}/entries", status_code=201)
def add(
    asking: Asking, car: Car, entries: Annotated[list[dict[str, Any]], Body(min_length=1, max_length=MOST_ENTRIES)]
) -> AddedDocument:
    """Put entries into the history of a car, as they stand on a sheet; all or none.

    One that bears an ``id`` and is held already is passed over, so that sending twice does no harm.
    """
    own = borrowed(asking, car, {str(each["with"]) for each in entries if isinstance(each.get("with"), str)})
    ids = asking.desk.shop.append(car, entries, who=asking.who, instruments=own)
    asking.desk.judge_beside([car])
    return AddedDocument(ids=ids)


@router.post("/cars/{car}/typed", status_code=201)
def typed(asking: Asking, car: Car, entry: TypedEntry) -> AddedDocument:
    """Put in what was typed at the bench while the shop could not be reached; sending it twice does no harm."""
    doing = BY_ID[entry.doing]
    fields = {name: text for name, text in entry.typed.items() if name in KEYS[doing.id] or name == "supersedes"}
    if doing.id == "measure":
        fields |= {name: text for name, text in entry.typed.items() if name == "unit"}
    before = superseded(asking.desk.shop.known(car), fields.get("supersedes", ""))
    body = {**body_of(doing, fields, before), "id": entry.id, "when": entry.when}
    if "supersedes" in body:
        del body["when"]
    body |= {"who": asking.who} if asking.who else {}
    own = borrowed(asking, car, [str(body.get("with", ""))])
    ids = asking.desk.shop.append(car, [body], who=asking.who, instruments=own)
    asking.desk.judge_beside([car])
    return AddedDocument(ids=ids)


@router.get(
    "/changes",
    response_class=StreamingResponse,
    responses={200: {"content": {"text/event-stream": {"schema": {"type": "string"}}}}},
    include_in_schema=False,
)
async def changes(asking: Asking, car: Annotated[str, Query(pattern=r"^([0-9a-f-]{36})?$")] = "") -> StreamingResponse:
    """Server-sent events: ``changed`` whenever something is written of a car, or of any where none is named."""
    return StreamingResponse(
        _changes(asking, car),
        media_type="text/event-stream",
        headers={"cache-control": "no-store", "x-accel-buffering": "no"},
    )


async def _changes(asking: Asking, car: str) -> AsyncIterator[str]:
    shop, server = asking.desk.shop, getattr(asking.request.app.state, "server", None)
    keys = keys_of(asking.request)
    known = await asyncio.to_thread(latest_writing, shop)
    quiet = 0.0
    yield "retry: 2000\n: here\n\n"
    while not (server is not None and server.should_exit) and not await asking.request.is_disconnected():
        await asyncio.sleep(_EVERY)
        known, about = await asyncio.to_thread(written_since, shop, known)
        if keys_of(asking.request).mark != keys.mark:
            return  # devices were let go; whoever may still come in asks again
        quiet += _EVERY
        if about and (not car or car in about):
            quiet = 0.0
            yield f"event: changed\ndata: {json.dumps(sorted(about)[:100])}\n\n"
        elif quiet >= _ALIVE:
            quiet = 0.0
            yield ": here\n\n"

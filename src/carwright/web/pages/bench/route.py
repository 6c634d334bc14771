"""The bench: look at a car, put down what was read or done, undo it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, Response

from carwright.errors import CarwrightError, Fault, SheetError
from carwright.web.asked import Asked, Asking, Car, Form, borrowed, superseded, texts
from carwright.web.entering import BY_ID, DOINGS, KEYS, Doing, body_of, now_text
from carwright.web.fields import Typed, faults_by_field
from carwright.web.pages import Bar
from carwright.web.pages.bench.pad import Wish, place_words
from carwright.web.pages.bench.view import View, preview
from carwright.web.pictures import PictureError, photo_of
from carwright.web.places import after, spot_of, spots_of
from carwright.web.rendering import query

router = APIRouter(include_in_schema=False)
BAR = Bar("Bench", 10, "")
Short = Annotated[str, Query(max_length=80)]
Long = Annotated[str, Query(max_length=4000)]


@router.get("/car/{car}")
def bench(
    asking: Asking,
    car: Car,
    spot: Short = "",
    do: Short = "",
    what: Short = "",
    at: Short | None = None,
    entry: Short = "",
    remedy: Short = "",
    amount: Short = "",
) -> HTMLResponse:
    """The page."""
    fill = {name: text for name, text in (("remedy", remedy), ("amount", amount)) if text}
    if remedy:
        fill |= {"at": at or ""}
    wish = Wish(spot, do or "measure", what, at, entry, fill)
    return _shown(asking, car, wish)


def _shown(asking: Asked, car: str, wish: Wish, typed: Typed | None = None, status: int = 200) -> HTMLResponse:
    seen = asking.seen(car)
    view = View(asking, seen).made(wish, typed)
    return asking.page("bench/bench.html", status, car=car, view=view, title=seen.history.title)


@router.post("/car/{car}/photos")
@router.post("/car/{car}/entries")
def put_down(asking: Asking, car: Car, form: Form) -> Response:
    """Add an entry; where it cannot be read, the page says so beside the field and keeps what was typed."""
    fields = texts(form)
    doing = BY_ID.get(fields.get("do", ""), DOINGS[0])
    typed = {name: fields.get(name, "") for name in (*KEYS[doing.id], "supersedes")}
    wish = Wish(fields.get("spot", ""), doing.id, typed.get("what", ""), typed.get("at"), typed["supersedes"])
    seen = asking.seen(car)
    try:
        _must_say_something(doing, typed)
        body, files = _entry(doing, typed, form.get("file"), superseded(seen.state, typed["supersedes"]))
        body |= {"who": asking.who} if asking.who else {}
        own = borrowed(asking, car, [str(body.get("with", ""))])
        [made] = asking.desk.shop.append(car, [body], who=asking.who, files=files, instruments=own)
    except (SheetError, PictureError) as error:
        faults = faults_by_field(error, KEYS[doing.id], entry=len(seen.state.entries) + 1)
        if isinstance(error, PictureError):
            faults = {"file": [str(error)]}
        return _shown(asking, car, wish, Typed(typed, faults), 422)
    _remember(asking, doing, typed)
    asking.desk.judge_beside([car])
    where = _next_place(asking, car, doing, typed, wish.spot, again="again" in fields)
    return asking.go(f"/car/{car}{where}", _saved(asking, doing, body), f"/car/{car}/undo/{made}")


def _saved(asking: Asked, doing: Doing, body: Mapping[str, Any]) -> str:
    """What was saved, so that a slip is seen at once."""
    what = asking.desk.words.characteristics.get(str(body.get("what", "")))
    if doing.id != "measure" or what is None:
        return f"{doing.title}: saved."
    where = f", {place_words(str(body['at']))}" if body.get("at") else ""
    return f"Saved: {what.title}{where}, {', '.join(map(str, body.get('values', [])))}"


def _must_say_something(doing: Doing, typed: Mapping[str, str]) -> None:
    """Refuse a form that is empty, where an entry of its kind may say nothing at all."""
    if doing.id == "bought" and not any(typed.get(key, "").strip() for key in KEYS[doing.id]):
        raise SheetError("entry", [Fault(0, "", "say at least one of these")])


def _entry(
    doing: Doing, typed: Mapping[str, str], upload: object, before: Mapping[str, Any]
) -> tuple[dict[str, Any], dict[str, bytes]]:
    """The entry a form means, now, and the files it names; ``before`` is the one it corrects."""
    body = body_of(doing, typed, before)
    if "supersedes" not in body:
        body["when"] = now_text()
    body["id"] = str(uuid.uuid4())
    if doing.id != "photo":
        return body, {}
    content = upload.file.read() if isinstance(upload, UploadFile) else b""
    name, data = photo_of(content)
    return {**body, "file": name}, {name: data}


def _remember(asking: Asked, doing: Doing, typed: Mapping[str, str]) -> None:
    """Instrument and unit used last, which the pad offers first."""
    what = asking.desk.words.characteristics.get(typed.get("what", ""))
    if doing.id == "measure" and what is not None:
        asking.request.session[f"with:{what.kind}"] = typed.get("with", "")
        asking.request.session[f"unit:{what.kind}"] = typed.get("unit", "")


def _next_place(asking: Asked, car: str, doing: Doing, typed: Mapping[str, str], here: str, *, again: bool) -> str:
    """Where the pad goes after a reading: the next place of the same thing, or the same once more."""
    seen = asking.desk.seen(car, system=asking.system)
    what = asking.desk.words.characteristics.get(typed.get("what", ""))
    if doing.id != "measure" or what is None:
        known = {spot.id for spot in spots_of(seen.history)}
        what_again = typed.get("what", "") if doing.id == "look" else ""
        return query(spot=here if here in known else "body", do=doing.id, what=what_again, at=typed.get("at"))
    at, spot_id = typed.get("at", ""), ""
    if not again and not typed["supersedes"]:
        at, spot_id = after(what, at, seen.history)
    if not spot_id:
        found = spot_of(spots_of(seen.history), what.id, at)
        spot_id = found.id if found else ""
    return query(spot=spot_id, what=what.id, at=at)


@router.post("/car/{car}/undo/{entry}")
def undo(asking: Asking, car: Car, entry: Car, form: Form) -> Response:
    """Undo an entry by a new one; undoing that brings it back."""
    made = asking.desk.shop.undo(car, entry, who=asking.who)
    asking.desk.judge_beside([car])
    back = asking.back(f"/car/{car}", texts(form).get("back", ""))
    return asking.go(back, "Undone; the entry is still in the history.", f"/car/{car}/undo/{made}", "Put it back")


@router.get("/car/{car}/would")
def would(
    asking: Asking,
    car: Car,
    what: Short = "",
    at: Short = "",
    value: Long = "",
    unit: Short = "",
    with_: Annotated[str, Query(alias="with", max_length=2000)] = "",
    state: Short = "",
    name: Long = "",
) -> HTMLResponse:
    """What a reading would come to, before it is saved."""
    if not value.strip():
        return asking.page("bench/would.html", shown=None, faults=[])
    typed = {"what": what, "at": at, "value": value, "unit": unit, "with": with_, "state": state, "name": name}
    body = body_of(BY_ID["measure"], typed)
    try:
        found = asking.desk.tried(car, [body], system=asking.system, borrowed=borrowed(asking, car, [with_]))
    except CarwrightError as error:
        faults = [each for told in faults_by_field(error, KEYS["measure"], entry=0).values() for each in told]
        return asking.page("bench/would.html", shown=None, faults=faults)
    shown = preview(found.findings, what, at, found.history.system, found.rubric.charges)
    return asking.page("bench/would.html", shown=shown, faults=[])

"""What the model and its pictures show, and which years follow."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, Response

from carwright.errors import CarwrightError, SheetError
from carwright.inspection import Inspection
from carwright.tables import shipped
from carwright.tables.dated import dated_of
from carwright.tables.dated_model import Dated, Group
from carwright.web.asked import Asked, Asking, Car, Form, texts
from carwright.web.desk import Seen
from carwright.web.entering import now_text
from carwright.web.fields import Typed, faults_by_field
from carwright.web.pages import Bar
from carwright.words import kind_of, plain

if TYPE_CHECKING:
    from carwright.publish.report.content import Section

router = APIRouter(include_in_schema=False)
BAR = Bar("Dates", 40, "/dates")
ABSENT, UNSEEN = "absent", "not visible"
_TOLD = ("source", "claim", "number", "built", "last_seen")
"""What is said of a picture besides what it shows."""
Piece = Annotated[str, Query(max_length=40)]


@router.get("/car/{car}/dates")
def dates(asking: Asking, car: Car, piece: Piece = "") -> HTMLResponse:
    """The page, with one piece of evidence open; the model itself where none is named."""
    seen = asking.seen(car)
    body = _open(seen, piece)
    return _shown(asking, car, seen, seen.inspection, Typed(_typed(body, _dated(seen))))


def _shown(asking: Asked, car: str, seen: Seen, inspection: Inspection, typed: Typed, http: int = 200) -> HTMLResponse:
    dated = _dated(seen)
    kind = kind_of(seen.history.type)
    groups = [each for each in dated.groups.values() if not each.types or not kind or kind in each.types]
    return asking.page(
        "dates/dates.html",
        http,
        car=car,
        title=seen.history.title,
        typed=typed,
        sections=_sections(inspection),
        pieces=_pieces(seen),
        groups=[(each, _choices(each)) for each in groups],
        stencils=list(dated.stencils.values()),
        wanted=seen.state.stated.get("car.prototype", {}).get("wanted", ""),
    )


@router.post("/car/{car}/dates/would")
def would(asking: Asking, car: Car, form: Form) -> HTMLResponse:
    """The same page as it would be with what is ticked; nothing is written."""
    seen, typed = asking.seen(car), texts(form)
    body = _body(typed, seen, asking)
    try:
        found = asking.desk.tried(car, [body], system=asking.system)
    except CarwrightError as error:
        return _shown(asking, car, seen, seen.inspection, Typed(typed, _faults(error, body, seen)), 422)
    return _shown(asking, car, seen, found, Typed(typed))


@router.post("/car/{car}/dates")
def put_down(asking: Asking, car: Car, form: Form) -> Response:
    """Save what is ticked as evidence."""
    seen, typed = asking.seen(car), texts(form)
    body = {**_body(typed, seen, asking), "id": str(uuid.uuid4())}
    if "supersedes" not in body:
        body["when"] = now_text()
    try:
        asking.desk.shop.append(car, [body], who=asking.who)
    except CarwrightError as error:
        return _shown(asking, car, seen, seen.inspection, Typed(typed, _faults(error, body, seen)), 422)
    asking.desk.judge_beside([car])
    return asking.go(f"/car/{car}/dates?piece={body['id']}", "Evidence saved.", f"/car/{car}/undo/{body['id']}")


def _dated(seen: Seen) -> Dated:
    portrayal = seen.inspection.portrayal
    return portrayal.dated if portrayal is not None else dated_of(shipped())


def _sections(inspection: Inspection) -> list[Section]:
    from carwright.publish.lettering import lettering_of  # noqa: PLC0415 - what publishes is loaded when it is first asked for
    from carwright.publish.report.portrait import portrait  # noqa: PLC0415
    from carwright.publish.theme import load_theme  # noqa: PLC0415

    letters = lettering_of(load_theme())
    order = {"Era": 0, "Evidence": 1}
    return sorted(portrait(inspection, letters), key=lambda each: order.get(each.title, 2))


def _entries(seen: Seen) -> dict[str, dict[str, Any]]:
    """Evidence that holds, by id."""
    rows = {each.id: each.content() for each in seen.state.entries}
    gone = {body.get("supersedes") for body in rows.values()}
    return {name: body for name, body in rows.items() if body["kind"] == "evidence" and name not in gone}


def _pieces(seen: Seen) -> list[tuple[str, str]]:
    return [(name, f"{body.get('of', 'photo')}: {body['source']}") for name, body in _entries(seen).items()]


def _open(seen: Seen, piece: str) -> dict[str, Any]:
    """The entry to show: the one named, else the model's last, else a new one."""
    found = _entries(seen)
    if piece in found:
        return {**found[piece], "supersedes": piece}
    if piece:
        return {"of": piece if piece in {"photo", "drawing", "roster", "model"} else "photo"}
    for name, body in reversed(found.items()):
        if body.get("of") == "model":
            return {**body, "supersedes": name}
    return {"of": "model", "source": "the model"}


def _choices(group: Group) -> list[tuple[str, str]]:
    states = [(each.id, each.title) for each in group.features]
    return [("", "not looked at"), *states, (ABSENT, "none of them"), (UNSEEN, "cannot be seen")]


def _typed(body: Mapping[str, Any], dated: Dated) -> dict[str, str]:
    """Fields of an entry as the form has them."""
    typed = {name: str(body[name]) for name in (*_TOLD, "of", "supersedes") if name in body}
    typed.setdefault("of", "photo")
    for row in body.get("seen", []):
        name, value = _field(row, dated)
        if name:
            typed[name] = value
    return typed


def _field(row: Mapping[str, Any], dated: Dated) -> tuple[str, str]:
    """Field that shows something seen, and what stands in it; "" where no field does."""
    name, state = plain(str(row["feature"])), str(row.get("state", "present"))
    known = dated.written.get(name, "")
    if known in dated.stencils:
        return f"stencil:{known}", str(row.get("date", ""))
    if known in dated.group_of:
        return f"group:{dated.group_of[known].id}", known if state == "present" else state
    return "", ""


def _body(typed: Mapping[str, str], seen: Seen, asking: Asked) -> dict[str, Any]:
    """The entry a form means; what the form does not show of the entry it corrects, or was not changed, is kept."""
    before = _entries(seen).get(typed.get("supersedes", ""), {})
    dated = _dated(seen)
    shown = {*_TOLD, "seen", "when", "supersedes"}
    body: dict[str, Any] = {key: value for key, value in before.items() if key not in shown}
    body |= {"kind": "evidence", "of": typed.get("of", "photo")}
    body |= {name: typed[name].replace("\r\n", "\n").strip() for name in _TOLD if typed.get(name, "").strip()}
    body.setdefault("source", "")
    body["seen"] = _seen(before.get("seen", []), typed, dated)
    if before:
        body["supersedes"] = typed["supersedes"]
    if asking.who:
        body["who"] = asking.who
    return body


def _seen(before: Sequence[Mapping[str, Any]], typed: Mapping[str, str], dated: Dated) -> list[dict[str, Any]]:
    """What is seen: rows whose field says what it said before stay word for word, others follow from their fields."""
    found: list[dict[str, Any]] = []
    stays = set()
    for row in before:
        name, value = _field(row, dated)
        if not name or typed.get(name, value).strip() == value:
            found.append(dict(row))
            stays.add(name)
    for name, value in typed.items():
        sort, _, what = name.partition(":")
        if not value.strip() or name in stays:
            continue
        if sort == "group" and what in dated.groups:
            found.append({"feature": what, "state": value} if value in {ABSENT, UNSEEN} else {"feature": value})
        elif sort == "stencil" and what in dated.stencils:
            found.append({"feature": what, "date": value.strip()})
    return found


_ROW = re.compile(r"seen[. ](\d+)")


def _faults(error: CarwrightError, body: Mapping[str, Any], seen: Seen) -> dict[str, list[str]]:
    """What is wrong, by field; what is wrong with something seen, by the field that shows it."""
    if not isinstance(error, SheetError):
        return faults_by_field(error, _TOLD)
    rest, found = [], dict[str, list[str]]()
    for fault in error.faults:
        row = _ROW.search(fault.place)
        number = int(row[1]) - 1 if row is not None else -1
        name = _field(body["seen"][number], _dated(seen))[0] if 0 <= number < len(body["seen"]) else ""
        if name:
            found.setdefault(name, []).append(fault.message)
        else:
            rest.append(fault)
    if rest:
        found |= faults_by_field(SheetError(error.file, rest), _TOLD, entry=len(seen.state.entries) + 1)
    return found

"""A new car, a sheet that was written elsewhere, and rows of a table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Path
from starlette.datastructures import FormData, UploadFile
from starlette.responses import HTMLResponse, Response

from carwright.errors import CarwrightError, Fault, SheetError
from carwright.history.entries import FORMAT
from carwright.history.entry_rows import EntryRow, read_entry_rows
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import LARGEST, read_document, read_sheet_text
from carwright.history.undo import UndoError
from carwright.shop import Given
from carwright.shop.listing import list_cars
from carwright.web.asked import LAST, Asked, Asking, Form, borrowed, texts
from carwright.web.carfacts import car_fields, facts_of
from carwright.web.entering import now_text
from carwright.web.fields import Field, Typed, faults_by_field
from carwright.web.pages import Bar
from carwright.web.pages.sizes.route import must_have_rules

router = APIRouter(include_in_schema=False)
BAR = Bar("Add", 15, "/add", of_car=False)
_NEW = (
    "title",
    "scale",
    "type",
    "rules",
    "system",
    "coupler",
    "body_length",
    "truck_centers",
    "paid",
    "currency",
    "from",
)
_LIKE = "like"


def _fields(asking: Asked) -> tuple[Field, ...]:
    cars = list_cars(asking.desk.shop, most=300)
    own = [each for each in car_fields(asking.desk.shop, asking.desk.words) if each.name in _NEW]
    return (
        *own,
        Field(
            _LIKE,
            "Built like",
            "choice",
            "takes over sizes and rules of a car that is here",
            (("", "none of them"), *((each.id, each.title) for each in cars)),
        ),
        Field("body_length", "Body length", hint="such as 5.35 in or 136 mm; the weight rule needs it"),
        Field("truck_centers", "Truck centres", hint="causes of coupler heights need them"),
        Field("paid", "Paid", "number"),
        Field("currency", "Currency", hint="such as USD or EUR"),
        Field("from", "From whom"),
    )


@router.get("/add")
def add(asking: Asking) -> HTMLResponse:
    """The page."""
    return _shown(asking)


def _shown(
    asking: Asked,
    new: Typed | None = None,
    sheet: Typed | None = None,
    table: Typed | None = None,
    http: int = 200,
    rows: Sequence[tuple[str, str, int]] = (),
) -> HTMLResponse:
    last = str(asking.request.session.get(LAST, ""))
    cars = [(each.id, each.title) for each in list_cars(asking.desk.shop, most=300)]
    return asking.page(
        "add/add.html",
        http,
        fields=_fields(asking),
        new=new or Typed({"scale": _scale(asking, last)}),
        sheet=sheet or Typed(),
        table=table or Typed(),
        cars=sorted(cars, key=lambda each: each[0] != last),
        rows=rows,
    )


def _told(fault: Fault) -> str:
    """A fault with its line and place."""
    parts = [f"line {fault.line}" if fault.line else "", fault.place, fault.message]
    return ": ".join(part for part in parts if part)


_TWIN = re.compile(r"looks like a changed sheet of (?P<title>.+?), which the shop has as (?P<car>[0-9a-f-]{36})")


def _told_of_twin(error: CarwrightError) -> str:
    """What a page says where a car like it is here already."""
    found = _TWIN.search(str(error))
    title = found["title"] if found is not None else "a car"
    return f"a car like it is here already, {title}: if it is another one, tick that below and send it again"


def _scale(asking: Asked, last: str) -> str:
    """The scale of the car looked at last: most people keep to one."""
    stated = asking.desk.shop.state(last).stated if last else {}
    return str(stated.get("car", {}).get("scale", "HO"))


@router.post("/add/new")
def new(asking: Asking, form: Form) -> Response:
    """Take in a new car."""
    shop, typed = asking.desk.shop, texts(form)
    try:
        document = _document(asking, typed)
        made = read_document(document, Faults(Lines("")), asking.desk.words, "the car", "")
        must_have_rules(asking, made.history)
        added = shop.add([Given(made)], who=asking.who, another=bool(typed.get("another")))
    except CarwrightError as error:
        faults = faults_by_field(error, (*_NEW, _LIKE), entry=1)
        if _TWIN.search(str(error)):
            faults = {"": [_told_of_twin(error)]}
        return _shown(asking, new=Typed(typed, faults), http=422)
    car = added[0].addition.car
    asking.desk.judge_beside([car])
    return asking.go(f"/car/{car}", f"{made.car.title} is taken in: touch the place you measure first.")


def _document(asking: Asked, typed: Mapping[str, str]) -> dict[str, Any]:
    like = asking.desk.shop.known(typed[_LIKE]).stated if typed.get(_LIKE) else {}
    said = {name: text for name, text in typed.items() if text.strip() or not like}
    stated = facts_of(said, {key: like.get(key, {}) for key in ("car", "car.geometry")})
    car = {**stated["car"], "title": typed.get("title", "").strip()}
    if stated["car.geometry"]:
        car["geometry"] = stated["car.geometry"]
    if not car["title"]:
        raise SheetError("the car", [Fault(0, "car, title", "needs a title, such as Boxcar, 40 ft")])
    document: dict[str, Any] = {"format": FORMAT, "car": car}
    bought = {name: typed[name].strip() for name in ("paid", "currency", "from") if typed.get(name, "").strip()}
    if bought:
        entry: dict[str, Any] = {"kind": "acquisition", "when": now_text(), **bought}
        try:
            entry |= {"paid": float(bought["paid"].replace(",", "."))} if "paid" in bought else {}
        except ValueError as error:
            told = f"cannot read {bought['paid'][:20]!r}: expected a sum such as 24.50"
            raise SheetError("the car", [Fault(0, "entry 1 (acquisition), paid", told)]) from error
        document["entry"] = [entry]
    return document


async def _text(form: FormData, name: str) -> str:
    """A text that was typed, or that of a file; what is no text cannot be read."""
    upload = form.get("file")
    if isinstance(upload, UploadFile) and upload.size:
        return (await upload.read(LARGEST + 1)).decode("utf-8-sig", "replace")
    given = form.get(name, "")
    return given.replace("\r\n", "\n") if isinstance(given, str) else ""


@router.post("/add/sheet")
async def sheet(asking: Asking, form: Form) -> Response:
    """Take in a bench sheet."""
    from starlette.concurrency import run_in_threadpool  # noqa: PLC0415 - reading a file is waited for, judging is not

    text = await _text(form, "text")
    return await run_in_threadpool(_sheet, asking, text, bool(form.get("correct")), bool(form.get("another")))


def _sheet(asking: Asked, text: str, correct: bool, another: bool) -> Response:  # noqa: FBT001 - two ticks of a form
    typed = {"text": text, "correct": "1" if correct else "", "another": "1" if another else ""}
    try:
        made = read_sheet_text(text, asking.desk.words, file="sheet")
        added = asking.desk.shop.add([Given(made)], who=asking.who, correct=correct, another=another)
    except CarwrightError as error:
        lines = str(error).splitlines()
        if isinstance(error, SheetError):
            lines = [_told(each) for each in error.faults]
        elif _TWIN.search(str(error)):
            lines = [_told_of_twin(error)]
        return _shown(asking, sheet=Typed(typed, {"text": lines}), http=422)
    found = added[0]
    asking.desk.judge_beside([found.addition.car])
    lost = f" Not found, and added without: {', '.join(found.missing)}." if found.missing else ""
    count = found.addition.entries
    return asking.go(f"/car/{found.addition.car}", f"{found.title}: {count} new entries.{lost}")


@router.post("/add/table")
async def table(asking: Asking, form: Form) -> Response:
    """Take in rows of a table: shown first, and saved once they are confirmed."""
    from starlette.concurrency import run_in_threadpool  # noqa: PLC0415 - as above

    text = await _text(form, "rows")
    return await run_in_threadpool(_table, asking, text, texts(form))


def _table(asking: Asked, text: str, typed: Mapping[str, str]) -> Response:
    fields = {"rows": text, "car": typed.get("car", "")}
    rows, faults = read_entry_rows(text)
    if not rows and not faults:
        faults.append(Fault(0, "", "there is no row below the column names"))
    by_car: dict[str, list[EntryRow]] = {}
    for row in rows:
        try:
            car = asking.desk.shop.find(row.car) if row.car else typed.get("car", "")
            by_car.setdefault(asking.desk.shop.known(car).subject, []).append(row)
        except CarwrightError as error:
            faults.append(Fault(row.line, "column car", str(error)))
    for car, own in by_car.items():
        faults += _wrong(asking, car, own)
    if faults:
        lines = [_told(each) for each in sorted(faults)]
        return _shown(asking, table=Typed(fields, {"rows": lines}), http=422)
    if not typed.get("sure"):
        told = [(car, asking.desk.shop.known(car).title, len(own)) for car, own in by_car.items()]
        return _shown(asking, table=Typed(fields), rows=told)
    made = {}
    for car, own in by_car.items():
        bodies = [dict(row.body) for row in own]
        lent = borrowed(asking, car, {str(body.get("with", "")) for body in bodies})
        made[car] = asking.desk.shop.append(car, bodies, who=asking.who, instruments=lent)
    asking.desk.judge_beside(list(by_car))
    undo = f"/add/undo/{asking.desk.remember(made)}"
    return asking.go(f"/car/{next(iter(by_car))}", f"{len(rows)} rows saved.", undo)


@router.post("/add/undo/{key}")
def undo(asking: Asking, key: Annotated[str, Path(max_length=40)]) -> Response:
    """Undo every row of a table that was saved a while ago; what was corrected since stays."""
    found = asking.desk.remembered(key)
    undone = 0
    for car, ids in found.items():
        for identity in reversed(ids):
            try:
                asking.desk.shop.undo(car, identity, who=asking.who)
            except UndoError:
                continue
            undone += 1
    asking.desk.judge_beside(list(found))
    return asking.go(f"/car/{next(iter(found))}", f"{undone} rows undone; they are still in the history.")


def _wrong(asking: Asked, car: str, rows: Sequence[EntryRow]) -> list[Fault]:
    """What is wrong with rows of one car, by their lines."""
    held = len(asking.desk.shop.known(car).entries)
    try:
        bodies = [dict(row.body) for row in rows]
        lent = borrowed(asking, car, {str(body.get("with", "")) for body in bodies})
        asking.desk.read_with(car, bodies, lent)
    except SheetError as error:
        found = []
        for fault in error.faults:
            number = fault.place.removeprefix("entry ").partition(" ")[0]
            at = int(number) - held - 1 if fault.place.startswith("entry ") and number.isdigit() else -1
            column = fault.place.rpartition(", ")[2] if ", " in fault.place else ""
            line = rows[at].line if 0 <= at < len(rows) else 0
            found.append(Fault(line, f"column {column}" if column and line else fault.place, fault.message))
        return found
    return []

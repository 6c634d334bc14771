"""Who writes, in which units, with what, and by which rules."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

import segno
import tomli_w
from fastapi import APIRouter, Query
from pydantic import ValidationError
from starlette.responses import HTMLResponse, Response

from carwright.errors import CarwrightError, UnknownNameError
from carwright.history.entries import InstrumentRow
from carwright.history.faults import Faults, sentence
from carwright.history.instruments import Instruments
from carwright.history.lines import Lines
from carwright.inspection import Inspection
from carwright.shop import open_shop
from carwright.shop.address import own_place
from carwright.shop.forms import form_of
from carwright.shop.instrument_file import FORMAT as INSTRUMENTS
from carwright.shop.instruments import kept_instruments
from carwright.shop.naming import kept_id
from carwright.shop.restating import restate, stated_now
from carwright.shop.shared import keep_file, kept_files, kept_text
from carwright.shop.standing import FILE_KEPT
from carwright.shop.trust import is_name
from carwright.web.asked import LAST, SCHEME, SYSTEM, WHO, Asked, Asking, Form, texts
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.fields import Field, Typed
from carwright.web.guard.hosts import is_loopback
from carwright.web.pages import Bar
from carwright.web.pages.settings.abilities import abilities
from carwright.web.rendering import query

router = APIRouter(include_in_schema=False)
BAR = Bar("Settings", 30, "/settings", of_car=False)
OWN = "bench-instruments.toml"
"""The file instruments described here are kept in."""
_YOU = (WHO, SYSTEM, SCHEME)
_INSTRUMENT = (
    Field("name", "Name", hint="as it is named in the pad, such as: my calliper", required=True),
    Field("resolution", "Resolution", hint="its smallest step, with the unit: 0.01 mm", required=True),
    Field("calibration", "Calibration", hint="standard uncertainty of its zero and scale: 0.02 mm"),
    Field("repeatability", "Repeatability", hint="standard deviation of one reading: 0.02 mm"),
    Field("repeatability_n", "from so many readings", "number"),
)


@router.get("/settings")
def settings(asking: Asking, file: Annotated[str, Query(max_length=255)] = "") -> HTMLResponse:
    """The page, with one kept file open where one is named."""
    typed = Typed({"name": file, "text": kept_text(asking.desk.shop, file)}) if file else Typed()
    return _shown(asking, kept=typed)


def _shown(
    asking: Asked, *, you: Typed | None = None, own: Typed | None = None, kept: Typed | None = None, http: int = 200
) -> HTMLResponse:
    desk, session = asking.desk, asking.request.session
    inspection = _car(asking)
    instruments = kept_instruments(desk.shop)
    able = _abilities(asking, inspection, instruments)
    door: Door = asking.request.app.state.door
    link = door.link() if _is_here(asking) else ""
    return asking.page(
        "settings/settings.html",
        http,
        you=you or Typed({name: str(session.get(name, "")) for name in _YOU}),
        own=own or Typed(),
        kept=kept or Typed(),
        fields=_INSTRUMENT,
        about=inspection.history.title if inspection is not None else "",
        instruments=able,
        first_able=next((name for name, _, about in able if about), ""),
        kept_own=list(instruments),
        rule_sets=desk.words.rule_sets,
        files=kept_files(desk.shop),
        place=str(desk.shop.address),
        door=door,
        link=link,
        code=segno.make(link, error="m").svg_inline(scale=6, border=3) if link else "",
    )


def _car(asking: Asked) -> Inspection | None:
    """The car looked at last, whose limits instruments are held against."""
    last = str(asking.request.session.get(LAST, ""))
    if not last:
        return None
    try:
        return asking.desk.seen(last, system=asking.system).inspection
    except CarwrightError:
        return None


def _abilities(
    asking: Asked, inspection: Inspection | None, kept: Mapping[str, Mapping[str, object]]
) -> list[tuple[str, str, list[object]]]:
    words = asking.desk.words
    rows = [(number, InstrumentRow.model_validate(row)) for number, row in enumerate(kept.values())]
    faults = Faults(Lines(""))
    found = Instruments(rows, words, faults)
    named = [*kept, *(name for name in words.instruments if name not in kept)]
    shown = []
    for name in named:
        title = words.instruments.get(name, {}).get("title", "") if name not in kept else "kept for all cars"
        about: list[object] = list(abilities(inspection, name, found)) if inspection is not None else []
        shown.append((name, title, about))
    return shown


@router.post("/settings/you")
def put_you(asking: Asking, form: Form) -> Response:
    """Who writes on this device, and how it shows things."""
    typed, session = texts(form), asking.request.session
    who = " ".join(typed.get(WHO, "").split())
    if not is_name(who) or len(who) > 80:  # noqa: PLR2004 - longer than any name
        told = {WHO: ["this is no name: 80 signs at most, all of them such as can be printed"]}
        return _shown(asking, you=Typed(typed, told), http=422)
    session[WHO] = who
    session[SYSTEM] = typed.get(SYSTEM, "") if typed.get(SYSTEM) in {"us", "metric"} else ""
    session[SCHEME] = typed.get(SCHEME, "") if typed.get(SCHEME) in {"light", "dark"} else ""
    return asking.go("/settings", "Saved on this device.")


@router.post("/settings/instrument")
def put_instrument(asking: Asking, form: Form) -> Response:
    """Describe an instrument for all cars; the same name again describes it anew."""
    typed = texts(form)
    row: dict[str, object] = {
        each.name: typed[each.name].strip() for each in _INSTRUMENT if typed.get(each.name, "").strip()
    }
    faults: dict[str, list[str]] = {}
    for name in ("name", "resolution"):
        if name not in row:
            faults[name] = [f"needs {name}"]
    count = str(row.get("repeatability_n", "2"))
    if not (count.isascii() and count.isdecimal() and len(count) < 6):  # noqa: PLR2004 - nobody read more often
        faults["repeatability_n"] = [f"cannot read {count[:20]!r}: expected a count of readings, 2 or more"]
    elif "repeatability_n" in row:
        row["repeatability_n"] = int(count)
    if not faults:
        faults = _instrument_faults(asking, row)
    if faults:
        return _shown(asking, own=Typed(typed, faults), http=422)
    shop = asking.desk.shop
    before = stated_now(shop, kept_id(OWN), FILE_KEPT)
    held = {name: dict(each) for name, each in kept_instruments(shop).items()} if before else {}
    rows = {**held, str(row["name"]): row}
    keep_file(
        shop,
        OWN,
        INSTRUMENTS,
        tomli_w.dumps({"format": INSTRUMENTS, "instrument": list(rows.values())}),
        who=asking.who,
    )
    return asking.go(
        "/settings#instruments", f"{row['name']}: kept for all cars.", f"/settings/undo{query(name=OWN, was=before)}"
    )


def _instrument_faults(asking: Asked, row: Mapping[str, object]) -> dict[str, list[str]]:
    """What is wrong with an instrument, by field."""
    found: dict[str, list[str]] = {}
    faults = Faults(Lines(""))
    try:
        made = InstrumentRow.model_validate(dict(row))
    except ValidationError as error:
        for problem in error.errors(include_url=False):
            said = sentence(problem, InstrumentRow, None)
            found.setdefault(str(problem["loc"][0]) if problem["loc"] else "", []).append(said)
        return found
    instruments = Instruments([(0, made)], asking.desk.words, faults)
    kinds = [
        kind
        for kind in ("length", "mass", "angle", "slope", "force", "time")
        if not isinstance(instruments.figures(made.name, kind, ()), str)
    ]
    for fault in faults.found:
        found.setdefault(fault.place.rpartition(", ")[2] if ", " in fault.place else "", []).append(fault.message)
    if not kinds and not found:
        found["resolution"] = ["cannot be read: expected a step with its unit, such as 0.01 mm, 0.1 g or 0.5 deg"]
    return found


@router.post("/settings/file")
def put_file(asking: Asking, form: Form) -> Response:
    """Keep a file for all cars once it has been read as what it is."""
    typed = texts(form)
    name, text = typed.get("name", "").strip(), typed.get("text", "").replace("\r\n", "\n")
    shop = asking.desk.shop
    try:
        form_ = form_of(text, name or "the file", shop.tables)
        before = stated_now(shop, kept_id(name), FILE_KEPT) if name else ""
        changed = keep_file(shop, name, form_, text, who=asking.who)
    except CarwrightError as error:
        field = "name" if "no name of a file" in str(error) else "text"
        return _shown(asking, kept=Typed(typed, {field: str(error).splitlines()[:20]}), http=422)
    if not changed:
        return asking.go("/settings#files", f"{name} is kept so already.")
    asking.desk.judge_beside()
    return asking.go("/settings#files", f"{name}: kept as {form_}.", f"/settings/undo{query(name=name, was=before)}")


@router.post("/settings/undo")
def undo(
    asking: Asking, name: Annotated[str, Query(max_length=255)], was: Annotated[str, Query(max_length=64)] = ""
) -> Response:
    """Keep a file as it was before."""
    subject = kept_id(name)
    now = stated_now(asking.desk.shop, subject, FILE_KEPT)
    if not now:
        raise UnknownNameError("kept file", name)
    restate(asking.desk.shop, subject, FILE_KEPT, was, who=asking.who)
    asking.desk.judge_beside()
    return asking.go("/settings", "Undone.", f"/settings/undo{query(name=name, was=now)}")


class ElsewhereError(CarwrightError):
    """Something only the computer that runs the app may do."""

    http_status = 403

    def __init__(self) -> None:
        super().__init__("this can be done on the computer that runs carwright alone")


def _is_here(asking: Asked) -> bool:
    return asking.request.client is not None and is_loopback(asking.request.client.host)


def _must_be_here(asking: Asked) -> None:
    if not _is_here(asking):
        raise ElsewhereError


@router.post("/settings/own")
def own_shop(asking: Asking) -> Response:
    """Leave the demo shop for one's own, which is started where there is none."""
    _must_be_here(asking)
    if asking.desk.is_demo:
        app = asking.request.app
        app.state.desk = Desk(open_shop(own_place(), create=True))
        app.state.desk.judge_beside()
        asking.desk.close()
    return asking.go("/", "This is your own shop. The demo shop is still there: carwright serve --demo")


@router.post("/settings/let-go")
def let_go(asking: Asking) -> Response:
    """Know no paired device any more."""
    _must_be_here(asking)
    asking.request.app.state.door.let_all_go()
    return asking.go("/settings#devices", "Every other device is let go, and the code is another one.")

"""What the maker built, by what it is judged, and what it portrays."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, Response

from carwright.errors import CarwrightError, Fault, SheetError
from carwright.history import History
from carwright.history.faults import Faults
from carwright.history.lines import Lines
from carwright.history.sheet import read_document
from carwright.inspection import rules_of
from carwright.shop.document import files_of, together
from carwright.shop.naming import plain_name
from carwright.shop.restating import restate, stated_now
from carwright.shop.shared import kept_files
from carwright.shop.state import State
from carwright.web.asked import Asked, Asking, Car, Form, texts
from carwright.web.carfacts import (
    CAR,
    GEOMETRY,
    PROTOTYPE,
    car_fields,
    facts_of,
    prototype_fields,
    rival_claims,
    size_fields,
    typed_facts,
)
from carwright.web.fields import Typed, faults_by_field
from carwright.web.pages import Bar

router = APIRouter(include_in_schema=False)
BAR = Bar("Facts", 60, "/facts")
_NAMES = (*CAR, *GEOMETRY, *PROTOTYPE)


@router.get("/car/{car}/facts")
def facts(asking: Asking, car: Car) -> HTMLResponse:
    """The page; it opens even where the car cannot be judged, so that it can be put right here."""
    state = asking.desk.shop.known(car)
    return _shown(asking, car, state, Typed(typed_facts(state.stated)))


def _shown(asking: Asked, car: str, state: State, typed: Typed, http: int = 200) -> HTMLResponse:
    return asking.page(
        "sizes/sizes.html",
        http,
        car=car,
        title=state.title,
        typed=typed,
        own=car_fields(asking.desk.shop, asking.desk.words),
        sizes=size_fields(),
        prototype=prototype_fields(rival_claims(state.stated)),
        deck=len(state.stated.get("car.geometry", {}).get("deck", [])),
    )


@router.post("/car/{car}/facts")
def put_down(asking: Asking, car: Car, form: Form) -> Response:
    """State what was changed; all of it or, where something cannot be read, nothing."""
    shop, typed = asking.desk.shop, texts(form)
    state = shop.known(car)
    wanted = facts_of(typed, state.stated)
    rivals = [name for name in rival_claims(state.stated) if typed.get(name, "").strip()]
    if rivals:
        told = {name: ["rival claims of this stand on the sheet; change them there"] for name in rivals}
        return _shown(asking, car, state, Typed(typed, told), 422)
    try:
        _check(asking, state, wanted)
    except CarwrightError as error:
        return _shown(asking, car, state, Typed(typed, faults_by_field(error, _NAMES)), 422)
    before = {key: stated_now(shop, car, key) for key in wanted}
    changed = [
        key for key, value in wanted.items() if value != state.stated.get(key, {}) and _revise(asking, car, key, value)
    ]
    asking.desk.judge_beside([car])
    if not changed:
        return asking.go(f"/car/{car}/facts", "Nothing was changed.")
    undo = "&".join(f"was={key}:{before[key]}" for key in changed)
    return asking.go(f"/car/{car}/facts", "Saved.", f"/car/{car}/facts/undo?{undo}")


def must_have_rules(asking: Asked, history: History, own: Container[str] = ()) -> None:
    """Refuse rule sets nobody has, which would leave a car that cannot be judged.

    Raises
    ------
    SheetError
        "there is no file 'club.toml' with the car or kept for all cars; keep it in Settings first"
    """
    kept = {name for name, _ in kept_files(asking.desk.shop)}
    lost = [
        name for name in history.rules if name.endswith(".toml") and name not in own and plain_name(name) not in kept
    ]
    if lost:
        told = f"there is no file {lost[0]!r} with the car or kept for all cars; keep it in Settings first"
        raise SheetError("the car", [Fault(0, "car, rules", told)])
    if not any(name.endswith(".toml") for name in history.rules):
        rules_of(history, asking.desk.shop.tables)


def _revise(asking: Asked, car: str, key: str, value: Mapping[str, Any]) -> bool:
    return asking.desk.shop.revise(car, key, dict(value) or None, who=asking.who)


def _check(asking: Asked, state: State, wanted: Mapping[str, Mapping[str, Any]]) -> None:
    """Refuse what does not make a good sheet, or names rules nobody has."""
    from dataclasses import replace  # noqa: PLC0415 - one copy

    tried = replace(state, stated={**state.stated, **{key: value for key, value in wanted.items() if value}})
    sheet = read_document(together(tried), Faults(Lines("")), asking.desk.words, f"car {state.title}", "")
    must_have_rules(asking, sheet.history, files_of(state))


@router.post("/car/{car}/facts/undo")
def undo(
    asking: Asking, car: Car, was: Annotated[list[Annotated[str, Query(max_length=100)]], Query(max_length=3)]
) -> Response:
    """State again what was stated before."""
    shop = asking.desk.shop
    now = {}
    for each in was:
        key, _, digest = each.partition(":")
        if key in {"car", "car.geometry", "car.prototype"}:
            now[key] = stated_now(shop, car, key)
            restate(shop, car, key, digest, who=asking.who)
    asking.desk.judge_beside([car])
    again = "&".join(f"was={key}:{digest}" for key, digest in now.items())
    return asking.go(f"/car/{car}/facts", "Undone.", f"/car/{car}/facts/undo?{again}")

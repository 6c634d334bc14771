"""Pairing a device, and letting all devices go."""

from __future__ import annotations

import hmac
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, Response

from carwright.web.asked import Asking, Form, texts
from carwright.web.door import Door
from carwright.web.fields import Typed
from carwright.web.guard.pairing import PAIRED, plain_code

router = APIRouter(include_in_schema=False)


@router.get("/pair")
def pair(asking: Asking, code: Annotated[str, Query(max_length=40)] = "") -> HTMLResponse:
    """The page a QR code leads to; only its button pairs."""
    return asking.page("pair/pair.html", typed=Typed({"code": code}), car="")


@router.post("/pair")
def give(asking: Asking, form: Form) -> Response:
    """Take a code."""
    fields = texts(form)
    door: Door = asking.request.app.state.door
    given = plain_code(fields.get("code", ""))[:40]
    if not hmac.compare_digest(given.encode(), door.code.encode()):
        typed = Typed({"code": fields.get("code", "")}, {"code": ["this is not the code that the computer shows"]})
        return asking.page("pair/pair.html", 422, typed=typed, car="")
    asking.request.session[PAIRED] = door.keys.mark
    return asking.go("/", "This device is paired; it stays so until the computer lets it go.")

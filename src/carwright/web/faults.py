"""How an error reaches a person: as a page with the sentence, and a program: as one JSON form."""

from __future__ import annotations

import re
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from carwright.errors import CarwrightError, SheetError
from carwright.web.asked import UUID, asked

_CAR = re.compile(f"/car/({UUID.strip('^$')})(?:/|$)")
_NOT_FOUND, _ONLY_POSTED = 404, 405


def error_document(status: int, sentence: str, faults: list[dict[str, Any]] | None = None) -> dict[str, Any]:
    """The one form of every error: status, sentence, and faults with the place each is at."""
    return {"error": {"status": status, "sentence": sentence, "faults": faults or []}}


def answer(request: Request, status: int, sentence: str, faults: list[dict[str, Any]] | None = None) -> Response:
    """An error as whoever asks can read it."""
    if f"{request.url.path}/".startswith("/api/"):
        return JSONResponse(error_document(status, sentence, faults), status_code=status)
    found = _CAR.match(request.url.path)
    car = found[1] if found is not None and status != _NOT_FOUND else ""
    return asked(request).page("error.html", status, sentences=sentence.splitlines(), code=status, car=car)


def install(app: FastAPI) -> None:
    """Let the app answer every error raised on purpose."""

    @app.exception_handler(CarwrightError)
    def _ours(request: Request, error: CarwrightError) -> Response:
        faults = None
        if isinstance(error, SheetError):
            faults = [{"place": each.place, "sentence": each.message} for each in error.faults]
        return answer(request, error.http_status, str(error), faults)

    @app.exception_handler(HTTPException)
    def _http(request: Request, error: HTTPException) -> Response:
        path = request.url.path
        if error.status_code == _ONLY_POSTED and request.method == "GET" and not path.startswith("/api/"):
            return RedirectResponse(path.rpartition("/")[0] or "/", status_code=303)  # a reload of what was once sent
        sentence = "there is no such page" if error.status_code == _NOT_FOUND else str(error.detail)
        found = answer(request, error.status_code, sentence)
        found.headers.update(error.headers or {})
        return found

    @app.exception_handler(RequestValidationError)
    def _shape(request: Request, error: RequestValidationError) -> Response:
        faults = [
            {"place": ".".join(str(step) for step in each["loc"]), "sentence": str(each["msg"])}
            for each in error.errors()
        ]
        missing = any(each["loc"][0] == "path" for each in error.errors())
        if missing and not request.url.path.startswith("/api/"):
            return answer(request, 404, "there is no such page")
        return answer(request, 422, "what was sent cannot be read", faults)

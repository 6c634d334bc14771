"""What a page is asked with: the desk, and who asks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, cast

from fastapi import Depends, Path
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from carwright.shop.document import INSTRUMENT
from carwright.shop.instruments import kept_instruments
from carwright.shop.state import State
from carwright.units import System
from carwright.web.desk import Desk, Seen
from carwright.web.guard.tokens import token_for
from carwright.web.pages import bar_of
from carwright.web.rendering import templates

WHO, SYSTEM, SCHEME, LAST = "who", "system", "scheme", "car"
"""In a session: who writes, units wanted, light or dark, and the car looked at last."""
UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
Car = Annotated[str, Path(pattern=UUID, description="UUID of a car")]


@dataclass(frozen=True, slots=True)
class Asked:
    """A request, and what belongs to every one.

    Attributes
    ----------
    request : Request
        As it came.
    desk : Desk
        What answers.
    """

    request: Request
    desk: Desk

    @property
    def who(self) -> str:
        """Who writes, "" where they never said."""
        return str(self.request.session.get(WHO, ""))

    @property
    def system(self) -> System | None:
        """Units this device wants, None for each car's own."""
        found = self.request.session.get(SYSTEM, "")
        return cast("System", found) if found in {"us", "metric"} else None

    def seen(self, car: str, stage: str = "last") -> Seen:
        """A car in this device's units, remembered as the one looked at last."""
        found = self.desk.seen(car, stage=stage, system=self.system)
        if self.request.session.get(LAST) != car:
            self.request.session[LAST] = car
        return found

    def page(self, name: str, http: int = 200, **context: Any) -> HTMLResponse:  # noqa: ANN401 - whatever a template shows
        """A page from its template.

        Parameters
        ----------
        name : str
            ``bench/bench.html``: folder of the page, and file.
        http : int
            HTTP status.
        **context
            What it shows.
        """
        session = self.request.session
        shared = {
            "asked": self,
            "token": token_for(self.request),
            "who": self.who,
            "scheme": session.get(SCHEME, ""),
            "notice": session.pop(_NOTICE, None),
            "is_demo": self.desk.is_demo,
            "bar": bar_of(context.get("car", "")),
            "path": self.request.url.path,
            "here": self._here(),
            "secure": self.request.url.scheme == "https",
        }
        text = templates().get_template(name).render({**shared, **context})
        return HTMLResponse(text, status_code=http)

    def _here(self) -> str:
        """The address of a page that was asked for, with its query."""
        if self.request.method != "GET":
            return ""
        asked_for = self.request.url.query
        return f"{self.request.url.path}?{asked_for}" if asked_for else self.request.url.path

    def back(self, usual: str, wanted: str) -> str:
        """Where one was, as long as that is below a usual place; else that place."""
        is_below = wanted == usual or wanted.startswith((f"{usual}?", f"{usual}/"))
        return wanted if is_below and wanted.isprintable() and "\\" not in wanted and len(wanted) < _LONGEST else usual

    def go(self, where: str, notice: str = "", undo: str = "", word: str = "Undo") -> Response:
        """To another page, which says what was done and offers to undo it.

        Parameters
        ----------
        where : str
            Path of our own.
        notice : str
            What was done.
        undo : str
            Path that undoes it when posted to, "" where nothing is to undo.
        word : str
            On its button.
        """
        if notice:
            short = notice if len(notice) <= _LONGEST else f"{notice[: _LONGEST - 3]}..."
            self.request.session[_NOTICE] = {"text": short, "undo": undo, "word": word}
        return RedirectResponse(where, status_code=303)


_NOTICE = "notice"
_LONGEST = 300
"""Signs of a notice: a cookie has little room."""


def asked(request: Request) -> Asked:
    """What a page is asked with."""
    return Asked(request, request.app.state.desk)


async def form(request: Request) -> FormData:
    """What was typed; see :func:`carwright.web.guard.tokens.own_form`, which closes it."""
    return await request.form()


Asking = Annotated[Asked, Depends(asked)]
Form = Annotated[FormData, Depends(form)]


def texts(data: FormData) -> dict[str, str]:
    """Fields of a form that are texts, the last of each name."""
    said = {name: value for name, value in data.multi_items() if isinstance(value, str)}
    return {_whole(name): _whole(value) for name, value in said.items()}


def _whole(text: str) -> str:
    """A text as it can be shown and kept: what is no letter is replaced."""
    return text.encode("utf-8", "replace").decode("utf-8")


def borrowed(asking: Asked, car: str, names: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Instruments kept for all cars that a car does not have yet, by name: it gets them as they are today."""
    wanted = {name for name in names if name}
    kept = kept_instruments(asking.desk.shop) if wanted else {}
    stated = asking.desk.shop.known(car).stated if wanted & set(kept) else {}
    return {name: kept[name] for name in sorted(wanted & set(kept)) if f"{INSTRUMENT}{name}" not in stated}


def superseded(state: State, identity: str) -> dict[str, Any]:
    """The entry that another one corrects, empty where there is none of that id."""
    found = state.entry(identity) if identity else None
    return found.content() if found is not None else {}

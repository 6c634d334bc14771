"""The app: pages, the interface for programs, static files, and the layers that guard them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import files
from pathlib import Path

from fastapi import Depends, FastAPI
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.middleware.sessions import SessionMiddleware
from starlette.responses import FileResponse, Response
from starlette.staticfiles import StaticFiles

from carwright import __version__
from carwright.publish.theme import INKS, Medium, load_theme
from carwright.shop.demo import fill_demo
from carwright.web import faults
from carwright.web.desk import Desk
from carwright.web.door import Door
from carwright.web.guard.bodies import Bodies
from carwright.web.guard.headers import Headers
from carwright.web.guard.hosts import Hosts
from carwright.web.guard.pairing import Pairing
from carwright.web.guard.rates import Buckets, Rates
from carwright.web.guard.tokens import own_form
from carwright.web.pages import routers

_WEEKS = 26 * 7 * 24 * 3600
"""How long a device is remembered [s]."""


_SOON = 1.5
"""When that begins, after the app is ready [s]."""


def make_app(desk: Desk, door: Door, usual: Buckets | None = None) -> FastAPI:
    """The app for a shop.

    Parameters
    ----------
    desk : Desk
        What answers; closed when the app ends.
    door : Door
        Who may come in.
    usual : Buckets, optional
        How often a device may ask; what a person with a page open never reaches where omitted.
    """

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        later = asyncio.create_task(_judge_later(app))  # the first page goes first
        yield
        later.cancel()
        app.state.desk.close()

    app = FastAPI(
        title="carwright",
        version=__version__,
        description="Cars of a shop, what is recorded of them, and what follows.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=life,
        dependencies=[Depends(own_form)],
        middleware=[
            Middleware(Headers),
            Middleware(GZipMiddleware, minimum_size=800, compresslevel=5),
            Middleware(Hosts, names=door.names),
            Middleware(Rates, usual=usual or Buckets(240, 60), guesses=Buckets(5, 1 / 6)),
            Middleware(Bodies),
            Middleware(
                SessionMiddleware,
                secret_key=door.keys.secret,
                session_cookie=f"carwright-{door.port}",
                max_age=_WEEKS,
                same_site="lax",
                https_only=door.secure,
            ),
            Middleware(Pairing, keys=lambda: door.keys),
        ],
    )
    app.state.desk, app.state.door = desk, door
    faults.install(app)
    _static(app)
    for router in routers():
        app.include_router(router)
    return app


async def _judge_later(app: FastAPI) -> None:
    """Work out what lists show and is not known, once nobody is waiting for the first page any more."""
    await asyncio.sleep(_SOON)
    desk: Desk = app.state.desk
    if desk.is_demo:
        await asyncio.to_thread(fill_demo, desk.shop)
    await asyncio.to_thread(desk.judge_beside)


def _static(app: FastAPI) -> None:
    """Our own files; nothing is ever asked of another address."""
    folder = Path(str(files("carwright.web").joinpath("static")))
    fonts = Path(str(files("carwright.publish").joinpath("fonts", "web")))

    @app.get("/static/theme.css", include_in_schema=False)
    def _theme() -> Response:
        return Response(theme_css(), media_type="text/css")

    @app.get("/static/blocks.css", include_in_schema=False)
    def _blocks() -> Response:
        rules = files("carwright.publish").joinpath("templates", "page.css").read_text("utf-8")
        return Response(f".paper {{\n{rules}\n}}\n", media_type="text/css")

    @app.get("/worker.js", include_in_schema=False)
    def _worker() -> FileResponse:
        return FileResponse(folder / "worker.js", media_type="text/javascript")

    @app.get("/manifest.webmanifest", include_in_schema=False)
    def _manifest() -> FileResponse:
        return FileResponse(folder / "manifest.webmanifest", media_type="application/manifest+json")

    @app.get("/favicon.ico", include_in_schema=False)
    def _icon() -> FileResponse:
        return FileResponse(folder / "icon-192.png", media_type="image/png")

    app.mount("/static/fonts", StaticFiles(directory=fonts), name="fonts")
    app.mount("/static", StaticFiles(directory=folder), name="static")


def theme_css() -> str:
    """Inks of the shipped theme, for day and night."""
    theme = load_theme()

    def inks(medium: Medium) -> str:
        return " ".join(f"--{name}: {theme.ink(name, medium)};" for name in INKS)

    day, night = inks("light"), inks("dark")
    return (
        f":root {{ color-scheme: light; {day} --leading: {theme.line}; }}\n"
        f"@media (prefers-color-scheme: dark) {{ :root:not([data-scheme=light]) {{ color-scheme: dark; {night} }} }}\n"
        f":root[data-scheme=dark] {{ color-scheme: dark; {night} }}\n"
    )

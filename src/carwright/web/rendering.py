"""Templates: those every page shares, those in the folders of pages, and the blocks of published reports."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.resources import files
from urllib.parse import urlencode

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from carwright.publish.scene import inline_svg
from carwright.publish.wording import MARKS, upper_first
from carwright.verdict.status import STATUS_MARKS


@lru_cache(maxsize=1)
def templates() -> Environment:
    """The one environment; what people wrote is escaped wherever it stands."""
    found = Environment(
        loader=ChoiceLoader(
            [
                PackageLoader("carwright.web", "pages"),
                PackageLoader("carwright.web", "templates"),
                PackageLoader("carwright.publish"),
            ]
        ),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters |= {"svg": inline_svg, "upper_first": upper_first}
    found.globals |= {"marks": MARKS, "status_marks": STATUS_MARKS, "asset": asset, "query": query}
    return found


@lru_cache(maxsize=64)
def asset(name: str) -> str:
    """Address of a static file, which changes with its content so that no browser keeps an old one."""
    content = files("carwright.web").joinpath("static", *name.split("/")).read_bytes()
    return f"/static/{name}?v={hashlib.sha256(content).hexdigest()[:10]}"


def query(**names: object) -> str:
    """A query of the names that say something, with its question mark; "" for none.

    A characteristic's place stays though it is none: the whole car is a place like any other.
    """
    is_placed = bool(names.get("what")) and names.get("at") == ""
    said = {name: value for name, value in names.items() if value not in {"", None} or (name == "at" and is_placed)}
    return f"?{urlencode(said)}" if said else ""

"""A report as one page that stands alone: HTML with everything inside, no address outside ever asked for."""

from __future__ import annotations

import base64
from functools import lru_cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from carwright.inspection import Inspection
from carwright.publish.report.assemble import report_of
from carwright.publish.report.content import Report
from carwright.publish.scene import inline_svg
from carwright.publish.signs import allowed
from carwright.publish.theme import INKS, Medium, Theme, load_theme
from carwright.tables import Tables


@lru_cache(maxsize=1)
def _environment() -> Environment:
    found = Environment(
        loader=PackageLoader("carwright.publish"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters["svg"] = inline_svg
    return found


def page_html(report: Report, theme: Theme | None = None) -> str:
    """Any report as a page.

    Parameters
    ----------
    report : Report
        What it says.
    theme : Theme, optional
        How it looks; the shipped one where omitted.
    """
    chosen = theme or load_theme()
    look: dict[str, Any] = {
        "light": _properties(chosen, "light"),
        "dark": _properties(chosen, "dark"),
        "print": _properties(chosen, "print"),
        "families": ", ".join(f'"{each}"' for each in (chosen.family, "Segoe UI", "Noto Sans", *chosen.fallback)),
        "line": chosen.line,
        "faces": _faces() if chosen.family == _SHIPPED else "",
    }
    return allowed(_environment().get_template("page.html").render(report=report, look=look))


_SHIPPED = "Source Sans 3"
"""The family whose small fonts a page carries within it; another one is looked for on the reader's machine."""


@lru_cache(maxsize=1)
def _faces() -> str:
    """Both weights of the shipped family as rules of the style sheet."""
    folder = files("carwright.publish").joinpath("fonts", "web")
    rules = []
    for weight, name in ((400, "Regular"), (600, "Semibold")):
        data = base64.b64encode(folder.joinpath(f"SourceSans3-{name}.woff2").read_bytes()).decode("ascii")
        source = f"url(data:font/woff2;base64,{data}) format('woff2')"
        rules.append(f"@font-face {{ font-family: '{_SHIPPED}'; font-weight: {weight}; src: {source}; }}")
    return "\n".join(rules)


def _properties(theme: Theme, medium: Medium) -> str:
    return " ".join(f"--{name}: {theme.ink(name, medium)};" for name in INKS)


def report_html(
    inspection: Inspection,
    tables: Tables | None = None,
    *,
    version: str,
    digest: str = "",
    exaggerate: float | None = None,
    theme: Theme | None = None,
) -> str:
    """The report of an inspection as a page; see :func:`carwright.publish.report.assemble.report_of`."""
    report = report_of(inspection, tables, version=version, digest=digest, exaggerate=exaggerate, theme=theme)
    return page_html(report, theme)

"""A real browser for tests: Debian's Chromium, and pages that are watched for everything that must not happen."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from playwright.sync_api import Error as PlaywrightError

CHROMIUM = os.environ.get("CARWRIGHT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
ARTEFACTS = Path("artefacts")
QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
AXE = Path(__file__).parent / "browser" / "axe.min.js"
"""axe-core 4.14.1 (MPL 2.0, its licence beside it), run in the page: WCAG 2.2 A and AA."""
Size = Literal["phone", "desk"]
SIZES: dict[Size, dict[str, Any]] = {
    "phone": {
        "viewport": {"width": 360, "height": 740},
        "is_mobile": True,
        "has_touch": True,
        "device_scale_factor": 2,
    },
    "desk": {"viewport": {"width": 1440, "height": 900}},
}


@contextmanager
def launched() -> Iterator[Browser]:
    """Chromium, as long as the block lasts; skipped where it is not installed, an error where CI says it must be."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no browser at {CHROMIUM}: the system package chromium was not installed")
    try:
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=list(QUIET))
            yield browser
            browser.close()
    except PlaywrightError as error:
        if os.environ.get("CI") == "true" or "launch" not in str(error):
            raise
        pytest.skip(f"the browser does not start: {error}")


class Watch:
    """What happened in a page that must not: errors, refusals of the content security policy, foreign addresses."""

    def __init__(self, home: str) -> None:
        self.home, self.problems = home, list[str]()
        self.forgives: tuple[str, ...] = ()

    def over(self, page: Page) -> Page:
        """Watch a page."""
        page.on("console", lambda said: self._note(said.text) if said.type in {"error", "warning"} else None)
        page.on("pageerror", lambda error: self._note(str(error)))
        page.on("request", lambda asked: self._foreign(asked.url))
        page.add_init_script(
            "addEventListener('securitypolicyviolation',"
            " e => console.error(`policy: ${e.violatedDirective} ${e.blockedURI}`))"
        )
        return page

    def _note(self, text: str) -> None:
        self.problems.append(text)

    def _foreign(self, url: str) -> None:
        if not url.startswith((f"{self.home}/", "data:", "blob:")):
            self.problems.append(f"asked {url}")

    def check(self) -> None:
        """Fail where anything happened that is not forgiven."""
        left = [each for each in self.problems if not any(part in each for part in self.forgives)]
        if left:
            pytest.fail(f"in the page: {left}")


@contextmanager
def visiting(
    browser: Browser,
    home: str,
    size: Size,
    *,
    scheme: str = "light",
    **more: Any,  # noqa: ANN401 - settings of the driver
) -> Iterator[tuple[Page, Watch]]:
    """A page of a new visitor, watched to the end."""
    context: BrowserContext = browser.new_context(color_scheme=scheme, **{**SIZES[size], **more})  # type: ignore[arg-type]
    context.set_default_timeout(10_000)
    watch = Watch(home)
    page = watch.over(context.new_page())
    try:
        yield page, watch
        watch.check()
    finally:
        context.close()


def shot(page: Page, name: str) -> None:
    """Keep a picture of a page."""
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)


def failings(page: Page) -> list[str]:
    """What axe finds against WCAG 2.2 A and AA: rule, how grave, and where."""
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate(
        """async () => (await axe.run(document, {
            runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
            resultTypes: ['violations'],
        })).violations.map(v =>
            `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map(n => n.target.join(' ')).join(' | ')}`)"""
    )
    return [str(each) for each in found]

"""Make the pictures in docs/images from the examples, with Debian's Chromium and poppler-utils."""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

import carwright as cw
from carwright.publish.drawing.views import sheet_of_views
from carwright.publish.report import report_html, report_pdf
from carwright.publish.scene import standalone_svg
from carwright.publish.theme import load_theme
from carwright.publish.typeset import pictures
from carwright.publish.video.overlays import overlay_files

ROOT = Path(__file__).resolve().parent.parent
IMAGES = ROOT / "docs" / "images"
CHROMIUM = os.environ.get("CARWRIGHT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
PICTURES = (
    ("report", "o-tank-car", 1180, 1500, "light"),
    ("report-phone", "o-tank-car", 390, 1150, "dark"),
)


def looked_at(example: str) -> cw.Inspection:
    """An example, inspected."""
    return cw.inspect(cw.read_sheet(ROOT / "examples" / f"{example}.toml"))


def first_page() -> None:
    """Page one of a printed report."""
    with tempfile.TemporaryDirectory() as folder:
        print_file = Path(folder) / "report.pdf"
        print_file.write_bytes(report_pdf(looked_at("ho-covered-hopper"), version=cw.__version__))
        target = str(IMAGES / "print")
        command = ["pdftoppm", "-r", "84", "-f", "1", "-l", "1", "-singlefile", "-png", str(print_file), target]
        subprocess.run(command, check=True)  # noqa: S603 - our own command


def three_views() -> None:
    """A car from three sides."""
    car, theme = looked_at("o-tank-car"), load_theme()
    scene = sheet_of_views(car.history, car.findings)
    drawn = [standalone_svg(scene, theme, "print", ground=True)]
    width = 1000.0
    [made] = pictures(drawn, theme, width=width, height=width * scene.height / scene.width, scale=1.0, what="views")
    (IMAGES / "views.png").write_bytes(made)


def two_cards() -> None:
    """Cards over a plain picture, half their size."""
    files = dict(overlay_files(looked_at("ho-covered-hopper")))
    wanted = [
        next(name for name in files if name.endswith(end))
        for end in ("coupler-height-a.png", "points-3-coupler-height-at-a.png")
    ]
    ground = Image.new("RGB", (1920, 1080), (126, 138, 128))
    for name in wanted:
        card = Image.open(io.BytesIO(files[name]))
        ground.paste(card, (0, 0), card)
    ground.resize((960, 540)).save(IMAGES / "cards.png", optimize=True)


@contextmanager
def demo_shop() -> Iterator[str]:
    """The web app with a demo shop of its own; its address."""
    with tempfile.TemporaryDirectory() as home:
        own = {**os.environ, "XDG_DATA_HOME": home, "XDG_STATE_HOME": home}
        own.pop("CARWRIGHT_SHOP", None)
        command = [sys.executable, "-m", "carwright", "serve", "--demo", "--port", "0"]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=own)  # noqa: S603 - our own command
        try:
            found = re.search(r"http://\S+", process.stdout.readline() if process.stdout else "")
            if found is None:
                raise RuntimeError(command)
            yield found[0]
        finally:
            process.terminate()
            process.wait(20)


def web_pages(browser: Browser) -> None:
    """Every screen of the web app: on a phone by day, the bench on a desk by night."""
    with demo_shop() as home:
        phone = browser.new_context(
            viewport={"width": 390, "height": 780}, is_mobile=True, has_touch=True, device_scale_factor=1.5,
            color_scheme="light",
        )  # fmt: skip
        page = phone.new_page()
        page.goto(home)
        car = page.url.partition("?")[0]
        _bench(page, car)
        for name, where in (
            ("look", f"{car}?spot=coupler-B&do=look&what=part"), ("why", f"{car}/why"), ("verdict", f"{car}/verdict"),
            ("dates", f"{car}/dates"), ("papers", f"{car}/papers"), ("facts", f"{car}/facts"), ("cars", f"{home}/cars"),
            ("add", f"{home}/add"), ("quick", f"{home}/quick?zinc=none&body=bow&couplers=high-low&worth=40&asked=30"),
        ):  # fmt: skip
            page.goto(where)
            if name == "quick":
                page.locator("#deal").scroll_into_view_if_needed()
            _shot(page, name)
        page.goto(f"{home}/settings#instruments")
        page.locator("#instruments").scroll_into_view_if_needed()
        _shot(page, "settings")
        phone.close()
        desk = browser.new_page(viewport={"width": 1280, "height": 860}, color_scheme="dark")
        desk.goto(f"{car}?spot=coupler-B&what=coupler.height&at=B")
        _shot(desk, "bench-desk")
        desk.close()


def _bench(page: Page, car: str) -> None:
    """A reading from the touch to what follows from it."""
    _shot(page, "bench")
    page.goto(f"{car}?spot=truck-B&what=wheel.back_to_back&at=4")
    page.locator("#drawing").scroll_into_view_if_needed()
    page.evaluate("document.getElementById('drawing').scrollIntoView()")
    for key in "0.569":
        page.locator(f'[data-key="{key}"]').tap()
    page.locator("#would .outcome").first.wait_for()
    _shot(page, "typed")
    page.locator("button.save").tap()
    page.locator("#notice .notice").wait_for()
    _shot(page, "saved")
    page.context.set_offline(True)
    for key in "0.571":
        page.locator(f'[data-key="{key}"]').tap()
    page.locator("button.save").tap()
    page.locator("#waiting button").wait_for()
    page.evaluate("scrollTo(0, 0)")
    _shot(page, "offline")
    page.context.set_offline(False)
    page.locator("#waiting button").tap()
    page.locator("#waiting").wait_for(state="hidden")


def _shot(page: Page, name: str) -> None:
    """A screen as a picture of few colours, which is small."""
    page.evaluate("document.fonts.ready")
    with Image.open(io.BytesIO(page.screenshot())) as picture:
        few = picture.convert("RGB").quantize(48, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        few.save(IMAGES / f"web-{name}.png", optimize=True)


def main() -> None:
    """Make every picture."""
    IMAGES.mkdir(parents=True, exist_ok=True)
    first_page()
    three_views()
    two_cards()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for name, example, width, height, scheme in PICTURES:
            page_file = Path(folder) / f"{name}.html"
            page_file.write_text(report_html(looked_at(example), version=cw.__version__), "utf-8")
            page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
            page.goto(page_file.as_uri())
            page.screenshot(path=IMAGES / f"{name}.png")
        web_pages(browser)
        browser.close()


if __name__ == "__main__":
    main()

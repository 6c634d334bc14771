"""Make the pictures in docs/images from the examples, with Debian's Chromium and poppler-utils."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

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
        browser.close()


if __name__ == "__main__":
    main()

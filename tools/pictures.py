"""Make the pictures in docs/images from the example reports, with Debian's Chromium."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

import carwright as cw
from carwright.publish.report import report_html

ROOT = Path(__file__).resolve().parent.parent
IMAGES = ROOT / "docs" / "images"
CHROMIUM = os.environ.get("CARWRIGHT_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
PICTURES = (
    ("report", "o-tank-car", 1180, 1500, "light"),
    ("report-phone", "o-tank-car", 390, 1150, "dark"),
)


def main() -> None:
    """Make every picture."""
    IMAGES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        for name, example, width, height, scheme in PICTURES:
            page_file = Path(folder) / f"{name}.html"
            inspection = cw.inspect(cw.read_sheet(ROOT / "examples" / f"{example}.toml"))
            page_file.write_text(report_html(inspection, version=cw.__version__), "utf-8")
            page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
            page.goto(page_file.as_uri())
            page.screenshot(path=IMAGES / f"{name}.png")
        browser.close()


if __name__ == "__main__":
    main()

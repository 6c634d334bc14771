"""The report in a real browser: nothing overflows on a phone or a desk, dark and light, and grey still tells it all."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsers import ARTEFACTS
from playwright.sync_api import Browser, Page

import carwright as cw
from carwright.publish.report import report_html

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("reports")
    found = {}
    for path in EXAMPLES:
        found[path.stem] = folder / f"{path.stem}.html"
        found[path.stem].write_text(report_html(cw.inspect(cw.read_sheet(path)), version="test"), "utf-8")
    return found


def opened(browser: Browser, path: Path, width: int, scheme: str) -> Page:
    page = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    problems: list[str] = []
    page.on("console", lambda message: problems.append(message.text))
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(path.as_uri())
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert problems == []
    return page


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 768, 960, 1440])
@pytest.mark.parametrize("name", [path.stem for path in EXAMPLES])
def test_a_report_fits_its_window(
    browser: Browser, reports: dict[str, Path], name: str, width: int, scheme: str
) -> None:
    page = opened(browser, reports[name], width, scheme)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    outside = page.evaluate(
        """() => [...document.querySelectorAll('body *')].filter(e => {
            const r = e.getBoundingClientRect();
            return r.width > 0 && r.height > 0 && (r.left < -1 || r.right > innerWidth + 1)
                && !e.closest('thead') && !e.closest('svg');
        }).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert outside == []
    ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=ARTEFACTS / f"report-{name}-{width}-{scheme}.png", full_page=True)
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_text_has_contrast(browser: Browser, reports: dict[str, Path], scheme: str) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for every text, computed from what the browser paints."""
    page = opened(browser, reports["ho-covered-hopper"], 1440, scheme)
    poor = page.evaluate(
        """() => {
            const parse = c => (c.match(/[\\d.]+/g) || []).map(Number);
            const lum = c => { const [r, g, b] = parse(c).map(v => { v /= 255;
                return v <= .03928 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4; });
                return .2126 * r + .7152 * g + .0722 * b; };
            const back = e => { for (; e; e = e.parentElement) {
                const c = getComputedStyle(e).backgroundColor, p = parse(c);
                if (p.length < 4 || p[3] > 0) return c; } return 'rgb(255,255,255)'; };
            return [...document.querySelectorAll('body *')].filter(e =>
                !e.closest('svg') && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
            ).map(e => { const a = lum(getComputedStyle(e).color), b = lum(back(e));
                return [(Math.max(a, b) + .05) / (Math.min(a, b) + .05), e.textContent.trim().slice(0, 40)];
            }).filter(([ratio]) => ratio < 4.5);
        }"""
    )
    assert poor == []
    page.close()


def test_a_pin_leads_to_its_row(browser: Browser, reports: dict[str, Path]) -> None:
    page = opened(browser, reports["o-tank-car"], 1440, "light")
    pins = page.locator("svg.elevation a.pin")
    assert pins.count() > 5
    for index in range(pins.count()):
        target = pins.nth(index).get_attribute("href")
        assert target is not None
        assert page.locator(f"tr{target}").count() == 1
    page.close()


def test_outcomes_are_told_apart_without_colour(browser: Browser, reports: dict[str, Path]) -> None:
    page = opened(browser, reports["o-tank-car"], 1440, "light")
    shapes = page.evaluate(
        "() => [...document.querySelectorAll('svg.elevation a.pin')]"
        ".map(a => [a.classList[1], a.querySelector('.mark').tagName])"
    )
    assert {tuple(pair) for pair in shapes} == {("fails", "rect"), ("open", "path")}
    page.close()


def test_it_prints_on_paper(browser: Browser, reports: dict[str, Path], tmp_path: Path) -> None:
    page = opened(browser, reports["ho-covered-hopper"], 1440, "dark")
    page.pdf(path=tmp_path / "report.pdf", format="A4", print_background=True)
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    page.close()

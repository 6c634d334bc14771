"""The bench with a phone in one hand, and at a desk: the whole story, in a real browser."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from browsers import Size, failings, shot, visiting
from PIL import Image
from playwright.sync_api import Browser, FilePayload, Page, expect
from webapp import Server

from carwright.web.door import house_addresses

BOTH = pytest.mark.parametrize("size", get_args(Size))
GONE = ("ERR_", "Failed to load resource")
"""What a browser says where the shop cannot be reached."""
GPS, MAKE = 0x8825, 0x010F
"""EXIF tags: where a picture was taken, and by what."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of the demo shop, for the tests of this module; each test uses what it makes itself."""
    found = Server(tmp_path_factory.mktemp("home"))
    yield found
    found.stop()


def bench(page: Page, server: Server, spot: str = "", words: str = "") -> str:
    """Go to the demo hopper; its address."""
    page.goto(server.url)
    expect(page.locator("h1")).to_contain_text("Covered hopper")
    address = page.url.partition("?")[0]
    if spot or words:
        page.goto(f"{address}?spot={spot}{words}")
    return address


def press(page: Page, text: str) -> None:
    """Type a value with the keys on the page, as a thumb does."""
    for sign in text:
        page.locator(f'#keys [data-key="{sign}"]').tap()


def photo_with_place() -> bytes:
    """A picture that says where it was taken."""
    picture = Image.new("RGB", (640, 480), (120, 130, 110))
    exif = picture.getexif()
    exif[MAKE] = "an invented camera"
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (59.0, 57.0, 0.0)
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


@BOTH
def test_the_bench_story(browser: Browser, server: Server, size: Size) -> None:
    """Touch, type, see at once, save, undo; judge by eye; log a work, and be told what is wrong with it."""
    with visiting(browser, server.url, size) as (page, watch):
        watch.forgives = ("status of 422",)
        address = bench(page, server)
        shot(page, f"web-1-bench-{size}")
        page.locator("svg.touch a.spot-truck").first.click()
        expect(page.locator("#pad-title")).to_have_text("Truck at B")
        page.locator("a.chip-link", has_text="back-to-back").click()
        page.locator("a.chip-link", has_text="axle 4").click()
        expect(page.locator('input[name="at"]')).to_have_value("4")
        if size == "phone":
            press(page, "0.569")
        else:
            page.locator("#value").fill("0.569")
        expect(page.locator("#would")).to_contain_text("conforms")
        shot(page, f"web-2-typed-{size}")
        page.locator("button.save, button.primary").locator("visible=true").first.click()
        expect(page.locator("#notice")).to_contain_text("Saved: back-to-back, axle 4, 0.569 in")
        expect(page.locator(".entries li").first).to_contain_text("Reading back-to-back at 4: 0.569 in")
        shot(page, f"web-3-saved-{size}")
        page.locator("#notice").get_by_role("button", name="Undo").click()
        expect(page.locator("#notice")).to_contain_text("Undone")
        expect(page.locator(".entries li").nth(1)).to_contain_text("corrected or undone")

        page.goto(f"{address}?spot=coupler-B&do=look")
        page.locator("#f-what").select_option("part")
        expect(page.locator('[data-grade="slight"]')).to_contain_text("loose from arm")
        page.locator("#f-name").fill("grab iron")
        page.locator('input[value="slight"]').check()
        shot(page, f"web-4-look-{size}")
        page.locator(".send button.primary").click()
        expect(page.locator("#notice")).to_contain_text("Look: saved.")
        expect(page.locator("#live")).to_contain_text("grab iron")

        page.goto(f"{address}?spot=coupler-B&do=repair")
        page.locator("#f-remedy").select_option("washer")
        page.locator("#f-amount").fill("a pinch")
        page.locator(".send button.primary").click()
        expect(page.locator("#f-amount")).to_have_value("a pinch")
        expect(page.locator("#f-amount-wrong-1")).to_contain_text("cannot read", ignore_case=True)
        shot(page, f"web-5-wrong-{size}")
        page.locator("#f-amount").fill("0.015 in")
        page.locator(".send button.primary").click()
        expect(page.locator("#notice")).to_contain_text("Repair: saved.")


@BOTH
def test_what_is_said_and_taken_away(browser: Browser, server: Server, size: Size) -> None:
    """A photo, every page of the car, the report, the list."""
    with visiting(browser, server.url, size) as (page, _):
        address = bench(page, server)
        page.goto(f"{address}?spot=body&do=photo")
        taken_now = FilePayload(name="step.jpg", mimeType="image/jpeg", buffer=photo_with_place())
        page.locator("#f-file").set_input_files(taken_now)
        page.locator("#f-shows").fill(f"the B end, {size}")
        page.locator(".send button.primary").click()
        expect(page.locator("#notice")).to_contain_text("Photo: saved.")

        headings = {
            "Why": "Why, and what cures it",
            "Verdict": "Verdict",
            "Dates": "Evidence and dates",
            "Papers": "Papers",
            "Facts": "Facts of this car",
        }
        for step, (name, heading) in enumerate(headings.items(), 6):
            page.locator("nav.of-car").get_by_role("link", name=name).click()
            expect(page.locator("h1")).to_have_text(heading)
            shot(page, f"web-{step}-{name.lower()}-{size}")
        page.goto(f"{address}/papers")
        kept = page.locator(f'img[alt="Photograph of the B end, {size}"]').get_attribute("src") or ""
        with Image.open(io.BytesIO(page.request.get(server.url + kept).body())) as picture:
            assert (picture.format, dict(picture.getexif())) == ("JPEG", {})
        with page.expect_download() as taken:
            page.get_by_role("link", name="Download: Report, in print").click()
        assert Path(taken.value.path()).read_bytes().startswith(b"%PDF")
        assert taken.value.suggested_filename == "covered-hopper-two-bay-tansy-river-40418-report.pdf"

        page.goto(f"{server.url}/cars")
        page.locator("#words").fill("hopper")
        expect(page.locator("#cars li")).to_have_count(1)
        shot(page, f"web-11-cars-{size}")
        page.locator("#cars a").click()
        expect(page.locator("h1")).to_contain_text("Covered hopper")


@BOTH
def test_ticking_answers_at_once_and_writes_nothing(browser: Browser, server: Server, size: Size) -> None:
    with visiting(browser, server.url, size) as (page, _):
        address = bench(page, server)
        before = page.request.get(f"{server.url}/api/cars/{address.rpartition('/')[2]}").json()["era"]["window"]
        page.goto(f"{address}/dates")
        answer = page.locator("#answer")
        expect(answer).to_contain_text("1972")
        page.locator('select[name="group:inspection-panel"]').select_option(label="not looked at")
        expect(answer).not_to_contain_text("from 1972-01")
        shot(page, f"web-12-ticked-{size}")
        after = page.request.get(f"{server.url}/api/cars/{address.rpartition('/')[2]}").json()["era"]["window"]
        assert before == after


@BOTH
def test_a_quick_check_says_what_ends_the_deal(browser: Browser, server: Server, size: Size) -> None:
    with visiting(browser, server.url, size) as (page, _):
        page.goto(f"{server.url}/quick")
        deal = page.locator("#deal")
        expect(deal).to_contain_text("Not yet")
        page.get_by_text("the frame is bowed a little").click()
        expect(deal).to_contain_text("straighten the frame")
        page.get_by_text("cracked like a net").click()
        expect(deal).to_contain_text("Leave it, or send it back")
        shot(page, f"web-13-quick-{size}")


def test_a_new_car_is_taken_in_and_measured(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, watch):
        watch.forgives = ("status of 422",)
        bench(page, server)
        page.goto(f"{server.url}/add")
        page.locator("#new-title").fill("")
        page.get_by_role("button", name="Take it in").click()
        expect(page.locator("#new-title-wrong-1")).to_contain_text("Needs a title")
        page.locator("#new-title").fill("Gondola of a phone")
        page.locator("#new-type").fill("gondola")
        page.locator("#new-body_length").fill("5.2 in")
        page.get_by_role("button", name="Take it in").click()
        expect(page.locator("h1")).to_have_text("Gondola of a phone")
        page.locator("svg.touch a.spot-body").click()
        page.locator("a.chip-link", has_text="weight of the complete car").click()
        press(page, "3.6")
        page.locator("button.save").tap()
        expect(page.locator("#notice")).to_contain_text(re.compile("saved", re.IGNORECASE))
        page.goto(page.url.partition("?")[0] + "?spot=body")
        expect(page.locator("#live")).to_contain_text("3.6")


def test_a_table_of_readings_is_shown_before_it_is_saved(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "desk") as (page, watch):
        watch.forgives = ("status of 422",)
        bench(page, server)
        page.goto(f"{server.url}/add")
        page.locator("#table-rows").fill("what,at,value [in]\ncoupler.hight,A,0.39\nweight.total,,3.4 oz\n")
        page.get_by_role("button", name="Read the table").click()
        expect(page.locator("main")).to_contain_text("line 2")
        page.locator("#table-rows").fill("what,at,value [in]\npin.height,A,0.02\nweight.total,,3.4 oz\n")
        page.get_by_role("button", name="Read the table").click()
        expect(page.locator("main")).to_contain_text("2 rows")
        page.get_by_role("button", name="Save them").click()
        expect(page.locator("#notice")).to_contain_text("2 rows saved.")
        expect(page.locator(".entries li").first).to_contain_text("weight of the complete car")


def test_settings_of_a_device(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, _):
        address = bench(page, server)
        page.goto(f"{server.url}/settings")
        page.locator("#who").fill("A. Bench")
        page.locator('input[value="metric"]').check()
        page.locator('input[value="dark"]').check()
        page.locator("#you").get_by_role("button", name="Save").click()
        expect(page.locator("html")).to_have_attribute("data-scheme", "dark")
        shot(page, "web-14-settings-phone")
        page.goto(f"{address}?spot=coupler-A")
        expect(page.locator("#live")).to_contain_text("mm")
        press(page, "10.02")
        page.locator("button.save").tap()
        expect(page.locator(".entries li").first).to_contain_text("A. Bench")


# --- without the shop ------------------------------------------------------------------------------------------


def test_readings_wait_on_the_phone_and_are_sent_once(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, watch):
        watch.forgives = GONE
        address = bench(page, server, "coupler-A", "&what=pin.height&at=A")
        page.context.set_offline(True)
        for value in ("0.021", "0.022"):
            press(page, value)
            page.locator("button.save").tap()
            expect(page.locator("#would")).to_contain_text("Kept on this device")
        expect(page.locator("#waiting")).to_contain_text("2 entries wait")
        shot(page, "web-15-offline-phone")
        page.context.set_offline(False)
        page.get_by_role("button", name="Send now").or_(page.locator("#waiting[hidden]")).first.dispatch_event("click")
        expect(page.locator("#waiting")).to_be_hidden()
        expect(page.locator(".entries li").first).to_contain_text("trip pin above the railhead at A: 0.022 in")
        expect(page.locator(".entries li").nth(1)).to_contain_text("trip pin above the railhead at A: 0.021 in")
        count = page.request.get(f"{server.url}/api/cars/{address.rpartition('/')[2]}").text().count('"pin.height"')
        page.reload()
        expect(page.locator("#waiting")).to_be_hidden()
        again = page.request.get(f"{server.url}/api/cars/{address.rpartition('/')[2]}").text().count('"pin.height"')
        assert count == again


def test_an_entry_the_shop_refuses_is_not_lost(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, watch):
        watch.forgives = GONE
        bench(page, server, "coupler-A", "&what=pin.height&at=A")
        page.context.set_offline(True)
        press(page, "99")
        page.locator("button.save").tap()
        page.context.set_offline(False)
        page.evaluate("dispatchEvent(new Event('online'))")
        expect(page.locator("#waiting")).to_contain_text("Not taken: pin.height A 99")
        expect(page.locator("#waiting")).to_contain_text("not believable")
        page.get_by_role("button", name="Give it up").click()
        expect(page.locator("#waiting")).to_be_hidden()


def test_a_phone_outlives_the_server(browser: Browser, tmp_path: Path) -> None:
    own = Server(tmp_path)
    try:
        with visiting(browser, own.url, "phone") as (page, watch):
            watch.forgives = GONE
            bench(page, own, "coupler-A", "&what=pin.height&at=A")
            own.stop()
            press(page, "0.025")
            page.locator("button.save").tap()
            expect(page.locator("#waiting")).to_contain_text("1 entry waits")
            own.start_again()
            page.evaluate("dispatchEvent(new Event('online'))")
            expect(page.locator("#waiting")).to_be_hidden()
            expect(page.locator(".entries li").first).to_contain_text("trip pin above the railhead at A: 0.025 in")
    finally:
        own.stop()


def test_pages_seen_open_without_the_shop(browser: Browser, tmp_path: Path) -> None:
    own = Server(tmp_path)
    try:
        with visiting(browser, own.url, "phone") as (page, watch):
            watch.forgives = GONE
            address = bench(page, own)
            page.evaluate("navigator.serviceWorker.ready")
            page.goto(address)
            page.wait_for_function("navigator.serviceWorker.controller !== null")
            page.goto(f"{address}/verdict")
            page.goto(address)
            own.stop()
            page.goto(f"{address}/verdict")
            expect(page.locator("h1")).to_have_text("Verdict")
            page.goto(f"{address}?spot=coupler-A&what=coupler.height&at=A")
            expect(page.locator("h1")).to_contain_text("Covered hopper")
            press(page, "0.391")
            page.locator("button.save").tap()
            expect(page.locator("#waiting")).to_contain_text("1 entry waits")
    finally:
        own.stop()


def test_it_can_be_installed(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, _):
        bench(page, server)
        address = page.locator("link[rel=manifest]").get_attribute("href") or ""
        manifest = json.loads(page.request.get(server.url + address).text())
        assert {"name", "start_url", "display", "icons"} <= set(manifest)
        for icon in manifest["icons"]:
            with Image.open(io.BytesIO(page.request.get(server.url + icon["src"]).body())) as picture:
                assert "x".join(map(str, picture.size)) == icon["sizes"]


# --- two at once -----------------------------------------------------------------------------------------------


def test_two_devices_see_each_other_write(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (phone, _), visiting(browser, server.url, "desk") as (desk, _):
        bench(phone, server, "truck-A", "&what=wheel.flange_depth&at=1L")
        bench(desk, server, "truck-A", "&what=wheel.width&at=1L")
        desk.locator("#value").fill("0.1")
        press(phone, "0.024")
        phone.locator("button.save").tap()
        expect(phone.locator("#notice")).to_contain_text(re.compile("saved", re.IGNORECASE))
        expect(desk.locator(".entries li").first).to_contain_text("flange depth at 1L: 0.024 in")
        expect(desk.locator("#value")).to_have_value("0.1")  # what is being typed is left alone


# --- whoever works differently ---------------------------------------------------------------------------------


def test_the_keyboard_does_it_all(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "desk") as (page, _):
        bench(page, server)
        page.keyboard.press("Tab")
        expect(page.locator(".skip")).to_be_focused()
        page.keyboard.press("Enter")
        spots = page.locator("svg.touch a.spot")
        spots.nth(4).focus()
        page.keyboard.press("Enter")
        expect(page.locator("#pad-title")).to_have_text("Coupler at A")
        page.locator("#value").focus()
        page.keyboard.press("ArrowUp")
        page.keyboard.press("ArrowUp")
        last = float(page.locator("#value").get_attribute("data-last") or "nan")
        assert float(page.locator("#value").input_value()) == pytest.approx(last + 0.002)
        page.keyboard.press("Enter")
        expect(page.locator("#notice")).to_contain_text(re.compile("saved", re.IGNORECASE))


def test_it_works_without_scripts(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone", java_script_enabled=False) as (page, _):
        bench(page, server, "coupler-B", "&what=pin.height&at=B")
        page.locator("#value").fill("0.031")
        page.locator(".send button.primary").click()
        expect(page.locator("#notice")).to_contain_text(re.compile("saved", re.IGNORECASE))
        expect(page.locator(".entries li").first).to_contain_text("trip pin above the railhead at B: 0.031 in")
        page.locator("#notice button").click()
        expect(page.locator("#notice")).to_contain_text("Undone")


PAGES = ("", "?spot=coupler-B&do=look", "?spot=truck-A&do=repair", "?spot=body&do=line", "/why", "/verdict", "/dates",
         "/papers", "/facts", ":/cars", ":/quick", ":/add", ":/settings", ":/pair", ":/nowhere")  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
@BOTH
def test_axe_finds_nothing(browser: Browser, server: Server, size: Size, scheme: str) -> None:
    """WCAG 2.2 A and AA by axe-core, in the browser itself, on every page."""
    with visiting(browser, server.url, size, scheme=scheme) as (page, watch):
        watch.forgives = ("status of 404", "status of 422")
        address = bench(page, server)
        found = {}
        for each in PAGES:
            page.goto(server.url + each[1:] if each.startswith(":") else address + each)
            found[each] = failings(page)
        page.goto(f"{address}?spot=coupler-A&what=pin.height&at=A")
        page.locator("#value").fill("nonsense")
        page.locator("button.save, .send .primary").locator("visible=true").first.click()
        expect(page.locator("#value")).to_have_attribute("aria-invalid", "true")
        found["wrong"] = failings(page)
        assert {each: wrong for each, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize("width", [360, 768, 1024, 1440, 3840])
def test_nothing_overflows_or_jumps(browser: Browser, server: Server, width: int) -> None:
    with visiting(browser, server.url, "desk", viewport={"width": width, "height": 800}) as (page, watch):
        watch.forgives = ("status of 404", "Blocked script execution")  # the driver's own script, in the preview
        page.add_init_script(
            "window.moved = 0; new PerformanceObserver(l => l.getEntries()"
            ".forEach(e => { if (!e.hadRecentInput) moved += e.value; }))"
            ".observe({type: 'layout-shift', buffered: true})"
        )
        address = bench(page, server)
        for each in PAGES:
            page.goto(server.url + each[1:] if each.startswith(":") else address + each)
            page.wait_for_load_state(
                "networkidle" if not each.startswith(":/cars") and each not in {"", *PAGES[1:4]} else "load"
            )
            assert page.evaluate("document.documentElement.scrollWidth") <= width, each
            assert page.evaluate("window.moved") < 0.01, each
            grown = page.evaluate(
                """() => [...document.querySelectorAll('svg text[font-size]')].filter(t =>
                    Math.abs(parseFloat(getComputedStyle(t).fontSize) - Number(t.getAttribute('font-size'))) > 0.01
                ).map(t => `${t.getAttribute('class')} ${t.textContent}`)"""
            )
            assert grown == [], f"{each}: the page's own style reaches into a drawing"


def test_targets_are_as_large_as_a_thumb(browser: Browser, server: Server) -> None:
    with visiting(browser, server.url, "phone") as (page, watch):
        watch.forgives = ("status of 404",)
        address = bench(page, server)
        for each in PAGES:
            page.goto(server.url + each[1:] if each.startswith(":") else address + each)
            small = page.evaluate(
                """() => [...document.querySelectorAll('button, select, input:not([type=hidden]), textarea, summary,'
                    + 'svg.touch a, nav a, a.button, a.chip-link, a.tab, .grade, .chip')]
                .filter(e => !e.closest('.chip') || e.matches('.chip'))
                .filter(e => !e.closest('.grade') || e.matches('.grade'))
                .map(e => [e, (e.closest('svg') ? e.querySelector('.hit') : e).getBoundingClientRect()])
                .filter(([e, r]) => r.width && r.height && (r.height < 43.5 || r.width < 43.5))
                .map(([e, r]) => `${e.outerHTML.slice(0, 90)} ${r.width.toFixed(0)}x${r.height.toFixed(0)}`)"""
            )
            assert small == [], each


def test_what_the_watch_is_for(browser: Browser, server: Server) -> None:
    """A script within a page, a style within a tag and a picture from elsewhere are refused, and seen to be."""
    with visiting(browser, server.url, "desk") as (page, watch):
        bench(page, server)
        page.evaluate(
            """() => {
                const script = document.createElement('script');
                script.textContent = 'window.got = 1';
                document.body.append(script);
                const bad = '<p style="color:red">x</p><img src="http://192.0.2.1/x.png">';
                document.body.insertAdjacentHTML('beforeend', bad);
            }"""
        )
        page.wait_for_timeout(200)
        assert page.evaluate("window.got") is None
        seen = " ".join(watch.problems)
        assert all(word in seen for word in ("script-src", "style-src", "img-src"))
        watch.problems.clear()


# --- on the house network --------------------------------------------------------------------------------------


def test_a_phone_is_paired_and_its_readings_are_encrypted(browser: Browser, tmp_path: Path) -> None:
    """``--lan --tls``: by the machine's own address a stranger is sent to pair, and is let in by the code."""
    addresses = [each for each in house_addresses() if each[0].isdigit()]
    if not addresses:
        pytest.skip("this machine has no address on a network")
    own = Server(tmp_path, "--lan", "--tls")
    try:
        home = f"https://{addresses[0]}:{own.port}"
        with visiting(browser, home, "phone", ignore_https_errors=True) as (page, watch):
            watch.forgives = ("status of 422", "An SSL certificate error")  # no worker where nobody vouches for it
            page.goto(f"{home}/cars")
            expect(page.locator("h1")).to_have_text("Pair this device")
            assert page.request.get(f"{home}/api/cars").status == 401
            page.locator("#code").fill("WRONG23456")
            page.get_by_role("button", name="Pair").click()
            expect(page.locator("#code-wrong-1")).to_contain_text("not the code")
            page.locator("#code").fill(own.code().lower())
            page.get_by_role("button", name="Pair").click()
            expect(page.locator("h1")).to_contain_text("Covered hopper")
            cookie = next(each for each in page.context.cookies() if each["name"].startswith("carwright"))
            assert (cookie["httpOnly"], cookie["secure"], cookie["sameSite"]) == (True, True, "Lax")
            page.goto(f"{page.url}?spot=coupler-A&what=pin.height&at=A")
            press(page, "0.02")
            page.locator("button.save").tap()
            expect(page.locator("#notice")).to_contain_text(re.compile("saved", re.IGNORECASE))
    finally:
        own.stop()

"""What people write is words: never markup, a template, a header, a path or a crash."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from webapp import HOPPER, token, visited, with_hopper

from carwright.shop import Shop
from carwright.shop.instrument_file import FORMAT

NASTY = '"><script>alert(1)</script>{{7*7}}{% x %}'
BARE = "<script>alert(1)"


def _post(client: TestClient, path: str, **fields: str) -> tuple[int, str, str]:
    answer = client.post(path, data={"token": token(client), **fields})
    return answer.status_code, answer.text, answer.headers.get("location", "")


def test_a_nasty_title_is_words_on_every_page_and_no_header(shop: Shop) -> None:
    with visited(shop) as client:
        status, _, where = _post(client, "/add/new", title=NASTY, scale="HO")
        assert status == 303
        for path in ("", "/papers", "/facts", "/verdict"):
            page = client.get(f"{where}{path}").text
            assert BARE not in page
            assert html.escape(NASTY).replace("&quot;", "&#34;") in page
        assert BARE not in client.get("/cars").text
        told = client.get(f"{where}/papers/sheet.toml").headers["content-disposition"]
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+-sheet\.toml"', told)


@pytest.mark.parametrize(
    "path",
    [
        "/cars", "/cars?status=", "/quick?worth=", "/quick?asked=", "/car/", "/nowhere/", "/settings?file=",
        "/pair?code=",
        "/api/nowhere/", "/api/cars?status=",
    ],
)  # fmt: skip
def test_what_stands_in_an_address_is_no_markup(shop: Shop, path: str) -> None:
    with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"{path}{'?words=' if path == '/cars' else ''}%22%3E%3Cscript%3Ealert(1)%3C/script%3E")
    assert BARE not in answer.text or answer.headers["content-type"] == "application/json"
    assert answer.headers["content-type"] in {"application/json", "text/html; charset=utf-8"}


def test_who_writes_is_words_and_stays_on_one_line(shop: Shop) -> None:
    with visited(shop) as client:
        assert _post(client, "/settings/you", who=NASTY)[0] == 303
        assert BARE not in client.get("/settings").text
        for wrong in ("a\x00b", "x" * 81, "a\x1bb"):
            status, page, _ = _post(client, "/settings/you", who=wrong)
            assert status == 422
            assert "his is no name" in page


def test_a_notice_is_words_and_shown_once(shop: Shop) -> None:
    with visited(shop) as client:
        assert _post(client, "/settings/instrument", name=NASTY, resolution="0.01 mm")[0] == 303
        first, second = client.get("/settings").text, client.get("/settings").text
    assert BARE not in first + second
    assert "kept for all cars." in first
    assert "kept for all cars." not in second


@pytest.mark.parametrize("words", ["%", "_", '"', "\\", "' OR 1=1 --", "*", "a" * 200, "NEAR(", "\N{SNOWMAN}"])
def test_search_words_are_words(shop: Shop, words: str) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        page = client.get("/cars", params={"words": words})
        answer = client.get("/api/cars", params={"words": words})
        odd = [client.get("/cars", params={"words": each}).status_code for each in ("\x00", "'", "a\x00b")]
    assert (page.status_code, answer.status_code) == (200, 200)
    assert odd == [200, 200, 200]
    assert car not in answer.text


@pytest.mark.parametrize(
    "name", ["../x.toml", "/x.toml", "..", ".", "a\x00.toml", "a/../../x.toml", "C:\\x.toml", "\\x.toml", ""]
)
def test_a_kept_file_has_no_name_that_leads_elsewhere(shop: Shop, tmp_path: Path, name: str) -> None:
    before = {path for path in tmp_path.rglob("*") if path.suffix == ".toml"}
    with visited(shop) as client:
        assert _post(client, "/settings/file", name=name, text=_instruments())[0] == 422
    assert {path for path in tmp_path.rglob("*") if path.suffix == ".toml"} == before


def _instruments() -> str:
    return f'format = "{FORMAT}"\n[[instrument]]\nname = "my rule"\nresolution = "0.01 mm"\n'


@pytest.mark.parametrize(
    "name",
    [
        "rules.toml",
        "my rule.toml",
        *(each for each in ("a&b.toml", "a#b.toml", "a%26b.toml", "a+b.toml")),
    ],
)
def test_a_file_that_was_kept_can_be_let_go_by_what_the_notice_offers(shop: Shop, name: str) -> None:
    with visited(shop) as client:
        assert _post(client, "/settings/file", name=name, text=_instruments())[0] == 303
        page = client.get("/settings").text
        assert f">{html.escape(name)} " in page
        found = re.search(r'action="(/settings/undo[^"]*)"', page)
        assert found is not None
        assert _post(client, html.unescape(found[1]))[0] == 303
        assert f">{html.escape(name)} " not in client.get("/settings").text


@pytest.mark.parametrize(
    "count",
    [
        "x", "-1", "1.5", "0", "9" * 400,
        *(
            each
            for each in ("\N{SUPERSCRIPT TWO}", "\N{CIRCLED DIGIT TWO}", "9" * 5000)
        ),
    ],
)  # fmt: skip
def test_a_count_that_cannot_be_read_is_said_beside_its_field(shop: Shop, count: str) -> None:
    with visited(shop) as client:
        status, _, _ = _post(
            client,
            "/settings/instrument",
            name="my rule",
            resolution="0.01 mm",
            repeatability="0.02 mm",
            repeatability_n=count,
        )
    assert status == 422


@pytest.mark.parametrize(
    "value", ["1e999 in", "nan in", "inf in", "0.5\x00 in", "\N{SUPERSCRIPT TWO}", "9" * 5000, "<b>"]
)
def test_a_value_that_is_none_is_refused_and_is_no_markup(shop: Shop, value: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        status, page, _ = _post(
            client, f"/car/{car}/entries", do="measure", spot="coupler-A", what="coupler.height", at="A", value=value
        )
    assert status == 422
    assert "<b>" not in page
    assert shop.state(car).digest == before


@pytest.mark.parametrize(
    "body",
    [
        '[{"kind":"note","note":"\\ud800"}]', '[{"\\ud800":1}]', '[{"with":"\\ud800"}]', '[{"kind":["a"]}]', "[{}]",
        '[{"kind":"exposure","runs":NaN}]', '[{"kind":"exposure","runs":1e999}]', '[{"kind":"note","note":{"a":1}}]',
        '[{"kind":"photo","file":"../../x","shows":"s"}]', '[{"kind":"photo","file":"/etc/x","shows":"s"}]',
        '[{"kind":"note","note":"x","id":5}]', "[" * 3000,
        '[{"kind":"exposure","runs":1' + "0" * 5000 + "}]", "[]", "{}",
        "null", '"x"', "", "\xff", '[{"kind":"note","note":"x","when":"\\u0000"}]',
    ],
)  # fmt: skip
def test_what_programs_send_amiss_is_refused_in_the_one_form(shop: Shop, body: str) -> None:
    car = with_hopper(shop)
    before = shop.state(car).digest
    with visited(shop) as client:
        head = {"x-carwright-token": token(client), "content-type": "application/json"}
        answer = client.post(f"/api/cars/{car}/entries", content=body.encode("latin-1"), headers=head)
    assert answer.status_code in {400, 422}
    assert set(answer.json()) == {"error"}
    assert answer.json()["error"]["sentence"]
    assert shop.state(car).digest == before


@pytest.mark.parametrize(
    "charset",
    [
        "utf-8",
        "latin-1",
        "nonsense",
        "utf-16",
        "unicode_escape",
    ],
)
def test_a_form_in_any_charset_is_taken_or_refused(shop: Shop, charset: str) -> None:
    car = with_hopper(shop)
    part = 'Content-Disposition: form-data; name="{}"\r\n\r\n{}\r\n'
    parts = [part.format("do", "note"), part.format("note", "x\\ud800")]
    with visited(shop) as client:
        answer = client.post(
            f"/car/{car}/entries",
            content="".join(f"--B\r\n{each}" for each in parts) + "--B--\r\n",
            headers={
                "content-type": f"multipart/form-data; boundary=B; charset={charset}",
                "x-carwright-token": token(client),
            },
        )
    assert answer.status_code in {303, 400, 422}


def test_a_sheet_brings_in_no_file_of_this_machine(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("carwright.web.desk.Desk.judge_beside", lambda *_: 0)
    text = HOPPER.read_text("utf-8")
    (tmp_path / "near.jpg").write_bytes(b"words of this machine")
    monkeypatch.chdir(tmp_path)
    entry = '\n[[entry]]\nkind = "photo"\nwhen = "2026-01-01"\nfile = "{}"\nshows = "s"\n'
    with visited(shop) as client:
        for wrong in (str(tmp_path / "near.jpg"), "../near.jpg"):
            assert _post(client, "/add/sheet", text=text + entry.format(wrong))[0] == 422
        status, _, where = _post(client, "/add/sheet", text=text + entry.format("near.jpg"))
        assert status == 303
        assert client.get(f"{where}/photos/near.jpg").status_code == 404
    folder = shop.address.folder
    assert folder is not None
    assert not [path for path in folder.rglob("*") if path.is_file() and b"words of" in path.read_bytes()]


@pytest.mark.parametrize(
    "path", ["%00", "a" * 400, "..%2f..%2fapp.py", "%2e%2e/app.py", "....//app.py", "", "fonts/", "fonts/%00"]
)
def test_static_files_are_our_own_alone(shop: Shop, path: str) -> None:
    with visited(shop) as client:
        answer = client.get(f"/static/{path}")
    assert answer.status_code == 404
    assert "make_app" not in answer.text


def test_an_undo_of_another_cars_entry_changes_nothing(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        _, _, where = _post(client, "/add/new", title="Boxcar", scale="HO")
        entry = shop.state(car).entries[-1].id
        before = shop.state(car).digest
        status, page, _ = _post(client, f"{where}/undo/{entry}")
        assert status in {404, 422, 409, 400}
        assert "Undone" not in page
    assert shop.state(car).digest == before

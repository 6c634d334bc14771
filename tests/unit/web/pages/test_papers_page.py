"""Papers: each download begins as such a file must, and what cannot be made is said."""

from __future__ import annotations

import io
import json
import zipfile

import pytest
from webapp import token, visited, with_hopper

import carwright as cw
from carwright.history.sheet import read_sheet_text
from carwright.inspection import words_of
from carwright.shop import Given, Shop


@pytest.mark.parametrize(
    ("name", "kind", "start"),
    [
        ("report.html", "text/html", b"<!doctype html>"), ("shots.pdf", "application/pdf", b"%PDF-"),
        ("claim.pdf", "application/pdf", b"%PDF-"), ("box-label.pdf", "application/pdf", b"%PDF-"),
        ("shelf-label.pdf", "application/pdf", b"%PDF-"), ("tag.pdf", "application/pdf", b"%PDF-"),
        ("drawings.zip", "application/zip", b"PK\x03\x04"), ("chapters.vtt", "text/vtt", b"WEBVTT"),
        ("sheet.toml", "application/toml", b"format = "), ("inspection.json", "application/json", b"{"),
    ],
)  # fmt: skip
def test_a_download_is_what_its_type_says(shop: Shop, name: str, kind: str, start: bytes) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        answer = client.get(f"/car/{car}/papers/{name}")
        looked = client.get(f"/car/{car}/papers/{name}?look=true") if name == "tag.pdf" else None
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(kind)
    assert answer.headers["content-disposition"].endswith(f'-{name}"')
    assert answer.content.lower().startswith(start.lower())
    assert looked is None or "content-disposition" not in looked.headers
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            assert archive.namelist()
            assert all(b"<svg" in archive.read(each)[:400] for each in archive.namelist() if each.endswith(".svg"))
    if name.endswith(".json"):
        assert json.loads(answer.content)["format"]


def test_the_sheet_reads_back_to_the_same_sheet(shop: Shop) -> None:
    car = with_hopper(shop)
    with visited(shop) as client:
        text = client.get(f"/car/{car}/papers/sheet.toml").text
    again = read_sheet_text(text, words_of(shop.tables), file="sheet")
    assert len(again.history.readings) == text.count('kind = "reading"')
    assert again.car.title == shop.state(car).title


def test_what_cannot_be_made_is_said_in_words(shop: Shop) -> None:
    with visited(shop) as client:
        car = client.post("/add/new", data={"token": token(client), "title": "Bare", "scale": "HO"}).headers["location"]
        for name, status in (("chapters.vtt", 400), ("claim.pdf", 400), ("zz.pdf", 404), ("sheet.toml?look=zz", 422),
                             ("report.pdf?sheet=a5", 422), ("..%2fx", 404), ("UP.pdf", 404)):  # fmt: skip
            answer = client.get(f"{car}/papers/{name}")
            assert answer.status_code == status
            assert "<h1>" in answer.text


def test_what_changed_is_told_once_something_can_have(shop: Shop) -> None:
    car = with_hopper(shop)
    bare = shop.add([Given(cw.read_sheet("examples/n-gondola.toml"))])[0].addition.car
    works = cw.inspect(shop.sheet(bare)).history.works
    with visited(shop) as client:
        assert client.get(f"/car/{car}/papers/changes.pdf").content.startswith(b"%PDF")
        assert client.get(f"/car/{bare}/papers/changes.pdf").status_code == (200 if works else 400)


def test_a_car_is_laid_beside_another_one(shop: Shop) -> None:
    car = with_hopper(shop)
    other = shop.add([Given(cw.read_sheet("examples/n-gondola.toml"))])[0].addition.car
    with visited(shop) as client:
        page = client.get(f"/car/{car}/compare.html?other={other}")
        assert (page.status_code, "Great Umber" in page.text, "Tansy River" in page.text) == (200, True, True)
        assert client.get(f"/car/{car}/compare.pdf?other={other}").content.startswith(b"%PDF")
        assert client.get(f"/car/{car}/compare.html?other={car}").status_code in {400, 422}
        assert client.get(f"/car/{car}/compare.html").status_code == 422
        assert f'value="{other}"' in client.get(f"/car/{car}/papers").text

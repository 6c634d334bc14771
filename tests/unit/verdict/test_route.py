"""Where a restricted car may run: the last ruling's word, wherever the status is told and nowhere else."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

import carwright as cw
from carwright.cli import verbs
from carwright.inspection import Inspection
from carwright.publish.document import as_document
from carwright.publish.labels import label_sheet
from carwright.publish.labels.label import bench_tag
from carwright.publish.lettering import lettering_of
from carwright.publish.report import report_html
from carwright.publish.scene import Scene, Text
from carwright.publish.theme import load_theme

YARD, HILL = "yard and Mill Branch, not over the hill", "over the hill, behind the engine"
SAID = f"may run: {YARD}"
LETTERS = lettering_of(load_theme())
FIRST = "00000000-0000-4000-8000-000000000001"


def ruling(route: str = YARD, **more: str) -> str:
    keys = {"route": route, **more} if route else more
    lines = "".join(f"{key} = {value!r}\n" if key != "points" else f"points = {value}\n" for key, value in keys.items())
    return f"\n[[entry]]\nkind = 'ruling'\nreason = 'light'\n{lines}"


@cache
def car(name: str, *entries: str) -> Inspection:
    text = Path(f"examples/{name}.toml").read_text("utf-8") + "".join(entries)
    return cw.inspect(cw.read_sheet_text(text, file=f"{name}.toml", folder="examples"))


def flat(*entries: str) -> Inspection:
    """A restricted car."""
    found = car("ho-flat-car", *entries)
    assert found.verdict.status == "restricted"
    return found


def routes(inspection: Inspection) -> list[str]:
    return [each for each in inspection.verdict.status_reasons if each.startswith("may run")]


def tag(inspection: Inspection) -> Scene:
    paper = label_sheet("a4-tag")
    return bench_tag(inspection, width=paper.width, height=paper.height, letters=LETTERS)


def words(scene: Scene) -> list[str]:
    return [each.text for each in scene.placed() if isinstance(each, Text)]


def test_without_a_ruling_nobody_says_where_it_may_run() -> None:
    assert routes(flat()) == []
    assert flat().route == ""
    assert routes(flat(ruling("", waives="nothing at all"))) == []


def test_the_last_ruling_that_says_so_holds() -> None:
    assert flat(ruling(HILL), ruling()).route == YARD
    assert routes(flat(ruling(HILL), ruling())) == [SAID]
    assert routes(flat(ruling(), ruling("", waives="nothing at all"))) == [SAID]


def test_the_last_ruling_is_the_last_by_time_not_in_the_file() -> None:
    assert flat(ruling(YARD, when="2026-05-02"), ruling(HILL, when="2026-05-01")).route == YARD


def test_a_ruling_that_was_superseded_says_nothing_and_its_correction_stands_in_its_place() -> None:
    first = ruling(HILL, id=FIRST)
    assert flat(first, ruling(YARD, supersedes=FIRST)).route == YARD
    assert flat(first, ruling(HILL + " again"), ruling(YARD, supersedes=FIRST)).route == HILL + " again"
    undone = f"\n[[entry]]\nkind = 'note'\nnote = 'Undone: ruling'\nsupersedes = '{FIRST}'\n"
    assert routes(flat(first, undone)) == []


def test_a_route_costs_no_points_and_changes_nothing_else() -> None:
    bare, ruled = flat().verdict, flat(ruling()).verdict
    assert ruled.status_reasons == (SAID, *bare.status_reasons)
    assert (ruled.points, ruled.out_of, ruled.status, ruled.deductions, ruled.notes) == (
        bare.points, bare.out_of, bare.status, bare.deductions, bare.notes,
    )  # fmt: skip


def test_a_route_may_stand_beside_points_or_a_waiver() -> None:
    both = flat(ruling(YARD, category="build", points="2"))
    assert routes(both) == [SAID]
    assert both.verdict.points == pytest.approx(flat().verdict.points - 2)
    waived = car("ho-flat-car", ruling(YARD, waives="weight.total"))
    assert (waived.verdict.status, routes(waived)) == ("in service", [])


@pytest.mark.parametrize(
    ("name", "status"),
    [("ho-boxcar", "in service"), ("n-gondola", "bad order"), ("ho-covered-hopper", "held for work")],
)
def test_a_car_that_is_not_restricted_is_told_no_route(name: str, status: str) -> None:
    found = car(name, ruling())
    assert found.verdict.status == status
    assert routes(found) == []
    assert YARD not in " ".join(words(tag(found)))
    assert found.verdict.status_reasons == car(name).verdict.status_reasons


def test_a_ruling_needs_something_to_rule() -> None:
    with pytest.raises(cw.SheetError, match="needs category and points, or waives, or route"):
        car("ho-flat-car", ruling(""))
    with pytest.raises(cw.SheetError, match="route"):
        car("ho-flat-car", "\n[[entry]]\nkind = 'ruling'\nreason = 'x'\nroute = ''\n")


def test_the_document_and_the_page_say_where_it_may_run() -> None:
    assert SAID in as_document(flat(ruling()))["verdict"]["status_reasons"]
    shown = re.sub(r"<[^>]+>", " ", report_html(flat(ruling()), version="test"))
    assert SAID in shown
    assert SAID not in re.sub(r"<[^>]+>", " ", report_html(flat(), version="test"))


def test_the_tag_says_where_it_may_run() -> None:
    scene = tag(flat(ruling()))
    assert "May run" in words(scene)
    assert YARD in words(scene)
    assert SAID in scene.words
    assert "May run" not in words(tag(flat()))


def test_the_stage_shown_changes_neither_status_nor_route() -> None:
    received = cw.inspect(flat(ruling()).history, stage="received")
    assert routes(received) == [SAID]
    assert received.verdict.status == "restricted"


# --- in a shop ----------------------------------------------------------------------------------------------------


def run(*arguments: str) -> str:
    result = CliRunner().invoke(verbs, ["shop", *arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def test_a_list_and_a_tag_of_a_shop_say_where_it_may_run(tmp_path: Path) -> None:
    shop = str(tmp_path / "shop.db")
    shutil.copy("examples/stock-bench.toml", tmp_path)
    text = Path("examples/ho-flat-car.toml").read_text("utf-8")
    sheet = tmp_path / "flat.toml"
    sheet.write_text(text + ruling(), "utf-8")
    run("add", "--shop", shop, str(sheet), "examples/ho-boxcar.toml")
    assert f"   {SAID}\n" in run("list", "--shop", shop)
    rows = json.loads(run("list", "--shop", shop, "--json"))["cars"]
    told = {each["status"]: (each["route"], SAID in each["status_reasons"]) for each in rows}
    assert told == {"restricted": (YARD, True), "in service": (None, False)}
    out = tmp_path / "tags.pdf"
    run("tags", "--shop", shop, "--out", str(out))
    (page,) = PdfReader(out).pages
    printed = " ".join(page.extract_text().split())
    assert f"May run • {YARD}" in printed
    assert "In service" not in printed


def test_a_tag_is_printed_for_a_car_in_service_that_is_due(tmp_path: Path) -> None:
    shop, out = str(tmp_path / "shop.db"), tmp_path / "tags.pdf"
    carried = "\n[[entry]]\nkind = 'placement'\nwhere = 'van'\nhow = 'transport'\nwhen = 2026-06-01\n"
    sheet = tmp_path / "box.toml"
    sheet.write_text(Path("examples/ho-boxcar.toml").read_text("utf-8") + carried, "utf-8")
    run("add", "--shop", shop, str(sheet))
    assert run("tags", "--shop", shop, "--out", str(out), "--on", "2026-05-31") == "no car needs a tag\n"
    assert not out.exists()
    run("tags", "--shop", shop, "--out", str(out), "--on", "2026-06-01")
    printed = " ".join(PdfReader(out).pages[0].extract_text().split())
    assert "In service" in printed
    assert "it was carried; read coupler height, coupler action, back-to-back" in printed


# --- on a tag with little room ------------------------------------------------------------------------------------


def test_a_tag_says_where_a_car_may_run_however_many_reasons_there_are() -> None:
    found = flat(ruling())
    reasons = (*(f"restricted: clause {number}" for number in range(12)), *found.verdict.status_reasons)
    crowded = replace(found, verdict=replace(found.verdict, status_reasons=reasons))
    assert YARD in words(tag(crowded))


def test_a_tag_says_all_of_a_long_route() -> None:
    long = "the yard; " + "Mill Branch up to the third bridge; " * 7 + "and never over the hill"
    assert "over the hill" in " ".join(words(tag(flat(ruling(long)))))

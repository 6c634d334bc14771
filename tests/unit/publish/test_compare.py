"""The comparison: two to six cars, drawn to one scale, every measurement in its row, every car in its column."""

from __future__ import annotations

import io
import json
import re
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import html5lib
import pytest
from pypdf import PdfReader

import carwright as cw
from carwright.judge import Finding
from carwright.publish.compare import ComparisonError, comparison_of
from carwright.publish.lettering import lettering_of
from carwright.publish.report.content import Cell, Figure, Paragraph, Report, Table, all_texts
from carwright.publish.report.page import page_html
from carwright.publish.report.printed import pages_pdf
from carwright.publish.scene import Circle, Group, Scene, Text
from carwright.publish.theme import load_theme
from carwright.publish.wording import limit_words, value_words

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
SIX = EXAMPLES[:6]
HOPPER, TANK, VAN = (Path(f"examples/{name}.toml") for name in ("ho-covered-hopper", "o-tank-car", "h0-four-wheel-van"))
SHAPE = {"fails": "✕", "undecided": "◇", "conforms": "●", "not measured": "○"}


@lru_cache
def example(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


@lru_cache
def compared(*paths: Path) -> Report:
    return comparison_of([example(path) for path in paths], version="1.2.3")


def made(body: str, *, title: str = "Boxcar", car: str = "", geometry: str = "axles = 4\n") -> cw.Inspection:
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = {json.dumps(title, ensure_ascii=False)}\nscale = "HO"\n{car}'
    return cw.inspect(cw.read_sheet_text(f"{head}\n[car.geometry]\n{geometry}{body}"))


def look(name: str, grade: str) -> str:
    named = f"name = {json.dumps(name)}\n" if name else ""
    return f'[[entry]]\nkind = "look"\nwhat = "part"\n{named}grade = "{grade}"\n'


def measured(inspection: cw.Inspection) -> list[Finding]:
    """What has a row: read, may cost points, and not about the year."""
    return [
        each
        for each in inspection.findings
        if each.outcome != "not measured" and each.force in inspection.rubric.charges and each.rule_set != "dated"
    ]


def tables(report: Report) -> dict[str, Table]:
    return {block.caption: block for section in report.sections for block in section.blocks if isinstance(block, Table)}


def rows(report: Report, caption: str = "Found, with its limits") -> dict[str, tuple[Cell, ...]]:
    """Cells of each row by what heads it."""
    table = tables(report)[caption]
    found = {row[0].text: row[1:] for row in table.rows}
    assert len(found) == len(table.rows)
    return found


def scene_of(report: Report) -> Scene:
    assert report.front.figure is not None
    [scene] = report.front.figure.scenes
    return scene


def cars(report: Report) -> list[Group]:
    return [each for each in scene_of(report).items if isinstance(each, Group)]


# --- how many ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [0, 1, 7, 8])
def test_fewer_than_two_or_more_than_six_are_refused(count: int) -> None:
    with pytest.raises(ComparisonError) as fault:
        comparison_of([example(HOPPER)] * count, version="0")
    assert str(fault.value) == f"a comparison takes 2 to 6 cars, got {count}"
    assert fault.value.count == count


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_two_to_six_make_a_page_with_a_column_for_each(count: int) -> None:
    report = compared(*SIX[:count])
    html5lib.HTMLParser(strict=True).parse(page_html(report))
    assert len(cars(report)) == count
    assert len(report.front.summary) == count
    assert report.front.title == f"{count} cars side by side"
    assert set(tables(report)) == {"Side by side", "Found, with its limits"}
    for table in tables(report).values():
        assert [column.title for column in table.columns[1:]] == [f"Car {number}" for number in range(1, count + 1)]
        assert {len(row) for row in table.rows} == {count + 1}


@pytest.mark.parametrize("count", [2, 6])
def test_it_is_printed(count: int) -> None:
    reader = PdfReader(io.BytesIO(pages_pdf(compared(*SIX[:count]))))
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert f"{count} cars side by side" in words
    assert f"Car {count}" in words
    assert f"Car {count + 1}" not in words
    assert "Measurement by measurement" in words


# --- drawings ----------------------------------------------------------------------------------------------------


def wheels(group: Group) -> list[Circle]:
    placed = Scene(0, 0, 1, 1, (group,), "", "").placed()
    return [each for each in placed if isinstance(each, Circle) and each.what == "wheel"]


def test_a_millimetre_is_a_millimetre_of_every_car() -> None:
    report = compared(*SIX)
    assert scene_of(report).unit_mm == 1.0
    for path, group in zip(SIX, cars(report), strict=True):
        geometry, history = example(path).history.geometry, example(path).history
        assert group.scale == 1.0
        own = wheels(group)
        assert len(own) == history.axles
        xs = sorted(wheel.x for wheel in own)
        if "truck_centers" in geometry:
            assert (xs[2] + xs[3] - xs[0] - xs[1]) / 2 == pytest.approx(geometry["truck_centers"])
            assert xs[1] - xs[0] == pytest.approx(geometry["truck_wheelbase"])
        else:
            assert xs[-1] - xs[0] == pytest.approx(geometry["wheelbase"])
        if "wheel_diameter" in geometry:
            assert [2 * wheel.r for wheel in own] == pytest.approx([geometry["wheel_diameter"]] * len(own))
        assert [wheel.y + wheel.r for wheel in own] == pytest.approx([group.move[1]] * len(own))
        assert sum(xs) == pytest.approx(0.0, abs=1e-6)


def test_cars_stand_under_one_another_with_room_for_each() -> None:
    report = compared(*SIX)
    scene = scene_of(report)
    heights = [example(path).history.geometry.get("body_height", 0.0) for path in SIX]
    rails = [group.move[1] for group in cars(report)]
    for (upper, lower), height in zip(pairwise([0.0, *rails]), heights, strict=True):
        assert lower - upper > height
    texts = [each for each in scene.placed() if isinstance(each, Text)]
    assert len(texts) == 12
    letters = lettering_of(load_theme())
    for text in texts:
        wide = letters.width(text.text, text.size, bold=text.bold)
        left = text.x - (wide if text.anchor == "end" else 0.0)
        assert scene.x <= left
        assert left + wide <= scene.x + scene.width
        assert text.y + 0.25 * text.size <= scene.y + scene.height
    for (path, name, status), rail, below in zip(
        zip(SIX, texts[::2], texts[1::2], strict=True), rails, [*rails[1:], None], strict=True
    ):
        assert name.text.endswith(example(path).history.title)
        assert status.text == example(path).verdict.status
        assert rail < name.y
        assert below is None or name.y < below
        assert letters.width(name.text, name.size, bold=True) + letters.width(status.text, status.size) < scene.width


def test_a_long_title_is_cut_beside_the_status() -> None:
    report = comparison_of([made("", title="word " * 100), made("", title="\u05e7\u05e8\u05d5\u05df <b>")], version="0")
    name, status, second, _ = [each for each in scene_of(report).placed() if isinstance(each, Text)]
    assert name.text.endswith("…")
    wide = lettering_of(load_theme()).width(name.text, name.size, bold=True)
    assert name.x + wide < status.x - lettering_of(load_theme()).width(status.text, status.size)
    assert second.text == "Car 2: \u05e7\u05e8\u05d5\u05df <b>"
    assert "<b>" not in page_html(report)


# --- measurements ------------------------------------------------------------------------------------------------


def test_everything_measured_has_its_row_and_its_words() -> None:
    report = compared(*SIX)
    found = rows(report)
    for column, path in enumerate(SIX):
        inspection = example(path)
        system = inspection.history.system
        for finding in measured(inspection):
            cell = found[finding.subject][column]
            value, limits = value_words(finding, system), limit_words(finding, system)
            assert cell.text == (f"{value}, {finding.outcome}" if value else finding.outcome)
            assert cell.small == ((limits,) if limits else ())
            assert cell.mark == SHAPE[finding.outcome]
        own = {each.subject for each in measured(inspection)}
        for name, cells in found.items():
            if name not in own:
                assert cells[column].text in {"not measured", "not looked at"}
                assert cells[column].mark == "○"
                assert cells[column].small == ()
    assert set(found) == {each.subject for path in SIX for each in measured(example(path))}
    firsts = [each.subject for each in measured(example(SIX[0]))]
    assert list(found)[: len(firsts)] == firsts


def test_what_was_not_found_by_eye_is_not_said_to_be_unmeasured() -> None:
    found = rows(compared(HOPPER, TANK))
    assert [cell.text for cell in found["hatch rows"]] == ["sound, conforms", "not looked at"]
    assert [cell.text for cell in found["dome"]] == ["not looked at", "slight, fails"]
    assert found["wheel width wheel 4R"][0].text == "not measured"


def test_the_same_car_twice_has_two_equal_columns() -> None:
    report = compared(HOPPER, HOPPER)
    for table in tables(report).values():
        for row in table.rows:
            assert row[1] == row[2], row[0].text
    one, other = cars(report)
    assert one.items[:-2] == other.items[:-2]
    first, second = (line.partition(": ")[2] for line in report.front.summary)
    assert first == second
    swapped, straight = compared(TANK, HOPPER), compared(HOPPER, TANK)
    for caption in tables(straight):
        forth, back = rows(straight, caption), rows(swapped, caption)
        assert set(forth) == set(back)
        assert all(back[name] == cells[::-1] for name, cells in forth.items())


def test_two_looks_of_one_name_both_count() -> None:
    inspection = made(look("", "spoilt") + look("", "sound"))
    assert sorted(each.outcome for each in measured(inspection)) == ["conforms", "fails"]
    table = tables(comparison_of([inspection, inspection], version="0"))["Found, with its limits"]
    assert "spoilt, fails" in {cell.text for row in table.rows for cell in row}


def test_nothing_measured_on_any_is_said() -> None:
    report = comparison_of([made(""), made("", title="other")], version="0")
    assert set(tables(report)) == {"Side by side"}
    assert "Nothing was measured on any of them." in all_texts(report)
    assert "None of these cars lost a point." in all_texts(report)


def test_each_car_is_said_in_its_own_units() -> None:
    found = rows(compared(VAN, TANK))
    assert [cell.text.split()[-2].rstrip(",") for cell in found["back-to-back axle 1"]] == ["mm", "in"]


# --- verdicts and points -----------------------------------------------------------------------------------------


def test_verdicts_stand_side_by_side() -> None:
    found = {name: [cell.text for cell in cells] for name, cells in rows(compared(*SIX), "Side by side").items()}
    verdicts = [example(path).verdict for path in SIX]
    assert found["status"] == [each.status for each in verdicts]
    assert found["points"] == [f"{each.points:g} of {each.out_of:g}" for each in verdicts]
    assert found["in words"] == [each.band for each in verdicts]
    assert found["not examined"] == [f"{each.unexamined:g} points" if each.unexamined else "" for each in verdicts]
    for column, path in enumerate(SIX):
        inspection = example(path)
        charged = [each for each in inspection.findings if each.force in inspection.rubric.charges]
        for outcome in ("fails", "undecided"):
            assert found[outcome][column] == str(sum(each.outcome == outcome for each in charged))
        unread = sum(each.outcome == "not measured" for each in inspection.findings)
        assert found["not measured"][column] == str(unread)
        history = inspection.history
        assert found["scale and kind"][column] == f"{history.scale.name}, {history.type}"
        for category in inspection.verdict.categories:
            lost = f"{category.lost:.1f} of {category.points:g}" if category.examined else "not examined"
            assert found[f"lost: {category.title}"][column] == lost
        paid = [each for each in history.acquisitions if each.paid is not None]
        assert found["paid"][column] == ("31.50 crowns" if paid else "")


def test_prices_stand_beside_and_change_nothing() -> None:
    bought = '[[entry]]\nkind = "acquisition"\npaid = 12.5\ncurrency = "crowns"\n'
    free = '[[entry]]\nkind = "acquisition"\n'
    body = look("step", "marked")
    found = rows(comparison_of([made(bought + body), made(bought + free + body)], version="0"), "Side by side")
    assert [cell.text for cell in found["paid"]] == ["12.50 crowns", "12.50 crowns"]
    without = rows(comparison_of([made(body), made(body)], version="0"), "Side by side")
    assert found["points"] == without["points"]


def test_lost_points_are_parts_of_one_whole_for_each_car() -> None:
    report = compared(*SIX)
    [figure] = [block for section in report.sections for block in section.blocks if isinstance(block, Figure)]
    losing = [number for number, path in enumerate(SIX, 1) if example(path).verdict.deductions]
    assert 0 < len(losing) < 6
    assert [scene.words.partition(":")[0] for scene in figure.scenes] == [f"Car {number}" for number in losing]
    for number, scene in zip(losing, figure.scenes, strict=True):
        verdict = example(SIX[number - 1]).verdict
        amounts = [float(each.text) for each in scene.walk() if isinstance(each, Text) and each.what == "amount"]
        assert sum(amounts) == pytest.approx(verdict.out_of - verdict.points, abs=0.05 * len(amounts))
        assert amounts == sorted(amounts, reverse=True)


def test_what_may_be_compared_is_said() -> None:
    notes = [
        block.text
        for section in compared(HOPPER, TANK).sections
        for block in section.blocks
        if isinstance(block, Paragraph)
    ]
    assert any("a car nobody measured has lost nothing" in note for note in notes)
    assert any(re.search("✕ fails, ◇ undecided, ● conforms", note) for note in notes)
    assert compared(HOPPER, TANK).front.facts == (
        "Car 1: Covered hopper, two-bay, Tansy River 40418; Car 2: Tank car, 8,000 gallon, Pellworth Oils 315"
    )
    assert compared(HOPPER, TANK).front.summary[0] == "Car 1: held for work, 97 of 120 points."


def test_a_car_nobody_examined_has_no_points_yet() -> None:
    report = comparison_of([made(""), made(look("step", "sound"))], version="0")
    assert "0 of 0 points" not in " ".join(all_texts(report))

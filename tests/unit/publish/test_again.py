"""Re-inspection: two looks at one car, told apart from two cars, and what became of each requirement between them."""

from __future__ import annotations

import io
import json
import re
from functools import lru_cache
from pathlib import Path

import html5lib
import pytest
from pypdf import PdfReader

import carwright as cw
from carwright.publish.again import OtherCarError, reinspection_of
from carwright.publish.changes import changes_of
from carwright.publish.report.content import Items, Paragraph, Report, Section, Table, all_texts
from carwright.publish.report.page import page_html
from carwright.publish.report.printed import pages_pdf

HOPPER = Path("examples/ho-covered-hopper.toml")
FLAT = Path("examples/ho-flat-car.toml")
BOXCAR = Path("examples/ho-boxcar.toml")
ONE, TWO = "11111111-1111-1111-1111-111111111111", "22222222-2222-2222-2222-222222222222"
GROUPS = {
    "Went wrong": {"went wrong"},
    "Fails, and was not decided before": {"decided"},
    "Came right": {"came right"},
    "Conforms, and was not decided before": {"decided"},
    "No longer decided": {"undone"},
    "Still fails": {"still fails"},
    "Moved, and judged as before": {"moved"},
    "Judged at one time only": {"new", "gone"},
}


@lru_cache
def sheet(path: Path) -> cw.Sheet:
    return cw.read_sheet(path)


@lru_cache
def stage(path: Path, which: str) -> cw.Inspection:
    return cw.inspect(sheet(path), stage=which)


def made(body: str, *, title: str = "Boxcar", scale: str = "HO", car: str = "", which: str = "last") -> cw.Inspection:
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = {json.dumps(title)}\nscale = "{scale}"\n{car}\n'
    return cw.inspect(cw.read_sheet_text(f"{head}[car.geometry]\naxles = 4\n{body}"), stage=which)


def entry(text: str) -> str:
    return f"[[entry]]\n{text}\n"


def height(at: str, *values: str) -> str:
    text = f'kind = "reading"\nwhat = "coupler.height"\nat = "{at}"\nvalues = {json.dumps(list(values))}\n'
    return entry(f'{text}with = "height gauge"')


def gap(axle: str, *values: str) -> str:
    text = f'kind = "reading"\nwhat = "wheel.back_to_back"\nat = "{axle}"\nvalues = {json.dumps(list(values))}\n'
    return entry(f'{text}with = "calliper"')


def look(name: str, grade: str) -> str:
    return entry(f'kind = "look"\nwhat = "part"\nname = "{name}"\ngrade = "{grade}"')


GOOD, HIGH = ("9.95 mm", "9.95 mm"), ("10.9 mm", "10.9 mm")
WASHER = entry('kind = "work"\nremedy = "washer"\nat = "A"\namount = "-0.5 mm"')


def again(before: cw.Inspection, after: cw.Inspection) -> Report:
    return reinspection_of(before, after, version="1.2.3")


def section(report: Report, title: str) -> Section | None:
    return next((each for each in report.sections if each.title == title), None)


def groups(report: Report) -> dict[str, set[str]]:
    """What stands under each heading of a table."""
    found = {}
    for each in report.sections:
        for block in each.blocks:
            if isinstance(block, Table):
                found[each.title] = {row[0].text for row in block.rows}
                many = len(block.rows)
                assert block.caption == f"{many} requirement{'' if many == 1 else 's'}"
                assert {len(row) for row in block.rows} == {5}
    return found


def row(report: Report, name: str) -> list[str]:
    """Words and marks of one row."""
    [found] = [
        cells
        for each in report.sections
        for block in each.blocks
        if isinstance(block, Table)
        for cells in block.rows
        if cells[0].text == name
    ]
    return [f"{cell.mark} {cell.text}".strip() for cell in found]


def as_before(report: Report) -> list[str]:
    same = section(report, "As before")
    assert same is not None
    return [block.text for block in same.blocks if isinstance(block, Paragraph)]


def works(report: Report) -> list[str]:
    held = section(report, "Works the history holds")
    if held is None:
        return []
    return [item.text for block in held.blocks if isinstance(block, Items) for item in block.items]


# --- one car or two ----------------------------------------------------------------------------------------------


def test_two_ids_are_two_cars() -> None:
    one, two = made("", car=f'id = "{ONE}"'), made("", car=f'id = "{TWO}"')
    with pytest.raises(OtherCarError) as fault:
        again(one, two)
    assert str(fault.value) == "'Boxcar' and 'Boxcar' are not one car: their ids differ"
    assert (fault.value.then, fault.value.now) == ("Boxcar", "Boxcar")


def test_two_scales_are_two_cars() -> None:
    with pytest.raises(OtherCarError) as fault:
        again(made("", scale="N"), made(""))
    assert str(fault.value) == "'Boxcar' and 'Boxcar' are not one car: one is in N, the other in HO"
    with pytest.raises(OtherCarError, match="one is in N, the other in HO"):
        again(made("", scale="N", car=f'id = "{ONE}"'), made("", car=f'id = "{ONE}"'))


@pytest.mark.parametrize("ids", [("", ""), (f'id = "{ONE}"', ""), ("", f'id = "{ONE}"')])
def test_two_titles_are_two_cars_unless_an_id_says_otherwise(ids: tuple[str, str]) -> None:
    with pytest.raises(OtherCarError) as fault:
        again(made("", title="Boxcar 1", car=ids[0]), made("", title="Boxcar 2", car=ids[1]))
    assert str(fault.value) == (
        "'Boxcar 1' and 'Boxcar 2' are not one car: their titles differ, and no id under [car] says that they are one"
    )
    again(made("", car=ids[0]), made("", car=ids[1]))


def test_one_id_is_one_car_whatever_it_is_called() -> None:
    report = again(made("", title="Old", car=f'id = "{ONE}"'), made("", title="New", car=f'id = "{ONE}"'))
    assert report.front.title == "New"


# --- stages of one sheet -----------------------------------------------------------------------------------------


def test_the_demo_car_since_it_was_received() -> None:
    report = again(stage(HOPPER, "received"), stage(HOPPER, "last"))
    assert groups(report) == {
        "Came right": {"coupler height at A", "back-to-back axle 3"},
        "Still fails": {
            "inspection stencil of one panel", "reporting marks, left side", "foam tray", "stirrup step at B",
        },
        "Moved, and judged as before": {"coupler height at B"},
    }  # fmt: skip
    assert row(report, "coupler height at A") == [
        "coupler height at A", "✕ 0.4115 ± 0.0021 in, fails", "● 0.3942 ± 0.0021 in, conforms", "0.381 to 0.401 in",
        "came right; moved −0.0173 ± 0.0029 in",
    ]  # fmt: skip
    assert works(report) == ["regauge at 3, 2026-03-04", "washer -0.015 in at A, 2026-03-05"]
    assert report.front.summary[0] == "Nothing that conformed has gone wrong."
    assert report.front.summary[1] == "Came right: coupler height at A, back-to-back axle 3."
    assert report.front.summary[2].startswith("Still fails: inspection stencil of one panel, ")
    assert "Points" not in " ".join(report.front.summary)
    assert report.front.facts == "before: as received; now: after washer -0.015 in at A"
    assert report.front.verdict[2][1] == "4"


@pytest.mark.parametrize("path", [HOPPER, FLAT], ids=lambda path: path.stem)
@pytest.mark.parametrize("which", ["received", "1"])
def test_every_requirement_is_told_once_under_its_heading(path: Path, which: str) -> None:
    before, after = stage(path, which), stage(path, "last")
    charges = {*before.rubric.charges}
    told = [each for each in changes_of(before.findings, after.findings) if each.finding.force in charges]
    report = again(before, after)
    expected = {
        title: {each.finding.subject for each in told if each.fate in fates}
        for title, fates in GROUPS.items()
        if any(each.fate in fates for each in told)
    }
    assert groups(report) == expected
    same = [each.finding.subject for each in told if each.fate == "as before"]
    assert all(subject in " ".join(as_before(report)) for subject in same)
    assert same
    assert report.front.verdict[2] == (
        "Fails now",
        str(sum(each.finding.outcome == "fails" for each in told if each.after is not None)),
        f"of {len(told)} requirements that count",
    )


def test_a_car_against_itself_has_not_changed() -> None:
    report = again(stage(HOPPER, "last"), stage(HOPPER, "last"))
    assert set(groups(report)) == {"Still fails"}
    assert report.front.summary[:2] == (
        "Nothing that conformed has gone wrong.", "Nothing that failed has come right.",
    )  # fmt: skip
    assert works(report) == []
    assert not any(text.startswith("Measured again") for text in as_before(report))


def fates(before: cw.Inspection, after: cw.Inspection) -> dict[tuple[str, str], str]:
    """What became of each requirement that may cost points."""
    changes = changes_of(before.findings, after.findings)
    counted = [each for each in changes if each.finding.force in after.rubric.charges]
    return {(each.finding.subject, each.finding.clause): each.fate for each in counted}


@pytest.mark.parametrize(("path", "which"), [(HOPPER, "received"), (HOPPER, "1"), (FLAT, "received")])
def test_what_came_right_goes_wrong_the_other_way(path: Path, which: str) -> None:
    before, after = stage(path, which), stage(path, "last")
    forth, back = again(before, after), again(after, before)
    there, home = fates(before, after), fates(after, before)
    other_way = {
        "came right": "went wrong", "decided": "undone", "undone": "decided", "still fails": "still fails",
        "moved": "moved", "as before": "as before",
    }  # fmt: skip
    assert home == {key: other_way[fate] for key, fate in there.items()}
    parted = (
        ("Went wrong", "No longer decided", "Open then, and not measured now"),
        ("Came right", "Fails, and was not decided before", "Conforms, and was not decided before"),
    )
    worse, better = ({name for title in titles for name in groups(back).get(title, set())} for titles in parted)
    assert worse == {name for title in parted[1] for name in groups(forth).get(title, set())}
    assert better == {name for title in parted[0] for name in groups(forth).get(title, set())}
    assert groups(back).get("Still fails") == groups(forth).get("Still fails")
    right = forth.front.summary[1].removeprefix("Came right: ").rstrip(".").split(", ")
    wrong = back.front.summary[0].removeprefix("Went wrong: ").rstrip(".").split(", ")
    assert sorted(right) == sorted(wrong)


def test_between_two_works_only_the_second_counts() -> None:
    assert works(again(stage(HOPPER, "1"), stage(HOPPER, "last"))) == ["washer -0.015 in at A, 2026-03-05"]


def test_works_after_the_later_stage_are_not_among_those_between() -> None:
    assert works(again(stage(HOPPER, "received"), stage(HOPPER, "1"))) == ["regauge at 3, 2026-03-04"]


def test_the_status_then_is_the_status_it_had_then() -> None:
    good = BOXCAR.read_text("utf-8")
    bad = good.replace('["9.98 mm", "9.95 mm"]', '["10.98 mm", "10.95 mm"]', 1)
    assert cw.inspect(cw.read_sheet_text(bad)).verdict.status == "bad order"
    mended = bad + WASHER + height("A", *GOOD) + height("B", *GOOD)
    mended += "".join(entry(f'kind = "gauge"\nwhat = "coupler.action"\nat = "{end}"\nresult = "pass"') for end in "AB")
    mended += "".join(
        entry(f'kind = "reading"\nwhat = "coupler.droop"\nat = "{end}"\nvalues = ["0.1 mm"]\nwith = "height stand"')
        for end in "AB"
    )
    read = cw.read_sheet_text(mended)
    report = again(cw.inspect(read, stage="received"), cw.inspect(read))
    assert [line[:2] for line in report.front.verdict[:2]] == [
        ("Status then", "bad order"), ("Status now", "in service"),
    ]  # fmt: skip


def test_what_was_not_read_again_has_not_gone_wrong() -> None:
    report = again(stage(FLAT, "received"), stage(FLAT, "last"))
    assert report.front.summary[0] == "Nothing that conformed has gone wrong."
    assert "Went wrong" not in groups(report)


# --- two sheets --------------------------------------------------------------------------------------------------


def changed(folder: Path, old: str, new: str) -> cw.Inspection:
    """The hopper's sheet with something else written in it."""
    text = HOPPER.read_text("utf-8")
    assert old in text
    path = folder / HOPPER.name
    path.write_text(text.replace(old, new), "utf-8")
    return cw.inspect(cw.read_sheet(path))


def test_a_later_sheet_in_which_something_broke(tmp_path: Path) -> None:
    later = changed(tmp_path, 'name = "hatch rows"\ngrade = "sound"', 'name = "hatch rows"\ngrade = "spoilt"')
    report = again(stage(HOPPER, "last"), later)
    assert groups(report)["Went wrong"] == {"hatch rows"}
    assert row(report, "hatch rows")[1:3] == ["● sound, conforms", "✕ spoilt, fails"]
    assert report.front.summary[0] == "Went wrong: hatch rows."
    then, now = stage(HOPPER, "last").verdict, later.verdict
    assert now.points < then.points
    assert report.front.summary[2].endswith(
        f" Points as received: {then.points:g} of {then.out_of:g} then, {now.points:g} of {now.out_of:g} now."
    )
    assert works(report) == []  # the older sheet had them all
    older = changed(tmp_path, HOPPER.read_text("utf-8")[HOPPER.read_text("utf-8").index("[[entry]]") :], "")
    assert works(again(older, later)) == ["regauge at 3, 2026-03-04", "washer -0.015 in at A, 2026-03-05"]
    back = again(later, stage(HOPPER, "last"))
    assert groups(back)["Came right"] == {"hatch rows"}
    assert back.front.summary[1] == "Came right: hatch rows."


def test_a_later_sheet_in_which_something_was_put_right(tmp_path: Path) -> None:
    later = changed(
        tmp_path,
        'at = "B"\nname = "stirrup step"\ngrade = "marked"',
        'at = "B"\nname = "stirrup step"\ngrade = "sound"',
    )
    report = again(stage(HOPPER, "last"), later)
    assert groups(report)["Came right"] == {"stirrup step at B"}
    assert "stirrup step at B" not in groups(report)["Still fails"]


def test_a_grade_that_grew_worse_still_fails() -> None:
    worse = made(look("step", "marked") + look("door", "slight"))
    report = again(worse, made(look("step", "spoilt") + look("door", "slight")))
    assert groups(report)["Still fails"] == {"step", "door"}
    assert row(report, "step")[1:3] == ["✕ marked, fails", "✕ spoilt, fails"]


def test_the_same_sheet_twice_has_not_changed(tmp_path: Path) -> None:
    report = again(stage(HOPPER, "last"), changed(tmp_path, "# The demo car.", "# The very same car."))
    assert set(groups(report)) == {"Still fails"}
    assert "Points as received" not in " ".join(report.front.summary)


def test_what_only_one_sheet_judges_is_told_so() -> None:
    report = again(made(look("step", "marked")), made(look("door", "sound")))
    assert groups(report) == {"Judged at one time only": {"step", "door"}}
    assert row(report, "step")[1:3] == ["✕ marked, fails", "not judged"]
    assert row(report, "door")[1:3] == ["not judged", "● sound, conforms"]


def test_a_value_that_moved_within_its_limits_is_told() -> None:
    before = made(entry('kind = "note"\nnote = "a line before it"') + height("A", "9.80 mm", "9.80 mm"))
    after = made(height("A", "10.10 mm", "10.10 mm"))
    report = again(before, after)
    assert groups(report) == {"Moved, and judged as before": {"coupler height at A"}}
    assert re.fullmatch(r"moved; moved \+0\.01\d+ ± 0\.00\d+ in", row(report, "coupler height at A")[4])
    still = again(before, made(height("A", "9.81 mm", "9.81 mm")))
    assert groups(still) == {}
    assert as_before(still)[0] == "Measured again and the same within its uncertainty: coupler height at A."


def test_a_value_that_moved_is_told_whatever_the_number_of_its_entry() -> None:
    report = again(made(height("A", "9.80 mm", "9.80 mm")), made(height("A", "10.10 mm", "10.10 mm")))
    assert groups(report) == {"Moved, and judged as before": {"coupler height at A"}}


def test_a_reading_carried_over_is_not_measured_again() -> None:
    carried = height("A", *GOOD)
    report = again(made(carried), made(entry('kind = "note"\nnote = "a line before it"') + carried))
    assert not any(text.startswith("Measured again") for text in as_before(report))


def test_what_was_never_measured_before_has_not_gone_wrong() -> None:
    report = again(made(""), made(height("A", *HIGH)))
    assert report.front.summary[0] == "Nothing that conformed has gone wrong."
    assert "Went wrong" not in groups(report)


def test_what_fails_and_was_never_measured_before_stands_under_a_heading_of_its_own() -> None:
    report = again(made(""), made(height("A", *HIGH)))
    assert groups(report) == {"Fails, and was not decided before": {"coupler height at A"}}
    assert report.front.verdict[2][1] == "1"


def test_what_nobody_could_say_before_and_conforms_now_is_decided() -> None:
    report = again(made(""), made(gap("1", "14.50 mm", "14.50 mm")))
    assert row(report, "back-to-back axle 1") == [
        "back-to-back axle 1", "○ not measured", "● 0.5709 ± 0.0020 in, conforms", "at least 0.566 in", "decided",
    ]  # fmt: skip
    back = again(made(gap("1", "14.50 mm", "14.50 mm")), made(""))
    assert groups(back) == {"No longer decided": {"back-to-back axle 1"}}


def test_what_was_never_measured_before_has_not_come_right() -> None:
    report = again(made(""), made(gap("1", "14.50 mm", "14.50 mm")))
    assert report.front.summary[1] == "Nothing that failed has come right."
    assert "Came right" not in groups(report)


def test_what_was_open_and_is_not_measured_now_was_never_decided() -> None:
    near = gap("1", "14.37 mm", "14.38 mm")
    report = again(made(near), made(near + entry('kind = "work"\nremedy = "regauge"\nat = "1"')))
    assert "No longer decided" not in groups(report)


# --- as page and print -------------------------------------------------------------------------------------------


def test_it_is_a_page_and_a_print() -> None:
    report = reinspection_of(
        stage(HOPPER, "received"), stage(HOPPER, "last"), version="9", then="in March", now="in May"
    )
    page = page_html(report)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "in March: as received; in May: after washer" in page
    reader = PdfReader(io.BytesIO(pages_pdf(report)))
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for title in ("Came right", "Still fails", "As before", "Works the history holds", "In March", "In May"):
        assert title in words
    assert report.foot[0].startswith("carwright 9. A change is called one where it exceeds")


def test_hostile_words_are_shown_as_written() -> None:
    odd = "<script>alert(1)</script>"
    page = page_html(again(made(look(odd, "sound"), title=odd), made(look(odd, "marked"), title=odd)))
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script" not in page
    assert f"Went wrong: {odd}." in all_texts(again(made(look(odd, "sound")), made(look(odd, "marked"))))

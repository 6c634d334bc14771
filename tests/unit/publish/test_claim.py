"""A claim: what failed as received and nothing else, in plain words, with what was paid and by when it goes back."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import html5lib
import pytest
from PIL import Image
from pypdf import PdfReader

import carwright as cw
from carwright.judge import Finding
from carwright.publish.claim import ClaimError, claim_of, plain_fault
from carwright.publish.report.content import Facts, Paragraph, Photograph, Report, Section, Table, all_texts
from carwright.publish.report.page import page_html
from carwright.publish.report.printed import pages_pdf
from carwright.publish.scene import Group, inline_svg
from carwright.publish.wording import limit_words, value_words
from carwright.units import Kind, System

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
HOPPER = Path("examples/ho-covered-hopper.toml")
TANK = Path("examples/o-tank-car.toml")
BOXCAR = Path("examples/ho-boxcar.toml")


@lru_cache
def example(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


def due(inspection: cw.Inspection, outcome: str = "fails") -> list[Finding]:
    """Findings as received that may cost points, with an outcome."""
    return [
        each
        for each in inspection.received
        if each.outcome == outcome and each.force in inspection.rubric.charges and each.rule_set != "dated"
    ]


FAULTY = [path for path in EXAMPLES if due(example(path))]


def made(body: str, *, car: str = "", folder: Path | None = None) -> cw.Inspection:
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = "Boxcar"\nscale = "HO"\n{car}\n[car.geometry]\naxles = 4\n'
    if folder is None:
        return cw.inspect(cw.read_sheet_text(head + body))
    (folder / "car.toml").write_text(head + body, "utf-8")
    return cw.inspect(cw.read_sheet(folder / "car.toml"))


def entry(text: str) -> str:
    return f"[[entry]]\n{text}\n"


def reading(what: str, at: str, *values: str, with_: str = "calliper", more: str = "") -> str:
    text = f'kind = "reading"\nwhat = "{what}"\nat = "{at}"\nvalues = {json.dumps(list(values))}\nwith = "{with_}"\n'
    return entry(text + more)


HIGH = reading("coupler.height", "A", "10.9 mm", "10.9 mm", with_="height gauge")
WASHER = entry('kind = "work"\nremedy = "washer"\nat = "A"\namount = "-0.5 mm"')
BOUGHT = entry(
    'kind = "acquisition"\nwhen = "2026-03-02"\npaid = 12.5\nlist_price = 20\ncurrency = "crowns"\n'
    'from = "Harl Mott"\ncondition = "new"\nreturn_by = "2026-03-16"'
)


def claim(inspection: cw.Inspection, digest: str = "") -> Report:
    return claim_of(inspection, version="1.2.3", digest=digest)


def section(report: Report, title: str) -> Section:
    return next(each for each in report.sections if each.title == title)


def rows(report: Report) -> list[list[str]]:
    """Words of each fault: number, what is wrong, found, allowed, by what."""
    [table] = [block for block in section(report, "What is wrong").blocks if isinstance(block, Table)]
    assert all(len(row) == len(table.columns) == 6 for row in table.rows)
    return [[cell.text for cell in row if cell.scene is None] for row in table.rows]


def facts(report: Report, title: str) -> dict[str, str]:
    return dict(pair for block in section(report, title).blocks if isinstance(block, Facts) for pair in block.pairs)


def last_words(report: Report, title: str) -> str:
    last = section(report, title).blocks[-1]
    assert isinstance(last, Paragraph)
    return last.text


# --- what is claimed ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_every_fault_as_received_is_claimed_and_nothing_else(path: Path) -> None:
    inspection = example(path)
    system = inspection.history.system
    report = claim(inspection)
    [table] = [block for block in section(report, "What is wrong").blocks if isinstance(block, Table)]
    assert len(table.rows) == len(due(inspection))
    for number, (finding, row) in enumerate(zip(due(inspection), table.rows, strict=True), 1):
        assert row[0].text == str(number)
        assert row[1].text.lower().startswith(finding.subject.lower())
        assert row[2].text == value_words(finding, system)
        assert row[3].text == limit_words(finding, system)
        assert (row[4].scene is not None) == (finding.half_width is not None)
        assert row[5].text
    assert table.anchors == tuple(f"f{number}" for number in range(1, len(table.rows) + 1))
    words = " ".join(row[1].text.lower() for row in table.rows)
    for outcome in ("undecided", "conforms"):
        assert not any(each.subject.lower() in words for each in due(inspection, outcome))
    many = f"has {len(table.rows)} fault" + ("" if len(table.rows) == 1 else "s")
    assert f"{many} against" in report.front.summary[0]


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_what_was_too_near_a_limit_is_said_not_to_be_claimed(path: Path) -> None:
    open_ones = list(dict.fromkeys(each.subject for each in due(example(path), "undecided")))
    said = facts(claim(example(path)), "How it was measured")["Not claimed"]
    expected = f"too near a limit to decide: {', '.join(open_ones)}"
    assert said == (expected if open_ones else "nothing was too near a limit")


def test_some_examples_have_something_too_near_a_limit() -> None:
    assert {bool(due(example(path), "undecided")) for path in FAULTY} == {True, False}


def test_works_later_do_not_change_what_is_claimed() -> None:
    text = HOPPER.read_text("utf-8")
    received = text[: text.index('[[entry]]\nkind = "work"')]
    assert len(received) < len(text)
    before = claim(cw.inspect(cw.read_sheet_text(received, folder=str(HOPPER.parent))))
    after = claim(example(HOPPER))
    assert rows(after) == rows(before)
    assert after.front == before.front
    assert facts(after, "What is asked") == facts(before, "What is asked")
    assert facts(after, "How it was measured") == facts(before, "How it was measured")
    assert last_words(before, "What is wrong") == "Nothing has been done to the car."
    assert last_words(after, "What is wrong") == (
        "Since then this was done to the car: regauge at 3, washer -0.015 in at A. "
        "The faults above were measured before it."
    )
    for stage in ("received", "1", "last"):
        again = cw.inspect(cw.read_sheet(HOPPER), stage=stage)
        assert rows(claim(again)) == rows(after)


def test_what_a_work_spoilt_is_not_claimed() -> None:
    good = reading("coupler.height", "A", "9.95 mm", "9.95 mm", with_="height gauge")
    with pytest.raises(ClaimError):
        claim(made(good + WASHER + HIGH))
    assert len(rows(claim(made(HIGH + WASHER + good)))) == 1


def test_what_was_first_seen_after_a_work_is_not_claimed() -> None:
    with pytest.raises(ClaimError):
        claim(made(WASHER + entry('kind = "look"\nwhat = "part"\nname = "step"\ngrade = "marked"')))


@pytest.mark.parametrize("path", [path for path in EXAMPLES if path not in FAULTY], ids=lambda path: path.stem)
def test_without_a_fault_there_is_no_claim(path: Path) -> None:
    inspection = example(path)
    with pytest.raises(ClaimError) as fault:
        claim(inspection)
    assert str(fault.value) == (
        f"{inspection.history.title[:60]!r}: as received nothing fails that a requirement forbids, "
        "so there is no claim to make"
    )
    assert fault.value.title == inspection.history.title


def test_what_only_informs_is_no_fault() -> None:
    inspection = made(HIGH)
    assert len(rows(claim(inspection))) == 1
    with pytest.raises(ClaimError):
        claim(replace(inspection, rubric=replace(inspection.rubric, charges=("standard",))))


# --- in plain words ----------------------------------------------------------------------------------------------


def finding(value: float | None, kind: Kind | None = "length", **keys: object) -> Finding:
    plain: dict[str, Any] = {"value": value, "kind": kind, "u": 0.1, "half_width": 0.25, **keys}
    return Finding(
        "a/b/HO/c", "coupler height", "coupler.height", "A", 0, "fails", "standard", "s", "x", "measured",
        **plain,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("each", "system", "words"),
    [
        (
            finding(10.9, lower=9.7, upper=10.2, excess=0.7),
            "us",
            "coupler height at A is 0.429 in, 0.028 in more than the 0.402 in allowed",
        ),
        (
            finding(10.9, lower=9.7, upper=10.2, excess=0.7, half_width=0.05),
            "metric",
            "coupler height at A is 10.90 mm, 0.70 mm more than the 10.20 mm allowed",
        ),
        (
            finding(9.0, lower=9.7, upper=10.2, excess=0.7),
            "us",
            "coupler height at A is 0.354 in, 0.028 in less than the 0.382 in allowed",
        ),
        (
            finding(9.0, lower=9.7, upper=None, excess=0.7, half_width=0.05),
            "metric",
            "coupler height at A is 9.00 mm, 0.70 mm less than the 9.70 mm allowed",
        ),
        (
            finding(120.0, "mass", upper=100.0, excess=20.0, half_width=0.4),
            "metric",
            "coupler height at A is 120.0 g, 20.0 g more than the 100.0 g allowed",
        ),
        (
            finding(0.05, "slope", upper=0.02, excess=0.03, half_width=0.002),
            "us",
            "coupler height at A is 5.00 %, 3.00 % more than the 2.00 % allowed",
        ),
        (finding(10.0, lower=9.7, upper=10.2), "metric", "coupler height at A is 10.00 mm"),
        (finding(None), "us", "coupler height at A does not pass its gauge"),
        (finding(None, None), "us", "coupler height at A does not work as it should"),
        (finding(None, None, grade="marked"), "us", "coupler height at A is marked"),
    ],
)
def test_a_fault_is_said_as_one_would_say_it(each: Finding, system: System, words: str) -> None:
    assert plain_fault(each, system) == words


def test_faults_of_the_examples_are_said_plainly() -> None:
    told = {row[1] for path in (HOPPER, TANK) for row in rows(claim(example(path)))}
    assert "Stirrup step at B is marked." in told
    assert "Weight of the complete car is 18.90 oz, 4.00 oz more than the 14.90 oz allowed." in told
    assert "Coupler height at B is 0.6775 in, 0.0139 in less than the 0.691 in allowed." in told
    van = {row[1] for row in rows(claim(example(Path("examples/h0-four-wheel-van.toml"))))}
    assert any(re.search(r"is 14\.33\d mm, 0\.0\d+ mm less than the 14\.40 mm allowed\.$", words) for words in van)


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_the_plainest_fault_is_farthest_beyond_its_limit_for_what_is_known(path: Path) -> None:
    inspection = example(path)
    measured = [each for each in due(inspection) if each.value is not None and each.u]
    worst = max(measured, key=lambda each: each.excess / (each.u or 1.0), default=None)
    said = claim(inspection).front.summary[1]
    tried = [each for each in due(inspection) if not each.grade]
    if worst is None and tried:
        assert said == f"The plainest: {plain_fault(tried[0], inspection.history.system)}."
    elif worst is None:
        assert said == "They can be seen without measuring."
    else:
        assert said == f"The plainest measured one: {plain_fault(worst, inspection.history.system)}."


def test_what_can_be_seen_is_said_to_be_seen() -> None:
    look = entry('kind = "look"\nwhat = "part"\nname = "step"\ngrade = "missing"')
    assert claim(made(look)).front.summary[1] == "They can be seen without measuring."


def test_the_excess_has_the_digits_of_the_value() -> None:
    [high] = [each for each in due(example(HOPPER)) if each.subject == "coupler height at A"]
    said = plain_fault(high, "us")
    assert said == "coupler height at A is 0.4115 in, 0.0105 in more than the 0.401 in allowed"


MICROMETER = (
    '[[instrument]]\nname = "micrometer"\nresolution = "0.001 mm"\ncalibration = "0.0005 mm"\n'
    'repeatability = "0.0005 mm"\nrepeatability_n = 30\n'
)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_a_small_excess_is_never_said_to_be_nothing(system: str) -> None:
    body = MICROMETER + reading("wheel.back_to_back", "1", "14.372 mm", "14.372 mm", with_="micrometer")
    [row] = rows(claim(made(body, car=f'system = "{system}"\n')))
    assert not re.search(r", 0\.0+ (in|mm) less", row[1])


def test_what_is_tried_by_hand_passes_no_gauge() -> None:
    [row] = rows(claim(made(entry('kind = "gauge"\nwhat = "coupler.action"\nat = "A"\nresult = "fail"'))))
    assert "gauge" not in row[1]


def test_a_fault_a_gauge_found_cannot_be_seen() -> None:
    gauged = entry('kind = "gauge"\nwhat = "wheel.back_to_back"\nat = "1"\nresult = "low"')
    assert claim(made(gauged)).front.summary[1] != "They can be seen without measuring."


FORBIDDEN = re.compile(r"(?i)\b(points?|scores?|scored|status|verdict|deduct\w*|rubric|held for work|bad order)\b")


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_claim_says_nothing_of_points_score_or_status(path: Path) -> None:
    report = claim(example(path), "0123456789ab")
    assert [text for text in all_texts(report) if FORBIDDEN.search(text)] == []
    assert report.front.verdict == ()
    page = html5lib.parse(page_html(report), namespaceHTMLElements=False)
    body = page.find("body")
    assert body is not None
    assert FORBIDDEN.findall(" ".join(body.itertext())) == []


# --- what is asked -----------------------------------------------------------------------------------------------


def test_price_seller_and_last_day_are_stated() -> None:
    report = claim(made(BOUGHT + HIGH))
    assert facts(report, "What is asked") == {
        "Paid": "12.50 crowns", "List price": "20.00 crowns", "Bought from": "Harl Mott", "On": "2026-03-02",
        "Sold as": "new", "Return by": "2026-03-16",
    }  # fmt: skip
    assert report.front.summary[2] == "It is to be returned by 2026-03-16."
    assert report.front.facts == "HO, paid 12.50 crowns, from Harl Mott, on 2026-03-02, sold as new"


def test_what_is_not_known_of_the_purchase_is_said() -> None:
    bare = claim(made(entry('kind = "acquisition"') + HIGH))
    unknown = dict.fromkeys(("Bought from", "On", "Sold as", "Return by"), "not stated")
    assert facts(bare, "What is asked") == unknown
    assert bare.front.summary[2] == "No date of return is stated."
    assert bare.front.facts == "HO"
    none = claim(made(HIGH))
    assert facts(none, "What is asked") == {}
    assert last_words(none, "What is asked").startswith("The sheet does not say where the car was bought")
    twice = claim(made(entry('kind = "acquisition"\nfrom = "the first"') + BOUGHT + HIGH))
    assert facts(twice, "What is asked")["Bought from"] == "Harl Mott"


# --- photographs -------------------------------------------------------------------------------------------------


def photo(name: str, more: str = "") -> str:
    return entry(f'kind = "photo"\nfile = "{name}"\n{more}')


def test_photographs_as_received_are_shown_with_their_dates(tmp_path: Path) -> None:
    for name in ("a.png", "b.png", "c.png"):
        Image.new("RGB", (40, 20), (90, 80, 70)).save(tmp_path / name)
    body = photo("a.png", 'when = "2026-03-02"\nshows = "step at B"') + photo("b.png") + photo("gone.png") + HIGH
    report = claim(made(body + WASHER + photo("c.png"), folder=tmp_path))
    shown = [each for each in section(report, "Photographs as received").blocks if isinstance(each, Photograph)]
    assert [(each.picture.photo.file, each.picture.problem) for each in shown] == [
        ("a.png", ""), ("b.png", ""), ("gone.png", "gone.png cannot be shown: there is no such file"),
    ]  # fmt: skip
    assert "step at B (2026-03-02)" in page_html(report)


def test_photographs_without_a_date_are_said_to_have_none(tmp_path: Path) -> None:
    body = photo("b.png") + HIGH
    undated = claim(made(body, folder=tmp_path))
    assert last_words(undated, "Photographs as received") == "Without a date in the sheet: b.png."
    first = photo("a.png", 'when = "2026-03-02"')
    dated = section(claim(made(first + HIGH, folder=tmp_path)), "Photographs as received")
    assert [type(block) for block in dated.blocks] == [Photograph]
    assert "Photographs as received" not in {each.title for each in claim(made(HIGH)).sections}
    later = claim(made(HIGH + WASHER + first, folder=tmp_path))
    assert "Photographs as received" not in {each.title for each in later.sections}


# --- how it was measured -----------------------------------------------------------------------------------------


def test_who_when_and_with_what_is_stated() -> None:
    found = facts(claim(example(HOPPER)), "How it was measured")
    assert found["Measured by"] == "E. Quill"
    assert found["With"] == "digital calliper, height stand"
    assert found["Rule"] == "fails where the chance to conform is 0.05 or less (JCGM 106:2012)"
    who = 'who = "Ada Marsh"\nwhen = "2026-03-04"\n'
    body = reading("coupler.height", "A", "10.9 mm", with_="height gauge", more=who)
    body += reading("wheel.width", "1", "2.8 mm", more=who.replace("04", "05"))
    named = facts(claim(made(body)), "How it was measured")
    assert (named["Measured by"], named["On"]) == ("Ada Marsh", "2026-03-04 to 2026-03-05")
    assert named["With"] == "height gauge (judgement)"
    bare = facts(claim(made(HIGH)), "How it was measured")
    assert (bare["Measured by"], bare["On"]) == ("not stated", "not stated")
    alone = facts(claim(made(HIGH.replace("values", 'when = "2026-03-04T10:00"\nvalues'))), "How it was measured")
    assert alone["On"] == "2026-03-04"


def test_the_day_of_the_purchase_is_no_day_of_measuring() -> None:
    measured = HIGH.replace("values", 'when = "2026-03-20"\nvalues')
    assert facts(claim(made(BOUGHT + measured)), "How it was measured")["On"] == "2026-03-20"


def test_each_fault_is_pinned_by_its_number() -> None:
    report = claim(example(HOPPER))
    assert report.front.figure is not None
    [scene] = report.front.figure.scenes
    pins = {each.href: each for each in scene.walk() if isinstance(each, Group) and each.href}
    assert sorted(pins) == [f"#f{number}" for number in range(1, len(rows(report)) + 1)]
    assert "coupler height at A fails" in inline_svg(scene)


# --- as page and print -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_claim_is_a_page(path: Path) -> None:
    page = page_html(claim(example(path), "0123456789ab"))
    html5lib.HTMLParser(strict=True).parse(page)
    assert "carwright 1.2.3; sheet 0123456789ab. This paper states measurements." in page
    assert not re.search(r"(src|href)\s*=\s*[\"'](?!data:|#)", page)


def test_a_claim_is_printed() -> None:
    report = claim(example(TANK), "0123456789ab")
    reader = PdfReader(io.BytesIO(pages_pdf(report)))
    assert 1 <= len(reader.pages) <= 4
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "What is wrong" in words
    assert "Handrail at A is missing." in words
    assert "Claim, Tank car, 8,000 gallon, Pellworth Oils 315" in words
    assert FORBIDDEN.findall(words) == []


def test_hostile_words_are_shown_as_written() -> None:
    odd = '<script>alert(1)</script> & \\"x\\"'
    body = BOUGHT.replace("Harl Mott", odd) + entry(
        f'kind = "look"\nwhat = "part"\nname = "{odd}"\ngrade = "marked"'
    )  # fmt: skip
    page = page_html(claim(made(body)))
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp;" in page
    assert pages_pdf(claim(made(body))).startswith(b"%PDF")

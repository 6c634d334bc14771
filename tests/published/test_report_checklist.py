"""What a report must hold, item by item: ISO/IEC 17025:2017, 7.8; list from memory.

The letters are those of 7.8.2.1 (every report), of 7.8.3.1 (reports of tests) and the number of 7.8.6 (decision rule).
"""

from __future__ import annotations

import hashlib
import io
import re
from functools import lru_cache
from xml.etree import ElementTree as ET

import html5lib
import pypdf
import pytest

import carwright as cw
from carwright.publish.report import report_of, report_pdf
from carwright.publish.report.content import Facts, Report, Table
from carwright.publish.report.page import page_html
from carwright.publish.wording import value_words

BARE = 'format = "carwright-sheet/1"\n[car]\ntitle = "Boxcar 315"\nscale = "HO"\n'
FULL = """\
format = "carwright-sheet/1"

[car]
title = "Boxcar 315"
scale = "HO"
type = "boxcar"
id = "0b5f0f3e-6a0b-4b55-9d0b-0d9a6a1d2c11"

[car.geometry]
body_length = "5.35 in"
axles_per_truck = 2

[report]
by = "Ina Quill, reviewer"
place = "the back bench, Lower Sedge"
for = "Harl Mott, Lower Sedge"
number = "LS-26-031"
issued = "2026-03-09"

[[instrument]]
name = "shop calliper"
resolution = "0.01 mm"
calibration = "0.02 mm"
repeatability = "0.02 mm"
repeatability_n = 12

[[prior]]
what = "coupler.height"
at = "A"
value = "9.90 mm"
u = "0.1 mm"
source = "the seller, who read it with a height gauge"

[[prior]]
what = "coupler.height"
at = "B"
value = "9.95 mm"
u = "0.1 mm"
source = "the seller, who read it with a height gauge"

[[entry]]
kind = "acquisition"
when = "2026-03-01"
paid = 20.0
currency = "crowns"

[[entry]]
kind = "look"
what = "part"
at = "B"
name = "stirrup step"
grade = "marked"
when = "2026-03-02"
who = "Ina Quill"

[[entry]]
kind = "reading"
what = "wheel.back_to_back"
at = "1"
values = ["14.20 mm", "14.21 mm"]
with = "shop calliper"
when = "2026-03-02"
who = "Ina Quill"

[[entry]]
kind = "reading"
what = "weight.total"
values = ["3.52 oz"]
with = "letter scale"
when = "2026-03-04"
who = "Bo Tarn"

[[entry]]
kind = "reading"
what = "wheel.flange_thickness"
at = "1"
values = ["0.76 mm"]
when = "2026-03-04"
who = "Bo Tarn"
"""
NOT_STATED = "not stated"


@lru_cache
def inspected(text: str) -> cw.Inspection:
    return cw.inspect(cw.read_sheet_text(text))


@lru_cache
def reported(text: str) -> Report:
    digest = "" if text == BARE else hashlib.sha256(text.encode()).hexdigest()[:12]
    return report_of(inspected(text), version="test", digest=digest)


@lru_cache
def page(text: str) -> ET.Element:
    root: ET.Element = html5lib.parse(page_html(reported(text)), namespaceHTMLElements=False)
    return root


@lru_cache
def page_texts(text: str) -> tuple[str, ...]:
    data = report_pdf(inspected(text), version="test", digest="" if text == BARE else "0" * 12)
    return tuple(" ".join(each.extract_text().split()) for each in pypdf.PdfReader(io.BytesIO(data)).pages)


def facts(text: str) -> dict[str, str]:
    """Names and what they are of the section that says what the report is."""
    [section] = [each for each in reported(text).sections if each.title == "About this report"]
    [found] = [block for block in section.blocks if isinstance(block, Facts)]
    return dict(found.pairs)


def words(text: str) -> str:
    return " ".join(" ".join(page(text).itertext()).split())


ITEMS = {
    "a title": ("Title", "Inspection of Boxcar 315", "Inspection of Boxcar 315"),
    "b name of who inspected": ("Made by", "Ina Quill, reviewer", NOT_STATED),
    "c where": ("Where", "the back bench, Lower Sedge", NOT_STATED),
    "d one name for all parts": ("Report number", "LS-26-031", NOT_STATED),
    "e customer": ("For", "Harl Mott, Lower Sedge", NOT_STATED),
    "g the item": (
        "The item",
        "Boxcar 315 (HO, boxcar, id 0b5f0f3e-6a0b-4b55-9d0b-0d9a6a1d2c11); as received",
        "Boxcar 315 (HO); as received",
    ),
    "h when received": ("Received", "2026-03-01", NOT_STATED),
    "j when issued": ("Issued", "2026-03-09", NOT_STATED),
    "k sampling": (
        "Sampling",
        "none: this one car, as it stood on the bench",
        "none: this one car, as it stood on the bench",
    ),
    "o who answers for it": ("Read by", "Ina Quill, Bo Tarn", NOT_STATED),
    "p from others": (
        "From others",
        "2 prior values, from: the seller, who read it with a height gauge",
        "nothing measured elsewhere",
    ),
    "7.8.3.1 a conditions": (
        "Conditions",
        "room; temperature and humidity not stated",
        "room; temperature and humidity not stated",
    ),
    "7.8.3.1 d opinions": (
        "Opinions",
        "looks, causes, plans and the verdict are judgements; what each rests on stands beside it",
        "looks, causes, plans and the verdict are judgements; what each rests on stands beside it",
    ),
}


@pytest.mark.parametrize(("name", "full", "bare"), ITEMS.values(), ids=ITEMS.keys())
def test_an_item_is_said_where_the_sheet_gives_it_and_else_not_stated(name: str, full: str, bare: str) -> None:
    assert facts(FULL)[name] == full
    assert facts(BARE)[name] == bare
    for text, said in ((FULL, full), (BARE, bare)):
        [shown] = [
            "".join(value.itertext())
            for term, value in zip(page(text).iter("dt"), page(text).iter("dd"), strict=True)
            if "".join(term.itertext()) == name
        ]
        assert shown == said
        assert f"{name} {said}" in " ".join(page_texts(text))


def test_a_report_without_a_number_takes_its_sheets() -> None:
    """7.8.2.1 d: the sheet's digest names the report where nobody gave it a number."""
    report = report_of(inspected(BARE), version="test", digest="0a1b2c3d4e5f")
    assert report.mark == "CW-0A1B2C3D, Boxcar 315"
    assert any(
        ("Report number", "CW-0A1B2C3D") in block.pairs
        for section in report.sections
        for block in section.blocks
        if isinstance(block, Facts)
    )


@pytest.mark.parametrize(
    ("text", "number"), [(FULL, "LS-26-031"), (BARE, NOT_STATED)], ids=["with a number", "without one"]
)
def test_every_page_is_known_as_a_part_and_the_end_is_marked(text: str, number: str) -> None:
    """7.8.2.1 d."""
    texts = page_texts(text)
    assert len(texts) > 2
    for count, each in enumerate(texts, 1):
        known = "Boxcar 315" if number == NOT_STATED else f"{number}, Boxcar 315"
        assert each.endswith(f"{known} page {count} of {len(texts)}")
    assert ["End of the report." in each for each in texts] == [False] * (len(texts) - 1) + [True]
    [foot] = page(text).iter("footer")
    assert "".join(foot.itertext()).strip().endswith("End of the report.")
    assert words(text).count("End of the report.") == 1


def test_methods_are_named_for_all_that_was_read() -> None:
    """7.8.2.1 f."""
    [section] = [each for each in reported(FULL).sections if each.title == "How it was measured"]
    methods, instruments = (block for block in section.blocks if isinstance(block, Table))
    assert {row[0].text: row[2].text for row in methods.rows} == {
        "back-to-back": "shop calliper (2)",
        "weight of the complete car": "letter scale (1)",
        "flange thickness": "digits written (1)",
    }
    assert all(len(row[1].text) > 10 for row in methods.rows)
    assert {row[0].text: row[5].text for row in instruments.rows} == {
        "shop calliper": "declared",
        "letter scale": "judgement",
        "digits written": "assumed",
    }
    [bare] = [each for each in reported(BARE).sections if each.title == "How it was measured"]
    assert not any(isinstance(block, Table) for block in bare.blocks)


def test_the_condition_of_the_item_is_described() -> None:
    """7.8.2.1 g: where it needs to be, its condition."""
    assert "stirrup step at B: marked" in words(FULL)
    assert "The part is bent, half detached or glued with visible glue." in words(FULL)


def test_the_dates_of_measuring_are_said() -> None:
    """7.8.2.1 i."""
    only = FULL.replace('kind = "acquisition"\nwhen = "2026-03-01"', 'kind = "acquisition"')
    assert facts(only)["Measured"] == "2026-03-02 to 2026-03-04"
    assert facts(only)["Received"] == NOT_STATED
    assert facts(BARE)["Measured"] == NOT_STATED


def test_only_days_of_measuring_are_days_of_measuring() -> None:
    """7.8.2.1 i."""
    assert facts(FULL)["Measured"] == "2026-03-02 to 2026-03-04"


def test_days_are_ordered_however_they_are_written() -> None:
    """7.8.2.1 i: a sheet takes every day ISO 8601 knows."""
    text = FULL.replace('when = "2026-03-02"', 'when = "20260302"').replace("2026-03-01", "20260302")
    assert facts(text)["Measured"] == "2026-03-02 to 2026-03-04"


def test_who_only_ruled_is_not_said_to_have_read() -> None:
    """7.8.2.1 o."""
    ruling = '[[entry]]\nkind = "ruling"\nwho = "Ed Lorn"\ncategory = "build"\npoints = 1.0\nreason = "a gap"\n'
    assert facts(FULL + ruling)["Read by"] == "Ina Quill, Bo Tarn"


FRAMES = '[[prior]]\nwhat = "frame.bow"\nu = "0.1 mm"\nsource = "ten frames of this maker, read by a friend"\n'


def test_what_is_known_of_a_makers_parts_is_from_others_too() -> None:
    """7.8.2.1 p."""
    assert facts(BARE + FRAMES)["From others"] == "1 prior value, from: ten frames of this maker, read by a friend"


def test_one_is_counted_as_one() -> None:
    """7.8.2.1 p."""
    one = '[[prior]]\nwhat = "coupler.height"\nat = "A"\nvalue = "9.90 mm"\nu = "0.1 mm"\nsource = "the seller"\n'
    assert facts(BARE + one)["From others"].startswith("1 prior value,")


def test_what_others_measured_is_told_with_its_source() -> None:
    """7.8.2.1 p: results of others are identified as such."""
    assert "the seller, who read it with a height gauge" in words(FULL)


@pytest.mark.parametrize("text", [FULL, BARE], ids=["full", "bare"])
def test_results_are_said_to_be_of_this_item_only(text: str) -> None:
    """7.8.2.1 l; 7.8.2.1 d again: no part for the whole."""
    said = "These results are of this car alone, as it stood at the stage named."
    whole = "Copy the report whole, or say that it is a part."
    assert f"{said} {whole}" in words(text)
    assert f"{said} {whole}" in " ".join(page_texts(text))


def test_results_have_their_units_and_uncertainty() -> None:
    """7.8.2.1 m and 7.8.3.1 c: every value with its unit, its uncertainty in the same unit."""
    inspection = inspected(FULL)
    measured = [each for each in inspection.findings if each.value is not None and each.u is not None]
    assert {each.characteristic for each in measured} >= {"wheel.back_to_back", "weight.total"}
    for finding in measured:
        told = value_words(finding, inspection.history.system)
        assert re.fullmatch(r"[\d.]+ ± [\d.]+ (in|oz)", told), told
        assert told in words(FULL)
        assert told in " ".join(page_texts(FULL))
    assert "intervals hold the value with probability 0.95" in words(FULL)
    assert "Where the uncertainty comes from" in words(FULL)


def test_departures_are_said() -> None:
    """7.8.2.1 n: what was left out, and where a method was departed from."""
    for text in (FULL, BARE):
        missing = inspected(text).count("not measured")
        assert missing > 1
        assert facts(text)["Departures"].endswith(f"{missing} requirements not measured")
        assert f"{missing} not measured: " in words(text)
    assumed = "where no instrument is named, the digits written speak for its resolution"
    assert facts(FULL)["Departures"].startswith(assumed)
    assert assumed not in facts(BARE)["Departures"]


@pytest.mark.parametrize("text", [FULL, BARE], ids=["full", "bare"])
def test_the_decision_rule_is_said_with_its_limits(text: str) -> None:
    """7.8.6.2: the rule applied, and the requirements it was applied to."""
    conform, fail = inspected(text).rubric.thresholds.conform, inspected(text).rubric.thresholds.fail
    rule = (
        f"A value conforms where the probability that it lies within the limits is {conform:g} or more, "
        f"fails at {fail:g} or less, and is undecided between (JCGM 106:2012)."
    )
    assert rule in words(text)
    assert rule in facts(text)["Conformity"]
    assert facts(text)["Conformity"].startswith(f"to {inspected(text).rules.title};")


def test_conformity_is_stated_for_every_result_and_its_requirement() -> None:
    """7.8.3.1 b and 7.8.6.2 a and b: which results, which requirements, met or not."""
    [section] = [each for each in reported(FULL).sections if each.title == "Findings"]
    tables = {block.caption: block for block in section.blocks if isinstance(block, Table)}
    charges = inspected(FULL).rubric.charges
    judged = [each for each in inspected(FULL).findings if each.outcome != "not measured" and each.force in charges]
    assert {each.outcome for each in judged} >= {"fails", "conforms"}
    for finding in judged:
        table = tables[finding.outcome.capitalize()]
        titles = [column.title for column in table.columns]
        rows = [dict(zip(titles, row, strict=True)) for row in table.rows]
        [row] = [row for row in rows if row["What"].text == finding.subject]
        assert row["Rule"].text.startswith("/".join(finding.clause.split("/")[:2]))
        assert finding.grade or row["Limits"].text

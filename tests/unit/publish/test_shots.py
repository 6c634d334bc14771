"""The shot list: bench order, every entry told once, the facts of the findings, cards that exist."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import html5lib
import pytest

import carwright as cw
from carwright.judge import Finding
from carwright.publish.lettering import TextFitError, lettering_of
from carwright.publish.report.content import Cell, Items, Paragraph, Report, Table, all_texts
from carwright.publish.report.page import page_html
from carwright.publish.theme import load_theme
from carwright.publish.video.cards import cards_of
from carwright.publish.video.chapters import clock
from carwright.publish.video.shots import shot_list
from carwright.publish.wording import limit_words, probability_words, value_words

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
HOPPER = Path("examples/ho-covered-hopper.toml")
SHAPE = {"fails": "✕", "undecided": "◇", "conforms": "●"}


@lru_cache
def marked(path: Path) -> cw.Inspection:
    """An example in which every entry bears a note by which it can be told again: ``#7#``."""
    history = cw.read_sheet(path).history
    log = tuple(replace(each, note=f"#{each.entry}#") for each in history.log)
    return cw.inspect(replace(history, log=log))


@lru_cache
def shots(path: Path) -> Report:
    return shot_list(marked(path), version="1.2.3")


def rows_of(report: Report) -> list[tuple[Cell, ...]]:
    """Every shot in order."""
    found: list[tuple[Cell, ...]] = []
    for section in report.sections:
        for block in section.blocks:
            if isinstance(block, Table):
                assert [column.title for column in block.columns] == ["Shot", "Show", "Say", "Card", "At"]
                assert all(len(row) == 5 for row in block.rows)
                found += block.rows
    return found


def entries_of(row: tuple[Cell, ...]) -> list[int]:
    """Entries told in a shot, by their marks."""
    words = " ".join((row[2].text, *row[2].small))
    return [int(number) for number in dict.fromkeys(re.findall(r"#(\d+)#", words))]


def made(body: str, *, car: str = "") -> cw.Inspection:
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = "Boxcar"\nscale = "HO"\n{car}\n[car.geometry]\naxles = 4\n'
    return cw.inspect(cw.read_sheet_text(head + body))


def entry(text: str) -> str:
    return f"[[entry]]\n{text}\n"


def reading(what: str, at: str, *values: str, more: str = "") -> str:
    place = f'at = "{at}"\n' if at else ""
    text = f'kind = "reading"\nwhat = "{what}"\n{place}values = {json.dumps(list(values))}\nwith = "calliper"\n{more}'
    return entry(text)


# --- order -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_entry_is_told_in_one_shot(path: Path) -> None:
    told = Counter(number for row in rows_of(shots(path)) for number in entries_of(row))
    assert told == Counter(each.entry for each in marked(path).history.log)
    assert set(told.values()) == {1}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_shots_stand_in_the_order_of_the_history_under_their_stages(path: Path) -> None:
    history = marked(path).history
    place = {each.entry: index for index, each in enumerate(history.log)}
    rows = rows_of(shots(path))
    firsts = [place[entries_of(row)[0]] for row in rows]
    assert firsts == sorted(firsts)
    assert all(entries_of(row) == sorted(entries_of(row), key=place.__getitem__) for row in rows)
    assert [int(row[0].text.partition(".")[0]) for row in rows] == list(range(1, len(rows) + 1))
    stage = {each.entry: each.stage for each in history.log}
    for section, title in zip(shots(path).sections, history.stages, strict=False):
        [table] = [block for block in section.blocks if isinstance(block, Table)]
        assert section.title.lower() == title.title.lower()
        assert {stage[number] for row in table.rows for number in entries_of(row)} == {title.number}
    assert len(shots(path).sections) == len(history.stages) + 1


def test_a_correction_is_filmed_where_the_slip_was() -> None:
    one, two = "11111111-1111-1111-1111-111111111111", "22222222-2222-2222-2222-222222222222"
    body = entry(f'kind = "note"\nnote = "slip"\nid = "{one}"') + entry('kind = "note"\nnote = "between"')
    body += entry(f'kind = "note"\nnote = "right"\nid = "{two}"\nsupersedes = "{one}"')
    titles = [row[0].text for row in rows_of(shot_list(made(body), version="0"))]
    assert titles == ["1. Right", "2. Between"]


def test_only_what_is_read_alike_shares_a_shot() -> None:
    body = (
        reading("coupler.height", "A", "9.9 mm")
        + reading("wheel.back_to_back", "1", "14.5 mm")
        + reading("coupler.height", "B", "9.9 mm")
        + reading("wheel.back_to_back", "3", "14.5 mm")
        + reading("coupler.height", "A", "9.8 mm")
        + entry('kind = "gauge"\nwhat = "wheel.back_to_back"\nat = "2"\nresult = "pass"')
        + entry('kind = "look"\nwhat = "part"\nname = "step"\ngrade = "sound"') * 2
        + entry('kind = "work"\nremedy = "washer"\nat = "A"')
        + reading("wheel.back_to_back", "4", "14.5 mm")
    )
    titles = [row[0].text for row in rows_of(shot_list(made(body), version="0"))]
    assert titles == [
        "1. Coupler height (A)", "2. Back-to-back (1, 3)", "3. Coupler height (B)", "4. Back-to-back (2)", "5. Step",
        "6. Step", "7. Washer at A", "8. Back-to-back (4)",
    ]  # fmt: skip


def test_dimensions_of_two_names_are_two_shots() -> None:
    body = reading("dimension", "", "0.5 mm", more='name = "grab iron"\n')
    body += reading("dimension", "", "0.9 mm", more='name = "ladder"\n')
    titles = " ".join(row[0].text for row in rows_of(shot_list(made(body), version="0"))).lower()
    assert "grab iron" in titles
    assert "ladder" in titles


# --- facts -------------------------------------------------------------------------------------------------------


def fact(finding: Finding, inspection: cw.Inspection) -> str:
    """What must be said of a finding, put together from its own words."""
    system = inspection.history.system
    value, limits, p = value_words(finding, system), limit_words(finding, system), probability_words(finding.p_conform)
    said = finding.subject + (f": {value}" if value else "") + (f", limits {limits}" if limits else "")
    return f"{said}, {SHAPE[finding.outcome]} {finding.outcome}" + (f" (P {p})" if p else "")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_shot_says_the_facts_of_its_entries_and_no_others(path: Path) -> None:
    inspection = marked(path)
    pools = {
        early: {
            fact(each, inspection): set(each.entries)
            for each in (inspection.received if early else inspection.findings)
            if each.outcome != "not measured" and each.force in inspection.rubric.charges
        }
        for early in (True, False)
    }
    first_stage = {each.entry for each in inspection.history.log if each.stage == 0}
    told = pools[True] | pools[False]
    for row in rows_of(shots(path)):
        entries = set(entries_of(row))
        due = {words for words, behind in pools[entries <= first_stage].items() if behind & entries}
        said = row[2].text
        assert {words for words in told if words in said.split("; ")} == due
        assert not due or said.count(";") == len(due) - 1 + sum(words.count(";") for words in due)
    shown = {words for row in rows_of(shots(path)) for words in row[2].text.split("; ")}
    assert set(told) <= shown


def test_facts_of_the_demo_car_are_said() -> None:
    rows = {row[0].text.partition(". ")[2]: row for row in rows_of(shot_list(marked(HOPPER), version="0"))}
    title, show, say, card, at = rows["Wheel width (2L)"]
    assert title.text == "18. Wheel width (2L)"
    assert show.text == "Across the wheel from its back to its outer face"
    assert say.text == "wheel width wheel 2L: 0.1091 ± 0.0021 in, limits at least 0.108 in, ◇ undecided (P 0.836)"
    assert (card.text, at.text) == ("14-wheel-width-2l", "8:40")
    assert rows["Where it came from"][2].text == "Bought for 31.50 crowns from Harl Mott, swap table at Lower Sedge"
    assert rows["Regauge at 3"][2].text == "Regauge at 3"
    assert rows["Hatch rows"][2].text == "hatch rows: sound, ● conforms"
    assert rows["Trip pin above the railhead (A)"][2].text.startswith("Read; no clause of the chosen rules judges it")


def test_each_kind_of_entry_says_what_to_show() -> None:
    body = (
        entry('kind = "acquisition"\npaid = 3.5\ncurrency = "crowns"')
        + entry('kind = "photo"\nfile = "a.png"')
        + entry('kind = "look"\nwhat = "part"\nat = "B"\nname = "step"\ngrade = "sound"')
        + entry('kind = "evidence"\nsource = "a caption"')
        + entry(
            'kind = "profile"\nof = "sill"\ndatum = "rail"\nside = "left"\nstations = ["-20 mm", "0 mm", "20 mm"]\n'
            'heights = ["9 mm", "9 mm", "9 mm"]\nwith = "height gauge"'
        )
        + entry('kind = "note"\nnote = "Mind the step"')
        + entry('kind = "work"\nremedy = "washer"\nat = "A"')
    )
    rows = rows_of(shot_list(made(body), version="0"))
    assert [row[1].text for row in rows] == [
        "The box and its label", "The photograph a.png", "Step at B, close by", "A caption",
        "The sill along the car, from end to end", "The car on the bench",
        "The work in close-up, then the place afterwards",
    ]  # fmt: skip
    assert rows[0][2].text == "Bought for 3.50 crowns"
    assert rows[5][2] == Cell("Mind the step", ())


@pytest.mark.parametrize("kind", ['kind = "note"', 'kind = "photo"\nfile = "a.png"'])
def test_a_note_is_told_once_in_its_shot(kind: str) -> None:
    [row] = rows_of(shot_list(made(entry(f'{kind}\nnote = "the far end rises"')), version="0"))
    assert " ".join((row[2].text, *row[2].small)).lower().count("the far end rises") == 1


def test_a_ruling_says_its_reason() -> None:
    body = entry('kind = "ruling"\ncategory = "portrayal"\npoints = 1.5\nreason = "hatches of a later body"')
    [row] = rows_of(shot_list(made(body), version="0"))
    assert row[2].text == "Ruling, 1.5 points of portrayal: hatches of a later body"


def test_what_was_wrong_as_received_is_said_where_it_was_read() -> None:
    said = " ".join(row[2].text for row in rows_of(shots(HOPPER)))
    assert "0.4115 ± 0.0021 in" in said


# --- cards and times ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_shot_names_the_cards_of_its_entries(path: Path) -> None:
    cards = cards_of(marked(path), lettering_of(load_theme()))
    for row in rows_of(shots(path)):
        entries = set(entries_of(row))
        named = [name for name in row[3].text.split(", ") if name]
        assert named == [card.name for card in cards if entries & set(card.entries)]
    known = {card.name for card in cards}
    words = " ".join(all_texts(shots(path)))
    assert set(re.findall(r"\b\d{2}-[a-z0-9]+(?:-[a-z0-9]+)*", words)) - {"26-03"} <= known
    with_entries = {card.name for card in cards if card.entries}
    assert with_entries <= {name for row in rows_of(shots(path)) for name in row[3].text.split(", ")}
    assert shots(path).front.facts.endswith(f"; {len(rows_of(shots(path)))} shots and {len(cards)} cards")


def test_every_card_is_named_somewhere() -> None:
    cards = cards_of(marked(HOPPER), lettering_of(load_theme()))
    words = " ".join(all_texts(shots(HOPPER)))
    assert [card.name for card in cards if card.name not in words] == []


def test_a_shot_bears_the_time_of_its_first_entry() -> None:
    history = marked(HOPPER).history
    offset = {each.entry: each.offset for each in history.log}
    for row in rows_of(shots(HOPPER)):
        at = offset[entries_of(row)[0]]
        assert at is None or row[4].text == clock(at)
    assert sum(bool(row[4].text) for row in rows_of(shots(HOPPER))) == 21


def test_a_time_noted_within_a_shot_is_its_time() -> None:
    history = marked(HOPPER).history
    offset = {each.entry: each.offset for each in history.log}
    for row in rows_of(shots(HOPPER)):
        noted = [at for number in entries_of(row) if (at := offset[number]) is not None]
        assert row[4].text == (clock(min(noted)) if noted else "")


# --- front and end -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_list_ends_with_points_and_verdict(path: Path) -> None:
    verdict = marked(path).verdict
    ending = shots(path).sections[-1]
    assert ending.title == "Points and verdict"
    items = [item for block in ending.blocks if isinstance(block, Items) for item in block.items]
    assert len(items) == len(verdict.deductions)
    for item, lost in zip(items, verdict.deductions, strict=True):
        assert item.text.startswith(f"{lost.points:.1f} points, {lost.title}")
        assert item.text.endswith(f": {lost.chain[-1]}")
        assert ("(provisional)" in item.text) == lost.provisional
    [note] = [block for block in ending.blocks if isinstance(block, Paragraph)]
    names = note.text.removeprefix("Cards that go with no one shot: ").removesuffix(".").split(", ")
    assert names[0].endswith("-title")
    assert len([name for name in names if "-points-" in name]) == len(verdict.deductions)
    assert names[-1].endswith("-verdict")
    front = shots(path).front
    assert front.summary[1] == f"It ends {verdict.status}, with {verdict.points:g} of {verdict.out_of:g} points."
    assert shots(path).foot[0].startswith("carwright 1.2.3. ")


def test_the_list_bears_the_short_title_and_is_a_page() -> None:
    report = shots(HOPPER)
    assert report.front.title == "Covered hopper, Tansy River 40418"
    assert report.front.kicker == "Shot list"
    page = page_html(report)
    html5lib.HTMLParser(strict=True).parse(page)
    assert "Covered hopper, Tansy River 40418" in page


def test_hostile_notes_are_shown_as_written() -> None:
    body = entry('kind = "note"\nnote = "<script>alert(1)</script> & --> x"')
    page = page_html(shot_list(made(body), version="0"))
    html5lib.HTMLParser(strict=True).parse(page)
    assert "<script>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; --&gt; x" in page


def test_a_title_no_card_has_room_for_is_refused() -> None:
    bare = made("")
    with pytest.raises(TextFitError, match=r"^title card: "):
        shot_list(replace(bare, history=replace(bare.history, title="word " * 40)), version="0")


def test_a_history_without_entries_has_an_ending_alone() -> None:
    report = shot_list(made(""), version="0")
    assert [section.title for section in report.sections] == ["Points and verdict"]
    assert report.front.facts == "HO; 0 shots and 2 cards"

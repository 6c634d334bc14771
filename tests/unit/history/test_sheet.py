"""The bench sheet: strict, all faults at once, each with its line, its entry and what was expected."""

from __future__ import annotations

import random
import re
import textwrap
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import carwright as cw
from carwright.errors import SheetError
from carwright.history import ENTRY_KINDS
from carwright.history.sheet import LARGEST

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Test car"
scale = "HO"
[car.geometry]
body_length = "5.35 in"
axles_per_truck = 2
"""
EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))


def sheet(body: str = "", head: str = HEAD) -> cw.Sheet:
    return cw.read_sheet_text(head + textwrap.dedent(body), file="car.toml")


def faults(body: str = "", head: str = HEAD) -> list[str]:
    with pytest.raises(SheetError) as error:
        sheet(body, head)
    return str(error.value).splitlines()


def entry(**keys: str) -> str:
    return "[[entry]]\n" + "".join(f"{key} = {value}\n" for key, value in keys.items())


def reading(**keys: str) -> str:
    return entry(**{"kind": '"reading"', "what": '"coupler.height"', "at": '"A"', "values": '["0.4 in"]'} | keys)


def test_title_and_scale_are_enough() -> None:
    assert sheet(head='format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "N"\n').history.axles is None


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        (reading(valeus='["0.4 in"]'), "unknown key 'valeus'; did you mean 'values'?"),
        (reading(values='["0.4"]'), "cannot read '0.4' (no unit): expected a length with its unit"),
        (reading(values="[0.4]"), "a bare number 0.4: expected a length with its unit"),
        (reading(values='["0.4 oz"]'), "cannot read '0.4 oz' (unknown unit 'oz')"),
        (reading(values='["4 in"]'), "'4 in' is not believable for coupler height in HO"),
        (reading(values="[]"), "at least 1"),
        (reading(places='[["0.4 in"]]'), "needs either values or places"),
        (reading(what='"coupler.hight"'), "unknown characteristic 'coupler.hight'; did you mean 'coupler.height'?"),
        (reading(at='"C"'), "coupler.height needs an end, A or B, got 'C'"),
        (reading(state='"loose"'), "'loose' is not known: expected 'free', 'lifted' or 'pulled'"),
        (reading(what='"weight.total"', values='["100 g"]'), "weight.total needs no place"),
        (reading(what='"wheel.back_to_back"', at='"5"', values='["14.4 mm"]'), "axle 5 is beyond this car's 4"),
        (reading(what='"wheel.back_to_back"', at='"3L"', values='["14.4 mm"]'), "expected an axle number"),
        (reading(what='"coupler.action"'), "write it as an entry of kind gauge"),
        (entry(kind='"reading"', what='"dimension"', values='["1 in"]'), "goes with a dimension"),
        (reading(turn='"half"'), "cannot read 'half'"),
        (reading(**{"with": '"caliper"'}), "unknown instrument 'caliper'; did you mean 'calliper'?"),
        (reading(**{"with": '"kitchen scale"'}), "'kitchen scale' does not measure a length"),
        (reading(when='"yesterday"'), "'yesterday' is not a date or time"),
        (reading(when="5"), "expected a date or time"),
        (reading(id='"7"'), "'7' is not a UUID"),
        (reading(supersedes='"00000000-0000-0000-0000-000000000001"'), "is the id of no other entry here"),
        (entry(kind='"reeding"'), "unknown kind 'reeding'; did you mean 'reading'?"),
        (entry(what='"coupler.height"'), "needs kind: one of reading, gauge"),
        (entry(kind='"gauge"', what='"wheel.back_to_back"', at='"1"', result='"fail"'), "expected pass or low or high"),
        (entry(kind='"gauge"', what='"coupler.action"', at='"A"', result='"low"'), "expected pass or fail"),
        (entry(kind='"gauge"', what='"roll.free"', result='"pass"'), "roll.free needs the ramp's grade"),
        (entry(kind='"gauge"', what='"roll.free"', grade='"2"', result='"pass"'), "expected a slope"),
        (
            entry(kind='"gauge"', what='"wheel.back_to_back"', at='"1"', result='"pass"', **{"with": '"calliper"'}),
            "unknown gauge 'calliper'",
        ),
        (entry(kind='"look"', what='"pakcing"', grade='"sound"'), "unknown look 'pakcing'; did you mean 'packing'?"),
        (entry(kind='"look"', what='"part"', grade='"bad"'), "'bad' is not known: expected 'sound', 'slight'"),
        (entry(kind='"work"', remedy='"wascher"'), "unknown remedy 'wascher'; did you mean 'washer'?"),
        (entry(kind='"work"', remedy='"regauge"'), "regauge needs the place it was done at"),
        (entry(kind='"work"', remedy='"regauge"', at='"9"'), "axle 9 is beyond this car's 4"),
        (entry(kind='"work"', remedy='"washer"', at='"B"', amount='"some"'), "cannot read 'some'"),
        (entry(kind='"ruling"', reason='"x"'), "needs category and points, or waives"),
        (entry(kind='"ruling"', reason='"x"', category='"build"', points="-1"), "-1 is too little: expected 0 or"),
        (entry(kind='"photo"', file='"../../etc/passwd"'), "must lie beside the sheet"),
        (entry(kind='"photo"', file='"/etc/passwd"'), "must lie beside the sheet"),
        (entry(kind='"acquisition"', paid="5.0"), "a price needs its currency"),
        (entry(kind='"note"'), "needs note"),
        (
            entry(
                kind='"profile"', of='"deck"', datum='"rail"', side='"left"', stations='["0 in", "1 in"]',
                heights='["1 mm"]',
            ),
            "has 2 stations but 1 heights",
        ),
        (
            entry(
                kind='"profile"', of='"deck"', datum='"rail"', side='"left"', stations='["0 in", "1 in"]',
                gaps='["< 0.1 mm", "0.3..0.2 mm"]',
            ),
            "the smaller number first",
        ),
        ('[[instrument]]\nname = "a"\n', "needs resolution, or a preset"),
        ('[[instrument]]\nname = "a"\npreset = "calipper"\n', "unknown preset 'calipper'; did you mean 'calliper'?"),
        ('[[instrument]]\nname = "a"\nresolution = "1 g"\n' * 2, "stands twice"),
        ('[instrument]\nname = "a"\n', "write it as [[instrument]], with two brackets"),
        ("[[entires]]\n", "unknown table or key 'entires'; did you mean 'entry'?"),
        ('[[prior]]\nwhat = "wheel.back_to_back"\nvalue = "14 mm"\nu = "0 mm"\nsource = "x"\n', "u must be above zero"),
        (
            '[[pocket]]\nx = "0 mm"\nz = "1 mm"\nlength = "0 mm"\nwidth = "1 mm"\nheight = "1 mm"\n',
            "must be above zero",
        ),
    ],
)  # fmt: skip
def test_a_fault_is_named_with_what_was_expected(body: str, fault: str) -> None:
    [line] = faults(body)
    assert fault in line
    assert re.match(r"car\.toml:\d+: ", line), line


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('title = "Test car"\n', "", "car: needs title"),
        ('scale = "HO"', 'scale = "Ho"', "unknown scale 'Ho'; did you mean 'HO'?"),
        ('scale = "HO"', 'scale = "HO"\nrules = ["nrma"]', "unknown rule set 'nrma'; did you mean 'nmra'?"),
        ('"5.35 in"', '"5.35"', "cannot read '5.35' (no unit)"),
        ('"5.35 in"', "5.35", "a bare number 5.35: expected a length with its unit"),
        ('"5.35 in"', '"40\' 6\\""', "is impossible: expected above zero and at most 688.86 mm; a prototype length"),
        ('"5.35 in"', '"-1 in"', "is impossible: expected above zero"),
        ('"5.35 in"', '"5.35 in"\nbody_lenght = "5 in"', "unknown key 'body_lenght'; did you mean 'body_length'?"),
        ('"5.35 in"', '"5.35 in"\ntruck_centers = "4 in"\ntruck_wheelbase = "5 in"', "must be less than truck_centers"),
        (
            '"5.35 in"',
            '"5.35 in"\ncoupler_face = "1 in"\ntruck_centers = "3 in"',
            "must be less than twice coupler_face",
        ),
        ("axles_per_truck = 2", "axles_per_truck = 9", "less than or equal to 6"),
        ("axles_per_truck = 2", "axles_per_truck = 2.5", "expected a whole number, got 2.5"),
        ("[car]", "[cra]", "unknown table or key 'cra'; did you mean 'car'?"),
    ],
)
def test_a_fault_in_the_car_is_named(old: str, new: str, fault: str) -> None:
    assert old in HEAD
    assert any(fault in line for line in faults(head=HEAD.replace(old, new, 1)))


def test_a_fault_names_its_line() -> None:
    body = reading() + reading(at='"C"')
    assert faults(body) == [
        "car.toml:16: entry 2 (reading coupler.height at C), at: coupler.height needs an end, A or B, got 'C'"
    ]
    assert (HEAD + textwrap.dedent(body)).splitlines()[15] == 'at = "C"'


def test_all_faults_are_given_at_once_at_most_twenty_and_a_count() -> None:
    lines = faults("".join(reading(at='"C"') for _ in range(30)))
    assert len(lines) == 21
    assert lines[-1] == "car.toml: and 10 more"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('scale = "HO"', 'scale = "HOO!"'),
        ('scale = "HO"\n', ""),
        ('title = "Test car"', "title = 7"),
        ('"5.35 in"', "5.35"),
        ("axles_per_truck = 2", "axles_per_truck = 2\nbody_lenght = 3"),
        ("[car]", "[[car]]"),
    ],
)
def test_a_fault_in_the_car_hides_none_in_the_entries(old: str, new: str) -> None:
    lines = faults(reading(valeus='["1 in"]') + reading(what='"coupler.hight"'), HEAD.replace(old, new, 1))
    assert any("'valeus'" in line for line in lines)
    assert any("'coupler.hight'" in line for line in lines)
    assert len(lines) >= 3


def test_a_bad_row_never_hides_another() -> None:
    lines = faults(reading(valeus='["1 in"]') + reading(values='["1"]') + entry(kind='"nothing"'))
    assert len(lines) == 3


@pytest.mark.parametrize("number", [0, 2, 17])
def test_another_format_is_refused(number: int) -> None:
    [line] = faults(head=HEAD.replace("sheet/1", f"sheet/{number}"))
    assert "made by a later carwright; this one reads 'carwright-sheet/1'" in line
    [line] = faults(head=HEAD.replace('format = "carwright-sheet/1"', ""))
    assert "expected format = 'carwright-sheet/1', got None" in line


def test_files_that_are_no_sheet(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"

    def fault(raw: bytes) -> str:
        path.write_bytes(raw)
        with pytest.raises(SheetError) as error:
            cw.read_sheet(path)
        return str(error.value)

    assert "car.toml:2: not TOML: " in fault(b'format = "carwright-sheet/1"\n[car\n')
    assert "car.toml:2: not UTF-8 text" in fault(b"# one\ntitle = \xff\n")
    assert "not UTF-8 text" in fault(HEAD.encode("utf-16"))
    assert f"larger than {LARGEST} bytes" in fault(b"#" * (LARGEST + 1))
    assert "nested too deeply" in fault(b"a = " + b"[" * 20000)
    assert "not TOML" in fault(b"\x00\x01\x02")
    path.unlink()
    with pytest.raises(SheetError, match="cannot be read: No such file"):
        cw.read_sheet(path)
    with pytest.raises(SheetError, match="cannot be read: Is a directory"):
        cw.read_sheet(tmp_path)


@pytest.mark.parametrize(
    ("line", "hint"),
    [
        ('values = ["25/64""]', "an inch mark ends the quotes: write 'in', or put the text in single quotes"),
        ('body_length = "40' + '\' 6" HO"', "an inch mark ends the quotes"),
        ("name = \u201cstep\u201d", "curly quotes do not count: write straight ones"),
        ('name = "step', "a quote or a bracket is not closed"),
        ('name = "step\nat = 3', "a quote is missing"),
    ],
)
def test_the_usual_slips_of_quotes_are_named(line: str, hint: str) -> None:
    [fault] = faults(line)
    assert "not TOML" in fault
    assert hint in fault


def test_an_unknown_key_hides_no_other_slip_of_its_entry() -> None:
    lines = faults(reading(valeu='"x"', at='"C"', **{"with": '"caliper"'}))
    assert [part in "\n".join(lines) for part in ("'valeu'", "an end, A or B", "did you mean 'calliper'?")] == [
        True
    ] * 3


def test_names_are_helped_by_their_nearest_word() -> None:
    [line] = faults(reading(**{"with": '"digital caliper"'}))
    assert "did you mean 'calliper'?" in line
    [line] = faults(reading(what='"weight"'))
    assert "did you mean 'weight.total'?" in line
    [line] = faults(reading(at="1"))
    assert 'a bare number 1: expected it in quotes, "1"' in line
    [line] = faults(reading(values='"0.4 in"'))
    assert "expected a list in brackets" in line


def test_an_instrument_that_cannot_be_read_is_said_once() -> None:
    bad = '[[instrument]]\nname = "mine"\nkind = "gauge"\naccepts = ["1 mm"]\n'
    check = entry(kind='"gauge"', what='"wheel.back_to_back"', at='"1"', result='"pass"', **{"with": '"mine"'})
    [line] = faults(bad + check)
    assert "needs a lower and an upper limit" in line


def test_places_may_be_written_small() -> None:
    assert sheet(reading(at='"a"')).history.readings[0].at == "A"


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.encode())
    assert cw.read_sheet(path).car.title == "Test car"


ONE_OF_EACH = {
    "reading": reading(),
    "gauge": entry(kind='"gauge"', what='"wheel.back_to_back"', at='"all"', result='"pass"'),
    "profile": entry(
        kind='"profile"', of='"deck"', datum='"straightedge"', side='"centre"', stations='["-1 in", "1 in"]',
        gaps='["< 0.05 mm", "0.10..0.15 mm"]',
    ),
    "look": entry(kind='"look"', what='"part"', at='"B"', name='"step"', grade='"not seen"'),
    "work": entry(kind='"work"', remedy='"washer"', at='"B"', amount='"0.015 in"'),
    "photo": entry(kind='"photo"', file='"a/b.jpg"', shows='"step"', offset_s="3.5"),
    "evidence": entry(
        kind='"evidence"', source='"photo"', claim='"1950"', trust="0.5",
        seen='[{ feature = "roof walk", state = "absent" }]',
    ),
    "trouble": entry(kind='"trouble"', defect='"derails"', place='"yard"', facing='"A"', move='"pushed"'),
    "exposure": entry(kind='"exposure"', runs="40", place='"yard"'),
    "ruling": entry(kind='"ruling"', category='"build"', points="1.5", reason='"seen"'),
    "placement": entry(kind='"placement"', where='"yard"', **{"from": '"1950"'}),
    "acquisition": entry(kind='"acquisition"', paid="10.0", currency='"crowns"', return_by="2026-04-01"),
    "note": entry(kind='"note"', note='"hello"', when="2026-03-01T10:00:00", who='"me"'),
}  # fmt: skip


def test_every_kind_of_entry_is_accepted() -> None:
    assert set(ONE_OF_EACH) == set(ENTRY_KINDS)
    found = sheet("".join(ONE_OF_EACH.values()))
    assert [each.kind for each in found.entries] == list(ONE_OF_EACH)
    assert found.history.kept == {"exposure": 1, "placement": 1, "trouble": 1}
    assert [check.at for check in found.history.gauges] == ["1", "2", "3", "4"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_round_trips(path: Path) -> None:
    first = cw.read_sheet(path)
    again = cw.read_sheet_text(cw.write_sheet(first), folder=str(path.parent))
    assert again == first
    assert again.history == first.history


PRINTABLE = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=60)


@given(st.lists(st.sampled_from(sorted(ONE_OF_EACH)), max_size=12), PRINTABLE)
def test_any_sheet_round_trips(kinds: list[str], title: str) -> None:
    first = sheet("".join(ONE_OF_EACH[kind] for kind in kinds))
    first = cw.Sheet(
        car=first.car.model_copy(update={"title": title}),
        instruments=first.instruments, priors=first.priors, parts=first.parts, pockets=first.pockets,
        entries=first.entries, history=first.history,
    )  # fmt: skip
    assert cw.read_sheet_text(cw.write_sheet(first)) == first


@given(st.binary(max_size=400))
def test_hostile_bytes_are_refused_in_our_own_words(raw: bytes) -> None:
    text = raw.decode("latin-1")
    for body in (text, HEAD + text):
        try:
            cw.read_sheet_text(body)
        except SheetError as error:
            assert str(error)  # noqa: PT017 - both outcomes are allowed


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1))
def test_the_order_of_entries_within_a_stage_does_not_matter(seed: int) -> None:
    first = cw.read_sheet("examples/ho-covered-hopper.toml")
    keyed = list(first.entries)
    works = [index for index, each in enumerate(keyed) if each.kind == "work"]
    parts, start = [], 0
    for index in [*works, len(keyed)]:
        part = keyed[start:index]
        random.Random(seed).shuffle(part)
        parts += part + keyed[index : index + 1]
        start = index + 1
    shuffled = cw.Sheet(
        car=first.car, instruments=first.instruments, priors=first.priors, parts=first.parts, pockets=first.pockets,
        entries=tuple(parts), history=first.history,
    )  # fmt: skip
    second = cw.read_sheet_text(cw.write_sheet(shuffled), folder="examples")

    def plain(found: cw.Sheet) -> list[tuple[object, ...]]:
        inspection = cw.inspect(found)
        rows: list[tuple[object, ...]] = [
            (each.clause, each.title, each.at, each.outcome, each.p_conform, each.value, each.u)
            for each in inspection.findings
        ]
        verdict = inspection.verdict
        return [*sorted(rows, key=lambda row: str(row[:3])), (verdict.points, verdict.status, verdict.band)]

    assert plain(second) == plain(first)


def test_time_orders_entries_and_those_without_stand_with_the_one_before() -> None:
    body = (
        reading(when='"2026-03-05"')
        + reading(at='"B"')
        + entry(kind='"work"', remedy='"washer"', at='"A"', when="2026-03-04T10:00:00Z")
        + reading(when="2026-03-01", values='["0.41 in"]')
    )
    history = sheet(body).history
    assert [(each.entry, each.stage) for each in history.readings] == [(4, 0), (1, 1), (2, 1)]
    assert [stage.title for stage in history.stages] == ["as received", "after washer at A"]


def test_a_superseded_entry_is_gone() -> None:
    old, new = "11111111-1111-1111-1111-111111111111", "22222222-2222-2222-2222-222222222222"
    body = reading(id=f'"{old}"', values='["0.5 in"]') + reading(id=f'"{new}"', supersedes=f'"{old}"')
    assert [each.values[0].text for each in sheet(body).history.readings] == ["0.4 in"]
    [line] = faults(reading(id=f'"{old}"') + reading(id=f'"{new}"') + reading(id=f'"{new}"'))[:1]
    assert "stands on more than one entry" in line

"""Dated rules as data: every one traceable, in order, and what a person adds checked the same way."""

from __future__ import annotations

import zlib
from pathlib import Path

import pytest

from carwright.errors import TableError
from carwright.tables import shipped
from carwright.tables.dated import dated_of, with_own, with_rules
from carwright.tables.dated_model import DATED_CONFIDENCES, EVENTS, SCOPES, STRENGTHS, Dated

DATED = dated_of(shipped())
FROM_MEMORY = {
    "aei-tag/required-on-all/1994",
    "brake-valve.ABD/first-seen/1962",
    "brake-valve.ABDW/first-seen/1974",
    "brake.K/first-seen/1905",
    "hand-brake.geared/first-seen/1920",
    "shelf-coupler.double/required-on-all/1980",
}


def test_every_rule_is_traceable() -> None:
    known = shipped().bibliography
    for rule in DATED.rules:
        assert rule.sources, rule.id
        for source in rule.sources:
            row = known[source]
            assert row["title"], source
            assert row.get("url") or row.get("note") or row["kind"] != "regulation", f"{source} leads nowhere"
        assert rule.event in EVENTS
        assert rule.strength in STRENGTHS
        assert rule.confidence in DATED_CONFIDENCES
        assert rule.scope in SCOPES
        assert rule.feature in DATED.group_of, rule.id
    assert {source for interval in DATED.intervals for source in interval.sources} <= set(known)
    assert {source for age in DATED.ages for source in age.sources} <= set(known)


def test_rows_from_memory_are_these_and_say_so() -> None:
    found = {rule.id for rule in DATED.rules if rule.confidence == "memory"}
    assert found == FROM_MEMORY
    for rule in DATED.rules:
        assert ("from memory" in rule.marks()) == (rule.id in FROM_MEMORY)
        assert not (rule.id in FROM_MEMORY and rule.hard)
    unsupported = {rule.id for rule in DATED.rules if rule.sources == ("memory",)}
    assert unsupported == FROM_MEMORY - {"shelf-coupler.double/required-on-all/1980"}


def test_the_shipped_files_are_as_they_were_checked() -> None:
    words = "\n".join(
        f"{rule.id} {rule.feature} {rule.event} {rule.earliest} {rule.latest} {rule.scope} {rule.types}"
        f" {rule.not_types} {rule.when} {rule.unless} {rule.share} {rule.strength} {rule.confidence} {rule.preferred}"
        f" {rule.rivals} {rule.sources}"
        for rule in DATED.rules
    )
    features = "\n".join(str(group) for group in DATED.groups.values())
    rest = f"{DATED.intervals} {DATED.ages} {DATED.epochs} {DATED.weights}"
    assert len(DATED.rules) == 211
    assert len(DATED.features) == 122
    assert [zlib.crc32(text.encode()) for text in (words, features, rest)] == PINS


PINS = [3707827549, 2110776965, 2045282860]
"""Checksums of rules, features, and the rest: change a cell on purpose, and this with it."""


def test_rivals_name_rules() -> None:
    ids = {rule.id for rule in DATED.rules}
    assert len(ids) == len(DATED.rules)
    for rule in DATED.rules:
        assert set(rule.rivals) <= ids, rule.id


def test_every_work_has_its_words_and_minutes() -> None:
    for feature in DATED.features.values():
        group = DATED.groups[feature.group]
        assert group.where
        if not feature.fixed:
            assert feature.add, feature.id
            assert feature.add_min > 0, feature.id
            assert feature.remove, feature.id
            assert feature.remove_min > 0, feature.id


def added(*rows: dict[str, object]) -> Dated:
    return with_rules(DATED, list(rows), "mine.toml", set(shipped().bibliography), own=True)


GOOD: dict[str, object] = {
    "feature": "brake.K", "event": "gone in practice", "earliest": "1950-01-01", "latest": "1951-12-31",
    "source": "the owner's shop book",
}  # fmt: skip


def test_a_person_adds_rules_of_their_own() -> None:
    wider = added(
        GOOD, {**GOOD, "id": "shops", "date": "1951", "owners": ["Tansy River"]} | {"event": "share", "share": 0.4}
    )
    own = [rule for rule in wider.rules if rule.file]
    assert [rule.id for rule in own] == ["mine.toml/1", "shops"]
    assert own[0].strength == "practice"
    assert "mine.toml" in own[0].marks()
    assert own[1].earliest == "1951-01-01"
    assert own[1].latest == "1951-12-31"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"feature": "brake.KK"}, "nobody defined the feature 'brake.KK'; did you mean 'brake.K'"),
        ({"event": "bannd on all"}, "event 'bannd on all' must be one of .*did you mean 'banned on all'"),
        ({"earliest": "1953-02-30"}, "there is no such day"),
        ({"earliest": "1953"}, "expected a day such as 1953-07-01"),
        ({"earliest": "1955-01-01"}, "earliest 1955-01-01 lies after latest 1951-12-31"),
        ({"source": ""}, "needs a source"),
        ({"share": 0.2}, "a share from 0 to 1 goes with the event share"),
        ({"event": "share"}, "a share from 0 to 1 goes with the event share"),
        ({"event": "share", "share": 1.5}, "a share from 0 to 1 goes with the event share"),
        ({"scope": "everyone"}, "scope 'everyone' must be one of"),
        ({"when": ["roof hatches"]}, "when: nobody defined the feature 'roof hatches'; did you mean 'roof-hatches'"),
        ({"types": ["bx"]}, "types: 'bx' is no kind of car that dated rules know; did you mean 'box'"),
        ({"rivals": ["brake.K/banned"]}, "its rival 'brake.K/banned' is no rule"),
        ({"preferred": "false"}, "preferred must be true or false, got 'false'"),
        ({"colour": "red"}, "unknown key 'colour'"),
        ({"date": "before 1950"}, "must have a first and a last month"),
        ({"id": "brake.K/banned-on-all/1953"}, "stands twice"),
        ({"event": "banned on all", "earliest": "1890-01-01", "latest": "1890-01-01"},
         "brake.K is banned on all by 1890-01-01 .* before it was first seen, 1905-01-01 at the earliest"),
    ],
)  # fmt: skip
def test_a_rule_that_is_not_as_it_must_be_says_why(change: dict[str, object], says: str) -> None:
    with pytest.raises(TableError, match=says):
        added(GOOD | change)


def test_a_duty_after_its_ban_contradicts_itself() -> None:
    own = {
        **GOOD,
        "feature": "capacity-line",
        "event": "banned on all",
        "earliest": "1920-01-01",
        "latest": "1920-01-01",
    }
    with pytest.raises(
        TableError, match=r"capacity-line is banned on all by 1920-01-01 .* before it was required on all"
    ):
        added(own)


HEAD = "format = 'carwright-dated/1'\n"


def write(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text, "utf-8")
    return path


def test_a_file_of_ones_own_may_define_features(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        """
        format = "carwright-dated/1"
        [[group]]
        id = "paint"
        title = "paint"
        where = "sides"
        states = [{ id = "brown", title = "brown paint" }, { id = "green", title = "green paint" }]
        [[rule]]
        feature = "paint.green"
        event = "first seen"
        date = "1954"
        source = "the owner's drawing 1123"
        """,
    )
    wider = with_own(DATED, path, shipped())
    assert wider.features["paint.green"].title == "green paint"
    assert wider.rules[-1].feature == "paint.green"
    assert "paint.green" not in DATED.features


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("format = 'carwright-sheet/1'", "expected format = 'carwright-dated/1'"),
        ("format = ", "not TOML"),
        (HEAD + "[[group]]\nid = 'brake'\ntitle = 'x'\nstates = [{title = 'y'}]", "defined already"),
        (HEAD + "[[group]]\nid = 'paint'\ntitle = 'x'", "needs its own id, a title and states"),
        (HEAD + "[[group]]\nid = 'paint'\ntitle = 'x'\nstates = [{id = 'a'}]", "every state needs a title"),
        (HEAD + "rules = []", "unknown key 'rules'"),
    ],
)  # fmt: skip
def test_a_file_of_ones_own_that_is_not_as_it_must_be_says_why(tmp_path: Path, text: str, says: str) -> None:
    with pytest.raises(TableError, match=says):
        with_own(DATED, write(tmp_path, text), shipped())


def test_a_missing_file_says_so(tmp_path: Path) -> None:
    with pytest.raises(TableError, match="cannot be read: No such file"):
        with_own(DATED, tmp_path / "none.toml", shipped())
    path = tmp_path / "latin.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(TableError, match="not UTF-8"):
        with_own(DATED, path, shipped())

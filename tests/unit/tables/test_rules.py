"""Rule sets stack: a later one overrides, a club's file is read like ours."""

from __future__ import annotations

from pathlib import Path

import pytest

from carwright.errors import TableError, UnknownNameError
from carwright.inspection import words_of
from carwright.tables import Clause, RuleSet, load_rules, shipped

CLUB = """
format = "carwright-rules/1"
id = "club"
title = "A club"
[[source]]
key = "club"
title = "House rules"
body = "Club"
kind = "club rules"
[defaults]
source = "club"
edition = "1"
locator = "rule 4"
status = "common practice"
confidence = "text"
force = "adopted"
[[clause]]
characteristic = "coupler.height"
nominal = "0.400 in"
plus_minus = "0.005 in"
replaces = ["bench/practice/{scale}/coupler.height"]
"""


def rules(*names: str, scale: str = "HO", folder: Path | None = None) -> RuleSet:
    words = words_of(shipped())
    return load_rules(names, scale=words.scales[scale], tables=shipped(), words=words, folder=folder)


def clause(rule_set: RuleSet, clause_id: str) -> Clause:
    return next(each for each in rule_set.clauses if each.id == clause_id)


def ids(rule_set: RuleSet) -> set[str]:
    return {each.id for each in rule_set.clauses}


def test_bench_goes_on_top_of_the_sheets() -> None:
    alone = ids(rules("nmra"))
    both = ids(rules("nmra", "bench"))
    assert "nmra/s-2/HO/coupler.height" in alone
    assert "nmra/s-2/HO/coupler.height" not in both
    assert "bench/practice/HO/coupler.height" in both


def test_nominal_and_limits_have_separate_sources() -> None:
    height = clause(rules("nmra", "bench"), "bench/practice/HO/coupler.height")
    assert height.nominal is not None
    assert height.plus is not None
    assert height.nominal.source.key == "nmra-s-2"
    assert height.plus.source.key == "bench-practice"
    assert height.force == "adopted"


def test_bench_alone_still_finds_the_nominal() -> None:
    assert clause(rules("bench"), "bench/practice/HO/weight.total").nominal is not None


@pytest.mark.parametrize("scale", ["O", "S", "HO", "TT", "N", "Z", "On3", "Sn3", "HOn3", "On2", "Proto48"])
def test_a_scale_without_a_sheet_gets_the_law_scaled_and_said_so(scale: str) -> None:
    band = clause(rules("nmra", scale=scale), f"cfr/231.31-scaled/{scale}/coupler.height")
    assert (band.force, band.source.status) == ("regulation-derived", "derived")


def test_old_editions_stand_beside_the_new() -> None:
    found = rules("nem", scale="H0")
    assert "nem/310-2009/16.5/wheel.back_to_back" in ids(found)
    old = {each.id: each.superseded_by for each in found.older}
    assert old["nem/310-1977/16.5/wheel.back_to_back"] == "nem/310-2009"
    assert old["nem/311.1-1996/16.5/wheel.back_to_back"] == "nem/310-2009"
    large = rules("nem", scale="0")
    assert "nem/310-1977/32/wheel.back_to_back" in ids(large)


def test_an_american_scale_finds_its_european_counterpart() -> None:
    assert "nem/302-2015/H0/weight.total" in ids(rules("nem", scale="HO"))


def test_a_club_overrides(tmp_path: Path) -> None:
    (tmp_path / "club.toml").write_text(CLUB, "utf-8")
    found = rules("nmra", "bench", "club.toml", folder=tmp_path)
    assert "bench/practice/HO/coupler.height" not in ids(found)
    assert clause(found, "club/practice/HO/coupler.height").source.key == "club"


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("carwright-rules/1", "carwright-rules/2", "format must be 'carwright-rules/1'"),
        ('title = "A club"', "", "needs title"),
        ('plus_minus = "0.005 in"', 'plusminus = "0.005 in"', "unknown key 'plusminus'; did you mean 'plus_minus'"),
        ('plus_minus = "0.005 in"', 'plus_minus = "0.005"', r"clause 1 \(coupler.height\), plus_minus: cannot read"),
        ('"coupler.height"\nnominal', '"coupler.hight"\nnominal', "unknown characteristic 'coupler.hight'; did you"),
        ('locator = "rule 4"', "", "needs a locator"),
        ('force = "adopted"', 'force = "mine"', "force must be one of"),
        ('nominal = "0.400 in"', "", "needs a nominal, a lower or an upper limit"),
        ('nominal = "0.400 in"', 'upper = "0.400 in"', "a tolerance needs its nominal"),
        ('nominal = "0.400 in"', 'nominal = { from = "nmra/s-2/XX/coupler.height" }', "takes its figure from"),
        ('nominal = "0.400 in"', 'nominal = { expression = "a + 1", unit = "mm" }', "unknown name 'a'"),
        ("[[clause]]", '[[clause]]\nscales = ["HOO"]', "unknown scale 'HOO'"),
    ],
)
def test_a_club_file_with_a_fault_is_named(tmp_path: Path, old: str, new: str, why: str) -> None:
    assert old in CLUB
    (tmp_path / "club.toml").write_text(CLUB.replace(old, new, 1), "utf-8")
    with pytest.raises(TableError, match=why):
        rules("nmra", "bench", "club.toml", folder=tmp_path)


def test_an_unknown_rule_set_is_named_with_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match="there is no rule set 'nrma'; did you mean 'nmra'"):
        rules("nrma")
    with pytest.raises(TableError, match="cannot read the rule set"):
        rules("missing.toml")


def test_off_removes_a_clause(tmp_path: Path) -> None:
    text = CLUB.replace("[defaults]", "[defaults]").replace(
        'title = "A club"', 'title = "A club"\noff = ["*/wheel.width"]'
    )
    (tmp_path / "club.toml").write_text(text, "utf-8")
    assert not [each for each in ids(rules("nmra", "club.toml", folder=tmp_path)) if each.endswith("wheel.width")]

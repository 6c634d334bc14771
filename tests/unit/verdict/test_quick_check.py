"""Five minutes with a car: the shipped checks, their sums computed a second time, and every refusal."""

from __future__ import annotations

import math

import pytest

from carwright.errors import TableError, UnknownNameError
from carwright.inspection import words_of
from carwright.tables import shipped
from carwright.verdict.quick_check import FORMAT, MEANS, QuickCheck, deal_of, read_quick_check, usual_check

REMEDIES = words_of(shipped()).remedies
HEAD = f'format = "{FORMAT}"\nid = "q"\ntitle = "Quick"\n'
GOOD = '{ id = "a", words = "A", means = "good" }'


def check(answers: str = GOOD, more: str = "", name: str = "one") -> str:
    return f'[[check]]\nid = "{name}"\ntitle = "T"\nlook = "L"\n{more}\nanswers = [{answers}]\n'


def quick(*checks: str) -> QuickCheck:
    return read_quick_check(HEAD + "".join(checks), "own.toml")


def all_good() -> dict[str, str]:
    return {each.id: each.answers[0].id for each in usual_check().checks}


def test_the_shipped_checks() -> None:
    found = usual_check()
    assert (found.id, found.status) == ("quick", "common practice")
    assert [each.id for each in found.checks] == [
        "whole", "zinc", "body", "glued", "couplers", "wheels", "rolls", "weight", "paint", "wanted",
    ]  # fmt: skip
    assert [len(each.answers) for each in found.checks] == [4, 3, 4, 3, 5, 4, 4, 3, 4, 3]
    assert found.minutes == pytest.approx(4.6)
    assert found.minutes <= 5


def test_the_shipped_answers_can_be_told_apart_and_cured() -> None:
    for each in usual_check().checks:
        ids = [answer.id for answer in each.answers]
        assert len(set(ids)) == len(ids)
        assert each.answers[0].means == "good"
        for answer in each.answers:
            assert answer.means in MEANS
            if answer.remedy:
                assert answer.remedy in REMEDIES
                assert (answer.minutes, answer.cost) == (0, 0)
            elif answer.means in {"cheap", "dear"}:
                assert answer.minutes > 0
            if answer.means == "ends" or (answer.means in {"cheap", "dear"} and not answer.remedy):
                assert answer.why


def test_the_sums_computed_by_hand() -> None:
    """Washer 4 min, 0.10, 0.005; wheelset 5 min, 1.75, 0.005; missing part 20 min, 4; weight 30 min, 3, 0.01."""
    found = all_good() | {"couplers": "high-low", "wheels": "wobble", "whole": "small", "weight": "no-room"}
    deal = deal_of(usual_check(), found, REMEDIES, worth=40.0, asked=20.0, hour=12.0)
    minutes = sum(REMEDIES[name].effort for name in ("washer", "replace-wheelset", "add-load")) + 20
    cost = sum(REMEDIES[name].cost for name in ("washer", "replace-wheelset", "add-load")) + 4
    safe = math.prod(1 - REMEDIES[name].risk for name in ("washer", "replace-wheelset", "add-load"))
    assert minutes == pytest.approx(59)
    assert cost == pytest.approx(8.85)
    assert deal.minutes == pytest.approx(59)
    assert deal.cost == pytest.approx(8.85)
    assert deal.risk == pytest.approx(1 - safe) == pytest.approx(1 - 0.995 * 0.995 * 0.99)
    assert deal.offer == pytest.approx(40 - 8.85 - 59 / 60 * 12 - 40 * (1 - 0.995 * 0.995 * 0.99))
    assert [each.answer.id for each in deal.cures] == ["small", "high-low", "wobble", "no-room"]
    assert deal.advice == f"offer {deal.offer:.2f}: more is asked than it is worth as it is"


def test_an_offer_is_never_below_nothing() -> None:
    found = all_good() | {"paint": "poor"}
    assert deal_of(usual_check(), found, REMEDIES, worth=5.0, hour=100.0).offer == 0


def test_without_worth_there_is_no_offer() -> None:
    deal = deal_of(usual_check(), all_good(), REMEDIES, asked=3.0, hour=10.0)
    assert deal.offer is None
    assert (deal.minutes, deal.cost, deal.risk) == (0, 0, 0)


@pytest.mark.parametrize(
    ("found", "worth", "asked", "advice"),
    [
        ({"zinc": "bad"}, 40.0, 1.0, "leave it, or send it back: what ends the deal cannot be cured at the bench"),
        ({}, None, None, "take it at its price: nothing was found wrong"),
        ({"wheels": "gauge"}, None, None, "take it at its price: what is wrong is cheap to cure"),
        ({"body": "twist"}, None, None, "only well below the price of a sound one: its cures are dear"),
        ({"zinc": "unseen"}, None, None,
         "take it at its price: nothing was found wrong; look again where it could not be seen"),
        ({}, 40.0, 40.0, "take it: 40.00 is no more than it is worth as it is"),
        ({}, 40.0, 41.0, "offer 40.00: more is asked than it is worth as it is"),
        ({"wanted": "perhaps"}, 40.0, 5.0,
         "take it: 5.00 is no more than it is worth as it is; look again where it could not be seen"),
    ],
)  # fmt: skip
def test_advice(found: dict[str, str], worth: float | None, asked: float | None, advice: str) -> None:
    assert deal_of(usual_check(), all_good() | found, REMEDIES, worth=worth, asked=asked).advice == advice


@pytest.mark.parametrize(
    ("left", "words"), [(1, "1 of the things to look at is"), (2, "2 of the things to look at are")]
)
def test_what_nobody_looked_at_is_open(left: int, words: str) -> None:
    found = dict(list(all_good().items())[left:])
    deal = deal_of(usual_check(), found, REMEDIES, worth=10.0, asked=1.0)
    assert [each.id for each in deal.open] == ["whole", "zinc"][:left]
    assert deal.advice == f"not yet: {words} still open"


def test_what_ends_a_deal_leaves_nothing_to_offer_and_needs_no_more_looks() -> None:
    deal = deal_of(usual_check(), {"body": "broken"}, REMEDIES, worth=40.0)
    assert deal.offer == 0
    assert [answer.id for _, answer in deal.ends] == ["broken"]
    assert deal.advice.startswith("leave it")
    assert deal_of(usual_check(), {"body": "broken"}, REMEDIES).offer is None


def test_an_offer_says_what_could_not_be_seen() -> None:
    deal = deal_of(usual_check(), all_good() | {"zinc": "unseen"}, REMEDIES, worth=40.0, asked=50.0)
    assert "could not be seen" in deal.advice


def test_nobody_is_told_to_offer_what_is_asked() -> None:
    deal = deal_of(usual_check(), all_good() | {"couplers": "high-low"}, REMEDIES, worth=39.999, asked=39.70)
    assert deal.offer is not None
    assert f"{deal.offer:.2f}" == "39.70"
    assert not deal.advice.startswith("offer 39.70")


def test_an_unknown_answer_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="there is no answer 'x' to 'body'"):
        deal_of(usual_check(), {"body": "x"}, REMEDIES)


def test_an_answer_to_an_unknown_check_is_refused() -> None:
    with pytest.raises(UnknownNameError):
        deal_of(usual_check(), {"boddy": "broken"}, REMEDIES)


def test_a_remedy_no_catalogue_knows_is_never_free() -> None:
    own = quick(check('{ id = "a", words = "A", means = "dear", remedy = "wahser" }'))
    with pytest.raises(UnknownNameError):
        deal_of(own, {"one": "a"}, REMEDIES)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("format = ", "own.toml: not TOML: "),
        ("", "own.toml: format must be 'carwright-quick/1', got 'None'"),
        ('format = "carwright-quick/2"', "own.toml: format must be 'carwright-quick/1', got 'carwright-quick/2'"),
        (HEAD, "own.toml: needs at least one [[check]]"),
        (HEAD + "chekc = 1", "own.toml: unknown key 'chekc'; did you mean 'check'?"),
        (HEAD + "check = 1", "own.toml: check must be a list of tables, got '1'"),
        (HEAD + check() + check(), "own.toml: the id of a check stands twice"),
        (HEAD + check(""), "own.toml, check 1: needs answers"),
        (HEAD + check(name=""), "own.toml, check 1: needs id"),
        (HEAD + check() + '[[check]]\nid = "b"\ntitle = "T"\nanswers = [' + GOOD + "]",
         "own.toml, check 2: needs look"),
        (HEAD + check(more="minutes = -1"), "own.toml, check 1: minutes must be a number of zero or more, got '-1'"),
        (HEAD + check(more="minutes = nan"), "own.toml, check 1: minutes must be a number of zero or more, got 'nan'"),
        (HEAD + check('{ id = "a", words = "A" }'), "own.toml, check 1 (one), answer 1: needs means"),
        (HEAD + check(f'{GOOD}, {{ id = "b", words = "B", means = "bad" }}'),
         "own.toml, check 1 (one), answer 2: means must be one of ends, dear, unknown, cheap, good, got 'bad'"),
        (HEAD + check('{ id = "a", words = "A", means = "dear", cost = true }'),
         "own.toml, check 1 (one), answer 1: cost must be a number of zero or more, got 'True'"),
        (HEAD + check('{ id = "a", words = "A", means = "dear", risk = 1 }'),
         "own.toml, check 1 (one), answer 1: unknown key 'risk'"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_quick_check_is_refused(text: str, why: str) -> None:
    with pytest.raises(TableError) as caught:
        read_quick_check(text, "own.toml")
    assert str(caught.value).startswith(why)


def test_an_answer_that_stands_twice_is_refused() -> None:
    with pytest.raises(TableError):
        quick(check(f"{GOOD}, {GOOD}"))

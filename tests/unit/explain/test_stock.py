"""Stock: what can be piled from it, pairs of washers, and its refusals."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from carwright.errors import TableError
from carwright.explain.stock import FORMAT, Item, read_stock, read_stock_text, stacks, usual_stock, washers_for
from carwright.tables import shipped

HEAD = f'format = "{FORMAT}"\n'
RED = '[[piece]]\nname = "red washer"\nuse = "washer"\nthickness = "0.38 mm"\ncost = 0.12\ncount = 3\n'
SLUG = '[[piece]]\nname = "slug"\nmaterial = "steel"\nmass = "5 g"\nsize = ["10 mm", "8 mm", "6 mm"]\n'


def items(use: str) -> st.SearchStrategy[list[Item]]:
    one = st.builds(
        lambda number, tenths, cost, count: (tenths / 20, cost / 100, count, number),
        st.integers(0, 9),
        st.integers(1, 20),
        st.integers(0, 40),
        st.integers(0, 6),
    )
    return st.lists(one, max_size=4).map(
        lambda rows: [
            Item(f"piece {place}", use, thickness=thickness, cost=cost, count=count)
            for place, (thickness, cost, count, _) in enumerate(rows)
        ]
    )


def piled(stock: list[Item], most: float) -> dict[float, tuple[int, float]]:
    """Each thickness, with the fewest pieces and the least cost of those: one piece of each kind after another."""
    singles = [(item.thickness, item.cost) for item in stock for _ in range(min(item.count, 4))]
    best: dict[float, tuple[int, float]] = {}
    for mask in range(1, 1 << len(singles)):
        own = [single for place, single in enumerate(singles) if mask >> place & 1]
        total = round(sum(thickness for thickness, _ in own), 4)
        if total <= most:
            price = len(own), round(sum(cost for _, cost in own), 9)
            best[total] = min(price, best.get(total, price))
    return best


@given(items("washer").filter(lambda stock: sum(min(item.count, 4) for item in stock) <= 9), st.integers(1, 80))
def test_stacks_are_all_there_are(stock: list[Item], most: int) -> None:
    found = stacks([*stock, Item("strip", "shim", thickness=0.03, count=2)], "washer", most / 20)
    wanted = piled(stock, most / 20)
    assert [round(thickness, 4) for thickness, _, _ in found] == sorted(wanted)
    for thickness, cost, words in found:
        pieces, least = wanted[round(thickness, 4)]
        assert cost == pytest.approx(least)
        said = [part.partition(" x ") for part in words.split(" and ")]
        counts = [int(count) if mark else 1 for count, mark, _ in said]
        assert sum(counts) == pieces


def test_stacks_name_their_pieces_and_keep_to_their_use() -> None:
    stock = [Item("thin", "washer", thickness=0.2, count=2, cost=0.1), Item("thick", "washer", thickness=0.5),
             Item("strip", "shim", thickness=0.3)]  # fmt: skip
    assert [(round(t, 3), round(c, 3), w) for t, c, w in stacks(stock, "washer", 0.7)] == [
        (0.2, 0.1, "thin"),
        (0.4, 0.2, "2 x thin"),
        (0.5, 0.0, "thick"),
        (0.7, 0.1, "thin and thick"),
    ]
    assert stacks(stock, "shim", 0.29) == []


heights = st.integers(-100, 100).map(lambda hundredths: hundredths / 100)


@given(heights, heights, items("washer").filter(lambda stock: len(stock) <= 3), st.integers(0, 60))
def test_washers_leave_the_least_that_any_pair_leaves(
    high_a: float, high_b: float, stock: list[Item], over: int
) -> None:
    """Own end up t(e+a)/2a, far end down t(e−a)/2a: DESIGN §7."""
    a, e = 48.0, 48.0 + over / 2
    up, down = (e + a) / (2 * a), (e - a) / (2 * a)
    at_a, at_b, left_a, left_b = washers_for(high_a=high_a, high_b=high_b, up=up, down=down, stock=stock, most=1.0)
    assert left_a == pytest.approx(high_a + at_a * (e + a) / (2 * a) - at_b * (e - a) / (2 * a))
    assert left_b == pytest.approx(high_b + at_b * (e + a) / (2 * a) - at_a * (e - a) / (2 * a))
    counts = [range(min(item.count, 4) + 1) for item in stock]
    sums = {
        round(sum(n * item.thickness for n, item in zip(each, stock, strict=True)), 6)
        for each in itertools.product(*counts)
    }
    sums = {each for each in sums if each <= 1.0 + 1e-9}
    assert round(at_a, 6) in sums
    assert round(at_b, 6) in sums
    least = min(
        max(abs(high_a + up * one - down * two), abs(high_b + up * two - down * one))
        for one, two in itertools.product(sums, sums)
    )
    assert max(abs(left_a), abs(left_b)) == pytest.approx(least, abs=1e-6)


def test_washers_of_two_good_heights_are_none() -> None:
    stock = [Item("thin", "washer", thickness=0.25, count=2)]
    assert washers_for(high_a=0.0, high_b=0.0, up=1.3, down=0.3, stock=stock, most=1.0) == (0.0, 0.0, 0.0, 0.0)


def test_a_high_coupler_wants_the_far_end_lifted() -> None:
    stock = [Item("thin", "washer", thickness=0.25, count=2)]
    at_a, at_b, left_a, left_b = washers_for(high_a=0.2, high_b=-0.4, up=1.3, down=0.3, stock=stock, most=1.0)
    assert (at_a, at_b) == (0.0, 0.25)
    assert [left_a, left_b] == pytest.approx([0.125, -0.075])


@pytest.mark.parametrize(("up", "down"), [(1.2, -0.2), (0.0, 0.1), (-1.0, 0.1)])
def test_washers_refuse_levers_that_cannot_be(up: float, down: float) -> None:
    sentence = f"up must be > 0 and down >= 0, got {up} and {down}"
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        washers_for(high_a=0.0, high_b=0.0, up=up, down=down, stock=[], most=1.0)


def test_a_stock_file_is_read() -> None:
    red, slug = read_stock_text(HEAD + RED + SLUG, "stock.toml")
    assert red == Item("red washer", "washer", thickness=0.38, cost=0.12, count=3)
    assert slug == Item("slug", "ballast", "steel", mass=5.0, size=(10.0, 8.0, 6.0))


def test_a_wheel_is_known_by_its_diameter() -> None:
    text = '[[piece]]\nname = "36 in wheel"\nuse = "wheel"\ndiameter = "0.413 in"\n'
    assert read_stock_text(HEAD + text, "s.toml")[0].thickness == pytest.approx(0.413 * 25.4)


FAULTS = [
    (RED.replace("0.38 mm", "-0.015 in"), "piece 1 (red washer): thickness must be above zero, got '-0.015 in'"),
    (RED.replace("0.38 mm", "0 mm"), "piece 1 (red washer): thickness must be above zero, got '0 mm'"),
    (SLUG + RED.replace("0.38", "-0.38"), "piece 2 (red washer): thickness must be above zero, got '-0.38 mm'"),
    (RED.replace('"washer"', '"washr"'), "piece 1 (red washer): unknown use 'washr'; did you mean 'washer'?"),
    (RED.replace("count = 3", "count = 2.5"), "piece 1 (red washer): count must be a whole number, got 2.5"),
    (RED.replace("count = 3", "count = -1"), "piece 1: count must be a number of zero or more, got '-1'"),
    (RED.replace('thickness = "0.38 mm"\n', ""), "piece 1 (red washer): needs thickness"),
    (SLUG.replace('size = ["10 mm", "8 mm", "6 mm"]\n', ""), "piece 1 (slug): needs size, its three edges, got 0"),
    (SLUG.replace(', "6 mm"', ""), "piece 1 (slug): needs size, its three edges, got 2"),
    (SLUG.replace("6 mm", "-6 mm"), "piece 1 (slug): size must be above zero, got '-6 mm'"),
    (SLUG.replace("5 g", "0 g"), "piece 1 (slug): mass must be above zero, got '0 g'"),
    (SLUG.replace('mass = "5 g"\n', ""), "piece 1 (slug): needs mass"),
    (RED.replace('name = "red washer"\n', ""), "piece 1: needs name"),
    (RED.replace("count =", "cuont ="), "piece 1: unknown key 'cuont'; did you mean 'count'?"),
]


@pytest.mark.parametrize(("text", "said"), FAULTS)
def test_a_piece_is_refused_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(TableError, match=f"^{re.escape('stock.toml, ' + said)}$"):
        read_stock_text(HEAD + text, "stock.toml")


def test_a_thickness_without_a_unit_is_refused() -> None:
    with pytest.raises(TableError, match=r"^stock\.toml, piece 1 \(red washer\): thickness: .*'0\.38'"):
        read_stock_text(HEAD + RED.replace("0.38 mm", "0.38"), "stock.toml")


@pytest.mark.parametrize(("written", "said"), [("'carwright-sheet/1'", "'carwright-sheet/1'"), ("", "None")])
def test_another_format_is_refused(written: str, said: str) -> None:
    text = (f"format = {written}\n" if written else "") + RED
    with pytest.raises(TableError, match=f"^stock.toml: format must be '{FORMAT}', got {re.escape(said)}$"):
        read_stock_text(text, "stock.toml")


def test_an_empty_drawer_is_refused() -> None:
    with pytest.raises(TableError, match=r"^stock\.toml: needs at least one \[\[piece\]\]$"):
        read_stock_text(HEAD, "stock.toml")


def test_a_stock_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(TableError, match=r"none\.toml'?: cannot read the stock: "):
        read_stock(tmp_path / "none.toml")


def test_the_usual_drawer_holds_what_its_table_says() -> None:
    drawer = {item.name: item for item in usual_stock(shipped())}
    assert drawer["red washer"].thickness == pytest.approx(0.381)
    assert (drawer["red washer"].use, drawer["red washer"].count) == ("washer", 2)
    assert {item.use for item in drawer.values()} == {"washer", "shim", "shank-high", "shank-low"}

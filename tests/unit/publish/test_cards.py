"""Cards for video: every word stands in the safe area, on its plate and large enough, and says what was found."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

import carwright as cw
from carwright.judge import Finding
from carwright.publish.drawing.deformed import deformation_of
from carwright.publish.lettering import TextFitError, lettering_of
from carwright.publish.scene import Circle, Group, Rect, Scene, Shape, Text
from carwright.publish.scene import Path as Line
from carwright.publish.theme import load_theme
from carwright.publish.video.cards import bench_order, cards_of, cover_scene, fitted, short_title, slug
from carwright.publish.video.frame import Card
from carwright.publish.wording import limit_words, probability_words, value_words

EXAMPLES = sorted(path for path in Path("examples").glob("*.toml") if not path.name.startswith(("club-", "stock-")))
HOPPER = Path("examples/ho-covered-hopper.toml")
FLAT = Path("examples/ho-flat-car.toml")
LETTERS = lettering_of(load_theme())
SAFE = (96.0, 54.0, 1824.0, 1026.0)
"""Left, top, right and bottom of the safe title area of 1920 by 1080: 90 % of width and height. SMPTE ST 2046-1."""
ASCENT, DESCENT = 0.75, 0.25
"""How far letters reach above and below their base line, in their size [-]. Common practice."""
SHAPE = {"fails": "✕", "undecided": "◇", "conforms": "●", "not measured": "○"}

Box = tuple[float, float, float, float]

HOSTILE_TITLES = {
    "right to left": "\u0639\u0631\u0628\u0629 \u0628\u0636\u0627\u0626\u0639 40418",
    "right to left and left to right": "\u05e7\u05e8\u05d5\u05df Boxcar \u05e1\u05d2\u05d5\u05e8 40418",
    "emoji": "Boxcar \U0001f683\U0001f682 \U0001f469\U0001f3fd\u200d\U0001f527 40418",
    "markup": "<script>alert('1')</script> &amp; \"x\" ]]>",
    "arrow": "A --> B <c>00:01.000</c>",
    "new lines": "Boxcar\nsecond line\tand a tab",
    "signs no font has": "\ue000 Boxcar \u13a0\u13a1",
    "marks upon marks": "Zw\u00f6lf a\u0310\u0301\u0302 o\u0332\u0333",
    "turned about": "Boxcar \u202e81404\u202c end",
    "wide letters": "WWWWWWWW WWWWWWWW WWWWWWW",
    "one letter": "x",
    "a path": "../../etc/passwd",
}


@lru_cache
def example(path: Path) -> cw.Inspection:
    return cw.inspect(cw.read_sheet(path))


@lru_cache
def cards(path: Path) -> tuple[Card, ...]:
    return tuple(cards_of(example(path), LETTERS))


def quoted(text: str) -> str:
    """A text as a basic string of TOML."""
    return json.dumps(text, ensure_ascii=False)


GEOMETRY = """
body_length = "135 mm"
truck_centers = "96 mm"
coupler_face = "76 mm"
coupler_pivot = "68 mm"
axles_per_truck = 2
"""


def made(title: str = "Boxcar", body: str = "", *, car: str = "", report: str = "") -> cw.Inspection:
    """A car by its sheet: lines under its head, under its report, and entries."""
    head = f'format = "carwright-sheet/1"\n[car]\ntitle = {quoted(title)}\nscale = "HO"\n{car}'
    return cw.inspect(cw.read_sheet_text(f"{head}\n[car.geometry]{GEOMETRY}[report]\n{report}\n{body}"))


def entry(text: str) -> str:
    return f"[[entry]]\n{text}\n"


def look(name: str, grade: str = "marked", what: str = "part") -> str:
    return entry(f'kind = "look"\nwhat = "{what}"\nname = {quoted(name)}\ngrade = "{grade}"')


def reading(what: str, at: str, *values: str, with_: str = "calliper") -> str:
    return entry(
        f'kind = "reading"\nwhat = "{what}"\nat = "{at}"\nvalues = {json.dumps(list(values))}\nwith = "{with_}"'
    )


def hostile() -> cw.Inspection:
    """A car on whose sheet everything a person may write is written at length or oddly, and a work."""
    odd = " ".join(HOSTILE_TITLES.values())
    body = (
        reading("coupler.height", "A", "10.9 mm", with_="height gauge")
        + reading("coupler.height", "B", "9.95 mm", with_="height gauge")
        + reading("wheel.back_to_back", "1", "14.2 mm")
        + entry('kind = "gauge"\nwhat = "wheel.back_to_back"\nat = "2"\nresult = "low"')
        + entry('kind = "gauge"\nwhat = "coupler.action"\nat = "A"\nresult = "fail"')
        + "".join(look(name) for name in HOSTILE_TITLES.values())
        + entry(f'kind = "ruling"\ncategory = "build"\npoints = 3\nreason = {quoted((odd * 9)[:2000])}')
        + entry('kind = "work"\nremedy = "washer"\nat = "A"\namount = "-0.5 mm"')
        + reading("coupler.height", "A", "9.95 mm", with_="height gauge")
    )
    car = f"type = {quoted(odd[:2000])}\n[car.prototype]\nowner = {quoted(odd)}\nnumber = {quoted(odd)}\n"
    report = f"by = {quoted(odd[:2000])}\nshort = {quoted(HOSTILE_TITLES['markup'])}\n"
    return made(odd, body, car=car, report=report)


# --- where things stand --------------------------------------------------------------------------------------------


def texts(scene: Scene) -> list[Text]:
    return [each for each in scene.placed() if isinstance(each, Text)]


def words(scene: Scene) -> list[str]:
    return [each.text for each in texts(scene)]


def box_of(text: Text, ascent: float = ASCENT, descent: float = DESCENT) -> Box:
    wide = LETTERS.width(text.text, text.size, bold=text.bold)
    left = text.x - {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    return left, text.y - ascent * text.size, left + wide, text.y + descent * text.size


def within(inner: Box, outer: Box) -> bool:
    slack = 0.001
    return (
        inner[0] >= outer[0] - slack
        and inner[1] >= outer[1] - slack
        and inner[2] <= outer[2] + slack
        and inner[3] <= outer[3] + slack
    )


def plates(scene: Scene) -> list[Box]:
    """The grounds words may stand on, from the paths they are drawn by."""
    found = []
    for item in scene.items:
        if isinstance(item, Line) and item.what == "plate":
            match = re.fullmatch(r"M(\S+) (\S+)H(\S+)V(\S+)H(\S+)Z", item.d)
            assert match is not None, item.d
            left, top, right, bottom, again = (float(each) for each in match.groups())
            assert again == left
            assert item.fill == "paper"
            found.append((left, top, right, bottom))
    return found


def astray(scene: Scene) -> list[str]:
    """What a viewer could not read: words out of the safe area, off their plate, too small, or upon one another."""
    grounds, written = plates(scene), texts(scene)
    found = [f"plate {each}" for each in grounds if not within(each, SAFE)]
    found += [f"{text.text!r} leaves the safe area" for text in written if not within(box_of(text), SAFE)]
    found += [f"{text.text!r} is {text.size} high" for text in written if text.size < 32.0]
    boxes = [(repr(text.text), box_of(text)) for text in written] + drawn(scene)
    found += [f"{what} stands on no plate" for what, box in boxes if not any(within(box, each) for each in grounds)]
    return found + [
        f"{one.text!r} stands upon {other.text!r}"
        for one, other in combinations(written, 2)
        if overlap(box_of(one, 0.7, 0.2), box_of(other, 0.7, 0.2))
    ]


def drawn(scene: Scene) -> list[tuple[str, Box]]:
    """Rectangles and circles, and the boxes they fill."""
    found: list[tuple[str, Box]] = []
    for shape in scene.placed():
        if isinstance(shape, Rect):
            found.append((shape.what, (shape.x, shape.y, shape.x + shape.width, shape.y + shape.height)))
        elif isinstance(shape, Circle):
            found.append((shape.what, (shape.x - shape.r, shape.y - shape.r, shape.x + shape.r, shape.y + shape.r)))
    return found


def overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def all_astray(found: Iterable[Card]) -> list[str]:
    return [f"{card.name}: {fault}" for card in found for fault in astray(card.scene)]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_word_of_an_example_stands_in_the_safe_area_on_its_plate(path: Path) -> None:
    assert all_astray(cards(path)) == []
    for card in cards(path):
        assert (card.scene.x, card.scene.y, card.scene.width, card.scene.height) == (0, 0, 1920, 1080)
        assert len(plates(card.scene)) == 1
        assert words(card.scene)


def test_every_word_of_a_hostile_sheet_stands_in_the_safe_area_on_its_plate() -> None:
    found = cards_of(hostile(), LETTERS)
    assert all_astray(found) == []
    assert {kind_of(card) for card in found} == {"title", "measurement", "after", "points", "verdict", "bent"}
    assert any("▯" in text for card in found for text in words(card.scene))


def test_words_astray_are_found() -> None:
    ground = Line("M96 54H1824V1026H96Z", "none", 0.0, "paper", what="plate")

    def found(*shapes: Shape, plate: Line = ground) -> int:
        return len(astray(Scene(0, 0, 1920, 1080, (plate, *shapes), "", "card")))

    assert found(Text(96, 100, "Mi", 40.0), Text(1824, 1016, "Mi", 40.0, "end")) == 0
    assert found(Text(95, 100, "Mi", 40.0)) == 2
    assert found(Text(1800, 100, "Mi", 40.0)) == 2
    assert found(Text(96, 1017, "Mi", 40.0)) == 2
    assert found(Text(96, 83, "Mi", 40.0)) == 2
    assert found(Text(200, 200, "Mi", 31.9)) == 1
    assert found(Group((Text(200, 200, "Mi", 40.0),), scale=0.75)) == 1
    assert found(Text(200, 200, "Mi", 40.0), Text(220, 210, "Mi", 40.0)) == 1
    assert found(Rect(1800, 100, 30, 10)) == 1
    assert found(Circle(100, 100, 5)) == 1
    low = Line("M96 54H1824V1030H96Z", "none", 0.0, "paper", what="plate")
    assert found(Text(96, 100, "Mi", 40.0), plate=low) == 1
    assert found(Text(96, 100, "Mi", 40.0), plate=replace(ground, d="M500 54H1824V1026H500Z")) == 1


@pytest.mark.parametrize("title", HOSTILE_TITLES.values(), ids=HOSTILE_TITLES)
def test_an_odd_title_is_drawn_whole(title: str) -> None:
    inspection = made(title)
    found = cards_of(inspection, LETTERS)
    assert all_astray(found) == []
    shown = " ".join(LETTERS.shown(title).split())
    for card in (found[0], found[-1]):
        assert " ".join(words(card.scene)).startswith(f"{shown} "), card.name
    assert " ".join(words(cover_scene(inspection, LETTERS))[:-1]) == shown


_TEXT = st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=120)


@given(_TEXT)
def test_whatever_the_title_it_fits_or_is_refused(title: str) -> None:
    bare = made()
    inspection = replace(bare, history=replace(bare.history, title=title))
    try:
        found = cards_of(inspection, LETTERS)
    except TextFitError as error:
        refused = error
    else:
        assert all_astray(found) == []
        return
    assert (refused.place, refused.text) == ("title card", title)


@given(_TEXT, _TEXT)
@hypothesis_settings(max_examples=60)
def test_whatever_is_looked_at_its_name_fits_or_is_refused(name: str, by: str) -> None:
    inspection = made(body=look(name), report=f"by = {quoted(by)}")
    try:
        found = cards_of(inspection, LETTERS)
    except TextFitError as error:
        refused = error
    else:
        assert all_astray(found) == []
        return
    assert refused.place.startswith("card of ")
    assert refused.text == name.strip()


# --- titles that do not fit ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("title", ["x" * 200, "word " * 40], ids=["one word", "forty words"])
def test_a_title_of_two_hundred_letters_is_refused_and_a_short_one_takes_its_place(title: str) -> None:
    assert len(title) == 200
    refusal = r"^title card: '.{57}\.\.\.' does not fit 2 lines of 1232 at size 44; write it shorter$"
    with pytest.raises(TextFitError, match=refusal) as fault:
        cards_of(made(title), LETTERS)
    assert fault.value.place == "title card"
    with pytest.raises(TextFitError, match=r"^cover: '.{57}\.\.\.' does not fit 2 lines of 1728 at size 56; "):
        cover_scene(made(title), LETTERS)
    rescued = made(title, report='short = "Boxcar, in short"')
    found = cards_of(rescued, LETTERS)
    assert words(found[0].scene)[0] == words(found[-1].scene)[0] == "Boxcar, in short"
    assert words(cover_scene(rescued, LETTERS))[0] == "Boxcar, in short"
    assert not any("word word" in text or "xxx" in text for card in found for text in words(card.scene))


def test_a_short_title_goes_before_the_cars() -> None:
    assert short_title(made("long")) == "long"
    assert short_title(made("long", report='short = "short"')) == "short"


def test_a_thing_whose_name_does_not_fit_is_named() -> None:
    with pytest.raises(TextFitError, match=r"^card of step step .*does not fit 1 line of \d+ at size 34; write it"):
        cards_of(made(body=look("step " * 24)), LETTERS)


def test_the_error_of_a_long_name_is_a_sentence() -> None:
    with pytest.raises(TextFitError) as fault:
        cards_of(made(body=look("step " * 400)), LETTERS)
    assert len(str(fault.value)) < 300


# --- names of files ------------------------------------------------------------------------------------------------


def kind_of(card: Card) -> str:
    """What a card tells, by its name."""
    name = card.name.partition("-")[2]
    known = next((each for each in ("after", "bent", "points") if name.startswith(f"{each}-")), name)
    return known if known in {"title", "after", "bent", "points", "verdict"} else "measurement"


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_names_are_each_ones_own_in_order_and_safe(path: Path) -> None:
    names = [card.name for card in cards(path)]
    assert len(set(names)) == len(names)
    assert names == sorted(names)
    assert [int(name.partition("-")[0]) for name in names] == list(range(1, len(names) + 1))
    assert all(re.fullmatch(r"\d{2}(-[a-z0-9]+)+", name) for name in names)
    assert max(map(len, names)) <= 51
    order = [kind_of(card) for card in cards(path)]
    kinds = list(dict.fromkeys(order))
    wanted = ["title", "measurement", "after", "bent", "points", "verdict"]
    assert kinds == [each for each in wanted if each in kinds]
    assert order.count("title") == order.count("verdict") == 1


def test_names_of_a_hostile_sheet_are_safe() -> None:
    names = [card.name for card in cards_of(hostile(), LETTERS)]
    assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"\d{2}(-[a-z0-9]+)+", name) and len(name) <= 51 for name in names)


def test_names_stay_in_order_beyond_a_hundred_cards() -> None:
    names = [card.name for card in cards_of(made(body="".join(look(f"step {n}") for n in range(60))), LETTERS)]
    assert len(names) > 100
    assert names == sorted(names)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("coupler.height A", "coupler-height-a"), ("  A -- b_C  ", "a-b-c"), ("../../etc/passwd", "etc-passwd"),
        ("Stra\u00dfe", "strasse"), ("\u00dcber", "ber"), ("\u65e5\u672c", "card"), ("", "card"), ("-->", "card"),
        ("a" * 60, "a" * 48), ("a" * 47 + " b", "a" * 47),
    ],
)  # fmt: skip
def test_a_name_for_a_file_is_small_letters_digits_and_hyphens(text: str, name: str) -> None:
    assert slug(text) == name


# --- measurements ----------------------------------------------------------------------------------------------------


def told(inspection: cw.Inspection) -> list[Finding]:
    """Findings that get a card: read, may cost points, and not about the year."""
    return [
        each
        for each in inspection.findings
        if each.outcome != "not measured" and each.force in inspection.rubric.charges and each.rule_set != "dated"
    ]


def of_kind(found: Iterable[Card], kind: str) -> list[Card]:
    return [card for card in found if kind_of(card) == kind]


def small_print(scene: Scene) -> str:
    """The soft words of a card as one text."""
    return " ".join(each.text for each in texts(scene) if each.ink == "soft")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_charged_finding_has_one_card_with_its_value_and_outcome(path: Path) -> None:
    inspection = example(path)
    system = inspection.history.system
    left = of_kind(cards(path), "measurement")
    for finding in told(inspection):
        own = [card for card in left if (card.about, card.entries) == (finding.subject, finding.entries)]
        assert len(own) == 1, finding.subject
        [card] = own
        left.remove(card)
        shown = words(card.scene)
        assert shown[0] == finding.subject
        assert shown[1] == f"{SHAPE[finding.outcome]} {finding.outcome}"
        assert shown[2] == value_words(finding, system)
        said = small_print(card.scene)
        if finding.p_conform is not None:
            assert f"P conforms {probability_words(finding.p_conform)}" in said
        if limit_words(finding, system) and not (finding.reason and finding.value is None):
            assert f"limits {limit_words(finding, system)}" in said
        assert said.endswith(f"{'/'.join(finding.clause.split('/')[:2])} ({finding.force})")
        assert finding.subject in card.scene.words
        assert card.scene.words.endswith(f"; {finding.outcome}")
        assert card.name.endswith(f"-{slug(f'{finding.characteristic} {finding.at}')}")
    assert left == []


def test_cards_say_what_was_found_on_the_demo_car() -> None:
    found = {card.about: words(card.scene) for card in cards(HOPPER)}
    assert found["coupler height at A"] == [
        "coupler height at A", "● conforms", "0.3942 ± 0.0021 in",
        "limits 0.381 to 0.401 in; P conforms > 0.999; bench/practice (adopted)",
    ]  # fmt: skip
    assert found["wheel width wheel 2L"][:3] == ["wheel width wheel 2L", "◇ undecided", "0.1091 ± 0.0021 in"]
    assert found["stirrup step at B"][:3] == ["stirrup step at B", "✕ fails", "marked"]
    assert "The part is bent, half detached" in found["stirrup step at B"][3]
    assert "back-to-back axle 4" not in found
    assert "inspection stencil of one panel" not in found


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_bar_puts_the_estimate_inside_what_is_allowed_or_outside(path: Path) -> None:
    inspection = example(path)
    found = {(card.about, card.entries): card for card in of_kind(cards(path), "measurement")}
    for finding in told(inspection):
        shapes = list(found[finding.subject, finding.entries].scene.placed())
        allowed = [each for each in shapes if isinstance(each, Rect) and each.what == "allowed"]
        bounded = finding.lower is not None or finding.upper is not None
        assert len(allowed) == (finding.value is not None and finding.half_width is not None and bounded)
        if not allowed or finding.outcome == "undecided":
            continue
        [band] = allowed
        [estimate] = [each for each in shapes if getattr(each, "what", "") == "estimate"]
        assert isinstance(estimate, Rect | Circle)
        x = estimate.x + estimate.width / 2 if isinstance(estimate, Rect) else estimate.x
        assert isinstance(estimate, Rect) == (finding.outcome == "fails")
        assert (band.x <= x <= band.x + band.width) == (finding.outcome == "conforms")


@pytest.mark.parametrize("length", range(20, 65, 4))
def test_a_name_leaves_room_for_the_outcome(length: int) -> None:
    name = ("step and grab iron " * 4)[:length].strip()
    [card] = of_kind(cards_of(made(body=look(name)), LETTERS), "measurement")
    assert astray(card.scene) == []
    assert words(card.scene)[0] == name


def test_a_long_value_is_cut_before_its_bar() -> None:
    inspection = example(HOPPER)
    long = replace(
        finding("height", "A", 1),
        kind="length",
        value=1234567890.0,
        u=1e-5,
        half_width=2e-5,
        upper=1e9,
        force="adopted",
    )
    [card] = of_kind(cards_of(replace(inspection, findings=(long,)), LETTERS), "measurement")
    value = texts(card.scene)[2]
    assert value.text.startswith("48605035.039370 ±")
    assert value.text.endswith("…")
    [band] = [each for each in card.scene.placed() if isinstance(each, Rect) and each.what == "allowed"]
    assert box_of(value)[2] <= band.x
    assert astray(card.scene) == []


def test_what_only_informs_or_was_not_measured_has_no_card() -> None:
    inspection = example(HOPPER)
    without = [each for each in inspection.findings if each not in told(inspection)]
    assert {each.outcome for each in without} > {"not measured"}
    about = [card.about for card in of_kind(cards(HOPPER), "measurement")]
    assert len(about) == len(told(inspection))
    dated = {each.subject for each in without if each.rule_set == "dated"}
    unread = {each.subject for each in without if each.outcome == "not measured"}
    assert dated
    assert not set(about) & (dated | unread)
    rubric = replace(inspection.rubric, charges=("standard",))
    fewer = of_kind(cards_of(replace(inspection, rubric=rubric), LETTERS), "measurement")
    assert {card.about for card in fewer} == {each.subject for each in told(inspection) if each.force == "standard"}
    assert 0 < len(fewer) < len(told(inspection))


def finding(title: str, at: str, *entries: int) -> Finding:
    height = "coupler.height"
    return Finding("a/b/HO/c", title, height, at, 0, "fails", "standard", "s", "x", "measured", entries=entries)


def test_bench_order_is_by_the_first_entry_then_by_name() -> None:
    late, early, both = finding("late", "A", 9), finding("early", "A", 2, 12), finding("both", "A", 30, 1)
    nameless, b, a = finding("none", "A"), finding("twin", "B", 5), finding("twin", "A", 5)
    assert bench_order([nameless, late, b, a, early, both]) == [both, early, a, b, late, nameless]
    for path in EXAMPLES:
        firsts = [min(card.entries) for card in of_kind(cards(path), "measurement")]
        assert firsts == sorted(firsts)
        assert firsts


# --- before and after ----------------------------------------------------------------------------------------------


def test_what_works_changed_is_shown_before_and_after() -> None:
    found = of_kind(cards(HOPPER), "after")
    assert [card.name.partition("-")[2] for card in found] == [
        "after-wheel-back-to-back-3", "after-coupler-height-a", "after-coupler-height-b",
    ]  # fmt: skip
    assert words(found[1].scene) == [
        "coupler height at A", "as received", "✕ 0.4115 ± 0.0021 in", "now", "● 0.3942 ± 0.0021 in",
        "came right; moved −0.0173 ± 0.0029 in",
    ]  # fmt: skip
    assert [card.entries for card in found] == [(32, 33), (35,), (36,)]
    bars = [each for each in found[1].scene.placed() if isinstance(each, Rect) and each.what == "allowed"]
    assert len(bars) == 2


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_only_a_car_that_was_worked_on_is_shown_before_and_after(path: Path) -> None:
    inspection = example(path)
    first = {(each.clause, each.at, each.title): each for each in inspection.received}
    shown = {card.about.removesuffix(", before and after") for card in of_kind(cards(path), "after")}
    changed = set()
    for each in inspection.last:
        was = first.get((each.clause, each.at, each.title))
        if was is None or each.rule_set == "dated" or each.force not in inspection.rubric.charges:
            continue
        if was.outcome != each.outcome:
            changed.add(each.subject)
    assert changed <= shown
    assert bool(shown) == bool(of_kind(cards(path), "bent")) == bool(inspection.history.works)
    assert len(shown) < len(told(inspection))


def test_before_and_after_stand_on_one_scale() -> None:
    [card] = [each for each in cards(HOPPER) if each.name.endswith("after-coupler-height-a")]
    one, other = [each for each in card.scene.placed() if isinstance(each, Rect) and each.what == "allowed"]
    assert (one.x, one.width) == pytest.approx((other.x, other.width))


@pytest.mark.parametrize("path", [HOPPER, FLAT], ids=lambda path: path.stem)
def test_the_bent_car_is_drawn_without_words_of_its_own(path: Path) -> None:
    inspection = example(path)
    offered = inspection.plans.offered
    found = deformation_of(inspection, offered[0])
    assert found is not None
    states = {"bent-now": "as it stands", "bent-then": "as plan 1 would leave it"}
    shown = of_kind(cards(path), "bent")
    assert shown
    for card in shown:
        state, larger = states[card.name.partition("-")[2]], f"deviations drawn {found.bent_factor:g} times larger"
        assert words(card.scene) == [state, "B end", "A end", larger]
        assert len([each for each in card.scene.placed() if isinstance(each, Circle) and each.what == "wheel"]) == 4
        assert larger in card.scene.words


def test_a_plan_that_moves_a_coupler_is_seen_in_the_bent_car() -> None:
    body = reading("coupler.height", "A", "10.9 mm", "10.9 mm", with_="height gauge")
    body += entry('kind = "work"\nremedy = "washer"\nat = "A"\namount = "-0.5 mm"')
    body += reading("coupler.height", "A", "9.95 mm", "9.95 mm", with_="height gauge")
    body += reading("coupler.height", "B", "10.7 mm", "10.7 mm", with_="height gauge")
    now, then = of_kind(cards_of(made(body=body, car='coupler = "knuckle"\n'), LETTERS), "bent")
    assert now.scene.items[2] != then.scene.items[2]


@pytest.mark.parametrize("path", [HOPPER, FLAT], ids=lambda path: path.stem)
def test_no_two_bent_cars_are_drawn_alike(path: Path) -> None:
    drawings = [card.scene.items[2] for card in of_kind(cards(path), "bent")]
    assert len(set(drawings)) == len(drawings)


def test_without_a_coupler_height_no_car_is_drawn_bent() -> None:
    body = reading("wheel.back_to_back", "1", "14.2 mm") + entry('kind = "work"\nremedy = "regauge"\nat = "1"')
    found = cards_of(made(body=body + reading("wheel.back_to_back", "1", "14.48 mm", "14.48 mm")), LETTERS)
    assert [kind_of(card) for card in found if kind_of(card) in {"after", "bent"}] == ["after"]


@given(
    st.floats(-500, 500), st.floats(-500, 500), st.floats(1, 3000), st.floats(1, 3000),
    st.floats(-50, 50), st.floats(-50, 50), st.floats(10, 2000), st.floats(10, 2000),
)  # fmt: skip
def test_a_scene_is_fitted_as_large_as_it_goes_in_the_middle(
    x: float, y: float, width: float, height: float, left: float, top: float, wide: float, high: float
) -> None:
    corners = (Circle(x, y, 0.0), Circle(x + width, y + height, 0.0))
    group = fitted(Scene(x, y, width, height, corners, "", "kind"), left, top, left + wide, top + high)
    one, other = Scene(0, 0, 1, 1, (group,), "", "").placed()
    assert isinstance(one, Circle)
    assert isinstance(other, Circle)
    gaps = (one.x - left, left + wide - other.x, one.y - top, top + high - other.y)
    assert min(gaps) == pytest.approx(0.0, abs=1e-6)
    assert gaps[0] == pytest.approx(gaps[1], abs=1e-6)
    assert gaps[2] == pytest.approx(gaps[3], abs=1e-6)
    assert (other.x - one.x) * height == pytest.approx((other.y - one.y) * width)
    assert group.what == "kind"


# --- points and verdict --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_points_go_down_by_each_deduction_to_the_verdicts(path: Path) -> None:
    verdict = example(path).verdict
    found = of_kind(cards(path), "points")
    assert len(found) == len(verdict.deductions)
    standing = verdict.out_of
    for number, (card, lost) in enumerate(zip(found, verdict.deductions, strict=True), 1):
        standing -= lost.points
        shown = words(card.scene)
        assert float(shown[0]) == pytest.approx(standing, abs=0.05)
        assert shown[1] == f"of {verdict.out_of:g} so far"
        assert shown[2] == f"−{lost.points:.1f}" + (" ?" if lost.provisional else "")
        assert " ".join(shown[3:]).startswith(lost.title.replace(lost.cause, lost.cause.replace(".", " "), 1)[:40])
        assert ("provisional" in " ".join(shown[3:])) == lost.provisional
        bars = {each.what: each for each in card.scene.placed() if isinstance(each, Rect)}
        assert bars["kept"].width / bars["whole"].width == pytest.approx(standing / verdict.out_of)
        assert bars["lost"].x == pytest.approx(bars["kept"].x + bars["kept"].width)
        assert bars["lost"].width == pytest.approx(
            max(2.0, bars["whole"].width * lost.points / verdict.out_of), abs=1e-6
        )
        assert card.name.partition("-")[2].startswith(f"points-{number}-")
        assert card.scene.words.startswith(f"{standing:.1f} of {verdict.out_of:g} points so far; ")
    assert standing == pytest.approx(verdict.points, abs=0.05)
    numbers = [float(words(card.scene)[0]) for card in found]
    assert all(later < earlier for earlier, later in pairwise([verdict.out_of, *numbers]))
    if numbers:
        assert numbers[-1] == verdict.points


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_last_card_is_the_verdict(path: Path) -> None:
    inspection = example(path)
    verdict = inspection.verdict
    shown = words(cards(path)[-1].scene)
    assert verdict.status in shown
    assert f"{verdict.points:g} of {verdict.out_of:g} points as received: {verdict.band}" in shown
    reasons = "; ".join(verdict.status_reasons)
    assert small_print(cards(path)[-1].scene)[:60] == reasons[:60]
    assert cards(path)[-1].about == "the verdict"


def test_a_car_nobody_examined_has_no_points_yet() -> None:
    found = cards_of(made(), LETTERS)
    assert [kind_of(card) for card in found] == ["title", "verdict"]
    assert words(found[-1].scene)[1:3] == ["held for work", "no points yet"]


def test_more_reasons_than_have_room_are_cut_with_an_ellipsis() -> None:
    shown = texts(cards(Path("examples/o-tank-car.toml"))[-1].scene)
    soft = [each.text for each in shown if each.ink == "soft"]
    assert len(soft) == 3
    assert soft[-1].endswith("…")


def test_the_title_card_tells_scale_kind_owner_number_and_inspector() -> None:
    shown = words(cards(HOPPER)[0].scene)
    assert " ".join(shown[:-2]) == "Covered hopper, Tansy River 40418"
    assert shown[-2:] == ["HO, 1:87.1, covered hopper, owner Tansy River, number 40418", "inspected by E. Quill"]
    assert words(cards_of(made("Boxcar"), LETTERS)[0].scene) == ["Boxcar", "HO, 1:87.1"]


def test_no_name_with_a_dot_stands_on_a_card() -> None:
    shown = [text for path in (HOPPER, FLAT) for card in cards(path) for text in words(card.scene)]
    assert [text for text in shown if re.search(r"\b(body|frame|coupler|wheel)\.[a-z]", text)] == []


# --- the cover -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_cover_holds_the_car_its_title_and_status(path: Path) -> None:
    inspection = example(path)
    scene = cover_scene(inspection, LETTERS)
    ground = scene.items[0]
    assert isinstance(ground, Rect)
    assert (ground.x, ground.y, ground.width, ground.height, ground.fill) == (0, 0, 1920, 1080, "paper")
    for text in texts(scene):
        assert within(box_of(text), SAFE), text
        assert text.size >= 56.0
    assert " ".join(words(scene)[:-1]) == short_title(inspection)
    assert words(scene)[-1].endswith(f": {inspection.verdict.status}")
    wheels = [each for each in scene.placed() if isinstance(each, Circle) and each.what == "wheel"]
    assert len(wheels) == inspection.history.axles
    for wheel in wheels:
        assert within((wheel.x - wheel.r, wheel.y - wheel.r, wheel.x + wheel.r, wheel.y + wheel.r), SAFE)
    tops = [box_of(text)[1] for text in texts(scene)]
    assert max(wheel.y + wheel.r for wheel in wheels) < min(tops)
    drawn = {getattr(each, "what", "") for each in scene.walk()}
    assert not drawn & {"extension", "dimension", "arrow", "figure", "end"}


def test_a_hostile_cover_stays_in_the_safe_area() -> None:
    for title in HOSTILE_TITLES.values():
        scene = cover_scene(made(title, car=f"type = {quoted(' '.join(HOSTILE_TITLES.values()))}\n"), LETTERS)
        assert all(within(box_of(text), SAFE) for text in texts(scene))

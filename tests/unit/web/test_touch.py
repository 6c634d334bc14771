"""The touchable drawing: its spots lie side by side, none over another, each as wide as a thumb on a small phone."""

from __future__ import annotations

import itertools

import pytest

import carwright as cw
from carwright.history import History
from carwright.publish.scene import Group, Rect, Scene, Text
from carwright.shop.demo import example_sheets
from carwright.web.places import spots_of
from carwright.web.touch import PHONE, touchable

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "Odd car"\nscale = "HO"\n[car.geometry]\n'
ODD = {
    "two axles, wide apart": 'axles = 2\nwheelbase = "95 mm"\nbody_length = "100 mm"',
    "three axles": 'axles = 3\nbody_length = "120 mm"',
    "five axles": 'axles = 5\nbody_length = "250 mm"',
    "six axles": 'axles_per_truck = 3\nbody_length = "250 mm"\ntruck_centers = "180 mm"',
    "eight axles": 'axles_per_truck = 4\nbody_length = "250 mm"\ntruck_centers = "150 mm"\ntruck_wheelbase = "60 mm"',
    "very short": 'body_length = "30 mm"\ntruck_centers = "18 mm"\ntruck_wheelbase = "8 mm"',
    "very long": 'body_length = "600 mm"\ntruck_centers = "500 mm"',
    "buffers": 'axles = 2\nwheelbase = "50 mm"\nlength_over_buffers = "120 mm"',
    "trucks that nearly meet": 'body_length = "150 mm"\ntruck_centers = "75 mm"\ntruck_wheelbase = "70 mm"',
    "unlike faces": 'body_length = "150 mm"\ncoupler_face_A = "95 mm"\ncoupler_face_B = "80 mm"',
    "nothing said": "",
}
SHORT = {
    "two axles near mid-car": 'axles = 2\nwheelbase = "20 mm"\nbody_length = "100 mm"',
    "trucks near mid-car": 'body_length = "300 mm"\ntruck_centers = "60 mm"\ntruck_wheelbase = "20 mm"',
}
CARS = [
    *(pytest.param(path.read_text("utf-8"), id=path.stem) for path in example_sheets()),
    *(pytest.param(HEAD + text, id=name) for name, text in ODD.items()),
]
NEAR = [pytest.param(HEAD + text, id=name) for name, text in SHORT.items()]
EVERY = [*CARS, *NEAR]


def history_of(text: str) -> History:
    return cw.read_sheet_text(text, folder="examples").history


def drawn(text: str, chosen: str = "body") -> Scene:
    return touchable(history_of(text), (), (), chosen=chosen, address=lambda spot: f"?spot={spot.id}")


def links(scene: Scene) -> list[Group]:
    return [each for each in scene.items if isinstance(each, Group) and each.href]


def hits(scene: Scene) -> list[Rect]:
    return [each for group in links(scene) for each in group.items if isinstance(each, Rect) and each.what == "hit"]


def texts(scene: Scene) -> list[str]:
    return [
        each.text for group in links(scene) for each in group.items if isinstance(each, Text) and each.what == "name"
    ]


@pytest.mark.parametrize("text", [*CARS, *NEAR])
def test_each_spot_is_as_wide_as_a_thumb(text: str) -> None:
    scene = drawn(text)
    px = scene.width / PHONE
    assert PHONE == 328
    assert len(hits(scene)) == 5
    for each in hits(scene):
        assert each.width / px >= 50 - 1e-6


@pytest.mark.parametrize("text", EVERY)
def test_spots_lie_side_by_side_over_the_whole_drawing(text: str) -> None:
    scene = drawn(text)
    found = hits(scene)
    assert found[0].x == pytest.approx(scene.x)
    assert found[-1].x + found[-1].width == pytest.approx(scene.x + scene.width)
    for one, two in itertools.pairwise(found):
        assert one.x + one.width == pytest.approx(two.x)
        assert one.width > 0
    for each in found:
        assert each.y == pytest.approx(scene.y)
        assert each.height == pytest.approx(scene.height)


@pytest.mark.parametrize("text", EVERY)
def test_each_spot_leads_to_its_own_place_in_order(text: str) -> None:
    scene = drawn(text)
    assert [each.href for each in links(scene)] == [f"?spot={spot.id}" for spot in spots_of(history_of(text))]
    assert len(set(texts(scene))) == 5


@pytest.mark.parametrize("chosen", ["coupler-A", "truck-B", "body"])
def test_only_the_chosen_spot_is_framed_and_says_so(chosen: str) -> None:
    scene = drawn(HEAD, chosen)
    framed = [
        group.href
        for group in links(scene)
        if any(isinstance(each, Rect) and each.what == "chosen" for each in group.items)
    ]
    assert framed == [f"?spot={chosen}"]


def test_a_car_on_two_axles_names_them() -> None:
    assert texts(drawn(f"{HEAD}axles = 2\n")) == ["B", "axle 2", "body", "axle 1", "A"]
    assert texts(drawn(HEAD)) == ["B", "truck B", "body", "truck A", "A"]

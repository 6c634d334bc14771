"""Cautions from materials: each row on its own material, none on a word that only looks like it."""

from __future__ import annotations

import pytest

import carwright as cw
from carwright.explain.hazards import Hazard, hazards_of, removed_first, stops
from carwright.history import History
from carwright.tables import shipped

HEAD = 'format = "carwright-sheet/1"\n[car]\ntitle = "x"\nscale = "HO"\n'
ROWS = shipped().table("words/hazards").rows
CAUTIONS = shipped().table("words/cautions").rows


def car(*parts: tuple[str, str], more: str = "") -> History:
    rows = "".join(f'[[part]]\nname = "{name}"\nmaterial = "{material}"\n{more}' for name, material in parts)
    return cw.read_sheet_text(HEAD + rows).history


def found(*parts: tuple[str, str]) -> dict[str, Hazard]:
    return {hazard.id: hazard for hazard in hazards_of(car(*parts), shipped())}


TRIGGERS = [
    ("lead", {"lead in the car"}),
    ("Lead sheet", {"lead in the car"}),
    ("strip of LEAD, painted", {"lead in the car"}),
    ("lead, glued in with PVA", {"lead in the car", "lead near acid or damp"}),
    ("lead in white glue", {"lead in the car", "lead near acid or damp"}),
    ("steel strip", {"iron over magnets"}),
    ("cast iron", {"iron over magnets"}),
    ("zinc, die-cast", {"brittle zinc"}),
    ("die cast", {"brittle zinc"}),
    ("pot metal", {"brittle zinc"}),
    ("growing zinc", {"brittle zinc", "growing zinc"}),
    ("cracked zinc", {"brittle zinc", "growing zinc"}),
    ("swollen zinc", {"brittle zinc", "growing zinc"}),
    ("zinc pest", {"brittle zinc", "growing zinc"}),
    ("ABS", {"heat on mouldings"}),
    ("styrene", {"heat on mouldings"}),
    ("moulded plastic", {"heat on mouldings"}),
    ("molded plastic", {"heat on mouldings"}),
    ("injection moulding", {"heat on mouldings"}),
    ("cast resin", {"resin dust"}),
    ("acetal", {"solvent near couplers"}),
    ("nylon", {"solvent near couplers"}),
    ("engineering plastic", {"solvent near couplers"}),
    ("lithium polymer cell", {"lithium cell"}),
    # Words that only look like one of them, and materials nobody warns of.
    ("leadership", set()),
    ("leaded glass", set()),
    ("ironwood", set()),
    ("stainless", set()),
    ("zincky paint", set()),
    ("absolute nonsense", set()),
    ("resinous pine", set()),
    ("brass", set()),
    ("tungsten", set()),
    ("wood", set()),
    ("", set()),
]


@pytest.mark.parametrize(("material", "hazards"), [each for each in TRIGGERS if each[0]])
def test_a_material_brings_its_own_hazards_and_no_other(material: str, hazards: set[str]) -> None:
    assert set(found(("part", material))) == hazards


def test_every_row_is_triggered_here() -> None:
    assert set().union(*(hazards for _, hazards in TRIGGERS)) == set(ROWS)


def test_a_part_without_material_brings_nothing() -> None:
    history = cw.read_sheet_text(HEAD + '[[part]]\nname = "lead weight"\n').history
    assert hazards_of(history, shipped()) == ()


SAMPLES = {
    "lead in the car": "lead",
    "lead near acid or damp": "lead, damp",
    "iron over magnets": "iron",
    "brittle zinc": "zinc",
    "growing zinc": "growing zinc",
    "heat on mouldings": "styrene",
    "resin dust": "resin",
    "solvent near couplers": "acetal",
    "lithium cell": "lithium",
}
"""A material that each row is about."""


@pytest.mark.parametrize("name", ROWS)
def test_a_hazard_carries_the_words_of_its_row(name: str) -> None:
    row = ROWS[name].words
    hazard = found(("its part", SAMPLES[name]))[name]
    assert hazard.caution == row["caution"]
    assert hazard.text == CAUTIONS[row["caution"]].words["text"]
    assert hazard.parts == ("its part",)
    assert hazard.stops == (name == "growing zinc")
    for remedy in shipped().table("words/remedies").rows:
        assert hazard.matters_to(remedy) == (row["remedies"] == "*" or remedy in row["remedies"].split())


def test_remedies_named_by_hazards_exist() -> None:
    known = set(shipped().table("words/remedies").rows)
    named = {remedy for row in ROWS.values() for remedy in row.words["remedies"].split()}
    assert named - known == {"*"}


@pytest.mark.parametrize(
    ("other", "warned"),
    [
        (("floor", "wood"), True),
        (("box", "card"), True),
        (("cork bed", "rubber"), True),
        (("seal", "silicone"), True),
        (("floor", "brass"), False),
        (("floor", "woodless board"), False),
        (("cardinal's crest", "paper"), False),
    ],
)
def test_lead_beside_wood_card_or_damp_swells(other: tuple[str, str], *, warned: bool) -> None:
    hazards = found(("weight", "lead"), other)
    assert ("lead near acid or damp" in hazards) == warned
    assert hazards["lead in the car"].parts == ("weight",)
    assert "lead in the car" not in found(other)


@pytest.mark.parametrize("material", ["basswood", "plywood", "hardwood", "cardboard", "wooden boards"])
def test_lead_beside_basswood_or_cardboard_swells_too(material: str) -> None:
    assert "lead near acid or damp" in found(("weight", "lead"), ("floor", material))


def test_what_is_free_of_lead_is_not_lead() -> None:
    assert found(("joint", "lead-free solder")) == {}


@pytest.mark.parametrize("material", ["zinc, growing", "zinc, cracked", "zinc casting, swollen"])
def test_growing_zinc_is_known_whatever_the_order_of_its_words(material: str) -> None:
    assert "growing zinc" in found(("frame", material))


def test_polystyrene_is_a_moulding_too() -> None:
    assert "heat on mouldings" in found(("body", "polystyrene"))


def test_growing_zinc_stops_straightening_and_sound_zinc_does_not() -> None:
    growing, sound = found(("frame", "growing zinc")), found(("frame", "zinc, die-cast"))
    assert set(stops(growing.values())) == {"straighten", "untwist", "dress-bolster", "box-raise", "ease-swing"}
    assert stops(sound.values()) == []
    assert sound["brittle zinc"].matters_to("straighten")
    assert not sound["brittle zinc"].matters_to("washer")


def test_each_part_of_the_material_is_named() -> None:
    hazards = found(("underframe", "zinc, die-cast"), ("ends", "pot metal"), ("deck", "brass"))
    assert hazards["brittle zinc"].parts == ("underframe", "ends")


def test_fragile_parts_come_off_first() -> None:
    rows = (
        '[[part]]\nname = "staff"\nfragile = true\n[[part]]\nname = "deck"\n[[part]]\nname = "steps"\nfragile = true\n'
    )
    assert removed_first(cw.read_sheet_text(HEAD + rows).history) == ["staff", "steps"]

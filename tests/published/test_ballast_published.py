"""Ballast against published densities and moment tables.

Tolerance: half the last printed digit. Figures marked *memory* were remembered from the named source; the others were
read in the text.
"""

from __future__ import annotations

import pytest

from carwright.explain.ballast import Car, Piece, Pocket, Wanted, place
from carwright.explain.load import LOAD_MATERIALS, densities, design_load
from carwright.tables import shipped

OUNCE = 28.349523125
"""Avoirdupois ounce [g], exact by the international pound of 0.45359237 kg (1959)."""


@pytest.mark.parametrize(
    ("material", "density", "volume"),
    [
        ("lead", 11.35, 2.497755),  # CRC handbook, 80th ed.; textbook appendix B.2 p. 806
        ("tungsten", 19.3, 1.468887),  # the same
        ("cartridge brass", 8.53, 3.323508),  # density database, 70/30
        ("steel", 7.85, 3.611404),  # textbook appendix B.1, A36
        ("zinc alloy", 6.6, 4.295382),  # a die caster's property table
        ("polystyrene", 1.05, 26.999546),  # textbook appendix B p. 804
    ],
)
def test_room_an_ounce_takes(material: str, density: float, volume: float) -> None:
    """Density [g/cm3] as printed by the source, and the volume of 1 oz recomputed from it [cm3]."""
    assert densities()[material] == density
    assert OUNCE / densities()[material] == pytest.approx(volume, abs=5e-7)


def test_every_density_names_its_source() -> None:
    for material, row in shipped().table("materials/densities").rows.items():
        assert densities()[material] > 0
        assert len(row.source.locator) > 5, material
    assert set(LOAD_MATERIALS) < set(densities())
    assert LOAD_MATERIALS[-1] == "lead"


def test_an_ounce_of_each_material_fills_the_core_it_takes() -> None:
    """A bare load of an ounce with the volume above is solid: its share is 1."""
    for material, volume in (("lead", 2.497755), ("tungsten", 1.468887), ("steel", 3.611404), ("zinc alloy", 4.295382)):
        load = design_load(length=volume * 10, width=10.0, height=10.0, mass=OUNCE, cover=0.0)
        [share] = [mix.share for mix in load.mixes if mix.material == material]
        assert share == pytest.approx(1.0, abs=5e-7)


def moments(
    empty: tuple[float, float], items: list[tuple[float, float]], tolerance: float
) -> tuple[float, float, bool]:
    """Total and first moment of an empty mass and items at their arms, each in the one pocket it fits."""
    pieces = [
        Piece(f"item {i}", mass, (100.0 + 10 * i, 100.0 - 10 * i, 1.0), "any", 0.0, 1)
        for i, (mass, _) in enumerate(items)
    ]
    pockets = [
        Pocket(f"station {i}", arm, 0.0, 100.0 + 10 * i, 100.0 - 10 * i, 1.0) for i, (_, arm) in enumerate(items)
    ]
    total = empty[0] + sum(mass for mass, _ in items)
    found = place(pieces, pockets, Car(empty[0], empty[1], 0.0), Wanted(total, total, total, tolerance))
    return found.mass, found.mass * found.x, found.in_balance


def test_moment_table_of_a_rearward_check() -> None:
    """FAA AC 43.13-1B, par. 10-18: 2036 lb, 43428 lb-in, limit 21.9 in, so it is inside. Units cancel."""
    items = [(17.0, -49.0), (170.0, 16.0), (340.0, 48.0), (240.0, 22.0), (100.0, 75.5)]
    total, moment, inside = moments((1169.0, 10.6), items, 21.9)
    assert total == pytest.approx(2036, abs=0.5)
    assert moment == pytest.approx(43428, abs=0.5)
    assert moment / total == pytest.approx(21.330255, abs=5e-7)  # of the unrounded moments
    assert inside
    assert not moments((1169.0, 10.6), items, 21.3)[2]


def test_moment_table_of_three_weights() -> None:
    """FAA-H-8083-1 (memory): 100 at 50, 100 at 90 and 200 at 150 balance at 110."""
    total, moment, _ = moments((100.0, 50.0), [(100.0, 90.0), (200.0, 150.0)], 110.0)
    assert moment / total == pytest.approx(110, abs=0.5)

"""Loads along half wings with sections: statics, and a sum by hand.

No source but statics (from memory); all numbers are invented.
"""

import numpy as np
import pytest

from vlm.constants import GRAVITY
from vlm.description.loading import load_biplane
from vlm.flight.craft.folded_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor
from vlm.flight.mechanism.section_bending import section_bending, together
from vlm.flight.mechanism.wing_bending import HalfWing, wing_bending
from vlm.lattice.cellule import Grid
from vlm.sides import Side

GRID = Grid(rows=4, strips=12)


@pytest.mark.parametrize(
    ("name", "factor"), [("tideline", 1.0), ("tideline", 2.5), ("teasel", 1.0)]
)
def test_roots_carry_the_weight_less_that_of_the_tips(name: str, factor: float) -> None:
    """Flat wings without dihedral, thrust along the chord: across it the roots' shear is n m g cos
    alpha, the tips' own weight taken off. By the lattice alone it is 2 % more or farther off."""
    craft = FoldingCraft(load_biplane(name), GRID).symmetric(0.0)
    flight = highest_load_factor(craft, 16.0, 1.225, factor)
    assert flight is not None
    tips = sum(craft.masses.parts[body].mass for body in craft.bodies)
    wanted = factor * GRAVITY * np.cos(flight.alpha) * (craft.masses.mass - tips)
    alone = wing_bending(craft, flight)
    whole = together(alone, section_bending(craft, flight))
    assert sum(half.root_shear_N for half in whole) == pytest.approx(wanted, rel=4e-3)
    assert sum(half.root_shear_N for half in alone) != pytest.approx(wanted, rel=1.2e-2)


def half(distance: list[float], shear: list[float], bending: list[float]) -> HalfWing:
    values = [np.array(one) for one in (distance, shear, bending, shear)]
    return HalfWing("upper", Side.STARBOARD, *values, 1.0, shear[-1], bending[-1])


def test_changes_are_read_at_cuts_on_either_side_of_a_turn() -> None:
    """The wing turns at 1 m: the shear's change falls from 6 N to 2 N across the inner part."""
    own = half([2.0, 1.5, 1.0, 1.0, 0.5, 0.0], [0.0] * 6, [1.0] * 6)
    change = half([2.0, 1.0, 1.0, 0.0], [0.0, 6.0, 2.0, 4.0], [0.0, 2.0, 2.0, 8.0])
    (found,) = together([own], [change])
    np.testing.assert_allclose(found.shear_N, [0.0, 3.0, 6.0, 2.0, 3.0, 4.0])
    np.testing.assert_allclose(found.bending_N_m, [1.0, 2.0, 3.0, 3.0, 6.0, 9.0])
    assert (found.root_shear_N, found.root_bending_N_m) == (4.0, 9.0)
    assert found.hinge_bending_N_m == 3.0
    assert together([own], []) == [own]


def test_a_twisted_wing_turns_at_every_strip_and_still_at_its_hinge() -> None:
    """Of two lattices without a cut in common but those of the hinge, at 1 m."""
    own = half([2.0, 1.5, 1.5, 1.0, 1.0, 0.5, 0.5, 0.0], [0.0] * 8, [1.0] * 8)
    change = half([2.0, 1.0, 1.0, 0.0], [0.0, 6.0, 2.0, 4.0], [0.0, 2.0, 2.0, 8.0])
    (found,) = together([own], [change])
    np.testing.assert_allclose(found.shear_N, [0.0, 3.0, 3.0, 6.0, 2.0, 3.0, 3.0, 4.0])
    assert (found.root_shear_N, found.hinge_bending_N_m) == (4.0, 3.0)


def test_roots_of_a_twisted_craft_carry_its_weight() -> None:
    """Dihedral of a degree and thrust along the chord leave a hundredth; statics as above. The
    shear is across each wing, 3 degrees of incidence from the body's axis."""
    craft = FoldingCraft(load_biplane("winnow"), GRID).symmetric(0.0)
    flight = highest_load_factor(craft, 16.0, 1.225, 1.0)
    assert flight is not None
    tips = sum(craft.masses.parts[body].mass for body in craft.bodies)
    wanted = GRAVITY * np.cos(flight.alpha) * (craft.masses.mass - tips)
    whole = together(wing_bending(craft, flight), section_bending(craft, flight))
    assert sum(half.root_shear_N for half in whole) == pytest.approx(wanted, rel=2e-2)

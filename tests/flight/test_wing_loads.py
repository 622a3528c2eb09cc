"""Loads along half wings with sections: statics, and a sum by hand.

No source but statics (from memory); all numbers are invented.
"""

import numpy as np
import pytest
from flying_craft import round_body

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import highest_load_factor
from vlm.flight.mechanism.section_bending import handed_over, section_bending, together
from vlm.flight.mechanism.wing_bending import HalfWing, StripLoads, wing_bending
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import folded
from vlm.sides import Side

GRID = Grid(rows=4, strips=12)


@pytest.mark.parametrize(
    ("name", "factor"), [("tideline", 1.0), ("tideline", 2.5), ("teasel", 1.0)]
)
def test_roots_carry_the_weight_less_that_of_the_tips(name: str, factor: float) -> None:
    """Flat wings without dihedral, thrust along the chord: across it the roots' shear is n m g cos
    alpha, the tips' own weight taken off. By the lattice alone it is 2 % more or farther off."""
    craft = FoldingCraft(load_biplane(name), GRID, round_body(0.0)).symmetric(0.0)
    flight = highest_load_factor(craft, 16.0, 1.225, factor)
    assert flight is not None
    tips = sum(craft.masses.parts[body].mass for body in craft.bodies)
    wanted = factor * GRAVITY * np.cos(flight.alpha) * (craft.masses.mass - tips)
    alone = wing_bending(craft, flight)
    whole = together(alone, section_bending(craft, flight))
    assert sum(half.root_shear_N for half in whole) == pytest.approx(wanted, rel=4e-3)
    assert sum(half.root_shear_N for half in alone) != pytest.approx(wanted, rel=1.2e-2)


SKEWED = ["upper.tips.flare_deg=9", "upper.tips.sweep_deg=15", "upper.incidence_deg=2"]


@pytest.mark.parametrize("fold", [-50.0, 40.0])
def test_a_tip_whose_strips_all_turn_carries_what_its_sections_add(fold: float) -> None:
    """A swept tip with washout on a flared hinge, folded: every strip turns a little. Sections
    change the shear at the roots by what they change in the whole force across the fixed wing."""
    wing = load_biplane("tideline", [*SKEWED, "upper.tips.washout_deg=3"])
    craft = FoldingCraft(wing, GRID).symmetric(fold)
    flight = highest_load_factor(craft, 16.0, 1.225, 1.5)
    assert flight is not None
    changes = section_bending(craft, flight)
    own = wing_bending(craft, flight)
    for change, half in zip(changes, own, strict=True):
        np.testing.assert_array_equal(change.distance_m, half.distance_m)
    whole = craft.section_change(flight.motion[None, :], flight.density)
    assert whole is not None
    wanted = whole.strips[0, :, 2].sum()
    assert sum(one.root_shear_N for one in changes) == pytest.approx(wanted, rel=2e-3)


@pytest.mark.parametrize(("here", "there"), [(5, 12), (12, 5), (7, 7)])
def test_loads_handed_over_keep_force_and_moment(here: int, there: int) -> None:
    """From the strips of one lattice to another's; an even load stays even."""
    craft = load_biplane("tideline")
    one, other = (build_cellule(craft, Grid(rows=2, strips=n)) for n in (here, there))
    pieces = [folded(built, craft, FoldAngles.symmetric(35.0)).patches for built in (one, other)]
    for source, patch in zip(*pieces, strict=True):
        force = np.random.default_rng(3).normal(size=(source.strips, 3))
        loads = StripLoads(source, force, np.cross(source.nodes[0, 1:], force))
        found = handed_over(loads, one.grid, patch)
        np.testing.assert_allclose(found.force.sum(axis=0), force.sum(axis=0), atol=1e-12)
        np.testing.assert_allclose(found.moment.sum(axis=0), loads.moment.sum(axis=0), atol=1e-12)
        even = StripLoads(source, source.width[:, None] * np.ones(3), loads.moment)
        spread = handed_over(even, one.grid, patch).force
        np.testing.assert_allclose(spread, patch.width[:, None] * np.ones(3), rtol=1e-9)


def test_changes_are_added_at_every_cut() -> None:
    cuts, ones = np.array([2.0, 1.0, 1.0, 0.0]), np.ones(4)
    own = HalfWing("upper", Side.STARBOARD, cuts, ones, 2 * ones, ones, 1.0, 1.0, 2.0)
    change = HalfWing("upper", Side.STARBOARD, cuts, 3 * ones, ones, ones, 1.0, 3.0, 1.0)
    (found,) = together([own], [change])
    np.testing.assert_allclose(found.shear_N, 4.0 * ones)
    assert (found.root_shear_N, found.root_bending_N_m, found.hinge_bending_N_m) == (4.0, 3.0, 3.0)
    assert together([own], []) == [own]


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

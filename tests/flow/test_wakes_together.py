"""Rates of the velocities of one lattice with several wakes, whose work is shared.

Against each wake alone, and against differences of lattices that are folded a little further.
"""

import numpy as np
import pytest
from core_craft import biplane, lattice_of

from vlm.flow.direction import wake_direction
from vlm.flow.influence import velocities_from, velocity_rates_from
from vlm.flow.motions import fold_motion
from vlm.flow.wake import Wake
from vlm.flow.wake_shape import WakeShape
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice
from vlm.sides import Side

ANGLES = (0.0, 0.1, -0.15)


def lattice(rows: int, right: float = 20.0) -> Lattice:
    return lattice_of(biplane(gap=0.6), 10.0, right, grid=Grid(rows, 6))


def wakes_of(one: Lattice) -> list[Wake]:
    return [Wake(WakeShape(one), wake_direction(alpha, 0.05)) for alpha in ANGLES]


@pytest.mark.parametrize("rows", [1, 2, 3, 5])
def test_rates_of_wakes_together_are_those_of_each(rows: int) -> None:
    """Points at rest beside a craft whose starboard tip turns; five columns of circulations."""
    one, random = lattice(rows), np.random.default_rng(rows)
    points = random.uniform(-0.5, 0.5, (7, 3)) + np.array([0.3, 0.2, 0.9])
    motion, wakes = fold_motion(one, Side.STARBOARD), wakes_of(one)
    rates = [wake.rate(motion) for wake in wakes]
    strengths = [wake.strengths(random.normal(size=(one.panels, 5))) for wake in wakes]
    together = velocity_rates_from(points, wakes, rates, strengths)
    for wake, rate, own, found in zip(wakes, rates, strengths, together, strict=True):
        (alone,) = velocity_rates_from(points, [wake], [rate], [own])
        size = np.abs(alone).max()
        assert size > 0.0
        np.testing.assert_allclose(found, alone, atol=1e-12 * size)


def test_rates_of_wakes_together_are_differences_of_folded_lattices() -> None:
    """Central differences over a hundredth of a degree, the rings' strengths held."""
    step, rows = 0.01, 3
    one, random = lattice(rows), np.random.default_rng(0)
    points = random.uniform(-0.5, 0.5, (5, 3)) + np.array([0.3, 0.2, 0.9])
    motion, wakes = fold_motion(one, Side.STARBOARD), wakes_of(one)
    strengths = [wake.strengths(random.normal(size=(one.panels, 2))) for wake in wakes]
    found = velocity_rates_from(points, wakes, [wake.rate(motion) for wake in wakes], strengths)
    ends = [wakes_of(lattice(rows, 20.0 + sign * step)) for sign in (-1.0, 1.0)]
    for i, rate in enumerate(found):
        low, high = (velocities_from(points, end[i], strengths[i]) for end in ends)
        wanted = (high - low) / np.radians(2.0 * step)
        np.testing.assert_allclose(rate, wanted, atol=1e-5 * np.abs(wanted).max())

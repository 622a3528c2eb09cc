"""Tables of one lattice with several wakes, whose work is shared, against each wake alone."""

import numpy as np
import pytest
from core_craft import biplane, lattice_of

from vlm.flow.direction import wake_direction, wake_turns
from vlm.flow.solve import Solvers
from vlm.lattice.cellule import Grid
from vlm.loads.surface import motion_basis, state_basis, surface_tables, tables_of_wakes


@pytest.mark.parametrize(("right", "beta"), [(-35.0, 0.0), (20.0, 0.1)])
def test_tables_of_wakes_together_are_those_of_each(right: float, beta: float) -> None:
    """Both halves alike, and unlike folds in sideslip; with the rates of folds and of the wake."""
    lattice = lattice_of(biplane(gap=0.6), -35.0, right, grid=Grid(3, 7))
    solvers, angles = Solvers(lattice), (0.0, 0.12, -0.07)
    solved = [solvers.unit_flows(wake_direction(alpha, beta)) for alpha in angles]
    assert solved[0].mirrored is (beta == 0.0)
    turns = [wake_turns(alpha, beta) for alpha in angles]
    amounts = np.array([1.0, 0.1, 0.2, 0.3, -0.2, 0.1, 0.0, 0.0])
    for basis in (motion_basis(lattice), state_basis(lattice, amounts)):
        own = [basis] * len(angles)
        together = tables_of_wakes(solved, turns, own)
        for flows, turn, found in zip(solved, turns, together, strict=True):
            alone = surface_tables(flows, turns=turn, basis=basis)
            size = np.abs(alone.wrench).max()
            np.testing.assert_allclose(found.wrench, alone.wrench, atol=1e-12 * size)
            assert set(found.wrench_rates) == {"left", "right", "alpha", "beta"}
            for name, rate in alone.wrench_rates.items():
                np.testing.assert_allclose(
                    found.wrench_rates[name], rate, atol=1e-11 * np.abs(rate).max()
                )
                known = alone.circulation_rates[name]
                np.testing.assert_allclose(
                    found.circulation_rates[name], known, atol=1e-11 * np.abs(known).max()
                )

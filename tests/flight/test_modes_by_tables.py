"""Modes of the tables that motion in time rests on, against those of the loads' own rates.

Two ways to one linear craft: the rates of the lattice and the sections at the trim itself
(`lateral`), and differences of tables over angles and rates (`motion`, `export`), whose equations
of motion are others (Euler angles, a mass matrix of many bodies). Lag and apparent mass of the air
and the slipstream, which only the latter know, are left out.
"""

from dataclasses import replace

import numpy as np
import pytest

from vlm.constants import SEA_LEVEL_DENSITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight, small_motion
from vlm.flight.craft.small_motions import lateral_matrix, longitudinal_matrix
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of
from vlm.flight.simulation.linear import linear_model
from vlm.flight.simulation.task import task_of
from vlm.lattice.cellule import Grid
from vlm.study.motion.scenarios import scenario_of

GRID = Grid(rows=2, strips=8)
LATERAL, LONGITUDINAL = [1, 3, 5, 6], [0, 2, 4, 7]


def roots_of_tables(name: str, fold: float, speed: float) -> tuple[np.ndarray, np.ndarray]:
    craft = load_biplane(name)
    modelled = Modelled(GRID, lagged=False, apparent=False, slipstream=False)
    words = {"to_left_deg": fold, "to_right_deg": fold, "airspeed_m_s": speed}
    task = task_of(craft, scenario_of(craft, None, words))
    task = replace(task, start=FoldAngles.symmetric(fold))
    plant = replace(plant_of(folding_craft(craft, modelled), task, modelled), rotors=None)
    matrix = linear_model(plant, speed, np.radians([fold, fold])).a
    lateral, longitudinal = (
        np.linalg.eigvals(matrix[np.ix_(rows, rows)]) for rows in (LATERAL, LONGITUDINAL)
    )
    return lateral, longitudinal


def roots_of_rates(name: str, fold: float, speed: float) -> tuple[np.ndarray, np.ndarray]:
    craft = FoldingCraft(load_biplane(name), GRID).symmetric(fold)
    flight = level_flight(craft, speed, SEA_LEVEL_DENSITY)
    assert flight is not None
    motion = small_motion(craft, flight)
    lateral, longitudinal = (
        np.linalg.eigvals(matrix(motion)) for matrix in (lateral_matrix, longitudinal_matrix)
    )
    return lateral, longitudinal


@pytest.mark.parametrize(
    ("name", "fold", "speed"),
    [("teasel", 0.0, 12.0), ("teasel", -30.0, 14.0), ("tideline", 0.0, 13.0)],
)
def test_tables_of_motion_have_the_modes_of_the_rates(name: str, fold: float, speed: float) -> None:
    """Within 4 % of a root, or 0.012 1/s of a slow lateral one and 0.04 of a slow longitudinal one.

    That is what tables change by their steps, of 3 degrees in angle of attack and 8 in sideslip.
    """
    both = roots_of_tables(name, fold, speed), roots_of_rates(name, fold, speed)
    for tables, rates, slow in zip(*both, (0.012, 0.04), strict=True):
        for root in rates:
            nearest = tables[np.argmin(np.abs(tables - root))]
            assert abs(nearest - root) < max(slow, 0.04 * abs(root))

"""A fin in the plane of symmetry in the unsteady lattice, against a wing of its shape."""

import numpy as np
import pytest
from core_craft import monoplane
from fin_craft import FAR, alone, lattice, plate

from vlm.constants import Floats
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.march import march

GRID = Grid(4, 8, span_law="cosine")
STEPS, STEP = 12, 0.05


def force_in_gust(found: Lattice, way: int) -> Floats:
    """Force in a gust along one axis that the craft meets suddenly, shape (steps + 1, 3) [N]."""

    def gust(time: float, points: Floats) -> Floats:
        return np.tile(np.eye(3)[way], (len(points), 1))

    course = Course(lattice=found, stream=np.array([1.0, 0.0, 0.0]), gust=gust, density=1.0)
    return np.asarray(load_history(march(course, STEP, STEPS, from_steady=False)).force())


def test_a_keel_in_a_side_gust_is_a_wing_in_an_upgust() -> None:
    lift = force_in_gust(lattice(monoplane(), grid=GRID), 2)
    side = force_in_gust(lattice(alone(plate(span_m=1.0, z_m=FAR)), grid=GRID), 1)
    assert side[1:, 1] == pytest.approx(lift[1:, 2], rel=1e-6)
    assert np.ptp(lift[1:, 2]) > 0.1 * lift[-1, 2]

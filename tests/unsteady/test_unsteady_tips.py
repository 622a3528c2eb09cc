"""How far loads lag behind tips that swing: the table of docs/theory.md, measured again."""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.march import march, quasi_steady

HALF_CHORD = 0.085
TURN = np.radians(60.0)


def lag_of_a_swing(fold: float, speed: float, swing: float) -> tuple[float, float]:
    """Largest difference over the largest quasi-steady load: rolling and hinge moment."""
    lattice = build_lattice(load_biplane("tideline"), FoldAngles(fold, fold), Grid(6, 12))

    def rates(time: float) -> dict[str, float]:
        part = min(max(time / swing, 0.0), 1.0)
        return {"upper_right": TURN / swing * 30.0 * part**2 * (1.0 - part) ** 2}

    course = Course(lattice, np.array([speed, 0.0, 0.0]), tip_rates=rates)
    steps = round(1.1 * swing * speed / HALF_CHORD)
    step = 1.1 * swing / steps
    unsteady = load_history(march(course, step, steps))
    steady = load_history(quasi_steady(course, step, steps), apparent_mass=False)
    roll, roll_steady = unsteady.moment()[:, 0], steady.moment()[:, 0]
    hinge = unsteady.bodies["upper_right"].hinge_moment
    hinge_steady = steady.bodies["upper_right"].hinge_moment
    assert hinge is not None
    assert hinge_steady is not None
    return (
        float(np.abs(roll - roll_steady).max() / np.abs(roll_steady).max()),
        float(np.abs(hinge - hinge_steady).max() / np.abs(hinge_steady).max()),
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("fold", "speed", "swing", "roll", "hinge"),
    [
        (0.0, 12.0, 0.5, 0.017, 0.033),
        (-60.0, 12.0, 0.5, 0.015, 0.032),
        (0.0, 8.0, 0.5, 0.029, 0.077),
        (-60.0, 8.0, 0.5, 0.026, 0.073),
        (0.0, 12.0, 1.5, 0.004, 0.003),
        (-60.0, 12.0, 1.5, 0.004, 0.003),
        (0.0, 8.0, 1.5, 0.007, 0.007),
        (-60.0, 8.0, 1.5, 0.006, 0.007),
    ],
)
def test_table_of_swinging_tips(
    fold: float, speed: float, swing: float, roll: float, hinge: float
) -> None:
    assert lag_of_a_swing(fold, speed, swing) == pytest.approx((roll, hinge), abs=6e-4)

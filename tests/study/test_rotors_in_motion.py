"""Whether a free craft's motion grows in time as the modes of ``lateral`` say, rotors counted.

The rolling and yawing swing of a shipped, invented craft with its tips raised grows where thrust
stays as it is, decays where it answers the air along the rotors' axes, and grows with what the
rotors do across them: by Etkin and Reid's linear equations
(vlm/flight/craft/small_motions.py). Here the craft is followed in time after a little sideslip, and
a damped swing is fitted to its roll rate by scipy.
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import curve_fit

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Configuration
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight, small_motion
from vlm.flight.craft.rotor_rates import rotor_rates
from vlm.flight.craft.small_motions import lateral_matrix
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of
from vlm.flight.simulation.equations import Equations
from vlm.flight.simulation.history import history_of
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.running import control_of, run
from vlm.flight.simulation.steady import SteadyState, steady_state
from vlm.flight.simulation.task import Task, task_of
from vlm.lattice.cellule import Grid
from vlm.power.side_force import SPREAD
from vlm.study.motion.scenarios import scenario_of

SPEED, FOLD, UPSET = 13.0, 15.0, float(np.radians(0.2))
MODELLED = Modelled(Grid(2, 8), sections=False, lagged=False, apparent=False, slipstream=False)
Made = tuple[FoldingCraft, Task, Plant, SteadyState]


@pytest.fixture(scope="module")
def made() -> Made:
    craft = load_biplane("winnow")
    assert craft.actuator is not None
    stiff = craft.actuator.model_copy(
        update={"hinge_stiffness_N_m_rad": 3000.0, "backlash_deg": 0.0}
    )
    settings = {"raised": Configuration(fold_deg=FOLD)}
    craft = craft.model_copy(update={"actuator": stiff, "configurations": settings})
    keys = {"airspeed_m_s": SPEED, "start": "raised", "to": "raised", "duration_s": 7.0}
    task = task_of(craft, scenario_of(craft, None, keys))
    folding = folding_craft(craft, MODELLED)
    plant = plant_of(folding, task, MODELLED)
    return folding, task, plant, steady_state(plant, SPEED, np.radians([FOLD, FOLD]))


def swing(time: Floats, growth: float, pace: float, *sizes: float) -> Floats:
    one, two, mean, drift = sizes
    waves = one * np.cos(pace * time) + two * np.sin(pace * time)
    return np.asarray(np.exp(growth * time) * waves + mean + drift * time)


def followed(task: Task, plant: Plant, start: SteadyState, pace: float) -> complex:
    """Root of the swing, fitted once the fast motion has died away [1/s]."""
    state = start.state.copy()
    state[1] += UPSET * SPEED
    done = run(plant, task, None, replace(start, state=state))
    assert not done.cut_off
    history = history_of(plant, done)
    late = history.times > 1.0
    time, rate = history.times[late], history.rates[late, 0]
    size = float(np.abs(rate).max())
    found, _ = curve_fit(swing, time, rate, p0=(0.0, pace, size, 0.0, 0.0, 0.0))
    assert np.abs(swing(time, *found) - rate).max() < 0.03 * size
    return complex(found[0], abs(found[1]))


CASES = [(True, True, 1), (True, False, -1), (False, False, 1)]
"""Whether thrust answers along the axes, and forces across them; sign of the swing's growth."""


def with_and_without(made: Made, along: bool, across: bool) -> tuple[Plant, NDArray[np.complex128]]:
    """The craft in motion, and the roots of the linear equations, with parts of the answer."""
    folding, _, plant, _ = made
    folded = folding.at(FoldAngles.symmetric(FOLD))
    flight = level_flight(folded, SPEED, MODELLED.density)
    assert flight is not None
    assert plant.rotors is not None
    answer = rotor_rates(folding.craft, folded, flight)
    fins = answer.across / SPREAD
    rates = along * (answer.rates - fins) + across * fins
    own = plant.rotors
    changed = replace(own, slopes=along * own.slopes, fins=across * own.fins)
    roots = np.linalg.eigvals(lateral_matrix(small_motion(folded, flight, rates)))
    return replace(plant, rotors=changed), roots.astype(complex)


@pytest.mark.parametrize(("along", "across", "sign"), CASES)
def test_motions_near_steady_flight_have_the_roots_of_the_modes(
    made: Made, along: bool, across: bool, sign: int
) -> None:
    _, task, _, start = made
    plant, roots = with_and_without(made, along, across)
    assert np.sign(roots[np.argmax(roots.imag)].real) == sign
    equations = Equations(plant, control_of(plant, task, None, start))
    found = np.linalg.eigvals(equations.jacobian(0.0, start.state))
    for root in roots:
        assert np.abs(found - root).min() < 2e-3 * abs(root)


@pytest.mark.parametrize(("along", "across", "sign"), CASES[1:])
def test_a_free_craft_swings_more_or_less_as_the_modes_with_and_without_rotors_say(
    made: Made, along: bool, across: bool, sign: int
) -> None:
    _, task, _, start = made
    plant, roots = with_and_without(made, along, across)
    expected = roots[np.argmax(roots.imag)]
    found = followed(task, plant, start, float(expected.imag))
    assert np.sign(found.real) == sign
    assert abs(found - expected) < 0.01 * abs(expected)

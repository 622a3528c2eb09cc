"""Whether a free craft's motion grows in time as the modes of ``lateral`` say, rotors counted.

The rolling and yawing swing of a shipped, invented craft with its tips raised grows where thrust
stays as it is, and decays where rotors answer the air: by Etkin and Reid's linear equations
(vlm/flight/craft/small_motions.py). Here the craft is followed in time after a little sideslip, and
a damped swing is fitted to its roll rate by scipy.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane, Configuration
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight, small_motion
from vlm.flight.craft.rotor_rates import rates_about
from vlm.flight.craft.small_motions import lateral_matrix
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of
from vlm.flight.simulation.history import history_of
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.running import run
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


def along_axes(craft: Biplane, folded: FoldedCraft, flight: LevelFlight) -> Floats:
    """Rates of rotors that share the thrust alike, without forces across, as motion has them."""
    each = np.full(len(craft.rotors), flight.thrust / len(craft.rotors))
    rates = rates_about(craft, folded.masses.centre, flight.motion[:3], flight.density, each)
    return rates.rates - rates.across / SPREAD


@pytest.mark.parametrize(("answering", "sign"), [(True, -1), (False, 1)])
def test_a_free_craft_swings_more_or_less_as_the_modes_with_and_without_rotors_say(
    made: Made, answering: bool, sign: int
) -> None:
    folding, task, plant, start = made
    folded = folding.at(FoldAngles.symmetric(FOLD))
    flight = level_flight(folded, SPEED, MODELLED.density)
    assert flight is not None
    assert plant.rotors is not None
    rotors = along_axes(folding.craft, folded, flight) if answering else None
    roots = np.linalg.eigvals(lateral_matrix(small_motion(folded, flight, rotors)))
    expected = roots[np.argmax(roots.imag)]
    assert np.sign(expected.real) == sign
    if not answering:
        still = replace(plant.rotors, slopes=np.zeros_like(plant.rotors.slopes))
        plant = replace(plant, rotors=still)
    found = followed(task, plant, start, float(expected.imag))
    assert np.sign(found.real) == sign
    assert abs(found - expected) < 0.01 * abs(expected)

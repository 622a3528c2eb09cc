"""Loads that follow their quasi-steady values late, for the equations of motion.

The lag law of :mod:`vlm.unsteady.lag`, load = q - sum x_i with x_i' = -b_i x_i + a_i q' (s in half
chords), is kept here with z_i = a_i q - x_i, which needs no rate of q:

    z_i' = b_i (a_i q - z_i) 2 V / c,   load = (1 - sum a_i) q + sum z_i                  (1)
"""

from dataclasses import dataclass, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.lag import LagLaw, fitted_lag
from vlm.unsteady.march import march, quasi_steady

LAG_GRID = Grid(rows=4, strips=8)
WAY = 24.0
STEP = 0.25
"""Way marched after the step of incidence, and of one step [half chords]."""
PUSH = 1e-3
"""Rising air of the step, over the airspeed [1]."""
AHEAD: Floats = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Lag:
    """Equation (1) for all loads.

    Attributes
    ----------
    law : of the craft's lift after a step of incidence
    chord : reference chord [m]
    loads : number of loads
    """

    law: LagLaw
    chord: float
    loads: int

    @property
    def states(self) -> int:
        """Number of z."""
        return len(self.law.rates) * self.loads

    def from_steady(self, steady: Floats) -> Floats:
        """z of loads that have lasted, shape (states,)."""
        return np.multiply.outer(self.law.shares, steady).ravel()

    def loads_of(self, states: Floats, steady: Floats) -> Floats:
        """Loads from z and the quasi-steady loads, shape (loads,)."""
        held = states.reshape(-1, self.loads)
        return np.asarray((1.0 - self.law.shares.sum()) * steady + held.sum(axis=0))

    def pace(self, speed: float) -> Floats:
        """How fast each z nears its target at an airspeed [m/s], shape of the law's rates [1/s]."""
        return np.asarray((2.0 * speed / self.chord) * self.law.rates)

    def rates(self, states: Floats, steady: Floats, speed: float) -> Floats:
        """Rates of z at an airspeed [m/s], shape (states,)."""
        held = states.reshape(-1, self.loads)
        target = np.multiply.outer(self.law.shares, steady)
        return np.asarray((self.pace(speed)[:, None] * (target - held)).ravel())


def craft_lag(craft: Biplane, folds: FoldAngles, loads: int) -> Lag:
    """The law of a craft at a fold setting, by the unsteady lattice.

    Lift after a step of incidence; the first of its steps, in which the apparent mass is set in
    motion, is left out.

    Raises
    ------
    InputRefused : the fold cannot be built
    """
    lattice = build_lattice(craft, folds, LAG_GRID)
    half = 0.5 * lattice.reference.chord
    steps = round(WAY / STEP)
    still = Course(lattice, AHEAD)
    pushed = replace(still, gust=_push)
    before = load_history(quasi_steady(still, STEP * half, 1)).force()[-1, 2]
    after = load_history(quasi_steady(pushed, STEP * half, 2)).force()[-1, 2]
    lift = load_history(march(pushed, STEP * half, steps)).force()[:, 2]
    response = (lift - before) / (after - before)
    way: Floats = STEP * (np.arange(steps, dtype=np.float64) + 0.5)
    return Lag(fitted_lag(way[1:], response[1:]), lattice.reference.chord, loads)


def _push(time: float, points: Floats) -> Floats:
    rise = np.array([0.0, 0.0, PUSH if time > 0.0 else 0.0])
    return np.tile(rise, (len(points), 1))

"""A hinged tip that flaps: the energy it gives to the air in a period."""

import numpy as np
import pytest
from plates import CHORD, STREAM, lattice_of
from scipy.special import hankel2

from vlm.lattice.cellule import Grid
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.march import march

FREQUENCY, STEP = 0.5, 0.4


def power_share(tip_m: float) -> float:
    """Mean power of both flapping tips over that of strips in two dimensions."""
    tips = {"span_m": tip_m, "end_chord_m": CHORD}
    wing = {"span_m": 4.0, "root_chord_m": CHORD, "end_chord_m": CHORD, "camber": "flat"}
    lattice = lattice_of({"title": "tips", "upper": wing | {"tips": tips}}, Grid(4, 10))

    def rates(time: float) -> dict[str, float]:
        return dict.fromkeys(lattice.bodies, float(np.cos(FREQUENCY * time)))

    course = Course(lattice, STREAM, tip_rates=rates, density=1.0)
    period = 2.0 * np.pi / FREQUENCY
    steps = round(2.5 * period / STEP)
    loads = load_history(march(course, STEP, steps))
    moment = sum(loads.bodies[body].hinge_moment for body in lattice.bodies)
    last = loads.times > loads.times[-1] - period
    work = np.mean((moment * np.cos(FREQUENCY * loads.times))[last])
    lag = hankel2(1, FREQUENCY) / (hankel2(1, FREQUENCY) + 1j * hankel2(0, FREQUENCY))
    return float(-work / (2.0 * np.pi * lag.real * tip_m**3 / 3.0))


def test_garrick_1936_energy_of_a_flapping_tip() -> None:
    # I. E. Garrick, NACA Report 567 (1936), from memory: a section that plunges at h' takes the
    # mean power pi rho b U F(k) |h'|^2, which feeds wake and thrust; here h' = distance from hinge
    # times rate. What the flow round the tip's end takes off falls with its span.
    short, longer = power_share(20.0), power_share(80.0)
    assert short < longer < 1.0
    assert longer == pytest.approx(1.0, abs=0.06)
    assert 1.0 - short > 2.5 * (1.0 - longer)

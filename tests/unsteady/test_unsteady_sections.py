"""The unsteady lattice on wings of very large span, against thin sections in unsteady flow.

Lengths in half chords, stream 1 m/s, density 1: times are ways flown in half chords.
"""

import numpy as np
import pytest
from plates import (
    CHORD,
    STREAM,
    amplitude,
    heave,
    middle_strip,
    rectangle,
    sudden_start,
)
from scipy.special import hankel2

from vlm.constants import Floats
from vlm.lattice.cellule import Grid
from vlm.unsteady.course import Course
from vlm.unsteady.forces import load_history
from vlm.unsteady.march import march

LONG = rectangle(400.0, Grid(rows=8, strips=5))
# H. Wagner, ZAMM 5 (1925), from memory, recomputed by quadrature of Theodorsen's function.
WAGNER = {0.5: 0.55566, 1.0: 0.60061, 2.0: 0.66929, 4.0: 0.75797, 6.0: 0.81255, 10.0: 0.87504}


def wagner_error(step: float) -> Floats:
    """Of the middle strip, relative, at the ways of WAGNER."""
    march_of = march(heave(LONG, lambda t: 1.0), step, round(10.5 / step), from_steady=False)
    loads = load_history(march_of)
    lift = middle_strip(LONG, loads.strip_forces)[1:] / (np.pi * CHORD)
    found = np.interp(list(WAGNER), loads.times[1:], lift)
    return np.asarray(found / np.array(list(WAGNER.values())) - 1.0)


def test_wagner_1925_sudden_start_and_order_in_the_step() -> None:
    coarse, fine = wagner_error(0.1), wagner_error(0.05)
    assert np.abs(coarse).max() < 0.022
    assert np.abs(fine).max() < 0.010
    order = np.log2(np.abs(coarse[:2]) / np.abs(fine[:2]))
    assert order.min() > 0.8


def test_wagner_is_reached_as_the_aspect_ratio_grows() -> None:
    errors = []
    for aspect_ratio in (5.0, 20.0, 80.0):
        times, lift = sudden_start(rectangle(aspect_ratio, Grid(rows=6, strips=8)), 0.1, 10.5)
        errors.append(abs(float(np.interp(10.0, times, lift)) / WAGNER[10.0] - 1.0))
    assert errors[0] > 2.0 * errors[1] > 4.0 * errors[2]
    assert errors[2] < 0.03


@pytest.mark.parametrize(("rows", "tolerance"), [(8, 0.03), (16, 0.01)])
def test_apparent_mass_of_a_plate(rows: int, tolerance: float) -> None:
    # A start sets pi rho b^2 a unit of span in motion (any text); the step is next to nothing.
    lattice = rectangle(400.0, Grid(rows=rows, strips=5))
    loads = load_history(march(heave(lattice, lambda t: 1.0), 1e-3, 2, from_steady=False))
    impulse = middle_strip(lattice, loads.strip_forces)[0] * 1e-3
    assert impulse == pytest.approx(np.pi, rel=tolerance)


@pytest.mark.parametrize(("frequency", "step"), [(0.1, 0.4), (0.2, 0.2), (0.5, 0.1), (1.0, 0.05)])
@pytest.mark.parametrize("motion", ["heave", "pitch"])
def test_theodorsen_1935_lift_and_moment(motion: str, frequency: float, step: float) -> None:
    """T. Theodorsen, NACA Report 496 (1935), from memory; pitch about the middle of the chord."""
    k, turn = frequency, 1.0 if motion == "pitch" else 0.0
    lag = hankel2(1, k) / (hankel2(1, k) + 1j * hankel2(0, k))

    def gust(time: float, points: Floats) -> Floats:
        upwash = np.cos(k * time) - turn * k * np.sin(k * time) * (points[:, 0] - 1.0)
        return np.stack([0.0 * upwash, 0.0 * upwash, upwash], axis=1)

    course = Course(LONG, STREAM, gust, density=1.0)
    loads = load_history(march(course, step, round(6.0 * np.pi / k / step)))
    span = LONG.reference.span
    arm = LONG.reference.moment_point[0] - 1.0
    lift = loads.force()[:, 2] / span
    moment = loads.moment()[:, 1] / span - lift * arm
    circulatory = lag * (1.0 + 0.5j * k * turn)
    lift_there = np.pi * 1j * k + 2.0 * np.pi * circulatory
    moment_there = np.pi * circulatory + turn * np.pi * (-0.5j * k + k**2 / 8.0)
    assert abs(amplitude(loads.times, lift, k) / lift_there - 1.0) < 0.02
    assert abs(amplitude(loads.times, moment, k) / moment_there - 1.0) < 0.02


def test_kuessner_1936_sharp_gust() -> None:
    """The approximation of Sears and Sparks (1941), from memory; the front is 0.5 long."""
    lattice = rectangle(400.0, Grid(rows=16, strips=5))

    def gust(time: float, points: Floats) -> Floats:
        upwash = np.clip((time - points[:, 0]) / 0.5 + 0.5, 0.0, 1.0)
        return np.stack([0.0 * upwash, 0.0 * upwash, upwash], axis=1)

    loads = load_history(march(Course(lattice, STREAM, gust, density=1.0), 0.1, 105))
    way = np.array([1.0, 2.0, 4.0, 6.0, 10.0])
    lift = middle_strip(lattice, loads.strip_forces) / (np.pi * CHORD)
    there = 1.0 - 0.5 * np.exp(-0.13 * way) - 0.5 * np.exp(-way)
    found = np.interp(way, loads.times, lift)
    # While the front crosses the rows one by one, the lift is rough; behind them it is not.
    assert found[:1] == pytest.approx(there[:1], abs=0.05)
    assert found[1:] == pytest.approx(there[1:], abs=0.025)

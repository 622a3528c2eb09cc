"""The rotor's wake as a streamtube: what momentum and continuity ask of it.

Source: B. W. McCormick, Aerodynamics, Aeronautics and Flight Mechanics, for the
growth v (1 + s / sqrt(s^2 + R^2)) (from memory); momentum theory for the far wake (twice the
velocity, half the area in hover).
"""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.power import Rotor
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.lattice.cellule import Grid
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area
from vlm.power.slipstream import slipstream

DENSITY = 1.2


def rotor(**keys: object) -> Rotor:
    plain = {"name": "a", "position_m": (0.0, 0.0, 0.0), "spin": "right", "radius_m": 0.1,
             "form": "blades", "solidity": 0.1, "pitch_m": 0.15}  # fmt: skip
    return Rotor(**(plain | keys))  # type: ignore[arg-type]


def wind(craft_rotor: Rotor, thrust: float, stream: list[float], points: list[list[float]], **more):
    wanted = np.array([stream])
    axis = np.array(craft_rotor.axis)
    axial = -wanted @ axis
    edge = np.linalg.norm(wanted + axial[:, None] * axis, axis=1)
    flow = disc_flow(np.array([thrust]), axial, edge, DENSITY, disc_area(craft_rotor))
    places = np.array(points, dtype=float)
    return flow, slipstream(craft_rotor, flow, wanted, places, np.zeros((len(places), 3)), **more)


def test_zero_thrust_returns_still_air() -> None:
    _, found = wind(rotor(), 0.0, [10.0, 0.0, 1.0], [[0.1, 0.0, 0.0], [0.5, 0.02, 0.0]])
    assert np.all(found.velocity == 0.0)


def test_velocity_at_the_disc_and_far_behind() -> None:
    flow, found = wind(rotor(), 3.0, [0.0, 0.0, 0.0], [[0.0, 0.0, 0.0], [100.0, 0.0, 0.0]])
    v = float(flow.induced[0])
    np.testing.assert_allclose(found.velocity[0, :, 0], [v, 2.0 * v], rtol=1e-6)
    assert found.radius[0, 1] == pytest.approx(0.1 / np.sqrt(2.0), rel=1e-6)
    # One radius behind: 1 + 1 / sqrt 2 of v.
    _, one = wind(rotor(), 3.0, [0.0, 0.0, 0.0], [[0.1, 0.0, 0.0]])
    assert one.velocity[0, 0, 0] / v == pytest.approx(1.0 + 1.0 / np.sqrt(2.0), rel=1e-12)


@pytest.mark.parametrize("speed", [0.0, 4.0, 20.0])
def test_far_wake_carries_the_thrust(speed: float) -> None:
    """T = mass flow times the velocity added: rho pi r^2 (V + 2v) 2v."""
    flow, found = wind(rotor(), 3.0, [speed, 0.0, 0.0], [[100.0, 0.0, 0.0]])
    v, r = float(flow.induced[0]), float(found.radius[0, 0])
    assert DENSITY * np.pi * r**2 * (speed + 2.0 * v) * 2.0 * v == pytest.approx(3.0, rel=1e-5)


def test_air_is_kept_in_the_tube() -> None:
    """The even velocity times the tube's area, integrated over a fine disc, is the flow."""
    y = np.linspace(-0.15, 0.15, 301)
    grid = np.array([[0.2, a, b] for a in y for b in y])
    flow, found = wind(rotor(), 3.0, [8.0, 0.0, 0.0], grid.tolist())
    cell = (y[1] - y[0]) ** 2
    added = float(found.velocity[0, :, 0].sum() * cell)
    growth = 1.0 + 0.2 / np.hypot(0.2, 0.1)
    area = np.pi * float(found.radius[0, 0]) ** 2
    assert added == pytest.approx(area * growth * float(flow.induced[0]), rel=0.01)


def test_tube_drifts_with_a_cross_wind() -> None:
    """Its centre moves with V_across / (V_a + v(s)) for each length behind."""
    flow, found = wind(rotor(), 3.0, [0.0, 0.0, 3.0], [[0.15, 0.0, z] for z in (-0.1, 0.07, 0.2)])
    growth = 1.0 + 0.15 / np.hypot(0.15, 0.1)
    drift = 0.15 * 3.0 / (growth * float(flow.induced[0]))
    assert 0.0 < drift < 0.1
    centre = wind(rotor(), 3.0, [0.0, 0.0, 3.0], [[0.15, 0.0, drift]])[1]
    assert centre.inside[0, 0] == 1.0
    assert found.inside[0].tolist()[0] == 0.0


def test_swirl_carries_the_torque() -> None:
    """Moment of momentum through a cut of the tube equals the torque, in the rotor's sense."""
    y = np.linspace(-0.12, 0.12, 241)
    grid = np.array([[0.3, a, b] for a in y for b in y])
    torque = 0.05
    swirl = np.array([torque / DENSITY])
    _, found = wind(rotor(), 3.0, [6.0, 0.0, 0.0], grid.tolist(), swirl=swirl)
    u, v, w = found.velocity[0].T
    through = 6.0 + u
    moment = DENSITY * through * (grid[:, 1] * w - grid[:, 2] * v)
    total = float(np.sum(moment)) * (y[1] - y[0]) ** 2
    # A right-handed rotor turns about its thrust, which points to -x.
    assert total == pytest.approx(-torque, rel=0.08)  # the soft edge takes some of it
    _, mirrored = wind(rotor(spin="left"), 3.0, [6.0, 0.0, 0.0], grid.tolist(), swirl=swirl)
    np.testing.assert_allclose(mirrored.velocity[0, :, 1:], -found.velocity[0, :, 1:], atol=1e-12)


@pytest.mark.parametrize("speed", [0.0, 3.0, 12.0])
def test_dynamic_pressure_on_a_strip_does_not_depend_on_how_it_is_cut(speed: float) -> None:
    """A strip across the edge meets the mean of the dynamic pressures on fifty cuts of it."""
    stream = np.array([[speed, 0.0, 0.0]])
    thrust, width = np.array([3.0]), 0.06
    flow = disc_flow(thrust, np.array([speed]), np.zeros(1), DENSITY, disc_area(rotor()))
    centre = slipstream(rotor(), flow, stream, np.array([[0.1, 0.0, 0.0]]), np.zeros((1, 3)))
    radius = float(centre.radius[0, 0])

    def pressure(places: np.ndarray, span: float) -> np.ndarray:
        points = np.column_stack([0.1 + 0.0 * places, places, 0.0 * places])
        spans = np.tile([0.0, span, 0.0], (len(places), 1))
        found = slipstream(rotor(), flow, stream, points, spans)
        return np.sum((stream + found.velocity[0]) ** 2, axis=1)

    for middle in (radius, radius - 0.02, radius + 0.02):
        cuts = middle + width * (np.arange(50) + 0.5) / 50 - 0.5 * width
        whole = float(pressure(np.array([middle]), width)[0])
        assert whole == pytest.approx(float(pressure(cuts, width / 50).mean()), rel=0.03)
    # A strip turned out of the disc's plane, along the tube, is wetted as a point of it.
    along = slipstream(
        rotor(), flow, stream, np.array([[0.1, radius, 0.0]]), np.array([[width, 0.0, 0.0]])
    )
    assert along.inside[0, 0] == pytest.approx(0.5)


def test_a_braking_rotor_slows_the_strips_behind_it() -> None:
    """Between no wind and the whole of it, however little of the strip is wetted."""
    stream, flow = (
        np.array([[20.0, 0.0, 0.0]]),
        disc_flow(np.array([-0.5]), np.array([20.0]), np.zeros(1), DENSITY, disc_area(rotor())),
    )
    places = np.array([[0.1, y, 0.0] for y in np.linspace(0.0, 0.2, 41)])
    found = slipstream(rotor(), flow, stream, places, np.tile([0.0, 0.03, 0.0], (41, 1)))
    speeds = 20.0 + found.velocity[0, :, 0]
    assert speeds[0] < 20.0 - 0.05
    assert speeds[-1] == pytest.approx(20.0)
    assert np.all(np.diff(speeds) >= -1e-12)


def test_slow_flight_does_not_move_with_the_lattice() -> None:
    """Power between 4 and 7 m/s, where strips enter and leave the rotors' wind, within 1.3 %
    (0.8 % in the median) from 14 to 20 strips."""
    found = []
    for strips in (14, 16, 20):
        craft = powered_craft(load_biplane("tideline"), FoldAngles(), grid=Grid(2, strips))
        problem = trim_problem(craft)
        trim, powers = trimmed(problem, 0.0), []
        for speed in (1.0, 2.0, 3.0, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5, 7.0):
            trim = trimmed(problem, speed, 0.0, trim.unknown, trim.loads.coupled.offset)
            assert trim.is_converged
            powers.append(trim.loads.shaft_powers.sum())
        found.append(powers[3:])
    apart = np.ptp(found, axis=0) / np.mean(found, axis=0)
    assert apart.max() < 0.013
    assert np.median(apart) < 0.008

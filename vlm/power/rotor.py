"""A rotor of fixed pitch: the speed it must turn at for a thrust, and the power that takes."""

from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.description.rotor_table import rotor_curve
from vlm.power import kernel
from vlm.power.element_rotor import ElementModel, element_model
from vlm.power.momentum import DiscFlow, disc_flow
from vlm.power.rotor_state import LEAST_SPEED, RotorState

RADIAL, RADIAL_WEIGHTS = np.polynomial.legendre.leggauss(8)
AZIMUTHS = np.arange(16) * (2.0 * np.pi / 16)
MOST_STEPS = 80
FULL_STALL = 3.0
"""Mean lift coefficient beyond which the blades' drag rises no more [1]."""


def disc_area(rotor: Rotor) -> float:
    """Area of the disc [m^2]."""
    return float(np.pi * rotor.radius_m**2)


def profile_factor(edgewise: ArrayLike, axial: ArrayLike) -> Floats:
    """Profile power over that in hover at the same speed of rotation.

    Each piece of blade drags with the square of its own air speed, and takes its drag times that
    speed; averaged over radius and azimuth,

    F = 4 int r-mean of ((r + mu sin psi)^2 + (mu cos psi)^2 + lambda^2)^(3/2)

    In edgewise flow F = 1 + 4.5 mu^2 + ..., the known series with radial flow (W. Johnson,
    Helicopter Theory, from memory). It holds the power of the force in the disc's plane as well,
    which is not put on the craft besides.

    Parameters
    ----------
    edgewise, axial : mu and lambda, speeds in the plane of the disc and along its axis over the
        speed of the blade tips [1]
    """
    mu, through = np.broadcast_arrays(np.asarray(edgewise, float), np.asarray(axial, float))
    flat = [np.array(a, dtype=float).ravel() for a in (mu, through)]
    found = kernel.profile_mean(*flat, RADIAL, RADIAL_WEIGHTS, AZIMUTHS)
    return np.asarray(found.reshape(mu.shape))


class BladeModel:
    """Thrust and power from solidity, pitch and drag of the blades.

    Blades of one geometric pitch P meet the air of an advance V_a + v at the angle
    (P Omega / 2 pi - V_a - v) / (Omega r) along the whole radius, so that

    T = rho A sigma a / 4 Omega R (P Omega / 2 pi - V_a - v)                           (1)

    which is the ideal-twist rotor C_T = sigma a / 4 (theta_tip - lambda) (A. Gessow and
    G. C. Myers, Aerodynamics of the Helicopter, from memory). Power is

    P = T (V_a + kappa v) + rho A sigma c_d / 8 (Omega R)^3 F                          (2)

    with c_d = c_d0 + k c_l^4, c_l = 6 C_T / sigma the mean lift coefficient of the blades: toward
    stall their drag rises steeply. On 240 wind-tunnel points of four research propellers
    (Deters, Ananda and Selig 2014) the defaults give the power at the measured thrust within 4 %
    in the median and 26 % at worst, where c_l = 1.3 at a chord Reynolds number of 20 000.
    """

    def __init__(self, rotor: Rotor) -> None:
        assert rotor.solidity is not None and rotor.pitch_m is not None
        self.area, self.radius = disc_area(rotor), rotor.radius_m
        self.solidity = rotor.solidity
        self.tip_angle = rotor.pitch_m / (2.0 * np.pi * rotor.radius_m)
        self.slope = rotor.value("blade_lift_slope_per_rad")
        self.drag = rotor.value("blade_drag")
        self.rise = rotor.value("blade_drag_rise")
        self.factor = rotor.value("induced_power_factor")

    def state(self, flow: DiscFlow, density: float) -> RotorState:
        """Speed and power for the thrust of a flow."""
        scale = density * self.area * self.solidity
        through = flow.axial + flow.induced
        inside = through**2 + 16.0 * self.tip_angle * flow.thrust / (scale * self.slope)
        tip = (through + np.sqrt(np.maximum(inside, 0.0))) / (2.0 * self.tip_angle)
        possible = (inside >= 0.0) & (tip > LEAST_SPEED)
        tip = np.maximum(tip, LEAST_SPEED)
        factor = profile_factor(flow.edgewise / tip, flow.axial / tip)
        lift = np.clip(6.0 * flow.thrust / (scale * tip**2), 0.0, FULL_STALL)
        profile = scale * (self.drag + self.rise * lift**4) / 8.0 * tip**3 * factor
        power = flow.thrust * (flow.axial + self.factor * flow.induced) + profile
        speed = tip / self.radius
        return RotorState(flow, speed, power, power / speed, possible)


class TableModel:
    """Thrust and power from measured coefficients over the advance ratio along the axis."""

    def __init__(self, rotor: Rotor, folder: Path | None = None) -> None:
        from scipy.interpolate import PchipInterpolator

        assert rotor.table is not None
        curve = rotor_curve(rotor.table, folder)
        self.diameter = 2.0 * rotor.radius_m
        self.last = curve.advance_ratio[-1]
        self.thrust = PchipInterpolator(curve.advance_ratio, curve.thrust_coefficient)
        self.power = PchipInterpolator(curve.advance_ratio, curve.power_coefficient)
        self.end_slope = float(self.thrust.derivative()(self.last))
        before, end = curve.thrust_coefficient[-2:]
        if self.end_slope >= 0.0:
            self.end_slope = (end - before) / (self.last - curve.advance_ratio[-2])

    def thrust_coefficient(self, ratio: Floats) -> Floats:
        """Within the table its curve, beyond it a straight line."""
        inside = np.clip(ratio, 0.0, self.last)
        return np.asarray(self.thrust(inside) + self.end_slope * np.maximum(ratio - self.last, 0.0))

    def state(self, flow: DiscFlow, density: float) -> RotorState:
        """Speed and power for the thrust of a flow, by bisection on the turns per second."""
        need = np.maximum(flow.thrust, 0.0) / (density * self.diameter**4)
        along = np.maximum(flow.axial, 0.0) / self.diameter

        def given(turns: Floats) -> Floats:
            return np.asarray(turns**2 * self.thrust_coefficient(along / turns))

        low = np.maximum(
            along / (self.last + self.thrust(self.last) / -self.end_slope), LEAST_SPEED
        )
        high = low + np.sqrt(need / float(self.thrust(0.0))) + along + 1.0
        for _ in range(MOST_STEPS):
            if np.all(given(high) >= need):
                break
            high = np.where(given(high) >= need, high, 2.0 * high)
        for _ in range(MOST_STEPS):
            middle = 0.5 * (low + high)
            enough = given(middle) >= need
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        turns = 0.5 * (low + high)
        ratio = along / turns
        power = density * turns**3 * self.diameter**5 * self.power(np.minimum(ratio, self.last))
        speed = 2.0 * np.pi * turns
        in_range = (ratio <= self.last) & (flow.thrust >= 0.0)
        return RotorState(flow, speed, np.asarray(power), power / speed, in_range)


Model = BladeModel | TableModel | ElementModel


def rotor_model(rotor: Rotor, folder: Path | None = None) -> Model:
    """The model that a rotor's ``form`` names; ``folder`` is where a table's path starts."""
    if rotor.form == "blades":
        return BladeModel(rotor)
    return element_model(rotor, folder) if rotor.form == "elements" else TableModel(rotor, folder)


def hover_state(
    rotor: Rotor, thrust: float, density: float, folder: Path | None = None
) -> RotorState:
    """A rotor in hover at a thrust [N]."""
    flow = disc_flow(thrust, 0.0, 0.0, density, disc_area(rotor))
    return rotor_model(rotor, folder).state(flow, density)


def figure_of_merit(state: RotorState) -> Floats:
    """Ideal power in hover over the shaft's, T v_h / P [1]."""
    return np.asarray(state.flow.thrust * state.flow.hover / state.power)

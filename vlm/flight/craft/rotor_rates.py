"""How the loads of the rotors answer small motions of the craft, their controls fixed.

A rotor i at r_i from the centre of gravity, thrust T_i along a_i and torque Q_i on its shaft, meets
air along its axis at V_i. In a small motion (v, omega) of the craft

    dV_i = g_i . (v, omega),   g_i = (a_i, r_i x a_i)                                   (1)

    d(force, moment) = sum over i of (T_i' g_i + Q_i' h_i) dV_i,   h_i = (0, -s_i a_i)  (2)

with s_i the sense of its turn. T' and Q' hang on what a fixed control holds. At a held speed of
rotation Omega(T, V), by its total differential (momentum and blade theory give Omega and Q),

    T' = -Omega_V / Omega_T,   Q' = Q_V + Q_T T'                                        (3)

and at a held torque T' = -Q_V / Q_T, Q' = 0. A motor at a fixed throttle slows under load: it lies
between the two; the rates here stand midway.

A motion across the axis meets the force of :mod:`vlm.power.side_force`, s_i to the speed:

    d(force, moment) = - sum over i of s_i G_i^T (1 - a_i a_i^T) G_i (v, omega)           (4)

with G_i (v, omega) = v + omega x r_i; half of it is left open. Moments about the hub in its plane,
whose sense goes with the rotor's turn, are left out.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight, small_motion
from vlm.flight.craft.small_motions import SmallMotion
from vlm.frames import GEOMETRY_TO_BODY
from vlm.power.momentum import disc_flow
from vlm.power.side_force import SPREAD, side_force_slope
from vlm.power.strip_winds import BlowingRotors, blowing_rotors

STEP = 1e-3
"""Step of the differences: of the speed along the axis, and of the thrust over that of the dynamic
pressure on the disc [1]."""


@dataclass(frozen=True)
class RotorRates:
    """Rates of the rotors' loads about the centre of gravity, body axes, controls fixed.

    Attributes
    ----------
    rates : of (X, Y, Z, L, M, N) with (u, v, w, p, q, r), shape (6, 6) [N, N m per m/s, rad/s]
    to_speed : from them to those of rotors that hold their speed, shape (6, 6); to those of rotors
        that hold their torque it is as far the other way
    across : what is left open of the forces across the axes, either way, shape (6, 6)
    """

    rates: Floats
    to_speed: Floats
    across: Floats = field(default_factory=lambda: np.zeros((6, 6)))

    @property
    def ways(self) -> tuple[Floats, ...]:
        """From the rates to those of rotors that hold their speed, and their torque, both with the
        most and the least force across."""
        return tuple(
            sense * self.to_speed + push * self.across for sense in (1.0, -1.0) for push in (1, -1)
        )

    @property
    def half_width(self) -> Floats:
        """Of each rate by itself, shape (6, 6)."""
        return np.asarray(np.abs(self.to_speed) + np.abs(self.across))

    @property
    def known(self) -> bool:
        """Whether the rotors' models know a state."""
        return bool(np.isfinite(self.to_speed).all())


NO_ROTORS = RotorRates(np.zeros((6, 6)), np.zeros((6, 6)))
NOT_KNOWN = RotorRates(np.zeros((6, 6)), np.full((6, 6), np.nan))
"""Of rotors whose model knows no state at the thrust, as beyond the end of a table."""


def motions_with_rotors(
    craft: Biplane, folded: FoldedCraft, flight: LevelFlight
) -> tuple[SmallMotion, tuple[SmallMotion, ...]]:
    """Small motions about level flight with what rotors answer, and at all ends of that."""
    rotors = rotor_rates(craft, folded, flight)
    own = small_motion(folded, flight, rotors.rates)
    return own, tuple(replace(own, rates=own.rates + way) for way in rotors.ways)


@dataclass(frozen=True)
class AxialSlopes:
    """Equation (3): rates of thrust and of torque with the air's speed along every rotor's axis.

    Attributes
    ----------
    held_speed, held_torque : T', then Q', shape (2, rotors) [N s/m], [N s]; NaN where no state of a
        rotor belongs to its thrust
    """

    held_speed: Floats
    held_torque: Floats

    @property
    def known(self) -> bool:
        """Whether a state of every rotor belongs to its thrust."""
        return bool(np.all(np.isfinite([self.held_speed, self.held_torque])))

    @property
    def midway(self) -> Floats:
        """Between the two, shape (2, rotors)."""
        return np.asarray(0.5 * (self.held_speed + self.held_torque))


def rotor_rates(craft: Biplane, folded: FoldedCraft, flight: LevelFlight) -> RotorRates:
    """Equations (2) and (4) about level flight, the rotors holding the air's pitching moment."""
    each = balancing_thrusts(craft, folded.masses.centre, flight.thrust, -float(flight.wrench[4]))
    return rates_about(craft, folded.masses.centre, flight.motion[:3], flight.density, each)


def balancing_thrusts(craft: Biplane, centre: Floats, thrust: float, moment: float) -> Floats:
    """The least thrusts that give a thrust [N] and, where their places allow, a pitching moment.

    Parameters
    ----------
    centre : that the moment is about, geometry axes, shape (3,) [m]
    moment : of the rotors, nose up [N m]
    """
    axes, arms = _axes_and_arms(craft, centre)
    gives = np.vstack([axes[:, :1].T, np.cross(arms, axes)[:, 1:2].T])
    return np.asarray(np.linalg.pinv(gives, rcond=1e-6) @ np.array([thrust, moment]))


def _axes_and_arms(craft: Biplane, centre: Floats) -> tuple[Floats, Floats]:
    """Directions of thrust, and places from a point, body axes, shape (rotors, 3)."""
    axes = np.array([rotor.direction for rotor in craft.rotors]).reshape(-1, 3)
    places = np.array([rotor.position_m for rotor in craft.rotors]).reshape(-1, 3) - centre
    return axes @ GEOMETRY_TO_BODY.T, places @ GEOMETRY_TO_BODY.T


def rates_about(
    craft: Biplane, centre: Floats, velocity: Floats, density: float, each: Floats
) -> RotorRates:
    """Equations (2) and (4) about a point.

    Zero, as where thrust stays as it is, for a craft without rotors; :data:`NOT_KNOWN` where the
    rotors' model knows no state.

    Parameters
    ----------
    centre : the point, geometry axes, shape (3,) [m]
    velocity : of the craft, body axes, shape (3,) [m/s]
    each : thrust of every rotor [N]
    """
    if not craft.rotors:
        return NO_ROTORS
    rotors = blowing_rotors(craft)
    axes, arms = _axes_and_arms(craft, centre)
    levers = np.cross(arms, axes)
    wind = -velocity @ GEOMETRY_TO_BODY
    slopes = axial_slopes(rotors, wind, density, each)
    if not slopes.known:
        return NOT_KNOWN
    felt = np.hstack([axes, levers])
    turned = np.hstack([np.zeros_like(axes), -rotors.spins[:, None] * axes])
    held = [
        np.einsum("ik,il->kl", pull[:, None] * felt + turn[:, None] * turned, felt)
        for pull, turn in (slopes.held_speed, slopes.held_torque)
    ]
    fins = _across(axes, arms, side_slopes(rotors, wind, density, each))
    midway, to_speed = 0.5 * (held[0] + held[1]), 0.5 * (held[0] - held[1])
    return RotorRates(midway + fins, to_speed, SPREAD * fins)


def side_slopes(rotors: BlowingRotors, wind: Floats, density: float, thrusts: Floats) -> Floats:
    """s of every rotor in equation (4) [N s/m].

    Parameters
    ----------
    wind : past the craft, geometry axes, shape (3,) [m/s]
    thrusts : shape (rotors,) [N]
    """
    states = rotors.at_work(wind[None], thrusts[None], density)
    return np.array([
        side_force_slope(model, state, density)
        for model, state in zip(rotors.models, states, strict=True)
    ])  # fmt: skip


def _across(axes: Floats, arms: Floats, slopes: Floats) -> Floats:
    """Equation (4), from axes and places in body axes, shape (rotors, 3)."""
    rates = np.zeros((6, 6))
    for axis, arm, slope in zip(axes, arms, slopes, strict=True):
        moved = np.hstack([np.eye(3), np.cross(np.eye(3), arm).T])
        rates -= slope * moved.T @ (np.eye(3) - np.outer(axis, axis)) @ moved
    return rates


def axial_slopes(
    rotors: BlowingRotors, wind: Floats, density: float, thrusts: Floats
) -> AxialSlopes:
    """Equation (3) by differences.

    Parameters
    ----------
    wind : past the craft, geometry axes, shape (3,) [m/s]
    thrusts : shape (rotors,) [N]
    """
    axial = -rotors.axes @ wind
    edgewise = np.linalg.norm(wind + axial[:, None] * rotors.axes, axis=1)
    speeds, torques = np.empty((2, len(thrusts))), np.empty((2, len(thrusts)))
    for i, (model, area) in enumerate(zip(rotors.models, rotors.areas, strict=True)):
        step = STEP * max(abs(axial[i]), 1.0)
        push = STEP * 0.5 * density * max(axial[i] ** 2, 1.0) * area
        along = axial[i] + np.array([step, -step, 0.0, 0.0])
        pulls = thrusts[i] + np.array([0.0, 0.0, push, -push])
        state = model.state(disc_flow(pulls, along, edgewise[i], density, area), density)
        known = 1.0 if np.all(state.in_range) else np.nan
        for found, values in ((speeds, state.speed), (torques, state.torque)):
            found[0, i] = known * (values[0] - values[1]) / (2.0 * step)
            found[1, i] = known * (values[2] - values[3]) / (2.0 * push)
    return _held(speeds, torques)


def _held(speeds: Floats, torques: Floats) -> AxialSlopes:
    """Equation (3) from the rates of speed and torque with V and T, shape (2, rotors) each."""
    with np.errstate(divide="ignore", invalid="ignore"):
        by_speed, by_torque = -speeds[0] / speeds[1], -torques[0] / torques[1]
    return AxialSlopes(
        np.array([by_speed, torques[0] + torques[1] * by_speed]),
        np.array([by_torque, np.zeros_like(by_torque)]),
    )

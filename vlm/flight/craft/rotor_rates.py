"""How the loads of the rotors answer small motions of the craft, their controls fixed.

A rotor i at r_i from the centre of gravity, thrust T_i along a_i and torque Q_i on its shaft, meets
air along its axis at V_i. In a small motion (v, omega) of the craft

    dV_i = g_i . (v, omega),   g_i = (a_i, r_i x a_i)                                   (1)

    d(force, moment) = sum over i of (T_i' g_i + Q_i' h_i) dV_i,   h_i = (0, -s_i a_i)  (2)

with s_i the sense of its turn. T' and Q' hang on what a fixed control holds. At a held speed of
rotation Omega(T, V), by its total differential (momentum and blade theory give Omega and Q),

    T' = -Omega_V / Omega_T,   Q' = Q_V + Q_T T'                                        (3)

and at a held torque T' = -Q_V / Q_T, Q' = 0. A motor at a fixed throttle slows under load: it lies
between the two, and so do the rates here, midway, with half the distance as their half-width.
What speeds across the axes change is left out.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.frames import GEOMETRY_TO_BODY
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
    half_width : to a held speed on one side, a held torque on the other, shape (6, 6)
    """

    rates: Floats
    half_width: Floats


NO_ROTORS = RotorRates(np.zeros((6, 6)), np.zeros((6, 6)))


@dataclass(frozen=True)
class RotorSlopes:
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
    """Equation (2) about level flight at a fold, the thrust shared alike by all rotors.

    Zero, as where thrust stays as it is, for a craft without rotors, or one whose rotors' model
    knows no state there.
    """
    if not craft.rotors:
        return NO_ROTORS
    rotors = blowing_rotors(craft)
    each = np.full(len(craft.rotors), flight.thrust / len(craft.rotors))
    wind = -flight.motion[:3] @ GEOMETRY_TO_BODY
    slopes = rotor_slopes(rotors, wind, flight.density, each)
    if not slopes.known:
        return NO_ROTORS
    axes = rotors.axes @ GEOMETRY_TO_BODY.T
    places = np.array([rotor.position_m for rotor in craft.rotors]) - folded.masses.centre
    levers = np.cross(places @ GEOMETRY_TO_BODY.T, axes)
    spins = np.array([1.0 if rotor.spin == "right" else -1.0 for rotor in craft.rotors])
    felt = np.hstack([axes, levers])
    turned = np.hstack([np.zeros_like(axes), -spins[:, None] * axes])
    held = [
        np.einsum("ik,il->kl", pull[:, None] * felt + turn[:, None] * turned, felt)
        for pull, turn in (slopes.held_speed, slopes.held_torque)
    ]
    return RotorRates(0.5 * (held[0] + held[1]), 0.5 * np.abs(held[0] - held[1]))


def rotor_slopes(
    rotors: BlowingRotors, wind: Floats, density: float, thrusts: Floats
) -> RotorSlopes:
    """Equation (3) by differences.

    Parameters
    ----------
    wind : past the craft, geometry axes, shape (3,) [m/s]
    thrusts : shape (rotors,) [N]
    """
    axial = -rotors.axes @ wind
    steps = STEP * np.maximum(np.abs(axial), 1.0)
    pushes = STEP * 0.5 * density * np.maximum(axial**2, 1.0) * rotors.areas
    speeds, torques = np.empty((2, len(thrusts))), np.empty((2, len(thrusts)))
    for i, (step, push) in enumerate(zip(steps, pushes, strict=True)):
        faster = rotors.axes[i] * step
        streams = np.array([wind - faster, wind + faster, wind, wind])
        pulls = np.tile(thrusts, (4, 1))
        pulls[2:, i] += [push, -push]
        state = rotors.at_work(streams, pulls, density)[i]
        known = 1.0 if np.all(state.in_range) else np.nan
        for found, values in ((speeds, state.speed), (torques, state.torque)):
            found[0, i] = known * (values[0] - values[1]) / (2.0 * step)
            found[1, i] = known * (values[2] - values[3]) / (2.0 * push)
    return _held(speeds, torques)


def _held(speeds: Floats, torques: Floats) -> RotorSlopes:
    """Equation (3) from the rates of speed and torque with V and T, shape (2, rotors) each."""
    with np.errstate(divide="ignore", invalid="ignore"):
        by_speed, by_torque = -speeds[0] / speeds[1], -torques[0] / torques[1]
    return RotorSlopes(
        np.array([by_speed, torques[0] + torques[1] * by_speed]),
        np.array([by_torque, np.zeros_like(by_torque)]),
    )

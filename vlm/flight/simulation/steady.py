"""The steady state that a motion starts from: level flight with all balances zero.

Unknown are the angle of attack, the lean of the craft, and thrust and moments that the rotors
share; asked for is that nothing accelerates, tips standing at their folds on the gear. There is no
sideslip. Moments that the rotors' layout cannot make are left over and held by other means, as in
:mod:`vlm.flight.craft.level`; they are reported.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from vlm.constants import Floats
from vlm.errors import ComputationFailed
from vlm.flight.craft.level import STEEPEST_RAD, higher_airspeeds
from vlm.flight.simulation.attitude import attitude_of, to_earth
from vlm.flight.simulation.bodies import FIRST_SIDE
from vlm.flight.simulation.plant import AirLoads, Plant, layout_of

HELD_BY_ROTORS = 1e-6
STEPS = 3


@dataclass(frozen=True)
class SteadyState:
    """A craft in steady flight.

    Attributes
    ----------
    state : of the motion
    alpha, bank : angle of attack and lean [rad]
    thrusts : shape (thrusts,) [N]
    held_moment : what the rotors cannot hold, body axes, shape (3,) [N m]
    gear : moment of the gear on each side's fold [N m]
    air : loads of the air
    imbalance : largest rate of speed left [m/s^2, rad/s^2]
    """

    state: Floats
    alpha: float
    bank: float
    thrusts: Floats
    held_moment: Floats
    gear: Floats
    air: AirLoads
    imbalance: float

    @property
    def thrust(self) -> float:
        """Sum of the thrusts [N]."""
        return float(self.thrusts.sum())


def steady_state(plant: Plant, airspeed: float, folds: Floats) -> SteadyState:
    """Solve for level flight.

    Parameters
    ----------
    folds : of port and starboard [rad]

    Raises
    ------
    ComputationFailed : nothing balances at this airspeed
    """
    found = _on_the_wings(plant, airspeed, folds)
    if found is None:
        enough = _airspeed_that_flies(plant, airspeed, folds)
        such = "" if enough is None else f", such as {enough:g} m/s"
        raise ComputationFailed(
            f"no steady, level flight at {airspeed:g} m/s with folds"
            f" {np.degrees(folds[0]):.3g}, {np.degrees(folds[1]):.3g} deg; ask for a higher"
            f" airspeed{such}"
        )
    return found


def _airspeed_that_flies(plant: Plant, airspeed: float, folds: Floats) -> float | None:
    """A higher airspeed with steady flight on the wings [m/s]; None where none tried has it.

    By tables of sections and slipstream at the airspeed that has none.
    """
    for speed in higher_airspeeds(airspeed):
        if _on_the_wings(plant, speed, folds) is not None:
            return speed
    return None


def _on_the_wings(plant: Plant, airspeed: float, folds: Floats) -> SteadyState | None:
    """Level flight on the wings; None where nothing balances, or only far beyond their stall.

    Steeper roots are no flight: the tables of loads end before them.
    """
    found = _balanced(plant, airspeed, folds)
    return found if found is not None and abs(found.alpha) <= STEEPEST_RAD else None


def _balanced(plant: Plant, airspeed: float, folds: Floats) -> SteadyState | None:
    """Level flight in which nothing accelerates; None where none is found."""
    pose = plant.posed(folds)
    weight = plant.bodies.mass * float(np.linalg.norm(plant.gravity))
    turns_alone = _held_alone(plant)
    base = np.full(plant.thrusts, 0.0)

    def thrusts_of(unknown: Floats) -> Floats:
        wanted = unknown[2:] * weight
        return base + wanted[:1] if plant.rotors is None else plant.rotors.commanded(base, wanted)

    def balance(unknown: Floats) -> tuple[Floats, Floats, Floats, Floats, AirLoads]:
        alpha, bank = float(unknown[0]), float(unknown[1])
        speeds = np.zeros(8)
        speeds[0], speeds[2] = airspeed * np.cos(alpha), airspeed * np.sin(alpha)
        # The path is level: pitch and angle of attack differ by the lean alone.
        pitch = float(np.arctan(np.tan(alpha) * np.cos(bank)))
        turn = to_earth(attitude_of(bank, pitch))
        thrusts = thrusts_of(unknown)
        air = plant.air_loads(pose, speeds, np.zeros(3), thrusts)
        force = plant.generalised(air.loads) + plant.drag(pose, speeds, np.zeros(3))
        force = force + plant.bodies.weight(pose.parts, turn.T @ plant.gravity)
        force[:6] += plant.thrust_loads(thrusts, pose.centre)
        held = np.where(turns_alone, 0.0, unknown[3:] * weight)
        force[3:6] += held
        return force, thrusts, held, speeds, air

    def unbalanced(unknown: Floats) -> Floats:
        return np.asarray(balance(unknown)[0][:6] / weight)

    start = np.array([0.05, 0.0, 0.1, 0.0, 0.0, 0.0])
    found = root(unbalanced, start, method="hybr", tol=1e-13)
    for _ in range(STEPS):
        if np.abs(found.fun).max() < 1e-12:
            break
        found = root(unbalanced, found.x, method="hybr", tol=1e-14)
    force, thrusts, held, speeds, air = balance(found.x)
    if not np.abs(found.fun).max() < 1e-8:
        return None
    alpha, bank = float(found.x[0]), float(found.x[1])
    state = _state(plant, folds, alpha, bank, speeds, thrusts, air, -force[FIRST_SIDE:])
    changes = np.linalg.solve(plant.bodies.mass_matrix(pose.parts)[:6, :6], force[:6])
    return SteadyState(
        state, alpha, bank, thrusts, held, -force[FIRST_SIDE:], air, float(np.abs(changes).max())
    )


def _held_alone(plant: Plant) -> NDArray[np.bool_]:
    """By axis (roll, pitch, yaw), whether the rotors can make a moment about it."""
    if plant.rotors is None:
        return np.zeros(3, dtype=bool)
    effect = np.linalg.pinv(plant.rotors.share, rcond=1e-6)
    made = effect @ plant.rotors.share
    return np.asarray(np.abs(np.diag(made)[1:] - 1.0) < HELD_BY_ROTORS)


def _state(
    plant: Plant, folds: Floats, alpha: float, bank: float, speeds: Floats,
    thrusts: Floats, air: AirLoads, gear: Floats,
) -> Floats:  # fmt: skip
    layout = layout_of(plant)
    state = np.zeros(layout.size)
    state[layout.speeds] = speeds
    state[layout.folds] = folds
    pitch = float(np.arctan(np.tan(alpha) * np.cos(bank)))
    state[layout.attitude] = attitude_of(bank, pitch)
    if plant.drives is not None:
        state[layout.worms] = [
            drive.resting_worm(float(fold), float(moment))
            for drive, fold, moment in zip(plant.drives, folds, gear, strict=True)
        ]
    state[layout.thrust] = thrusts
    if plant.lag is not None:
        state[layout.late] = plant.lag.from_steady(air.loads)
    return state


def beyond_limits(plant: Plant, thrusts: Floats) -> str:
    """The rotor whose thrust is beyond its limits, with both; empty where none is."""
    if plant.rotors is None:
        return ""
    for name, thrust, low, high in zip(
        plant.rotors.names, thrusts, plant.rotors.low, plant.rotors.high, strict=True
    ):
        if not low <= thrust <= high:
            return f"rotor {name} would give {thrust:.3g} N, of {low:.3g} to {high:.3g} N"
    return ""

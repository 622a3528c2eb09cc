"""Linear models of the rigid craft about steady flight, with folds and thrusts as inputs.

    x' = A x + B i,   y = C x + D i                                                       (1)

x are the changes of (u, v, w, p, q, r) at the moment point, body axes, and of bank, pitch and
heading; i those of both folds and of the thrusts; y those of x. The tips stand still on their
hinges: what their turning rates do is left out, as is the lag of the air.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flight.simulation.attitude import attitude_of, to_earth
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.steady import SteadyState, steady_state

STATES = ("u_m_s", "v_m_s", "w_m_s", "p_rad_s", "q_rad_s", "r_rad_s", "bank_rad", "pitch_rad",
          "heading_rad")  # fmt: skip
STEP = 1e-5


@dataclass(frozen=True)
class LinearModel:
    """Equation (1) at one trim.

    Attributes
    ----------
    airspeed : [m/s]
    folds : of port and starboard [rad]
    trim : the steady flight
    state : of the trim, in the order of :data:`STATES`, shape (9,)
    inputs : names of the inputs: folds [rad], thrusts [N]
    a, b : shape (9, 9), (9, inputs)
    c, d : shape (9, 9), (9, inputs)
    """

    airspeed: float
    folds: Floats
    trim: SteadyState
    state: Floats
    inputs: tuple[str, ...]
    a: Floats
    b: Floats
    c: Floats
    d: Floats


def rigid_rates(
    plant: Plant, state: Floats, folds: Floats, thrusts: Floats, held: Floats
) -> Floats:
    """Rates of :data:`STATES` of the craft with its tips held at their folds, shape (9,).

    Parameters
    ----------
    held : moment held by other means than thrust, body axes [N m]
    """
    bank, pitch, heading = state[6:]
    turn = to_earth(attitude_of(bank, pitch, heading))
    pose = plant.posed(np.asarray(folds, dtype=float))
    speeds = np.append(state[:6], [0.0, 0.0])
    still = np.zeros(3)
    force = plant.generalised(plant.air_loads(pose, speeds, still, thrusts).loads)
    force = force + plant.drag(pose, speeds, still)
    force = force + plant.bodies.weight(pose.parts, turn.T @ plant.gravity)
    force[:6] += plant.thrust_loads(thrusts, pose.centre)
    force[3:6] += held
    if plant.rotors is not None:
        none = np.zeros(plant.thrusts)
        force[3:6] += plant.rotors.gyroscopic(thrusts, none, state[3:6])
    force = (force - plant.bodies.bias(pose.parts, speeds))[:6]
    mass = plant.bodies.mass_matrix(pose.parts)[:6, :6] + pose.apparent[:6, :6]
    changes = np.linalg.solve(mass, force)
    p, q, r = state[3:6]
    across = q * np.sin(bank) + r * np.cos(bank)
    angles = [
        p + across * np.tan(pitch),
        q * np.cos(bank) - r * np.sin(bank),
        across / np.cos(pitch),
    ]
    return np.concatenate([changes, angles])


def linear_model(plant: Plant, airspeed: float, folds: Floats) -> LinearModel:
    """Trim and linearise, by central differences.

    Raises
    ------
    ComputationFailed : nothing balances at this airspeed
    """
    trim = steady_state(plant, airspeed, folds)
    pitch = float(np.arctan(np.tan(trim.alpha) * np.cos(trim.bank)))
    state = np.concatenate([trim.state[:6], [trim.bank, pitch, 0.0]])
    around = np.concatenate([state, folds, trim.thrusts])

    def rates(values: Floats) -> Floats:
        return rigid_rates(plant, values[:9], values[9:11], values[11:], trim.held_moment)

    columns = []
    for i in range(len(around)):
        step = np.zeros(len(around))
        step[i] = STEP
        columns.append((rates(around + step) - rates(around - step)) / (2.0 * STEP))
    both = np.array(columns).T
    names = ("all",) if plant.rotors is None else plant.rotors.names
    inputs = (
        "fold_left_rad",
        "fold_right_rad",
        *(f"thrust_{n.replace(' ', '_')}_N" for n in names),
    )
    size = len(inputs)
    return LinearModel(
        airspeed, np.asarray(folds), trim, state, inputs,
        both[:, :9], both[:, 9:], np.eye(9), np.zeros((9, size)),
    )  # fmt: skip

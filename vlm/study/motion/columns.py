"""The columns of a motion's history, by the names of JSON and dataset, and which are reported."""

import numpy as np

from vlm.constants import Floats
from vlm.flight.simulation.bodies import SIDES
from vlm.flight.simulation.history import History
from vlm.flight.simulation.plant import Plant

PEAKS: tuple[tuple[str, str], ...] = (
    ("bank_deg", "deg"),
    ("height_m", "m"),
    ("beta_deg", "deg"),
    ("alpha_deg", "deg"),
    ("load_factor", "1"),
    ("roll_rate_deg_s", "deg/s"),
    ("stall_margin_deg", "deg"),
    ("stalled_share", "1"),
)
"""Quantities of the history whose extremes are reported, and their units; those of hinges, worms
and servos follow."""
LOWEST = ("height_m", "stall_margin_deg")
"""Of these the lowest is reported, of the others the largest either way."""


def extreme(name: str, values: Floats) -> int:
    """Place of the value that is reported."""
    return int(np.argmin(values)) if name in LOWEST else int(np.argmax(np.abs(values)))


def apart(name: str, values: Floats, others: Floats) -> float:
    """How far another history's reported extreme lies from this one's.

    On the same side: a swing to and fro may reach a little farther the other way in one of them.
    Where the other is larger either way, that counts: its size is what limits are held against.
    """
    own = float(values[extreme(name, values)])
    if name in LOWEST:
        return abs(float(others.min()) - own)
    same = float(others.max() if own > 0.0 else others.min())
    return max(abs(same - own), float(np.abs(others).max()) - abs(own))


def columns_of(plant: Plant, history: History) -> dict[str, Floats]:
    """The history by the names of JSON and dataset, degrees for angles."""
    deg = np.degrees
    found = {
        "time_s": history.times,
        "bank_deg": deg(history.bank),
        "pitch_deg": deg(history.pitch),
        "heading_deg": deg(history.heading),
        "alpha_deg": deg(history.alpha),
        "beta_deg": deg(history.beta),
        "airspeed_m_s": history.airspeed,
        "roll_rate_deg_s": deg(history.rates[:, 0]),
        "pitch_rate_deg_s": deg(history.rates[:, 1]),
        "yaw_rate_deg_s": deg(history.rates[:, 2]),
        "north_m": history.north,
        "east_m": history.east,
        "height_m": history.height,
        "load_factor": history.load_factor,
        "stall_margin_deg": deg(history.stall_margin),
        "stalled_share": history.stalled,
    }
    for side in SIDES:
        found |= {
            f"fold_{side}_deg": deg(history.folds[side]),
            f"fold_rate_{side}_deg_s": deg(history.fold_rates[side]),
            f"commanded_{side}_deg": deg(history.targets[side]),
            f"worm_torque_{side}_N_m": history.worm_torques[side],
            f"servo_torque_{side}_N_m": history.servo_torques[side],
            f"current_{side}_A": history.currents[side],
        }
    found |= {f"hinge_{body}_N_m": values for body, values in history.hinges.items()}
    names = ("all",) if plant.rotors is None else plant.rotors.names
    for i, name in enumerate(names):
        found[f"thrust_{name.replace(' ', '_')}_N"] = history.thrusts[:, i]
    return found

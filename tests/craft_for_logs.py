"""An analytic power model for the tests of the flight log, and logs invented with it.

It stands in for the tool's own power curve, so that what is true is known in closed form: level
flight with a parabolic polar (D = q f + (W/b)^2 / (pi q e)), a constant efficiency and a constant
load. All numbers are invented.
"""

import importlib
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.log import FlightLogFormat
from vlm.log.prediction import Prediction, Unknown

sys.path.insert(0, str(Path(__file__).parents[1] / "docs"))
invent = importlib.import_module("make_invented_log")
sys.path.pop(0)

MASS = 3.2
EFFICIENCY = 0.55
FIXED_LOAD = 12.0
DRAG_AREA = 0.022
SPAN = {"loiter": 1.9, "dash": 1.25}
EXTRA_AREA = {"loiter": 0.006, "dash": 0.0}
SETTINGS = {"loiter": FoldAngles(10.0, 10.0), "dash": FoldAngles(-90.0, -90.0)}
NAMES = {folds: name for name, folds in SETTINGS.items()}
SPEEDS = {"loiter": (9.0, 11.0, 13.0, 15.0, 17.0), "dash": (11.0, 13.0, 15.0, 17.0, 19.0)}

UNKNOWNS = {
    "drag_area_m2": Unknown("drag_area_m2", "parasite drag area", "m^2", DRAG_AREA, 0.0, 0.2, 0.01),
    "efficiency": Unknown(
        "efficiency", "propulsive efficiency", "1", EFFICIENCY, 0.1, 1.0, 0.05, "efficiency"
    ),
    "mass_kg": Unknown("mass_kg", "mass", "kg", MASS, 0.5, 10.0, 0.3),
    "fixed_load_W": Unknown(
        "fixed_load_W", "fixed load", "W", FIXED_LOAD, -50.0, 200.0, 5.0, "fixed_load"
    ),
}


def power_W(
    airspeed: np.ndarray, folds: FoldAngles, parameters: Mapping[str, float], density: float
) -> np.ndarray:
    name = NAMES[folds]
    value = {key: unknown.nominal for key, unknown in UNKNOWNS.items()} | dict(parameters)
    q = 0.5 * density * airspeed**2
    weight = value["mass_kg"] * GRAVITY
    drag = q * (value["drag_area_m2"] + EXTRA_AREA[name])
    drag = drag + (weight / SPAN[name]) ** 2 / (np.pi * q)
    return np.asarray(value["fixed_load_W"] + drag * airspeed / value["efficiency"])


INPUTS = {"efficiency": "efficiency of motors and controllers", "fixed_load": "fixed load"}
SPREADS = {"efficiency": 0.03 * EFFICIENCY, "fixed_load": 0.1 * FIXED_LOAD}


def prediction(density: float, spreads: Mapping[str, float] | None = None) -> Prediction:
    """The model as a prediction; ``spreads`` are standard deviations of its uncertain inputs."""
    spreads = spreads or {}

    def power(airspeed: np.ndarray, folds: FoldAngles, values: Mapping[str, float]) -> np.ndarray:
        return power_W(airspeed, folds, values, density)

    def effects(airspeed: np.ndarray, folds: FoldAngles) -> np.ndarray:
        keys = {"efficiency": "efficiency", "fixed_load": "fixed_load_W"}
        columns = []
        for name, spread in spreads.items():
            nominal = UNKNOWNS[keys[name]].nominal
            sides = [power(airspeed, folds, {keys[name]: nominal + s * spread}) for s in (-1, 1)]
            columns.append(0.5 * (sides[1] - sides[0]))
        return np.column_stack(columns)

    labels = {name: INPUTS[name] for name in spreads}
    return Prediction(power, SETTINGS, UNKNOWNS, labels, effects if spreads else None)


@dataclass(frozen=True)
class Truth:
    """What differs between the craft that flies and the one on paper, and its instruments."""

    parameters: Mapping[str, float]
    airspeed_offset: float = 0.0
    power_gain: float = 0.0
    rising: Mapping[str, float] | None = None


def log_text(truth: Truth, seed: int, seconds: float = 25.0, passes: int = 2, **weather) -> str:
    """An invented log of the analytic craft."""

    def true_power(airspeed: np.ndarray, name: str, density: float) -> np.ndarray:
        return power_W(airspeed, SETTINGS[name], truth.parameters, density)

    random = np.random.default_rng(seed)
    log = invent.invented_log(
        true_power,
        invent.flight_plan(SPEEDS, seconds, passes, random),
        invent.Craft(MASS, EFFICIENCY),
        invent.Weather(rising_mean_m_s=truth.rising or {}, **weather),
        invent.Instruments(airspeed_offset_m_s=truth.airspeed_offset, power_gain=truth.power_gain),
        random,
    )
    return str(invent.as_csv(log, "# invented: no craft ever flew this\n"))


def log_format(**changes: object) -> FlightLogFormat:
    """The block [log] that reads it."""
    block = {
        **invent.FORMAT,
        "modes": {name: name for name in SETTINGS},
        "altitude_zero_m": 210.0,
        "climb_efficiency": EFFICIENCY,
        **changes,
    }
    return FlightLogFormat.model_validate(block)

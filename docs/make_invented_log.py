"""Invent a flight log: a plan of steady legs, flown by a model craft through gusty air.

Nothing here was ever flown. The power comes from a power function that the caller gives, so that
what is true is known; gusts, sensor noise, drop-outs and a known error are added. Run as a script
it writes the log of the demo craft that the documentation reads, from the tool's own power curve
of a craft that drags more than its file says:

    python docs/make_invented_log.py tideline geometries/logs/tideline-invented.csv
"""

import argparse
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

GRAVITY = 9.80665
STANDARD_DENSITY = 1.225

# Airspeed [m/s], configuration, air density [kg/m^3]: electrical power of level flight [W].
Power = Callable[[np.ndarray, str, float], np.ndarray]


@dataclass(frozen=True)
class Leg:
    """A stretch flown at one speed in one configuration."""

    configuration: str
    airspeed_m_s: float
    heading_deg: float
    seconds: float


@dataclass(frozen=True)
class Weather:
    """The air: all standard deviations are of the invented scatter."""

    wind_north_m_s: float = 1.5
    wind_east_m_s: float = -2.0
    wind_change_m_s: float = 0.25
    wind_change_time_s: float = 40.0
    gust_m_s: float = 0.30
    gust_time_s: float = 2.0
    rising_m_s: float = 0.10
    rising_time_s: float = 12.0
    rising_mean_m_s: Mapping[str, float] = field(default_factory=dict)
    ground_altitude_m: float = 210.0
    temperature_K: float = 291.0


@dataclass(frozen=True)
class Instruments:
    """What the sensors make of the truth."""

    rate_Hz: float = 5.0
    airspeed_offset_m_s: float = 0.0
    airspeed_noise_m_s: float = 0.15
    power_gain: float = 0.0
    power_noise: float = 0.01
    trim_scatter: float = 0.01
    throttle_scatter: float = 0.04
    throttle_time_s: float = 1.5


@dataclass(frozen=True)
class Craft:
    """What of the craft the log needs beside its power."""

    mass_kg: float
    climb_efficiency: float


def flight_plan(
    speeds: Mapping[str, Sequence[float]],
    seconds: float,
    passes: int,
    random: np.random.Generator,
) -> list[Leg]:
    """Every configuration at every speed, in mixed order, each pass mixed again.

    Slow changes of the air spoil neighbouring legs alike; in mixed order they do not pass for a
    trend with airspeed, or for a difference between configurations.
    """
    wanted = [(name, float(speed)) for name, values in speeds.items() for speed in values]
    legs = []
    for number in range(passes):
        for place, row in enumerate(random.permutation(len(wanted))):
            heading = (70.0 + 180.0 * (place % 2) + 90.0 * number) % 360.0
            legs.append(Leg(*wanted[row], heading, seconds))
    return legs


def wandering(
    count: int, step: float, deviation: float, time: float, random: np.random.Generator
) -> np.ndarray:
    """Noise with an exponential memory (a first-order Gauss-Markov sequence), shape (count)."""
    keep = np.exp(-step / time)
    kicks = random.normal(0.0, deviation * np.sqrt(1.0 - keep**2), count)
    out = np.empty(count)
    value = random.normal(0.0, deviation)
    for row in range(count):
        value = keep * value + kicks[row]
        out[row] = value
    return out


def _course(legs: Sequence[Leg], step: float) -> dict[str, np.ndarray]:
    """Commanded airspeed, heading, climb, leg number and whether a leg is flown steadily."""
    columns: dict[str, list[np.ndarray]] = {k: [] for k in ("v", "psi", "climb", "leg", "steady")}
    speed, heading = legs[0].airspeed_m_s, legs[0].heading_deg
    for number, leg in enumerate(legs):
        turn = (leg.heading_deg - heading + 180.0) % 360.0 - 180.0
        change = max(abs(turn) / 25.0, abs(leg.airspeed_m_s - speed) / 1.0, 4.0)
        for seconds, steady in ((change, False), (leg.seconds, True)):
            count = round(seconds / step)
            share = np.arange(count) / count if not steady else np.ones(count)
            columns["v"].append(speed + share * (leg.airspeed_m_s - speed))
            columns["psi"].append(heading + share * turn)
            rise = 1.2 * np.sin(np.pi * share) * (-1.0) ** number
            columns["climb"].append(np.zeros(count) if steady else rise)
            columns["leg"].append(np.full(count, number))
            columns["steady"].append(np.full(count, steady))
        speed, heading = leg.airspeed_m_s, heading + turn
    return {name: np.concatenate(parts) for name, parts in columns.items()}


def invented_log(
    power: Power,
    legs: Sequence[Leg],
    craft: Craft,
    weather: Weather,
    instruments: Instruments,
    random: np.random.Generator,
) -> pd.DataFrame:
    """The log of a plan, one row a sample, as the instruments wrote it.

    The power is asked for at the mean density; the small departures from it follow at equal lift
    coefficient.
    """
    step = 1.0 / instruments.rate_Hz
    flown = _course(legs, step)
    count = flown["v"].size
    altitude = 60.0 + np.cumsum(flown["climb"]) * step
    pressure = 101325.0 * (1.0 - 2.25577e-5 * (altitude + weather.ground_altitude_m)) ** 5.25588
    temperature = weather.temperature_K - 0.0065 * altitude
    density = pressure / (287.05287 * temperature)
    names = np.array([leg.configuration for leg in legs])[flown["leg"]]
    mean_density = float(density.mean())
    scale = np.sqrt(density / mean_density)
    level = np.empty(count)
    for name in np.unique(names):
        rows = names == name
        level[rows] = power(flown["v"][rows] * scale[rows], str(name), mean_density) / scale[rows]
    acceleration = np.gradient(flown["v"], step)
    rising = wandering(count, step, weather.rising_m_s, weather.rising_time_s, random)
    rising += np.array([weather.rising_mean_m_s.get(leg.configuration, 0.0) for leg in legs])[
        flown["leg"]
    ]
    climb = flown["climb"] + flown["v"] * acceleration / GRAVITY - rising
    throttle = wandering(
        count, step, instruments.throttle_scatter, instruments.throttle_time_s, random
    )
    trim = random.normal(0.0, instruments.trim_scatter, len(legs))[flown["leg"]]
    true_power = level * (1.0 + throttle + trim)
    true_power += craft.mass_kg * GRAVITY * climb / craft.climb_efficiency
    gust = wandering(count, step, weather.gust_m_s, weather.gust_time_s, random)
    state = {
        "airspeed": flown["v"] + gust,
        "power": true_power,
        "heading_deg": flown["psi"],
        "altitude": altitude,
        "pressure": pressure,
        "temperature": temperature,
        "density": density,
    }
    columns = _written(state, weather, instruments, random)
    columns.insert(1, "mode", names)
    return columns


def _written(
    state: Mapping[str, np.ndarray],
    weather: Weather,
    instruments: Instruments,
    random: np.random.Generator,
) -> pd.DataFrame:
    """What the instruments write of a true state."""
    airspeed, power, degrees = state["airspeed"], state["power"], state["heading_deg"]
    count, step = airspeed.size, 1.0 / instruments.rate_Hz
    noise = random.normal(size=(9, count))
    indicated = airspeed * np.sqrt(state["density"] / STANDARD_DENSITY)
    read_power = power * (1.0 + instruments.power_gain)
    read_power = read_power * (1.0 + instruments.power_noise * noise[0])
    voltage = 23.4 - 1.2 * np.arange(count) / count - 0.0008 * read_power
    heading = np.radians(degrees)
    change = [
        wandering(count, step, weather.wind_change_m_s, weather.wind_change_time_s, random)
        for _ in range(2)
    ]
    north = airspeed * np.cos(heading) + weather.wind_north_m_s + change[0]
    east = airspeed * np.sin(heading) + weather.wind_east_m_s + change[1]
    turn_rate = np.gradient(degrees, step)
    bank = np.degrees(np.arctan(np.radians(turn_rate) * airspeed / GRAVITY))
    course = np.degrees(np.arctan2(east, north)) + 1.0 * noise[8]
    offset = instruments.airspeed_offset_m_s
    return pd.DataFrame(
        {
            "t_s": np.arange(count) * step,
            "ias_m_s": indicated + offset + instruments.airspeed_noise_m_s * noise[1],
            "volt": voltage,
            "amp": read_power / voltage,
            "rpm": 1000.0 * np.cbrt(np.maximum(power, 0.0)) * (1.0 + 0.004 * noise[2]),
            "baro_m": state["altitude"] + 0.15 * noise[3],
            "static_hPa": state["pressure"] / 100.0,
            "oat_degC": state["temperature"] - 273.15,
            "roll_deg": bank + 0.8 * noise[4],
            "yaw_deg": (degrees + 1.0 * noise[5]) % 360.0,
            "yaw_rate_deg_s": turn_rate + 0.6 * noise[6],
            "gs_m_s": np.abs(np.hypot(north, east) + 0.1 * noise[7]),
            "course_deg": course % 360.0,
        }
    )


DECIMALS = {
    "t_s": 2, "ias_m_s": 2, "volt": 2, "amp": 3, "rpm": 0, "baro_m": 2, "static_hPa": 2,
    "oat_degC": 1, "roll_deg": 1, "yaw_deg": 1, "yaw_rate_deg_s": 1, "gs_m_s": 2, "course_deg": 1,
}  # fmt: skip

# The block [log] that reads what is written here.
FORMAT = {
    "columns": {
        "time": {"name": "t_s", "unit": "s"},
        "airspeed": {"name": "ias_m_s", "unit": "m/s", "kind": "indicated"},
        "voltage": {"name": "volt", "unit": "V"},
        "current": {"name": "amp", "unit": "A"},
        "rotor_speeds": ({"name": "rpm", "unit": "rpm"},),
        "mode": {"name": "mode"},
        "altitude": {"name": "baro_m", "unit": "m"},
        "pressure": {"name": "static_hPa", "unit": "hPa"},
        "temperature": {"name": "oat_degC", "unit": "degC"},
        "roll": {"name": "roll_deg", "unit": "deg"},
        "heading": {"name": "yaw_deg", "unit": "deg"},
        "yaw_rate": {"name": "yaw_rate_deg_s", "unit": "deg/s"},
        "ground_speed": {"name": "gs_m_s", "unit": "m/s"},
        "track": {"name": "course_deg", "unit": "deg"},
    },
}


def as_csv(log: pd.DataFrame, heading: str = "") -> str:
    """The log as text, each column with the digits a logger writes."""
    rounded = log.copy()
    for name, digits in DECIMALS.items():
        rounded[name] = rounded[name].map(lambda value, d=digits: f"{value:.{d}f}")
    stream = io.StringIO()
    stream.write(heading)
    rounded.to_csv(stream, index=False)
    return stream.getvalue()


def with_faults(text: str, random: np.random.Generator) -> str:
    """The text with what loggers do: lost readings, a row twice, a time that runs back, noise."""
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if not line.startswith("#")) + 1
    columns = lines[first - 1].split(",")
    rows = [line.split(",") for line in lines[first:]]
    for name, seconds in (("ias_m_s", 2.0), ("amp", 3.0), ("ias_m_s", 15.0)):
        start = int(random.integers(len(rows) // 10, 9 * len(rows) // 10))
        for row in rows[start : start + round(5.0 * seconds)]:
            row[columns.index(name)] = ""
    for _ in range(3):
        place = int(random.integers(10, len(rows) - 10))
        rows.insert(place, list(rows[place]))
    place = int(random.integers(10, len(rows) - 10))
    rows[place], rows[place + 1] = rows[place + 1], rows[place]
    rows[int(random.integers(10, len(rows) - 10))][columns.index("volt")] = "#ERR"
    rows[int(random.integers(10, len(rows) - 10))] = ["garbled"]
    return "\n".join([*lines[:first], *(",".join(row) for row in rows)]) + "\n"


# What the craft of the invented log differs in from its file, and what its instruments do. The
# documentation tells the reader; the tool has to find it.
DRAG_AREA_FACTOR = 2.5
EFFICIENCY_FACTOR = 0.95
OFFSET_M_S = 0.25
GAIN = 0.01
SPEEDS = {"loiter": (11.0, 13.0, 15.0, 17.0, 19.0), "dash": (13.0, 15.0, 17.0, 19.0, 21.0)}
SECONDS, PASSES, SEED = 25.0, 3, 8

HEADING = """# INVENTED: this log was never flown. docs/make_invented_log.py made it from a model
# of the demo craft with a known error, gusts, noise and the faults that loggers make.
"""


def demo_power(craft: Any, speeds: Mapping[str, Sequence[float]]) -> Power:
    """The tool's own power curves of a craft, each solved once."""
    from vlm.log.craft_prediction import CraftPower, speeds_for

    curves: dict[float, Any] = {}

    def power(airspeed: np.ndarray, name: str, density: float) -> np.ndarray:
        flown = np.array([speed for values in speeds.values() for speed in values])
        solved = curves.setdefault(density, CraftPower(craft, density, speeds_for(flown)))
        return np.asarray(solved(airspeed, craft.configurations[name].folds, {}))

    return power


def demo_log(name: str) -> str:
    """The invented log of a demo craft as text."""
    from vlm.description.loading import load_biplane
    from vlm.log.craft_unknowns import DRAG_AREA, EFFICIENCY, corrected, drag_area

    craft = load_biplane(name)
    propulsion = craft.propulsion
    efficiency = propulsion.motor_efficiency * propulsion.controller_efficiency
    changed = {
        DRAG_AREA: DRAG_AREA_FACTOR * drag_area(craft),
        EFFICIENCY: EFFICIENCY_FACTOR * efficiency,
    }
    random = np.random.default_rng(SEED)
    log = invented_log(
        demo_power(corrected(craft, changed), SPEEDS),
        flight_plan(SPEEDS, SECONDS, PASSES, random),
        Craft(craft.mass.total_kg, craft.log.climb_efficiency),
        Weather(),
        Instruments(rate_Hz=4.0, airspeed_offset_m_s=OFFSET_M_S, power_gain=GAIN),
        random,
    )
    return with_faults(as_csv(log, HEADING), random)


def main() -> None:
    parser = argparse.ArgumentParser(description="Write the invented log of a demo craft.")
    parser.add_argument("craft", help="geometry file, or the name of a shipped one")
    parser.add_argument("path", type=Path, help="where the log goes")
    chosen = parser.parse_args()
    chosen.path.parent.mkdir(parents=True, exist_ok=True)
    chosen.path.write_text(demo_log(chosen.craft), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()

"""Invented logs of known truth for the coverage study: what flies, what reads, what is stated.

Each scenario draws a truth for every seed, flies it, and may spoil the written columns as real
instruments do. What it states in ``[log.uncertainty]`` is what the truth was drawn from, or
nothing, where the tool's own assumptions must do.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from craft_for_logs import EFFICIENCY, MASS, SETTINGS, invent, log_format, power_W

SPEEDS = {"loiter": (11.0, 13.0, 15.0, 17.0), "dash": (11.0, 13.0, 15.0, 17.0)}
STATED = {
    "airspeed_offset_m_s": 0.2, "airspeed_scale": 0.01, "airspeed_by_configuration_m_s": 0.05,
    "power_share": 0.02,
    "current_zero_A": 0.05, "density_share": 0.003, "rising_air_m_s": 0.03,
    "climb_efficiency": 0.03, "heading_deg": 2.0,
}  # fmt: skip


@dataclass(frozen=True)
class Flown:
    """One log of a scenario and the truth behind it."""

    text: str
    how: Any
    parameters: Mapping[str, float]
    wind: tuple[float, float]
    offset_m_s: float

    def power(self, name: str, airspeed: float, density: float) -> float:
        """True power of level flight [W]."""
        at = np.array([airspeed])
        return float(power_W(at, SETTINGS[name], self.parameters, density)[0])


Spoil = Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame]


@dataclass(frozen=True)
class Scenario:
    """How a kind of logs is made.

    Attributes
    ----------
    name : of it
    weather, instruments : changes of the air and of the instruments
    order : "mixed", "blocks" (one configuration after the other) or "out and back"
    spoil : what is done to the written columns
    stated : ``[log.uncertainty]``
    columns : changes of the columns' block; None takes a column away
    rising_m_s : standard deviation of the mean vertical air of each configuration
    climb_efficiency : true one; None for the stated
    """

    name: str
    weather: Mapping[str, Any] = field(default_factory=dict)
    instruments: Mapping[str, Any] = field(default_factory=dict)
    order: str = "mixed"
    spoil: Spoil | None = None
    stated: Mapping[str, float] = field(default_factory=lambda: STATED)
    columns: Mapping[str, Any] = field(default_factory=dict)
    rising_m_s: float = 0.03
    climb_efficiency_spread: float = 0.03
    passes: int = 3


def _plan(scenario: Scenario, random: np.random.Generator) -> Sequence[Any]:
    legs = invent.flight_plan(SPEEDS, 25.0, scenario.passes, random)
    if scenario.order == "blocks":
        legs = sorted(legs, key=lambda leg: leg.configuration)
    if scenario.order == "out and back":
        legs = [
            invent.Leg(leg.configuration, leg.airspeed_m_s,
                       70.0 if leg.configuration == "loiter" else 250.0, leg.seconds)
            for leg in legs
        ]  # fmt: skip
    return legs


def flown(scenario: Scenario, seed: int) -> Flown:
    """One log of a scenario."""
    random = np.random.default_rng([seed, sum(map(ord, scenario.name))])
    parameters = {
        "drag_area_m2": random.uniform(0.018, 0.030),
        "efficiency": EFFICIENCY * (1.0 + 0.03 * random.normal()),
    }
    efficiency = EFFICIENCY + scenario.climb_efficiency_spread * random.normal()
    offset = random.normal(0.0, STATED["airspeed_offset_m_s"])
    wind = tuple(random.normal(0.0, 2.0, 2))
    rising = {name: random.normal(0.0, scenario.rising_m_s) for name in SETTINGS}

    def true_power(airspeed: np.ndarray, name: str, density: float) -> np.ndarray:
        return power_W(airspeed, SETTINGS[name], parameters, density)

    log = invent.invented_log(
        true_power,
        _plan(scenario, random),
        invent.Craft(MASS, efficiency),
        invent.Weather(
            wind_north_m_s=wind[0], wind_east_m_s=wind[1], rising_mean_m_s=rising,
            **scenario.weather,
        ),
        invent.Instruments(
            airspeed_offset_m_s=offset, power_gain=random.normal(0.0, STATED["power_share"]),
            **scenario.instruments,
        ),
        random,
    )  # fmt: skip
    log["ias_m_s"] *= 1.0 + STATED["airspeed_scale"] * random.normal()
    log["ias_m_s"] += _by_configuration(log, random, STATED["airspeed_by_configuration_m_s"])
    log["amp"] += STATED["current_zero_A"] * random.normal()
    if scenario.spoil is not None:
        log = scenario.spoil(log, random)
    columns = {**invent.FORMAT["columns"], **scenario.columns}
    how = log_format(
        columns={key: value for key, value in columns.items() if value is not None},
        uncertainty=dict(scenario.stated),
    )
    text = str(invent.as_csv(log, "# invented: no craft ever flew this\n"))
    if scenario.spoil is _wind_by_configuration:
        wind = (float("nan"), float("nan"))  # there is no one wind that could be held
    return Flown(text, how, parameters, wind, offset)


def _scaled(name: str, spread: float) -> Spoil:
    def spoil(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
        return log.assign(**{name: log[name] * (1.0 + spread * random.normal())})

    return spoil


def _shifted(name: str, spread: float) -> Spoil:
    def spoil(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
        return log.assign(**{name: log[name] + spread * random.normal()})

    return spoil


def _growing(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The power drifts by some per cent over the flight, as a motor that warms up."""
    time = log["t_s"] / log["t_s"].iloc[-1]
    return log.assign(amp=log["amp"] * (1.0 + 0.03 * random.normal() * time))


def _late(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """Current and ground speed are written some seconds late."""
    late = 5
    return log.assign(
        amp=log["amp"].shift(late).bfill(), gs_m_s=log["gs_m_s"].shift(late).bfill(),
        course_deg=log["course_deg"].shift(late).bfill(),
    )  # fmt: skip


def _dropping(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """A tenth of the readings is missing, in stretches of seconds."""
    log = log.copy()
    for name in ("ias_m_s", "amp", "gs_m_s"):
        for _ in range(len(log) // 400):
            start = int(random.integers(len(log) - 40))
            log.loc[start : start + 40, name] = np.nan
    return log


def _strays(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """For half a minute twice the lights are on: 12 W that no label tells."""
    log = log.copy()
    for _ in range(2):
        start = int(random.integers(len(log) - 150))
        log.loc[start : start + 150, "amp"] += 12.0 / log.loc[start : start + 150, "volt"]
    return log


def _wind_turns(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The wind grows by about a metre a second over the flight."""
    time = log["t_s"] / log["t_s"].iloc[-1] - 0.5
    course = np.radians(log["course_deg"])
    north = log["gs_m_s"] * np.cos(course) + random.normal() * time
    east = log["gs_m_s"] * np.sin(course) + random.normal() * time
    return log.assign(
        gs_m_s=np.hypot(north, east), course_deg=np.degrees(np.arctan2(east, north)) % 360.0
    )


def _by_configuration(log: pd.DataFrame, random: np.random.Generator, spread: float) -> np.ndarray:
    """A shift of its own for each configuration, shape (rows)."""
    shift = {name: spread * random.normal() for name in SETTINGS}
    return log["mode"].map(shift).to_numpy()


def _pitot_by_configuration(spread: float) -> Spoil:
    """Folded tips change the pressure at the static port."""

    def spoil(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
        return log.assign(ias_m_s=log["ias_m_s"] + _by_configuration(log, random, spread))

    return spoil


def _wind_by_configuration(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """One configuration was flown higher, or later, in another wind."""
    course = np.radians(log["course_deg"])
    north = log["gs_m_s"] * np.cos(course) + _by_configuration(log, random, 1.5)
    east = log["gs_m_s"] * np.sin(course) + _by_configuration(log, random, 1.5)
    return log.assign(
        gs_m_s=np.hypot(north, east), course_deg=np.degrees(np.arctan2(east, north)) % 360.0
    )


def _saturated(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The current sensor's range ends below what the fastest legs draw; it still is noisy."""
    top = float(np.quantile(log["amp"], random.uniform(0.75, 0.9)))
    noisy = top + 0.01 * random.normal(size=len(log))
    return log.assign(amp=np.minimum(log["amp"], noisy))


def _late_labels(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The mode is written twelve seconds after the tips have moved."""
    return log.assign(mode=log["mode"].shift(60).bfill())


def _pressure_wanders(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The height wanders by itself, at half a decimetre a second over minutes."""
    rate = invent.wandering(len(log), 0.2, 0.05, 180.0, random)
    return log.assign(baro_m=log["baro_m"] + np.cumsum(rate) * 0.2)


def _zero_wanders(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """The current sensor's zero wanders over minutes."""
    return log.assign(amp=log["amp"] + invent.wandering(len(log), 0.2, 0.2, 300.0, random))


def _one_climbs(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """One configuration was flown in gentle climbs, the other in descents; climb costs another
    share of the power than the file says."""
    climb = log["mode"].map({"loiter": 0.25, "dash": -0.25}).to_numpy() * random.choice([-1.0, 1.0])
    efficiency = EFFICIENCY + 0.1 * random.normal()
    power = MASS * 9.80665 * climb / np.clip(efficiency, 0.3, 0.9)
    return log.assign(
        baro_m=log["baro_m"] + np.cumsum(climb) * 0.2, amp=log["amp"] + power / log["volt"]
    )


def _slow_pitot(log: pd.DataFrame, random: np.random.Generator) -> pd.DataFrame:
    """A long hose: the airspeed follows with a time constant of three seconds."""
    return log.assign(ias_m_s=log["ias_m_s"].ewm(alpha=0.2 / 3.2).mean())


NO_GROUND = {"ground_speed": None, "track": None}
NO_CLIMB = {"altitude": None, "pressure": None}
GROUND = {
    "airspeed": {"name": "gs_m_s", "unit": "m/s", "kind": "ground"}, "ground_speed": None,
}  # fmt: skip
SCENARIOS = (
    Scenario("as stated"),
    Scenario("strong gusts", weather={"gust_m_s": 0.8}),
    Scenario("calm", weather={"gust_m_s": 0.1, "rising_m_s": 0.03},
             instruments={"throttle_scatter": 0.01, "trim_scatter": 0.003}),
    Scenario("gusts that last", weather={"gust_m_s": 0.4, "gust_time_s": 15.0}),
    Scenario("rough air", weather={"rising_m_s": 0.3, "rising_time_s": 20.0}),
    Scenario("slow rising air, by turns", stated={**STATED, "rising_air_m_s": 0.1},
             weather={"rising_m_s": 0.12, "rising_time_s": 240.0}),
    Scenario("slow rising air, in blocks", stated={**STATED, "rising_air_m_s": 0.1},
             weather={"rising_m_s": 0.12, "rising_time_s": 240.0}, order="blocks"),
    Scenario("slow rising air, in blocks, nothing stated", stated={},
             weather={"rising_m_s": 0.12, "rising_time_s": 240.0}, order="blocks"),
    Scenario("blocks, power drifts", order="blocks", spoil=_growing),
    Scenario("power drifts", spoil=_growing),
    Scenario("scatter in share of power", instruments={"trim_scatter": 0.05}),
    Scenario("throttle wanders slowly", instruments={"throttle_time_s": 20.0}),
    Scenario("late current and ground speed", spoil=_late),
    Scenario("drop-outs", spoil=_dropping),
    Scenario("stray loads", spoil=_strays),
    Scenario("wind that changes", spoil=_wind_turns),
    Scenario("pitot's scale off, nothing stated", spoil=_scaled("ias_m_s", 0.03), stated={}),
    Scenario("compass off, nothing stated", spoil=_shifted("yaw_deg", 6.0), stated={}),
    Scenario("current's zero off, nothing stated", spoil=_shifted("amp", 0.2), stated={}),
    Scenario("hot thermometer, nothing stated", spoil=_shifted("oat_degC", 6.0), stated={}),
    Scenario("no climb column", rising_m_s=0.35, columns=NO_CLIMB, stated={}),
    Scenario("climb from pressure", columns={"altitude": None}),
    Scenario("climb efficiency off", climb_efficiency_spread=0.1, stated={}),
    Scenario("ground speed, mixed headings", columns=GROUND, stated={}),
    Scenario("ground speed, out and back", columns=GROUND, stated={}, order="out and back"),
    Scenario("ground speed, no heading", stated={}, order="out and back",
             columns={**GROUND, "heading": None}),
    Scenario("no ground speed", columns={"ground_speed": None, "track": None}),
    Scenario("few legs", passes=1),
    Scenario("pitot's scale off, no ground speed, nothing stated", stated={}, columns=NO_GROUND,
             spoil=_scaled("ias_m_s", 0.03)),
    Scenario("pitot differs by configuration", spoil=_pitot_by_configuration(0.3), stated={}),
    Scenario("pitot differs by configuration, no ground speed", stated={}, columns=NO_GROUND,
             spoil=_pitot_by_configuration(0.3)),
    Scenario("ground speed, wind differs by configuration", columns=GROUND, stated={},
             spoil=_wind_by_configuration),
    Scenario("ground speed, wind differs, in blocks", columns=GROUND, stated={}, order="blocks",
             spoil=_wind_by_configuration),
    Scenario("ground speed, compass off", columns=GROUND, stated={},
             spoil=_shifted("yaw_deg", 8.0)),
    Scenario("current saturates", spoil=_saturated, stated={}),
    Scenario("labels late", spoil=_late_labels, stated={}),
    Scenario("height wanders", spoil=_pressure_wanders, stated={}, columns={"pressure": None}),
    Scenario("height wanders, in blocks", spoil=_pressure_wanders, stated={}, order="blocks",
             columns={"pressure": None}),
    Scenario("current's zero wanders, in blocks", spoil=_zero_wanders, stated={}, order="blocks"),
    Scenario("one configuration climbs", spoil=_one_climbs, stated={}),
    Scenario("slow pitot", spoil=_slow_pitot, stated={}),
)  # fmt: skip

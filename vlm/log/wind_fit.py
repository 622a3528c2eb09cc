"""Wind, and what pitot and compass read wrongly, from the path over ground.

Over ground the craft moves with its velocity through the air plus the wind:

    pitot and heading:     g = w + V (cos(psi + e), sin(psi + e))
    pitot alone:           |g - w| = V
    heading alone:         (g - w) lies along psi + e

with V = (reading - offset)/(1 + scale), the wind w, its slow change, the offset (of all, and what
each configuration adds to it), the scale and the compass error e as parameters of one fit, each
held down by what ``[log.uncertainty]`` states. Without a pitot each configuration may have met a
wind of its own, as it was flown higher or later. The
craft is taken to fly without sideslip. Everything that follows, the power included, uses the
airspeed of this fit and its covariance, so that no two parts of an answer can differ about it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.log import FlightLogFormat
from vlm.errors import InputRefused
from vlm.findings import Finding
from vlm.log.air_data import true_over_read
from vlm.log.cells import column
from vlm.log.fold_settings import UNKNOWN
from vlm.log.held_down import Column, Group, Problem, Solution, contrast, drift_columns, solved
from vlm.log.plausible import moving_cells
from vlm.log.reading import FlightLog
from vlm.log.stated import Stated
from vlm.log.steady import SteadyFlight
from vlm.log.wind import IN, AirData, Wind

# On headings that all lie within a right angle the wind along them and the offset look alike
# (common practice: fly a triangle or a box).
NARROW_DEG = 90.0
FEWEST_POINTS = 5
TURNING = 1.02
# Looser than any stated uncertainty: what the path over ground says when nothing is held down.
LOOSE_SCALE = 1.0
# A scale so far from one is a unit, not a calibration.
UNIT_SLIP, UNIT_NEAR = 0.25, 0.07
# Standard deviations from which on the ground speed overrules what the file states.
OVERRULED = 3.0
CHANGE = "change of the wind"
# Standard deviation of what the winds of two configurations flown on one day differ by (common
# practice).
WIND_BY_CONFIGURATION_M_S = 1.0
USUAL_CHANGE_M_S = 0.3
STEPS = 4


@dataclass(frozen=True)
class _Seen:
    """What the fit is made of; arrays of shape (points)."""

    ground: Floats
    airspeed: Floats
    heading: Floats
    time: Floats
    configuration: NDArray[Any]
    kind: str

    @property
    def own(self) -> tuple[str, ...]:
        """Names of what each configuration has of its own."""
        names = [str(name) for name in np.unique(self.configuration) if name != UNKNOWN]
        what = ("offset",) if self.kind.startswith("pitot") else ("wind north", "wind east")
        if len(names) < 2 or self.kind == "track":
            return ()
        return tuple(part + IN + name for part in what for name in names)


def _whole(what: str, configuration: NDArray[Any], values: Mapping[str, float]) -> Floats:
    """A value with what each configuration adds to it, shape (of the configurations)."""
    found = np.full(configuration.size, values[what])
    for name, value in values.items():
        part, _, where = name.partition(IN)
        if where and part == what:
            found[configuration == where] += value
    return found


def air_data(
    log: FlightLog,
    how: FlightLogFormat,
    steady: SteadyFlight,
    configuration: NDArray[Any],
    errors: Stated,
    level: float,
) -> AirData:
    """Airspeed and wind of a log.

    Parameters
    ----------
    log : as read
    how : the block ``[log]``
    steady : its segments; where they are too few, all moving cells of a turning flight are used
    configuration : name of each cell's configuration, shape (cells)
    errors : as stated
    level : of the intervals

    Raises
    ------
    InputRefused
        If airspeed and ground speed cannot be in the units that the file states.
    """
    on_ground_speed = how.columns.airspeed.kind == "ground"
    reading = column(log.cells, "airspeed")
    if "velocity_north" not in log.cells:
        return _unseen(reading, steady, errors, on_ground_speed=on_ground_speed)
    seen = _seen(log, steady, configuration, on_ground_speed=on_ground_speed)
    if seen is None:
        return _unseen(reading, steady, errors, on_ground_speed=on_ground_speed)
    scale = float(np.hypot(errors.airspeed_scale, 0.5 * errors.density_share))
    spreads = {
        "offset": max(errors.airspeed_offset_m_s, 1e-6),
        "scale": max(scale, 1e-6),
        "offset in": max(errors.airspeed_by_configuration_m_s, 1e-6),
        "wind in": WIND_BY_CONFIGURATION_M_S,
        "compass": max(np.radians(errors.heading_deg), 1e-6),
        "wind": errors.wind_m_s if seen.kind in ("track", "heading") else 30.0,
    }
    solution = _fitted(seen, spreads)
    findings: list[Finding] = []
    if seen.kind.startswith("pitot"):
        loose = _fitted(seen, {**spreads, "scale": LOOSE_SCALE})
        _refuse_a_unit_slip(log, how, loose)
        away = abs(loose.value("scale"))
        if away > OVERRULED * np.hypot(scale, loose.deviation(contrast(loose.names, {"scale": 1}))):
            solution = loose
            findings.append(_scale_finding(loose.value("scale"), scale))
    return _found(log, how, seen, configuration, solution, level, findings)


def _unseen(
    reading: Floats, steady: SteadyFlight, errors: Stated, *, on_ground_speed: bool
) -> AirData:
    """The log tells nothing about its airspeed: what is stated is all there is."""
    if on_ground_speed:
        none = np.zeros((0, 0))
        return AirData(reading, (), (), none, None, by_configuration_m_s=errors.wind_m_s)
    scale = np.hypot(errors.airspeed_scale, 0.5 * errors.density_share)
    flown = sorted({segment.configuration for segment in steady.segments})
    flown = flown if len(flown) > 1 else []
    names = ("offset", "scale", *(f"offset{IN}{name}" for name in flown))
    own = [errors.airspeed_by_configuration_m_s] * len(flown)
    spread = np.diag(np.square([errors.airspeed_offset_m_s, scale, *own]))
    return AirData(reading, names, _labels(names), spread, None)


def _labels(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"pitot's {name}" for name in names)


def _seen(
    log: FlightLog, steady: SteadyFlight, configuration: NDArray[Any], *, on_ground_speed: bool
) -> _Seen | None:
    """Means of segments, or of moments of a flight that hardly has any."""
    cells = log.cells
    heading = column(cells, "heading") if "heading" in cells else np.full(len(cells), np.nan)
    table = np.column_stack(
        (column(cells, "velocity_north"), column(cells, "velocity_east"),
         column(cells, "airspeed"), np.cos(heading), np.sin(heading), column(cells, "time"))
    )  # fmt: skip
    usable = np.isfinite(table[:, :3]).all(axis=1)
    segments = [s for s in steady.segments if usable[s.first : s.last + 1].any()]
    rows = [
        table[s.first : s.last + 1][usable[s.first : s.last + 1]].mean(axis=0) for s in segments
    ]
    means = np.array(rows).reshape(-1, table.shape[1])
    flown: NDArray[Any] = np.array([s.configuration for s in segments])
    with_heading = bool(means.size) and bool(np.isfinite(means[:, 3:5]).all())
    # A segment flown in a turn has no one velocity: there the moments themselves are used.
    turning = np.mean([s.load_factor for s in steady.segments] or [1.0]) > TURNING
    if (len(means) < FEWEST_POINTS or turning) and not on_ground_speed:
        chosen = _moments(table, usable & moving_cells(cells))
        means, with_heading, flown = table[chosen], False, configuration[chosen]
    if len(means) < FEWEST_POINTS:
        if not on_ground_speed or not len(means):
            return None
        with_heading = False
    kind = "pitot" + (" and heading" if with_heading else "")
    if on_ground_speed:
        kind = "heading" if with_heading else "track"
    return _Seen(
        ground=means[:, :2],
        airspeed=means[:, 2],
        heading=np.arctan2(means[:, 4], means[:, 3]),
        time=means[:, 5],
        configuration=flown,
        kind=kind,
    )


def _moments(table: Floats, rows: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Moving cells, so far apart that their misfits hardly remember each other."""
    moving, places = table[rows], np.flatnonzero(rows)
    if len(moving) < FEWEST_POINTS:
        return places
    rest = np.hypot(*(moving[:, :2] - moving[:, :2].mean(axis=0)).T) - moving[:, 2]
    rest = rest - rest.mean()
    spectrum = np.correlate(rest, rest, "full")[rest.size - 1 :] / max(rest @ rest, 1e-12)
    below = np.flatnonzero(spectrum < np.exp(-1.0))
    apart = int(np.clip(below[0] if below.size else 1, 1, max(len(moving) // 20, 1)))
    return places[::apart]


def _fitted(seen: _Seen, spreads: dict[str, float]) -> Solution:
    """The fit, by a few steps of Gauss and Newton."""
    at = {"wind north": 0.0, "wind east": 0.0, "offset": 0.0, "scale": 0.0, "compass": 0.0}
    at |= dict.fromkeys(seen.own, 0.0)
    solution: Solution | None = None
    if seen.kind == "pitot":
        at["wind north"], at["wind east"] = seen.ground.mean(axis=0) * 0.3
    for step in range(STEPS):
        problem = _linearised(seen, at, spreads)
        last = step == STEPS - 1
        scatter = None if step in (1, STEPS - 1) or solution is None else solution.scatter
        solution = solved(problem, scatter)
        if not last:
            at = {name: solution.value(name) if name in solution.names else 0.0 for name in at}
    assert solution is not None
    return solution


def _linearised(seen: _Seen, at: dict[str, float], spreads: dict[str, float]) -> Problem:
    """Rows of the misfit at some values, written for the parameters' whole values."""
    wind = np.column_stack(
        [_whole(side, seen.configuration, at) for side in ("wind north", "wind east")]
    )
    gain = 1.0 / (1.0 + at["scale"])
    speed = (seen.airspeed - _whole("offset", seen.configuration, at)) * gain
    away = seen.ground - wind
    psi = seen.heading + at["compass"]
    nose = np.column_stack((np.cos(psi), np.sin(psi)))
    across = np.column_stack((-np.sin(psi), np.cos(psi)))
    zero, one = np.zeros(speed.size), np.ones(speed.size)
    effects: dict[str, tuple[Floats, ...]]
    if seen.kind == "pitot and heading":
        parts = [seen.ground[:, 0] - speed * nose[:, 0], seen.ground[:, 1] - speed * nose[:, 1]]
        effects = {
            "wind north": (one, zero),
            "wind east": (zero, one),
            "offset": (-gain * nose[:, 0], -gain * nose[:, 1]),
            "scale": (-gain * speed * nose[:, 0], -gain * speed * nose[:, 1]),
            "compass": (speed * across[:, 0], speed * across[:, 1]),
        }
        y = np.concatenate(parts) - wind.T.ravel()
    elif seen.kind == "pitot":
        length = np.hypot(*away.T)
        unit = away / length[:, None]
        effects = {
            "wind north": (unit[:, 0],), "wind east": (unit[:, 1],),
            "offset": (-gain * one,), "scale": (-gain * speed,),
        }  # fmt: skip
        y = length - speed
    elif seen.kind == "heading":
        effects = {
            "wind north": (across[:, 0],), "wind east": (across[:, 1],),
            "compass": ((away * nose).sum(axis=1),),
        }  # fmt: skip
        y = (away * across).sum(axis=1)
    else:
        effects = {"wind north": (zero,), "wind east": (zero,)}
        y = zero
    for name in seen.own:
        what, _, where = name.partition(IN)
        here = (seen.configuration == where).astype(float)
        effects[name] = tuple(here * part for part in effects[what])
    whole = {name: np.concatenate(parts) for name, parts in effects.items()}
    y = y + sum(at[name] * effect for name, effect in whole.items())
    copies = y.size // speed.size
    columns = [Column(name, name, effect, _spread(spreads, name)) for name, effect in whole.items()]
    groups: tuple[Group, ...] = ()
    span = float(np.ptp(seen.time))
    if seen.kind != "track" and speed.size > FEWEST_POINTS:
        memory = max(0.25 * span, 30.0)
        for name in ("wind north", "wind east"):
            time = np.tile(seen.time, copies)
            drift = drift_columns(time, memory, CHANGE, whole[name])
            columns += [replace(c, name=f"{name}: {c.name}") for c in drift]
        groups = (Group(CHANGE, USUAL_CHANGE_M_S, 6.0),)
    return Problem(y, np.ones(y.size), np.ones(y.size), tuple(columns), groups)


def _spread(spreads: Mapping[str, float], name: str) -> float:
    what, _, where = name.partition(IN)
    what = "wind" if what.startswith("wind") else what
    return spreads[f"{what} in" if where else what]


def _refuse_a_unit_slip(log: FlightLog, how: FlightLogFormat, loose: Solution) -> None:
    """Refuse an airspeed whose ratio to the path over ground is that of two units."""
    ratio = 1.0 + loose.value("scale")
    error = loose.deviation(contrast(loose.names, {"scale": 1.0}))
    if abs(ratio - 1.0) < max(UNIT_SLIP, 3.0 * error):
        return
    airspeed = how.columns.airspeed
    mine = airspeed.SCALES[airspeed.unit][0]
    off, unit = min(
        (abs(ratio * factor / mine - 1.0), unit)
        for unit, (factor, _) in airspeed.SCALES.items()
        if unit != airspeed.unit
    )
    said = f' The unit is likely "{unit}".' if off < max(UNIT_NEAR, 2.0 * error) else ""
    raise InputRefused(
        f'{log.path}: log.columns.airspeed.unit = "{airspeed.unit}"; by the path over ground the'
        f" airspeed reads {ratio:.2f} times what it is.{said} (Or ground speed has another unit.)"
    )


def _scale_finding(scale: float, limit: float) -> Finding:
    return Finding(
        "log-pitot-scale",
        "by the path over ground the pitot's scale is off, it reads too"
        f" {'much' if scale > 0.0 else 'little'}; the airspeed is corrected by it",
        100.0 * abs(scale),
        100.0 * OVERRULED * limit,
        "%",
        "three standard uncertainties of log.uncertainty.airspeed_scale",
        "calibrate the pitot; state log.uncertainty.airspeed_scale as it is",
    )


def _found(
    log: FlightLog,
    how: FlightLogFormat,
    seen: _Seen,
    configuration: NDArray[Any],
    solution: Solution,
    level: float,
    findings: list[Finding],
) -> AirData:
    values = {name: solution.value(name) for name in solution.names}
    own = seen.own
    half = {
        name: solution.half_width(_mean_of(name, own, solution), level)
        for name in ("wind north", "wind east", "offset", "scale", "compass", *own)
        if name in values
    }
    mean = {name: float(_mean_of(name, own, solution) @ solution.theta) for name in half}
    reading = column(log.cells, "airspeed")
    nan, wander = float("nan"), 0.0
    if seen.kind.startswith("pitot"):
        airspeed = (reading - _whole("offset", configuration, values)) / (1.0 + values["scale"])
        names: tuple[str, ...] = ("offset", "scale", *own)
        labels = _labels(names)
    else:
        airspeed = np.hypot(
            column(log.cells, "velocity_north") - _whole("wind north", configuration, values),
            column(log.cells, "velocity_east") - _whole("wind east", configuration, values),
        )
        names = labels = ("wind north", "wind east", *own)
        wander = solution.scatter.spread.get(CHANGE, 0.0)
    per_reading = float(np.mean(true_over_read(column(log.cells, "density"), how)))
    places = [solution.place(name) for name in names]
    spread = direction_spread_deg(np.arctan2(seen.ground[:, 1], seen.ground[:, 0]))
    wind_found = Wind(
        north_m_s=mean["wind north"],
        east_m_s=mean["wind east"],
        north_half_m_s=half["wind north"],
        east_half_m_s=half["wind east"],
        offset_m_s=mean.get("offset", nan) / per_reading,
        offset_half_m_s=half.get("offset", nan) / per_reading,
        scale=values.get("scale", nan),
        scale_half=half.get("scale", nan),
        heading_deg=float(np.degrees(values.get("compass", nan))),
        heading_half_deg=float(np.degrees(half.get("compass", nan))),
        points=int(seen.airspeed.size),
        spread_deg=spread,
        source=seen.kind,
        findings=(*findings, *_warnings(spread, seen.kind)),
        by_configuration_m_s={
            n.partition(IN)[2]: values[n] / per_reading for n in own if n.startswith("offset")
        },
        by_configuration_half_m_s={
            n.partition(IN)[2]: half[n] / per_reading for n in own if n.startswith("offset")
        },
    )
    covariance = solution.covariance[np.ix_(places, places)]
    said = None if seen.kind == "track" else wind_found
    return AirData(airspeed, names, labels, covariance, said, wander_m_s=wander)


def _mean_of(name: str, own: Sequence[str], solution: Solution) -> Floats:
    """The contrast that gives a value with the mean of what configurations add to it."""
    parts = [part for part in own if part.startswith(name + IN)]
    values = {name: 1.0, **{part: 1.0 / len(parts) for part in parts}}
    return contrast(solution.names, values)


def direction_spread_deg(direction: Floats) -> float:
    """Smallest arc that holds all directions [deg].

    Parameters
    ----------
    direction : shape (any) [rad]
    """
    sorted_ = np.sort(np.degrees(direction) % 360.0)
    gaps = np.diff(np.concatenate((sorted_, [sorted_[0] + 360.0])))
    return float(360.0 - gaps.max())


def _warnings(spread: float, kind: str) -> list[Finding]:
    if spread >= NARROW_DEG or kind == "track":
        return []
    return [
        Finding(
            "log-wind-narrow",
            "the directions flown span too small an arc to tell the wind from a pitot's offset",
            spread,
            NARROW_DEG,
            "deg",
            "common practice",
            "fly steady legs on three or more headings round the compass",
        )
    ]

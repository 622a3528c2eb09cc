"""The speeds of a power curve that matter: of least power, of least energy, slowest, fastest."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from vlm.flight.craft.crossing import brackets_zero
from vlm.flight.trim.power_curve import STALL_KNOWN_DEG, PowerCurve, PowerPoint
from vlm.flight.trim.power_parts import equal_margins

SPEED_TOLERANCE = 0.005
JUST_PAST = 4.0 * SPEED_TOLERANCE
"""How far past the end of a stretch of speeds its limit is read [m/s]."""
SMOOTH_TURN_DEG = 8.0
NOT_REACHED = "none within the speeds asked for"


@dataclass(frozen=True)
class SpeedLimit:
    """What ends a stretch of speeds.

    Attributes
    ----------
    name : of the limit, in words; empty where there is none
    by_pitch_trim : whether equal thrusts on all rotors would stay within it
    """

    name: str = ""
    by_pitch_trim: bool = False

    def __str__(self) -> str:
        return f"{self.name}, by pitch trim" if self.by_pitch_trim else self.name


ONE_ASKED = "one airspeed alone was asked for"


@dataclass(frozen=True)
class SpecialSpeeds:
    """Speeds of one power curve; NaN where there is none within the speeds asked for.

    Attributes
    ----------
    least_power : of least electrical power, for the longest time aloft [m/s]
    least_energy : of least power over speed, for the longest way in still air [m/s]
    slowest_on_wings : from which on no strip is stalled [m/s]
    slowest : the lowest from which all speeds up to the fastest are within all limits [m/s]
    slowest_limit : what forbids less; none where the craft hovers
    fastest : the highest within all limits [m/s]
    fastest_limit : what forbids more
    at_least_power, at_least_energy : the trims there; None where there is none
    stall_not_known_to : highest airspeed at which it is not known whether the wings are
        stalled, for want of sections; NaN where it is known at all [m/s]
    """

    least_power: float
    least_energy: float
    slowest_on_wings: float
    slowest: float
    slowest_limit: "SpeedLimit"
    fastest: float
    fastest_limit: "SpeedLimit"
    at_least_power: PowerPoint | None
    at_least_energy: PowerPoint | None
    stall_not_known_to: float = float("nan")


def special_speeds(curve: PowerCurve) -> SpecialSpeeds:
    """Find the speeds of a curve, each confirmed by trims of its own; none of one speed alone."""
    if len(curve.points) == 1:
        nan, none = float("nan"), SpeedLimit(ONE_ASKED)
        return SpecialSpeeds(nan, nan, nan, nan, none, nan, none, None, None)
    endurance = least(curve, "electrical_power_W")
    distance = least(curve, "consumption_Wh_km")
    fastest, limit = _fastest(curve)
    slowest, slow_limit = _slowest(curve)
    nan = float("nan")
    return SpecialSpeeds(
        least_power=endurance.speed if endurance else nan,
        least_energy=distance.speed if distance else nan,
        slowest_on_wings=_slowest_on_wings(curve),
        slowest=slowest,
        slowest_limit=slow_limit,
        fastest=fastest,
        fastest_limit=limit,
        at_least_power=endurance,
        at_least_energy=distance,
        stall_not_known_to=_not_known_to(curve),
    )


def _not_known_to(curve: PowerCurve) -> float:
    """Airspeed from which on the wings are known not to be stalled, sought between two; or NaN."""
    unknown = np.flatnonzero(~curve.stall_known)
    if len(unknown) == 0:
        return float("nan")
    last = int(unknown[-1])
    if last + 1 == len(curve.points):
        return float(curve.speeds[last])

    def beyond(speed: float) -> float:
        return abs(curve.at(speed).value("alpha_deg")) - STALL_KNOWN_DEG

    low, high = float(curve.speeds[last]), float(curve.speeds[last + 1])
    return crossing_speed(beyond, low, high) if beyond(low) > 0.0 >= beyond(high) else high


def least(curve: PowerCurve, key: str) -> PowerPoint | None:
    """The allowed trim at which a quantity is least, of those that are known not to be stalled."""
    values = np.where(curve.decided, curve.values(key), np.inf)
    values = np.where(np.isfinite(values), values, np.inf)
    best = int(np.argmin(values))
    if not np.isfinite(values[best]):
        return None
    around = slice(max(best - 1, 0), best + 2)
    speeds, near = curve.speeds[around], values[around]
    if len(near) == 3 and _is_smooth(curve, best) and np.all(np.isfinite(near)):
        square, slope, _ = np.polyfit(speeds - speeds[1], near, 2)
        found = curve.at(float(speeds[1] - 0.5 * slope / square))
    else:
        found = curve.at(_lowest(curve, key, float(speeds[0]), float(speeds[-1])))
    nearest = curve.points[best]
    fit = found.is_allowed and curve.is_stall_known(found)
    better = fit and found.value(key) <= nearest.value(key)
    return found if better else nearest


def _is_smooth(curve: PowerCurve, index: int) -> bool:
    """Whether the three points around an index belong to one smooth stretch of a branch."""
    around = curve.points[index - 1 : index + 2]
    angles = [point.value("body_angle_deg") for point in around]
    return all(point.trims == 1 for point in around) and float(np.ptp(angles)) < SMOOTH_TURN_DEG


def _lowest(curve: PowerCurve, key: str, low: float, high: float) -> float:
    def value(speed: float) -> float:
        point = curve.at(speed)
        return point.value(key) if point.is_allowed and curve.is_stall_known(point) else 1e12

    found = minimize_scalar(
        value, bounds=(low, high), method="bounded", options={"xatol": SPEED_TOLERANCE}
    )
    return float(found.x)


def crossing_speed(difference: Callable[[float], float], low: float, high: float) -> float:
    """Where a function of speed changes its sign between two speeds [m/s]."""
    return float(brentq(difference, low, high, xtol=SPEED_TOLERANCE))


def _slowest_on_wings(curve: PowerCurve) -> float:
    """Lowest speed of the stretch without stalled strips that reaches highest."""
    unstalled = curve.values("stall_margin_deg") >= 0.0
    unstalled &= (curve.speeds > 0.0) & curve.stall_known
    flown = np.flatnonzero(unstalled & curve.allowed)
    if len(flown) == 0:
        return float("nan")
    first = int(flown[-1])
    while first > 0 and unstalled[first - 1]:
        first -= 1
    if first == 0:
        return float("nan")  # slower ones were not asked for

    def margin(speed: float) -> float:
        point = curve.at(speed)
        value = point.value("stall_margin_deg")
        if np.isnan(value) or not curve.is_stall_known(point):
            return -1.0
        return min(value, 1.0)  # infinite without a section

    low, high = float(curve.speeds[first - 1]), float(curve.speeds[first])
    # Between the two a trim of another branch may be the one that is found.
    return crossing_speed(margin, low, high) if margin(low) < 0.0 <= margin(high) else high


def _fastest(curve: PowerCurve) -> tuple[float, SpeedLimit]:
    """Highest allowed speed, and what forbids more."""
    flown = np.flatnonzero(curve.allowed)
    if len(flown) == 0:
        reason = next((p.limit for p in curve.points if p.limit), "")
        return float("nan"), SpeedLimit(reason)
    last = int(flown[-1])
    if last == len(curve.points) - 1:
        return float("nan"), SpeedLimit(NOT_REACHED)
    return _end_of_flight(curve, last, last + 1)


def _slowest(curve: PowerCurve) -> tuple[float, SpeedLimit]:
    """Lowest speed of the allowed stretch that holds the fastest, and what forbids less."""
    flown = np.flatnonzero(curve.allowed)
    if len(flown) == 0:
        return float("nan"), SpeedLimit(next((p.limit for p in curve.points if p.limit), ""))
    first = int(flown[-1])
    while first > 0 and curve.allowed[first - 1]:
        first -= 1
    if first == 0:
        if curve.speeds[0] == 0.0:
            return 0.0, SpeedLimit()
        return float("nan"), SpeedLimit(NOT_REACHED)
    return _end_of_flight(curve, first, first - 1)


def _end_of_flight(curve: PowerCurve, inside: int, outside: int) -> tuple[float, SpeedLimit]:
    """Where between two neighbouring speeds the margin vanishes, and of which limit."""

    def margin(speed: float) -> float:
        value = curve.at(speed).margin
        return value if np.isfinite(value) else -1.0

    beyond = curve.points[outside]
    if beyond.trim is None or beyond.measures is None or beyond.margin >= 0.0:
        return float(curve.speeds[inside]), SpeedLimit(beyond.limit)
    ends = sorted((float(curve.speeds[inside]), float(curve.speeds[outside])))
    speed = crossing_speed(margin, *ends)
    # Farther out another limit may be passed by more than the one that is passed first.
    further = speed + (JUST_PAST if outside > inside else -JUST_PAST)
    past = curve.at(min(max(further, ends[0]), ends[1]))
    if past.trim is None or past.measures is None or past.margin >= 0.0:
        past = beyond
    return speed, speed_limit(curve, past)


def speed_limit(curve: PowerCurve, beyond: PowerPoint) -> SpeedLimit:
    """The limit that a trim passes by most, and whether equal thrusts would keep within it."""
    assert beyond.trim is not None and beyond.measures is not None
    name = beyond.measures.limit
    equal = equal_margins(curve.problem, beyond.trim)
    return SpeedLimit(name, name in equal and equal[name] >= 0.0)


def speeds_at_body_angle(curve: PowerCurve, angle_deg: float) -> list[float]:
    """Allowed airspeeds at which the trimmed body stands at an angle, growing [m/s]."""
    apart = np.where(curve.allowed, curve.values("body_angle_deg") - angle_deg, np.nan)
    found: list[float] = []
    for i in range(len(apart) - 1):
        counted = apart[i] == 0.0 and i > 0 and np.isfinite(apart[i - 1])
        if counted or not brackets_zero(apart[i], apart[i + 1]):
            continue

        def difference(speed: float) -> float:
            return curve.at(speed).value("body_angle_deg") - angle_deg

        speed = crossing_speed(difference, float(curve.speeds[i]), float(curve.speeds[i + 1]))
        if abs(difference(speed)) < SMOOTH_TURN_DEG:
            found.append(speed)
    return found

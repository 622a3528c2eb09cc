"""Power against airspeed of several fold settings: the study behind ``foldspan power``."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TypedDict

import numpy as np

from vlm.air import Air, standard_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.trim.branches import FlownBranches, flown_branches
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.power_samples import SampledCurve, sampled_curve
from vlm.flight.trim.power_warnings import power_warnings
from vlm.flight.trim.powered import POWER_GRID, PoweredCraft, powered_craft
from vlm.flight.trim.sampled_speeds import (
    sampled_fastest,
    sampled_least,
    sampled_slowest,
)
from vlm.flight.trim.special_speeds import SpecialSpeeds, special_speeds, speeds_at_body_angle
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.flight.trim.trim_measures import measured
from vlm.flight.trim.uncertain_keys import MovedCraft, keys_left_out, with_keys
from vlm.lattice.cellule import Grid
from vlm.progress import Progress, silent
from vlm.sections.turning import StripWake
from vlm.study.power.branches import two_branches
from vlm.study.power.breakdown import Breakdown, breakdown
from vlm.study.power.crossings import Crossing, crossings
from vlm.study.power.pitch_trim import pitch_trim_warnings
from vlm.study.power.speed_placing import refined
from vlm.study.sensitivity import Draws, draws_of

SPEEDS, PLACED = 28, 12
"""Airspeeds spread evenly, and those placed where the curves bend, where none are asked for [1]."""
STALLED = -1.0
"""A stall margin of which no more is said than that it is passed [rad]."""
SLOWEST_TOP, FASTEST_TOP = 8.0, 90.0
SEARCH_STEP = 1.12
ROOM = 1.06

WAKES: Mapping[StripWake, str] = {
    "stream": "the wake of the wings leaves along the stream and the mean slipstream over them, its"
    " angle held beyond 12 degrees; it does not roll up",
    "craft": "the wake of the wings lies along the craft's axis, as asked for (--wake craft):"
    " against one along the stream lift is off by up to 0.7 % at 4 degrees and 3 % at 12, induced"
    " drag by up to 1 and 3 %, with either sign over the folds",
}
ASSUMPTIONS = (
    "steady, straight flight without sideslip; thrust along the rotors' axes; rotors hold every"
    " moment by differences of thrust",
    "wings: a lattice coupled to section polars; beyond 25 to 45 degrees from the wind, strip"
    " theory with published relations past stall stands in for it",
    WAKES["stream"],
    "rotors: momentum theory in inclined flow with an induced-power factor, blade elements, or"
    " measured tables; the wings do not act on the rotors, and rotors put no force in their own"
    " plane on the craft",
    "blade elements meet measured propellers only with one calibrating number for each rotor, the"
    " advance ratio without thrust (no_thrust_advance_ratio)",
    "slipstream: even velocity in a contracting tube that drifts with the cross wind",
    "constant efficiencies of motors and controllers; no wind, no gusts, no ground effect",
)


def level_settings(craft: Biplane) -> dict[str, FoldAngles]:
    """The file's named folds that are alike on both sides, flat where it has none.

    Settings that bank are no settings to fly far with.
    """
    named = {name: found.folds for name, found in craft.configurations.items()}
    alike = {name: folds for name, folds in named.items() if folds.is_symmetric}
    return alike or {"flat": FoldAngles()}


@dataclass(frozen=True)
class PowerPlan:
    """What ``power`` is asked for.

    Attributes
    ----------
    settings : fold settings by name
    speeds : airspeeds, growing [m/s]; chosen from hover to top speed where empty
    air : the air
    climb_angle_deg : of the flight path [deg]
    grid : the lattice
    intervals : whether intervals are sampled from the file's [uncertainty]
    body_angles_deg : body angles whose airspeeds are asked for [deg]
    wake : of the wings: along the stream of each state, or along the craft's axis
    """

    settings: Mapping[str, FoldAngles]
    speeds: tuple[float, ...] = ()
    air: Air = field(default_factory=standard_air)
    climb_angle_deg: float = 0.0
    grid: Grid = POWER_GRID
    intervals: bool = True
    body_angles_deg: tuple[float, ...] = ()
    wake: StripWake = "stream"

    @property
    def assumptions(self) -> list[str]:
        """What the curves rest on."""
        return [WAKES[self.wake] if text is WAKES["stream"] else text for text in ASSUMPTIONS]


@dataclass(frozen=True)
class PowerStudy:
    """Power curves of several settings.

    Attributes
    ----------
    craft, plan : what was asked; the plan with its speeds filled in
    curves, special : by setting
    crossings : between settings, see :mod:`vlm.study.power.crossings`
    draws : of the uncertain inputs; None without intervals
    sampled : by setting, over the samples; empty without intervals
    moved : by setting, the craft with its uncertain keys moved; empty without intervals
    findings : warnings, one a kind
    breakdowns : by setting, the power of every trim by its parts, and its rotors
    branches : by setting, what is flown from hover and from cruise; None where both are one
    at_body_angles : by setting and body angle [deg], the airspeeds of that angle [m/s]
    """

    craft: Biplane
    plan: PowerPlan
    curves: Mapping[str, PowerCurve]
    special: Mapping[str, SpecialSpeeds]
    crossings: tuple[Crossing, ...]
    draws: Draws | None
    sampled: Mapping[str, SampledCurve]
    moved: Mapping[str, MovedCraft]
    findings: tuple[Finding, ...]
    breakdowns: Mapping[str, Breakdown]
    branches: Mapping[str, FlownBranches | None]
    at_body_angles: Mapping[str, Mapping[float, Sequence[float]]]

    @property
    def speeds(self) -> Floats:
        """Airspeeds [m/s]."""
        return np.array(self.plan.speeds)

    def special_samples(self, name: str) -> dict[str, Floats]:
        """Speeds of one setting over the samples, each shifted by what the grid of speeds errs.

        A sample that a stalled trim's table of loads takes out of stall gains on and on there, and
        draws less than it would: no least power is looked for in it, and no end of stall.
        """
        sampled, nominal, curve = self.sampled[name], self.special[name], self.curves[name]
        stalled = curve.values("stall_margin_deg") < 0.0
        allowed = (sampled.margin >= 0.0) & curve.stall_known
        left_stall = (sampled.stall_margin >= 0.0) & stalled
        allowed &= ~left_stall
        on_wings = replace(
            sampled, stall_margin=np.where(left_stall, STALLED, sampled.stall_margin)
        )
        with np.errstate(divide="ignore"):
            consumed = sampled.power / self.speeds
        found = {
            "least_power_speed_m_s": sampled_least(self.speeds, sampled.power, allowed)[0],
            "least_power_W": sampled_least(self.speeds, sampled.power, allowed)[1],
            "best_range_speed_m_s": sampled_least(self.speeds, consumed, allowed)[0],
            "slowest_on_wings_m_s": sampled_slowest(self.speeds, on_wings),
            "fastest_m_s": sampled_fastest(self.speeds, sampled),
        }
        exact = {
            "least_power_speed_m_s": nominal.least_power,
            "least_power_W": _power_of(nominal),
            "best_range_speed_m_s": nominal.least_energy,
            "slowest_on_wings_m_s": nominal.slowest_on_wings,
            "fastest_m_s": nominal.fastest,
        }
        if len(self.speeds) == 1:
            return {key: np.full_like(values, np.nan) for key, values in found.items()}
        return {
            key: _centred(values, exact[key], None if key == "least_power_W" else self.speeds)
            for key, values in found.items()
        }


def _power_of(special: SpecialSpeeds) -> float:
    point = special.at_least_power
    return float("nan") if point is None else point.value("electrical_power_W")


def _centred(values: Floats, exact: float, speeds: Floats | None) -> Floats:
    """Samples shifted so that their median stands at the value found without a grid.

    Parameters
    ----------
    speeds : the grid, where the values are speeds [m/s]: it errs by no more than its spacing, and a
        median farther off belongs to another least value than the exact one, which no shift mends
    """
    if not np.any(np.isfinite(values)) or not np.isfinite(exact):
        return values
    shift = exact - float(np.nanmedian(values))
    if speeds is None:
        return np.asarray(values + shift)
    place = int(np.clip(np.searchsorted(speeds, exact), 1, len(speeds) - 1))
    spacing = float(np.max(np.diff(speeds[max(0, place - 2) : place + 2])))
    return np.asarray(np.maximum(values + np.clip(shift, -spacing, spacing), 0.0))


def power_study(craft: Biplane, plan: PowerPlan, progress: Progress = silent) -> PowerStudy:
    """Trim every setting at every speed, find the speeds that matter, sample the intervals.

    Parameters
    ----------
    progress : called with what is done, steps done, steps in all

    Raises
    ------
    InputRefused : a block is missing, or a setting cannot be built
    ComputationFailed : a setting can be trimmed neither in hover nor at the highest speed
    """
    if not plan.settings:
        raise InputRefused(f"{craft.source_name}: no fold setting to work out")
    crafts = {
        name: powered_craft(craft, folds, air=plan.air, grid=plan.grid, wake=plan.wake)
        for name, folds in plan.settings.items()
    }
    climb = float(np.radians(plan.climb_angle_deg))
    chosen = not plan.speeds
    if chosen:
        fastest = max(top_speed(one, climb) for one in crafts.values()) or FASTEST_TOP
        plan = _with_speeds(plan, np.linspace(0.0, ROOM * fastest, SPEEDS))
    curves: dict[str, PowerCurve] = {}
    total = len(crafts) * len(plan.speeds)
    for index, (name, one) in enumerate(crafts.items()):
        before = index * len(plan.speeds)
        said = partial(_said, progress, name, before, total)
        curves[name] = power_curve(one, plan.speeds, climb_angle=climb, report=said)
    if chosen:
        curves = refined(curves, PLACED)
        plan = _with_speeds(plan, next(iter(curves.values())).speeds)
    special = {name: special_speeds(curve) for name, curve in curves.items()}
    draws = draws_of(craft) if craft.uncertainty is not None and plan.intervals else None
    moved: dict[str, MovedCraft] = {}
    sampled: dict[str, SampledCurve] = {}
    if draws is not None:
        moved = {name: MovedCraft(one, draws.keys, plan.grid) for name, one in crafts.items()}
        sampled = _sampled(draws, curves, moved)
    warnings = [one for curve in curves.values() for one in power_warnings(curve)]
    warnings += keys_left_out(moved)
    of_pitch = pitch_trim_warnings(craft, curves)
    branches = {name: flown_branches(curve) for name, curve in curves.items()}
    warnings += [two_branches(name, found) for name, found in branches.items() if found is not None]
    return PowerStudy(
        craft=craft,
        plan=plan,
        curves=curves,
        special=special,
        crossings=tuple(crossings(curves, sampled)),
        draws=draws,
        sampled=sampled,
        moved=moved,
        findings=(*of_pitch, *gathered(warnings)),
        breakdowns={name: breakdown(curve) for name, curve in curves.items()},
        branches=branches,
        at_body_angles={
            name: {angle: speeds_at_body_angle(curve, angle) for angle in plan.body_angles_deg}
            for name, curve in curves.items()
        },
    )


def _said(
    progress: Progress, name: str, before: int, total: int, done: int, _of_curve: int
) -> None:
    progress(name, before + done, total)


def _with_speeds(plan: PowerPlan, speeds: Floats) -> PowerPlan:
    return replace(plan, speeds=tuple(float(u) for u in speeds))


def _sampled(
    draws: Draws, curves: Mapping[str, PowerCurve], moved: Mapping[str, MovedCraft]
) -> dict[str, SampledCurve]:
    """Every curve over the draws."""
    return {
        name: with_keys(sampled_curve(curve, draws.factors), curve, moved[name], draws.shifts)
        for name, curve in curves.items()
    }


def top_speed(craft: PoweredCraft, climb_angle: float = 0.0) -> float:
    """A speed a little beyond the fastest within limits, found by steps of 12 % [m/s].

    The search ends at three steps in a row outside the limits; 0 where no step is inside.
    """
    problem = trim_problem(craft)
    speed, guess, start = SLOWEST_TOP, None, None
    last, outside = 0.0, 0
    while speed < FASTEST_TOP and not (last and outside >= 3):
        trim = trimmed(problem, speed, climb_angle, guess, start)
        if not trim.is_converged and guess is not None:
            # The branch that was followed so far may have ended.
            trim = trimmed(problem, speed, climb_angle)
        inside = trim.is_converged and measured(problem, trim).least_margin >= 0.0
        last, outside = (speed, 0) if inside else (last, outside + 1)
        if trim.is_converged:
            guess, start = trim.unknown, trim.loads.coupled.offset
        speed *= SEARCH_STEP
    return last * SEARCH_STEP


class SpeedsDocument(TypedDict):
    """The speeds that matter of one setting; null where none of those asked for is one.

    Attributes
    ----------
    least_power_speed_m_s, least_power_W : lowest electrical power, and where [m/s], [W]
    best_range_speed_m_s, least_consumption_Wh_km : lowest energy a kilometre, and where
    slowest_on_wings_m_s : lowest airspeed from which on no strip is stalled [m/s]
    slowest_m_s, fastest_m_s : within all limits [m/s]
    stall_not_known_to_m_s : highest airspeed at which wings without sections may be stalled, so
        that nothing else is said of it; null where sections tell [m/s]
    slowest_limit, fastest_limit : the limits that end the airspeeds
    slowest_by_pitch_trim, fastest_by_pitch_trim : whether pitch trim brings a rotor to its limit
    """

    least_power_speed_m_s: float | None
    least_power_W: float | None
    best_range_speed_m_s: float | None
    slowest_on_wings_m_s: float | None
    slowest_m_s: float | None
    fastest_m_s: float | None
    stall_not_known_to_m_s: float | None
    least_consumption_Wh_km: float | None
    slowest_limit: str
    slowest_by_pitch_trim: bool
    fastest_limit: str
    fastest_by_pitch_trim: bool


def special_document(study: PowerStudy, name: str) -> SpeedsDocument:
    """The speeds that matter of one setting, with their intervals."""
    special = study.special[name]
    point = special.at_least_energy
    slow, fast = special.slowest_limit, special.fastest_limit
    return {
        "least_power_speed_m_s": special.least_power,
        "least_power_W": _power_of(special),
        "best_range_speed_m_s": special.least_energy,
        "slowest_on_wings_m_s": special.slowest_on_wings,
        "slowest_m_s": special.slowest,
        "fastest_m_s": special.fastest,
        "stall_not_known_to_m_s": special.stall_not_known_to,
        "least_consumption_Wh_km": float("nan")
        if point is None
        else point.value("consumption_Wh_km"),
        "slowest_limit": slow.name,
        "slowest_by_pitch_trim": slow.by_pitch_trim,
        "fastest_limit": fast.name,
        "fastest_by_pitch_trim": fast.by_pitch_trim,
    }

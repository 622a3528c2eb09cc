"""Roll by folding: the answer of ``foldspan roll``."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, FoldspanError
from vlm.findings import gathered
from vlm.flight.craft.folded_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.steady_roll import steady_roll_rate
from vlm.flight.motion.roll_authority import (
    FIELDS,
    TOO_SLOW,
    Air,
    RollMap,
    roll_map,
    setting_point,
)
from vlm.flight.motion.roll_command import RollCommand, commanded, roll_commands
from vlm.flight.motion.roll_contest import Contest, contests, equal_airspeeds, has_trim
from vlm.flight.motion.roll_manoeuvre import Manoeuvre, manoeuvre
from vlm.flight.motion.roll_pairs import RollPair, least_yaw_pairs, pure_roll_pairs
from vlm.flight.motion.roll_response import RollResponse, YawAid, roll_response
from vlm.lattice.cellule import Grid
from vlm.lattice.doubts import lattice_doubts
from vlm.loads.state import FlightState
from vlm.plain import without_nan
from vlm.study.errors import coarser, half_width
from vlm.study.point import reference_document
from vlm.study.validity import state_doubts

BANKS_DEG = (30.0, 45.0, 60.0)
SMALL_DEG = 20.0
YAW_AID_RAD_S = 4.0
Progress = Callable[[str], None]

ASSUMPTIONS = (
    "lift held at every setting by re-trimming the angle of attack; thrust along the body's x axis",
    "rolling and yawing moments about the direction of flight and across it, at the centre of"
    " gravity of the setting; body axes beside them",
    "against the rotors: a full trim with sections, stall and slipstream at the base fold; the tips"
    " with body angle and thrust held, the rotors with their total thrust held",
    "no viscosity, no stall, no slipstream; rigid wings; wake along the craft's x axis",
    "bank history: airspeed and pitch attitude held by the rotors, loads quasi-steady",
)


@dataclass(frozen=True)
class RollPlan:
    """What ``roll`` is asked for.

    Attributes
    ----------
    air : airspeed and density of the map
    base_deg : symmetric fold that commands start from [deg]
    step_deg : step of the map's folds [deg]
    airspeeds : of the table [m/s]; eight around the map's where empty
    target : folds of the bank history; the strongest pair where None
    duration : of the bank history [s]
    grid : the lattice
    """

    air: Air
    base_deg: float = 0.0
    step_deg: float = 15.0
    airspeeds: tuple[float, ...] = ()
    target: FoldAngles | None = None
    duration: float = 4.0
    grid: Grid = field(default_factory=Grid)


def map_folds(low: float, high: float, step: float, base: float) -> list[float]:
    """Folds of the map: multiples of the step within the limits, the limits, and the base."""
    inside = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return [float(f) for f in np.unique(np.concatenate([[low, high, base], inside]))]


def roll_study(craft: Biplane, plan: RollPlan, progress: Progress = lambda _: None) -> Any:
    """Everything about rolling by folding, as a JSON document.

    Raises
    ------
    InputRefused : no [mass], no tips, or a fold beyond its limits
    ComputationFailed : the wings cannot carry the craft at this airspeed
    """
    folding = FoldingCraft(craft, plan.grid, drag_area(craft))
    low, high = folding.range_deg
    base = flown(folding, FoldAngles.symmetric(plan.base_deg), plan.air)
    progress("map")
    folds = map_folds(max(low, -179.0), min(high, 179.0), plan.step_deg, plan.base_deg)
    grid = roll_map(folding, plan.air, folds, plan.base_deg, base)
    progress("pairs")
    strongest = grid.strongest()
    pairs = pure_roll_pairs(folding, grid, plan.air), least_yaw_pairs(folding, grid, plan.air)
    progress("commands")
    reach = max(abs(low - plan.base_deg), abs(high - plan.base_deg))
    steps = np.arange(-np.floor(reach / 5.0), np.floor(reach / 5.0) + 1) * 5.0
    commands = roll_commands(folding, plan.air, plan.base_deg, base, [float(s) for s in steps])
    progress("airspeeds")
    speeds = plan.airspeeds or default_airspeeds(plan.air.airspeed)
    rows = [_airspeed_row(folding, plan, speed, strongest) for speed in speeds]
    progress("tips against rotors")
    rotors = _rotors(craft, plan, speeds, strongest)
    progress("bank history")
    target = plan.target or (FoldAngles(*strongest) if strongest else None)
    history = _history(folding, craft, plan, target)
    document = {
        "title": craft.title,
        "state": {
            "airspeed_m_s": plan.air.airspeed,
            "density_kg_m3": plan.air.density,
            "base_fold_deg": plan.base_deg,
        },
        "reference": reference_document(folding.symmetric(plan.base_deg).loads.lattice),
        "base": flight_document(folding.symmetric(plan.base_deg), base),
        "map": map_document(grid),
        "strongest": _strongest(craft, plan, folding, grid, strongest),
        "pure_roll_pairs": [_pair(pair) for pair in pairs[0]],
        "least_yaw_pairs": [_pair(pair) for pair in pairs[1]],
        "commands": [_command(command) for command in commands],
        "airspeeds": rows,
        "rotors": rotors,
        "bank_history": history,
        "assumptions": list(ASSUMPTIONS),
        "findings": _findings(folding, plan, grid),
    }
    return without_nan(document)


def drag_area(craft: Biplane) -> float:
    """Sum of the file's drag areas along x [m^2]."""
    return sum(part.area_m2 for part in craft.all_drag_areas)


def default_airspeeds(middle: float) -> tuple[float, ...]:
    """Eight airspeeds from 0.7 to 1.75 times the given one [m/s]."""
    return tuple(round(float(v), 2) for v in middle * np.linspace(0.7, 1.75, 8))


def flown(craft: FoldingCraft, folds: FoldAngles, air: Air) -> LevelFlight:
    """Level flight at a setting.

    Raises
    ------
    ComputationFailed : the wings cannot carry the craft
    """
    flight = level_flight(craft.at(folds), air.airspeed, air.density)
    if flight is None:
        raise ComputationFailed(
            f"--airspeed = {air.airspeed:g} m/s: {TOO_SLOW}; ask for a higher airspeed"
        )
    return flight


def flight_document(craft: Any, flight: LevelFlight) -> dict[str, Any]:
    """Trim, masses and what the rotors hold in level flight."""
    inertia = craft.masses.inertia
    return {
        "airspeed_m_s": flight.airspeed,
        "load_factor": flight.load_factor,
        "alpha_deg": float(np.degrees(flight.alpha)),
        "lift_N": flight.lift,
        "thrust_N": flight.thrust,
        "rolling_moment_body_N_m": float(flight.wrench[3]),
        "pitching_moment_N_m": float(flight.wrench[4]),
        "yawing_moment_body_N_m": float(flight.wrench[5]),
        "mass_kg": craft.masses.mass,
        "centre_of_gravity_m": [float(v) for v in craft.masses.centre],
        "inertia_body_kg_m2": [[float(v) for v in row] for row in inertia],
    }


def map_document(grid: RollMap) -> dict[str, Any]:
    """The map: fields by name, rows port folds, columns starboard folds."""
    return {
        "left_deg": grid.left_deg.tolist(),
        "right_deg": grid.right_deg.tolist(),
        **{name: grid.values[name].tolist() for name in FIELDS},
        "failures": [
            {"left_deg": left, "right_deg": right, "reason": reason}
            for (left, right), reason in grid.failures.items()
        ],
    }


def _pair(pair: RollPair) -> dict[str, float]:
    return {"left_deg": pair.folds.left_deg, "right_deg": pair.folds.right_deg, **pair.values}


def _command(command: RollCommand) -> dict[str, Any]:
    return {
        "name": command.name,
        "command_deg": command.command_deg.tolist(),
        "rolling_moment_N_m": command.rolling.tolist(),
        "slope_N_m_deg": command.slope,
        "linear_to_deg": list(command.linear_to_deg),
        "turns_at_deg": list(command.turns_at_deg),
        "reverses_at_deg": list(command.reverses_at_deg),
    }


def _strongest(
    craft: Biplane,
    plan: RollPlan,
    folding: FoldingCraft,
    grid: RollMap,
    pair: tuple[float, float] | None,
) -> dict[str, Any] | None:
    """The strongest pair with the error of its moment, from a coarser lattice."""
    if pair is None:
        return None
    folds = FoldAngles(*pair)
    values = setting_point(folding, folds, plan.air, grid.base)
    rough = FoldingCraft(craft, coarser(plan.grid), folding.drag_area)
    other = setting_point(rough, folds, plan.air, grid.base)
    assert not isinstance(values, str)
    width = None
    if not isinstance(other, str):
        fine = values["rolling_moment_N_m"]
        width = half_width(fine, other["rolling_moment_N_m"], abs(fine), plan.grid)
    return {
        "left_deg": pair[0],
        "right_deg": pair[1],
        **values,
        "rolling_moment_error_N_m": width,
    }


def _airspeed_row(
    folding: FoldingCraft, plan: RollPlan, speed: float, strongest: tuple[float, float] | None
) -> dict[str, Any]:
    """Authority at one airspeed, level flight throughout."""
    air = Air(speed, plan.air.density)
    base = level_flight(folding.symmetric(plan.base_deg), speed, air.density)
    row: dict[str, Any] = {"airspeed_m_s": speed}
    if base is None:
        return row | {"reason": TOO_SLOW}
    row["alpha_deg"] = float(np.degrees(base.alpha))
    settings = {
        "strongest": FoldAngles(*strongest) if strongest else None,
        "both_apart_20_deg": commanded(plan.base_deg, "both tips apart", SMALL_DEG),
        "port_down_20_deg": commanded(plan.base_deg, "port tip alone", -SMALL_DEG),
    }
    for name, folds in settings.items():
        point = "none" if folds is None else setting_point(folding, folds, air, base)
        row[name] = None
        if not isinstance(point, str):
            chosen = ("rolling_moment_N_m", "yawing_moment_N_m", "Cl", "roll_rate_deg_s")
            row[name] = {key: point[key] for key in chosen}
    return row


def _rotors(
    craft: Biplane, plan: RollPlan, speeds: Sequence[float], strongest: tuple[float, float] | None
) -> dict[str, Any] | None:
    """Tips against rotors from hover to the fastest airspeed of the table."""
    if not has_trim(craft) or strongest is None:
        return None
    base, command = FoldAngles.symmetric(plan.base_deg), FoldAngles(*strongest)
    asked = np.unique(np.round(np.append(np.arange(0.0, max(speeds), 1.0), speeds), 3))
    try:
        found = contests(craft, base, command, [float(v) for v in asked], plan.air.density)
    except FoldspanError as error:
        return {"reason": str(error)}
    leads = [(one.airspeed, one.lead) for one in found if one.lead is not None]
    winners = {
        "the rotors": [speed for speed, lead in leads if lead <= 0.0],
        "the tips": [speed for speed, lead in leads if lead > 0.0],
    }
    words = "; ".join(
        f"{who} are the stronger from {min(where):.3g} to {max(where):.3g} m/s"
        for who, where in winners.items()
        if where
    )
    return {
        "left_deg": strongest[0],
        "right_deg": strongest[1],
        "equal_airspeeds_m_s": equal_airspeeds(found),
        "words": words or "no airspeed has a trim",
        "airspeeds": [_contest(one) for one in found],
    }


def _contest(one: Contest) -> dict[str, float | None]:
    return {
        "airspeed_m_s": one.airspeed,
        "body_angle_deg": None if one.body_angle is None else float(np.degrees(one.body_angle)),
        "thrust_N": one.thrust,
        "tips_N_m": one.tips,
        "rotors_N_m": one.rotors,
    }


def _history(
    folding: FoldingCraft, craft: Biplane, plan: RollPlan, target: FoldAngles | None
) -> dict[str, Any]:
    """Bank against time, or the reason why there is none."""
    if craft.actuator is None:
        return {"reason": f"{craft.source_name}: [actuator] is missing"}
    if target is None:
        return {"reason": "no pair of folds has a value"}
    start = FoldAngles.symmetric(plan.base_deg)
    try:
        done = manoeuvre(folding, craft.actuator, start, target, plan.air)
    except FoldspanError as error:
        return {"reason": str(error)}
    last = done.passages[-1]
    rate = steady_roll_rate(last.craft, last.flight)
    aid = soft_yaw_aid(float(done.passages[0].craft.masses.inertia[2, 2]))
    ways: list[tuple[str, Any, bool]] = [
        ("sideslip held at zero", "held", True),
        ("the same, swing of the tips left out", "held", False),
        ("free in yaw", "free", True),
        ("rotors aid yaw", aid, True),
    ]
    histories = [
        _response(name, roll_response(done.passages, done.path, plan.duration, yaw, swings=swings))
        for name, yaw, swings in ways
    ]
    return {
        "from_deg": plan.base_deg,
        "left_deg": target.left_deg,
        "right_deg": target.right_deg,
        "folding_time_s": done.path.duration,
        "stops_s": dict(done.path.stops),
        "mean_fold_speed_deg_s": _mean_speed(done),
        "steady_roll_rate_deg_s": None if rate is None else float(np.degrees(rate)),
        "yaw_aid": {"stiffness_N_m_rad": aid.stiffness, "damping_N_m_s": aid.damping},
        "histories": histories,
    }


def soft_yaw_aid(inertia: float) -> YawAid:
    """Yaw control of 4 rad/s and 0.7 of critical damping on the craft's inertia (common practice
    for a small craft's outer loop)."""
    return YawAid(inertia * YAW_AID_RAD_S**2, 2.0 * 0.7 * inertia * YAW_AID_RAD_S)


def _mean_speed(done: Manoeuvre) -> float:
    travels = {
        "left": abs(done.end.left_deg - done.start.left_deg),
        "right": abs(done.end.right_deg - done.start.right_deg),
    }
    side = max(travels, key=lambda s: travels[s])
    time = done.path.stops[side]
    return travels[side] / time if time > 0.0 else 0.0


def _response(name: str, response: RollResponse) -> dict[str, Any]:
    final = float(response.bank[-1])
    sense = 1.0 if final >= 0.0 else -1.0
    wrong_way = float(np.degrees(max(0.0, float(np.max(-sense * response.bank)))))
    return {
        "name": name,
        "time_s": response.times.tolist(),
        "bank_deg": np.degrees(response.bank).tolist(),
        "roll_rate_deg_s": np.degrees(response.roll_rate).tolist(),
        "yaw_rate_deg_s": np.degrees(response.yaw_rate).tolist(),
        "sideslip_deg": np.degrees(response.sideslip).tolist(),
        "fold_left_deg": np.degrees(response.folds["left"]).tolist(),
        "fold_right_deg": np.degrees(response.folds["right"]).tolist(),
        "time_to_s": {
            f"{bank:g}": response.time_to(float(np.radians(sense * bank))) for bank in BANKS_DEG
        },
        "sense": "to starboard" if sense > 0.0 else "to port",
        "first_the_wrong_way_deg": wrong_way,
        "peak_roll_rate_deg_s": float(np.degrees(np.max(np.abs(response.roll_rate)))),
        "peak_sideslip_deg": float(np.degrees(np.max(np.abs(response.sideslip)))),
    }


def _findings(folding: FoldingCraft, plan: RollPlan, grid: RollMap) -> list[dict[str, Any]]:
    alphas = grid.values["alpha_deg"]
    known = alphas[np.isfinite(alphas)]
    states = [FlightState(alpha=np.radians(known), airspeed=plan.air.airspeed)]
    found = lattice_doubts(folding.symmetric(plan.base_deg).loads.lattice)
    for state in states:
        found = found + state_doubts(state)
    return [vars(finding) for finding in gathered(found)]

"""Numbers of one craft at one setting, on two lattices, with what each leaves open."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, carrying_airspeed, level_flight
from vlm.flight.craft.model_spread import corner_spread, moment_spread
from vlm.flight.craft.rotor_rates import motions_with_rotors
from vlm.flight.craft.rotor_slopes import (
    NOT_SO_FAR,
    Slopes,
    idle_slopes,
    rotor_slopes,
    with_rotors,
)
from vlm.flight.craft.section_slopes import section_slopes
from vlm.flight.craft.small_motions import (
    LATERAL,
    LONGITUDINAL,
    OpenMotion,
    lateral_matrix,
    longitudinal_matrix,
)
from vlm.flight.craft.stalled import (
    left_open,
    stalled_hinges,
    stalled_moments,
    stalled_rates,
    stalled_roll_rate,
)
from vlm.flight.craft.steady_roll import roll_axis
from vlm.flight.motion.modes import Mode, lateral_modes, longitudinal_modes
from vlm.flight.motion.roll_authority import TOO_SLOW, Air, setting_point
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.lattice.reference import ReferenceFrame
from vlm.loads.coefficients import derivatives
from vlm.loads.model_spread import HINGE, wake_spread
from vlm.loads.state import FlightState
from vlm.study.point.errors import OTHERS, error_floors
from vlm.study.point.evaluation import evaluated
from vlm.study.point.point import point_spread, solved
from vlm.study.point.sizes import surface_areas, tip_sizes

SLOPES = ("Cl_beta", "Cn_beta", "CY_beta")
PITCHING = ("static_margin", "neutral_point_m")
NEUTRAL_FLOOR = 0.001
"""Floor of the neutral point over the chord [1]: that of Cm_alpha over CL_alpha, a little more."""


@dataclass(frozen=True)
class Entry:
    """A craft at a fold setting, and what it is called."""

    name: str
    craft: Biplane
    folds: FoldAngles


def entries(
    crafts: Mapping[str, Biplane], settings: Callable[[Biplane], Mapping[str, FoldAngles]]
) -> list[Entry]:
    """Every craft at every setting, named as briefly as tells them apart.

    Parameters
    ----------
    crafts : by name
    settings : those asked for, by name; where none is, a craft that stands alone is taken at all
        settings of its file, and several at flat tips
    """

    def chosen(craft: Biplane) -> Mapping[str, FoldAngles]:
        named = settings(craft)
        if not named and len(crafts) == 1:
            named = {name: one.folds for name, one in craft.configurations.items()}
        return named or {"0 deg": FoldAngles()}

    all_settings = {name: chosen(craft) for name, craft in crafts.items()}
    several = max(map(len, all_settings.values())) > 1
    found = []
    for name, craft in crafts.items():
        for setting, folds in all_settings[name].items():
            both = setting if len(crafts) == 1 else f"{name}, {setting}"
            found.append(Entry(both if several else name, craft, folds))
    return found


@dataclass
class Sheet:
    """Numbers of one entry on one lattice, all by key.

    Attributes
    ----------
    values : the numbers
    floors : least half-width of the lattice's error, on the default lattice
    wake : what the wake's direction and roll-up leave open
    corner : what an open or closed corner leaves open, and stalled sections
    missing : why some numbers are not there
    lift_slope : CL_alpha at the angle of attack [1 per rad]
    reference : that the numbers rest on; None before any
    """

    values: dict[str, float] = field(default_factory=dict)
    floors: dict[str, float] = field(default_factory=dict)
    wake: dict[str, float] = field(default_factory=dict)
    corner: dict[str, float] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    lift_slope: float = 0.0
    reference: ReferenceFrame | None = None

    def put(self, key: str, value: float, wake: float = 0.0, floor: float | None = None) -> None:
        """Add a number; its floor is that of numbers that were not measured if None."""
        self.values[key] = float(value)
        self.wake[key] = float(wake)
        self.floors[key] = OTHERS.floor * abs(float(value)) if floor is None else float(floor)


def angle_numbers(entry: Entry, state: FlightState, grid: Grid, sheet: Sheet) -> None:
    """Lift, induced drag and pitch stability at one angle of attack.

    Raises
    ------
    InputRefused : the geometry or the fold cannot be built
    """
    lattice = build_lattice(entry.craft, entry.folds, grid)
    loads = solved(lattice, state, "stream", fold_rates=True)
    cellule = build_cellule(entry.craft, grid)
    sizes = surface_areas(cellule), tip_sizes(cellule)
    values = evaluated(loads, state, *sizes)
    floors = error_floors(loads, state, values, *sizes)
    wake = wake_spread(loads, state)
    corner = _corners(point_spread(entry.craft, entry.folds, state, loads, values), wake)
    force = 0.5 * state.density * state.airspeed**2 * loads.reference.area
    for key, name in (("lift_N", "CL"), ("induced_drag_N", "CDi")):
        sheet.put(key, force * values[name], force * wake[name], force * floors[name])
        sheet.corner[key] = force * corner.get(name, 0.0)
    sheet.put(
        "span_efficiency", values["span_efficiency"], wake["span_efficiency"],
        floors.get("span_efficiency", 0.0),
    )  # fmt: skip
    sheet.corner["span_efficiency"] = corner.get("span_efficiency", 0.0)
    sheet.lift_slope, sheet.reference = float(values["CL_alpha"]), loads.reference
    chord = loads.reference.chord
    turned = _with_rotors(entry, values, loads.reference, state, sheet)
    moved, wide = turned.get("static_margin", (values["static_margin"], 0.0))
    shift = moved - values["static_margin"]
    for key, scale in zip(PITCHING, (1.0 / chord, 1.0), strict=True):
        open_to = scale * (wake["neutral_point_m"] + chord * wide)
        value = values[key] + scale * chord * shift
        sheet.put(key, value, open_to, scale * chord * NEUTRAL_FLOOR)
        sheet.corner[key] = scale * corner.get("neutral_point_m", 0.0)
    if entry.craft.mass is None:
        for name in SLOPES:
            value, open_to = turned.get(name, (values[name], 0.0))
            sheet.put(name, value, wake.get(name, 0.0) + open_to, floors[name])
            sheet.corner[name] = corner.get(name, 0.0)


def _with_rotors(
    entry: Entry,
    values: Mapping[str, float],
    reference: ReferenceFrame,
    state: FlightState,
    sheet: Sheet,
) -> Slopes:
    """Numbers of stability of wings, fins and rotors that have no thrust; none without rotors."""
    if not entry.craft.rotors:
        return {}
    at = float(state.alpha), float(state.airspeed), float(state.density)
    rotors = idle_slopes(entry.craft, reference, *at)
    if rotors is None:
        sheet.missing.append(f"the rotors in static margin and Cn_beta: {NOT_SO_FAR}")
        return {}
    return with_rotors(values, rotors)


def _corners(spread: Mapping[str, Any], wake: Mapping[str, Any]) -> dict[str, float]:
    """What corners leave open: the spread without the wake's part."""
    return {name: max(0.0, float(spread[name] - wake[name])) for name in wake if name in spread}


def level_numbers(entry: Entry, folding: FoldingCraft, air: Air, sheet: Sheet) -> None:
    """Level flight: angle, thrust, stall, slopes with sideslip, growth, hinges."""
    folded = folding.at(entry.folds)
    flight = level_flight(folded, air.airspeed, air.density)
    if flight is None:
        enough = carrying_airspeed(folded, air.airspeed, air.density)
        remedy = "" if enough is None else f"; at {enough:g} m/s they can"
        sheet.missing.append(f"level flight at {air.airspeed:g} m/s: {TOO_SLOW}{remedy}")
        return
    state = FlightState(alpha=flight.alpha)
    wake = wake_spread(folded.loads, state)
    cellule = folding.engine.cellule
    sizes = surface_areas(cellule), tip_sizes(cellule)
    values = evaluated(folded.loads, state, *sizes)
    floors = error_floors(folded.loads, state, values, *sizes)
    force = flight.dynamic_pressure * folded.loads.reference.area
    turn = float(np.degrees(wake["CL"] / abs(values["CL_alpha"])))
    sheet.put("level_alpha_deg", np.degrees(flight.alpha), turn)
    sheet.put("thrust_N", flight.thrust, force * float(wake["CDi"]))
    if np.isfinite(flight.stall_margin):
        sheet.put("stall_margin_deg", np.degrees(flight.stall_margin), turn)
    _stalled_trim(folded, flight, sheet)
    changes = section_slopes(folded, flight.alpha, air.airspeed, air.density)[1]
    dragged = folded.drag_slopes(flight.alpha)
    rotors = rotor_slopes(entry.craft, folded, flight.alpha, air.airspeed, air.density)
    corners = _corner_slopes(folded, state)
    for name in SLOPES:
        value = values[name] + changes[name] + dragged[name] + rotors[name][0]
        sheet.put(name, value, wake.get(name, 0.0) + rotors[name][1], floors[name])
        sheet.corner[name] = left_open(flight.stall_margin, changes[name]) + corners[name]
    _growth(entry.craft, folded, flight, float(abs(values["CL_alpha"])), sheet)
    if folded.bodies:
        tips = sizes[1]
        moments = [abs(m) for m in folded.hinge_moments(flight.motion, air.density).values()]
        most = int(np.argmax(moments))
        size = max(area * span for area, span in tips.values())
        allowed = flight.dynamic_pressure * size * float(wake[HINGE])
        sheet.put("hinge_moment_N_m", moments[most], allowed)
        corner = corner_spread(folded, partial(_hinges, flight=flight))
        open_to = stalled_hinges(folded, flight) + corner
        sheet.corner["hinge_moment_N_m"] = float(open_to[most])


def _corner_slopes(folded: FoldedCraft, state: FlightState) -> dict[str, float]:
    """What an open or closed corner leaves open in the slopes with sideslip [1 per rad]."""

    def slopes(one: FoldedCraft) -> Floats:
        body = derivatives(one.loads, state)["body"]
        return np.array([float(body[name]) for name in SLOPES])

    found = np.broadcast_to(corner_spread(folded, slopes), len(SLOPES))
    return dict(zip(SLOPES, found.tolist(), strict=True))


def _hinges(folded: FoldedCraft, flight: LevelFlight) -> Floats:
    """Air's moments about the hinges by the lattice alone [N m]."""
    alone = replace(folded, strips=None)
    return np.array(list(alone.hinge_moments(flight.motion, flight.density).values()))


def _stalled_trim(folded: FoldedCraft, flight: LevelFlight, sheet: Sheet) -> None:
    """What stalled sections leave open in angle of attack, stall margin and thrust."""
    alone = level_flight(replace(folded, strips=None), flight.airspeed, flight.density)
    if alone is None:
        return
    turn = left_open(flight.stall_margin, float(np.degrees(flight.alpha - alone.alpha)))
    for key in ("level_alpha_deg", "stall_margin_deg"):
        sheet.corner[key] = turn
    sheet.corner["thrust_N"] = left_open(flight.stall_margin, flight.thrust - alone.thrust)


def _growth(
    craft: Biplane, folded: FoldedCraft, flight: LevelFlight, lift_slope: float, sheet: Sheet
) -> None:
    """Largest real part of the roots, what wake and rotors leave open in them, stalled sections."""
    own, ends = motions_with_rotors(craft, folded, flight)
    spread = wake_spread(folded.loads, FlightState(alpha=flight.alpha))
    reference = folded.loads.reference
    scale = flight.dynamic_pressure * reference.area * reference.span / flight.airspeed
    change = np.zeros((6, 6))
    area = flight.dynamic_pressure * reference.area
    change[4, 2] = area * lift_slope * float(spread["neutral_point_m"]) / flight.airspeed
    change[3, 1] = scale * float(spread["Cl_beta"])
    change[5, 1] = scale * float(spread["Cn_beta"])
    stalled = stalled_rates(folded, flight)[:, :6]
    by_wake, by_stall = OpenMotion(own, change, ends), OpenMotion(own, stalled)
    for name, matrix_of, states, modes_of in (
        ("pitch", longitudinal_matrix, LONGITUDINAL, longitudinal_modes),
        ("lateral", lateral_matrix, LATERAL, lateral_modes),
    ):
        growth, open_to = _largest(modes_of(*by_wake.matrices(matrix_of, states)))
        sheet.put(f"{name}_growth_1_s", growth, open_to)
        sheet.corner[f"{name}_growth_1_s"] = _largest(
            modes_of(*by_stall.matrices(matrix_of, states))
        )[1]


def _largest(modes: Sequence[Mode]) -> tuple[float, float]:
    """Largest real part of the roots, and a half-width that holds what any of them may reach."""
    worst = max(modes, key=lambda mode: mode.root.real)
    growth = worst.root.real
    reach = max(mode.root.real + mode.growth_error for mode in modes)
    return growth, max(worst.growth_error, reach - growth)


def roll_settings(entry: Entry, folding: FoldingCraft) -> list[FoldAngles]:
    """Settings of which the strongest is taken: base fold and limits, one to port, one starboard.

    None where the entry's own sides are folded unlike, or there is nothing to fold.
    """
    if not entry.craft.tips or not entry.folds.is_symmetric:
        return []
    low, high = folding.range_deg
    ends = sorted({low, entry.folds.left_deg, high})
    return [FoldAngles(right, left) for left, right in combinations(ends, 2)]


def strongest_roll(entry: Entry, folding: FoldingCraft, air: Air) -> FoldAngles | None:
    """The setting of :func:`roll_settings` with the largest rolling moment, lift held."""
    base = level_flight(folding.at(entry.folds), air.airspeed, air.density)
    if base is None:
        return None
    sizes = {}
    for folds in roll_settings(entry, folding):
        point = setting_point(folding, folds, air, base)
        if not isinstance(point, str):
            sizes[folds] = abs(point["rolling_moment_N_m"])
    return max(sizes, key=lambda folds: sizes[folds]) if sizes else None


def roll_numbers(
    entry: Entry, folding: FoldingCraft, folds: FoldAngles, air: Air, sheet: Sheet
) -> None:
    """Size of rolling moment, yaw with it (+ proverse), steady roll rate; lift held."""
    base = level_flight(folding.at(entry.folds), air.airspeed, air.density)
    try:
        flight = level_flight(folding.at(folds), air.airspeed, air.density)
    except FoldspanError:
        flight = None
    if base is None or flight is None:
        return
    point = setting_point(folding, folds, air, base)
    if isinstance(point, str):
        return
    moment, craft = abs(point["rolling_moment_N_m"]), folding.at(folds)
    ahead = roll_axis(flight.alpha)
    axes = np.abs(np.array([ahead, [ahead[2], 0.0, ahead[0]]]))
    spread, yawing = axes @ moment_spread(craft, flight)
    stalled = axes @ stalled_moments(craft, flight)
    sheet.put("rolling_moment_N_m", moment, spread)
    sheet.corner["rolling_moment_N_m"] = float(stalled[0])
    with_roll = np.sign(point["rolling_moment_N_m"]) * point["yawing_moment_N_m"]
    sheet.put("yawing_moment_N_m", float(with_roll), float(yawing))
    sheet.corner["yawing_moment_N_m"] = float(stalled[1])
    rate = point["roll_rate_deg_s"]
    if not np.isfinite(rate):
        return
    sheet.put("roll_rate_deg_s", abs(rate), abs(rate) * spread / moment if moment > 0.0 else 0.0)
    sheet.corner["roll_rate_deg_s"] = float(
        np.degrees(stalled_roll_rate(craft, flight, float(np.radians(rate))))
    )


def lattice_sheet(
    entry: Entry,
    state: FlightState,
    air: Air,
    grid: Grid,
    rolled: FoldAngles | None,
    folding: FoldingCraft | None,
) -> Sheet:
    """All numbers that rest on the lattice alone.

    Parameters
    ----------
    rolled : the setting that rolls, of :func:`strongest_roll`; None for none
    folding : the craft on this grid, None without [mass]
    """
    sheet = Sheet()
    angle_numbers(entry, state, grid, sheet)
    if folding is None:
        sheet.missing.append("level flight, roll: [mass] is missing")
        return sheet
    level_numbers(entry, folding, air, sheet)
    if rolled is not None:
        roll_numbers(entry, folding, rolled, air, sheet)
    return sheet


def folding_craft(craft: Biplane, grid: Grid) -> FoldingCraft | None:
    """The craft at any fold; None without [mass]."""
    if craft.mass is None:
        return None
    return FoldingCraft(craft, grid, sideslip=True)

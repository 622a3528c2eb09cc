"""How hard folded tips roll the craft: moments over both folds with lift held.

Lift is held by re-trimming the angle of attack at every setting; what a fold does to lift before
that is reported beside it. Rolling and yawing moments are about the direction of flight and across
it (stability axes), pitching about the span, all about the centre of gravity of that setting.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.constants import SEA_LEVEL_DENSITY, Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate

FIELDS = (
    "alpha_deg",
    "rolling_moment_N_m",
    "yawing_moment_N_m",
    "pitching_moment_N_m",
    "Cl",
    "Cn",
    "Cm",
    "rolling_moment_body_N_m",
    "yawing_moment_body_N_m",
    "lift_change_N",
    "roll_rate_deg_s",
    "roll_acceleration_deg_s2",
    "stall_margin_deg",
)
LATERAL = ("rolling", "yawing", "Cl", "Cn", "roll")
SIGN_MIRRORED = {name: -1.0 if name.split("_")[0] in LATERAL else 1.0 for name in FIELDS}
"""What becomes of each field's sign in the mirror image."""
TOO_SLOW = "the wings cannot carry the craft at this airspeed"


@dataclass(frozen=True)
class Air:
    """Airspeed [m/s] and density [kg/m^3] of a study."""

    airspeed: float
    density: float = SEA_LEVEL_DENSITY


def lift_at(craft: FoldedCraft, air: Air, alpha: float) -> float:
    """Lift at an angle of attack [rad] -> [N]."""
    force = craft.wrench(craft.motion(air.airspeed, alpha), air.density)
    return float(-force[2] * np.cos(alpha) + force[0] * np.sin(alpha))


def roll_point(craft: FoldedCraft, flight: LevelFlight, base: LevelFlight) -> dict[str, float]:
    """All of :data:`FIELDS` at one setting in level flight.

    Parameters
    ----------
    base : level flight at the setting that the command starts from
    """
    reference = craft.loads.reference
    ahead = roll_axis(flight.alpha)
    below = np.array([-np.sin(flight.alpha), 0.0, np.cos(flight.alpha)])
    moment = flight.wrench[3:]
    rolling, yawing, pitching = float(moment @ ahead), float(moment @ below), float(moment[1])
    force = flight.dynamic_pressure * reference.area
    rate = steady_roll_rate(craft, flight)
    inertia = float(ahead @ craft.masses.inertia @ ahead)
    air = Air(flight.airspeed, flight.density)
    return {
        "alpha_deg": float(np.degrees(flight.alpha)),
        "rolling_moment_N_m": rolling,
        "yawing_moment_N_m": yawing,
        "pitching_moment_N_m": pitching,
        "Cl": rolling / (force * reference.span),
        "Cn": yawing / (force * reference.span),
        "Cm": pitching / (force * reference.chord),
        "rolling_moment_body_N_m": float(moment[0]),
        "yawing_moment_body_N_m": float(moment[2]),
        "lift_change_N": lift_at(craft, air, base.alpha) - base.lift,
        "roll_rate_deg_s": float("nan") if rate is None else float(np.degrees(rate)),
        "roll_acceleration_deg_s2": float(np.degrees(rolling / inertia)),
        "stall_margin_deg": float(np.degrees(flight.stall_margin)),
    }


@dataclass(frozen=True)
class RollMap:
    """Fields over commanded folds of both sides.

    Attributes
    ----------
    left_deg, right_deg : shape (n,), shape (m,) [deg]
    values : by field, shape (n, m); NaN where a setting has no value
    failures : why, by setting
    base_deg : symmetric fold that the command starts from [deg]
    base : level flight there
    joined : shape (n, m), whether a tip's end is joined to a wing; fields leap there
    """

    left_deg: Floats
    right_deg: Floats
    values: Mapping[str, Floats]
    failures: Mapping[tuple[float, float], str]
    base_deg: float
    base: LevelFlight
    joined: NDArray[np.bool_]

    def strongest(self, sign: float = 1.0) -> tuple[float, float] | None:
        """Setting with the largest rolling moment to starboard (or port, ``sign`` = -1)."""
        field = sign * self.values["rolling_moment_N_m"]
        if not np.isfinite(field).any():
            return None
        i, j = np.unravel_index(int(np.nanargmax(field)), field.shape)
        return float(self.left_deg[i]), float(self.right_deg[j])


def setting_point(
    craft: FoldingCraft, folds: FoldAngles, air: Air, base: LevelFlight
) -> dict[str, float] | str:
    """:func:`roll_point` of a setting, or in words why there is none."""
    try:
        folded = craft.at(folds)
    except FoldspanError as error:
        return str(error)
    flight = level_flight(folded, air.airspeed, air.density)
    return TOO_SLOW if flight is None else roll_point(folded, flight, base)


def setting_moment(craft: FoldingCraft, folds: FoldAngles, air: Air) -> float:
    """Rolling moment of a setting about the direction of flight, NaN where there is none [N m]."""
    try:
        flight = level_flight(craft.at(folds), air.airspeed, air.density)
    except FoldspanError:
        return float("nan")
    return float("nan") if flight is None else float(flight.wrench[3:] @ roll_axis(flight.alpha))


def roll_map(
    craft: FoldingCraft,
    air: Air,
    folds_deg: Sequence[float],
    base_deg: float,
    base: LevelFlight,
) -> RollMap:
    """The map over all pairs of the given folds [deg].

    Of a craft that is its own mirror image one of each two mirrored settings is solved.
    """
    shape = (len(folds_deg), len(folds_deg))
    values = {name: np.full(shape, np.nan) for name in FIELDS}
    failures: dict[tuple[float, float], str] = {}
    joined = np.zeros(shape, dtype=bool)
    for i, left in enumerate(folds_deg):
        for j, right in enumerate(folds_deg):
            if j < i and craft.is_symmetric:
                if (right, left) in failures:
                    failures[left, right] = failures[right, left]
                joined[i, j] = joined[j, i]
                for name in FIELDS:
                    values[name][i, j] = SIGN_MIRRORED[name] * values[name][j, i]
                continue
            point = setting_point(craft, FoldAngles(left, right), air, base)
            if isinstance(point, str):
                failures[left, right] = point
                continue
            joined[i, j] = craft.at(FoldAngles(left, right)).loads.lattice.is_joined
            for name, value in point.items():
                values[name][i, j] = value
    folds = np.asarray(folds_deg, dtype=float)
    return RollMap(folds, folds, values, failures, base_deg, base, joined)


def interpolated(grid: RollMap, name: str, left: Floats, right: Floats) -> Floats:
    """A field between the settings of a map, bilinear, at places of one shape.

    NaN beside a setting without a value.
    """
    from scipy.interpolate import RegularGridInterpolator

    at = RegularGridInterpolator((grid.left_deg, grid.right_deg), grid.values[name])
    return np.asarray(at((left, right)))

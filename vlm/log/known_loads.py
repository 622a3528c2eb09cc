"""What is known of the load without flying on the wings: rotors at rest, hover, the wings' lift.

While the rotors stand still the current sensor reads its zero and whatever else runs; that load
lies between none and the file's fixed load. In hover the rotors carry the weight, and their power
follows from the file's rotors. Neither depends on the wings, so both check the sensor.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vlm.constants import GRAVITY, SEA_LEVEL_DENSITY, Floats
from vlm.description.log import FlightLogFormat
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.lattice.cellule import Grid, build_cellule
from vlm.log.cells import column
from vlm.log.plausible import moving_cells
from vlm.log.points import SteadyPoints
from vlm.log.reading import FlightLog
from vlm.log.stated import Stated
from vlm.log.steady import SteadyFlight
from vlm.power.rotor import hover_state

COARSE = Grid(2, 6)
COMMON_PRACTICE = "common practice"
FEW_SECONDS = 5.0
# Rotors that turn slower than this share of their usual speed in the log stand still.
AT_REST = 0.02
# Slower than this share of the airspeed in flight on the wings, or slower over ground than this.
HOVERING_SHARE, HOVERING_M_S, LEVEL_M_S = 0.2, 2.0, 0.5
# Standard uncertainty of a rotor model's power in hover where the file states none (common
# practice).
HOVER_SHARE = 0.1
CONTRADICTION = 3.0
# Lift coefficients in steady flight on the wings outside which an airspeed is hardly in its unit,
# or a mass is wrong (common practice).
LEAST_LIFT, MOST_LIFT = 0.12, 1.8


@dataclass(frozen=True)
class KnownLoads:
    """What the file says of loads.

    Attributes
    ----------
    fixed_W : what runs all the time
    hover_W : electrical power of all rotors that carry the weight at sea level; NaN where the file
        does not tell
    hover_share : its standard uncertainty [1]
    weight_N, wing_area_m2 : NaN where not known
    """

    fixed_W: float
    hover_W: float = float("nan")
    hover_share: float = HOVER_SHARE
    weight_N: float = float("nan")
    wing_area_m2: float = float("nan")

    def hover_power_W(self, density: float) -> float:
        """In hover, loads included; at constant figure of merit it goes with density^(-1/2)."""
        return self.hover_W * float(np.sqrt(SEA_LEVEL_DENSITY / density)) + self.fixed_W


def known_loads(craft: Biplane) -> KnownLoads | None:
    """What a file says of loads; None without ``[propulsion]``.

    Parameters
    ----------
    craft : the description
    """
    drive = craft.propulsion
    if drive is None:
        return None
    area = float(build_cellule(craft, COARSE).reference.area)
    if craft.mass is None:
        return KnownLoads(drive.fixed_load_W, wing_area_m2=area)
    weight = craft.mass.total_kg * GRAVITY
    share = HOVER_SHARE
    if craft.uncertainty is not None and craft.uncertainty.rotor_power_percent > 0.0:
        stated = craft.uncertainty
        share = float(np.hypot(stated.rotor_power_percent, stated.efficiency_percent)) / 100.0
    return KnownLoads(drive.fixed_load_W, _hover(craft, weight), share, weight, area)


def _hover(craft: Biplane, weight: float) -> float:
    """Electrical power of equal rotors that lift equally, at sea level [W]."""
    drive = craft.propulsion
    if not craft.rotors or drive is None:
        return float("nan")
    each = weight / len(craft.rotors)
    try:
        states = [hover_state(r, each, SEA_LEVEL_DENSITY, craft.folder) for r in craft.rotors]
    except FoldspanError:
        return float("nan")
    shaft = sum(float(np.squeeze(state.power)) for state in states)
    return shaft / (drive.motor_efficiency * drive.controller_efficiency)


@dataclass(frozen=True)
class Zero:
    """The current sensor's zero.

    Attributes
    ----------
    value_A : to be taken from its readings
    spread_A : standard uncertainty that is left
    findings : warnings
    """

    value_A: float
    spread_A: float
    findings: tuple[Finding, ...] = ()


def current_zero(log: FlightLog, loads: KnownLoads | None, errors: Stated) -> Zero:
    """The zero by what is stated and by the time in which the rotors stand still.

    Parameters
    ----------
    log : as read
    loads : what the file says; None without [propulsion], where such a time tells nothing
    errors : as stated
    """
    stated = errors.current_zero_A
    rows = _at_rest(log)
    if loads is None or rows.sum() * log.cell_s < FEW_SECONDS or stated == 0.0:
        return Zero(0.0, stated)
    current, voltage = (column(log.cells, name)[rows] for name in ("current", "voltage"))
    most = loads.fixed_W / float(np.nanmean(voltage))
    seen = float(np.nanmean(current)) - 0.5 * most
    # Anything between none and the fixed load may run: a uniform distribution.
    spread = float(np.hypot(most / np.sqrt(12.0), np.nanstd(current) / np.sqrt(FEW_SECONDS)))
    spread = max(spread, 1e-4)
    if abs(seen) > CONTRADICTION * np.hypot(spread, stated):
        return Zero(seen, spread, (_zero_finding(seen, stated),))
    weight = stated**2 / (stated**2 + spread**2)
    return Zero(weight * seen, float(np.sqrt(weight)) * spread)


def _at_rest(log: FlightLog) -> NDArray[np.bool_]:
    """Cells with a current in which craft and rotors stand still, shape (cells)."""
    names = [name for name in log.cells.columns if name.startswith("rotor_speed_")]
    if not names or not {"current", "voltage"} <= set(log.cells.columns):
        return np.zeros(len(log.cells), dtype=bool)
    turning = np.max([np.abs(column(log.cells, name)) for name in names], axis=0)
    known = np.isfinite(column(log.cells, "current")) & np.isfinite(column(log.cells, "voltage"))
    # In a glide they may turn the motors; on the ground they do not.
    still = ~moving_cells(log.cells) & (turning < AT_REST * _median(turning))
    return np.asarray(known & still)


def _median(values: Floats) -> float:
    """Median of the numbers; NaN where there is none."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else float("nan")


def _zero_finding(zero: float, stated: float) -> Finding:
    return Finding(
        "log-current-zero", "while the rotors stand still the current sensor reads what the fixed"
        " load does not account for; its readings are corrected by that", zero,
        CONTRADICTION * stated, "A",
        "three standard uncertainties of log.uncertainty.current_zero_A",
        "set the sensor's zero with the battery connected and nothing running",
    )  # fmt: skip


def corrected_points(points: SteadyPoints, zero: Zero) -> SteadyPoints:
    """The points without what the sensor reads at no current.

    Parameters
    ----------
    points, zero : the points as measured, and the zero
    """
    if zero.value_A == 0.0:
        return points
    shift = zero.value_A * points.voltage_V * points.reduction
    return replace(points, power_W=points.power_W - shift)


def hover_check(
    log: FlightLog, steady: SteadyFlight, loads: KnownLoads | None, errors: Stated
) -> tuple[float, list[Finding]]:
    """Measured power in hover against that of the file's rotors.

    Parameters
    ----------
    log, steady : the log and its segments
    loads : what the file says
    errors : as stated

    Returns
    -------
    What the sensor's gain must be widened by, as a share [1], 0 where the two agree or nothing was
    hovered; and warnings.
    """
    rows = _hovering(log, steady)
    if loads is None or not np.isfinite(loads.hover_W) or rows.sum() * log.cell_s < FEW_SECONDS:
        return 0.0, []
    density = float(column(log.cells, "density")[rows].mean())
    ratio = float(column(log.cells, "power")[rows].mean()) / loads.hover_power_W(density)
    limit = 2.0 * float(np.hypot(loads.hover_share, errors.power_share))
    if abs(ratio - 1.0) <= limit:
        return 0.0, []
    side = "more" if ratio > 1.0 else "less"
    finding = Finding(
        "log-hover", f"in hover the measured power is {side} than that of the file's rotors for the"
        " weight; the uncertainty of the power sensor's gain is widened by the difference",
        100.0 * abs(ratio - 1.0), 100.0 * limit, "%",
        "two standard uncertainties of both", "check the sensor's scale, the mass and [[rotors]]",
    )  # fmt: skip
    return abs(ratio - 1.0), [finding]


def _hovering(log: FlightLog, steady: SteadyFlight) -> NDArray[np.bool_]:
    """Cells of level hover: no airspeed, and more power than in flight on the wings."""
    airspeed, power = column(log.cells, "airspeed"), column(log.cells, "power")
    moving = moving_cells(log.cells)
    fast = _median(airspeed[moving])
    slow = np.nan_to_num(airspeed, nan=np.inf) < HOVERING_SHARE * fast
    if "velocity_north" in log.cells:
        over_ground = np.hypot(
            column(log.cells, "velocity_north"), column(log.cells, "velocity_east")
        )
        slow = (over_ground < HOVERING_M_S) & ~moving
    climb: Floats = np.nan_to_num(steady.climb_m_s)
    cruising = power[moving][np.isfinite(power[moving])]
    usual = float(np.median(cruising)) if cruising.size else float("inf")
    return np.asarray(slow & (np.abs(climb) < LEVEL_M_S) & (np.nan_to_num(power) > usual))


def lift_warnings(
    points: SteadyPoints, loads: KnownLoads | None, how: FlightLogFormat
) -> list[Finding]:
    """A warning where the airspeeds ask for a lift that wings do not give, or hardly any.

    Parameters
    ----------
    points : the steady points
    loads : with weight and wing area
    how : the block ``[log]``
    """
    if loads is None or not np.isfinite(loads.weight_N * loads.wing_area_m2):
        return []
    pressure = 0.5 * points.density_kg_m3 * points.airspeed_m_s**2
    lift = loads.weight_N / (pressure * loads.wing_area_m2)
    slow, fast = float(lift.max()), float(lift.min())
    if slow >= LEAST_LIFT and fast <= MOST_LIFT:
        return []
    value, limit = (slow, LEAST_LIFT) if slow < LEAST_LIFT else (fast, MOST_LIFT)
    airspeed = how.columns.airspeed
    return [
        Finding(
            "log-lift", "for mass and wing area the airspeeds ask for a lift coefficient that"
            " steady flight on the wings hardly has", value, limit, "1", COMMON_PRACTICE,
            f'check log.columns.airspeed.unit = "{airspeed.unit}", and the mass',
        )
    ]  # fmt: skip

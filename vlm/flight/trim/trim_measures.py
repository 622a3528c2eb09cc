"""What a trim is worth: power, share of the wings, and the margins to every limit."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.powered import IDLE_SHARE, FlightLoads, PoweredCraft
from vlm.flight.trim.trim import Trim, TrimProblem, gravity_direction
from vlm.frames import GEOMETRY_TO_BODY
from vlm.power.propulsion import electrical_power

BLOWN = 1e-3
"""Least speed of a strip over the mean of all at which it has an angle to speak of."""
OF_ROTOR = " of rotor "


@dataclass(frozen=True)
class TrimMeasures:
    """Numbers of one trim.

    Attributes
    ----------
    values : by the key of the table of quantities
    margins : distance to each limit by the limit's name, negative beyond it, over the limit itself
    """

    values: Mapping[str, float]
    margins: Mapping[str, float]

    @property
    def limit(self) -> str:
        """The limit passed by most; empty where none is."""
        if not self.margins:
            return ""
        name = min(self.margins, key=lambda key: self.margins[key])
        return name if self.margins[name] < 0.0 else ""

    @property
    def least_margin(self) -> float:
        """Distance to the nearest limit [1]."""
        return min(self.margins.values(), default=float("inf"))


def measured(problem: TrimProblem, trim: Trim) -> TrimMeasures:
    """Numbers of a coupled trim."""
    craft, loads = problem.craft, trim.loads
    shaft = loads.shaft_powers[0]
    power = float(electrical_power(craft.propulsion, shaft, idle=craft.idle_power))
    held = GEOMETRY_TO_BODY @ loads.rotor_moment[0]
    low, high = pitch_room(problem, trim)
    margins = limit_margins(craft, trim.thrusts, shaft, power)
    values = {
        "body_angle_deg": np.degrees(trim.theta),
        "lean_deg": np.degrees(trim.lean),
        "alpha_deg": np.degrees(trim.alpha) if trim.speed > 0.0 else np.nan,
        "electrical_power_W": power,
        "shaft_power_W": float(shaft.sum()),
        "thrust_N": float(trim.thrusts.sum()),
        "wing_share": wing_share(problem, trim),
        "stall_margin_deg": (
            float(np.degrees(stall_margins(loads)[0])) if trim.speed > 0.0 else np.nan
        ),
        "stalled_share": stalled_share(craft, loads),
        "consumption_Wh_km": power / trim.speed / 3.6 if trim.speed > 0.0 else np.nan,
        "pitch_margin_N_m": min(low, high),
        "rotor_roll_N_m": float(held[0]),
        "rotor_pitch_N_m": float(held[1]),
        "rotor_yaw_N_m": float(held[2]),
        "limit_margin": min(margins.values(), default=np.inf),
        "trim_residual": trim.residual,
        "strip_residual": float(loads.coupled.residual[0]),
        "strip_iterations": float(loads.coupled.iterations[0]),
    }
    return TrimMeasures({k: float(v) for k, v in values.items()}, margins)


def wing_share(problem: TrimProblem, trim: Trim) -> float:
    """Part of the weight that the air carries on the wings [1]."""
    force, _ = trim.loads.wings()
    down = gravity_direction(np.array([trim.theta]), np.array([trim.lean]))[0]
    return float(-force[0] @ down / problem.weight)


def stall_margins(loads: FlightLoads) -> Floats:
    """Least angle left to stall among the strips that meet any wind, shape (states,) [rad]."""
    coupled = loads.coupled
    moving = coupled.state.speed > BLOWN * coupled.onset.scale[:, None]
    return np.asarray(np.min(np.where(moving, coupled.state.margin, np.inf), axis=1))


def stalled_share(craft: PoweredCraft, loads: FlightLoads) -> float:
    """Part of the wings' area past the angle of highest lift [1]."""
    coupled = loads.coupled
    moving = coupled.state.speed[0] > BLOWN * coupled.onset.scale[0]
    area = craft.model.strips.area
    return float(area[moving & (coupled.state.margin[0] < 0.0)].sum() / area.sum())


def limit_margins(
    craft: PoweredCraft, thrusts: Floats, shafts: Floats, power: float
) -> dict[str, float]:
    """Distance to each limit over the limit's size, by its name.

    Parameters
    ----------
    thrusts, shafts : shape (rotors,), thrust and shaft power [N], [W]
    power : electrical [W]
    """
    margins: dict[str, float] = {}
    for i, rotor in enumerate(craft.rotors):
        thrust, shaft = float(thrusts[i]), float(shafts[i])
        if rotor.thrust_max_N is not None:
            margins[f"highest thrust{OF_ROTOR}{rotor.name}"] = 1.0 - thrust / rotor.thrust_max_N
        size = rotor.thrust_max_N or thrusts.sum() / len(craft.rotors) or 1.0
        if craft.propulsion.braking == "not allowed":
            margins[f"driven by the air{OF_ROTOR}{rotor.name}"] = driven_margin(craft, shaft)
        margins[f"lowest thrust{OF_ROTOR}{rotor.name}"] = (thrust - rotor.thrust_min_N) / size
        if rotor.power_max_W is not None:
            margins[f"power{OF_ROTOR}{rotor.name}"] = 1.0 - shaft / rotor.power_max_W
    if craft.propulsion.power_max_W is not None:
        margins["electrical power"] = 1.0 - power / craft.propulsion.power_max_W
    return margins


def driven_margin(craft: PoweredCraft, shaft: Any) -> Any:
    """Shaft power over what marks an idle one, a hundredth of the share in hover, times that share.

    Powers [W] of any shape; negative where the air drives the rotor [1].
    """
    return shaft * IDLE_SHARE / craft.idle_power


def driven_rotors(craft: PoweredCraft, trim: Trim) -> dict[str, float]:
    """Shaft power of the rotors that the air drives, by name, negative [W]."""
    powers = trim.loads.shaft_powers[0]
    return {
        rotor.name: float(power)
        for rotor, power in zip(craft.rotors, powers, strict=True)
        if power < 0.0
    }


def pitch_room(problem: TrimProblem, trim: Trim) -> tuple[float, float]:
    """Pitching moment the rotors have left, nose down and nose up, at the same thrust [N m].

    Found along the pattern that pitches, up to the first rotor at a limit of its thrust; infinite
    where no rotor has a limit, 0 where the rotors cannot pitch.
    """
    craft, patterns = problem.craft, problem.patterns
    if "pitch" not in patterns.names:
        return 0.0, 0.0
    shape = patterns.table[:, patterns.names.index("pitch")]
    arm = float((np.cross(craft.positions - craft.masses.centre, craft.axes).T @ shape)[1])
    least = np.array([rotor.thrust_min_N for rotor in craft.rotors])
    most = np.array([np.inf if r.thrust_max_N is None else r.thrust_max_N for r in craft.rotors])
    rooms = []
    for direction in (-1.0, 1.0):
        change = direction * np.sign(arm) * shape
        with np.errstate(divide="ignore", invalid="ignore"):
            up = np.where(change > 0.0, (most - trim.thrusts) / change, np.inf)
            down = np.where(change < 0.0, (least - trim.thrusts) / change, np.inf)
        rooms.append(float(abs(arm) * np.min(np.minimum(up, down))))
    return rooms[0], rooms[1]


def limits_in_words(margins: Mapping[str, float]) -> str:
    """Limits that are passed, in words, those of one kind together, the worst kind first."""
    passed = sorted((m, name) for name, m in margins.items() if m < 0.0)
    kinds: dict[str, list[str]] = {}
    for _, name in passed:
        kind, _, rotor = name.partition(OF_ROTOR)
        kinds.setdefault(kind, []).append(rotor)
    return "; ".join(
        f"{kind} ({', '.join(rotors)})" if rotors[0] else kind for kind, rotors in kinds.items()
    )

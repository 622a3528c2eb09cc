"""Moments that the rotors can add to a trim while their total thrust is held.

About each axis the highest and the lowest change of moment that the rotors can give are the ends of
one bounded problem in their thrusts T:

    highest (lowest) m_axis(T) - m_axis(T0)   with   sum T a_x = sum T0 a_x,
    the two other moments as in the trim,   T_low <= T <= T_high                         (1)

    m(T) = sum T r x a - s Q(T) a,   about the centre of gravity                        (2)

with a the axis, r the place, s the sense of rotation (+1 right-handed) and Q the shaft's torque.
T_low and T_high are the file's least and highest thrust, cut where the shaft's power passes its
limit or the rotor's model has no value. Where a layout cannot turn about an axis by itself (two
rotors roll and yaw together), the two other moments are left free, and the answer says so.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from vlm.constants import Floats
from vlm.description.power import Rotor
from vlm.frames import GEOMETRY_TO_BODY
from vlm.power.momentum import disc_flow
from vlm.power.rotor import disc_area, rotor_model
from vlm.power.rotor_state import RotorState

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

AXES = ("roll", "pitch", "yaw")
NODES = 81
HALVINGS = 40
SMALL = 1e-7
AT_LIMIT = 1e-5


@dataclass(frozen=True)
class ThrustRange:
    """What one rotor can give in a wind.

    Attributes
    ----------
    low, high : least and highest thrust [N]
    low_by, high_by : what sets them: "thrust", "power" or "model"; "total" where only the
        total thrust of all rotors does
    torque : torque at the shaft against thrust [N m]
    allowed : whether the thrust of the trim lies within the rotor's own limits
    """

    low: float
    high: float
    low_by: str
    high_by: str
    torque: "CubicSpline"
    allowed: bool

    def gives(self, thrust: float) -> bool:
        """Whether the rotor may give a thrust [N]."""
        return self.allowed and self.low <= thrust <= self.high


@dataclass(frozen=True)
class MomentReach:
    """How far the moment about one axis can be changed.

    Attributes
    ----------
    axis : "roll", "pitch" or "yaw"
    highest, lowest : changes of the moment, body axes; not below and not above zero [N m]
    alone : whether the two other moments stay as in the trim
    others : what comes with ``highest`` and ``lowest`` about roll, pitch and yaw, shape (2, 3)
        [N m]
    thrusts : shape (2, rotors), of both ends [N]
    stopped_by : what ends each, such as "lowest thrust of rotor port"
    """

    axis: str
    highest: float
    lowest: float
    alone: bool
    others: Floats
    thrusts: Floats
    stopped_by: tuple[str, str]

    @property
    def either_way(self) -> float:
        """What can be had both ways [N m]."""
        return min(self.highest, -self.lowest)


@dataclass(frozen=True)
class RotorMoments:
    """Reach about all three axes at one trim.

    Attributes
    ----------
    thrusts : of the trim, shape (rotors,) [N]
    roll, pitch, yaw : the reach about each axis
    """

    thrusts: Floats
    roll: MomentReach
    pitch: MomentReach
    yaw: MomentReach

    @property
    def thrust(self) -> float:
        """Total thrust [N]."""
        return float(self.thrusts.sum())


def rotor_moments(
    rotors: Sequence[Rotor],
    thrusts: Floats,
    wind: Floats,
    density: float,
    centre: Floats,
    folder: Path | None = None,
    power: float = 1.0,
) -> RotorMoments | None:
    """Equation (1) for all three axes.

    Parameters
    ----------
    thrusts : of the trim, shape (rotors,) [N]
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    density : [kg/m^3]
    centre : centre of gravity, geometry axes, shape (3,) [m]
    folder : where the path of a rotor's table starts
    power : factor on the power and the torque that the rotors need [1]

    Returns
    -------
    None without rotors, or where the trim itself asks a rotor for a thrust beyond its range
    """
    if not rotors:
        return None
    ranges = thrust_ranges(rotors, np.asarray(thrusts, dtype=float), wind, density, folder, power)
    if any(not one.gives(float(t)) for one, t in zip(ranges, thrusts, strict=True)):
        return None
    problem = _Problem(rotors, ranges, np.asarray(thrusts, dtype=float), centre)
    roll, pitch, yaw = (problem.reach(axis) for axis in range(3))
    return RotorMoments(problem.trim, roll, pitch, yaw)


def thrust_ranges(
    rotors: Sequence[Rotor],
    thrusts: Floats,
    wind: Floats,
    density: float,
    folder: Path | None = None,
    power: float = 1.0,
) -> list[ThrustRange]:
    """The thrust that each rotor can give, total thrust held; see :func:`rotor_moments`."""
    least = sum(min(r.thrust_min_N, float(t)) for r, t in zip(rotors, thrusts, strict=True))
    found = []
    for rotor, thrust in zip(rotors, thrusts, strict=True):
        # What is left where all the others give their least.
        most = float(thrusts.sum()) - least + min(rotor.thrust_min_N, float(thrust))
        found.append(thrust_range(rotor, float(thrust), most, wind, density, folder, power))
    return found


def thrust_range(
    rotor: Rotor,
    thrust: float,
    most: float,
    wind: Floats,
    density: float,
    folder: Path | None,
    power: float = 1.0,
) -> ThrustRange:
    """What one rotor can give in a wind; see :func:`rotor_moments`.

    Parameters
    ----------
    thrust : a thrust it can give [N]
    most : highest thrust looked at [N]
    """
    from scipy.interpolate import CubicSpline

    axis = np.array(rotor.direction)
    axial = -float(wind @ axis)
    edgewise = float(np.linalg.norm(wind + axial * axis))
    model = rotor_model(rotor, folder)
    high, high_by = max(most, thrust), "total"
    if rotor.thrust_max_N is not None and rotor.thrust_max_N < high:
        high, high_by = rotor.thrust_max_N, "thrust"
    low, low_by = rotor.thrust_min_N, "thrust"
    high = max(high, low + SMALL)

    def state(thrusts: Floats) -> RotorState:
        flow = disc_flow(thrusts, axial, edgewise, density, disc_area(rotor))
        return model.state(flow, density)

    nodes = np.unique(np.append(np.linspace(low, high, NODES), np.clip(thrust, low, high)))
    known = state(nodes)
    usable = known.in_range.copy()
    needed = np.where(usable, power * known.power, np.inf)
    start = int(np.argmin(np.abs(nodes - thrust)))
    for i in range(start + 1, len(nodes)):
        if not usable[i]:
            high, high_by = _last_usable(state, nodes[i - 1], nodes[i]), "model"
            break
        if rotor.power_max_W is not None and needed[i] > rotor.power_max_W:
            high = _passes(state, rotor.power_max_W / power, nodes[i - 1], nodes[i])
            high_by = "power"
            break
    for i in range(start - 1, -1, -1):
        if not usable[i]:
            low, low_by = _last_usable(state, nodes[i + 1], nodes[i]), "model"
            break
    allowed = low <= thrust <= high and bool(state(np.array([thrust])).in_range[0])
    low, high = min(low, thrust), max(high, thrust, low + SMALL)
    inside = np.unique(np.append(np.linspace(low, high, NODES), thrust))
    torque = CubicSpline(inside, power * state(inside).torque)
    return ThrustRange(low, high, low_by, high_by, torque, allowed)


def _last_usable(state: Callable[[Floats], RotorState], inside: float, outside: float) -> float:
    """The thrust furthest out at which a rotor's model still has a value, by bisection."""
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + outside)
        if bool(state(np.array([middle])).in_range[0]):
            inside = middle
        else:
            outside = middle
    return float(inside)


def _passes(state: Callable[[Floats], RotorState], limit: float, low: float, high: float) -> float:
    """The thrust at which the shaft's power reaches its limit."""

    from scipy.optimize import brentq

    def excess(thrust: float) -> float:
        return float(state(np.array([thrust])).power[0]) - limit

    if excess(low) >= 0.0:
        return float(low)
    return float(brentq(excess, low, high, xtol=1e-9))


class _Torque:
    """Torque of one rotor and its slope, read for one thrust at a time.

    A search asks for them tens of thousands of times, and one value takes an array's way through a
    spline twenty times as long as the sums.
    """

    def __init__(self, spline: "CubicSpline") -> None:
        self.knots: list[float] = spline.x.tolist()
        self.pieces: list[list[float]] = spline.c.T.tolist()

    def at(self, thrust: float) -> tuple[float, float]:
        """Torque [N m], and its slope [m]."""
        place = min(max(bisect_right(self.knots, thrust) - 1, 0), len(self.pieces) - 1)
        a, b, c, d = self.pieces[place]
        u = thrust - self.knots[place]
        return ((a * u + b) * u + c) * u + d, (3.0 * a * u + 2.0 * b) * u + c


class _Problem:
    """Equations (1) and (2) at one trim."""

    def __init__(
        self, rotors: Sequence[Rotor], ranges: Sequence[ThrustRange], trim: Floats, centre: Floats
    ) -> None:
        self.rotors, self.ranges, self.trim = rotors, ranges, trim
        self.axes = np.array([r.direction for r in rotors]) @ GEOMETRY_TO_BODY
        arms = (np.array([r.position_m for r in rotors]) - centre) @ GEOMETRY_TO_BODY
        self.levers = np.cross(arms, self.axes)
        self.spins = np.array([r.sense for r in rotors])
        self.low = np.array([r.low for r in ranges])
        self.high = np.array([r.high for r in ranges])
        self.scale = max(float(np.abs(self.levers).max()) * float(np.ptp(self.high)), SMALL)
        self.scale = max(self.scale, float((self.high - self.low).max()) * 1e-2)
        self._torques = [_Torque(r.torque) for r in ranges]
        self._turning = self.spins[:, None] * self.axes
        self.start = self.moments(trim)

    def moments(self, thrusts: Floats) -> Floats:
        """Equation (2), body axes, shape (3,) [N m]."""
        return np.asarray(thrusts @ self.levers - self._torque_of(thrusts)[:, 0] @ self._turning)

    def slopes(self, thrusts: Floats) -> Floats:
        """Rates of (2) with each thrust, shape (3, rotors) [m]."""
        return np.asarray((self.levers - self._torque_of(thrusts)[:, 1:] * self._turning).T)

    def _torque_of(self, thrusts: Floats) -> Floats:
        """Torque of each rotor and its slope, shape (rotors, 2) [N m], [m]."""
        each = zip(self._torques, thrusts.tolist(), strict=True)
        return np.array([torque.at(thrust) for torque, thrust in each])

    def reach(self, axis: int) -> MomentReach:
        """Both ends about one axis."""
        ends = [self.end(axis, sign, alone=True) for sign in (1.0, -1.0)]
        sizes = [abs(float(self.moments(t)[axis] - self.start[axis])) for t in ends]
        alone = max(sizes) > SMALL * self.scale
        if not alone:
            ends = [self.end(axis, sign, alone=False) for sign in (1.0, -1.0)]
        changes = np.array([self.moments(t) - self.start for t in ends])
        return MomentReach(
            axis=AXES[axis],
            highest=max(0.0, float(changes[0, axis])),
            lowest=min(0.0, float(changes[1, axis])),
            alone=alone,
            others=changes,
            thrusts=np.array(ends),
            stopped_by=(self.stopped(ends[0]), self.stopped(ends[1])),
        )

    def held(self, thrusts: Floats, axis: int, alone: bool) -> tuple[Floats, Floats]:
        """What must stay zero, and its rates: thrust along x, and the other moments."""
        others = [i for i in range(3) if i != axis] if alone else []
        ahead = self.axes[:, 0]
        values = [float((thrusts - self.trim) @ ahead)]
        change = self.moments(thrusts) - self.start
        slopes = self.slopes(thrusts)
        return (
            np.array(values + [float(change[i]) for i in others]),
            np.vstack([ahead, *(slopes[i] for i in others)]),
        )

    def end(self, axis: int, sign: float, alone: bool) -> Floats:
        """Thrusts at one end: the better of two starts, the trim and a straight-line answer."""
        starts = [self.trim, self.straight(axis, sign, alone)]
        best, most = self.trim, 0.0
        for start in starts:
            thrusts = self.solved(axis, sign, alone, start)
            off = float(np.abs(self.held(thrusts, axis, alone)[0]).max())
            change = sign * float(self.moments(thrusts)[axis] - self.start[axis])
            if off <= 1e-6 * max(self.scale, 1.0) and change > most:
                best, most = thrusts, change
        return best

    def straight(self, axis: int, sign: float, alone: bool) -> Floats:
        """The answer with torques on their tangents at the trim."""
        from scipy.optimize import linprog

        _, rates = self.held(self.trim, axis, alone)
        found = linprog(
            -sign * self.slopes(self.trim)[axis],
            A_eq=rates,
            b_eq=rates @ self.trim,
            bounds=list(zip(self.low, self.high, strict=True)),
        )
        return np.asarray(found.x) if found.success else self.trim

    def solved(self, axis: int, sign: float, alone: bool, start: Floats) -> Floats:
        """Equation (1) by sequential quadratic programming."""
        from scipy.optimize import Bounds, minimize

        # Conditions that repeat each other (a layout without the arm) are gathered in one.
        turn, sizes, _ = np.linalg.svd(self.held(self.trim, axis, alone)[1], full_matrices=False)
        kept = turn[:, sizes > 1e-9 * sizes[0]].T
        conditions: Any = {
            "type": "eq",
            "fun": lambda t: kept @ self.held(t, axis, alone)[0],
            "jac": lambda t: kept @ self.held(t, axis, alone)[1],
        }

        def aim(thrusts: Floats) -> float:
            return -sign * float(self.moments(thrusts)[axis] - self.start[axis]) / self.scale

        def slope(thrusts: Floats) -> Floats:
            return np.asarray(-sign * self.slopes(thrusts)[axis] / self.scale)

        found = minimize(
            aim,
            np.asarray(start, dtype=np.float64),
            jac=slope,
            method="SLSQP",
            bounds=Bounds(self.low, self.high),
            constraints=conditions,
            options={"ftol": 1e-12, "maxiter": 200},
        )
        return np.asarray(np.clip(found.x, self.low, self.high))

    def stopped(self, thrusts: Floats) -> str:
        """The limits that thrusts stand at."""
        words = {"thrust": "thrust", "power": "power", "model": "model's range", "total": "thrust"}
        named = []
        for rotor, one, thrust in zip(self.rotors, self.ranges, thrusts, strict=True):
            near = AT_LIMIT * max(1.0, one.high - one.low)
            if thrust - one.low <= near:
                named.append(f"lowest {words[one.low_by]} of rotor {rotor.name}")
            elif one.high - thrust <= near and one.high_by != "total":
                named.append(f"highest {words[one.high_by]} of rotor {rotor.name}")
        return ", ".join(named)

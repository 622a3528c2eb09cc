"""Bank against time after a folding command: inertia, damping, dihedral effect, swinging tips.

Airspeed and pitch attitude are held (by the rotors); the craft rolls, yaws and slips. With the
angular momentum of craft and turning tips about the centre of gravity, body axes,

    H = I(fold) omega + sum h_i fold_i',   H' + omega x H = M                            (1)
    v' = Y / m + g cos theta sin phi - r u + p w,   phi' = p + r tan theta cos phi       (2)

H is the state, not omega: when a worm gear stops a tip in an instant, omega jumps and H does not.
All loads come from the tables of the folds passed on the way, turning rates of the tips included.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.steady_roll import roll_axis
from vlm.flight.mechanism.fold_path import FoldPath
from vlm.frames import GEOMETRY_TO_BODY
from vlm.loads.angles import AngledTable

Yaw = Literal["held", "free"]
FULL_TURN = 2.0 * np.pi


@dataclass(frozen=True)
class YawAid:
    """Yawing moment that rotors add: stiffness against sideslip [N m/rad], damping [N m s/rad]."""

    stiffness: float = 0.0
    damping: float = 0.0


@dataclass(frozen=True)
class Passage:
    """The craft at one instant of the fold path."""

    time: float
    craft: FoldedCraft
    flight: LevelFlight


@dataclass(frozen=True)
class RollResponse:
    """History of a roll.

    Attributes
    ----------
    times : shape (n,) [s]
    bank : bank angle [rad]
    roll_rate : p about the body's x axis, or about the direction of flight with yaw held [rad/s]
    yaw_rate : r [rad/s]
    sideslip : [rad]
    folds : by side [rad]
    """

    times: Floats
    bank: Floats
    roll_rate: Floats
    yaw_rate: Floats
    sideslip: Floats
    folds: dict[str, Floats]

    def time_to(self, bank: float) -> float | None:
        """When the bank first reaches an angle, in the sense of its sign [rad] -> [s]."""
        reached = np.flatnonzero(np.sign(bank) * self.bank >= abs(bank))
        if not len(reached):
            return None
        after = int(reached[0])
        if after == 0:
            return float(self.times[0])
        pair = slice(after - 1, after + 1)
        order = np.sign(bank)
        return float(np.interp(abs(bank), order * self.bank[pair], self.times[pair]))


def swing_momentum(craft: FoldedCraft) -> Floats:
    """Angular momentum about the centre of gravity for each unit of tip turning rate.

    shape (3, tips), body axes [kg m^2]
    """
    columns = []
    for body in craft.bodies:
        part, line = craft.masses.parts[body], craft.loads.lattice.hinges[body]
        moved = np.cross(line.axis, part.centre - line.point)
        momentum = part.inertia @ line.axis
        momentum = momentum + part.mass * np.cross(part.centre - craft.masses.centre, moved)
        columns.append(GEOMETRY_TO_BODY @ momentum)
    return np.array(columns).T.reshape(3, len(columns))


class _Blend:
    """Tables, inertia and swing of the passages, interpolated in time."""

    def __init__(self, passages: Sequence[Passage]) -> None:
        first = passages[0].craft
        self.motions, self.tips = first.motions, len(first.bodies)
        self.angles = len(first.table.nodes)
        rows = [self._packed(passage) for passage in passages]
        self.last = passages[-1].time
        # One passage: the tips have folded already; a line through it twice stands still.
        if len(passages) == 1:
            rows, times = rows * 2, [self.last - 1.0, self.last]
        else:
            times = [passage.time for passage in passages]
        self._at = PchipInterpolator(np.array(times), np.array(rows))

    def _packed(self, passage: Passage) -> Floats:
        craft = passage.craft
        pieces = [craft.masses.inertia, swing_momentum(craft), craft.table.nodes]
        if craft.table.aside is not None:
            pieces.append(craft.table.aside)
        return np.concatenate([[passage.flight.alpha], *(p.ravel() for p in pieces)])

    def __call__(self, time: float) -> tuple[AngledTable, Floats, Floats, float]:
        """Load table, inertia, swing momentum, angle of attack."""
        row = np.asarray(self._at(min(time, self.last)))
        cut = np.cumsum([1, 9, 3 * self.tips])
        tables = row[cut[2] :].reshape(-1, self.angles, self.motions, self.motions, 6)
        return (
            AngledTable(tables[0], tables[1] if len(tables) > 1 else None),
            row[cut[0] : cut[1]].reshape(3, 3),
            row[cut[1] : cut[2]].reshape(3, self.tips),
            float(row[0]),
        )


class _Rolling:
    """Right-hand sides of equations (1) and (2).

    State: v, H_x, H_z, phi; with yaw held, H about the direction of flight and phi.
    """

    def __init__(self, passages: Sequence[Passage], path: FoldPath, swings: bool) -> None:
        self.blend, self.path = _Blend(passages), path
        self.mass = passages[0].craft.masses.mass
        self.speed, self.density = passages[0].flight.airspeed, passages[0].flight.density
        self.bodies, self.swings = passages[0].craft.bodies, swings
        self.linkage = passages[0].craft.loads.lattice.fold_rates

    def tip_rates(self, time: float) -> Floats:
        if not self.swings:
            return np.zeros(len(self.bodies))
        return np.array(
            [self.linkage[b] * self.path.rate(b.split("_")[1], time) for b in self.bodies]
        )

    def held_rate(self, time: float, momentum: float) -> float:
        """Roll rate about the direction of flight."""
        _, inertia, swing, alpha = self.blend(time)
        axis = roll_axis(alpha)
        own = axis @ swing @ self.tip_rates(time)
        return float((momentum - own) / (axis @ inertia @ axis))

    def held(self, time: float, state: Floats) -> Floats:
        table, _, _, alpha = self.blend(time)
        axis = roll_axis(alpha)
        rate = self.held_rate(time, float(state[0]))
        motion = np.concatenate([self.speed * axis, rate * axis, self.tip_rates(time)])
        loads = self.density * np.einsum("ijk,i,j->k", table.at(alpha), motion, motion)
        return np.array([axis @ loads[3:], rate])

    def free_rates(self, time: float, state: Floats) -> tuple[float, float]:
        """p and r from H_x and H_z, no pitching."""
        _, inertia, swing, _ = self.blend(time)
        own = swing @ self.tip_rates(time)
        chosen = [0, 2]
        right = state[1:3] - own[chosen]
        p, r = np.linalg.solve(inertia[np.ix_(chosen, chosen)], right)
        return float(p), float(r)

    def free(self, time: float, state: Floats, aid: YawAid) -> Floats:
        table, inertia, swing, alpha = self.blend(time)
        v, _, _, phi = state
        p, r = self.free_rates(time, state)
        forward = np.sqrt(max(self.speed**2 - v**2, 0.0))
        u, w = forward * np.cos(alpha), forward * np.sin(alpha)
        motion = np.concatenate([[u, v, w, p, 0.0, r], self.tip_rates(time)])
        slip = float(np.arcsin(np.clip(v / self.speed, -1, 1)))
        loads = self.density * np.einsum("ijk,i,j->k", table.at(alpha, slip), motion, motion)
        loads[5] += aid.stiffness * slip - aid.damping * r
        pitching = float((inertia @ [p, 0.0, r] + swing @ self.tip_rates(time))[1])
        side = loads[1] / self.mass + GRAVITY * np.cos(alpha) * np.sin(phi)
        return np.array(
            [
                side - r * u + p * w,
                loads[3] + r * pitching,
                loads[5] - p * pitching,
                p + r * np.tan(alpha) * np.cos(phi),
            ]
        )


def roll_response(
    passages: Sequence[Passage],
    path: FoldPath,
    duration: float,
    yaw: Yaw | YawAid = "held",
    *,
    swings: bool = True,
    count: int = 400,
) -> RollResponse:
    """History of bank from level flight when the tips are told to fold.

    Parameters
    ----------
    passages : the craft at instants of the path, the first at time 0
    path : folds against time
    duration : how long to follow it [s]
    yaw : "held": rotors keep the sideslip at zero, the craft rolls about its direction of flight;
        "free": nothing holds it in yaw; or what the rotors add in yaw
    swings : whether the turning of the tips itself counts, in the air and by their momentum
    count : times given back

    The history ends early where the bank passes a full turn or the sideslip 60 degrees: the
    equations hold no longer there.
    """
    rolling = _Rolling(passages, path, swings)
    held = yaw == "held"
    aid = yaw if isinstance(yaw, YawAid) else YawAid()

    def slope(time: float, state: Floats) -> Floats:
        return rolling.held(time, state) if held else rolling.free(time, state, aid)

    def runs_out(_time: float, state: Floats) -> float:
        slip = 0.0 if held else abs(state[0]) / rolling.speed
        return float(min(FULL_TURN - abs(state[-1]), np.sin(np.radians(60.0)) - slip))

    runs_out.terminal = True  # type: ignore[attr-defined]
    state = np.zeros(2 if held else 4)
    states: list[Floats] = []
    times: list[Floats] = []
    cuts = sorted({0.0, duration, *(t for t in path.stops.values() if 0.0 < t < duration)})
    for start, end in pairwise(cuts):
        asked = np.linspace(start, end, max(2, round(count * (end - start) / duration)) + 1)
        done = solve_ivp(
            slope, (start, end), state, t_eval=asked, events=runs_out, rtol=1e-7, atol=1e-9
        )
        fresh = slice(1 if times else 0, None)
        times.append(done.t[fresh])
        states.append(done.y[:, fresh])
        if done.status == 1 or not len(done.t):
            break
        state = done.y[:, -1]
    return _history(rolling, np.concatenate(times), np.concatenate(states, axis=1), held)


def _history(rolling: _Rolling, times: Floats, states: Floats, held: bool) -> RollResponse:
    path = rolling.path
    folds = {side: np.array([path.fold(side, t) for t in times]) for side in ("left", "right")}
    if held:
        rate = np.array([rolling.held_rate(t, h) for t, h in zip(times, states[0], strict=True)])
        nothing = np.zeros_like(times)
        return RollResponse(times, states[1], rate, nothing, nothing, folds)
    rates = [rolling.free_rates(t, s) for t, s in zip(times, states.T, strict=True)]
    both = np.array(rates).reshape(-1, 2)
    slip = np.arcsin(np.clip(states[0] / rolling.speed, -1.0, 1.0))
    return RollResponse(times, states[3], both[:, 0], both[:, 1], slip, folds)

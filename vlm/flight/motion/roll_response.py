"""Bank against time after a folding command: inertia, damping, dihedral effect, swinging tips.

Airspeed and pitch attitude are held (by the rotors); the craft rolls, yaws and slips. With the
angular momentum of craft and turning tips about the centre of gravity, body axes,

    H = I(fold) omega + sum h_i fold_i',   H' + omega x H = M                            (1)
    v' = Y / m + g cos theta sin phi - r u + p w,   phi' = p + r tan theta cos phi       (2)

H is the state, not omega: when a worm gear stops a tip in an instant, omega jumps and H does not.
With the sideslip held at zero the craft rolls at p about its direction of flight x_s and yaws
across it at the rate that a level, banked path without sideslip needs,

    r = (Y / m + g sin phi) / U,   (x_s . H)' = x_s . (M - omega x H),   phi' = p        (3)

All loads come from the tables of the folds passed on the way, turning rates of the tips included;
what sections change (stall, profile drag) comes from tables over sideslip and roll rate, in which
yaw rate and the swing of the tips are left out.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator

from vlm.constants import GRAVITY, Floats
from vlm.errors import ComputationFailed
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.steady_roll import roll_axis
from vlm.flight.mechanism.fold_path import FoldPath
from vlm.flight.motion.passage import Passage
from vlm.flight.motion.section_blend import SectionBlend, section_blend
from vlm.flow.direction import held_angle
from vlm.frames import GEOMETRY_TO_BODY, cross
from vlm.sides import Side, on_side

Yaw = Literal["held", "free"]
FULL_TURN = 2.0 * np.pi
HELD_STEPS = 4
SIDEWAYS = [1, 3, 5]
"""Where v, p, r stand among the motions."""


WIDEST_SLIP = float(np.radians(60.0))
SLIP_REACHED, TURN_REACHED = "sideslip reaches 60 deg", "bank passes a full turn"


@dataclass(frozen=True)
class YawAid:
    """Yawing moment that rotors add.

    Attributes
    ----------
    stiffness : against sideslip [N m/rad]
    damping : against yaw rate [N m s/rad]
    lowest, highest : what the rotors can give; without limits where nothing is known [N m]
    """

    stiffness: float = 0.0
    damping: float = 0.0
    lowest: float = float("-inf")
    highest: float = float("inf")

    def moment(self, sideslip: float, yaw_rate: float) -> float:
        """Moment given, positive nose to starboard [N m]."""
        asked = self.stiffness * sideslip - self.damping * yaw_rate
        return float(min(max(asked, self.lowest), self.highest))


@dataclass(frozen=True)
class RollResponse:
    """History of a roll.

    Attributes
    ----------
    times : shape (n,) [s]
    bank : bank angle [rad]
    roll_rate : p about the body's x axis, or about the direction of flight with yaw held [rad/s]
    yaw_rate : r about the body's z axis, or across the direction of flight with yaw held [rad/s]
    sideslip : [rad]
    folds : by side [rad]
    yaw_moment : that the rotors add; zero with yaw held or free [N m]
    stalled : share of the wings' area past stall [1]
    cut_off : why the history ends before the time asked for; empty where it does not
    """

    times: Floats
    bank: Floats
    roll_rate: Floats
    yaw_rate: Floats
    sideslip: Floats
    folds: dict[Side, Floats]
    yaw_moment: Floats
    stalled: Floats
    cut_off: str = ""

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


@dataclass(frozen=True)
class _Instant:
    """What counts at one time of the path.

    Attributes
    ----------
    alpha : angle of attack [rad]
    ahead, below : along and across the direction of flight, body axes, shape (3,)
    inertia : [kg m^2]
    swing : momentum per unit of tip rates, shape (3, tips) [kg m^2]
    still : load table without sideslip, shape (motions, motions, 6)
    aside : its rate with the wake's turn with sideslip; None where there is none [1/rad]
    """

    alpha: float
    ahead: Floats
    below: Floats
    inertia: Floats
    swing: Floats
    still: Floats
    aside: Floats | None

    def table(self, slip: float) -> Floats:
        """Load table at a sideslip [rad]."""
        if self.aside is None or slip == 0.0:
            return self.still
        return np.asarray(self.still + float(held_angle(slip)) * self.aside)


class _Curve:
    """Rows of numbers over time, interpolated by cubics that keep their slopes' sense."""

    def __init__(self, times: Sequence[float], rows: Sequence[Floats]) -> None:
        self.last = times[-1]
        # One passage: the tips have folded already; a line through it twice stands still.
        if len(rows) == 1:
            rows, times = [rows[0]] * 2, [self.last - 1.0, self.last]
        self._times = list(times)
        self._pieces = PchipInterpolator(np.array(times), np.array(rows)).c

    def __call__(self, time: float) -> Floats:
        """The row at a time; after the last, the last."""
        at = min(time, self.last)
        piece = min(max(bisect_right(self._times, at) - 1, 0), len(self._times) - 2)
        cubic, since = self._pieces[:, piece], at - self._times[piece]
        return np.asarray(((cubic[0] * since + cubic[1]) * since + cubic[2]) * since + cubic[3])


class _Blend:
    """Tables, inertia and swing of the passages, interpolated in time.

    Parameters
    ----------
    slips : whether the craft slips, so that what sideslip changes is needed
    """

    def __init__(self, passages: Sequence[Passage], slips: bool) -> None:
        first = passages[0].craft
        self.motions, self.tips = first.motions, len(first.bodies)
        self._all = _Curve([p.time for p in passages], [_packed(p) for p in passages])
        self._cut = np.cumsum([1, 9, 3 * self.tips])
        self._beside = None
        if slips and first.table.turns and first.table.beside is not None:
            self._beside = _Curve([p.time for p in passages], [_aside(p) for p in passages])

    def __call__(self, time: float) -> _Instant:
        """What counts at a time; after the last passage, what counts there."""
        row, cut, size = self._all(time), self._cut, self.motions
        alpha = float(row[0])
        ahead = roll_axis(alpha)
        beside = self._beside
        return _Instant(
            alpha=alpha,
            ahead=ahead,
            below=np.array([-ahead[2], 0.0, ahead[0]]),
            inertia=row[cut[0] : cut[1]].reshape(3, 3),
            swing=row[cut[1] : cut[2]].reshape(3, self.tips),
            still=row[cut[2] :].reshape(size, size, 6),
            aside=None if beside is None else beside(time).reshape(size, size, 6),
        )


def _packed(passage: Passage) -> Floats:
    craft, alpha = passage.craft, passage.flight.alpha
    pieces = (craft.masses.inertia, swing_momentum(craft), craft.table.at(alpha))
    return np.concatenate([[alpha], *(piece.ravel() for piece in pieces)])


def _aside(passage: Passage) -> Floats:
    """Rate of the load table with the wake's turn with sideslip, at the passage's angle."""
    return passage.craft.table.rates(passage.flight.alpha)["beta"].ravel()


class _Rolling:
    """Right-hand sides of equations (1) and (2).

    State: v, H_x, H_z, phi; with yaw held, H about the direction of flight and phi.
    """

    def __init__(
        self,
        passages: Sequence[Passage],
        path: FoldPath,
        swings: bool,
        sections: SectionBlend,
        slips: bool,
        rotors: Floats,
    ) -> None:
        self.blend, self.path, self.sections = _Blend(passages, slips), path, sections
        self.rotors = rotors[:, SIDEWAYS]
        self.mass = passages[0].craft.masses.mass
        self.speed, self.density = passages[0].flight.airspeed, passages[0].flight.density
        self.bodies, self.swings = passages[0].craft.bodies, swings
        linkage = passages[0].craft.loads.lattice.fold_rates
        self.follow = {
            side: np.array(
                [linkage[b] if b in on_side(linkage, side) else 0.0 for b in self.bodies]
            )
            for side in Side
        }

    def tip_rates(self, time: float) -> Floats:
        rates = np.zeros(len(self.bodies))
        if self.swings:
            for side, follow in self.follow.items():
                rates += follow * self.path.rate(side, time)
        return rates

    def loads(self, time: float, motion: Floats, table: Floats) -> Floats:
        """Loads of the air, body axes, shape (6,)."""
        half = (motion @ table.reshape(len(motion), -1)).reshape(len(motion), 6)
        own = self.density * (motion @ half)
        return np.asarray(own + self.sections.wrench(time, float(motion[1]), float(motion[3])))

    def held_rates(
        self, time: float, momentum: float, bank: float, now: _Instant, tips: Floats
    ) -> tuple[float, float, Floats]:
        """Rates about and across the direction of flight, equation (3), and the loads with them."""
        ahead, below, yaw = now.ahead, now.below, 0.0
        inertia, swung = float(ahead @ now.inertia @ ahead), float(ahead @ (now.swing @ tips))
        mixed = float(ahead @ now.inertia @ below)
        for _ in range(HELD_STEPS):
            rate = (momentum - swung - mixed * yaw) / inertia
            motion = np.concatenate([self.speed * ahead, rate * ahead + yaw * below, tips])
            loads = self.loads(time, motion, now.still)
            yaw = float(loads[1] / self.mass + GRAVITY * np.sin(bank)) / self.speed
        return rate, yaw, loads

    def held(self, time: float, state: Floats) -> Floats:
        now, tips = self.blend(time), self.tip_rates(time)
        rate, yaw, loads = self.held_rates(time, float(state[0]), float(state[1]), now, tips)
        turning = rate * now.ahead + yaw * now.below
        momentum = now.inertia @ turning + now.swing @ tips
        return np.array([now.ahead @ (loads[3:] - cross(turning, momentum)), rate])

    def free_rates(self, state: Floats, now: _Instant, tips: Floats) -> tuple[float, float]:
        """p and r from H_x and H_z, no pitching."""
        own, inertia = now.swing @ tips, now.inertia
        along, down = float(state[1] - own[0]), float(state[2] - own[2])
        (a, b), (c, d) = inertia[::2, ::2].tolist()
        size = a * d - b * c
        return (d * along - b * down) / size, (a * down - c * along) / size

    def free(self, time: float, state: Floats, aid: YawAid) -> Floats:
        now, tips = self.blend(time), self.tip_rates(time)
        v, phi, alpha = float(state[0]), float(state[3]), now.alpha
        p, r = self.free_rates(state, now, tips)
        forward = math.sqrt(max(self.speed**2 - v**2, 0.0))
        u, w = forward * math.cos(alpha), forward * math.sin(alpha)
        motion = np.concatenate([[u, v, w, p, 0.0, r], tips])
        slip = math.asin(min(max(v / self.speed, -1.0), 1.0))
        loads = self.loads(time, motion, now.table(slip))
        loads += self.rotors @ [v, p, r]
        loads[5] += aid.moment(slip, r)
        pitching = float((now.inertia @ [p, 0.0, r] + now.swing @ tips)[1])
        side = loads[1] / self.mass + GRAVITY * math.cos(alpha) * math.sin(phi)
        return np.array(
            [
                side - r * u + p * w,
                loads[3] + r * pitching,
                loads[5] - p * pitching,
                p + r * math.tan(alpha) * math.cos(phi),
            ]
        )

    def rates_at(self, time: float, state: Floats, held: bool) -> tuple[float, float]:
        """Roll and yaw rate of a state."""
        now, tips = self.blend(time), self.tip_rates(time)
        if held:
            return self.held_rates(time, float(state[0]), float(state[1]), now, tips)[:2]
        return self.free_rates(state, now, tips)


def roll_response(
    passages: Sequence[Passage],
    path: FoldPath,
    duration: float,
    yaw: Yaw | YawAid = "held",
    *,
    swings: bool = True,
    rotors: Floats | None = None,
    count: int = 400,
) -> RollResponse:
    """History of bank from level flight when the tips are commanded to fold.

    Parameters
    ----------
    passages : the craft at instants of the path, the first at time 0
    path : folds against time
    duration : how long to follow it [s]
    yaw : "held": rotors keep the sideslip at zero, whatever moment that takes; "free": nothing
        holds it in yaw; or what the rotors add in yaw
    swings : whether the turning of the tips itself counts, in the air and by their momentum
    rotors : rates of the rotors' own loads, controls fixed (:mod:`vlm.flight.craft.rotor_rates`),
        shape (6, 6), of which those with side velocity, roll and yaw rate count where yaw is not
        held; None for none
    count : steps of time between the instants that are given back

    The history ends early where the bank passes a full turn or the sideslip 60 degrees: the
    equations hold no longer there. :attr:`RollResponse.cut_off` then says which.
    """
    held = yaw == "held"
    sections = section_blend(passages, slips=not held)
    own = np.zeros((6, 6)) if rotors is None else rotors
    rolling = _Rolling(passages, path, swings, sections, not held, own)
    aid = yaw if isinstance(yaw, YawAid) else YawAid()

    def slope(time: float, state: Floats) -> Floats:
        return rolling.held(time, state) if held else rolling.free(time, state, aid)

    def runs_out(_time: float, state: Floats) -> float:
        slip = 0.0 if held else abs(state[0]) / rolling.speed
        return float(min(FULL_TURN - abs(state[-1]), math.sin(WIDEST_SLIP) - slip))

    runs_out.terminal = True  # type: ignore[attr-defined]
    state = np.zeros(2 if held else 4)
    states: list[Floats] = []
    times: list[Floats] = []
    cut_off = ""
    cuts = sorted({0.0, duration, *(t for t in path.stops.values() if 0.0 < t < duration)})
    for start, end in pairwise(cuts):
        asked = np.linspace(start, end, max(2, round(count * (end - start) / duration)) + 1)
        done = solve_ivp(
            slope, (start, end), state, t_eval=asked, events=runs_out, rtol=1e-7, atol=1e-9
        )
        if done.status == -1:
            reached = max([start, *done.t])
            raise ComputationFailed(f"the bank history stops at {reached:.2f} s: {done.message}")
        fresh = slice(1 if times else 0, None)
        times.append(done.t[fresh])
        states.append(done.y[:, fresh])
        if done.status == 1 and done.t_events and done.y_events:
            # The last instant is that of the event, not the sample before it.
            times.append(done.t_events[0][-1:])
            states.append(done.y_events[0][-1:].T)
            turned = abs(float(done.y_events[0][-1, -1])) > FULL_TURN - 1e-6
            cut_off = TURN_REACHED if turned else SLIP_REACHED
            break
        state = done.y[:, -1]
    whole = np.concatenate(times), np.concatenate(states, axis=1)
    return replace(_history(rolling, *whole, held, aid), cut_off=cut_off)


def _history(
    rolling: _Rolling, times: Floats, states: Floats, held: bool, aid: YawAid
) -> RollResponse:
    path, nothing = rolling.path, np.zeros_like(times)
    folds = {side: np.array([path.fold(side, t) for t in times]) for side in Side}
    both = np.array(
        [rolling.rates_at(float(t), x, held) for t, x in zip(times, states.T, strict=True)]
    )
    slip, added = nothing, nothing
    if not held:
        slip = np.arcsin(np.clip(states[0] / rolling.speed, -1.0, 1.0))
        added = np.array(
            [aid.moment(float(b), float(r)) for b, r in zip(slip, both[:, 1], strict=True)]
        )
    side = rolling.speed * np.sin(slip)
    stalled = np.array(
        [
            rolling.sections.stalled(float(t), float(v), float(p))
            for t, v, p in zip(times, side, both[:, 0], strict=True)
        ]
    )
    return RollResponse(times, states[-1], both[:, 0], both[:, 1], slip, folds, added, stalled)

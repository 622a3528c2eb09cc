"""The rotors of a craft in motion: thrust that follows its command late, torque, moments.

Commanded thrusts, and their torque, are those of the rotors' models in the wind of the scenario's
start. Where the air at a rotor, at r with the axis a, changes from that for which thrust is
commanded,

    dv = v - v_wanted + omega x r,   T = T_commanded + T' a . dv,   Q likewise,           (3)

in a straight line, and it is pushed by -b (dv - a a . dv) across its axis, with T', Q' and b (s
there) of :mod:`vlm.flight.craft.rotor_rates` in that wind. A rotor whose inertia J the file gives
holds the angular momentum h = s J Omega along its thrust, s the sense of its turn; the craft feels

    moment = -h' - omega x h,                                                             (2)

as any text on rigid bodies has it, with Omega that of the commanded thrust in the same wind.
Commanded forces and moments are shared by the least squares of thrust:

    T = T_start + B^+ (thrust, L, M, N),   B the rates of thrust and moments with T         (1)

Where a rotor would pass a limit, pitching moment is given first, then yawing moment, rolling moment
and thrust, of each as much as the rotors have left.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.flight.craft.rotor_rates import axial_slopes, balancing_thrusts, side_slopes
from vlm.flight.simulation.bodies import cross
from vlm.flight.trim.rotor_moments import thrust_range
from vlm.frames import GEOMETRY_TO_BODY
from vlm.power.side_force import SPREAD
from vlm.power.strip_winds import BlowingRotors, blowing_rotors

NODES = 41
ORDER = (2, 3, 1, 0)
"""Columns of B^+ in the order in which they are given: pitch, yaw, roll, thrust."""


@dataclass(frozen=True)
class RotorSet:
    """Rotors in the wind of the start, body axes about the moment point.

    Attributes
    ----------
    names : of the rotors
    axes, places : directions of thrust, places of the discs from the moment point [m], (rotors, 3)
    spins : +1 right-handed about the thrust, shape (rotors,)
    low, high : least and highest thrust, shape (rotors,) [N]
    thrusts, torques : tables of the shaft's torque [N m] against thrust [N], (rotors, nodes)
    momenta : table of J Omega of equation (2), zero where J is not known, (rotors, nodes) [N m s]
    share : B^+ of equation (1), shape (rotors, 4)
    slopes : T', then Q' of equation (3), zero where they are not known, (2, rotors) [N s/m], [N s]
    slopes_off : from there to those at a held speed; as far the other way to those at a held
        torque, shape (2, rotors)
    fins : b of equation (3), zero where the slopes are, shape (rotors,) [N s/m]
    """

    names: tuple[str, ...]
    axes: Floats
    places: Floats
    spins: Floats
    low: Floats
    high: Floats
    thrusts: Floats
    torques: Floats
    momenta: Floats
    share: Floats
    slopes: Floats
    slopes_off: Floats
    fins: Floats

    @cached_property
    def levers(self) -> Floats:
        """Moment about the moment point per thrust, shape (rotors, 3) [m]."""
        return np.asarray(np.cross(self.places, self.axes))

    @cached_property
    def crossed(self) -> Floats:
        """Vector product of each place with what it is multiplied by, shape (rotors, 3, 3) [m]."""
        units = np.cross(self.places[:, None], np.eye(3))
        return np.asarray(np.swapaxes(units, 1, 2))

    @property
    def count(self) -> int:
        """Number of rotors."""
        return len(self.names)

    @property
    def answers(self) -> bool:
        """Whether the rotors answer the air's change."""
        return bool(self.slopes.any() or self.fins.any())

    def ends(self) -> "tuple[RotorSet, ...]":
        """The rotors at a held speed, and at a held torque, both with the most and the least force
        across their axes."""
        return tuple(
            replace(
                self,
                slopes=self.slopes + sense * self.slopes_off,
                fins=(1.0 + push * SPREAD) * self.fins,
            )
            for sense in (1.0, -1.0)
            for push in (1.0, -1.0)
        )

    def met(self, change: Floats, rates: Floats) -> Floats:
        """dv of equation (3), shape (rotors, 3) [m/s].

        Parameters
        ----------
        change : v - v_wanted at the moment point, against the air, body axes, shape (3,) [m/s]
        rates : body rates, shape (3,) [rad/s]
        """
        return np.asarray(change - self.crossed @ rates)

    def along(self, met: Floats) -> Floats:
        """What of dv is along the axes, shape (rotors,) [m/s]."""
        return np.asarray(np.einsum("ij,ij->i", self.axes, met))

    def acting(self, thrusts: Floats, met: Floats) -> Floats:
        """Thrusts of equation (3) at those commanded, shape (rotors,) [N].

        Parameters
        ----------
        met : dv, shape (rotors, 3) [m/s]
        """
        return np.asarray(thrusts + self.slopes[0] * self.along(met))

    def loads(self, thrusts: Floats, met: Floats | None = None) -> Floats:
        """Force and moment about the moment point, shape (6,) [N, N m].

        Parameters
        ----------
        thrusts : as commanded, shape (rotors,) [N]
        met : dv of equation (3), shape (rotors, 3) [m/s]; None for none
        """
        dv = np.zeros((self.count, 3)) if met is None else met
        along = self.along(dv)
        acting = self.acting(thrusts, dv)
        torque = self.slopes[1] * along + np.array(
            [
                _on_the_line(float(t), x, y)
                for t, x, y in zip(thrusts, self.thrusts, self.torques, strict=True)
            ]
        )
        across = -self.fins[:, None] * (dv - along[:, None] * self.axes)
        force = acting @ self.axes + across.sum(axis=0)
        moment = acting @ self.levers + np.einsum("ijk,ik->j", self.crossed, across)
        return np.concatenate([force, moment - (self.spins * torque) @ self.axes])

    @property
    def turns(self) -> bool:
        """Whether any rotor's inertia is known."""
        return bool(self.momenta.any())

    def gyroscopic(self, thrusts: Floats, changes: Floats, rates: Floats) -> Floats:
        """Equation (2), body axes, shape (3,) [N m].

        Parameters
        ----------
        thrusts, changes : thrusts and their rates, shape (rotors,) [N], [N/s]
        rates : body rates, shape (3,) [rad/s]
        """
        if not self.turns:
            return np.zeros(3)
        return np.asarray(
            -self.momentum_rate(thrusts, changes) - cross(rates, self.momentum(thrusts))
        )

    def momentum(self, thrusts: Floats) -> Floats:
        """Angular momentum of all rotors about their shafts, body axes, shape (3,) [N m s]."""
        own = [
            np.interp(t, x, y) for t, x, y in zip(thrusts, self.thrusts, self.momenta, strict=True)
        ]
        return np.asarray((self.spins * np.array(own)) @ self.axes)

    def momentum_rate(self, thrusts: Floats, changes: Floats) -> Floats:
        """Its rate with the thrusts' rates, shape (3,) [N m]."""
        found = np.zeros(self.count)
        for i, (thrust, x, y) in enumerate(zip(thrusts, self.thrusts, self.momenta, strict=True)):
            if x[0] <= thrust <= x[-1]:
                place = min(max(int(np.searchsorted(x, thrust)), 1), len(x) - 1)
                found[i] = changes[i] * (y[place] - y[place - 1]) / (x[place] - x[place - 1])
        return np.asarray((self.spins * found) @ self.axes)

    def commanded(self, base: Floats, wanted: Floats) -> Floats:
        """Equation (1), without limits, shape (rotors,) [N].

        Parameters
        ----------
        base : thrusts that it adds to, shape (rotors,) [N]
        wanted : thrust along x and moments, shape (4,) [N, N m]
        """
        return np.asarray(base + self.share @ wanted)

    def given(self, base: Floats, wanted: Floats, supply: float) -> Floats:
        """Equation (1) within the limits, shape (rotors,) [N].

        Parameters
        ----------
        supply : battery voltage over the file's; the highest thrust goes with its square [1]
        """
        high = self.high * supply**2
        thrusts = np.clip(base, self.low, high)
        for column in ORDER:
            change = self.share[:, column] * wanted[column]
            room = np.where(change > 0.0, high - thrusts, self.low - thrusts)
            moved = np.abs(change) > 0.0
            if moved.any():
                part = float(np.min(room[moved] / change[moved]))
                thrusts = thrusts + min(1.0, max(0.0, part)) * change
        return np.asarray(thrusts)


def _on_the_line(place: float, points: Floats, values: Floats) -> float:
    """Straight pieces through points; the last ones go on, so that a start is found beyond them."""
    i = min(max(int(np.searchsorted(points, place)), 1), len(points) - 1)
    slope = (values[i] - values[i - 1]) / (points[i] - points[i - 1])
    return float(values[i - 1] + slope * (place - points[i - 1]))


def rotor_set(
    craft: Biplane, wind: Floats, density: float, thrust: float, pitching: float, most: float,
    centre: Floats, moment_point: Floats,
) -> RotorSet | None:  # fmt: skip
    """The rotors in a wind; None where the file has none.

    Parameters
    ----------
    wind : past the craft, geometry axes, shape (3,) [m/s]
    thrust : of all rotors at the start [N]
    pitching : moment that they hold there, nose up [N m]
    most : highest thrust of one rotor that is looked at, where the file sets no lower limit [N]
    centre, moment_point : centre of gravity, and the point moments are about, geometry axes [m]
    """
    if not craft.rotors:
        return None
    each = np.full(len(craft.rotors), thrust / len(craft.rotors))
    ranges = [
        thrust_range(rotor, float(one), most, wind, density, craft.folder)
        for rotor, one in zip(craft.rotors, each, strict=True)
    ]
    turn, rotors = GEOMETRY_TO_BODY, blowing_rotors(craft)
    axes, spins = rotors.axes @ turn, rotors.spins
    positions = np.array([r.position_m for r in craft.rotors])
    low = np.array([one.low for one in ranges])
    high = np.array([one.high for one in ranges])
    nodes = np.linspace(low, high, NODES, axis=1)
    torques = np.array([one.torque(x) for one, x in zip(ranges, nodes, strict=True)])
    rates = np.array([float(one.torque(t, 1)) for one, t in zip(ranges, each, strict=True)])
    levers = np.cross((positions - centre) @ turn, axes) - (spins * rates)[:, None] * axes
    effect = np.vstack([axes[:, 0], levers.T])
    balancing = balancing_thrusts(craft, centre, thrust, pitching)
    slopes, slopes_off, fins = _answer(rotors, wind, density, balancing)
    return RotorSet(
        names=tuple(r.name for r in craft.rotors),
        axes=axes,
        places=(positions - moment_point) @ turn,
        spins=spins,
        low=low,
        high=high,
        thrusts=nodes,
        torques=torques,
        momenta=_momenta(rotors, wind, density, nodes),
        share=np.linalg.pinv(effect, rcond=1e-6),
        slopes=slopes,
        slopes_off=slopes_off,
        fins=fins,
    )


def _answer(
    rotors: BlowingRotors, wind: Floats, density: float, thrusts: Floats
) -> tuple[Floats, Floats, Floats]:
    """T' and Q' of equation (3) midway, from there to a held speed, (2, rotors) each, and b.

    Zero where no state of a rotor belongs to its thrust: then thrust is what is commanded, and
    :attr:`RotorSet.answers` says so.
    """
    found = axial_slopes(rotors, wind, density, thrusts)
    if not found.known:
        none = np.zeros((2, len(thrusts)))
        return none, none, none[0]
    fins = side_slopes(rotors, wind, density, thrusts)
    return found.midway, found.held_speed - found.midway, fins


def _momenta(rotors: BlowingRotors, wind: Floats, density: float, thrusts: Floats) -> Floats:
    """J Omega at thrusts (rotors, nodes) in a wind, geometry axes; zero without J [N m s]."""
    inertias = np.array([rotor.inertia_kg_m2 or 0.0 for rotor in rotors.rotors])
    if not inertias.any():
        return np.zeros_like(thrusts)
    streams = np.tile(wind, (thrusts.shape[1], 1))
    states = rotors.at_work(streams, thrusts.T, density)
    return np.asarray(inertias[:, None] * np.array([one.speed for one in states]))

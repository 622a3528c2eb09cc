"""What a craft in motion is made of, and the loads on it at one instant."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.folded_craft import wind_angles
from vlm.flight.simulation.air_table import AirTable
from vlm.flight.simulation.bodies import FIRST_SIDE, SPEEDS, Bodies, Placed
from vlm.flight.simulation.drive import SideDrive
from vlm.flight.simulation.lag import Lag
from vlm.flight.simulation.rotor_set import RotorSet
from vlm.flight.simulation.section_table import SectionForm, SectionTable

WEIGHT: Floats = np.array([0.0, 0.0, GRAVITY])
"""Gravity, earth axes (z down) [m/s^2]."""


@dataclass(frozen=True)
class AirLoads:
    """Quasi-steady loads of the air.

    Attributes
    ----------
    loads : force and moment about the moment point, body axes, then moments about the hinges
    alpha, beta : angle of attack and sideslip of the moment point [rad]
    speed : airspeed [m/s]
    margin : angle left to stall in the strip nearest to it; infinite without sections [rad]
    stalled : share of the wings' area past stall [1]
    """

    loads: Floats
    alpha: float
    beta: float
    speed: float
    margin: float
    stalled: float


@dataclass(frozen=True)
class Growth:
    """How far a craft has folded and slipped from its start, as a share of the most it does.

    Attributes
    ----------
    start : folds of port and starboard at the start, shape (2,) [rad]
    fold_reach, beta_reach : farthest from there, and largest sideslip; zero for none [rad]
    """

    start: Floats
    fold_reach: float
    beta_reach: float

    def folded(self, folds: Floats) -> float:
        """Share of the farthest fold, from 0 to 1."""
        return _share(float(np.abs(folds - self.start).max()), self.fold_reach)

    def slipped(self, beta: float) -> float:
        """Share of the largest sideslip, from 0 to 1."""
        return _share(abs(beta), self.beta_reach)


def _share(size: float, reach: float) -> float:
    return min(1.0, size / reach) if reach > 0.0 else 0.0


@dataclass(frozen=True)
class Allowance:
    """What is added to the air's loads, to see what their error changes.

    Attributes
    ----------
    shift, slope : at the start: loads at unit dynamic pressure, and their rates with sideslip,
        shape (6 + tips,) [m^2, m^3]
    more_shift, more_slope : what they have grown by where the craft folds and slips most
    growth : how it comes from the one to the other; None where they do not grow
    """

    shift: Floats
    slope: Floats
    more_shift: Floats | None = None
    more_slope: Floats | None = None
    growth: Growth | None = None

    def at(self, folded: float, beta: float) -> Floats:
        """Loads at unit dynamic pressure, shape (6 + tips,) [m^2, m^3].

        Parameters
        ----------
        folded : share of the farthest fold, of :meth:`Growth.folded`
        beta : sideslip [rad]
        """
        found = self.shift + self.slope * beta
        if self.growth is None or self.more_shift is None or self.more_slope is None:
            return found
        share = max(folded, self.growth.slipped(beta))
        return np.asarray(found + share * (self.more_shift + self.more_slope * beta))


@dataclass(frozen=True)
class Posed:
    """What depends on the folds alone.

    Attributes
    ----------
    parts : the bodies
    centre : of gravity from the moment point, body axes [m]
    inverse : of the mass matrix, shape (8, 8)
    carried : velocity of the centre of gravity per speed, shape (3, 8)
    dragged : velocity of every drag area per speed, shape (areas, 3, 8)
    form : the air table's forms at these folds
    change : the section table's values at these folds; None without
    apparent : momenta of the air set in motion per speed: force, moment, then moments about the
        hinges, shape (6 + tips, 8); zero where apparent mass is left out
    folded : share of the farthest fold, for an allowance that grows with it
    """

    parts: list[Placed]
    centre: Floats
    inverse: Floats
    carried: Floats
    dragged: Floats
    form: Floats
    change: SectionForm | None
    apparent: Floats
    folded: float = 0.0


KEPT_POSES = 4


@dataclass(frozen=True)
class Plant:
    """A craft as its equations of motion need it.

    Attributes
    ----------
    bodies : the rigid parts
    air : the lattice's loads over the folds
    sections : what sections and slipstream change in them; None without either
    apparent : apparent mass at unit density at the air table's settings, in the motions z of it,
        shape (settings, motions, motions); None leaves it out
    lag : how loads follow late; None for quasi-steady air
    drives : of port and starboard; None leaves the tips to swing freely
    rotors : None where the file has none: thrust then acts along x through the centre of gravity,
        whatever the air does
    rotor_lag : time constant of thrust [s]
    density : of the air; zero for none [kg/m^3]
    drag_areas : of bodies, struts and gear, their places from the moment point; None for none
    gravity : earth axes, shape (3,) [m/s^2]
    allowance : added to the loads; None for none
    """

    bodies: Bodies
    air: AirTable
    sections: SectionTable | None
    apparent: Floats | None
    lag: Lag | None
    drives: tuple[SideDrive, SideDrive] | None
    rotors: RotorSet | None
    rotor_lag: float
    density: float
    drag_areas: DragBodies | None
    gravity: Floats
    allowance: Allowance | None = None
    _poses: dict[bytes, Posed] = field(default_factory=dict, repr=False, compare=False)

    def posed(self, folds: Floats) -> Posed:
        """What depends on the folds alone; the last few are kept."""
        key = folds.tobytes()
        if key not in self._poses:
            if len(self._poses) >= KEPT_POSES:
                self._poses.pop(next(iter(self._poses)))
            parts = self.bodies.placed(folds)
            carried = sum(one.mass * one.moving for one in parts) / self.bodies.mass
            apparent = self._apparent_momenta(folds)
            whole = self.bodies.mass_matrix(parts) + self.speeds_to_motions.T @ apparent
            self._poses[key] = Posed(
                parts=parts,
                centre=self.bodies.centre(parts),
                inverse=np.asarray(np.linalg.inv(whole)),
                carried=np.asarray(carried),
                dragged=self._dragged(np.asarray(carried)),
                form=self.air.form(folds),
                change=None if self.sections is None else self.sections.form(folds),
                apparent=apparent,
                folded=self._folded(folds),
            )
        return self._poses[key]

    def _folded(self, folds: Floats) -> float:
        growth = None if self.allowance is None else self.allowance.growth
        return 0.0 if growth is None else growth.folded(folds)

    def _dragged(self, carried: Floats) -> Floats:
        if self.drag_areas is None:
            return np.zeros((0, *carried.shape))
        return self.drag_areas.carried(np.zeros(3), carried, np.eye(3, SPEEDS))

    def _apparent_momenta(self, folds: Floats) -> Floats:
        taken = self.speeds_to_motions
        if self.apparent is None:
            return np.zeros_like(taken)
        flat = self.apparent.reshape(len(self.apparent), -1)
        own = self.air.fold_weights(folds) @ flat
        return np.asarray(self.density * own.reshape(len(taken), -1) @ taken)

    @cached_property
    def speeds_to_motions(self) -> Floats:
        """From the speeds to the motions z of the air's table, shape (6 + tips, 8)."""
        found = np.zeros((6 + len(self.bodies.tips), SPEEDS))
        found[:6, :6] = np.eye(6)
        for i, tip in enumerate(self.bodies.tips):
            found[6 + i, FIRST_SIDE + tip.side] = tip.linkage
        return found

    @property
    def thrusts(self) -> int:
        """Number of thrusts in the state: one alone without rotors."""
        return 1 if self.rotors is None else self.rotors.count

    def air_loads(self, pose: Posed, speeds: Floats, wind: Floats, thrusts: Floats) -> AirLoads:
        """Loads of the air at speeds u, with the air moving at ``wind`` (body axes, [m/s]).

        Parameters
        ----------
        thrusts : whose slipstream blows, shape (thrusts,) [N]
        """
        motion = self.speeds_to_motions @ speeds
        motion[:3] -= wind
        alpha, beta = wind_angles(motion)
        speed = float(np.sqrt(motion[:3] @ motion[:3]))
        loads = self.air.form_loads(pose.form, motion, alpha, beta, self.density)
        margin, stalled = float("inf"), 0.0
        if self.sections is not None and pose.change is not None and speed > 0.0:
            scale = speed / self.sections.airspeed
            change = self.sections.values_at(
                pose.change, alpha, beta, motion[3:6] / scale, thrusts / scale**2
            )
            loads = loads + scale**2 * change[:-2]
            if self.sections.stalls:
                margin, stalled = float(change[-2]), min(1.0, max(0.0, float(change[-1])))
        if self.allowance is not None:
            pressure = 0.5 * self.density * speed**2
            loads = loads + pressure * self.allowance.at(pose.folded, beta)
        return AirLoads(loads, alpha, beta, speed, margin, stalled)

    def drag(self, pose: Posed, speeds: Floats, wind: Floats) -> Floats:
        """Generalised forces of the drag areas, shape (8,)."""
        if self.drag_areas is None:
            return np.zeros(SPEEDS)
        force = self.drag_areas.forces(pose.dragged @ speeds - wind, self.density)
        return np.asarray(np.einsum("bi,bij->j", force, pose.dragged))

    def generalised(self, loads: Floats) -> Floats:
        """Loads of the air as generalised forces, shape (8,)."""
        return np.asarray(loads @ self.speeds_to_motions)

    def thrust_loads(self, thrusts: Floats, centre: Floats, met: Floats | None = None) -> Floats:
        """Force and moment of the thrusts about the moment point, shape (6,).

        Parameters
        ----------
        thrusts : as commanded, shape (thrusts,) [N]
        centre : of gravity from the moment point, body axes [m]
        met : the air's change at the rotors, body axes, shape (thrusts, 3) [m/s]; None for none
        """
        if self.rotors is not None:
            return self.rotors.loads(thrusts, met)
        force = np.array([thrusts[0], 0.0, 0.0])
        return np.concatenate([force, np.cross(centre, force)])


@dataclass(frozen=True)
class Layout:
    """Where things stand in the state of the motion.

    u (8), folds (2), attitude (4), position of the moment point in earth axes (3), worms (2), their
    servos' speeds (2), thrusts, lag.
    """

    thrusts: int
    lag: int

    speeds = slice(0, 8)
    folds = slice(8, 10)
    attitude = slice(10, 14)
    place = slice(14, 17)
    worms = slice(17, 19)
    servos = slice(19, 21)
    first = 21

    @property
    def thrust(self) -> slice:
        """The thrusts."""
        return slice(self.first, self.first + self.thrusts)

    @property
    def late(self) -> slice:
        """The lag law's states."""
        return slice(self.first + self.thrusts, self.size)

    @property
    def size(self) -> int:
        """Length of the state."""
        return self.first + self.thrusts + self.lag


def layout_of(plant: Plant) -> Layout:
    """The state's layout."""
    return Layout(plant.thrusts, 0 if plant.lag is None else plant.lag.states)

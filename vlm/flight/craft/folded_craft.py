"""A craft at one fold setting: its loads about its own centre of gravity, in body axes.

The lattice's tables are about the fixed moment point. Here they are carried over to the centre of
gravity of that fold, and the motions they are bilinear in become those of the centre of gravity:

    z = (u, v, w, p, q, r, tip rates),   (X, Y, Z, L, M, N) = rho z^T T z               (1)

so loads and all their rates with velocity and rate come from one table, exactly. Where the file
names sections, what they change (:mod:`vlm.flight.craft.section_change`) is added; it is no
bilinear form, and its rates are differences.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.mass_properties import MassProperties, craft_mass_properties
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.section_change import SectionChange, SectionStrips
from vlm.flight.craft.small_motions import cross_matrix
from vlm.flow.onset import FIRST_TIP
from vlm.frames import GEOMETRY_TO_BODY
from vlm.lattice.cellule import Cellule
from vlm.loads.angles import AngledTable
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.parts import about_hinges

T = TypeVar("T")

FIRST_TURN = 3
"""Where the rates p, q, r stand in z."""
STEP = 1e-3
"""Step of the differences of the sections' change, over the airspeed, and of rates over 1 m [1]."""


@dataclass(frozen=True)
class FoldedCraft:
    """Loads and masses of a craft at one fold setting.

    Attributes
    ----------
    loads : the solved lattice
    masses : mass, centre of gravity and inertia at this fold
    drag : drag areas of bodies, struts and gear; None without any
    strips : gives the strips with the file's sections; None for the inviscid wing
    other_corners : gives the inviscid craft at this fold with its corners opened or closed, where
        they touch or nearly touch
    thrusts : by rotor, shape (rotors,), whose slipstream blows over the strips; None without [N]
    """

    loads: GeneralLoads
    masses: MassProperties
    drag: DragBodies | None = None
    strips: Callable[[], SectionStrips] | None = None
    other_corners: "Callable[[], tuple[FoldedCraft, ...]]" = tuple
    thrusts: Floats | None = None
    modelling: Modelling = Modelling.WING

    @property
    def bodies(self) -> tuple[str, ...]:
        """Names of the tips, in the order of their rates in z."""
        return self.loads.lattice.bodies

    @property
    def motions(self) -> int:
        """Number of entries of z."""
        return FIRST_TIP + len(self.bodies)

    @cached_property
    def offset(self) -> Floats:
        """From the centre of gravity to the moment point, body axes, shape (3,) [m]."""
        return np.asarray(
            GEOMETRY_TO_BODY @ (self.loads.reference.moment_point - self.masses.centre)
        )

    @cached_property
    def amounts_of_motion(self) -> Floats:
        """Matrix from z to the amounts of the unit flows, shape (columns, motions).

        A turning tip moves the centre of gravity within the craft; with z that of the centre of
        gravity, the fixed wings move the other way.
        """
        matrix = np.eye(self.motions)
        matrix[:3, :3] = -GEOMETRY_TO_BODY
        matrix[:3, 3:6] = GEOMETRY_TO_BODY @ cross_matrix(self.offset)
        for i, body in enumerate(self.bodies):
            part, line = self.masses.parts[body], self.loads.lattice.hinges[body]
            shift = part.mass / self.masses.mass * np.cross(line.axis, part.centre - line.point)
            matrix[:3, FIRST_TIP + i] = shift
        return matrix

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """What was worked out for this craft, such as its level flights, by what was asked."""
        return {}

    @cached_property
    def table(self) -> AngledTable:
        """T of equation (1), symmetric in its first two axes, shape (motions, motions, 6)."""
        taken = self.amounts_of_motion

        def in_motions(wrench: Floats) -> Floats:
            total = wrench.sum(axis=1)
            raw = np.einsum("nabk,ai->nibk", total, taken)
            raw = np.einsum("nibk,bj->nijk", raw, taken)
            force = raw[..., :3] @ GEOMETRY_TO_BODY
            moment = raw[..., 3:] @ GEOMETRY_TO_BODY + np.cross(self.offset, force)
            both = np.concatenate([force, moment], axis=-1)
            return np.asarray(0.5 * (both + both.transpose(0, 2, 1, 3)))

        return self.loads.wrench.mapped(in_motions)

    @cached_property
    def hinge_tables(self) -> Mapping[str, AngledTable]:
        """Air's moment about each hinge, bilinear in z, symmetric, unit density.

        shape (motions, motions) each, positive raising the tip [N m per kg/m^3]
        """
        taken, lattice = self.amounts_of_motion, self.loads.lattice

        def of(body: str) -> Callable[[Floats], Floats]:
            def about(wrench: Floats) -> Floats:
                moment = about_hinges(lattice, np.moveaxis(wrench, 1, 0))[body]
                moved = taken.T @ moment @ taken
                return np.asarray(0.5 * (moved + moved.transpose(0, 2, 1)))

            return about

        return {body: self.loads.wrench.mapped(of(body)) for body in lattice.hinges}

    def section_change(self, motions: Floats, density: float) -> SectionChange | None:
        """What the sections change in motions of shape (states, motions); None without any.

        Its wrench is about the moment point, geometry axes.
        """
        if self.strips is None:
            return None
        return self.strips().change(motions @ self.amounts_of_motion.T, density, self.thrusts)

    def wrenches(self, motions: Floats, density: float) -> Floats:
        """:meth:`wrench` of many motions, shape (states, motions) -> (states, 6).

        NaN where strips and sections do not agree.
        """
        loads = self.wrenches_without_sections(motions, density)
        return np.asarray(loads + self.changed_wrenches(motions, density))

    def wrenches_without_sections(self, motions: Floats, density: float) -> Floats:
        """The part of :meth:`wrenches` of lattice and drag area."""
        velocity = motions[:, :3]
        speed = np.linalg.norm(velocity, axis=1)
        table = self.table.at(
            np.arctan2(velocity[:, 2], velocity[:, 0]),
            np.arcsin(velocity[:, 1] / np.where(speed > 0.0, speed, 1.0)),
        )
        half = motions[:, None, :] @ table.reshape(*table.shape[:-3], self.motions, -1)
        loads = density * (motions[:, None, :] @ half.reshape(-1, self.motions, 6))[:, 0]
        if self.drag is not None:
            velocity = (motions @ self._carried_bodies.mT).transpose(1, 0, 2)
            force = self.drag.forces(velocity, density)
            loads[:, :3] += force.sum(axis=1)
            loads[:, 3:] += np.cross(self._arms_of_bodies, force).sum(axis=1)
        return np.asarray(loads)

    @cached_property
    def _carried_bodies(self) -> Floats:
        """Velocity of every drag area for each entry of z, shape (bodies, 3, motions)."""
        assert self.drag is not None
        of_centre = np.eye(3, self.motions)
        of_craft = of_centre.copy()
        of_craft[:, FIRST_TIP:] = -GEOMETRY_TO_BODY @ self.amounts_of_motion[:3, FIRST_TIP:]
        return self.drag.carried(self.masses.centre, of_centre, of_craft)

    @cached_property
    def _arms_of_bodies(self) -> Floats:
        """From the centre of gravity to every drag area, body axes, shape (bodies, 3) [m]."""
        assert self.drag is not None
        return self.drag.arms(self.masses.centre) @ GEOMETRY_TO_BODY

    def _drag_rates(self, motion: Floats, density: float) -> Floats:
        """The drag areas' part of :meth:`rates`, shape (6, motions)."""
        if self.drag is None or not np.any(motion[:3]):
            return np.zeros((6, self.motions))
        carried = self._carried_bodies
        force = self.drag.force_rates(carried @ motion, density) @ carried
        moment = np.cross(self._arms_of_bodies[:, :, None], force, axis=1)
        return np.concatenate([force.sum(axis=0), moment.sum(axis=0)])

    def drag_slopes(self, alpha: float) -> dict[str, float]:
        """The drag areas' part of CY, Cl and Cn with sideslip, p_hat and r_hat [1 per rad].

        About the moment point, body axes; see :meth:`DragBodies.lateral_slopes`.
        """
        bodies = DragBodies(np.zeros((0, 3)), np.zeros((0, 3))) if self.drag is None else self.drag
        return bodies.lateral_slopes(self.masses.centre, self.loads.reference, alpha)

    def changed_wrenches(self, motions: Floats, density: float) -> Floats:
        """The sections' part of :meth:`wrenches`, shape (states, 6); zero without sections."""
        change = self.section_change(motions, density)
        if change is None:
            return np.zeros((len(motions), 6))
        return np.where(change.agrees[:, None], self.in_body_axes(change.wrench), np.nan)

    def in_body_axes(self, wrenches: Floats) -> Floats:
        """Wrenches about the moment point, geometry axes, as those about the centre of gravity.

        shape (states, 6) in and out, out in body axes
        """
        force = wrenches[:, :3] @ GEOMETRY_TO_BODY
        moment = wrenches[:, 3:] @ GEOMETRY_TO_BODY + np.cross(self.offset, force)
        return np.concatenate([force, moment], axis=1)

    def wrench(self, motion: Floats, density: float) -> Floats:
        """Loads of a motion z about the centre of gravity, body axes, shape (6,) [N, N m]."""
        return np.asarray(self.wrenches(motion[None, :], density)[0])

    def lattice_rates(self, motion: Floats, density: float) -> Floats:
        """The lattice's own part of :meth:`rates`, exact, shape (6, motions)."""
        angles = wind_angles(motion)
        rates = 2.0 * density * np.einsum("ijk,j->ki", self.table.at(*angles), motion)
        turns = angle_rates_of(motion)
        for name, table in self.table.rates(*angles).items():
            turning = density * both_sides(table, motion)
            rates[:, :3] += np.outer(turning, turns[name])
        return np.asarray(rates)

    def rates_of_turning(self, motion: Floats, density: float) -> Floats:
        """The part of :meth:`rates` with p, q and r, shape (6, 3), at less cost."""
        turns = np.eye(self.motions)[FIRST_TURN:FIRST_TIP]
        table = self.table.at(*wind_angles(motion))[:, FIRST_TURN:FIRST_TIP]
        rates = 2.0 * density * np.einsum("ijk,i->kj", table, motion)
        rates += self._drag_rates(motion, density)[:, FIRST_TURN:FIRST_TIP]
        speed = float(np.linalg.norm(motion[:3]))
        if self.strips is not None and speed > 0.0:
            step = STEP * speed
            changed = self.changed_wrenches(
                motion + step * np.concatenate([turns, -turns]), density
            )
            rates += (changed[:3] - changed[3:]).T / (2.0 * step)
        return np.asarray(rates)

    def rates(self, motion: Floats, density: float) -> Floats:
        """Rates of the loads with every entry of z, shape (6, motions)."""
        rates = self.lattice_rates(motion, density) + self._drag_rates(motion, density)
        return np.asarray(rates + self.section_rates(motion, density))

    def section_rates(self, motion: Floats, density: float) -> Floats:
        """The sections' part of :meth:`rates`, shape (6, motions); zero without sections."""
        step = STEP * float(np.linalg.norm(motion[:3]))
        if self.strips is None or step == 0.0:
            return np.zeros((6, self.motions))
        around = motion + step * np.concatenate([np.eye(self.motions), -np.eye(self.motions)])
        changed = self.changed_wrenches(around, density)
        return np.asarray((changed[: self.motions] - changed[self.motions :]).T / (2.0 * step))

    def hinge_moments(self, motion: Floats, density: float) -> dict[str, float]:
        """Air's moment about each hinge, positive raising the tip [N m]."""
        angles = wind_angles(motion)
        change = self.section_change(motion[None, :], density)
        return {
            body: float(density * motion @ table.at(*angles) @ motion)
            + (0.0 if change is None else float(change.hinges[body][0]))
            for body, table in self.hinge_tables.items()
        }

    def stall(self, motion: Floats, density: float) -> tuple[float, float]:
        """Angle left to stall in the strip nearest to it [rad], and share of the area past it [1].

        The angle is negative past stall, and infinite without sections.
        """
        change = self.section_change(motion[None, :], density)
        if change is None:
            return float("inf"), 0.0
        return float(change.margin[0]), float(change.stalled[0])

    def motion(
        self, airspeed: float, alpha: float, beta: float = 0.0, rates: Floats | None = None
    ) -> Floats:
        """z of a flight state: airspeed [m/s], angles [rad], body rates [rad/s]."""
        motion = np.zeros(self.motions)
        motion[:3] = airspeed * np.array(
            [np.cos(alpha) * np.cos(beta), np.sin(beta), np.sin(alpha) * np.cos(beta)]
        )
        if rates is not None:
            motion[3:6] = rates
        return motion


def once(kept: dict[Any, Any], asked: Any, work_out: Callable[[], T]) -> T:
    """What is kept under what was asked, worked out the first time."""
    if asked not in kept:
        kept[asked] = work_out()
    found: T = kept[asked]
    return found


def both_sides(table: Floats, motion: Floats) -> Floats:
    """z^T T z for a table of shape (motions, motions, k), shape (k,)."""
    return np.asarray(motion @ np.tensordot(motion, table, axes=1))


def wind_angles(motion: Floats) -> tuple[float, float]:
    """Angle of attack and sideslip of a motion z [rad]; none at rest."""
    u, v, w = motion[:3]
    speed = float(np.linalg.norm(motion[:3]))
    return float(np.arctan2(w, u)), float(np.arcsin(v / speed)) if speed > 0.0 else 0.0


def angle_rates_of(motion: Floats) -> dict[str, Floats]:
    """Derivatives of :func:`wind_angles` with u, v and w, shape (3,) each [rad s/m]."""
    u, v, w = motion[:3]
    level, speed = float(np.hypot(u, w)), float(np.linalg.norm(motion[:3]))
    if level == 0.0:
        return {"alpha": np.zeros(3), "beta": np.zeros(3)}
    return {
        "alpha": np.array([-w, 0.0, u]) / level**2,
        "beta": np.array([-u * v, level**2, -w * v]) / (level * speed**2),
    }


def folded_craft(
    craft: Biplane,
    cellule: Cellule,
    loads: GeneralLoads,
    drag: DragBodies | None = None,
    strips: Callable[[], SectionStrips] | None = None,
    other_corners: Callable[[], tuple[FoldedCraft, ...]] = tuple,
) -> FoldedCraft:
    """Join a solved lattice with the craft's masses at the same fold.

    Raises
    ------
    InputRefused : the file has no [mass]
    """
    masses = craft_mass_properties(craft, cellule, loads.lattice.folds)
    level = Modelling.of_wings(sections=strips is not None)
    return FoldedCraft(loads, masses, drag, strips, other_corners, modelling=level)

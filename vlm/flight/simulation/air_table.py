"""The air's loads over both folds, from lattices solved at Chebyshev's points of the folds.

At every point the lattice gives its loads as forms of the motion z = (u, v, w, p, q, r, tip rates)
of the moment point, at the wake's angles (:mod:`vlm.loads.angles`); between the points the forms
themselves are interpolated by the polynomials through them, port by starboard:

    loads = rho z^T T(port, starboard, wake's angle) z                                    (1)

So one formula gives every state between the outermost folds, exact at the points. A tip whose end
closes a joint with another wing is another branch: the points end short of it, and the table of the
open branch goes on over the last degree (:func:`miss_at` tells by how much that misses).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.chart.nodes import chebyshev_points, point_weights
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folded_craft import FoldedCraft, wind_angles
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flow.direction import held_angle
from vlm.frames import GEOMETRY_TO_BODY
from vlm.lattice.lattice import folded
from vlm.loads.angles import angle_weights
from vlm.loads.parts import about_hinges
from vlm.progress import Progress, silent
from vlm.sides import other_body

DEGREES_A_POINT = 22.0
LEAST_POINTS = 3
LEAST_RANGE_DEG = 2.0
CLEAR_DEG = 1.0
"""How far short of a joint that closes the points end [deg]."""
MIRROR: Floats = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
"""Signs of (u, v, w, p, q, r) in the mirror image; those of forces and moments are the same."""
HELD_SHARES = (0.37, 0.71)
"""Where in the ranges the setting stands that the table is held against [1]."""


@dataclass(frozen=True)
class FoldRange:
    """Folds of one side between which a table stands [deg]."""

    low: float
    high: float

    def points(self) -> Floats:
        """Chebyshev's points, more the wider the range [deg]."""
        count = LEAST_POINTS + int(np.ceil((self.high - self.low) / DEGREES_A_POINT)) - 1
        count = max(LEAST_POINTS, count)
        # Rounded, so that an end that touches another surface is seen to touch it.
        return np.round(chebyshev_points(self.low, self.high, count), 9)


def fold_range(folds_deg: list[float], limits_deg: tuple[float, float]) -> FoldRange:
    """The range of a side that passes or holds some folds, within the craft's limits."""
    low, high = min(folds_deg), max(folds_deg)
    if high - low < LEAST_RANGE_DEG:
        middle = 0.5 * (low + high)
        low, high = middle - 0.5 * LEAST_RANGE_DEG, middle + 0.5 * LEAST_RANGE_DEG
    least, most = limits_deg
    return FoldRange(max(low, least), min(high, most))


@dataclass(frozen=True)
class AirTable:
    """Equation (1) for one craft.

    Attributes
    ----------
    points : of port and starboard [rad]
    table : shape (port x starboard, 2 x angles x pairs x (6 + tips)): at no sideslip, and the rate
        with the wake's turn with sideslip
    pairs : indices of the products of motions, shape (2, pairs)
    motions : number of entries of z
    bodies : names of the tips, in the order of their rates and of the loads
    """

    points: tuple[Floats, Floats]
    table: Floats
    pairs: Floats
    motions: int
    bodies: tuple[str, ...]

    def fold_weights(self, folds: Floats) -> Floats:
        """What each solved setting counts at folds [rad], shape (port x starboard,)."""
        port = _weights(self.points[0], float(folds[0]))
        starboard = _weights(self.points[1], float(folds[1]))
        return np.asarray(np.multiply.outer(port, starboard).ravel())

    def loads(self, folds: Floats, motion: Floats, density: float) -> Floats:
        """Force and moment about the moment point, body axes, then the moment of each hinge.

        Parameters
        ----------
        folds : of port and starboard [rad]
        motion : z, against the air [m/s, rad/s]

        Returns
        -------
        Shape (6 + tips,) [N, N m]
        """
        return self.form_loads(self.form(folds), motion, *wind_angles(motion), density)

    def form(self, folds: Floats) -> Floats:
        """T at folds [rad], shape (2, angles, pairs x loads)."""
        both = self.fold_weights(folds) @ self.table
        return np.asarray(both.reshape(2, -1, self.pairs.shape[1] * self.wide))

    def form_loads(
        self, form: Floats, motion: Floats, alpha: float, beta: float, density: float
    ) -> Floats:
        """:meth:`loads` from :meth:`form` and the angles of the motion [rad]."""
        products = motion[self.pairs[0]] * motion[self.pairs[1]]
        angles = angle_weights(held_angle(alpha)) if form.shape[1] > 1 else np.ones(1)
        own = angles @ form[0] + held_angle(beta) * (angles @ form[1])
        return np.asarray(density * products @ own.reshape(len(products), self.wide))

    @property
    def wide(self) -> int:
        """Number of loads."""
        return 6 + len(self.bodies)


def air_table(
    craft: FoldingCraft,
    left: FoldRange,
    right: FoldRange,
    progress: Progress = silent,
) -> AirTable:
    """Solve the lattice at all points.

    Raises
    ------
    InputRefused : a fold is beyond its limits, or surfaces cross
    """
    points = tuple(_clear(craft, side).points() for side in (left, right))
    example = craft.at(FoldAngles(float(points[0][0]), float(points[1][0])))
    known: dict[tuple[float, float], Floats] = {}
    total = len(points[0]) * len(points[1])
    for port in points[0].tolist():
        for starboard in points[1].tolist():
            other = known.get((starboard, port)) if craft.is_symmetric else None
            known[port, starboard] = (
                packed(craft.at(FoldAngles(port, starboard)))
                if other is None
                else mirrored(other, example.bodies)
            )
            progress(f"air at fold {len(known)} of {total}")
    return AirTable(
        points=(np.radians(points[0]), np.radians(points[1])),
        table=np.array(list(known.values())),
        pairs=_pairs(example.motions),
        motions=example.motions,
        bodies=example.bodies,
    )


def mirrored(row: Floats, bodies: tuple[str, ...]) -> Floats:
    """:func:`packed` of the setting with port and starboard swapped, of a symmetric craft."""
    tips = mirrored_tips(bodies)
    order = np.concatenate([np.arange(6), 6 + tips])
    signs = np.concatenate([MIRROR, np.ones(len(tips))])
    pairs = _pairs(len(order))
    place = np.zeros((len(order), len(order)), dtype=int)
    place[pairs[0], pairs[1]] = place[pairs[1], pairs[0]] = np.arange(pairs.shape[1])
    table = row.reshape(2, -1, pairs.shape[1], len(order))
    table = table[:, :, place[order[pairs[0]], order[pairs[1]]]][..., order]
    table = table * (signs[pairs[0]] * signs[pairs[1]])[:, None] * signs
    table[1] *= -1.0  # the rate with sideslip, which changes its sign
    return np.asarray(table.ravel())


def mirrored_tips(bodies: tuple[str, ...]) -> NDArray[np.intp]:
    """Place of each tip's mirror image."""
    return np.array([bodies.index(other_body(body)) for body in bodies], dtype=np.intp)


def _weights(points: Floats, place: float) -> Floats:
    """:func:`~vlm.chart.nodes.point_weights` of one place."""
    if len(points) == 1:
        return np.ones(1)
    return np.asarray(point_weights(points, np.array([place]))[0])


def _pairs(motions: int) -> Floats:
    return np.array(np.triu_indices(motions))


def _clear(craft: FoldingCraft, side: FoldRange) -> FoldRange:
    """The range without ends at which a joint closes."""
    low = side.low + CLEAR_DEG if closes(craft, side.low) else side.low
    high = side.high - CLEAR_DEG if closes(craft, side.high) else side.high
    return FoldRange(low, high)


def closes(craft: FoldingCraft, fold: float) -> bool:
    """Whether both tips of a wing close a joint when folded alike [deg]."""
    joints = folded(craft.engine.cellule, craft.craft, FoldAngles.symmetric(fold)).joints
    return any(joint.closed for joint in joints)


def packed(craft: FoldedCraft) -> Floats:
    """Equation (1)'s table of one setting, flat: (2, angles, pairs, loads)."""
    loads = craft.loads
    lattice = loads.lattice
    taken = np.eye(craft.motions)
    taken[:3, :3] = -GEOMETRY_TO_BODY
    first, second = _pairs(craft.motions)
    doubled = np.where(first == second, 1.0, 2.0)

    def forms(wrench: Floats) -> Floats:
        total = taken.T @ np.moveaxis(wrench.sum(axis=1), -1, 1) @ taken
        total = np.moveaxis(total, 1, -1)
        force, moment = total[..., :3] @ GEOMETRY_TO_BODY, total[..., 3:] @ GEOMETRY_TO_BODY
        about = about_hinges(lattice, np.moveaxis(wrench, 1, 0))
        hinges = [(taken.T @ about[body] @ taken)[..., None] for body in craft.bodies]
        whole = np.concatenate([force, moment, *hinges], axis=-1)
        whole = 0.5 * (whole + np.swapaxes(whole, 1, 2))
        return np.asarray(whole[:, first, second] * doubled[:, None])

    table = loads.wrench.mapped(forms)
    aside = np.zeros_like(table.nodes) if table.aside is None else table.aside
    return np.concatenate([table.nodes.ravel(), aside.ravel()])


def miss_at(
    craft: FoldingCraft, table: AirTable, folds_deg: tuple[float, float], motion: Floats
) -> tuple[float, float]:
    """How far the table misses the lattice's own loads at a setting.

    Parameters
    ----------
    folds_deg : of port and starboard [deg]
    motion : z [m/s, rad/s]

    Returns
    -------
    Largest miss of the force over the force [1], and of the moments over the force times the
    reference chord [1]
    """
    direct = craft.at(FoldAngles(*folds_deg))
    here = np.radians(folds_deg)
    truth = table_at(craft, table, FoldAngles(*folds_deg)).loads(here, motion, 1.0)
    miss = np.abs(table.loads(here, motion, 1.0) - truth)
    force = float(np.linalg.norm(truth[:3]))
    chord = direct.loads.reference.chord
    return float(miss[:3].max()) / force, float(miss[3:].max()) / (force * chord)


def table_at(craft: FoldingCraft, table: AirTable, folds: FoldAngles) -> AirTable:
    """The lattice's own table at one setting, where another tells what it holds."""
    here = np.radians([folds.left_deg, folds.right_deg])
    row = packed(craft.at(folds))[None, :]
    return AirTable((here[:1], here[1:]), row, table.pairs, table.motions, table.bodies)


def held_out(table: AirTable) -> tuple[float, float]:
    """A setting between the points, for :func:`miss_at` [deg]."""
    port, starboard = (
        float(np.degrees(side[0] + share * (side[-1] - side[0])))
        for side, share in zip(table.points, HELD_SHARES, strict=True)
    )
    return port, starboard

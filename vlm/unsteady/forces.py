"""Loads of an unsteady march, at the middle of each step.

On every segment of vortex acts rho Gamma v x l with the air that passes it (Kutta and Joukowski),
on every ring its share of the unsteady pressure, rho dGamma/dt times its area along the normal
(unsteady Bernoulli; Katz and Plotkin, Low-Speed Aerodynamics, chapter 13, from memory).
Induced velocities are left out of v, which is right to first order in the disturbances:
leading-edge suction and induced drag, of second order, are not among these loads.
"""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.lattice.patches import Patch
from vlm.unsteady.march import History


@dataclass(frozen=True)
class BodyLoads:
    """Loads of one body through a march, geometry axes.

    Attributes
    ----------
    force : shape (steps, 3) [N]
    moment : about the reference's moment point, shape (steps, 3) [N m]
    hinge_moment : about the tip's hinge line, positive raises the tip; None for the fixed wings,
        shape (steps,) [N m]
    """

    force: Floats
    moment: Floats
    hinge_moment: Floats | None


@dataclass(frozen=True)
class LoadHistory:
    """Loads at the middle of each step.

    Attributes
    ----------
    times : shape (steps,) [s]
    bodies : by body ("fixed", "upper_left", ...)
    strip_forces : force of each strip, chordwise segments left out, shape (steps, strips, 3) [N]
    """

    times: Floats
    bodies: dict[str, BodyLoads]
    strip_forces: Floats

    def force(self) -> Floats:
        """Force on the whole craft, shape (steps, 3) [N]."""
        return np.asarray(sum(loads.force for loads in self.bodies.values()))

    def moment(self) -> Floats:
        """Moment on the whole craft about the moment point, shape (steps, 3) [N m]."""
        return np.asarray(sum(loads.moment for loads in self.bodies.values()))


def load_history(history: History, *, apparent_mass: bool = True) -> LoadHistory:
    """Loads on every body of a march.

    Parameters
    ----------
    apparent_mass : whether the rings' rates press; without, what is left of a quasi-steady
        history are the loads of quasi-steady air
    """
    lattice = history.course.lattice
    steps = len(history.times) - 1
    force = {body: np.zeros((steps, 3)) for body in ("fixed", *lattice.bodies)}
    moment = {body: np.zeros((steps, 3)) for body in force}
    strips = []
    for index, patch in enumerate(lattice.patches):
        gamma = history.circulation[:, lattice.panels_of(index)]
        pieces = _pieces(history, patch, gamma.reshape(-1, patch.rows, patch.strips))
        if not apparent_mass:
            pieces = pieces[:2]
        strips.append(sum(piece.sum(axis=1) for piece, _ in (pieces[0], *pieces[2:])))
        for forces, points in pieces:
            arm = points - lattice.reference.moment_point
            force[patch.body] += forces.sum(axis=(1, 2))
            moment[patch.body] += np.cross(arm, forces).sum(axis=(1, 2))
    point = lattice.reference.moment_point
    hinge = {
        body: lattice.hinges[body].moment(force[body], moment[body], point)
        for body in lattice.bodies
    }
    bodies = {body: BodyLoads(force[body], moment[body], hinge.get(body)) for body in force}
    middles = 0.5 * (history.times[1:] + history.times[:-1])
    return LoadHistory(times=middles, bodies=bodies, strip_forces=np.concatenate(strips, axis=1))


def _pieces(history: History, patch: Patch, gamma: Floats) -> list[tuple[Floats, Floats]]:
    """Forces (steps, rows, columns, 3) and their points: bound, chordwise, unsteady pressure."""
    course, nodes = history.course, patch.nodes
    bound = np.diff(gamma, axis=1, prepend=0.0)
    chordwise = -np.diff(gamma, axis=2, prepend=0.0, append=0.0)
    along = patch.sense * (nodes[:-1, 1:] - nodes[:-1, :-1])
    aft = patch.sense * (nodes[1:] - nodes[:-1])
    found = []
    for strength, segment, points in (
        (bound, along, patch.bound_points()),
        (chordwise, aft, patch.chordwise_points()),
    ):
        past = np.stack([course.air_past(t, patch.body, points) for t in history.times])
        acting = course.density * strength[..., None] * np.cross(past, segment)
        found.append((0.5 * (acting[1:] + acting[:-1]), points))
    step = history.times[1] - history.times[0]
    rate = np.diff(gamma, axis=0) / step
    areas, middles = ring_areas(patch)
    found.append((course.density * rate[..., None] * areas, middles))
    return found


def ring_areas(patch: Patch) -> tuple[Floats, Floats]:
    """Area vectors [m^2] and middles [m] of a patch's rings, shape (rows, strips, 3)."""
    a, b = patch.nodes[:-1, :-1], patch.nodes[:-1, 1:]
    c, d = patch.nodes[1:, 1:], patch.nodes[1:, :-1]
    return 0.5 * patch.sense * np.cross(c - a, b - d), 0.25 * (a + b + c + d)

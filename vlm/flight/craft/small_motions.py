"""Small disturbances about steady, straight flight: state matrices from dimensional derivatives.

Linear equations of a rigid craft in body axes about its centre of gravity (Etkin & Reid, Dynamics
of Flight, chapter 4; Nelson, Flight Stability and Automatic Control, chapter 3):

    (m 1 - F_a') dv' + m omega x V0 = F_v v + F_w omega + m g_0 x eps                   (1)
    (I - M_w') omega' - M_v' v'     = M_v v + M_w omega                                 (2)
    eps' = omega                                                                        (3)

with v and omega the disturbances of velocity and rate, V0 the steady velocity, g_0 gravity in body
axes, eps the small turn of the craft. Nothing in (1) to (3) knows which way is up on the craft,
so a craft turned about its roll axis keeps its roots.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats

LONGITUDINAL = ("u", "w", "q", "theta")
LATERAL = ("v", "p", "r", "phi")
COUPLED = ("u", "v", "w", "p", "q", "r", "eps_x", "eps_y", "eps_z")


@dataclass(frozen=True)
class SmallMotion:
    """A craft in steady, straight flight and the rates of its loads.

    Attributes
    ----------
    mass : [kg]
    inertia : about the centre of gravity, body axes, shape (3, 3) [kg m^2]
    velocity : steady velocity in body axes, shape (3,) [m/s]
    gravity : gravity in body axes, shape (3,) [m/s^2]
    rates : rates of (X, Y, Z, L, M, N) about the centre of gravity with (u, v, w, p, q, r),
        body axes, thrust included, shape (6, 6) [N, N m per m/s, rad/s]
    accelerations : rates of the same loads with the accelerations of the same motions, shape
        (6, 6); none by default
    """

    mass: float
    inertia: Floats
    velocity: Floats
    gravity: Floats
    rates: Floats
    accelerations: Floats = field(default_factory=lambda: np.zeros((6, 6)))

    def turned(self, rotation: Floats) -> "SmallMotion":
        """The same craft with its body axes turned: vectors become ``rotation @ vector``."""
        both = np.kron(np.eye(2), rotation)
        return SmallMotion(
            mass=self.mass,
            inertia=rotation @ self.inertia @ rotation.T,
            velocity=rotation @ self.velocity,
            gravity=rotation @ self.gravity,
            rates=both @ self.rates @ both.T,
            accelerations=both @ self.accelerations @ both.T,
        )


def cross_matrix(vector: Floats) -> Floats:
    """Matrix that takes x to ``vector x x``."""
    x, y, z = vector
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def motion_matrices(motion: SmallMotion) -> tuple[Floats, Floats]:
    """Rates of (v, omega) with (v, omega), shape (6, 6), and with eps, shape (6, 3)."""
    inertia = np.zeros((6, 6))
    inertia[:3, :3] = motion.mass * np.eye(3)
    inertia[3:, 3:] = motion.inertia
    forcing = motion.rates.copy()
    forcing[:3, 3:] += motion.mass * cross_matrix(motion.velocity)
    weight = np.zeros((6, 3))
    weight[:3] = motion.mass * cross_matrix(motion.gravity)
    right = np.hstack([forcing, weight])
    solved = np.asarray(np.linalg.solve(inertia - motion.accelerations, right), dtype=np.float64)
    return solved[:, :6], solved[:, 6:]


def matrix_change(motion: SmallMotion, change: Floats, states: tuple[str, ...]) -> Floats:
    """Half-widths of a state matrix's entries from those of the loads' rates.

    Parameters
    ----------
    change : half-widths of ``motion.rates``, shape (6, 6)
    states : of the matrix: LONGITUDINAL, LATERAL or COUPLED
    """
    inertia = np.zeros((6, 6))
    inertia[:3, :3] = motion.mass * np.eye(3)
    inertia[3:, 3:] = motion.inertia
    moved = np.abs(np.linalg.inv(inertia - motion.accelerations)) @ change
    places = [("u", "v", "w", "p", "q", "r").index(name) for name in states if name in "uvwpqr"]
    matrix = np.zeros((len(states), len(states)))
    matrix[: len(places), : len(places)] = moved[np.ix_(places, places)]
    return matrix


@dataclass(frozen=True)
class OpenMotion:
    """Small motions, and what is open in their rates.

    Attributes
    ----------
    motion : the motion as it is taken
    change : half-widths of its rates, each by itself, shape (6, 6)
    ends : the motion at the ends of what moves many rates together
    """

    motion: SmallMotion
    change: Floats
    ends: tuple[SmallMotion, ...] = ()

    def matrices(
        self, matrix_of: "MatrixOf", states: tuple[str, ...]
    ) -> tuple[Floats, Floats, list[Floats]]:
        """A state matrix, the half-widths of its entries, and the matrix at the ends."""
        own = matrix_of(self.motion)
        return (
            own, matrix_change(self.motion, self.change, states),
            [matrix_of(end) for end in self.ends],
        )  # fmt: skip


MatrixOf = Callable[[SmallMotion], Floats]
"""A state matrix of a motion, such as :func:`lateral_matrix`."""


def longitudinal_matrix(motion: SmallMotion) -> Floats:
    """State matrix of u, w, q and the pitch attitude theta, shape (4, 4).

    For a craft that is mirror-symmetric with its wings level; what couples it to the lateral
    motion is left out.
    """
    rates, turns = motion_matrices(motion)
    chosen = [0, 2, 4]
    matrix = np.zeros((4, 4))
    matrix[:3, :3] = rates[np.ix_(chosen, chosen)]
    matrix[:3, 3] = turns[chosen, 1]
    matrix[3, 2] = 1.0
    return matrix


def lateral_matrix(motion: SmallMotion) -> Floats:
    """State matrix of v, p, r and the bank angle phi, shape (4, 4).

    phi is the bank about the level axis: phi' = p + r tan theta_0, with theta_0 the steady
    pitch attitude, and the weight's side force is m g cos theta_0 phi.
    """
    rates, turns = motion_matrices(motion)
    chosen = [1, 3, 5]
    matrix = np.zeros((4, 4))
    matrix[:3, :3] = rates[np.ix_(chosen, chosen)]
    matrix[:3, 3] = turns[chosen, 0]
    matrix[3, 1] = 1.0
    matrix[3, 2] = -motion.gravity[0] / motion.gravity[2]
    return matrix


def coupled_matrix(motion: SmallMotion) -> Floats:
    """State matrix of all motions, shape (9, 9), states as in ``COUPLED``.

    One root is zero whatever the craft: nothing depends on its heading. For unlike folds on
    the two sides, where longitudinal and lateral motions couple, this is the one to use.
    """
    rates, turns = motion_matrices(motion)
    matrix = np.zeros((9, 9))
    matrix[:6, :6] = rates
    matrix[:6, 6:] = turns
    matrix[6:, 3:6] = np.eye(3)
    return matrix


def state_space(matrix: Floats, inputs: Floats | None = None):  # type: ignore[no-untyped-def]
    """``scipy.signal.StateSpace`` whose outputs are the states.

    Parameters
    ----------
    matrix : state matrix, shape (n, n)
    inputs : input matrix, shape (n, k); one input on every state where it is left out
    """
    from scipy.signal import StateSpace

    size = len(matrix)
    entering = np.eye(size) if inputs is None else inputs
    return StateSpace(matrix, entering, np.eye(size), np.zeros((size, entering.shape[1])))

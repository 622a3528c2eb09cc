"""Angles of the wake at which loads are solved, and the polynomial between them.

Chebyshev's points of the second kind, so few that the powers of their matrix are well conditioned.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.flow.direction import EXACT, ROOM, held_angle, held_rate

COUNT = 5
LARGEST = EXACT + ROOM
ANGLES: Floats = LARGEST * np.sin(np.pi * np.linspace(-0.5, 0.5, COUNT))
"""From the largest angle down to the largest up [rad]."""


def _lagrange(points: Floats) -> Floats:
    """Coefficients of the polynomials that are one at one point and zero at the others."""
    return np.asarray(np.linalg.inv(np.vander(points, increasing=True)), dtype=float)


_POWERS = _lagrange(ANGLES / LARGEST)


def angle_weights(angle: Any) -> Floats:
    """What each of :data:`ANGLES` counts at given angles of the wake, shape (..., angles) [1]."""
    u = np.asarray(angle, dtype=float)[..., None] / LARGEST
    return np.asarray(u ** np.arange(COUNT) @ _POWERS)


def angle_rates(angle: Any) -> Floats:
    """Derivative of :func:`angle_weights` with the angle, shape (..., angles) [1/rad]."""
    u = np.asarray(angle, dtype=float)[..., None] / LARGEST
    powers = np.arange(1, COUNT)
    return np.asarray((powers * u ** (powers - 1)) @ _POWERS[1:] / LARGEST)


@dataclass(frozen=True)
class AngledTable:
    """A table that depends on the wake's direction, or not.

    Attributes
    ----------
    nodes : shape (angles, ...) at :data:`ANGLES`; one alone where the wake does not turn
    aside : like shape, rate with the wake's turn with sideslip [1/rad]; None where it is left out
    """

    nodes: Floats
    aside: Floats | None = None

    @property
    def turns(self) -> bool:
        """Whether it depends on the direction."""
        return len(self.nodes) > 1

    def mapped(self, change: Callable[[Floats], Floats]) -> "AngledTable":
        """The table after a linear map of whole stacks of nodes."""
        aside = None if self.aside is None else change(self.aside)
        return AngledTable(change(self.nodes), aside)

    def at(self, alpha: Any, beta: Any = 0.0) -> Floats:
        """Values for angles of attack and sideslip [rad] of one shape, which stands in front."""
        if not self.turns:
            return np.asarray(self.nodes[0])
        weights = angle_weights(held_angle(alpha))
        values = np.tensordot(weights, self.nodes, axes=1)
        if self.aside is not None:
            aside = np.tensordot(weights, self.aside, axes=1)
            values = values + _scaled(held_angle(beta), aside)
        return np.asarray(values)

    def rates(self, alpha: Any, beta: Any = 0.0) -> dict[str, Floats]:
        """Derivatives of :meth:`at` with "alpha" and "beta" [1/rad]; none for a fixed wake."""
        if not self.turns:
            return {}
        angle = held_angle(alpha)
        slopes = angle_rates(angle) * np.asarray(held_rate(alpha))[..., None]
        with_alpha = np.tensordot(slopes, self.nodes, axes=1)
        if self.aside is None:
            return {"alpha": with_alpha, "beta": np.zeros_like(with_alpha)}
        with_alpha = with_alpha + _scaled(
            held_angle(beta), np.tensordot(slopes, self.aside, axes=1)
        )
        with_beta = np.tensordot(angle_weights(angle), self.aside, axes=1)
        return {"alpha": with_alpha, "beta": _scaled(held_rate(beta), with_beta)}


def _scaled(factors: Any, tables: Floats) -> Floats:
    """Tables times factors of their leading axes."""
    behind = (1,) * (np.ndim(tables) - np.ndim(factors))
    return np.asarray(np.reshape(factors, np.shape(factors) + behind) * tables)

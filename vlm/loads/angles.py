"""Angles of the wake at which loads are solved, and the polynomial between them.

Chebyshev's points of the second kind, so few that the powers of their matrix are well conditioned.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
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
    beside : gives :attr:`aside`, which may cost as much as all else and is not always asked for;
        None where it is left out
    """

    nodes: Floats
    beside: Callable[[], Floats] | None = None

    @cached_property
    def aside(self) -> Floats | None:
        """Rate with the wake's turn with sideslip, shape as ``nodes`` [1/rad]; None without."""
        return None if self.beside is None else self.beside()

    @property
    def turns(self) -> bool:
        """Whether it depends on the direction."""
        return len(self.nodes) > 1

    def mapped(self, change: Callable[[Floats], Floats]) -> "AngledTable":
        """The table after a linear map of whole stacks of nodes."""
        beside = self.beside
        if beside is None:
            return AngledTable(change(self.nodes))
        return AngledTable(change(self.nodes), lambda: change(self._known_aside()))

    def _known_aside(self) -> Floats:
        assert self.aside is not None
        return self.aside

    def at(self, alpha: Any, beta: Any = 0.0) -> Floats:
        """Values for angles of attack and sideslip [rad] of one shape, which stands in front."""
        if not self.turns:
            return np.asarray(self.nodes[0])
        weights = angle_weights(held_angle(alpha))
        values = np.tensordot(weights, self.nodes, axes=1)
        if self.beside is not None and np.any(beta):
            aside = np.tensordot(weights, self._known_aside(), axes=1)
            values = values + _scaled(held_angle(beta), aside)
        return np.asarray(values)

    def rates(self, alpha: Any, beta: Any = 0.0) -> Mapping[str, Floats]:
        """Derivatives of :meth:`at` with "alpha" and "beta" [1/rad]; none for a fixed wake."""
        if not self.turns:
            return {}
        return WhenAsked(
            {
                "alpha": lambda: self._with_alpha(alpha, beta),
                "beta": lambda: self._with_beta(alpha, beta),
            }
        )

    def _with_alpha(self, alpha: Any, beta: Any) -> Floats:
        slopes = angle_rates(held_angle(alpha)) * np.asarray(held_rate(alpha))[..., None]
        values = np.tensordot(slopes, self.nodes, axes=1)
        if self.beside is not None and np.any(beta):
            aside = np.tensordot(slopes, self._known_aside(), axes=1)
            values = values + _scaled(held_angle(beta), aside)
        return np.asarray(values)

    def _with_beta(self, alpha: Any, beta: Any) -> Floats:
        weights = angle_weights(held_angle(alpha))
        if self.beside is None:
            return np.zeros_like(np.tensordot(weights, self.nodes, axes=1))
        return _scaled(held_rate(beta), np.tensordot(weights, self._known_aside(), axes=1))


class WhenAsked(Mapping[str, Floats]):
    """Arrays by name, each worked out when it is asked for."""

    def __init__(self, ways: Mapping[str, Callable[[], Floats]]) -> None:
        self._ways = dict(ways)

    def __getitem__(self, name: str) -> Floats:
        """The array, worked out each time."""
        return self._ways[name]()

    def __iter__(self) -> Iterator[str]:
        """The names."""
        return iter(self._ways)

    def __len__(self) -> int:
        """How many there are."""
        return len(self._ways)


def _scaled(factors: Any, tables: Floats) -> Floats:
    """Tables times factors of their leading axes."""
    behind = (1,) * (np.ndim(tables) - np.ndim(factors))
    return np.asarray(np.reshape(factors, np.shape(factors) + behind) * tables)

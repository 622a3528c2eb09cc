"""The state of flight that loads are asked for: one, or many at once."""

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, Literal

import numpy as np

from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY, Floats
from vlm.frames import wind_direction
from vlm.lattice.reference import ReferenceFrame

WakeKind = Literal["stream", "craft", "relaxed"]
"""A wake along the stream of each state, along the craft's axis whatever the state, or one that
follows the flow."""


@dataclass(frozen=True)
class FlightState:
    """Attitude to the air, rates and air, as in the conventions.

    Every field may be a number or an array; arrays of equal shape describe many states at once,
    and every result then has their shape.

    Attributes
    ----------
    alpha, beta : angle of attack, sideslip (wind from starboard positive) [rad]
    p_hat, q_hat, r_hat : p b / 2U, q c / 2U, r b / 2U [1]
    airspeed : [m/s]
    density : [kg/m^3]
    """

    alpha: Any = 0.0
    beta: Any = 0.0
    p_hat: Any = 0.0
    q_hat: Any = 0.0
    r_hat: Any = 0.0
    airspeed: Any = DEFAULT_AIRSPEED
    density: Any = SEA_LEVEL_DENSITY

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Common shape of the fields."""
        fields = (self.alpha, self.beta, self.p_hat, self.q_hat, self.r_hat)
        return np.broadcast_shapes(*(np.shape(f) for f in fields))

    def each(self) -> "list[FlightState]":
        """The single states of an array of them, in C order."""
        names = [field.name for field in fields(self)]
        columns = [np.broadcast_to(getattr(self, name), self.shape).ravel() for name in names]
        return [
            FlightState(**dict(zip(names, map(float, row), strict=True)))
            for row in zip(*columns, strict=True)
        ]

    @property
    def dynamic_pressure(self) -> Any:
        """Half density times airspeed squared [Pa]."""
        return 0.5 * self.density * self.airspeed**2

    def wind(self) -> Floats:
        """Unit vector of the air's velocity past the craft, geometry axes, shape (..., 3)."""
        alpha, beta = np.broadcast_arrays(self.alpha, self.beta)
        return np.broadcast_to(wind_direction(alpha, beta), (*self.shape, 3))

    def amounts(self, reference: ReferenceFrame, columns: int) -> Floats:
        """How much of each unit flow there is per unit of airspeed, shape (..., columns)."""
        amounts = np.zeros((*self.shape, columns))
        amounts[..., :3] = self.wind()
        scales = rate_scales(reference)
        for i, rate in enumerate((self.p_hat, self.q_hat, self.r_hat)):
            amounts[..., 3 + i] = np.asarray(rate) * scales[i]
        return amounts

    def alpha_rate(self, columns: int) -> Floats:
        """Derivative of :meth:`amounts` with angle of attack."""
        zero = np.zeros(self.shape)
        sides = (
            -np.sin(self.alpha) * np.cos(self.beta),
            zero,
            np.cos(self.alpha) * np.cos(self.beta),
        )
        return self._padded(sides, columns)

    def beta_rate(self, columns: int) -> Floats:
        """Derivative of :meth:`amounts` with sideslip."""
        sine, cosine = np.sin(self.beta), np.cos(self.beta)
        return self._padded(
            (-np.cos(self.alpha) * sine, -cosine, -np.sin(self.alpha) * sine), columns
        )

    def lift_direction(self) -> Floats:
        """Unit vector of positive lift, geometry axes, shape (..., 3)."""
        return self._padded((-np.sin(self.alpha), 0.0, np.cos(self.alpha)), 3)

    def lift_turning(self) -> Floats:
        """Derivative of :meth:`lift_direction` with angle of attack, shape (..., 3)."""
        return self._padded((-np.cos(self.alpha), 0.0, -np.sin(self.alpha)), 3)

    def _padded(self, sides: tuple[Any, Any, Any], columns: int) -> Floats:
        result = np.zeros((*self.shape, columns))
        for i, side in enumerate(sides):
            result[..., i] = side
        return result


def rate_scales(reference: ReferenceFrame) -> Floats:
    """Rates per airspeed for unit p_hat, q_hat and r_hat [1/m]."""
    return np.array([2.0 / reference.span, 2.0 / reference.chord, 2.0 / reference.span])

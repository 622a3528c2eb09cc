"""The state of flight that loads are asked for."""

from dataclasses import dataclass

import numpy as np

from vlm.flow.onset import FIRST_TIP
from vlm.frames import wind_direction
from vlm.lattice.reference import ReferenceFrame
from vlm.lattice.spacing import Floats


@dataclass(frozen=True)
class FlightState:
    """Attitude to the air, rates and air, as in the conventions.

    Attributes
    ----------
    alpha, beta : angle of attack, sideslip (wind from starboard positive) [rad]
    p_hat, q_hat, r_hat : p b / 2U, q c / 2U, r b / 2U [1]
    airspeed : [m/s]
    density : [kg/m^3]
    """

    alpha: float = 0.0
    beta: float = 0.0
    p_hat: float = 0.0
    q_hat: float = 0.0
    r_hat: float = 0.0
    airspeed: float = 12.0
    density: float = 1.225

    @property
    def dynamic_pressure(self) -> float:
        """Half density times airspeed squared [Pa]."""
        return 0.5 * self.density * self.airspeed**2

    def wind(self) -> Floats:
        """Unit vector of the air's velocity past the craft, geometry axes."""
        return wind_direction(self.alpha, self.beta)

    def amounts(self, reference: ReferenceFrame, columns: int) -> Floats:
        """How much of each unit flow there is per unit of airspeed, shape (columns,)."""
        amounts = np.zeros(columns)
        amounts[:3] = self.wind()
        amounts[3:FIRST_TIP] = np.array([self.p_hat, self.q_hat, self.r_hat]) * rate_scales(
            reference
        )
        return amounts

    def alpha_rate(self, columns: int) -> Floats:
        """Derivative of :meth:`amounts` with angle of attack."""
        rate = np.zeros(columns)
        rate[:3] = np.cos(self.beta) * np.array([-np.sin(self.alpha), 0.0, np.cos(self.alpha)])
        return rate

    def beta_rate(self, columns: int) -> Floats:
        """Derivative of :meth:`amounts` with sideslip."""
        rate = np.zeros(columns)
        sine = np.sin(self.beta)
        rate[:3] = [-np.cos(self.alpha) * sine, -np.cos(self.beta), -np.sin(self.alpha) * sine]
        return rate

    def lift_direction(self) -> Floats:
        """Unit vector of positive lift, geometry axes."""
        return np.array([-np.sin(self.alpha), 0.0, np.cos(self.alpha)])


def rate_scales(reference: ReferenceFrame) -> Floats:
    """Rates per airspeed for unit p_hat, q_hat and r_hat [1/m]."""
    return np.array([2.0 / reference.span, 2.0 / reference.chord, 2.0 / reference.span])

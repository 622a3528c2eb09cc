"""A prediction of the power, and what may be unknown in it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed

# power_W(airspeed, fold, parameters): airspeed of shape (n) [m/s], a fold setting, the unknowns by
# name; the electrical power of level flight, shape (n) [W], NaN where the craft cannot fly.
PowerFunction = Callable[[Floats, FoldAngles, Mapping[str, float]], Floats]


@dataclass(frozen=True)
class Unknown:
    """Something of the prediction that a log may correct.

    Attributes
    ----------
    name : as in the parameters of the power function
    label : in words
    unit : "1" for pure numbers
    nominal : what the geometry file says
    low, high : what is physically possible
    step : a change that matters, for scaling
    covers : the uncertain input of the prediction that it stands for, "" for none
    """

    name: str
    label: str
    unit: str
    nominal: float
    low: float
    high: float
    step: float
    covers: str = ""


@dataclass(frozen=True)
class Prediction:
    """Predicted power of a craft, with what may be unknown in it.

    Attributes
    ----------
    power : the power function; parameters left out are nominal
    settings : fold angles of the configurations
    unknowns : by name
    inputs : what of the prediction is uncertain: labels by name
    sensitivity : power for one standard deviation of each input, shape (n, inputs) [W]
    allowed : whether the craft can be flown there within its limits, shape (n)
    """

    power: PowerFunction
    settings: Mapping[str, FoldAngles]
    unknowns: Mapping[str, Unknown] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    sensitivity: Callable[[Floats, FoldAngles], Floats] | None = None
    allowed: Callable[[Floats, FoldAngles], NDArray[np.bool_]] | None = None

    def power_W(
        self, airspeed_m_s: Floats, configuration: str, values: Mapping[str, float] | None = None
    ) -> Floats:
        """Power of one configuration, shape (n) [W].

        Parameters
        ----------
        airspeed_m_s : shape (n) [m/s]
        configuration : its name
        values : unknowns by name; what is left out is nominal

        Raises
        ------
        ComputationFailed
            If the answer has another shape than the question.
        """
        folds = self.settings[configuration]
        power = np.asarray(self.power(airspeed_m_s, folds, dict(values or {})), dtype=np.float64)
        if power.shape != np.shape(airspeed_m_s):
            raise ComputationFailed(
                f"the prediction gave an array of shape {power.shape} for {np.shape(airspeed_m_s)}"
            )
        return power

    def input_effects_W(self, airspeed_m_s: Floats, configuration: str) -> Floats:
        """Power for one standard deviation of each uncertain input, shape (n, inputs) [W]."""
        if self.sensitivity is None or not self.inputs:
            return np.zeros((airspeed_m_s.size, len(self.inputs)))
        return self.sensitivity(airspeed_m_s, self.settings[configuration])

    def is_allowed(self, airspeed_m_s: Floats, configuration: str) -> NDArray[np.bool_]:
        """Whether the craft can be flown there within its limits, shape (n)."""
        if self.allowed is None:
            return np.ones(airspeed_m_s.shape, dtype=bool)
        return self.allowed(airspeed_m_s, self.settings[configuration])

    def at_points(
        self, airspeed_m_s: Floats, configuration: NDArray[Any], values: Mapping[str, float]
    ) -> Floats:
        """Power of points of several configurations, shape (n) [W]."""
        power = np.full(airspeed_m_s.shape, np.nan)
        for name in np.unique(configuration):
            rows = configuration == name
            power[rows] = self.power_W(airspeed_m_s[rows], str(name), values)
        return power

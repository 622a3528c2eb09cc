"""What is found where a log is held against a prediction."""

from dataclasses import dataclass

from vlm.constants import Floats
from vlm.findings import Finding
from vlm.log.points import SteadyPoints
from vlm.verdicts import known_sign


@dataclass(frozen=True)
class Profile:
    """Least misfit with one unknown held at each of several values.

    Attributes
    ----------
    value : held values, ascending, shape (places)
    rise : of the sum of squares above its least value, shape (places) [1]
    limit : the rise at the ends of the interval [1]
    """

    value: Floats
    rise: Floats
    limit: float


@dataclass(frozen=True)
class Estimate:
    """One fitted unknown.

    Attributes
    ----------
    name, label, unit : of it
    nominal : what the geometry file says
    value : the fitted one
    standard_error : by the linearised problem
    interval : from the profile; from the linearised problem where the profile does not reach it
    profile : the profile itself
    """

    name: str
    label: str
    unit: str
    nominal: float
    value: float
    standard_error: float
    interval: tuple[float, float]
    profile: Profile


@dataclass(frozen=True)
class Cause:
    """What one held-down parameter accounts for.

    Attributes
    ----------
    name, label : of it
    shift : of it, in its stated standard deviations [1]
    power_W, half_width_W : mean over the points of what it adds to the power
    not_told_from : labels of others that would take it over if they were far less certain than is
        stated: it is by what is stated, not by the log, that it is told from them
    """

    name: str
    label: str
    shift: float
    power_W: float
    half_width_W: float
    not_told_from: tuple[str, ...] = ()

    @property
    def is_known(self) -> bool:
        """Whether its half-width leaves no doubt of its sign."""
        return bool(known_sign(self.power_W, self.half_width_W))


@dataclass(frozen=True)
class Fit:
    """A prediction held against a log.

    Attributes
    ----------
    estimates : the free unknowns, none where only the inputs were asked
    causes : held-down parameters by the size of what they account for
    names : rows and columns of the correlations: the unknowns, then what is held down
    correlation : shape (names, names)
    level : of the intervals [1]
    freedom : degrees of freedom
    difference_W : measured less predicted by the file, mean over the points
    unexplained_W, unexplained_half_W : of it, what departures of configurations take
    scatter_W : root mean square of what is left at the points
    scatter_before_W : root mean square of measured less predicted by the file
    points : those that the prediction reaches
    left_W : what is left of each, shape (points)
    findings : warnings
    """

    estimates: tuple[Estimate, ...]
    causes: tuple[Cause, ...]
    names: tuple[str, ...]
    correlation: Floats
    level: float
    freedom: float
    difference_W: float
    unexplained_W: float
    unexplained_half_W: float
    scatter_W: float
    scatter_before_W: float
    points: SteadyPoints
    left_W: Floats
    findings: tuple[Finding, ...]

    @property
    def values(self) -> dict[str, float]:
        """Fitted values of the unknowns by name."""
        return {estimate.name: estimate.value for estimate in self.estimates}

    def shift(self, name: str) -> float:
        """Shift of a held-down parameter, in its standard deviations; 0 where it is not held."""
        return next((cause.shift for cause in self.causes if cause.name == name), 0.0)

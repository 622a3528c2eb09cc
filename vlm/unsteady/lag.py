"""A lag law: a load that follows its quasi-steady value late, in state form.

    load = q - sum x_i,    dx_i/ds = -b_i x_i + a_i dq/ds,

with s the way flown in half chords, so that after a unit step of q the load is
1 - sum a_i exp(-b_i s) (the form of R. T. Jones, NACA Report 681). Apparent mass is no part of it.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares, nnls

from vlm.constants import Floats
from vlm.errors import ComputationFailed


@dataclass(frozen=True)
class LagLaw:
    """Indicial function of a load.

    Attributes
    ----------
    shares : a_i, shape (states,) [1]
    rates : b_i, per half chord flown, shape (states,) [1]
    misfit : largest difference from what it was fitted to [1]
    """

    shares: Floats
    rates: Floats
    misfit: float

    def response(self, way: Floats) -> Floats:
        """Load over its final value a way [half chords] after a step, same shape [1]."""
        return np.asarray(1.0 - np.exp(-np.multiply.outer(way, self.rates)) @ self.shares)

    @property
    def mean_lag(self) -> float:
        """Way by which a slowly changing load trails, sum a_i / b_i [half chords]."""
        return float(np.sum(self.shares / self.rates))

    def advanced(self, states: Floats, change: float, way: float) -> Floats:
        """States after q changed evenly by ``change`` over ``way`` [half chords]; exact."""
        decay = np.exp(-self.rates * way)
        return np.asarray(
            states * decay + self.shares * change * (1.0 - decay) / (self.rates * way)
        )


def fitted_lag(way: Floats, response: Floats, states: int = 2) -> LagLaw:
    """The law closest to an indicial response, by least squares.

    Parameters
    ----------
    way : after the step, shape (n,) [half chords]
    response : load over its final value, shape (n,) [1]
    states : number of lag states

    Raises
    ------
    ComputationFailed : the response is not finite, or has fewer values than the law has numbers
    """
    if not np.all(np.isfinite(response)) or len(way) <= 2 * states:
        raise ComputationFailed("no lag law fits: the response is too short or not finite")

    def shares(log_rates: Floats) -> tuple[Floats, Floats]:
        decays = np.exp(-np.multiply.outer(way, np.exp(log_rates)))
        found, _ = nnls(decays, 1.0 - response)
        return found, decays @ found - (1.0 - response)

    start = np.log(np.geomspace(0.1, 1.0, states))

    def misfits(log_rates: Floats) -> Floats:
        return shares(log_rates)[1]

    best = least_squares(misfits, start, bounds=(np.log(1e-3), np.log(30.0)))
    found, misfit = shares(best.x)
    return LagLaw(shares=found, rates=np.exp(best.x), misfit=float(np.abs(misfit).max()))

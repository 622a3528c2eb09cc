"""Whether a fit predicts what it has not seen: leave segments out, fit, predict them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vlm.errors import ComputationFailed
from vlm.log.explaining import asked, located
from vlm.log.points import SteadyPoints
from vlm.log.power_model import Surroundings
from vlm.log.prediction import Prediction

GROUPS = 10


@dataclass(frozen=True)
class CrossValidation:
    """Prediction error on segments that were left out of the fit.

    Attributes
    ----------
    groups : how many times a group of runs was left out
    left_out_W : root mean square of measured less predicted on the segments left out
    nominal_W : the same without any fit
    misfit_W : measured less predicted of each segment when it was left out, shape (segments)
    """

    groups: int
    left_out_W: float
    nominal_W: float
    misfit_W: NDArray[np.float64]

    @property
    def helps(self) -> bool:
        """Whether the fit predicts unseen segments better than the geometry file does."""
        return self.left_out_W < self.nominal_W


def cross_validated(
    points: SteadyPoints,
    prediction: Prediction,
    names: Sequence[str],
    around: Surroundings,
    progress: Callable[[int], None] | None = None,
) -> CrossValidation | None:
    """Leave runs of segments out in turn.

    Segments that follow each other without a break are left out together: they share their gust.

    Parameters
    ----------
    points, prediction, names, around : as for the fit
    progress : called with 1 after each group

    Returns
    -------
    None where there are too few segments to leave any out.
    """
    question = asked(points, prediction, names, around)
    points = question.points
    _, run = np.unique(points.run, return_inverse=True)
    groups = min(GROUPS, int(run.max()) + 1)
    level = points.power_W - around.cost.value_W_s_m * points.climb_m_s
    nominal = level - prediction.at_points(points.airspeed_m_s, points.configuration, {})
    misfit = np.full(len(points), np.nan)
    for group in range(groups):
        out = run % groups == group
        try:
            kept = asked(points.chosen(~out), prediction, names, around)
            at, _ = located(kept)
        except ComputationFailed:
            return None
        values = {u.name: float(v) for u, v in zip(kept.free, at, strict=True)}
        left = points.chosen(out)
        found = prediction.at_points(left.airspeed_m_s, left.configuration, values)
        misfit[out] = level[out] - found
        if progress is not None:
            progress(1)
    return CrossValidation(
        groups, float(np.sqrt(np.mean(misfit**2))), float(np.sqrt(np.mean(nominal**2))), misfit
    )

"""Whether a fit predicts what it has not seen: leave segments out, fit, predict them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from vlm.errors import ComputationFailed
from vlm.log.bins import CommonErrors
from vlm.log.fitting import fit_problem, solved
from vlm.log.observations import Observations
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
    seen: Observations,
    prediction: Prediction,
    names: Sequence[str],
    errors: CommonErrors,
    progress: Callable[[int], None] | None = None,
) -> CrossValidation | None:
    """Leave runs of segments out in turn.

    Segments that follow each other without a break are left out together: they share their gust.

    Parameters
    ----------
    seen : the segments
    prediction, names, errors : as in ``fit_problem``
    progress : called with 1 after each group

    Returns
    -------
    None where there are too few segments to leave any out.
    """
    seen = seen.chosen(np.isfinite(seen.predicted_W(prediction)))
    _, run = np.unique(seen.run, return_inverse=True)
    groups = min(GROUPS, int(run.max()) + 1)
    nominal = seen.power_W - seen.predicted_W(prediction)
    misfit = np.full(len(seen), np.nan)
    for group in range(groups):
        out = run % groups == group
        try:
            problem = fit_problem(seen.chosen(~out), prediction, names, errors)
        except ComputationFailed:
            return None
        misfit[out] = replace(problem, seen=seen.chosen(out)).misfit_W(solved(problem).x)
        if progress is not None:
            progress(1)
    return CrossValidation(
        groups, float(np.sqrt(np.mean(misfit**2))), float(np.sqrt(np.mean(nominal**2))), misfit
    )

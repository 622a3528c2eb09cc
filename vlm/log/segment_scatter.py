"""What differs from one segment to the next, beyond the noise within each.

Trim, piloting and slow vertical air stay for a whole segment, so that no reading within it shows
them; only segments flown again do. R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982)
377, find the variance they share from the scatter of the means and the noise of each.
"""

import numpy as np
from scipy.optimize import brentq

from vlm.constants import Floats


def shared_variance(misfit: Floats, noise: Floats, freedom: int) -> float:
    """The variance shared by all means, beside the noise of each.

    It is that for which the weighted sum of squares equals the degrees of freedom,
    sum misfit^2 / (noise + shared) = freedom, and zero where even none is too much.

    Parameters
    ----------
    misfit : of each mean from its curve, shape (segments)
    noise : variance of each mean by its own readings, not negative, shape (segments)
    freedom : segments less the curve's unknowns, at least 1
    """

    def excess(shared: float) -> float:
        return float(np.sum(misfit**2 / (noise + shared))) - freedom

    most = float(misfit @ misfit) / freedom
    least = 1e-12 * most
    if most == 0.0 or excess(least) <= 0.0:
        return 0.0
    return float(brentq(excess, least, 1.000001 * most, rtol=1e-10))

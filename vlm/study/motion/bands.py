"""Half-widths all along the histories of a motion, for its picture."""

from collections.abc import Mapping, Sequence

import numpy as np

from vlm.constants import Floats
from vlm.lattice.cellule import Grid
from vlm.study.point.errors import half_width

SAME_START = 1e-9
"""Difference, over the value, up to which two histories start alike [1]."""

Columns = Mapping[str, Floats]


def band_widths(
    own: Columns, rough: Columns, off: Sequence[Columns], rotors: Sequence[Columns],
    hinges: Mapping[str, float], grid: Grid,
) -> dict[str, Floats]:  # fmt: skip
    """Half-width of every history at each instant, as those of its extremes are made.

    Parameters
    ----------
    own, rough, off, rotors : histories by name, "time_s" among them: on the lattice, on the coarser
        one, there with loads that are off, group by group, and there with rotors that hold one
        thing or another, of which the larger change counts
    hinges : by tip, what the model leaves open in its moment [N m]
    grid : the lattice

    Returns
    -------
    shape (times,) by name, but for what is not known, as stall without sections; NaN from where
    one of the flights is cut off
    """
    times = own["time_s"]
    shared = min(len(one["time_s"]) for one in (own, rough, *off, *rotors))
    found = {}
    for name, values in own.items():
        if name == "time_s" or not np.isfinite(values).all():
            continue
        known, again = values[:shared], rough[name][:shared]
        width = np.full(len(times), np.nan)
        width[:shared] = half_width(known, again, _passed_through(values, again)[:shared], grid)
        width[:shared] += sum(np.abs(one[name][:shared] - again) for one in off)
        if rotors:
            width[:shared] += np.max([np.abs(one[name][:shared] - again) for one in rotors], axis=0)
        if name.startswith("hinge_"):
            width += hinges[name.removeprefix("hinge_").removesuffix("_N_m")]
        if np.isfinite(width).any():  # there is a lattice coarse enough to tell
            found[name] = width
    return found


def _passed_through(values: Floats, again: Floats) -> Floats:
    """Natural size at each instant, shape (times,): what a history has passed through until then.

    And the size of its start, where that is worked out and not given: it is not alike on both
    lattices.
    """
    passed = np.maximum.accumulate(values) - np.minimum.accumulate(values)
    given = abs(values[0] - again[0]) <= SAME_START * max(1.0, abs(values[0]))
    return np.asarray(passed if given else np.maximum(passed, abs(values[0])))

"""Folds at which a tip touches a wing: there numbers leap, and nothing lies between."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Flags = NDArray[np.bool_]


def touching_folds(joined: Any, known: Any) -> tuple[Flags, Flags]:
    """Folds of either side at which its tip touches, wherever the other side's tip stands.

    Parameters
    ----------
    joined : shape (p, s), whether any tip touches at a pair of port and starboard folds
    known : shape (p, s), whether the pair has numbers

    Returns
    -------
    port and starboard, shapes (p,) and (s,)
    """
    there = np.asarray(known, dtype=bool)
    free = ~np.asarray(joined, dtype=bool) & there
    if not free.any():
        return np.zeros(there.shape[0], dtype=bool), np.zeros(there.shape[1], dtype=bool)
    return there.any(axis=1) & ~free.any(axis=1), there.any(axis=0) & ~free.any(axis=0)


def branches(joined: Any, known: Any) -> NDArray[np.intp]:
    """Number of the branch of every pair of folds, shape (p, s): equal where nothing lies between.

    0 where no tip touches, 1 where a starboard one does, 2 a port one, 3 both.
    """
    port, starboard = touching_folds(joined, known)
    return np.asarray(2 * port[:, None] + starboard[None, :], dtype=np.intp)

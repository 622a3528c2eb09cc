"""Compiled: velocities from the whole wake behind each strip, its rings added up on the way.

With the bound segments and legs of :mod:`vlm.flow.kernel`, the wake of strip j with unit
circulation is the sum of its rings, each times 1 plus its share of dmu/dx at the edge, equation
(19) of :mod:`vlm.flow.wake_shape`; that depends on the circulations of j and its neighbours.
"""

import numpy as np
from numba import prange

from vlm.flow.compiled import compiled
from vlm.flow.kernel import CHUNK, FOUR_PI, grid_segments


@compiled(parallel=True)
def wake_velocity(  # type: ignore[no-untyped-def]
    points, nodes, directions, shapes, lines, senses, rows, columns, slopes, out
):  # fmt: skip
    """Velocity at each point from the wakes of each strip with unit circulation.

    Parameters
    ----------
    points : shape (m, 3)
    nodes : shape (wakes, 3, rows of nodes x lines), of all patches side by side, row by row
    directions : shape (wakes, 3)
    shapes : shape (rows of rings, lines), mean of xi chi(xi / L) over the ring outside each line
    lines, senses : shape (strips,), line inside each strip, and the sense of its circulation
    rows, columns : shape (entries,), strips of which the first one's dmu/dx depends on the second
    slopes : shape (wakes, entries), that dmu/dx for unit circulation [1/m]
    out : shape (m, 3, wakes, strips) [1/m]
    """
    cols = shapes.shape[1]
    count = len(shapes)
    for chunk in prange((len(points) + CHUNK - 1) // CHUNK):
        r = np.empty((4, nodes.shape[2]))
        bound = np.empty((3, count * cols))
        leg = np.empty((3, count * cols))
        plain = np.empty(cols)
        shaped = np.empty(cols)
        for i in range(chunk * CHUNK, min(len(points), (chunk + 1) * CHUNK)):
            x, y, z = points[i, 0], points[i, 1], points[i, 2]
            for w in range(len(nodes)):
                grid_segments(x, y, z, nodes[w], cols, directions[w], r, bound, leg)
                for c in range(3):
                    for t in range(cols):
                        plain[t] = bound[c, t]
                        shaped[t] = shapes[0, t] * bound[c, t]
                    for k in range(count):
                        a = k * cols
                        for t in range(cols - 1):
                            turned = leg[c, a + t + 1] - leg[c, a + t]
                            plain[t] += turned
                            shaped[t] += shapes[k, t] * turned
                    for k in range(1, count):
                        a = k * cols
                        for t in range(cols):
                            shaped[t] += (shapes[k, t] - shapes[k - 1, t]) * bound[c, a + t]
                    for j in range(len(lines)):
                        out[i, c, w, j] = senses[j] / FOUR_PI * plain[lines[j]]
                    for e in range(len(rows)):
                        j = rows[e]
                        change = senses[j] / FOUR_PI * shaped[lines[j]]
                        out[i, c, w, columns[e]] += slopes[w, e] * change

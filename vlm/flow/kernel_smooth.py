"""Velocities of vortex grids smoothed over a core: what moves the nodes of a relaxed wake.

The law of Biot and Savart with r^2 + core^2 in the place of r^2 (Rosenhead 1930; Moore 1972; from
memory). Lengths from the ends to the point as if it stood aside by the core, in a direction of its
own, a the core and R = sqrt(r^2 + a^2):

    segment  v = (r_a x r_b) (R_a + R_b) / (4 pi R_a R_b (R_a R_b + r_a . r_b + a^2)),
    leg      v = (d x r) / (4 pi R (R - d . r)).

A sheet of such vortices curls up at its edges with a radius of about the core and stays smooth
inside it. Nothing here enters the flow through the wings.
"""

import math

from numba import prange

from vlm.flow.compiled import compiled
from vlm.flow.kernel import CHUNK, FOUR_PI


@compiled(parallel=True)
def smoothed_sum(points, nodes, cols, direction, core, bound, legs, out):  # type: ignore[no-untyped-def]
    """Add the velocity of a grid's segments of given strengths to out: (m, 3).

    points: (m, 3); nodes: (3, rows * cols), row by row; bound: (rows * cols,), strength from node
    t to t + 1; legs: (rows * cols,), from t to t + cols, in the last row on to infinity.
    """
    m = points.shape[0]
    count = nodes.shape[1]
    last = count - cols
    dx, dy, dz = direction[0], direction[1], direction[2]
    square = core * core
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            px, py, pz = points[i, 0], points[i, 1], points[i, 2]
            vx = vy = vz = 0.0
            for t in range(count):
                ax, ay, az = px - nodes[0, t], py - nodes[1, t], pz - nodes[2, t]
                an = math.sqrt(ax * ax + ay * ay + az * az + square)
                for way in range(2):
                    strength = bound[t] if way == 0 else legs[t]
                    if strength == 0.0:
                        continue
                    if way == 1 and t >= last:
                        f = strength / (an * (an - (dx * ax + dy * ay + dz * az)))
                        vx += f * (dy * az - dz * ay)
                        vy += f * (dz * ax - dx * az)
                        vz += f * (dx * ay - dy * ax)
                        continue
                    u = t + 1 if way == 0 else t + cols
                    bx, by, bz = px - nodes[0, u], py - nodes[1, u], pz - nodes[2, u]
                    bn = math.sqrt(bx * bx + by * by + bz * bz + square)
                    both = an * bn
                    dot = ax * bx + ay * by + az * bz + square
                    f = strength * (an + bn) / (both * (both + dot))
                    vx += f * (ay * bz - az * by)
                    vy += f * (az * bx - ax * bz)
                    vz += f * (ax * by - ay * bx)
            out[i, 0] += vx / FOUR_PI
            out[i, 1] += vy / FOUR_PI
            out[i, 2] += vz / FOUR_PI

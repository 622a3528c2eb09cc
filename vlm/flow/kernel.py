"""Velocities induced by grids of vortex rings: the compiled kernel, the only place of Biot-Savart.

A grid has ``rows x strips`` rings on ``(rows + 1) x (strips + 1)`` nodes. Row k holds the bound
segments of ring row k; the last row is the trailing edge, from which a straight leg runs to
infinity along ``direction``. For each point the kernel computes every segment of a grid once,
in one pass over contiguous arrays, and combines segments to rings:

    ring(k, j) = bound(k, j) - bound(k + 1, j) + leg(k, j + 1) - leg(k, j)          (1)

with no bound segment beyond the last row, whose legs go on to infinity. A finite segment from a
to b, with r_a and r_b from its ends to the point, induces per unit of circulation

    v = (r_a x r_b) (|r_a| + |r_b|) / (4 pi |r_a| |r_b| (|r_a| |r_b| + r_a . r_b))     (2)

and a leg from a to infinity along d

    v = (d x r) / (4 pi |r| (|r| - d . r))                                             (3)

(Biot-Savart, any text on wing theory). Beside the segment, where (2) and (3) divide small
differences, the equal forms with |r_a x r_b|^2 and |d x r|^2 in the denominator are used. A
point on a segment has no velocity from it: within 1e-8 of its length (or of its distance, for a
leg) beside it, it counts as on it. Past its ends nothing is singular. No core radius is needed.

Derivatives stand in :mod:`vlm.flow.kernel_rates`.
"""

import math

import numpy as np
from numba import prange

from vlm.flow.compiled import compiled

# 1e-8 of a length, squared: the shortest segments (a tip end of 0.4 mm, 24 rows: 2e-6 m) must tell
# it from the rounding of places a metre away from the origin, 1e-16 m.
ON_LINE = 1e-16
PAST_END = 1e-8
FOUR_PI = 4.0 * math.pi
CHUNK = 16


@compiled(inline="always")
def _segment(ax, ay, az, an, bx, by, bz, bn):  # type: ignore[no-untyped-def]
    """Equation (2) times 4 pi; an, bn are the lengths of r_a and r_b."""
    cx = ay * bz - az * by
    cy = az * bx - ax * bz
    cz = ax * by - ay * bx
    cc = cx * cx + cy * cy + cz * cz
    dot = ax * bx + ay * by + az * bz
    prod = an * bn
    length2 = an * an + bn * bn - 2.0 * dot
    beside = dot < 0.0
    top = (an + bn) * ((prod - dot) if beside else 1.0)
    bottom = prod * (cc if beside else (prod + dot))
    apart = cc > ON_LINE * length2 * length2 or dot > PAST_END * length2
    f = top / bottom if apart else 0.0
    return f * cx, f * cy, f * cz


@compiled(inline="always")
def _leg(rx, ry, rz, rn, dx, dy, dz):  # type: ignore[no-untyped-def]
    """Equation (3) times 4 pi; rn is the length of r."""
    cx = dy * rz - dz * ry
    cy = dz * rx - dx * rz
    cz = dx * ry - dy * rx
    cc = cx * cx + cy * cy + cz * cz
    dot = dx * rx + dy * ry + dz * rz
    beside = dot > 0.0
    top = (rn + dot) if beside else 1.0
    bottom = rn * (cc if beside else (rn - dot))
    apart = cc > ON_LINE * rn * rn or dot < 0.0
    f = top / bottom if apart else 0.0
    return f * cx, f * cy, f * cz


@compiled()
def grid_segments(px, py, pz, nodes, cols, direction, r, bound, leg):  # type: ignore[no-untyped-def]
    """Velocities of all segments of one grid at one point, times 4 pi.

    nodes: (3, rows * cols + cols) with cols = strips + 1; r: (4, same) work;
    bound, leg: (3, rows * cols) out. Bound entry t joins nodes t and t + 1 (the last of each
    row is meaningless); leg entry t joins t and t + cols, and goes on to infinity in the last.
    """
    count = nodes.shape[1]
    inner = count - cols
    for t in range(count):
        ax = px - nodes[0, t]
        ay = py - nodes[1, t]
        az = pz - nodes[2, t]
        r[0, t] = ax
        r[1, t] = ay
        r[2, t] = az
        r[3, t] = math.sqrt(ax * ax + ay * ay + az * az)
    for t in range(inner):
        u = t + 1
        vx, vy, vz = _segment(
            r[0, t], r[1, t], r[2, t], r[3, t], r[0, u], r[1, u], r[2, u], r[3, u]
        )
        bound[0, t] = vx
        bound[1, t] = vy
        bound[2, t] = vz
    for t in range(inner):
        u = t + cols
        vx, vy, vz = _segment(
            r[0, t], r[1, t], r[2, t], r[3, t], r[0, u], r[1, u], r[2, u], r[3, u]
        )
        leg[0, t] = vx
        leg[1, t] = vy
        leg[2, t] = vz
    dx, dy, dz = direction[0], direction[1], direction[2]
    for t in range(inner, count):
        vx, vy, vz = _leg(r[0, t], r[1, t], r[2, t], r[3, t], dx, dy, dz)
        leg[0, t - cols] += vx
        leg[1, t - cols] += vy
        leg[2, t - cols] += vz


@compiled()
def _rings_along(bound, leg, nx, ny, nz, cols, scale, b, g, out, first):  # type: ignore[no-untyped-def]
    """Component of equation (1) along (nx, ny, nz) into ``out[first:]``; b, g: work (inner,)."""
    inner = bound.shape[1]
    for t in range(inner):
        b[t] = bound[0, t] * nx + bound[1, t] * ny + bound[2, t] * nz
        g[t] = leg[0, t] * nx + leg[1, t] * ny + leg[2, t] * nz
    strips = cols - 1
    rows = inner // cols
    for k in range(rows):
        a = k * cols
        o = first + k * strips
        if k + 1 < rows:
            for j in range(strips):
                out[o + j] = scale * (b[a + j] - b[a + cols + j] + g[a + j + 1] - g[a + j])
        else:
            for j in range(strips):
                out[o + j] = scale * (b[a + j] + g[a + j + 1] - g[a + j])


@compiled()
def rings(bound, leg, cols, scale, out, i, first):  # type: ignore[no-untyped-def]
    """All components of equation (1) into ``out[i, :, first:]``."""
    inner = bound.shape[1]
    strips = cols - 1
    rows = inner // cols
    for c in range(3):
        for k in range(rows):
            a = k * cols
            o = first + k * strips
            if k + 1 < rows:
                for j in range(strips):
                    t = a + j
                    out[i, c, o + j] = scale * (
                        bound[c, t] - bound[c, t + cols] + leg[c, t + 1] - leg[c, t]
                    )
            else:
                for j in range(strips):
                    t = a + j
                    out[i, c, o + j] = scale * (bound[c, t] + leg[c, t + 1] - leg[c, t])


@compiled(parallel=True)
def normalwash(points, normals, nodes, cols, direction, sense, out, first):  # type: ignore[no-untyped-def]
    """Velocity along the normals of each point from each ring of a grid.

    points, normals: (m, 3); nodes: (3, (rows + 1) * cols), row by row; direction: (3,);
    out: (m, columns), written in place from column ``first`` on [1/m].
    """
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        b = np.empty(count - cols)
        g = np.empty(count - cols)
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            _rings_along(
                bound, leg, normals[i, 0], normals[i, 1], normals[i, 2],
                cols, scale, b, g, out[i], first,
            )  # fmt: skip


@compiled(parallel=True)
def velocity(points, nodes, cols, direction, sense, out, first):  # type: ignore[no-untyped-def]
    """Velocity at each point from each ring of a grid; out: (m, 3, columns) [1/m]."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            rings(bound, leg, cols, scale, out, i, first)


@compiled()
def padded(strengths, cols):  # type: ignore[no-untyped-def]
    """Strengths (columns, rings) with a zero behind each row of rings, (columns, rows * cols)."""
    strips = cols - 1
    rows = strengths.shape[1] // strips
    table = np.zeros((strengths.shape[0], rows * cols))
    for q in range(strengths.shape[0]):
        for k in range(rows):
            for j in range(strips):
                table[q, k * cols + j] = strengths[q, k * strips + j]
    return table


@compiled()
def weighted(bound, leg, cols, scale, table, work, out, i):  # type: ignore[no-untyped-def]
    """Add rings times strengths to ``out[i]``, (3, columns).

    table: strengths from :func:`padded`; work: (3, rows * cols).

    Rings stand as segments do, one meaningless entry behind each row, which has no strength: so
    all loops run through. Four columns at a time keep their sums in registers.
    """
    count = bound.shape[1]
    last = count - cols
    for c in range(3):
        for t in range(last):
            work[c, t] = bound[c, t] - bound[c, t + cols] + leg[c, t + 1] - leg[c, t]
        for t in range(last, count - 1):
            work[c, t] = bound[c, t] + leg[c, t + 1] - leg[c, t]
        work[c, count - 1] = 0.0
    columns = table.shape[0]
    blocks = columns // 4
    for block in range(blocks):
        q = 4 * block
        x0 = y0 = z0 = x1 = y1 = z1 = x2 = y2 = z2 = x3 = y3 = z3 = 0.0
        for p in range(count):
            x, y, z = work[0, p], work[1, p], work[2, p]
            s0, s1, s2, s3 = table[q, p], table[q + 1, p], table[q + 2, p], table[q + 3, p]
            x0 += x * s0
            y0 += y * s0
            z0 += z * s0
            x1 += x * s1
            y1 += y * s1
            z1 += z * s1
            x2 += x * s2
            y2 += y * s2
            z2 += z * s2
            x3 += x * s3
            y3 += y * s3
            z3 += z * s3
        sums = ((x0, y0, z0), (x1, y1, z1), (x2, y2, z2), (x3, y3, z3))
        for n in range(4):
            for c in range(3):
                out[i, c, q + n] += scale * sums[n][c]
    for q in range(4 * blocks, columns):
        x = y = z = 0.0
        for p in range(count):
            x += work[0, p] * table[q, p]
            y += work[1, p] * table[q, p]
            z += work[2, p] * table[q, p]
        out[i, 0, q] += scale * x
        out[i, 1, q] += scale * y
        out[i, 2, q] += scale * z


@compiled(parallel=True)
def velocity_sum(points, nodes, cols, direction, sense, strengths, out):  # type: ignore[no-untyped-def]
    """Add the velocity of rings of strengths (columns, rings) to out: (m, 3, columns)."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    table = padded(strengths, cols)
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        work = np.empty((3, count - cols))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            weighted(bound, leg, cols, scale, table, work, out, i)

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

``*_rate`` functions give the derivative of the same velocities when points, nodes and the
legs' direction move, by differentiating (2) and (3) exactly.
"""

import math
import os
from typing import Any

import numpy as np

# Kernel threads that wait must sleep: spinning ones take the processor from whatever else runs,
# and beside another load they slowed every call fourfold. Only the first import can set it.
os.environ.setdefault("OMP_WAIT_POLICY", "passive")

from numba import njit, prange

FAST = {"contract", "reassoc", "nsz", "arcp"}
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": FAST, "cache": True, "nogil": True}
# 1e-8 of a length, squared: the shortest segments (a tip end of 0.4 mm, 24 rows: 2e-6 m) must tell
# it from the rounding of places a metre away from the origin, 1e-16 m.
ON_LINE = 1e-16
PAST_END = 1e-8
FOUR_PI = 4.0 * math.pi
CHUNK = 16


@njit(**OPTIONS)
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


@njit(**OPTIONS)
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


@njit(**OPTIONS)
def _grid_segments(px, py, pz, nodes, cols, direction, r, bound, leg):  # type: ignore[no-untyped-def]
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


@njit(**OPTIONS)
def _segment_rate(  # type: ignore[no-untyped-def]
    ax, ay, az, an, bx, by, bz, bn, eax, eay, eaz, ean, ebx, eby, ebz, ebn
):
    """Derivative of equation (2) times 4 pi when r_a and r_b change by ea and eb.

    ean, ebn are the rates of the lengths an and bn.
    """
    cx = ay * bz - az * by
    cy = az * bx - ax * bz
    cz = ax * by - ay * bx
    ex = eay * bz - eaz * by + ay * ebz - az * eby
    ey = eaz * bx - eax * bz + az * ebx - ax * ebz
    ez = eax * by - eay * bx + ax * eby - ay * ebx
    cc = cx * cx + cy * cy + cz * cz
    dot = ax * bx + ay * by + az * bz
    prod = an * bn
    length2 = an * an + bn * bn - 2.0 * dot
    edot = eax * bx + eay * by + eaz * bz + ax * ebx + ay * eby + az * ebz
    eprod = ean * bn + an * ebn
    ecc = 2.0 * (cx * ex + cy * ey + cz * ez)
    beside = dot < 0.0
    numerator = (prod - dot) if beside else 1.0
    enumerator = (eprod - edot) if beside else 0.0
    below = cc if beside else (prod + dot)
    ebelow = ecc if beside else (eprod + edot)
    # On the line but past an end there is no velocity, yet it has a rate: the point may leave it.
    apart = cc > ON_LINE * length2 * length2 or dot > PAST_END * length2
    scale = 1.0 / (prod * below) if apart else 0.0
    f = (an + bn) * numerator * scale
    etop = (ean + ebn) * numerator + (an + bn) * enumerator
    ef = (etop - f * (eprod * below + prod * ebelow)) * scale
    return f * ex + ef * cx, f * ey + ef * cy, f * ez + ef * cz


@njit(**OPTIONS)
def _leg_rate(rx, ry, rz, rn, dx, dy, dz, erx, ery, erz, ern, edx, edy, edz):  # type: ignore[no-untyped-def]
    """Derivative of equation (3) times 4 pi when r and d change by er and ed."""
    cx = dy * rz - dz * ry
    cy = dz * rx - dx * rz
    cz = dx * ry - dy * rx
    ex = edy * rz - edz * ry + dy * erz - dz * ery
    ey = edz * rx - edx * rz + dz * erx - dx * erz
    ez = edx * ry - edy * rx + dx * ery - dy * erx
    cc = cx * cx + cy * cy + cz * cz
    ecc = 2.0 * (cx * ex + cy * ey + cz * ez)
    dot = dx * rx + dy * ry + dz * rz
    edot = edx * rx + edy * ry + edz * rz + dx * erx + dy * ery + dz * erz
    beside = dot > 0.0
    apart = cc > ON_LINE * rn * rn or dot < 0.0
    numerator = (rn + dot) if beside else 1.0
    enumerator = (ern + edot) if beside else 0.0
    below = cc if beside else (rn - dot)
    ebelow = ecc if beside else (ern - edot)
    scale = 1.0 / (rn * below) if apart else 0.0
    f = numerator * scale
    ef = (enumerator - f * (ern * below + rn * ebelow)) * scale
    return f * ex + ef * cx, f * ey + ef * cy, f * ez + ef * cz


@njit(**OPTIONS)
def _grid_segment_rates(  # type: ignore[no-untyped-def]
    px, py, pz, ex, ey, ez, nodes, node_rates, cols, direction, direction_rate, r, e, bound, leg
):
    """As :func:`_grid_segments`, for the derivative along given motions of points and nodes."""
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
        e[0, t] = ex - node_rates[0, t]
        e[1, t] = ey - node_rates[1, t]
        e[2, t] = ez - node_rates[2, t]
        along = ax * e[0, t] + ay * e[1, t] + az * e[2, t]
        e[3, t] = along / r[3, t] if r[3, t] > 0.0 else 0.0
    for t in range(inner):
        u = t + 1
        vx, vy, vz = _segment_rate(
            r[0, t], r[1, t], r[2, t], r[3, t], r[0, u], r[1, u], r[2, u], r[3, u],
            e[0, t], e[1, t], e[2, t], e[3, t], e[0, u], e[1, u], e[2, u], e[3, u],
        )  # fmt: skip
        bound[0, t] = vx
        bound[1, t] = vy
        bound[2, t] = vz
    for t in range(inner):
        u = t + cols
        vx, vy, vz = _segment_rate(
            r[0, t], r[1, t], r[2, t], r[3, t], r[0, u], r[1, u], r[2, u], r[3, u],
            e[0, t], e[1, t], e[2, t], e[3, t], e[0, u], e[1, u], e[2, u], e[3, u],
        )  # fmt: skip
        leg[0, t] = vx
        leg[1, t] = vy
        leg[2, t] = vz
    dx, dy, dz = direction[0], direction[1], direction[2]
    fx, fy, fz = direction_rate[0], direction_rate[1], direction_rate[2]
    for t in range(inner, count):
        vx, vy, vz = _leg_rate(
            r[0, t],
            r[1, t],
            r[2, t],
            r[3, t],
            dx,
            dy,
            dz,
            e[0, t],
            e[1, t],
            e[2, t],
            e[3, t],
            fx,
            fy,
            fz,
        )
        leg[0, t - cols] += vx
        leg[1, t - cols] += vy
        leg[2, t - cols] += vz


@njit(**OPTIONS)
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


@njit(**OPTIONS)
def _rings(bound, leg, cols, scale, out, i, first):  # type: ignore[no-untyped-def]
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


@njit(parallel=True, **OPTIONS)
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
            _grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            _rings_along(
                bound, leg, normals[i, 0], normals[i, 1], normals[i, 2],
                cols, scale, b, g, out[i], first,
            )  # fmt: skip


@njit(parallel=True, **OPTIONS)
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
            _grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            _rings(bound, leg, cols, scale, out, i, first)


@njit(parallel=True, **OPTIONS)
def velocity_rate(  # type: ignore[no-untyped-def]
    points, point_rates, nodes, node_rates, cols, direction, direction_rate, sense, out, first
):
    """Derivative of :func:`velocity` along motions of points, nodes and direction."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        e = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            _grid_segment_rates(
                points[i, 0], points[i, 1], points[i, 2],
                point_rates[i, 0], point_rates[i, 1], point_rates[i, 2],
                nodes, node_rates, cols, direction, direction_rate, r, e, bound, leg,
            )  # fmt: skip
            _rings(bound, leg, cols, scale, out, i, first)


@njit(**OPTIONS)
def _weighted(bound, leg, cols, scale, strengths, rings, out, i):  # type: ignore[no-untyped-def]
    """Add rings times strengths to ``out[i]``, (3, columns); rings: (3, panels) work."""
    inner = bound.shape[1]
    strips = cols - 1
    rows = inner // cols
    for c in range(3):
        for k in range(rows):
            a = k * cols
            o = k * strips
            if k + 1 < rows:
                for j in range(strips):
                    t = a + j
                    rings[c, o + j] = bound[c, t] - bound[c, t + cols] + leg[c, t + 1] - leg[c, t]
            else:
                for j in range(strips):
                    t = a + j
                    rings[c, o + j] = bound[c, t] + leg[c, t + 1] - leg[c, t]
    for q in range(strengths.shape[0]):
        x = 0.0
        y = 0.0
        z = 0.0
        for p in range(rows * strips):
            x += rings[0, p] * strengths[q, p]
            y += rings[1, p] * strengths[q, p]
            z += rings[2, p] * strengths[q, p]
        out[i, 0, q] += scale * x
        out[i, 1, q] += scale * y
        out[i, 2, q] += scale * z


@njit(parallel=True, **OPTIONS)
def velocity_sum(points, nodes, cols, direction, sense, strengths, out):  # type: ignore[no-untyped-def]
    """Add the velocity of rings of strengths (columns, rings) to out: (m, 3, columns)."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        rings = np.empty((3, strengths.shape[1]))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            _grid_segments(
                points[i, 0], points[i, 1], points[i, 2], nodes, cols, direction, r, bound, leg
            )
            _weighted(bound, leg, cols, scale, strengths, rings, out, i)


@njit(parallel=True, **OPTIONS)
def velocity_rate_sum(  # type: ignore[no-untyped-def]
    points, point_rates, nodes, node_rates, cols, direction, direction_rate, sense, strengths, out
):
    """Add the derivative of :func:`velocity_sum` along motions of points, nodes and direction."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        e = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        rings = np.empty((3, strengths.shape[1]))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            _grid_segment_rates(
                points[i, 0], points[i, 1], points[i, 2],
                point_rates[i, 0], point_rates[i, 1], point_rates[i, 2],
                nodes, node_rates, cols, direction, direction_rate, r, e, bound, leg,
            )  # fmt: skip
            _weighted(bound, leg, cols, scale, strengths, rings, out, i)

"""Derivatives of the velocities of :mod:`vlm.flow.kernel`, by differentiating (2) and (3) exactly.

Points, nodes and the legs' direction move at given rates.
"""

import math

import numpy as np
from numba import prange

from vlm.flow.compiled import compiled
from vlm.flow.kernel import (
    CHUNK,
    FOUR_PI,
    ON_LINE,
    PAST_END,
    padded,
    rings,
    weighted,
)


@compiled(inline="always")
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


@compiled(inline="always")
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


@compiled()
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


@compiled(parallel=True)
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
            rings(bound, leg, cols, scale, out, i, first)


@compiled(parallel=True)
def velocity_rate_sum(  # type: ignore[no-untyped-def]
    points, point_rates, nodes, node_rates, cols, direction, direction_rate, sense, strengths, out
):
    """Add the derivative of :func:`velocity_sum` along motions of points, nodes and direction."""
    m = points.shape[0]
    count = nodes.shape[1]
    scale = sense / FOUR_PI
    table = padded(strengths, cols)
    for chunk in prange((m + CHUNK - 1) // CHUNK):
        r = np.empty((4, count))
        e = np.empty((4, count))
        bound = np.empty((3, count - cols))
        leg = np.empty((3, count - cols))
        work = np.empty((3, count - cols))
        for i in range(chunk * CHUNK, min(m, (chunk + 1) * CHUNK)):
            _grid_segment_rates(
                points[i, 0], points[i, 1], points[i, 2],
                point_rates[i, 0], point_rates[i, 1], point_rates[i, 2],
                nodes, node_rates, cols, direction, direction_rate, r, e, bound, leg,
            )  # fmt: skip
            weighted(bound, leg, cols, scale, table, work, out, i)

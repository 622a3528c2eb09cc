"""Compiled: what sections do at given velocities, and Newton's method that strips agree with them.

The equations are those of :mod:`vlm.sections.coupling`; what they need of a lattice comes as plain
arrays (:mod:`vlm.sections.packed`). Each state is worked out by itself.
"""

import math

import numpy as np

from vlm.flow.compiled import compiled

TINY = 1e-30
MOST_TRIALS = 6
RELAXATION = 0.15
NEAR = 1e-3
CLOSE, LEFT = 1e-3, 0.2
"""Below which disagreement over the scale a matrix serves again, and how much of it a step may
leave [1]."""
FULL_TURN = 2.0 * math.pi
LEAST_REYNOLDS, GREATEST_REYNOLDS = 1e4, 1e7
"""Between which drag goes with the Reynolds number [1]."""
NO_SHARE = 1e-15
"""Share of a neighbour in a strip's mean that Newton's matrix, not the equations, leaves out."""
SPEED, ALPHA, REYNOLDS, CL, CD, CM, CIRCULATION, SLOPE, SEPARATION, MARGIN = range(10)
FIELDS = 10


@compiled()
def met(velocity, axes, owners, weights, strips):  # type: ignore[no-untyped-def]
    """Velocities across panels, and means over the strips along three axes.

    Parameters
    ----------
    velocity : shape (states, panels, 3) [m/s]
    axes : shape (4, panels, 3): normals of the panels; along the chord, the normal and the span of
        their strips
    owners, weights : shape (panels,), each panel's strip, and what it counts there [1]
    strips : number of strips

    Returns
    -------
    shape (states, panels), and (3, states, strips)
    """
    states, panels, _ = velocity.shape
    across, means = np.empty((states, panels)), np.zeros((3, states, strips))
    for b in range(states):
        for p in range(panels):
            x, y, z = velocity[b, p, 0], velocity[b, p, 1], velocity[b, p, 2]
            across[b, p] = axes[0, p, 0] * x + axes[0, p, 1] * y + axes[0, p, 2] * z
            for k in range(3):
                axis = axes[k + 1, p]
                along = axis[0] * x + axis[1] * y + axis[2] * z
                means[k, b, owners[p]] += weights[p] * along
    return across, means


@compiled(inline="always")
def _smooth_step(t):  # type: ignore[no-untyped-def]
    """As :func:`vlm.sections.post_stall.smooth_step`."""
    s = min(max(t, 0.0), 1.0)
    return s * s * s * (10.0 + s * (6.0 * s - 15.0))


@compiled()
def lattice_shares(  # type: ignore[no-untyped-def]
    tangential, normal, spanwise, scale, fade_start, fade_width, still
):  # fmt: skip
    """How much the lattice counts in each strip, shape (states, strips) as the velocities [1].

    ``scale`` of shape (states,) [m/s], the angles of the fade [rad], ``still`` over the scale.
    """
    found = np.empty_like(tangential)
    for b in range(len(found)):
        for j in range(found.shape[1]):
            across = math.hypot(normal[b, j], spanwise[b, j])
            angle = math.atan2(across, tangential[b, j])
            speed = math.hypot(tangential[b, j], across) / scale[b]
            near = 1.0 - _smooth_step((angle - fade_start) / fade_width)
            found[b, j] = near * _smooth_step((speed - still) / still)
    return found


@compiled(inline="always")
def _between(t, step, low, low_slope, high, high_slope):  # type: ignore[no-untyped-def]
    """Value and slope of the cubic between two nodes, from the values and slopes there."""
    start, end = low_slope * step, high_slope * step
    rise = high - low
    bend, twist = 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise
    value = low + t * (start + t * (bend + t * twist))
    return value, (start + t * (2.0 * bend + 3.0 * t * twist)) / step


@compiled(inline="always")
def _place(nodes, first, after, angle):  # type: ignore[no-untyped-def]
    """Index of the node below an angle, by halving."""
    low, high = first, after - 1
    while high - low > 1:
        middle = (low + high) // 2
        if nodes[middle] <= angle:
            low = middle
        else:
            high = middle
    return low


@compiled()
def _of_polar(p, alpha, reynolds, polars, found):  # type: ignore[no-untyped-def]
    """cl, friction, pressure, cm, separation, slope of cl, highest and lowest stall of a polar."""
    nodes, node_at, logs, log_at, rows, row_at, stalls, exponents = polars
    angle = (alpha + math.pi) % FULL_TURN - math.pi
    logarithm = math.log(min(max(reynolds, LEAST_REYNOLDS), GREATEST_REYNOLDS))
    first, last = log_at[p], log_at[p + 1] - 1
    lower, weight = first, 0.0
    if last > first:
        while lower < last - 1 and logs[lower + 1] < logarithm:
            lower += 1
        weight = (logarithm - logs[lower]) / (logs[lower + 1] - logs[lower])
        weight = min(max(weight, 0.0), 1.0)
    upper = min(lower + 1, last)
    node = _place(nodes, node_at[p], node_at[p + 1], angle)
    step = nodes[node + 1] - nodes[node]
    t = (angle - nodes[node]) / step
    count = node_at[p + 1] - node_at[p]
    here = row_at[p] + (lower - first) * count + node - node_at[p]
    there = here + (upper - lower) * count
    for k in range(5):
        low, high = rows[here, k], rows[here + 1, k]
        low_slope, high_slope = rows[here, k + 5], rows[here + 1, k + 5]
        if weight > 0.0:
            low += weight * (rows[there, k] - low)
            high += weight * (rows[there + 1, k] - high)
            low_slope += weight * (rows[there, k + 5] - low_slope)
            high_slope += weight * (rows[there + 1, k + 5] - high_slope)
        found[k], slope = _between(t, step, low, low_slope, high, high_slope)
        if k == 0:
            found[5] = slope
    if exponents[p] != 0.0:
        found[1] *= math.exp(-exponents[p] * (logarithm - logs[first]))
    found[6] = (1.0 - weight) * stalls[0, lower] + weight * stalls[0, upper]
    found[7] = (1.0 - weight) * stalls[1, lower] + weight * stalls[1, upper]


@compiled()
def _of_strip(j, along, normal, viscosity, sections, found, out):  # type: ignore[no-untyped-def]
    """All fields of one strip's section at velocities along its chord and its normal."""
    shape, kinds, thin, polars = sections
    chord, camber, flatness, thin_moment = shape[0, j], shape[1, j], shape[2, j], shape[3, j]
    share = shape[4, j]  # of the lattice's circulation in the section's
    speed = math.sqrt(along * along + normal * normal)
    safe = max(speed, TINY)
    alpha = math.atan2(normal, along)
    reynolds = speed * chord / viscosity
    if kinds[j] < 0:
        cl = 2.0 * math.pi * (flatness * normal - camber * along) / safe
        ratio = min(max(reynolds, LEAST_REYNOLDS), GREATEST_REYNOLDS) / thin[3, j]
        rise = thin[1, j] * (cl - thin[2, j]) ** 2
        out[CD, j] = (thin[0, j] + rise) * ratio ** -thin[4, j]
        out[CM, j] = thin_moment * (along / safe) ** 2
        out[SLOPE, j] = share * math.pi * chord * flatness
        out[SEPARATION, j], out[MARGIN, j] = 0.0, math.inf
    else:
        _of_polar(kinds[j], alpha, reynolds, polars, found)
        cl = found[0]
        out[CD, j], out[CM, j] = found[1] + found[2], found[3]
        out[SLOPE, j] = 0.5 * share * chord * (normal / safe * cl + along / safe * found[5])
        out[SEPARATION, j] = found[4]
        out[MARGIN, j] = min(found[6] - alpha, alpha - found[7])
    out[SPEED, j], out[ALPHA, j], out[REYNOLDS, j], out[CL, j] = speed, alpha, reynolds, cl
    out[CIRCULATION, j] = 0.5 * share * speed * chord * cl


@compiled()
def section_fields(along, normal, viscosity, sections):  # type: ignore[no-untyped-def]
    """Fields of all strips at velocities of shape (states, strips): (states, fields, strips).

    Parameters
    ----------
    viscosity : kinematic [m^2/s]
    sections : of four parts. Shape (5, strips): chord [m], camber, flatness and moment of the thin
        section, share of the surface that the strip stands for [1]. Shape (strips,): the polar of
        each strip, below 0 for a thin section. Shape (5, strips): of a thin one least drag, its
        rise, the lift at least drag, the Reynolds number they hold at, and the exponent that takes
        them to another [1]. The polars: nodes [rad],
        where those of each polar start, logarithms of Reynolds numbers, where they start, rows of
        five values and slopes, where they start, angles of stall [rad], exponents of the friction
    """
    states, strips = along.shape
    out, found = np.empty((states, FIELDS, strips)), np.empty(8)
    for b in range(states):
        for j in range(strips):
            _of_strip(j, along[b, j], normal[b, j], viscosity, sections, found, out[b])
    return out


@compiled()
def _disagreement(  # type: ignore[no-untyped-def]
    offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections,
    work, out,
):  # fmt: skip
    """Circulation, normal velocity and disagreement of one state's strips, as rows of ``work``.

    Returns the largest disagreement over the scale, and the size of all.
    """
    _, response, smoothing, depth = lattice
    shape, strips = sections[0], len(offset)
    found = work[5]
    for j in range(strips):
        circulation = base[j]
        for k in range(strips):
            circulation += response[j, k] * offset[k]
        seen = circulation / depth[j] - offset[j] + shape[1, j] * along[j]
        normal = fade[j] * seen / shape[2, j] + (1.0 - fade[j]) * normal_onset[j]
        _of_strip(j, along[j], normal, viscosity, sections, found, out)
        work[0, j], work[1, j] = circulation, normal
        work[2, j] = (circulation - out[CIRCULATION, j]) / depth[j]
        work[3, j] = offset[j] - work[2, j]
    worst, size = 0.0, 0.0
    for j in range(strips):
        mean = -work[3, j]
        for k in range(strips):
            mean += smoothing[j, k] * work[3, k]
        residual = work[2, j] - fade[j] * mean
        work[4, j] = residual
        worst = max(worst, abs(residual))
        size += residual * residual
    size = math.sqrt(size)
    return (worst / scale if size == size else size), size


@compiled()
def _eliminated(matrix, order):  # type: ignore[no-untyped-def]
    """Factors of a matrix in its place, its rows in ``order``; False where it is singular.

    Matrices of some tens of rows: less work than what a call of LAPACK costs around it.
    """
    count = len(order)
    for k in range(count):
        pivot = k
        for i in range(k + 1, count):
            if abs(matrix[i, k]) > abs(matrix[pivot, k]):
                pivot = i
        if not abs(matrix[pivot, k]) > 0.0:
            return False
        order[k] = pivot
        if pivot != k:
            for j in range(count):
                matrix[k, j], matrix[pivot, j] = matrix[pivot, j], matrix[k, j]
        top = matrix[k]
        for i in range(k + 1, count):
            row = matrix[i]
            factor = row[k] / top[k]
            row[k] = factor
            if factor != 0.0:
                for j in range(k + 1, count):
                    row[j] -= factor * top[j]
    return True


@compiled()
def _substituted(matrix, order, right):  # type: ignore[no-untyped-def]
    """Solve in place with the factors of :func:`_eliminated`."""
    count = len(right)
    for k in range(count):
        if order[k] != k:
            right[k], right[order[k]] = right[order[k]], right[k]
    for i in range(count):
        total = right[i]
        for j in range(i):
            total -= matrix[i, j] * right[j]
        right[i] = total
    for k in range(count - 1, -1, -1):
        total = right[k]
        for j in range(k + 1, count):
            total -= matrix[k, j] * right[j]
        right[k] = total / matrix[k, k]


@compiled()
def _newton_step(  # type: ignore[no-untyped-def]
    fade, scale, longest_step, lattice, sections, work, out, step, matrix, order,
):  # fmt: skip
    """Newton's step, shortened where a velocity would change by much.

    Leaves the factors of its matrix; False where that is singular, and the step a small one
    against the disagreement.
    """
    share, _, smoothing, depth = lattice
    shape, strips = sections[0], len(step)
    # The plain residual changes by (1 - g) share + g with the offsets, g = slope fade / flatness.
    rest = np.empty((strips, strips))
    for i in range(strips):
        g = out[SLOPE, i] / depth[i] * fade[i] / shape[2, i]
        for j in range(strips):
            rest[i, j] = (g - 1.0) * share[i, j]
        rest[i, i] += 1.0 - g
    for i in range(strips):
        row = matrix[i]
        for j in range(strips):
            row[j] = fade[i] * rest[i, j] - rest[i, j]
        row[i] += 1.0
        for k in range(strips):
            part = -fade[i] * smoothing[i, k]
            if abs(part) > NO_SHARE:
                for j in range(strips):
                    row[j] += part * rest[k, j]
    for i in range(strips):
        step[i] = -work[4, i]
    regular = _eliminated(matrix, order)
    if regular:
        _substituted(matrix, order, step)
    else:
        for i in range(strips):
            step[i] = -RELAXATION * work[4, i]
    longest = 1.0
    for i in range(strips):
        change = -step[i]
        for k in range(strips):
            change += share[i, k] * step[k]
        change = abs(change * fade[i] / shape[2, i]) / (longest_step * scale)
        longest = max(longest, change)
    for i in range(strips):
        step[i] /= longest
    return regular


@compiled()
def _newton(  # type: ignore[no-untyped-def]
    limits, offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections, work, out,
    matrix, order, known,
):  # fmt: skip
    """Newton's steps of one state, halved while they make things worse.

    Near the end the factors of the last matrix serve on, as long as each step takes away nearly all
    of the disagreement. Changes ``offset``; returns the largest disagreement, the number of steps,
    and whether ``matrix`` holds factors, as ``known`` says it does before.
    """
    most_steps, _, longest_step, tolerance = limits
    step, candidate = np.empty_like(offset), np.empty_like(offset)
    worst, size = _disagreement(
        offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections, work, out,
    )  # fmt: skip
    steps = 0
    while steps < most_steps and worst > tolerance:
        steps += 1
        if known and worst < CLOSE:
            for j in range(len(offset)):
                step[j] = -work[4, j]
            _substituted(matrix, order, step)
            for j in range(len(offset)):
                candidate[j] = offset[j] + step[j]
            worst, found = _disagreement(
                candidate, base, along, normal_onset, fade, scale, viscosity, lattice, sections,
                work, out,
            )  # fmt: skip
            if found < LEFT * size:
                for j in range(len(offset)):
                    offset[j] = candidate[j]
                size = found
                continue
            worst, size = _disagreement(
                offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections, work,
                out,
            )  # fmt: skip
        known = _newton_step(
            fade, scale, longest_step, lattice, sections, work, out, step, matrix, order
        )
        length = 1.0
        for _ in range(MOST_TRIALS):
            for j in range(len(offset)):
                candidate[j] = offset[j] + length * step[j]
            worst, found = _disagreement(
                candidate, base, along, normal_onset, fade, scale, viscosity, lattice, sections,
                work, out,
            )  # fmt: skip
            if found < size * (1.0 - 1e-4 * length):
                break
            length *= 0.5
        for j in range(len(offset)):
            offset[j] = candidate[j]
        size = found
    return worst, steps, known


@compiled()
def _damp(  # type: ignore[no-untyped-def]
    limits, offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections, work, out,
):  # fmt: skip
    """Small steps of one state against the disagreement, from no offsets; returns their number."""
    offset[:] = 0.0
    for steps in range(limits[1]):
        worst, _ = _disagreement(
            offset, base, along, normal_onset, fade, scale, viscosity, lattice, sections, work, out,
        )  # fmt: skip
        if worst < NEAR:
            return steps
        for j in range(len(offset)):
            offset[j] -= RELAXATION * work[4, j]
    return limits[1]


@compiled()
def _respond(responses, counted, depth, response, share):  # type: ignore[no-untyped-def]
    """The response to offsets for one state's wake, and the same over the depth, in place."""
    response[:] = 0.0
    for k in range(len(counted)):
        if counted[k] != 0.0:
            for i in range(len(depth)):
                for j in range(len(depth)):
                    response[i, j] += counted[k] * responses[k, i, j]
    for i in range(len(depth)):
        for j in range(len(depth)):
            share[i, j] = response[i, j] / depth[i]


@compiled()
def agreed(  # type: ignore[no-untyped-def]
    limits, start, near_first, base, along, normal_onset, fade, scale, viscosity, lattice, sections,
):  # fmt: skip
    """Bring the strips of some states into agreement with their sections.

    Parameters
    ----------
    limits : most steps of Newton's method, most small ones, the longest step and the disagreement
        to come below, both over the scale
    start : shape (states, strips), offsets to start from [m/s]
    near_first : whether the other states start from where the first one ended
    base, along, normal_onset, fade : shape (states, strips): circulation without offsets [m^2/s],
        velocities along chord and normal [m/s], how much the lattice counts [1]
    scale : shape (states,) [m/s]
    lattice : the response to offsets (directions, strips, strips) [m] and what each of these
        directions of the wake counts (states, directions), the means along the span (strips,
        strips), and the depth (strips,), pi times chord and share

    The others as in :func:`section_fields`.

    Returns
    -------
    offsets, circulation and normal velocity, shape (states, strips) each; fields (states, fields,
    strips); largest disagreement and steps, shape (states,)
    """
    states, strips = along.shape
    responses, counted, smoothing, depth = lattice
    response, share = np.empty((strips, strips)), np.empty((strips, strips))
    own = (share, response, smoothing, depth)
    offsets = start.copy()
    circulation, normal = np.empty_like(start), np.empty_like(start)
    fields = np.empty((states, FIELDS, strips))
    residual, iterations = np.empty(states), np.zeros(states, np.intp)
    work = np.empty((6, max(strips, 8)))
    matrix, order, known = np.empty((strips, strips)), np.empty(strips, np.intp), False
    for b in range(states):
        offset, out = offsets[b], fields[b]
        _respond(responses, counted[b], depth, response, share)
        if near_first and b > 0:
            for j in range(strips):
                offset[j] = offsets[0, j]
        for damped in (False, True):
            if damped:
                iterations[b] += _damp(
                    limits, offset, base[b], along[b], normal_onset[b], fade[b], scale[b],
                    viscosity, own, sections, work, out,
                )  # fmt: skip
            worst, steps, known = _newton(
                limits, offset, base[b], along[b], normal_onset[b], fade[b], scale[b], viscosity,
                own, sections, work, out, matrix, order, known and near_first and not damped,
            )  # fmt: skip
            iterations[b] += steps
            if not worst > limits[3]:
                break
        for j in range(strips):
            circulation[b, j], normal[b, j] = work[0, j], work[1, j]
        residual[b] = worst
    return offsets, circulation, normal, fields, residual, iterations

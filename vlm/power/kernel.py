"""Compiled: flow through rotors and their wind.

The equations are those of :mod:`vlm.power.momentum`, :mod:`vlm.power.rotor` and
:mod:`vlm.power.slipstream`.
"""

import math

import numpy as np

from vlm.flow.compiled import compiled

MIXING = 0.15
"""Half-width of the edge over the tube's radius (common practice)."""
SLOWEST = 0.05
"""Least speed through the tube over v that the drift of its centre is worked out with."""
WIDEST = 4.0
"""Largest cut of the tube over that of the disc [1]."""

MOST_STEPS = 60


@compiled()
def induced(hover, axial, edgewise):  # type: ignore[no-untyped-def]
    """:func:`vlm.power.momentum.induced_velocity`, shape (n,) each [m/s]."""
    found = np.zeros_like(hover)
    for i in range(len(hover)):
        v_h, along, across = hover[i], axial[i], edgewise[i]
        if v_h <= 0.0:
            continue
        v = v_h + max(-along, 0.0)
        for _ in range(MOST_STEPS):
            through = along + v
            speed = math.sqrt(across * across + through * through + 1e-300)
            step = (v * speed - v_h * v_h) / (speed + v * through / speed)
            v = max(v - step, 0.0)
            if abs(step) <= 1e-15 * v_h:
                break
        found[i] = v
    return found


@compiled()
def profile_mean(edgewise, axial, radial, weights, azimuths):  # type: ignore[no-untyped-def]
    """:func:`vlm.power.rotor.profile_factor`, shape (n,) each [1].

    ``radial`` and ``weights`` of a rule from -1 to 1, ``azimuths`` [rad].
    """
    found = np.zeros_like(edgewise)
    for i in range(len(edgewise)):
        for r in range(len(radial)):
            radius, ring = 0.5 * (radial[r] + 1.0), 0.0
            for a in range(len(azimuths)):
                first = radius + edgewise[i] * math.sin(azimuths[a])
                second = edgewise[i] * math.cos(azimuths[a])
                squared = first * first + second * second + axial[i] * axial[i]
                ring += squared * math.sqrt(squared)
            found[i] += 2.0 * weights[r] * ring / len(azimuths)
    return found


@compiled(inline="always")
def _edge(t):  # type: ignore[no-untyped-def]
    """1 below t = 0, 0 above t = 1, smooth between."""
    s = min(max(t, 0.0), 1.0)
    return 1.0 - s * s * (3.0 - 2.0 * s)


@compiled(inline="always")
def _pressure_share(inside, squared, along, square):  # type: ignore[no-untyped-def]
    """k of equation (3); the wetted share where the wind turns the flow round.

    ``along`` is V . U, ``square`` |U|^2.
    """
    whole = squared * square + 2.0 * inside * along
    root = math.sqrt(max(along * along + square * whole, 0.0))
    divisor = along - root if along < 0.0 else along + root
    if (along < 0.0 and square + along > 0.0) or abs(divisor) < 1e-30:
        return inside
    return whole / divisor


@compiled()
def _wetted(squared, mixed, longest, radius, places, weights):  # type: ignore[no-untyped-def]
    """Means over a strip of e, its wetted share, and of e squared."""
    inside, second = 0.0, 0.0
    for i in range(len(places)):
        place = places[i]
        away = math.sqrt(max(squared + place * mixed + 0.25 * place * place * longest, 0.0))
        here = _edge((away / radius - 1.0) / (2.0 * MIXING) + 0.5)
        inside += 0.5 * weights[i] * here
        second += 0.5 * weights[i] * here * here
    return inside, second


@compiled()
def wind_of(  # type: ignore[no-untyped-def]
    rotor, behind, growth, arm, spans, products, turning, flow, stream, swirl, places, weights,
    velocity, inside, radius,
):  # fmt: skip
    """Add the wind of one rotor to ``velocity``, and fill ``inside`` and ``radius``.

    Parameters
    ----------
    rotor : shape (5,): axis, radius [m], +1 or -1 for the sense of its turning
    behind, growth : shape (points,), place behind the disc [m], v(s) over v of equation (1)
    arm, spans : shape (points, 3), from the axis, and across it from end to end of the strip [m]
    products : shape (3, points): arm . arm, arm . spans, spans . spans [m^2]
    turning : shape (points, 3), axis x arm [m]
    flow : shape (2, states), axial speed of the air, and the velocity induced [m/s]
    stream : shape (states, 3) [m/s]
    swirl : shape (states,), torque over density; 0 without swirl [m^5/s^2]
    places, weights : of the points across a strip, from -1 to 1
    velocity : shape (states, points, 3) [m/s]
    inside, radius : shape (states, points), wetted share [1], of the tube [m]
    """
    x, y, z, size, sense = rotor[0], rotor[1], rotor[2], rotor[3], rotor[4]
    for b in range(len(stream)):
        induced, axial = flow[1, b], max(flow[0, b], 0.0)
        along = stream[b, 0] * x + stream[b, 1] * y + stream[b, 2] * z
        u, v, w = stream[b, 0] - along * x, stream[b, 1] - along * y, stream[b, 2] - along * z
        across = u * u + v * v + w * w
        turned_x, turned_y, turned_z = y * w - z * v, z * u - x * w, x * v - y * u
        at_disc = max(axial + induced, 1e-12)
        least = SLOWEST * abs(induced) + 1e-12
        turn = sense * 2.0 * swirl[b] / (math.pi * size**4 * at_disc)
        for p in range(len(behind)):
            through = max(axial + growth[p] * induced, least)
            wide = size * math.sqrt(min(at_disc / through, WIDEST))
            radius[b, p] = wide
            inside[b, p] = 0.0
            drift = behind[p] / through
            aside = u * arm[p, 0] + v * arm[p, 1] + w * arm[p, 2]
            squared = products[0, p] + drift * (drift * across - 2.0 * aside)
            reach = (1.0 + MIXING) * wide + 0.5 * math.sqrt(products[2, p])
            # Most points stand in no tube. What is no number is worked out, and shows.
            if induced == 0.0 or squared >= reach * reach:
                continue
            slant = u * spans[p, 0] + v * spans[p, 1] + w * spans[p, 2]
            wet, second = _wetted(
                squared, products[1, p] - drift * slant, products[2, p], wide, places, weights
            )
            inside[b, p] = wet
            added = growth[p] * induced
            share = _pressure_share(wet, second, -added * along, added * added)
            started = 0.5 * (1.0 + behind[p] / math.hypot(behind[p], 0.1 * size))
            rate = share * turn * started * (size / wide) ** 2
            moved = rate * drift
            velocity[b, p, 0] += rate * turning[p, 0] - moved * turned_x - share * added * x
            velocity[b, p, 1] += rate * turning[p, 1] - moved * turned_y - share * added * y
            velocity[b, p, 2] += rate * turning[p, 2] - moved * turned_z - share * added * z

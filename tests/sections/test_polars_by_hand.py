"""Compiled sections of several polars and Reynolds numbers, against cubics that were made up.

A cubic between two nodes, from values and slopes, is exact for a cubic (Hermite); between two
Reynolds numbers the weight is the logarithm's, as the input reference says. No other source.
"""

import numpy as np
import pytest

from vlm.constants import Floats
from vlm.sections.kernel import (
    ALPHA,
    CD,
    CIRCULATION,
    CL,
    CM,
    MARGIN,
    REYNOLDS,
    SEPARATION,
    SLOPE,
    SPEED,
    section_fields,
)
from vlm.sections.packed import packed_polars
from vlm.sections.polar import Polar

VISCOSITY = 1.5e-5
NUMBERS = ((1e5, 2e5, 8e5), (5e4, 4e5))
NODES = (
    np.array([-np.pi, -1.0, -0.2, 0.1, 0.3, 2.0, np.pi]),
    np.array([-np.pi, -0.5, 0.0, 0.4, np.pi]),
)
EXPONENTS = (0.3, 0.0)
HIGH = ((0.20, 0.23, 0.28), (0.3, 0.35))
LOW = ((-0.18, -0.2, -0.25), (-0.1, -0.15))
CHORD, SHARE = (0.2, 0.13, 0.3), (1.0, 0.7, 1.2)


def cubic(polar: int, curve: int) -> Floats:
    """Coefficients of the five cubics at a Reynolds number, shape (5, 4), highest power first."""
    return np.random.default_rng(10 * polar + curve).uniform(-1.0, 1.0, (5, 4))


def made(polar: int) -> Polar:
    curves = [cubic(polar, curve) for curve in range(len(NUMBERS[polar]))]
    values = [[np.polyval(c, NODES[polar]) for c in curve] for curve in curves]
    slopes = [[np.polyval(np.polyder(c), NODES[polar]) for c in curve] for curve in curves]
    return Polar(
        alpha=NODES[polar], log_reynolds=np.log(NUMBERS[polar]),
        values=np.swapaxes(values, 0, 1), slopes=np.swapaxes(slopes, 0, 1),
        stall_high=np.array(HIGH[polar]), stall_low=np.array(LOW[polar]),
        drag_exponent=EXPONENTS[polar], known_alpha=(-1.0, 1.0), known_reynolds=None,
    )  # fmt: skip


def wanted(polar: int, alpha: float, reynolds: float) -> tuple[Floats, float, float, float]:
    """Five coefficients, slope of the first, stalls: numpy's own interpolation of the cubics."""
    logs, number = np.log(NUMBERS[polar]), np.log(np.clip(reynolds, 1e4, 1e7))
    curves = np.array([cubic(polar, curve) for curve in range(len(logs))])
    mixed = np.array(
        [[np.interp(number, logs, curves[:, k, power]) for power in range(4)] for k in range(5)]
    )
    found = np.array([np.polyval(c, alpha) for c in mixed])
    found[1] *= (np.exp(number) / NUMBERS[polar][0]) ** -EXPONENTS[polar]
    slope = float(np.polyval(np.polyder(mixed[0]), alpha))
    high, low = (float(np.interp(number, logs, ends[polar])) for ends in (HIGH, LOW))
    return found, slope, high, low


def sections(kinds: list[int]) -> tuple[object, ...]:
    shape = np.array([CHORD, (0.03, 0.0, -0.02), (1.0, 0.9, 1.1), (-0.1, 0.0, -0.2), SHARE])
    thin = np.tile([[0.02], [0.03], [0.1], [2e5], [0.2]], 3)
    return shape, np.array(kinds), thin, packed_polars([made(0), made(1)])


@pytest.mark.parametrize("kinds", [[0, 1, 0], [1, 0, 1]])
def test_every_field_of_strips_with_polars(kinds: list[int]) -> None:
    """Speeds whose Reynolds numbers lie below, between and above those of the curves."""
    random = np.random.default_rng(7)
    speed = np.exp(random.uniform(np.log(0.2), np.log(400.0), (60, 3)))
    alpha = random.uniform(-np.pi, np.pi, (60, 3))
    along, normal = speed * np.cos(alpha), speed * np.sin(alpha)
    found = section_fields(along, normal, VISCOSITY, sections(kinds))
    reynolds = speed * CHORD / VISCOSITY
    for j, polar in enumerate(kinds):
        for b in range(len(speed)):
            (cl, friction, pressure, cm, apart), slope, high, low = wanted(
                polar, alpha[b, j], reynolds[b, j]
            )
            out, half = found[b, :, j], 0.5 * SHARE[j] * CHORD[j]
            assert out[SPEED] == pytest.approx(speed[b, j], rel=1e-12)
            assert out[ALPHA] == pytest.approx(alpha[b, j], rel=1e-12)
            assert out[REYNOLDS] == pytest.approx(reynolds[b, j], rel=1e-12)
            assert out[CL] == pytest.approx(cl, rel=1e-9, abs=1e-10)
            assert out[CD] == pytest.approx(friction + pressure, rel=1e-9, abs=1e-10)
            assert out[CM] == pytest.approx(cm, rel=1e-9, abs=1e-10)
            assert out[SEPARATION] == pytest.approx(apart, rel=1e-9, abs=1e-10)
            assert out[MARGIN] == pytest.approx(min(high - alpha[b, j], alpha[b, j] - low))
            # Circulation is half of speed, chord and lift; its slope with the normal velocity.
            assert out[CIRCULATION] == pytest.approx(half * speed[b, j] * cl, rel=1e-9, abs=1e-9)
            with_normal = np.sin(alpha[b, j]) * cl + np.cos(alpha[b, j]) * slope
            assert out[SLOPE] == pytest.approx(half * with_normal, rel=1e-9, abs=1e-9)


def test_polars_read_alone_are_the_same_cubics() -> None:
    random = np.random.default_rng(8)
    alpha = random.uniform(-3.0 * np.pi, np.pi, (50, 2))
    reynolds = np.exp(random.uniform(np.log(2e3), np.log(5e7), (50, 2)))
    for polar in (0, 1):
        found = made(polar).at(alpha, reynolds)
        for place in np.ndindex(alpha.shape):
            angle = (alpha[place] + np.pi) % (2.0 * np.pi) - np.pi
            (cl, friction, pressure, cm, apart), slope, high, low = wanted(
                polar, angle, reynolds[place]
            )
            assert found.cl[place] == pytest.approx(cl, rel=1e-8, abs=1e-9)
            assert found.cl_slope[place] == pytest.approx(slope, rel=1e-7, abs=1e-8)
            assert found.cd[place] == pytest.approx(friction + pressure, rel=1e-8, abs=1e-9)
            assert found.cm[place] == pytest.approx(cm, rel=1e-8, abs=1e-9)
            assert found.separation[place] == pytest.approx(apart, rel=1e-8, abs=1e-9)
            assert found.stall_high[place] == pytest.approx(high, rel=1e-12)
            assert found.stall_low[place] == pytest.approx(low, rel=1e-12)


def test_thin_sections_by_their_formulas() -> None:
    """cl = 2 pi (flatness w - camber u) / V and a parabola of drag, worked out for 3 strips."""
    along, normal = np.array([[10.0, 8.0, -6.0]]), np.array([[1.0, -0.5, 0.4]])
    found = section_fields(along, normal, VISCOSITY, sections([-1, -1, -1]))[0]
    for j, (camber, flatness, moment) in enumerate(
        [(0.03, 1.0, -0.1), (0.0, 0.9, 0.0), (-0.02, 1.1, -0.2)]
    ):
        u, w = along[0, j], normal[0, j]
        speed = np.hypot(u, w)
        cl = 2.0 * np.pi * (flatness * w - camber * u) / speed
        ratio = speed * CHORD[j] / VISCOSITY / 2e5
        assert found[CL, j] == pytest.approx(cl)
        assert found[CD, j] == pytest.approx((0.02 + 0.03 * (cl - 0.1) ** 2) * ratio**-0.2)
        assert found[CM, j] == pytest.approx(moment * u**2 / speed**2)
        assert found[SLOPE, j] == pytest.approx(SHARE[j] * np.pi * CHORD[j] * flatness)
        assert found[CIRCULATION, j] == pytest.approx(0.5 * SHARE[j] * speed * CHORD[j] * cl)
        assert found[SEPARATION, j] == 0.0
        assert found[MARGIN, j] == np.inf

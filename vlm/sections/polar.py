"""A section's coefficients as smooth curves over every angle of attack and Reynolds number."""

from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np

from vlm.constants import Floats
from vlm.sections.kernel import GREATEST_REYNOLDS, LEAST_REYNOLDS

FULL_TURN = 2.0 * np.pi


@dataclass(frozen=True)
class SectionLoads:
    """Coefficients at given angles; every field has the shape of the angles.

    Attributes
    ----------
    cl, cd, cm : lift, drag, moment about the quarter chord [1]
    cl_slope : derivative of cl with the angle [1/rad]
    separation : 0 where the flow is attached, 1 where it is separated [1]
    stall_high, stall_low : angles of highest and of least lift [rad]
    """

    cl: Floats
    cl_slope: Floats
    cd: Floats
    cm: Floats
    separation: Floats
    stall_high: Floats
    stall_low: Floats


@dataclass(frozen=True)
class Polar:
    """Curves of one section: cubics between nodes, with one slope at each node.

    Between two Reynolds numbers the curves are weighted by the logarithm; outside the range of the
    tables the nearest one is used as it is.

    Attributes
    ----------
    alpha : shape (nodes,), from -pi to pi [rad]
    log_reynolds : shape (curves,), natural logarithms, growing [1]
    values : shape (5, curves, nodes): cl, friction part of cd, pressure part of cd, cm, separation
    slopes : the same, derivatives with the angle [1/rad]
    stall_high, stall_low : shape (curves,), angles of highest and least lift [rad]
    drag_exponent : the friction part goes with the Reynolds number to minus this power [1]
    known_alpha : angles the source itself covers, least and highest [rad]
    known_reynolds : the same for Reynolds numbers; None where it states none [1]
    """

    alpha: Floats
    log_reynolds: Floats
    values: Floats
    slopes: Floats
    stall_high: Floats
    stall_low: Floats
    drag_exponent: float
    known_alpha: tuple[float, float]
    known_reynolds: tuple[float, float] | None

    CL: ClassVar[int] = 0
    FRICTION: ClassVar[int] = 1
    PRESSURE: ClassVar[int] = 2
    CM: ClassVar[int] = 3
    SEPARATION: ClassVar[int] = 4

    def at(self, alpha: Floats, reynolds: Floats) -> SectionLoads:
        """Coefficients at angles of attack [rad] and Reynolds numbers of the same shape."""
        shape = np.shape(alpha)
        angle = np.ravel(np.mod(np.asarray(alpha) + np.pi, FULL_TURN) - np.pi)
        held = np.clip(np.ravel(reynolds), LEAST_REYNOLDS, GREATEST_REYNOLDS)
        logarithm = np.log(np.broadcast_to(held, angle.shape))
        lower, weight = self._between_curves(logarithm)
        values, slopes = self._hermite(angle, lower, weight)
        if self.drag_exponent:
            reference = self.log_reynolds[0]
            values[self.FRICTION] *= np.exp(-self.drag_exponent * (logarithm - reference))
        upper = np.minimum(lower + 1, len(self.log_reynolds) - 1)

        def stall(angles: Floats) -> Floats:
            mixed = (1.0 - weight) * angles[lower] + weight * angles[upper]
            return np.asarray(mixed.reshape(shape))

        return SectionLoads(
            cl=values[self.CL].reshape(shape),
            cl_slope=slopes[self.CL].reshape(shape),
            cd=(values[self.FRICTION] + values[self.PRESSURE]).reshape(shape),
            cm=values[self.CM].reshape(shape),
            separation=values[self.SEPARATION].reshape(shape),
            stall_high=stall(self.stall_high),
            stall_low=stall(self.stall_low),
        )

    def _between_curves(self, logarithm: Floats) -> tuple[np.ndarray, Floats]:
        """Index of the curve below, and the weight of the one above."""
        grid = self.log_reynolds
        if len(grid) == 1:
            return np.zeros(len(logarithm), dtype=np.intp), np.zeros(len(logarithm))
        lower = np.clip(np.searchsorted(grid, logarithm) - 1, 0, len(grid) - 2)
        weight = (logarithm - grid[lower]) / (grid[lower + 1] - grid[lower])
        return lower, np.clip(weight, 0.0, 1.0)

    @cached_property
    def rows(self) -> Floats:
        """Values and slopes together, shape (curves, nodes, 10), so that one place is one row."""
        return np.ascontiguousarray(np.concatenate([self.values, self.slopes]).transpose(1, 2, 0))

    def _hermite(self, angle: Floats, lower: np.ndarray, weight: Floats) -> tuple[Floats, Floats]:
        """Values and slopes of all five curves, shape (5, angles)."""
        node = np.clip(np.searchsorted(self.alpha, angle, side="right") - 1, 0, len(self.alpha) - 2)
        step = self.alpha[node + 1] - self.alpha[node]
        t = ((angle - self.alpha[node]) / step)[:, None]
        before, behind = self.rows[lower, node], self.rows[lower, node + 1]
        if len(self.log_reynolds) > 1:
            share = weight[:, None]
            before += share * (self.rows[lower + 1, node] - before)
            behind += share * (self.rows[lower + 1, node + 1] - behind)
        first, start = before[:, :5], before[:, 5:] * step[:, None]
        rise, end = behind[:, :5] - first, behind[:, 5:] * step[:, None]
        bend, twist = 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise
        values = first + t * (start + t * (bend + t * twist))
        slopes = (start + t * (2.0 * bend + 3.0 * t * twist)) / step[:, None]
        return values.T, slopes.T

"""How far a tip can turn from the flat before it would have to pass through a fixed surface.

A tip may lie clear of everything at a fold that it cannot reach: a tip longer than the gap,
folded under its own wing, has passed through the other one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.frames import rotation_about
from vlm.lattice.contact import CONTACT
from vlm.lattice.distances import point_triangle_distances
from vlm.lattice.outlines import outline, outlines_cross, outlines_touch, pulled_in, triangles
from vlm.lattice.patches import HingeLine, Patch

STEP_RAD = float(np.radians(3.0))
HALVINGS = 16


@dataclass(frozen=True)
class _Turning:
    """A tip's outlines, turned until they meet surfaces near it."""

    tables: Sequence[Floats]
    near: Sequence[tuple[str, Floats]]
    hinge: HingeLine
    tolerance: float

    def crossed(self, angle: float) -> str | None:
        """What the tip, its end pulled in a little, crosses at an angle."""
        for table in self._turned(angle):
            short = pulled_in(table, 3.0 * self.tolerance, outboard=True)
            for wing, other in self.near:
                if outlines_cross(short, other):
                    return wing
        return None

    def touches(self, angle: float) -> bool:
        """Whether the whole tip touches anything at an angle."""
        whole = [
            pulled_in(table, 3.0 * self.tolerance, outboard=False) for table in self._turned(angle)
        ]
        return any(
            outlines_touch(table, other, self.tolerance)
            for table in whole
            for _, other in self.near
        )

    def _turned(self, angle: float) -> list[Floats]:
        turn = rotation_about(self.hinge.axis, angle)
        return [(table - self.hinge.point) @ turn.T + self.hinge.point for table in self.tables]


@dataclass(frozen=True)
class Stop:
    """Where a tip that turns one way would have to pass through a fixed surface.

    Attributes
    ----------
    beyond : an angle at which it is inside; short of it the tip's end may come to lie along the
        other's end, which is no crossing [rad]
    wing : what it crosses, in words
    turning : the tip and what is near it
    """

    beyond: float
    wing: str
    turning: _Turning

    @cached_property
    def contact(self) -> float:
        """The angle at which they first touch [rad]."""
        step = np.copysign(STEP_RAD, self.beyond)
        met = self.beyond
        while abs(met) > STEP_RAD and self.turning.touches(met - step):
            met = float(met - step)
        clear = float(met - step)
        for _ in range(HALVINGS):
            middle = 0.5 * (clear + met)
            if self.turning.touches(middle):
                met = middle
            else:
                clear = middle
        return met


def stop_of(
    tip: Sequence[Patch], others: Sequence[Patch], hinge: HingeLine, first: float, sign: float
) -> Stop | None:
    """The stop of a tip that turns one way; None where nothing is in its way.

    Parameters
    ----------
    tip : flat patches of the tip
    others : fixed patches but those of its own half wing
    hinge : the line it turns about
    first : chord fraction of the first vortex row
    sign : 1 up, -1 down
    """
    tolerance = CONTACT * max(float(patch.chord.max()) for patch in tip)
    tables = [outline(patch, first) for patch in tip]
    across = np.eye(3) - np.outer(hinge.axis, hinge.axis)
    reach = max(float(np.linalg.norm((t - hinge.point) @ across, axis=-1).max()) for t in tables)
    near = [
        (patch.label, outline(patch, first))
        for patch in others
        if _distance_from(hinge.point, across, outline(patch, first)) < reach - tolerance
    ]
    return _first_stop(_Turning(tables, near, hinge, tolerance), sign) if near else None


def _distance_from(point: Floats, across: Floats, table: Floats) -> float:
    """Least distance of a surface from a line, seen along the line [m]."""
    faces = (triangles(table) - point) @ across
    return float(point_triangle_distances(np.zeros((1, 3)), faces).min())


def _first_stop(turning: _Turning, sign: float) -> Stop | None:
    for angle in sign * np.arange(0.0, np.pi, STEP_RAD):
        wing = turning.crossed(float(angle))
        if wing is not None:
            return Stop(float(angle), wing, turning) if angle != 0.0 else None
    return None

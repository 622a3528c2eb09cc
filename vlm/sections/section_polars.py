"""From a section's description to its :class:`~vlm.sections.polar.Polar`.

Below stall the section is what the file says. Past stall it goes over, within ``stall_width_deg``
and with two smooth derivatives, to the relations of :mod:`vlm.sections.post_stall`. A table is kept
as it is up to its last angle.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from vlm.constants import Floats
from vlm.description.section_table import SectionCurve, section_curves
from vlm.description.sections import Section
from vlm.errors import InputRefused
from vlm.sections.polar import Polar
from vlm.sections.post_stall import plate_drag, plate_moment, smooth_step, stalled_lift

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

Curves = Callable[[Floats], Floats]
"""Five coefficients over angles of attack, shape (5, angles); see :class:`Polar`."""

DIFFERENCE = 1e-6
FINE = np.radians(np.arange(-60.0, 60.01, 0.25))
COARSE = np.radians(np.arange(-180.0, 180.01, 3.0))
LEAST_STALL = np.radians(3.0)
ALL_ROUND = np.radians(175.0)


def section_polar(
    section: Section,
    normal: float,
    folder: Path | None = None,
    lift_scale: float = 1.0,
    normal_scale: float = 1.0,
) -> Polar:
    """Polar of a section in the form "table" or "parametric".

    Parameters
    ----------
    section : the description
    normal : normal force coefficient at 90 degrees, unless the section gives its own [1]
    folder : where a table's path starts
    lift_scale : factor on greatest and least lift, for studies of uncertainty. A parametric section
        keeps its slope and its drag at given lift; a table is stretched about its zero-lift angle.
    normal_scale : factor on the normal force past stall, for the same
    """
    normal = normal_scale * (section.cd_normal or normal)
    if section.form == "parametric":
        return _parametric_polar(section, normal, lift_scale)
    assert section.table is not None
    width = np.radians(section.value("stall_width_deg"))
    return curves_polar(section_curves(section.table, folder), normal, width, lift_scale)


@lru_cache(maxsize=64)
def _parametric_polar(section: Section, normal: float, lift_scale: float) -> Polar:
    """Kept, as every fold of a craft asks for the same ones; what a table holds may change."""
    width = np.radians(section.value("stall_width_deg"))
    curves, stalls, corners = _parametric_curves(section, normal, width, lift_scale)
    return _sampled(
        [curves], [stalls], corners,
        log_reynolds=np.log([section.value("reynolds")]),
        exponent=section.value("reynolds_exponent"),
        known_alpha=stalls,
        known_reynolds=None,
    )  # fmt: skip


def curves_polar(
    tables: Sequence[SectionCurve], normal: float, width: float, lift_scale: float = 1.0
) -> Polar:
    """Polar of curves at one or several Reynolds numbers.

    Parameters
    ----------
    tables : in the order of their Reynolds numbers
    normal, lift_scale : as in :func:`section_polar`
    width : over which a curve goes over to the relations past stall [rad]
    """
    built = [_table_curves(table, normal, width, lift_scale) for table in tables]
    numbers = [table.reynolds or 1.0 for table in tables]
    return _sampled(
        [curves for curves, _, _ in built],
        [stalls for _, stalls, _ in built],
        np.concatenate([corners for _, _, corners in built]),
        log_reynolds=np.log(numbers),
        exponent=0.0,
        known_alpha=_covered(tables),
        known_reynolds=None if tables[0].reynolds is None else (numbers[0], numbers[-1]),
    )


def _covered(tables: Sequence[SectionCurve]) -> tuple[float, float]:
    low = max(table.alpha_deg[0] for table in tables)
    high = min(table.alpha_deg[-1] for table in tables)
    return float(np.radians(low)), float(np.radians(high))


def _sampled(
    curves: Sequence[Curves],
    stalls: Sequence[tuple[float, float]],
    corners: Floats,
    *,
    log_reynolds: Floats,
    exponent: float,
    known_alpha: tuple[float, float],
    known_reynolds: tuple[float, float] | None,
) -> Polar:
    """Values and slopes of the curves on common nodes."""
    nodes = np.unique(np.concatenate([FINE, COARSE, np.clip(corners, -np.pi, np.pi)]))
    nodes = nodes[np.concatenate([[True], np.diff(nodes) > 1e-9])]
    values = np.stack([curve(nodes) for curve in curves], axis=1)
    ahead = np.stack([curve(nodes + DIFFERENCE) for curve in curves], axis=1)
    behind = np.stack([curve(nodes - DIFFERENCE) for curve in curves], axis=1)
    return Polar(
        alpha=nodes,
        log_reynolds=np.asarray(log_reynolds, dtype=float),
        values=values,
        slopes=(ahead - behind) / (2.0 * DIFFERENCE),
        stall_high=np.array([high for _, high in stalls]),
        stall_low=np.array([low for low, _ in stalls]),
        drag_exponent=exponent,
        known_alpha=known_alpha,
        known_reynolds=known_reynolds,
    )


def _parametric_curves(
    section: Section, normal: float, width: float, lift_scale: float
) -> tuple[Curves, tuple[float, float], Floats]:
    zero, slope = np.radians(section.value("zero_lift_deg")), section.value("lift_slope_per_rad")
    assert section.cl_max is not None and section.cl_min is not None
    high = _Stall(slope, zero, section.cl_max * lift_scale, normal, width)
    low = _Stall(slope, -zero, -section.cl_min * lift_scale, normal, width)
    least, rise = section.value("cd_least"), section.value("cd_rise")
    best, moment = section.value("cl_at_least_drag"), section.value("cm_quarter_chord")

    def curves(alpha: Floats) -> Floats:
        apart = high.separation(alpha) + low.separation(-alpha)
        past = np.where(alpha > zero, high.lift_past(alpha), -low.lift_past(-alpha))
        line = slope * (alpha - zero)
        attached_drag = least + rise * (line - best) ** 2
        lift = (1.0 - apart) * line + apart * past
        friction = (1.0 - apart) * attached_drag + apart * least
        pressure = apart * plate_drag(alpha, normal)
        force = past * np.cos(alpha) + (least + plate_drag(alpha, normal)) * np.sin(alpha)
        turning = (1.0 - apart) * moment + apart * plate_moment(alpha, force)
        return np.stack([lift, friction, pressure, turning, apart])

    return curves, (-low.angle, high.angle), np.concatenate([high.edges, -low.edges])


class _Stall:
    """One side of a parametric section, mirrored so that lift is positive.

    Around the angle where the straight line would reach the highest lift it gives way to the
    stalled curve, which starts so far below that the highest lift on the way is the stated one.
    """

    def __init__(
        self, slope: float, zero: float, highest: float, normal: float, width: float
    ) -> None:
        self.slope, self.zero, self.normal, self.width = slope, zero, normal, width
        self.centre = float(max(zero + highest / slope, LEAST_STALL))
        self.start = highest
        self.start = self._share() * highest
        self.angle = self._peak(self.start)[0]

    def _share(self) -> float:
        """Start of the stalled curve over the highest lift, so that this is reached and no more.

        Raises
        ------
        InputRefused : no start does that
        """
        from scipy.optimize import brentq

        def excess(share: float) -> float:
            return self._peak(share * self.start)[1] - self.start

        try:
            return float(brentq(excess, 0.02, 1.5, xtol=1e-12))
        except ValueError:
            raise InputRefused(
                f"a parametric section has no stall with a highest lift coefficient of"
                f" {self.start:.4g} (cl_max, or -cl_min), a slope of {self.slope:g} per radian and"
                f" a stall_width_deg of {np.degrees(self.width):g}: the straight line reaches that"
                f" lift at {np.degrees(self.zero + self.start / self.slope):.4g} degrees"
            ) from None

    @property
    def edges(self) -> Floats:
        """Angles at which the flow starts and ends to separate."""
        return self.centre + 0.5 * self.width * np.array([-1.0, 1.0])

    def separation(self, alpha: Floats) -> Floats:
        """Separated part at angles of attack."""
        return smooth_step((alpha - self.centre) / self.width + 0.5)

    def lift_past(self, alpha: Floats, start: float | None = None) -> Floats:
        """Lift of the stalled curve, which is level before its start: it would rise steeply."""
        beyond = (alpha - self.centre) / self.width
        bent = 0.5 * (np.clip(beyond, -0.5, 0.5) + 0.5) ** 2
        held = self.centre + self.width * np.where(beyond > 0.5, beyond, bent)
        return stalled_lift(held, self.centre, start or self.start, self.normal)

    def _peak(self, start: float) -> tuple[float, float]:
        """Angle and size of the highest lift where the stalled curve starts from ``start``."""
        t = np.linspace(-0.5, 0.5, 401)
        alpha = self.centre + self.width * t
        apart = smooth_step(t + 0.5)
        line = self.slope * (alpha - self.zero)
        lift = line + apart * (self.lift_past(alpha, start) - line)
        top = int(np.argmax(lift))
        if not 0 < top < len(t) - 1:
            return float(alpha[top]), float(lift[top])
        before, at, after = lift[top - 1 : top + 2]
        shift = 0.5 * (before - after) / (before - 2.0 * at + after)
        step = float(alpha[1] - alpha[0])
        return float(alpha[top] + shift * step), float(at - 0.25 * (before - after) * shift)


def _table_curves(
    table: SectionCurve, normal: float, width: float, lift_scale: float
) -> tuple[Curves, tuple[float, float], Floats]:
    from scipy.interpolate import PchipInterpolator

    angles = np.radians(table.alpha_deg)
    columns = np.array([table.cl, table.cd, table.cm])
    zero = _zero_lift(angles, columns[0])
    angles = zero + lift_scale * (angles - zero)
    columns[0] *= lift_scale
    splines = [PchipInterpolator(angles, column) for column in columns]
    top, bottom = int(np.argmax(columns[0])), int(np.argmin(columns[0]))
    stalls = (float(angles[bottom]), float(angles[top]))
    whole = angles[0] <= -ALL_ROUND and angles[-1] >= ALL_ROUND
    least = float(columns[1].min())
    starts = [_end_of(angles, splines[0], side) for side in (-1.0, 1.0)]

    def curves(alpha: Floats) -> Floats:
        inside = np.clip(alpha, angles[0], angles[-1])
        beyond = alpha - inside
        known = [s(inside) + s.derivative()(inside) * beyond for s in splines]
        past_end = 0.0 * alpha if whole else smooth_step(np.abs(beyond) / width)
        past = np.where(
            alpha > zero,
            stalled_lift(alpha, *starts[1], normal),
            -stalled_lift(-alpha, *starts[0], normal),
        )
        drag = least + plate_drag(alpha, normal)
        force = past * np.cos(alpha) + drag * np.sin(alpha)
        far = [past, drag, plate_moment(alpha, force)]
        lift, cd, cm = (
            (1.0 - past_end) * k + past_end * f for k, f in zip(known, far, strict=True)
        )
        apart = smooth_step((alpha - stalls[1]) / width + 0.5)
        apart = apart + smooth_step((stalls[0] - alpha) / width + 0.5)
        return np.stack([lift, np.maximum(cd, 0.0), 0.0 * alpha, cm, np.minimum(apart, 1.0)])

    ends = np.array([angles[0] - width, angles[-1] + width])
    turns = [s + 0.5 * width * side for s in stalls for side in (-1.0, 1.0)]
    return curves, stalls, np.concatenate([angles, ends, turns])


def _zero_lift(angles: Floats, lift: Floats) -> float:
    """The angle without lift that lies nearest to zero."""
    crossings = np.flatnonzero(np.diff(np.sign(lift)) != 0)
    if len(crossings) == 0:
        return 0.0
    roots = angles[crossings] - lift[crossings] * (
        np.diff(angles)[crossings] / np.diff(lift)[crossings]
    )
    return float(roots[np.argmin(np.abs(roots))])


def _end_of(angles: Floats, lift: "PchipInterpolator", side: float) -> tuple[float, float]:
    """Where a table ends on one side, mirrored to positive angle and lift."""
    end = angles[-1] if side > 0.0 else angles[0]
    angle = float(np.clip(side * end, LEAST_STALL, np.radians(80.0)))
    return angle, float(side * lift(np.clip(end, angles[0], angles[-1])))

"""The section that blades have where a file names none: a cambered one at low Reynolds numbers.

Its few numbers were chosen so that blade elements agree with wind-tunnel tests of four research
propellers (R. W. Deters, G. K. Ananda, M. S. Selig, Reynolds Number Effects on the Performance of
Small-Scale Propellers, AIAA 2014-2151), at Reynolds numbers from 15 000 to 120 000. They are those
of no single aerofoil. With x the Reynolds number over 60 000,

    c_l = a x^0.04 (alpha - alpha_0),   alpha_0 rises below x = 1,   c_d ~ x^-m
"""

from functools import cache

import numpy as np

from vlm.constants import Floats
from vlm.description.section_table import SectionCurve
from vlm.sections.polar import Polar
from vlm.sections.post_stall import plate_drag, plate_lift, smooth_step
from vlm.sections.section_polars import curves_polar

REFERENCE = 60_000.0
NUMBERS = (1e4, 2e4, 4e4, 6e4, 1e5, 2e5, 4e5)
ANGLES_DEG = np.arange(-30.0, 40.01, 0.5)
ZERO_LIFT_DEG = -3.0
ZERO_LIFT_SHIFT_DEG = 0.3
SLOPE, SLOPE_EXPONENT = 5.28, 0.037
GREATEST, GREATEST_EXPONENT = 1.32, 0.007
LEAST = 0.7
PAST_STALL = 0.77
WIDTH = np.radians(6.0)
DRAG, DRAG_EXPONENT = 0.0286, 0.446
RISE, RISE_AT, STEEP_RISE = 0.0014, 0.25, 0.134
NORMAL = 1.8


@cache
def low_reynolds_polar() -> Polar:
    """Polar of the section that blades have unless the file names one."""
    return curves_polar([section_curve(number) for number in NUMBERS], NORMAL, WIDTH)


def section_curve(reynolds: float) -> SectionCurve:
    """Its curve at one Reynolds number."""
    alpha = np.radians(ANGLES_DEG)
    lift, drag = _coefficients(alpha, reynolds / REFERENCE)
    return SectionCurve(
        reynolds, tuple(ANGLES_DEG), tuple(lift), tuple(drag), tuple(np.zeros(len(alpha)))
    )


def _coefficients(alpha: Floats, ratio: float) -> tuple[Floats, Floats]:
    zero = np.radians(ZERO_LIFT_DEG - ZERO_LIFT_SHIFT_DEG * min(np.log(ratio), 0.0))
    slope = SLOPE * ratio**SLOPE_EXPONENT
    top = GREATEST * ratio**GREATEST_EXPONENT
    line = slope * (alpha - zero)
    above = smooth_step((alpha - zero - top / slope) / WIDTH + 0.5)
    below = smooth_step((zero - LEAST / slope - alpha) / WIDTH + 0.5)
    past = np.maximum(PAST_STALL * top * np.cos(alpha), plate_lift(alpha, NORMAL))
    under = np.minimum(-PAST_STALL * LEAST * np.cos(alpha), plate_lift(alpha, NORMAL))
    lift = (1.0 - above - below) * line + above * past + below * under
    apart = above + below
    rise = RISE * (line - RISE_AT) ** 2 + STEEP_RISE * (line - RISE_AT) ** 4
    drag = (DRAG + rise * (1.0 - apart)) * ratio**-DRAG_EXPONENT
    return lift, drag + apart * plate_drag(alpha, NORMAL)

"""The section that blades have where a file names none: a cambered one at low Reynolds numbers.

Its few numbers were chosen so that blade elements agree with wind-tunnel tests of four research
propellers (R. W. Deters, G. K. Ananda, M. S. Selig, Reynolds Number Effects on the Performance of
Small-Scale Propellers, AIAA 2014-2151), at Reynolds numbers from 15 000 to 120 000. They are those
of no single aerofoil. Chosen on three of the propellers only, such numbers meet the fourth about as
well (tests/power/test_rotor_cross_validation.py). With x the Reynolds number over 60 000,

    c_l = a x^0.04 (alpha - alpha_0),   alpha_0 rises below x = 1,   c_d ~ x^-m
"""

from dataclasses import dataclass
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
RISE_AT = 0.25
LEAST = 0.7
WIDTH = np.radians(6.0)
NORMAL = 1.8


@dataclass(frozen=True)
class BladeSection:
    """The numbers of the section.

    Attributes
    ----------
    zero_lift_deg, zero_lift_shift_deg : alpha_0 at x = 1, and its rise with -ln x [deg]
    slope, slope_exponent : lift slope at x = 1 [1/rad], and its exponent of x
    highest, highest_exponent : lift, over that at alpha_0, at which it stalls
    past_stall : lift past stall over the highest [1]
    drag, drag_exponent : least drag at x = 1, and its exponent of 1 / x
    rise, steep_rise : factors of the square and the fourth power of the lift over 0.25
    """

    zero_lift_deg: float = -3.0
    zero_lift_shift_deg: float = 0.3
    slope: float = 5.28
    slope_exponent: float = 0.037
    highest: float = 1.32
    highest_exponent: float = 0.007
    past_stall: float = 0.77
    drag: float = 0.0286
    drag_exponent: float = 0.446
    rise: float = 0.0014
    steep_rise: float = 0.134

    def polar(self) -> Polar:
        """Its polar at all Reynolds numbers of :data:`NUMBERS`."""
        return curves_polar([self.curve(number) for number in NUMBERS], NORMAL, WIDTH)

    def curve(self, reynolds: float) -> SectionCurve:
        """Its curve at one Reynolds number."""
        alpha = np.radians(ANGLES_DEG)
        lift, drag = self._coefficients(alpha, reynolds / REFERENCE)
        return SectionCurve(
            reynolds, tuple(ANGLES_DEG), tuple(lift), tuple(drag), tuple(np.zeros(len(alpha)))
        )

    def _coefficients(self, alpha: Floats, ratio: float) -> tuple[Floats, Floats]:
        zero = np.radians(self.zero_lift_deg - self.zero_lift_shift_deg * min(np.log(ratio), 0.0))
        slope = self.slope * ratio**self.slope_exponent
        top = self.highest * ratio**self.highest_exponent
        line = slope * (alpha - zero)
        above = smooth_step((alpha - zero - top / slope) / WIDTH + 0.5)
        below = smooth_step((zero - LEAST / slope - alpha) / WIDTH + 0.5)
        past = np.maximum(self.past_stall * top * np.cos(alpha), plate_lift(alpha, NORMAL))
        under = np.minimum(-self.past_stall * LEAST * np.cos(alpha), plate_lift(alpha, NORMAL))
        lift = (1.0 - above - below) * line + above * past + below * under
        apart = above + below
        rise = self.rise * (line - RISE_AT) ** 2 + self.steep_rise * (line - RISE_AT) ** 4
        drag = (self.drag + rise * (1.0 - apart)) * ratio**-self.drag_exponent
        return lift, drag + apart * plate_drag(alpha, NORMAL)


@cache
def low_reynolds_polar() -> Polar:
    """Polar of the section that blades have unless the file names one."""
    return BladeSection().polar()

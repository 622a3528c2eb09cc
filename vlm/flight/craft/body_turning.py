"""Volume of a body that may turn a sign of static stability, by its own moment in the stream.

A body at an angle to the stream meets a couple, the same about every point, that turns its nose
farther away (M. M. Munk, NACA Report 184, 1924, from memory):

    dM/dalpha = -dN/dbeta = 2 q V (k_2 - k_1)                                             (1)

with V its volume, and k_1, k_2 the mass of air that moves with it along and across itself, over
that of the air in its place. For a round body k_2 - k_1 is less than 1, and the nearer to it the
more slender it is: 0.78 at four diameters of length, 0.94 at ten. So the smallest round body that
turns a sign is a slender one, and that is what is reported. One twice as tall as wide has about
twice the moment in yaw. The air that the wings turn is left out, and so is what a body's wake
changes.
"""

from vlm.lattice.reference import ReferenceFrame
from vlm.verdicts import known_sign

MOMENT = 2.0
"""Slope of the couple over dynamic pressure and volume, the body round and slender [1 per rad]."""


def volume_in_yaw(slope: float, half_width: float, reference: ReferenceFrame) -> float | None:
    """Least volume of a round body that may turn a stable Cn_beta, by equation (1) [m^3].

    Parameters
    ----------
    slope, half_width : Cn_beta of the craft without it [1 per rad]

    Returns
    -------
    that which takes Cn_beta to its half-width; None where the sign is not known to be stable
    """
    if known_sign(slope, half_width) != 1:
        return None
    return (slope - half_width) * reference.area * reference.span / MOMENT


def volume_in_pitch(
    margin: float, half_width: float, lift_slope: float, reference: ReferenceFrame
) -> float | None:
    """The same of a static margin [chords]; ``lift_slope`` is CL_alpha [1 per rad]."""
    if known_sign(margin, half_width) != 1:
        return None
    return (margin - half_width) * lift_slope * reference.area * reference.chord / MOMENT

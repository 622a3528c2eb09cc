"""Force of a rotor across its axis when it moves across it: it acts like a fin of its blades.

A blade's force against its turning, per length, hangs on the speeds U ahead and w through the disc,

    f(U) = rho c / 2 W (c_l w + c_d U),  c_l = a (theta - atan(w / U)) = a alpha,  W^2 = U^2 + w^2

A speed v across the axis makes U = Omega r + v sin psi. The force against v on all blades is the
mean of f sin psi over the azimuth, with the drag along the blade c_d W v cos^2 psi:

    s = B/2 int df/dU dr,  df/dU = rho c / 2 [a w (alpha U + w) + c_d (U^2 + 2 W^2)] / W       (1)

on a chord B c = pi R sigma, with w = V + v_i the same all over the disc and tan theta = P / 2 pi r.
In cruise the lift of the blades' side area counts most, as H. S. Ribner has it (NACA Report 820,
1945, from memory). On the four research propellers of Deters, Ananda and Selig (2014) (1) is within
25 % of blade elements from half the advance ratio without thrust on.
"""

from dataclasses import dataclass

import numpy as np

from vlm.description.power import DEFAULTS
from vlm.power.element_rotor import ElementModel
from vlm.power.momentum import DiscFlow, hover_velocity, induced_velocity
from vlm.power.rotor import FULL_STALL, BladeModel, Model, TableModel
from vlm.power.rotor_state import RotorState

ROOT = 0.15
"""Inner end of the blades over the radius, where tables of small propellers begin; hub and shank
within have no section [1]."""
SPREAD = 0.5
"""Half-width over the force, an estimate: (1) differs from blade elements by up to a quarter, and
the air that gives way where a blade gains lift takes off about a fifth [1]."""
ACROSS = 0.03
"""Speed across the axis over that of the tips at which blade elements are read [1]."""
TOLD = 0.65
"""Side force by the blade area that measured thrust tells, over that by blade elements: 0.45 to
0.87 on the four research propellers, whose blades lift less than :func:`_blades_of` has it [1]."""
RADIUS, WEIGHT = (
    ROOT + 0.5 * (1.0 - ROOT) * (1.0 + np.polynomial.legendre.leggauss(24)[0]),
    0.5 * (1.0 - ROOT) * np.polynomial.legendre.leggauss(24)[1],
)


def side_force_slope(model: Model, state: RotorState, density: float) -> float:
    """Force across the axis over the speed across it, opposed to it [N s/m].

    By blade elements where their table is known, else by equation (1).

    Parameters
    ----------
    state : of one rotor, its fields of shape (1,)
    """
    flow = state.flow
    if isinstance(model, ElementModel):
        tips = state.speed * model.radius
        across = DiscFlow(flow.thrust, flow.axial, ACROSS * tips, flow.hover, flow.induced)
        push = model.coefficients(across, tips, density)[2] * tips
        return float(push[0]) * density * model.radius**2 / ACROSS
    blades = _blades_of(model)
    tip = float(state.speed[0]) * blades.radius
    through = float(flow.axial[0] + flow.induced[0])
    size = density * np.pi * blades.radius**2 * blades.solidity
    lift = float(np.clip(6.0 * flow.thrust[0] / (size * tip**2), 0.0, FULL_STALL))
    drag: float = blades.drag + blades.rise * lift**4
    return 0.25 * size * _fin(blades.slope, drag, blades.pitch, tip, through)


@dataclass(frozen=True)
class _Blades:
    """Radius [m], solidity [1], pitch over 2 pi R [1], lift slope [1/rad], drag, its rise [1]."""

    radius: float
    solidity: float
    pitch: float
    slope: float
    drag: float
    rise: float


def _blades_of(model: BladeModel | TableModel) -> _Blades:
    """Blades of a model; those of measured coefficients by the thrust that they tell.

    They have the default lift slope a and drag, the pitch J_0 D at whose advance the thrust
    vanishes, and the solidity that gives the thrust at half of J_0 by momentum and blade theory,
    T = rho A sigma a / 4 Omega R (J_0 - J_0 / 2 - v / n D) n D.
    """
    if isinstance(model, BladeModel):
        return _Blades(
            model.radius, model.solidity, model.tip_angle, model.slope, model.drag, model.rise
        )
    slope, drag, rise = (
        DEFAULTS[f"blade_{name}"] for name in ("lift_slope_per_rad", "drag", "drag_rise")
    )
    none = model.last + float(model.thrust(model.last)) / -model.end_slope
    # In units of density, turns a second and diameter.
    thrust, area = float(model.thrust_coefficient(np.array(0.5 * none))), 0.25 * np.pi
    induced = float(induced_velocity(hover_velocity(thrust, 1.0, area), 0.5 * none, 0.0))
    solidity = 4.0 * thrust / (TOLD * area * slope * np.pi * (0.5 * none - induced))
    return _Blades(0.5 * model.diameter, solidity, none / np.pi, slope, drag, rise)


def _fin(slope: float, drag: float, pitch: float, tip: float, through: float) -> float:
    """Equation (1) over rho A sigma / 4 [m/s]."""
    ahead = tip * RADIUS
    speed = np.hypot(ahead, through)
    alpha = np.arctan2(pitch, RADIUS) - np.arctan2(through, ahead)
    lift = slope * through * (alpha * ahead + through) / speed
    return float(WEIGHT @ (lift + drag * (ahead**2 + 2.0 * speed**2) / speed))

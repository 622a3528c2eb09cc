"""A rotor by blade elements: its coefficients tabulated once, then read at any thrust and wind."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.blade_table import blade_stations
from vlm.description.power import Rotor
from vlm.description.section_table import section_curves
from vlm.errors import InputRefused
from vlm.power.blade_section import NORMAL, WIDTH, low_reynolds_polar
from vlm.power.elements import Blades, blades_at, rotor_coefficients
from vlm.power.momentum import DiscFlow
from vlm.power.rotor_state import LEAST_SPEED, RotorState
from vlm.sections.polar import Polar
from vlm.sections.section_polars import curves_polar

if TYPE_CHECKING:
    from scipy.interpolate import NdBSpline

DESCENDING = -0.15
"""Lowest speed along the axis over that of the tips that is tabulated [1]."""
FASTEST = 0.6
"""Highest speed across the axis over that of the tips that is tabulated [1]."""
DRIVEN = 1.7
"""Highest speed along the axis that is tabulated, over that without thrust [1]."""
ALONG_NODES = 26
ACROSS_NODES = np.array([0.0, 0.03, 0.07, 0.12, 0.2, 0.33, FASTEST])
REYNOLDS_NODES = np.log([3e4, 8e4, 2e5, 5e5, 1.5e6])
"""Of the speed of the tips and the radius, as logarithms [1]."""
CALIBRATED_AT = 3e5
MOST_TURN = np.radians(10.0)
MOST_STEPS = 60
CLOSE = 1e-14
"""Thrust left over, of the disc's coefficient [1]."""


def blades_of(rotor: Rotor, folder: Path | None = None, polar: Polar | None = None) -> Blades:
    """Blades of a rotor with form "elements", turned to its advance ratio without thrust if given.

    Parameters
    ----------
    polar : of its section; the file's, or the one for low Reynolds numbers, if None

    Raises
    ------
    InputRefused : no turn within 10 degrees gives that advance ratio
    """
    assert rotor.blade_table is not None
    stations = blade_stations(rotor.blade_table, folder)
    polar = polar or _polar_of(rotor, folder)
    blades = blades_at(
        np.array(stations.radius), np.array(stations.chord), np.radians(stations.angle_deg),
        rotor.blades, polar,
    )  # fmt: skip
    if rotor.no_thrust_advance_ratio is None:
        return blades
    return blades.turned(_turn(blades, rotor.no_thrust_advance_ratio))


def _polar_of(rotor: Rotor, folder: Path | None) -> Polar:
    if rotor.section_table is None:
        return low_reynolds_polar()
    return curves_polar(section_curves(rotor.section_table, folder), NORMAL, WIDTH)


def _turn(blades: Blades, advance_ratio: float) -> float:
    """Turn of all blades that leaves no thrust at an advance ratio [rad]."""
    from scipy.optimize import brentq

    along = np.array([advance_ratio / np.pi])

    def thrust(turn: float) -> float:
        found = rotor_coefficients(
            blades.turned(turn), along, np.zeros(1), np.array([CALIBRATED_AT])
        )
        return float(found.thrust[0])

    try:
        return float(brentq(thrust, -MOST_TURN, MOST_TURN, xtol=1e-5))
    except ValueError:
        raise InputRefused(
            f"no_thrust_advance_ratio = {advance_ratio:g}; no turn of the blades within"
            f" {np.degrees(MOST_TURN):.0f} degrees gives it: check beta_deg of the blade table"
        ) from None


class ElementModel:
    """Thrust and power by blade elements, from a table of coefficients made once for a rotor.

    The table runs over the speeds along and across the axis and the Reynolds number, all of the
    tips. Power holds that of the force in the disc's plane, as :class:`BladeModel` does.
    """

    def __init__(self, rotor: Rotor, folder: Path | None = None) -> None:
        self.radius = rotor.radius_m
        air = standard_air()
        self.viscosity = air.kinematic_viscosity_m2_s * air.density_kg_m3
        blades = blades_of(rotor, folder)
        self.fastest, self.table = _tabulated(blades)

    def coefficients(self, flow: DiscFlow, tip: Floats, density: float) -> Floats:
        """Thrust, torque and drag of the disc over rho (Omega R)^2 R^2 (R): (3, states)."""
        reynolds = np.log(np.maximum(density * tip * self.radius / self.viscosity, 1.0))
        points = np.stack(
            [
                np.clip(flow.axial / tip, DESCENDING, self.fastest),
                np.clip(flow.edgewise / tip, 0.0, FASTEST),
                np.clip(reynolds, REYNOLDS_NODES[0], REYNOLDS_NODES[-1]),
            ],
            axis=-1,
        )
        return np.moveaxis(np.asarray(self.table(points)), -1, 0)

    def state(self, flow: DiscFlow, density: float) -> RotorState:
        """Speed and power for the thrust of a flow."""
        scale = density * self.radius**2
        need = flow.thrust / scale
        slowest = np.maximum.reduce(
            [flow.axial / self.fastest, flow.edgewise / FASTEST, flow.axial / DESCENDING]
        )
        low = np.maximum(slowest, LEAST_SPEED)

        def excess(tip: Floats) -> Floats:
            return np.asarray(self.coefficients(flow, tip, density)[0] * tip**2 - need)

        tip, possible = _rising_root(excess, low, flow.thrust)
        _, torque, drag = self.coefficients(flow, tip, density)
        moment = torque * scale * tip**2 * self.radius
        power = moment * tip / self.radius + drag * scale * tip**2 * flow.edgewise
        speed = tip / self.radius
        return RotorState(flow, speed, power, power / speed, possible)


def _rising_root(
    excess: Callable[[Floats], Floats], low: Floats, thrust: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Tip speeds at which ``excess`` passes zero from below, and where there is one.

    By secants within brackets (the Illinois rule), which need no slopes.
    """
    below = excess(low)
    possible = below <= 0.0
    high, step = low.copy(), 2.0 * low + np.sqrt(np.abs(thrust)) + 1.0
    above = below.copy()
    for _ in range(MOST_STEPS):
        short = (above < 0.0) & possible
        if not short.any():
            break
        high = np.where(short, low + step, high)
        step = 2.0 * step
        above = np.where(short, excess(high), above)
    a, b, at_a, at_b = low.copy(), high.copy(), below, above
    for _ in range(MOST_STEPS):
        gap = at_b - at_a
        new = np.where(gap > 0.0, b - at_b * (b - a) / np.where(gap > 0.0, gap, 1.0), b)
        found = excess(new)
        right = found >= 0.0
        # The end that stays has its value halved, so that it moves in time.
        at_a = np.where(right, 0.5 * at_a, found)
        at_b = np.where(right, found, 0.5 * at_b)
        a, b = np.where(right, a, new), np.where(right, new, b)
        if np.all((np.abs(found) <= CLOSE * new**2) | ~possible):
            break
    return np.where(possible, new, low), possible


def _tabulated(blades: Blades) -> "tuple[float, NdBSpline]":
    """Highest speed along the axis, and the splines of all three coefficients."""
    from scipy.interpolate import NdBSpline, make_interp_spline

    fastest = DRIVEN * _without_thrust(blades)
    along = np.linspace(DESCENDING, fastest, ALONG_NODES)
    axes = (along, ACROSS_NODES, REYNOLDS_NODES)
    shape = tuple(len(axis) for axis in axes)
    values = np.empty((*shape, 3))
    for index, across in enumerate(ACROSS_NODES):
        first, numbers = (
            part.ravel() for part in np.meshgrid(along, REYNOLDS_NODES, indexing="ij")
        )
        found = rotor_coefficients(blades, first, np.full(len(first), across), np.exp(numbers))
        stacked = np.stack([found.thrust, found.torque, found.drag], axis=-1)
        values[:, index] = stacked.reshape(shape[0], shape[2], 3)
    knots = []
    for place, axis in enumerate(axes):
        spline = make_interp_spline(axis, np.moveaxis(values, place, 0), k=3)
        values = np.moveaxis(spline.c, 0, place)
        knots.append(spline.t)
    return fastest, NdBSpline(tuple(knots), values, 3)


def _without_thrust(blades: Blades) -> float:
    """Speed along the axis over the tips' at which the thrust vanishes [1]."""
    along = np.linspace(0.05, 1.5, 59)
    found = rotor_coefficients(blades, along, 0.0 * along, np.full(len(along), CALIBRATED_AT))
    negative = np.flatnonzero(found.thrust < 0.0)
    if len(negative) == 0 or negative[0] == 0:
        raise InputRefused(
            "blade_table: the blades give no thrust that falls to zero between advance ratios of"
            " 0.16 and 4.7; check beta_deg"
        )
    last = int(negative[0])
    share = found.thrust[last - 1] / (found.thrust[last - 1] - found.thrust[last])
    return float(along[last - 1] + share * (along[last] - along[last - 1]))


@cache
def _made(form: str, folder: Path | None) -> ElementModel:
    return ElementModel(Rotor.model_validate_json(form), folder)


def element_model(rotor: Rotor, folder: Path | None = None) -> ElementModel:
    """The model of a rotor, made once for all rotors of its blades."""
    kept = {
        "name": "any", "position_m": (0.0, 0.0, 0.0), "axis": (-1.0, 0.0, 0.0), "spin": "right",
        "thrust_max_N": None, "thrust_min_N": 0.0, "power_max_W": None,
    }  # fmt: skip
    return _made(rotor.model_copy(update=kept).model_dump_json(), folder)

"""One rotor of fixed pitch: speed, torque and shaft power for a wanted thrust.

Form "blades". With blades of constant chord and a geometric pitch P (the advance in a turn without
thrust), the blade angle at radius r is P / (2 pi r) for small angles and the thrust

    T = (pi / 4) rho a sigma R^3 Omega (Omega P / 2 pi - V_n - v)                       (P2)

with a the blades' lift slope, sigma their solidity, v the induced velocity of (P1) (blade-element
theory with uniform inflow, e.g. Leishman, sect. 3.2, for this blade angle derived). Shaft power

    P = kappa T v + T V_n + (1 + 4.65 mu^2) (rho sigma pi R / 2) Cd
        Int_0^R ((Omega r)^2 + V_n^2)^(3/2) dr,      mu = V_t / (Omega R)              (P3)

with the induced-power factor kappa and the factor of edgewise flow after Bennett and Stepniewski
(Leishman, sect. 5.4, from memory); in hover the last term is rho A (Omega R)^3 sigma Cd / 8.

Form "table": T = rho n^2 D^4 C_T(J), P = rho n^3 D^5 C_P(J), J = V_n / (n D).
"""

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from vlm.description.power import Rotor
from vlm.errors import InputRefused
from vlm.power.momentum import Floats, figure_of_merit, hover_velocity, induced_velocity

EDGEWISE = 4.65
NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
COLUMNS = ("advance_ratio", "thrust_coefficient", "power_coefficient")


@dataclass(frozen=True)
class RotorState:
    """A rotor at work.

    Attributes
    ----------
    thrust : [N]
    induced : velocity at the disc added by the rotor [m/s]
    through, across : flow through and along the disc [m/s]
    speed : angular speed [rad/s]
    torque : at the shaft [N m]
    shaft_power : [W]
    beyond : which limits are passed, in words; empty where none is
    """

    thrust: float
    induced: float
    through: float
    across: float
    speed: float
    torque: float
    shaft_power: float
    beyond: tuple[str, ...] = ()


@dataclass(frozen=True)
class RotorTable:
    """Measured coefficients over the advance ratio, monotone between the points."""

    advance: Floats
    thrust: PchipInterpolator
    power: PchipInterpolator


def disc_area(rotor: Rotor) -> float:
    """Area of the disc [m^2]."""
    return float(np.pi * rotor.radius_m**2)


def disc_flow(rotor: Rotor, wind: Floats) -> tuple[float, float]:
    """Flow through (positive as in a climb) and along the disc [m/s].

    Parameters
    ----------
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    """
    axis = np.asarray(rotor.axis, dtype=float)
    axis = axis / np.linalg.norm(axis)
    through = -float(wind @ axis)
    across = float(np.linalg.norm(wind + through * axis))
    return through, across


def rotor_state(
    rotor: Rotor, thrust: float, wind: Floats, density: float, folder: Path | None = None
) -> RotorState:
    """Speed, torque and shaft power for a thrust of at least zero.

    Parameters
    ----------
    thrust : wanted thrust [N]
    wind : velocity of the air past the craft, geometry axes, shape (3,) [m/s]
    density : [kg/m^3]
    folder : where the path of a table starts

    Raises
    ------
    InputRefused : the table cannot be read, or the thrust is negative
    """
    if thrust < 0.0:
        raise InputRefused(f"rotor {rotor.name}: a thrust of {thrust:g} N; it must not be negative")
    through, across = disc_flow(rotor, wind)
    hover = hover_velocity(thrust, density, disc_area(rotor))
    induced = float(induced_velocity(hover, through, across))
    beyond: tuple[str, ...] = ()
    if rotor.form == "table":
        speed, power, beyond = _from_table(rotor, thrust, through, density, folder)
    else:
        speed = blade_speed(rotor, thrust, through + induced, density)
        power = blade_power(rotor, thrust, through, across, induced, speed, density)
    if rotor.thrust_max_N is not None and thrust > rotor.thrust_max_N:
        beyond = (*beyond, f"thrust {thrust:.3g} N above {rotor.thrust_max_N:g} N")
    if rotor.power_max_W is not None and power > rotor.power_max_W:
        beyond = (*beyond, f"shaft power {power:.3g} W above {rotor.power_max_W:g} W")
    torque = power / speed if speed > 0.0 else 0.0
    return RotorState(thrust, induced, through, across, speed, torque, power, beyond)


def blade_speed(rotor: Rotor, thrust: float, inflow: float, density: float) -> float:
    """Angular speed that gives a thrust, the positive root of (P2) [rad/s]."""
    assert rotor.pitch_m is not None and rotor.solidity is not None
    advance = rotor.pitch_m / (2.0 * np.pi)
    slope = rotor.value("blade_lift_slope_per_rad")
    load = 4.0 * thrust / (np.pi * density * slope * rotor.solidity * rotor.radius_m**3)
    root = np.sqrt(inflow**2 + 4.0 * advance * load)
    return float(max(0.0, (inflow + root) / (2.0 * advance)))


def blade_power(
    rotor: Rotor,
    thrust: float,
    through: float,
    across: float,
    induced: float,
    speed: float,
    density: float,
) -> float:
    """Shaft power of (P3) [W]."""
    assert rotor.solidity is not None
    radius = rotor.radius_m
    stations = 0.5 * radius * (NODES + 1.0)
    cube = ((speed * stations) ** 2 + through**2) ** 1.5
    integral = 0.5 * radius * float(WEIGHTS @ cube)
    edgewise = across / (speed * radius) if speed > 0.0 else 0.0
    chord_sum = rotor.solidity * np.pi * radius
    profile = 0.5 * density * chord_sum * rotor.value("blade_drag") * integral
    profile *= 1.0 + EDGEWISE * edgewise**2
    factor = rotor.value("induced_power_factor")
    return float(thrust * through + factor * thrust * induced + profile)


def hover_merit(rotor: Rotor, thrust: float, density: float, folder: Path | None = None) -> float:
    """Figure of merit in hover [1]: small rotors reach about 0.4 to 0.65 (Bohorquez; Leishman)."""
    state = rotor_state(rotor, thrust, np.zeros(3), density, folder)
    return float(figure_of_merit(thrust, state.shaft_power, density, disc_area(rotor)))


def _from_table(
    rotor: Rotor, thrust: float, through: float, density: float, folder: Path | None
) -> tuple[float, float, tuple[str, ...]]:
    """Angular speed and power from the table, and whether its range was left."""
    assert rotor.table is not None
    table = rotor_table(rotor.table, folder)
    diameter = 2.0 * rotor.radius_m
    most = float(table.advance[-1])

    def excess(turns: float) -> float:
        advance = min(max(through, 0.0) / (turns * diameter), most)
        return density * turns**2 * diameter**4 * float(table.thrust(advance)) - thrust

    least = max(through, 0.0) / (most * diameter) + 1e-9
    greatest = max(least, 1.0)
    while excess(greatest) < 0.0:
        greatest *= 2.0
        if greatest > 1e5:
            raise InputRefused(
                f"rotor {rotor.name}: its table gives no thrust of {thrust:g} N at any speed"
            )
    turns = least if excess(least) >= 0.0 else float(brentq(excess, least, greatest, xtol=1e-10))
    advance = through / (turns * diameter) if turns > 0.0 else 0.0
    power = density * turns**3 * diameter**5 * float(table.power(min(max(advance, 0.0), most)))
    outside = advance < table.advance[0] - 1e-9 or advance >= most - 1e-9
    beyond = (f"advance ratio {advance:.3g} at the end of its table",) if outside else ()
    return 2.0 * np.pi * turns, power, beyond


@lru_cache(maxsize=16)
def rotor_table(name: str, folder: Path | None) -> RotorTable:
    """Read a table of coefficients.

    Raises
    ------
    InputRefused : it cannot be read, a column is missing, a cell is no number, or the advance
        ratios do not grow from row to row
    """
    path = (folder or Path()) / name
    try:
        with path.open(newline="", encoding="utf-8-sig") as stream:
            rows = list(csv.DictReader(stream))
    except (OSError, UnicodeDecodeError) as error:
        raise InputRefused(f"{path}: cannot be read ({error})") from None
    missing = [column for column in COLUMNS if not rows or column not in rows[0]]
    if missing:
        raise InputRefused(
            f"{path}: the column {missing[0]} is missing; needed: {', '.join(COLUMNS)}"
        )
    try:
        values = np.array([[float(row[column]) for column in COLUMNS] for row in rows])
    except (TypeError, ValueError):
        raise InputRefused(f"{path}: every cell of {', '.join(COLUMNS)} must be a number") from None
    if len(values) < 2 or not np.all(np.isfinite(values)) or np.any(np.diff(values[:, 0]) <= 0.0):
        raise InputRefused(f"{path}: advance_ratio must grow from row to row, two rows at least")
    if np.any(values[:, 2] <= 0.0):
        raise InputRefused(f"{path}: power_coefficient must be positive in every row")
    advance = values[:, 0]
    return RotorTable(
        advance, PchipInterpolator(advance, values[:, 1]), PchipInterpolator(advance, values[:, 2])
    )

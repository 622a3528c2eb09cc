"""What sections change in lift and in the lateral derivatives, about the moment point."""

from collections.abc import Mapping

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.section_change import SectionChange
from vlm.loads.coefficients import named_coefficients
from vlm.loads.state import FlightState

LATERAL = ("beta", "p", "r")
STEP = 1e-3


def section_slopes(
    craft: FoldedCraft, alpha: float, airspeed: float, density: float
) -> tuple[float, dict[str, float]]:
    """Change of CL [1], and of CY, Cl, Cn with sideslip, p_hat and r_hat, body axes [1 per rad].

    Zero without sections; NaN where strips and sections do not agree.
    """
    names = [f"{force}_{motion}" for motion in LATERAL for force in ("CY", "Cl", "Cn")]
    if craft.strips is None:
        return 0.0, dict.fromkeys(names, 0.0)
    state, change = _change(craft, alpha, airspeed, density)
    reference = craft.loads.reference
    wrench = np.where(change.agrees[:, None], change.wrench, np.nan)
    values = named_coefficients(wrench / (density * airspeed**2), state, reference)
    slopes = {
        f"{force}_{motion}": float(values[force][1 + 2 * i] - values[force][2 + 2 * i])
        / (2.0 * STEP)
        for i, motion in enumerate(LATERAL)
        for force in ("CY", "Cl", "Cn")
    }
    return float(values["CL"][0]), slopes


def section_margin(craft: FoldedCraft, alpha: float, airspeed: float, density: float) -> float:
    """Angle left to stall in the strip nearest to it, negative past it; infinite without any [rad].

    Costs nothing beside :func:`section_slopes` of the same flight.
    """
    if craft.strips is None:
        return float("inf")
    return float(_change(craft, alpha, airspeed, density)[1].margin[0])


def _change(
    craft: FoldedCraft, alpha: float, airspeed: float, density: float
) -> tuple[FlightState, SectionChange]:
    """What sections change at an angle of attack, and a step of each motion to either side."""
    assert craft.strips is not None
    steps = STEP * np.array([0, 1, -1, 0, 0, 0, 0])
    state = FlightState(
        alpha=np.full(7, alpha),
        beta=steps,
        p_hat=np.roll(steps, 2),
        r_hat=np.roll(steps, 4),
        airspeed=airspeed,
        density=density,
    )
    amounts = airspeed * state.amounts(craft.loads.reference, craft.loads.columns)
    return state, craft.strips().change(amounts, density, craft.thrusts)


def in_stability_axes(body: Mapping[str, float], alpha: float) -> dict[str, float]:
    """Lateral derivatives of body axes in stability axes, [1 per rad].

    Moments and rates turn by the angle of attack: D_s = R D_b R^T.
    """
    sine, cosine = np.sin(alpha), np.cos(alpha)
    turn: Floats = np.array([[cosine, sine], [-sine, cosine]])
    slip = turn @ np.array([body["Cl_beta"], body["Cn_beta"]])
    side = turn @ np.array([body["CY_p"], body["CY_r"]])
    rates = np.array([[body["Cl_p"], body["Cl_r"]], [body["Cn_p"], body["Cn_r"]]])
    turned = turn @ rates @ turn.T
    return {
        "CY_beta": body["CY_beta"],
        "Cl_beta": float(slip[0]),
        "Cn_beta": float(slip[1]),
        "CY_p": float(side[0]),
        "CY_r": float(side[1]),
        "Cl_p": float(turned[0, 0]),
        "Cl_r": float(turned[0, 1]),
        "Cn_p": float(turned[1, 0]),
        "Cn_r": float(turned[1, 1]),
    }

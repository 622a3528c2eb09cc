"""What the rotors' loads add to derivatives with angle of attack and sideslip, controls fixed."""

from collections.abc import Mapping, Sequence

import numpy as np

from vlm.constants import GRAVITY, Floats
from vlm.description.models import Biplane
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.rotor_rates import RotorRates, balancing_thrusts, rates_about
from vlm.lattice.reference import ReferenceFrame

Slopes = dict[str, tuple[float, float]]
"""Numbers with their half-widths, by name."""
NO_SLOPES: Slopes = dict.fromkeys(
    ("CY_beta", "Cl_beta", "Cn_beta", "CL_alpha", "Cm_alpha"), (0.0, 0.0)
)
NOT_SO_FAR = "not known, their tables end before their thrust does"


def rotor_slopes(
    craft: Biplane, folded: FoldedCraft, alpha: float, airspeed: float, density: float
) -> Slopes:
    """Derivatives of the rotors' loads about the moment point, at a fold and an angle of attack.

    Thrust holds drag, and weight along the body's x axis, as in level flight.
    """
    if not craft.rotors:
        return NO_SLOPES
    motion = folded.motion(airspeed, alpha)
    wrench, masses = folded.wrench(motion, density), folded.masses
    thrust = masses.mass * GRAVITY * float(np.sin(alpha)) - float(wrench[0])
    each = balancing_thrusts(craft, masses.centre, thrust, -float(wrench[4]))
    reference = folded.loads.reference
    rates = rates_about(craft, reference.moment_point, motion[:3], density, each)
    return slopes_of(rates, reference, airspeed, density)


def idle_slopes(
    craft: Biplane, reference: ReferenceFrame, alpha: float, airspeed: float, density: float
) -> Slopes | None:
    """The same of rotors without thrust, which is not known apart from level flight.

    Within a tenth of those in cruise, and over dynamic pressure the same at all airspeeds. None
    where the rotors' model does not reach so far.
    """
    if not craft.rotors:
        return NO_SLOPES
    velocity = airspeed * np.array([np.cos(alpha), 0.0, np.sin(alpha)])
    idle = np.zeros(len(craft.rotors))
    rates = rates_about(craft, reference.moment_point, velocity, density, idle)
    return slopes_of(rates, reference, airspeed, density) if rates.known else None


def slopes_over(each: Sequence[Slopes | None], name: str) -> Floats:
    """One of them over several states with its half-width, shape (states, 2); NaN for none."""
    return np.array([(np.nan, np.nan) if one is None else one[name] for one in each])


def slopes_of(
    rates: RotorRates, reference: ReferenceFrame, airspeed: float, density: float
) -> Slopes:
    """Derivatives with angle of attack and sideslip, body axes, from rates about the moment point.

    Returns
    -------
    "CY_beta", "Cl_beta", "Cn_beta", "CL_alpha", "Cm_alpha", each with its half-width [1 per rad]
    """
    force = 0.5 * density * airspeed * reference.area
    places = {
        "CY_beta": (1, 1, force), "Cl_beta": (3, 1, force * reference.span),
        "Cn_beta": (5, 1, force * reference.span), "CL_alpha": (2, 2, -force),
        "Cm_alpha": (4, 2, force * reference.chord),
    }  # fmt: skip
    return {
        name: (float(rates.rates[i, j] / scale), float(rates.half_width[i, j] / abs(scale)))
        for name, (i, j, scale) in places.items()
    }


def with_rotors(values: Mapping[str, float], rotors: Slopes) -> Slopes:
    """Static margin [chords], Cl_beta and Cn_beta of a craft that has rotors too [1 per rad].

    Parameters
    ----------
    values : of the craft without them: "CL_alpha", "Cm_alpha", "Cl_beta", "Cn_beta"; here and in
        ``rotors`` arrays of one shape serve too

    Returns
    -------
    each with what the rotors' part alone adds to its half-width
    """
    lift = values["CL_alpha"] + rotors["CL_alpha"][0]
    margin = -(values["Cm_alpha"] + rotors["Cm_alpha"][0]) / lift
    wide = (rotors["Cm_alpha"][1] + abs(margin) * rotors["CL_alpha"][1]) / abs(lift)
    found = {"static_margin": (margin, wide)}
    for name in ("Cl_beta", "Cn_beta"):
        found[name] = values[name] + rotors[name][0], rotors[name][1]
    return found

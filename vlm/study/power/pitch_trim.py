"""Settings of which pitch trim leaves no airspeed, and the keys behind the limits of rotors."""

from collections.abc import Iterable, Mapping

import numpy as np

from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.trim.balance import balance
from vlm.flight.trim.passed_limits import KEYS, passed_limits
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.trim_measures import OF_ROTOR

FREED = {
    "lowest thrust": "lower for rotors that brake harder",
    "highest thrust": "higher for stronger ones",
    "power": "higher for stronger ones",
    "electrical power": "higher for a stronger battery",
    "driven by the air": '"spent" or "recovered" where they may be',
}
"""By the kind of a limit, which way its key frees airspeeds, and of what craft."""


def keys_behind(limits: Iterable[str]) -> str:
    """The keys that set some limits and which way they free airspeeds, in words; may be empty.

    Parameters
    ----------
    limits : as power names them: "power of rotor left", or "lowest thrust (left, right); power"
    """
    parts = [part for text in limits for part in text.split("; ")]
    kinds = {part.partition(OF_ROTOR)[0].partition(" (")[0] for part in parts}
    return ", ".join(f"{KEYS[kind]} ({FREED[kind]})" for kind in KEYS if kind in kinds)


def pitch_trim_warnings(craft: Biplane, curves: Mapping[str, PowerCurve]) -> list[Finding]:
    """One for each setting of which pitch trim leaves no airspeed, reported where least is missing.

    The remedy was tried: the trim with the centre of gravity there is within all limits.
    """
    found = []
    for name, curve in curves.items():
        known = [p for p in curve.points if np.isfinite(p.margin) and p.speed > 0.0]
        if curve.allowed.any() or not known:
            continue
        found += _warnings(craft, name, curve, max(known, key=lambda point: point.margin))
    return found


def _warnings(craft: Biplane, name: str, curve: PowerCurve, point: PowerPoint) -> list[Finding]:
    made = curve.problem.craft
    found = balance(made, point, curve.climb_angle)
    if found is None or craft.mass is None or not found.point.is_allowed:
        return []
    place = craft.mass.body_x_moving(found.aft)
    return [Finding(
        "pitch_trim_limit",
        f"pitch trim leaves {name} no airspeed; at {point.speed:.3g} m/s, the nearest to allowed,"
        f" {passed_limits(made, point)}; pitching moment of the rotors' differences",
        abs(found.moment), None, "N m", "the trim there",
        f"move the centre of gravity {found.way} (mass.body_centre_m, x = {place:.4g}): equal"
        " thrusts balance the craft there at that airspeed, within all limits",
    )]  # fmt: skip

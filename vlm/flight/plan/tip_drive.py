"""What the drive of the tips bears, and how fast it still moves them."""

from collections.abc import Callable

import numpy as np

from vlm.constants import Floats
from vlm.description.actuator import Actuator
from vlm.description.models import Biplane
from vlm.flight.mechanism.drive_limits import slowest_fold_speed
from vlm.flight.mechanism.hinge_moments import weight_moment
from vlm.flight.trim.powered import PoweredCraft
from vlm.sides import Side, tip_body, wing_and_side


def hinge_bodies(craft: Biplane) -> tuple[str, ...]:
    """Names of the tips' bodies, as the loads name them."""
    return tuple(tip_body(wing, side) for wing in craft.tips for side in Side)


def tip_weights(made: PoweredCraft, pitch: float) -> dict[str, float]:
    """Moment of each tip's weight about its hinge, positive raising the tip [N m].

    Parameters
    ----------
    pitch : the body's angle from level [rad]
    """
    hinges, parts = made.model.lattice.hinges, made.masses.parts
    return {
        body: weight_moment(parts[body], line, pitch) if body in parts else 0.0
        for body, line in hinges.items()
    }


def slowest_rate(craft: Biplane, actuator: Actuator) -> Callable[[Floats], Floats]:
    """Speed of the slowest fold, either way, from the moments on the drive [deg/s].

    Of moments in the order of :func:`hinge_bodies`, shape (..., hinges).
    """
    linkages = {body: craft.tips[wing_and_side(body)[0]].linkage for body in hinge_bodies(craft)}

    def slowest(moments: Floats) -> Floats:
        own = {body: by * moments[..., i] for i, (body, by) in enumerate(linkages.items())}
        return np.degrees(slowest_fold_speed(actuator, own))

    return slowest

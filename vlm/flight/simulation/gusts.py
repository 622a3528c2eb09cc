"""Gusts over the whole craft at once: a step, and one minus cosine along the way flown.

One minus cosine: w = w_0 / 2 (1 - cos(pi s / H)) for 0 <= s <= 2 H, with H the gradient distance
(the form of the airworthiness rules, 14 CFR 25.341(a), from memory). A step rises to w_0 and stays.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from vlm.constants import Floats


@dataclass(frozen=True)
class Gust:
    """One gust.

    Attributes
    ----------
    direction : of the air's velocity at w_0, earth axes, shape (3,) [1]
    form : "step" or "one minus cosine"
    speed : w_0 [m/s]
    start : [s]
    rise : time from the start to w_0 [s]
    """

    direction: Floats
    form: Literal["one minus cosine", "step"]
    speed: float
    start: float
    rise: float

    def at(self, time: float) -> Floats:
        """Velocity of the air, earth axes, shape (3,) [m/s]."""
        return self.strength(time) * self.direction

    def strength(self, time: float) -> float:
        """Speed of the air along its direction [m/s]."""
        since = time - self.start
        if since <= 0.0:
            return 0.0
        if self.form == "step":
            return self.speed
        if since >= 2.0 * self.rise:
            return 0.0
        return 0.5 * self.speed * (1.0 - float(np.cos(np.pi * since / self.rise)))

    def rate_at(self, time: float) -> Floats:
        """Rate of :meth:`at`, shape (3,); none of a step, whose air would take no time [m/s^2]."""
        since = time - self.start
        if self.form == "step" or not 0.0 < since < 2.0 * self.rise:
            return np.zeros(3)
        pace = np.pi / self.rise
        return 0.5 * self.speed * pace * float(np.sin(pace * since)) * self.direction

    @property
    def instants(self) -> tuple[float, ...]:
        """Times at which it is not smooth [s]."""
        return (self.start,) if self.form == "step" else (self.start, self.start + 2.0 * self.rise)


VERTICAL: Floats = np.array([0.0, 0.0, -1.0])
"""Upward, earth axes (x north, y east, z down)."""


def gust_of(
    direction: Literal["vertical", "side"],
    form: Literal["one minus cosine", "step"],
    speed: float, start: float, gradient: float, airspeed: float,
) -> Gust:  # fmt: skip
    """A gust that a craft heading north meets at its airspeed.

    Parameters
    ----------
    direction : "vertical", positive upward, or "side", positive from starboard
    gradient : way flown from its start to its highest speed [m]
    """
    along = VERTICAL if direction == "vertical" else np.array([0.0, -1.0, 0.0])
    return Gust(along, form, speed, start, gradient / airspeed)

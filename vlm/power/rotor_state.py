"""A rotor at work: what every model of a rotor gives back."""

from dataclasses import dataclass

from numpy import bool_
from numpy.typing import NDArray

from vlm.constants import Floats
from vlm.power.momentum import DiscFlow

LEAST_SPEED = 1e-6
"""Least speed of the blade tips that a model looks at [m/s]."""


@dataclass(frozen=True)
class RotorState:
    """A rotor at work; all fields of one shape.

    Attributes
    ----------
    flow : flow through the disc
    speed : [rad/s]
    power : at the shaft, negative where the air drives the rotor [W]
    torque : at the shaft [N m]
    in_range : whether a table was not left, and speed and thrust belong together
    """

    flow: DiscFlow
    speed: Floats
    power: Floats
    torque: Floats
    in_range: NDArray[bool_]

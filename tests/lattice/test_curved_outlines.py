"""Wings with curved outlines, written as many stations: the lattice must not mind where they stand.

Munk (NACA Report 121, 1921): a flat wake's induced drag is least for the elliptic loading, with
span efficiency 1, so that no flat wing may show more. The circular plate's lift slope, 1.790002
per radian, is Jordan's (AIAA J. 11, 1973; value from memory, and from our own extrapolation).
"""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Station, Tips, Wing
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


def folded_ellipse(rows: int) -> tuple[float, float]:
    """CL and Cl_beta of a biplane whose raised lower tips end in 0.4 mm."""
    along = np.linspace(0.0, 0.5 * np.pi, 61)
    chords = np.maximum(0.2 * np.cos(along), 4e-4)
    outline = tuple(
        Station(y_m=0.3 * np.sin(t), x_m=0.3 * (0.2 - c), chord_m=c)
        for t, c in zip(along, chords, strict=True)
    )
    wing = Wing(span_m=0.7, root_chord_m=0.2, end_chord_m=0.2, incidence_deg=3.0, dihedral_deg=4.0)
    bearer = wing.model_copy(update={"tips": Tips(stations=outline)})
    craft = Biplane(
        title="A biplane with pointed tips",
        upper=wing,
        lower=bearer,
        arrangement=Arrangement(gap_m=0.5),
    )
    loads = craft_loads(
        build_lattice(craft, FoldAngles(24.3, 124.6), Grid(rows, 16)), fold_rates=False
    )
    state = FlightState(alpha=0.05, beta=0.04)
    return coefficients(loads, state).CL, derivatives(loads, state)["body"]["Cl_beta"]


@pytest.mark.parametrize("rows", [24, 40])
def test_pointed_tips_in_any_attitude_take_any_number_of_rows(rows: int) -> None:
    """More rows refine an answer: segments of a micrometre must not see themselves by rounding."""
    assert folded_ellipse(rows) == pytest.approx(folded_ellipse(8), rel=0.01)

"""The halves of a wing meet at the centreline, whatever its incidence and dihedral.

The lift slope of a vee, on the area of its panels, goes with the square of the cosine of its
dihedral (Purser & Campbell, NACA Report 823, 1945; form from memory). A slit of a fraction of a
millimetre between the halves would change it by far more. The incidence itself is worth 0.7 %.
"""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane, Station, Wing
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import derivatives
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState


def trapezoid(dihedral: float) -> Wing:
    return Wing(
        span_m=1.2, root_chord_m=0.2, end_chord_m=0.2, incidence_deg=4.0, dihedral_deg=dihedral
    )


def by_stations(dihedral: float) -> Wing:
    rise = float(np.tan(np.radians(dihedral)))
    places = [(0.0, 0.0), (0.3, 0.3 * rise), (0.6, 0.6 * rise)]
    stations = tuple(Station(y_m=y, x_m=0.0, z_m=z, chord_m=0.2) for y, z in places)
    return Wing(incidence_deg=4.0, stations=stations)


@pytest.mark.parametrize("wing_of", [trapezoid, by_stations])
def test_root_nodes_stand_on_the_plane_of_symmetry(wing_of: object) -> None:
    craft = Biplane(title="A vee", upper=wing_of(5.0))  # type: ignore[operator]
    root = build_cellule(craft, Grid(4, 8)).patches[0].nodes[:, 0]
    assert np.all(root[:, 1] == 0.0)


@pytest.mark.parametrize("wing_of", [trapezoid, by_stations])
@pytest.mark.parametrize("strips", [8, 20, 40])
def test_purser_and_campbell_lift_slope_of_a_vee_set_at_an_incidence(
    wing_of: object, strips: int
) -> None:
    slope = {}
    for dihedral in (0.0, 5.0):
        craft = Biplane(title="A vee", upper=wing_of(dihedral))  # type: ignore[operator]
        loads = craft_loads(build_lattice(craft, FoldAngles(), Grid(4, strips)), fold_rates=False)
        slope[dihedral] = derivatives(loads, FlightState())["body"]["CL_alpha"]
    cosine = np.cos(np.radians(5.0))
    on_panel_area = slope[5.0] * cosine
    assert on_panel_area / slope[0.0] == pytest.approx(cosine**2, rel=8e-3)

"""Fins with sections: the same strips as a wing's, whichever way they stand."""

from typing import Any

import numpy as np
import pytest
from core_craft import wing
from fin_craft import FAR, alone, lattice, plate, two_wings

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.sections import Section
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState
from vlm.sections.coupling import couple_strips, strip_onset
from vlm.sections.sectioned import sectioned_lattice
from vlm.sections.strip_forces import strip_forces

AIR, SPEED = standard_air(), 12.0
PLATE = Section(form="parametric", cl_max=0.9, cl_min=-0.9, lift_slope_per_rad=5.0,
                cd_least=0.015, cd_rise=0.02)  # fmt: skip
COSINE = Grid(4, 10, span_law="cosine")


def forces(craft: Biplane, state: FlightState, grid: Grid = COSINE) -> tuple[Floats, Any]:
    """Force on every patch with profile drag, shape (patches, 3) [N], and the coupled strips.

    The wake lies along the axis, so that nothing is interpolated.
    """
    found = lattice(craft, grid=grid)
    model = sectioned_lattice(craft, found, wake="craft")
    stream = SPEED * np.array(state.wind())[None]
    onset = strip_onset(model, np.broadcast_to(stream[:, None, :], (1, found.panels, 3)), AIR)
    coupled = couple_strips(model, onset)
    assert coupled.converged.all()
    by_strip = strip_forces(model, coupled, stream)
    whole = (by_strip.force + by_strip.profile)[0]
    count = len(found.patches)
    return np.array([whole[model.strips.patch == i].sum(axis=0) for i in range(count)]), coupled


@pytest.mark.parametrize("angle", [4.0, 14.0])
def test_a_fin_alone_with_a_section_is_a_wing_with_it_turned(angle: float) -> None:
    # 4 degrees: attached flow; 14 degrees: past the section's highest lift.
    turned = float(np.radians(angle))
    sections = {"plate": PLATE}
    bare = Biplane(title="Invented", upper=wing(section="plate"), sections=sections)
    upright = alone(plate(span_m=1.0, z_m=FAR, section="plate"), sections)
    lift, wings = forces(bare, FlightState(alpha=turned))
    side, fins = forces(upright, FlightState(beta=turned))
    keel = slice(10, 30)  # strips of the fin's starboard copy, after the wing's
    assert side[[1, 3]].sum(axis=0)[1] == pytest.approx(-lift.sum(axis=0)[2], rel=1e-7)
    assert side[[1, 3]].sum(axis=0)[0] == pytest.approx(lift.sum(axis=0)[0], rel=1e-6)
    highest = np.abs(fins.state.cl[0][keel]).max()
    assert highest == pytest.approx(np.abs(wings.state.cl[0]).max(), rel=1e-7)


def test_thin_sections_are_those_of_the_lattice() -> None:
    keel = plate(x_m=0.6, z_m=-0.3, span_m=0.25)
    between = plate(name="p", y_m=0.3, joined_to="lower", end_joined_to="upper")
    craft = two_wings(fins=(keel, between))
    state = FlightState(alpha=0.05, beta=0.05)
    found, _ = forces(craft, state, Grid(4, 10))
    expected = coefficients(craft_loads(lattice(craft, grid=Grid(4, 10))), state)
    pressure = 0.5 * AIR.density_kg_m3 * SPEED**2 * 0.4
    assert found.sum(axis=0)[1] / pressure == pytest.approx(expected.CY, rel=1e-8)


def test_profile_drag_of_a_keel_counts_once() -> None:
    # A plate along the stream: drag is the section's least, on one area.
    keel = plate(x_m=0.6, z_m=-0.3, span_m=0.25, section="plate")
    craft = two_wings(fins=(keel,), sections={"plate": PLATE})
    found, _ = forces(craft, FlightState(), Grid(3, 10))
    own = [i for i, p in enumerate(lattice(craft, grid=Grid(3, 10)).patches) if p.on_plane]
    drag = 0.5 * AIR.density_kg_m3 * SPEED**2 * 0.015 * 0.2 * 0.25
    assert found[own].sum(axis=0)[0] == pytest.approx(drag, rel=1e-9)

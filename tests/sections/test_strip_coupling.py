"""Strips of a lattice in agreement with their sections, from attached flow to 90 degrees."""

from typing import Any

import numpy as np
import pytest

from vlm.air import standard_air
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState
from vlm.sections import coupling
from vlm.sections.coupling import CoupledStrips, couple_strips, strip_onset
from vlm.sections.post_stall import normal_force_of
from vlm.sections.sectioned import SectionedLattice, sectioned_lattice
from vlm.sections.strip_forces import StripForces, strip_forces

AIR = standard_air()
SPEED = 12.0
GRID = Grid(4, 10)
SECTION = {
    "form": "parametric", "cl_max": 1.15, "cl_min": -0.8, "zero_lift_deg": -2.0,
    "lift_slope_per_rad": 5.9, "cd_least": 0.014, "cd_rise": 0.012, "cl_at_least_drag": 0.2,
    "cm_quarter_chord": -0.05, "reynolds_exponent": 0.3,
}  # fmt: skip


def with_section(craft: Biplane, section: dict[str, Any] | None) -> Biplane:
    """A craft whose wings and tips all have one section, or none."""
    data = craft.model_dump()
    data["sections"] = {} if section is None else {"s": section}
    for wing in ("upper", "lower"):
        if data.get(wing):
            data[wing]["section"] = None if section is None else "s"
            if data[wing].get("tips"):
                data[wing]["tips"]["section"] = None
    return Biplane.model_validate(data).from_source(craft.source)


def solved(
    model: SectionedLattice, alpha_deg: Any, beta_deg: float = 0.0
) -> tuple[CoupledStrips, StripForces, np.ndarray]:
    alpha = np.atleast_1d(np.radians(alpha_deg))
    stream = SPEED * np.array(FlightState(alpha, np.radians(beta_deg) + 0.0 * alpha).wind())
    panels = model.lattice.panels
    onset = strip_onset(model, np.broadcast_to(stream[:, None, :], (len(alpha), panels, 3)), AIR)
    coupled = couple_strips(model, onset)
    return coupled, strip_forces(model, coupled, stream), stream


def named(model: SectionedLattice, forces: StripForces, stream: np.ndarray) -> dict[str, Any]:
    """Coefficients of wind and body axes, by the definitions of the conventions."""
    reference = model.lattice.reference
    pressure = 0.5 * AIR.density_kg_m3 * SPEED**2 * reference.area
    force, moment = (part / pressure for part in forces.total())
    alpha = np.arctan2(stream[:, 2], stream[:, 0])
    return {
        "CL": -force[:, 0] * np.sin(alpha) + force[:, 2] * np.cos(alpha),
        "CDi": np.sum(force * stream, axis=1) / SPEED,
        "CY": force[:, 1],
        "Cl": -moment[:, 0] / reference.span,
        "Cm": moment[:, 1] / reference.chord,
        "Cn": -moment[:, 2] / reference.span,
    }


@pytest.mark.parametrize(
    ("name", "left", "right"),
    [("tideline", 0, 0), ("tideline", -90, -90), ("winnow", -30, 20), ("turnstone", 25, 25),
     ("plank", 0, 0)],
)  # fmt: skip
def test_a_thin_section_gives_the_lattices_own_answer(name: str, left: float, right: float) -> None:
    """By two routes: the bilinear tables of the lattice, and forces strip by strip."""
    craft = with_section(load_biplane(name), None)
    lattice = build_lattice(craft, FoldAngles(left, right), GRID)
    model = sectioned_lattice(craft, lattice, wake="craft")
    coupled, forces, stream = solved(model, [-4.0, 3.0, 9.0], beta_deg=4.0)
    state = FlightState(np.radians([-4.0, 3.0, 9.0]), np.radians(np.full(3, 4.0)), airspeed=SPEED)
    expected = coefficients(craft_loads(lattice, fold_rates=False), state)
    assert np.all(coupled.offset == 0.0)
    for key, value in named(model, forces, stream).items():
        np.testing.assert_allclose(
            value, getattr(expected, key), rtol=1e-9, atol=1e-11, err_msg=key
        )


def test_circulation_agrees_with_the_polar() -> None:
    """Gamma = U c cl / 2 in every strip. A section's departure from the thin one is averaged along
    the span, so it is exact in the mean and close in each strip where the flow is attached."""
    craft = with_section(load_biplane("tideline"), SECTION)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), GRID))
    coupled, _, _ = solved(model, 4.0)
    state, strips = coupled.state, model.strips
    found = 2.0 * coupled.circulation / (state.speed * strips.chord)
    np.testing.assert_allclose(found, state.cl, atol=0.02)
    polar = model.groups[0].polar
    assert polar is not None
    again = polar.at(
        state.alpha[:, model.groups[0].strips], state.reynolds[:, model.groups[0].strips]
    )
    np.testing.assert_allclose(state.cl[:, model.groups[0].strips], again.cl)
    assert coupled.converged.all()
    assert coupled.residual.max() < 1e-11


def test_lower_section_slope_lowers_the_wings_as_lifting_line_theory_has_it() -> None:
    """Elliptic wing: CL_alpha = a0 / (1 + a0 / (pi A)) (Prandtl), ratio of a0 = 5 to 2 pi. A
    lifting surface is lower than the line in both, so the ratio is held to 1 %."""
    craft = load_biplane("ellipse")
    slopes = []
    for a0 in (5.0, 2.0 * np.pi):
        flat = SECTION | {"zero_lift_deg": 0.0, "lift_slope_per_rad": a0}
        sectioned = with_section(craft, flat)
        lattice = build_lattice(sectioned, FoldAngles(), Grid(4, 12))
        model = sectioned_lattice(sectioned, lattice)
        _, forces, stream = solved(model, [-1.0, 1.0])
        lift = named(model, forces, stream)["CL"]
        slopes.append((lift[1] - lift[0]) / np.radians(2.0))
    ratio = 6.0

    def line(a0: float) -> float:
        return a0 / (1.0 + a0 / (np.pi * ratio))

    assert slopes[0] / slopes[1] == pytest.approx(line(5.0) / line(2.0 * np.pi), rel=0.01)


def test_an_elliptic_wing_reaches_its_sections_greatest_lift() -> None:
    """Its local lift coefficient is the same all along, so that all strips stall together
    (I. H. Abbott and A. E. von Doenhoff, Theory of Wing Sections, chapter 1)."""
    craft = with_section(load_biplane("ellipse"), SECTION | {"zero_lift_deg": 0.0})
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), Grid(4, 12)))
    coupled, forces, stream = solved(model, np.arange(8.0, 22.0, 0.5))
    assert coupled.converged.all()
    lift = named(model, forces, stream)["CL"]
    peak = int(np.argmax(lift))
    inboard = np.abs(model.strips.quarter[:, 1]) < 0.36  # of 0.6 m
    np.testing.assert_allclose(coupled.state.cl[peak, inboard], 1.15, rtol=0.015)
    # The last strips, with next to no chord, stall before and leave the wing a little less.
    assert 0.9 * 1.15 < lift.max() < 1.15


@pytest.mark.parametrize(("name", "fold"), [("tideline", 0), ("tideline", -90), ("winnow", 40)])
def test_from_minus_30_to_100_degrees_it_settles_and_is_smooth(name: str, fold: float) -> None:
    craft = with_section(load_biplane(name), SECTION)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(fold, fold), GRID))
    alpha = np.arange(-30.0, 100.0, 0.5)
    coupled, forces, stream = solved(model, alpha)
    assert coupled.converged.all()
    found = named(model, forces, stream)
    for key in ("CL", "CDi", "Cm"):
        # A slope of 6 per radian and no more explains every step; so does its change.
        steps = np.diff(found[key])
        assert np.abs(steps).max() < 6.0 * np.radians(0.5), key
        # At half the step the change is 3.6 times smaller: a bend at the stall, no kink.
        assert np.abs(np.diff(steps)).max() < 0.025, key
    np.testing.assert_allclose(found["CY"], 0.0, atol=1e-12)


def test_a_wing_across_the_flow_is_a_plate() -> None:
    """C_D at 90 degrees by aspect ratio (Viterna and Corrigan 1981, from memory)."""
    craft = with_section(load_biplane("plank"), SECTION)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), GRID))
    coupled, forces, stream = solved(model, 90.0)
    assert np.all(coupled.onset.attached == 0.0)
    found = named(model, forces, stream)
    assert found["CDi"][0] == pytest.approx(normal_force_of(6.0) + 0.014, rel=2e-3)
    assert found["CL"][0] == pytest.approx(0.0, abs=1e-6)
    # The pressure acts at half the chord (Rayleigh); the moment point lies on the quarter chord.
    assert found["Cm"][0] == pytest.approx(-0.25 * found["CDi"][0], rel=1e-3)


def test_profile_drag_of_a_planar_wing_is_its_sections() -> None:
    section = {"form": "thin", "cd_least": 0.02}
    craft = with_section(load_biplane("plank"), section)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), GRID))
    _, forces, stream = solved(model, 0.0)
    drag = np.sum(forces.profile.sum(axis=1) * stream, axis=1) / SPEED
    pressure = 0.5 * AIR.density_kg_m3 * SPEED**2 * model.lattice.reference.area
    assert drag[0] / pressure == pytest.approx(0.02, rel=1e-9)


def test_a_case_that_does_not_settle_is_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(coupling, "MOST_STEPS", 1)
    monkeypatch.setattr(coupling, "MOST_DAMPED", 1)
    craft = with_section(load_biplane("plank"), SECTION)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), GRID))
    coupled, _, _ = solved(model, [2.0, 16.0])
    assert not coupled.converged[1]
    assert coupled.residual[1] > 1e-11


def test_the_damped_fallback_finds_the_same_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    craft = with_section(load_biplane("plank"), SECTION)
    model = sectioned_lattice(craft, build_lattice(craft, FoldAngles(), GRID))
    direct, _, _ = solved(model, [14.0, 18.0, 24.0])
    monkeypatch.setattr(coupling, "LONGEST_STEP", 1e-3)
    monkeypatch.setattr(coupling, "MOST_STEPS", 8)
    slowly, _, _ = solved(model, [14.0, 18.0, 24.0])
    assert slowly.iterations.min() > 8
    monkeypatch.setattr(coupling, "LONGEST_STEP", 0.5)
    problem_start = slowly.offset
    again = couple_strips(model, slowly.onset, problem_start)
    np.testing.assert_allclose(again.circulation, direct.circulation, rtol=1e-7, atol=1e-9)


def test_mirrored_folds_mirror_the_strips() -> None:
    craft = with_section(load_biplane("tideline"), SECTION)
    found = []
    for folds in (FoldAngles(-40, 10), FoldAngles(10, -40)):
        model = sectioned_lattice(craft, build_lattice(craft, folds, GRID))
        _, forces, stream = solved(model, [6.0, 20.0])
        found.append(named(model, forces, stream))
    for key, sign in (("CL", 1), ("CDi", 1), ("Cm", 1), ("CY", -1), ("Cl", -1), ("Cn", -1)):
        np.testing.assert_allclose(found[0][key], sign * found[1][key], rtol=1e-8, atol=1e-10)

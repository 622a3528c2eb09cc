"""A session's drawing arrays: thin-section theory, and sums that must be those of the loads."""

from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description import FoldAngles, load_biplane, load_biplane_text
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.parts import hinge_loads
from vlm.loads.segment_forces import PatchForces, patch_forces
from vlm.study.point.point import solve_point
from vlm.study.point.session import Scene, Session, Setting, _panel_forces
from vlm.study.point.sizes import tip_sizes

LONG_WING = (
    'title = "A long plate"\n[upper]\nspan_m = 40.0\nroot_chord_m = 1.0\nend_chord_m = 1.0\n'
)
SETTING = Setting(left_deg=25.0, right_deg=-40.0, alpha_deg=5.0, beta_deg=3.0, airspeed_m_s=15.0)


@cache
def session(name: str) -> Session:
    return Session(load_biplane(name), Grid(5, 14))


def total_force(scene: Scene) -> np.ndarray:
    """Sum of pressure times area over all panels, along their normals."""
    total = np.zeros(3)
    for surface in scene.surfaces:
        grid = surface.corners
        vectors = 0.5 * np.cross(grid[1:, 1:] - grid[:-1, :-1], grid[1:, :-1] - grid[:-1, 1:])
        sign = np.sign(np.sum(vectors.sum(axis=0) * surface.strip_normal, axis=-1))
        total += (surface.pressure[..., None] * vectors * sign[:, None]).sum(axis=(0, 1))
    return total


def test_pressure_along_the_chord_is_that_of_a_thin_plate() -> None:
    """Thin-section theory: pressure difference proportional to sqrt((1 - x) / x) (Glauert 1926,
    from memory); a panel's share is the integral over it, by x = (1 - cos t) / 2."""
    rows = 8
    craft = load_biplane_text(LONG_WING, "long.toml")
    scene = Session(craft, Grid(rows, 16)).scene(Setting(alpha_deg=2.0))
    surface = scene.surfaces[0]
    t = np.append(2.0 * np.arange(rows) * np.pi / (2 * rows + 1), np.pi)
    share = np.diff(t + np.sin(t)) / np.pi
    strip = 0
    widths = np.diff(surface.corners[:, strip, 0])
    ours = surface.pressure[:, strip] * widths
    assert ours / ours.sum() == pytest.approx(share, abs=2e-3)
    x = surface.corners[:, strip, 0]
    assert (x - x[0]) / (x[-1] - x[0]) == pytest.approx(0.5 * (1.0 - np.cos(t)), abs=1e-12)


def test_panels_carry_all_that_the_segments_of_their_patch_do() -> None:
    """Forces are neither lost nor counted twice where they are shared out over panels; side edges
    feel some where the wing is yawed."""
    loads = session("tideline").loads(SETTING.folds)
    amounts = SETTING.flight_state.amounts(loads.reference, loads.columns)
    patches = patch_forces(loads, amounts, 1.2)
    for patch in patches:
        assert np.abs(patch.forces[patch.patch.rows * patch.patch.strips :]).max() > 1e-6
        total = _panel_forces(patch).sum(axis=(0, 1))
        assert total == pytest.approx(patch.forces.sum(axis=0), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("name", ["tideline", "winnow", "turnstone"])
def test_pressures_add_up_to_the_lift_and_hinges_to_the_loads(name: str) -> None:
    craft = load_biplane(name)
    setting = Setting(left_deg=15.0, right_deg=-20.0, alpha_deg=3.0, beta_deg=0.0)
    held = session(name)
    scene, loads = held.scene(setting), held.loads(setting.folds)
    pressure = setting.flight_state.dynamic_pressure * loads.reference.area
    lift = total_force(scene)[2] / pressure
    # Suction along the plates, which pressures on them leave out, has next to no lift here.
    assert lift == pytest.approx(scene.numbers["CL"], rel=6e-3)
    sizes = tip_sizes(held.cellule)
    expected = hinge_loads(loads, setting.flight_state, sizes)
    assert (
        set(scene.hinges)
        == set(expected)
        == {f"{wing}_{side}" for wing in craft.tips for side in ("left", "right")}
    )
    for tip, hinge in scene.hinges.items():
        assert hinge.moment == pytest.approx(expected[tip].moment, rel=1e-6)


def test_numbers_are_those_of_the_plain_solve() -> None:
    held = session("tideline")
    scene = held.scene(SETTING)
    plain = Session(held.craft, Grid(5, 14))
    state = SETTING.flight_state
    loads = loads_of_state(plain.loads(SETTING.folds).lattice, state, fold_rates=False)
    from vlm.loads.coefficients import coefficients

    values = coefficients(loads, SETTING.flight_state)
    for name in ("CL", "CDi", "CY", "Cl", "Cm", "Cn", "span_efficiency"):
        assert scene.numbers[name] == pytest.approx(getattr(values, name), rel=1e-3, abs=1e-4)


def test_a_mirrored_setting_is_the_mirror_image() -> None:
    held = session("tideline")
    one = held.scene(SETTING)
    other = held.scene(
        Setting(left_deg=-40.0, right_deg=25.0, alpha_deg=5.0, beta_deg=-3.0, airspeed_m_s=15.0)
    )
    twins = {(s.wing, s.part, s.side): s for s in other.surfaces}
    swap = {"left": "right", "right": "left"}
    for surface in one.surfaces:
        twin = twins[surface.wing, surface.part, swap[surface.side]]
        assert twin.pressure == pytest.approx(surface.pressure, rel=1e-8, abs=1e-8)
        assert twin.corners == pytest.approx(surface.corners * [1, -1, 1], abs=1e-12)
    assert one.numbers["Cl"] == pytest.approx(-other.numbers["Cl"], rel=1e-8)


def test_loads_run_smoothly_over_a_hinge() -> None:
    """Strips beside the hinge carry loads like their neighbours'."""
    scene = session("tideline").scene(Setting(left_deg=30.0, right_deg=-45.0, alpha_deg=5.0))
    main = next(s for s in scene.surfaces if (s.wing, s.part, s.side) == ("upper", "main", "right"))
    steps = np.abs(np.diff(main.strip_load))
    assert np.max(steps) < 0.1 * np.max(main.strip_load)


def test_loads_grow_with_dynamic_pressure() -> None:
    held = session("tideline")
    slow = held.scene(Setting(alpha_deg=5.0, airspeed_m_s=10.0))
    fast = held.scene(Setting(alpha_deg=5.0, airspeed_m_s=20.0))
    assert fast.surfaces[0].pressure == pytest.approx(4.0 * slow.surfaces[0].pressure)


def test_what_cannot_be_folded_is_refused_and_limits_are_known() -> None:
    held = session("turnstone")
    low, high = held.craft.fold_range_deg
    for fold in (low, high):
        held.craft.tip_folds(FoldAngles.symmetric(fold))
    with pytest.raises(InputRefused):
        held.scene(Setting(left_deg=high + 1.0))


def test_the_options_ask_for_the_same_setting(run_foldspan: object) -> None:
    import json

    grid = ("--rows", "5", "--strips", "14")
    run = run_foldspan(
        "point", "tideline", *SETTING.options().split(), *grid, "--no-errors", "--json"
    )
    document = json.loads(run.stdout)
    scene = session("tideline").scene(SETTING)
    for name in ("CL", "Cl", "CY"):
        # The wake's turn with sideslip is of first order in the scene.
        assert document["coefficients"][name] == pytest.approx(scene.numbers[name], rel=1e-3)


def test_a_chordwise_segment_belongs_half_to_either_strip_and_wholly_at_an_end() -> None:
    """Two rows of three strips with invented forces, shared out by hand."""
    spanwise = np.arange(18.0).reshape(6, 3)
    chordwise = 100.0 * np.arange(24.0).reshape(8, 3)
    patch = SimpleNamespace(rows=2, strips=3)
    points = np.zeros((14, 3))
    points[:, 0] = 2.0  # all on a line along y: the moment is (0, -2 F_z, 2 F_y)
    found = PatchForces(patch, points, np.concatenate([spanwise, chordwise]))  # type: ignore[arg-type]
    force, moment = found.shared_to_strips()
    own = spanwise[:3] + spanwise[3:]
    edges = chordwise[:4] + chordwise[4:]
    expected = own + 0.5 * (edges[:-1] + edges[1:])
    expected[0] += 0.5 * edges[0]
    expected[2] += 0.5 * edges[3]
    np.testing.assert_allclose(force, expected)
    np.testing.assert_allclose(moment[:, 1], -2.0 * expected[:, 2])
    np.testing.assert_allclose(moment[:, 2], 2.0 * expected[:, 1])
    np.testing.assert_allclose(force.sum(axis=0), (own.sum(axis=0) + edges.sum(axis=0)))


@pytest.mark.parametrize("folds", [(0.0, 0.0), (-45.0, 20.0)])
def test_numbers_in_sideslip_are_those_of_a_point(folds: tuple[float, float]) -> None:
    """Not those of tables between angles of sideslip, which differ in the third digit."""
    setting = Setting(*folds, 6.0, 3.0, 15.0)
    held = session("tideline")
    numbers = held.scene(setting).numbers
    state = setting.flight_state
    report = solve_point(held.craft, setting.folds, state, grid=held.grid, errors=False)
    told = {"CL": report.coefficients.CL, "Cn": report.coefficients.Cn,
            "Cl_beta": report.derivatives["body"]["Cl_beta"]}  # fmt: skip
    assert {name: numbers[name] for name in told} == pytest.approx(told, rel=1e-9)

"""What must hold for any craft, whatever the numbers are: symmetry, turning, scale, limits.

Munk's stagger theorem: M. Munk, NACA Report 121 (1921). The near field's drag equals that of the
far field for wings of potential flow whose wake runs along the stream: any text on induced drag.
"""

from dataclasses import asdict, replace

import numpy as np
import pytest
from core_craft import (
    FLAT,
    SMALL,
    biplane,
    flight_states,
    lattice_of,
    monoplane,
    settings_of_craft,
    solved,
    values_of,
    wing,
    with_moment_point,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Reference, Station, Tips, Wing
from vlm.flow.solve import unit_flows
from vlm.flow.wake import axis_wake, trailing_rings
from vlm.frames import rotation_about
from vlm.lattice.cellule import Grid, build_cellule
from vlm.lattice.lattice import build_lattice
from vlm.lattice.patches import HingeLine
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import craft_loads, loads_of_state
from vlm.loads.farfield import drag_tables, wake_trace
from vlm.loads.parts import hinge_loads, strip_loads, wing_loads
from vlm.loads.state import FlightState
from vlm.study.point.sizes import tip_sizes

STATE = FlightState(alpha=0.07, beta=0.03, p_hat=0.02, q_hat=0.004, r_hat=-0.01)
EVEN = ("CL", "CDi", "CDi_surface", "Cm", "span_efficiency", "best_span_efficiency")
ODD = ("CY", "Cl", "Cn", "Cl_stability", "Cn_stability")
few = settings(max_examples=8)


def mirrored_state(state: FlightState) -> FlightState:
    return replace(state, beta=-state.beta, p_hat=-state.p_hat, r_hat=-state.r_hat)


# --- mirror ----------------------------------------------------------------------------------


@few
@given(settings_of_craft(), flight_states())
def test_a_mirrored_craft_in_a_mirrored_stream_mirrors_its_loads(setting, state) -> None:
    craft, folds = setting
    own = coefficients(solved(craft, folds, fold_rates=False, use_mirror=False), state)
    other = coefficients(
        solved(craft, folds.mirrored(), fold_rates=False, use_mirror=False), mirrored_state(state)
    )
    for name in EVEN:
        assert getattr(other, name) == pytest.approx(getattr(own, name), rel=1e-9, abs=1e-11)
    for name in ODD:
        assert getattr(other, name) == pytest.approx(-getattr(own, name), rel=1e-9, abs=1e-11)


@few
@given(settings_of_craft())
def test_swapped_folds_flip_the_lateral_coefficients_and_trade_derivatives(setting) -> None:
    craft, folds = setting
    state = FlightState(alpha=0.06)
    own, other = (solved(craft, f, use_mirror=False) for f in (folds, folds.mirrored()))
    a, b = coefficients(own, state), coefficients(other, state)
    for name in ODD:
        assert getattr(b, name) == pytest.approx(-getattr(a, name), rel=1e-8, abs=1e-11)
    first, second = derivatives(own, state)["body"], derivatives(other, state)["body"]
    for name, sign in (("CL", 1.0), ("Cl", -1.0), ("Cn", -1.0)):
        left, right = second[f"{name}_fold_left"], first[f"{name}_fold_right"]
        assert left == pytest.approx(sign * right, rel=1e-7, abs=1e-9)
    for name in ("CL_alpha", "Cl_beta", "Cn_beta", "Cl_p", "Cn_r", "CY_beta"):
        assert second[name] == pytest.approx(first[name], rel=1e-8, abs=1e-10)


@few
@given(settings_of_craft(), flight_states())
def test_mirrored_tables_are_those_solved_anew(setting, state) -> None:
    craft, folds = setting
    made, other = solved(craft, folds).mirrored(), solved(craft, folds.mirrored(), use_mirror=False)
    a, b = asdict(coefficients(made, state)), asdict(coefficients(other, state))
    assert a == pytest.approx(b, rel=1e-9, abs=1e-11)
    c, d = derivatives(made, state)["stability"], derivatives(other, state)["stability"]
    assert c == pytest.approx(d, rel=1e-7, abs=1e-8)
    assert made.lattice.commanded == other.lattice.commanded
    assert dict(made.lattice.folds) == pytest.approx(dict(other.lattice.folds))


def test_loads_about_a_point_off_the_middle_have_no_mirror_image() -> None:
    craft = with_moment_point(biplane(), (0.0, 0.1, 0.0))
    loads = solved(craft, FoldAngles(10.0, -20.0))
    assert not loads.can_be_mirrored
    with pytest.raises(ValueError, match="moment point off the middle"):
        loads.mirrored()


@few
@given(settings_of_craft())
def test_a_symmetric_setting_in_a_symmetric_stream_has_no_lateral_load(setting) -> None:
    craft, folds = setting
    even = FoldAngles(folds.left_deg, folds.left_deg)
    if not _can(craft, even):
        return
    values = coefficients(
        solved(craft, even, fold_rates=False, use_mirror=False), FlightState(alpha=0.05, q_hat=0.01)
    )
    for name in ODD:
        assert getattr(values, name) == pytest.approx(0.0, abs=1e-12)


def _can(craft: Biplane, folds: FoldAngles) -> bool:
    from core_craft import can_be_built

    return can_be_built(craft, folds)


# --- hinges ----------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [STATE, FlightState(alpha=0.1)])
def test_fold_zero_equals_no_hinge(state: FlightState) -> None:
    """A wing of stations whose corner stands where the hinge did has the same strips."""
    hinged = monoplane(1.0, 0.2, tips=Tips(span_m=0.3, end_chord_m=0.1))
    stations = (
        Station(y_m=0.0, x_m=0.0, chord_m=0.2),
        Station(y_m=0.5, x_m=0.0, chord_m=0.2, corner=True),
        Station(y_m=0.8, x_m=0.025, chord_m=0.1),
    )
    whole = Biplane(title="No hinge", upper=Wing(stations=stations))
    found, expected = values_of(hinged, state), values_of(whole, state)
    assert asdict(found) == pytest.approx(asdict(expected), rel=1e-11, abs=1e-14)


@pytest.mark.parametrize("flare", [-10.0, 10.0])
def test_fold_zero_of_a_flared_hinge_tends_to_no_hinge(flare: float) -> None:
    """Slanted strip edges are another lattice of the same wing; their error falls with strips."""
    state = FlightState(alpha=0.1)
    lifts, drags = [], []
    for rows, strips in ((4, 10), (8, 20), (16, 40)):
        plain, slanted = (
            values_of(
                monoplane(1.0, 0.2, tips=Tips(span_m=0.3, end_chord_m=0.2, flare_deg=angle)),
                state,
                grid=Grid(rows, strips),
            )
            for angle in (0.0, flare)
        )
        lifts.append(abs(slanted.CL / plain.CL - 1.0))
        drags.append(abs(slanted.CDi / plain.CDi - 1.0))
    assert lifts[0] < 2.5e-3
    assert drags[0] < 5e-3
    for apart in (lifts, drags):  # of first order in the panels' size
        assert apart[1] < 0.6 * apart[0]
        assert apart[2] < 0.6 * apart[1]


def test_a_full_turn_less_a_hair_lies_on_the_wing_again_from_the_other_side() -> None:
    """Tips folded by +90 and -90 without camber or flare: mirror images top to bottom."""
    up, down = (
        values_of(monoplane(tips=Tips(span_m=0.3, end_chord_m=0.15)), s, FoldAngles(f, f))
        for f, s in ((90.0, FlightState(alpha=0.1)), (-90.0, FlightState(alpha=-0.1)))
    )
    assert pytest.approx(-down.CL, rel=1e-12) == up.CL
    assert up.CDi == pytest.approx(down.CDi, rel=1e-12)


# --- turning ---------------------------------------------------------------------------------


def test_a_craft_and_its_wind_turned_together_give_turned_forces() -> None:
    """Nodes, hinges, moment point, wake and wind turned as one: no direction is special."""
    craft, turn = biplane(stagger=0.1), rotation_about(np.array([0.6, 0.48, 0.64]), 1.1)
    lattice = lattice_of(craft, 30.0, -20.0)
    direction = np.array([1.0, 0.0, 0.0])
    wind = STATE.wind()

    def turned_patch(patch):
        return replace(
            patch,
            nodes=patch.nodes @ turn.T,
            controls=patch.controls @ turn.T,
            normals=patch.normals @ turn.T,
        )

    other = replace(
        lattice,
        patches=tuple(turned_patch(p) for p in lattice.patches),
        hinges={b: HingeLine(turn @ h.point, turn @ h.axis) for b, h in lattice.hinges.items()},
        reference=replace(lattice.reference, moment_point=turn @ lattice.reference.moment_point),
    )
    force, moment, drag = _in_wind(lattice, direction, wind)
    turned_force, turned_moment, turned_drag = _in_wind(other, turn @ direction, turn @ wind)
    np.testing.assert_allclose(turned_force, turn @ force, atol=1e-12)
    np.testing.assert_allclose(turned_moment, turn @ moment, atol=1e-12)
    assert turned_drag == pytest.approx(drag, rel=1e-11)


def _in_wind(lattice, direction, wind):
    """Force, moment and far-field drag at unit density and speed, in the lattice's own axes."""
    from vlm.loads.surface import surface_tables

    flows = unit_flows(lattice, direction=direction, use_mirror=False)
    amounts = np.zeros(flows.circulation.shape[1])
    amounts[:3] = wind
    total = surface_tables(flows, fold_rates=False).wrench.sum(axis=0)
    wrench = np.einsum("a,abc,b->c", amounts, total, amounts)
    trace = wake_trace(lattice, direction)
    strips = trailing_rings(lattice, flows.circulation) @ amounts
    drag = float(drag_tables(lattice, trace, strips[:, None]).sum())
    return wrench[:3], wrench[3:], drag


# --- units -----------------------------------------------------------------------------------


@settings(max_examples=6)
@given(st.floats(0.01, 100.0))
def test_every_quantity_scales_by_its_unit(k: float) -> None:
    """A craft k times as large: the same coefficients, moments k^3 times as large."""
    folds = FoldAngles(25.0, -10.0)
    small, large = (_craft_of_size(size) for size in (1.0, k))
    own, other = (solved(c, folds) for c in (small, large))
    assert asdict(coefficients(other, STATE)) == pytest.approx(
        asdict(coefficients(own, STATE)), rel=1e-9, abs=1e-12
    )
    for axes in ("body", "stability"):
        expected = derivatives(own, STATE)[axes]
        assert derivatives(other, STATE)[axes] == pytest.approx(expected, rel=1e-8, abs=1e-10)
    sizes = [tip_sizes(build_cellule(c, SMALL)) for c in (small, large)]
    a, b = (hinge_loads(x, STATE, s) for x, s in zip((own, other), sizes, strict=True))
    for name in a:
        assert b[name].moment == pytest.approx(k**3 * a[name].moment, rel=1e-8)
        assert b[name].coefficient == pytest.approx(a[name].coefficient, rel=1e-8)
    first, second = strip_loads(own, STATE), strip_loads(other, STATE)
    for x, y in zip(first, second, strict=True):
        assert y.circulation_m2_s == pytest.approx(k * x.circulation_m2_s, rel=1e-8, abs=1e-12 * k)
        assert y.cl == pytest.approx(x.cl, rel=1e-8, abs=1e-12)
        assert (y.y_m, y.z_m, y.chord_m, y.width_m) == pytest.approx(
            (k * x.y_m, k * x.z_m, k * x.chord_m, k * x.width_m)
        )


def _craft_of_size(k: float) -> Biplane:
    return Biplane(
        title="A size",
        upper=wing(k, 0.2 * k, sweep_deg=10.0, tips=Tips(span_m=0.2 * k, end_chord_m=0.1 * k)),
        lower=wing(0.9 * k, 0.15 * k, incidence_deg=1.0),
        arrangement=Arrangement(gap_m=0.3 * k, stagger_m=0.05 * k),
    )


def test_density_and_airspeed_enter_forces_as_dynamic_pressure() -> None:
    loads = solved(biplane(), FoldAngles(20.0, -10.0))
    sizes = tip_sizes(build_cellule(biplane(), SMALL))
    slow = hinge_loads(loads, replace(STATE, airspeed=10.0, density=1.0), sizes)
    fast = hinge_loads(loads, replace(STATE, airspeed=30.0, density=0.5), sizes)
    for name, load in slow.items():
        assert fast[name].moment == pytest.approx(4.5 * load.moment, rel=1e-13)
        assert fast[name].coefficient == pytest.approx(load.coefficient, rel=1e-13)


def test_references_only_divide() -> None:
    """Another area, span, chord: the same forces, coefficients by the ratios."""
    other = Reference(area_m2=0.9, span_m=2.5, chord_m=0.5, moment_point_m=(0.05, 0.0, -0.1))
    same = Reference(moment_point_m=(0.05, 0.0, -0.1))
    state = FlightState(alpha=0.07, beta=0.03)
    plain, changed = (biplane(reference=r) for r in (same, other))
    reference = lattice_of(plain).reference
    a, b = (values_of(c, state, FoldAngles(20.0, -30.0)) for c in (plain, changed))
    area = reference.area / 0.9
    assert pytest.approx(a.CL * area, rel=1e-12) == b.CL
    assert b.CDi == pytest.approx(a.CDi * area, rel=1e-12)
    assert b.Cl == pytest.approx(a.Cl * area * reference.span / 2.5, rel=1e-10)
    assert b.Cm == pytest.approx(a.Cm * area * reference.chord / 0.5, rel=1e-10)
    assert b.Cn == pytest.approx(a.Cn * area * reference.span / 2.5, rel=1e-10)


@few
@given(flight_states())
def test_moments_follow_their_point_as_forces_times_arms(state: FlightState) -> None:
    """The rates turn the craft about the moment point, so they are left out here."""
    state = FlightState(alpha=state.alpha, beta=state.beta)
    points = np.array([[0.05, 0.0, -0.1], [0.02, 0.03, 0.2]])
    loads = [
        solved(with_moment_point(biplane(), tuple(p)), FoldAngles(20.0, -30.0), use_mirror=False)
        for p in points
    ]
    amounts = state.amounts(loads[0].reference, loads[0].columns)
    first, second = (np.einsum("a,abc,b->c", amounts, x.total, amounts) for x in loads)
    np.testing.assert_allclose(second[:3], first[:3], atol=1e-13)
    shifted = first[3:] + np.cross(points[0] - points[1], first[:3])
    np.testing.assert_allclose(second[3:], shifted, atol=1e-13)


# --- limits ----------------------------------------------------------------------------------


def test_two_wings_far_apart_are_two_monoplanes() -> None:
    state = FlightState(alpha=0.07)
    far = Biplane(
        title="Far apart",
        upper=wing(1.0, 0.2, tips=Tips(span_m=0.2, end_chord_m=0.1)),
        lower=wing(0.8, 0.15, incidence_deg=2.0),
        arrangement=Arrangement(gap_m=3000.0),
    )
    folds = FoldAngles(30.0, 10.0)
    alone = [
        Biplane(title="Upper", upper=far.upper),
        Biplane(title="Lower", upper=far.lower),
    ]
    by_length = Grid(3, 14, span_law="cosine")
    pair = build_lattice(far, folds, by_length)
    areas = {name: 2.0 * half.area for name, half in build_cellule(far, SMALL).halves.items()}
    both = wing_loads(craft_loads(pair), state, areas)
    # The shorter lower wing has its share of the strips: 8 of 14 over 0.4 of 0.7 m.
    singles = [
        coefficients(solved(alone[0], folds, by_length), state),
        coefficients(solved(alone[1], FLAT, replace(by_length, strips=8)), state),
    ]
    assert pytest.approx(singles[0].CL, rel=1e-6) == both["upper"].CL
    assert pytest.approx(singles[1].CL, rel=1e-6) == both["lower"].CL
    drags = [v.CDi * area for v, area in zip(singles, areas.values(), strict=True)]
    assert both["upper"].drag_share == pytest.approx(drags[0] / sum(drags), rel=1e-6)
    total = coefficients(craft_loads(pair), state).CDi * sum(areas.values())
    assert total == pytest.approx(sum(drags), rel=1e-6)


def test_munk_stagger_at_fixed_circulation_leaves_the_drag_and_shifts_the_shares() -> None:
    """Far-field drag is untouched; so is the sum of both wings' near-field drag, not the shares."""
    grid = Grid(3, 24)
    base = lattice_of(biplane(stagger=0.0), 20.0, grid=grid)
    held = unit_flows(base).circulation[:, [0, 2]] @ [np.cos(0.1), np.sin(0.1)]
    strips = trailing_rings(base, held[:, None])
    far, near, shares = [], [], []
    for stagger in (-0.3, 0.0, 0.3, 4.0):
        lattice = lattice_of(biplane(stagger=stagger), 20.0, grid=grid)
        trace = wake_trace(lattice, np.array([1.0, 0.0, 0.0]))
        far.append(float(drag_tables(lattice, trace, strips).sum()))
        upper, lower = _near_drag(lattice, held)
        near.append(upper + lower)
        shares.append(upper / (upper + lower))
    np.testing.assert_allclose(far, far[0], rtol=1e-12)
    np.testing.assert_allclose(near, near[0], rtol=2e-4)
    # The wing behind lies in the other's downwash; upper wing behind first.
    assert shares[0] > 0.7 > shares[1] > 0.5 > shares[2] > 0.3
    assert 0.3 < shares[3] < 0.5


def _near_drag(lattice, circulation) -> tuple[float, float]:
    """Force along x that the induced velocities alone put on the bound segments, by wing."""
    from vlm.flow.influence import velocities_from
    from vlm.loads.segments import surface_segments, surface_strengths

    wake = axis_wake(lattice)
    rings, on_segments = (
        wake.strengths(circulation[:, None]),
        surface_strengths(lattice, circulation[:, None]),
    )
    drag = {"upper": 0.0, "lower": 0.0}
    for index, patch in enumerate(lattice.patches):
        segments = surface_segments(patch)
        velocity = velocities_from(segments.points, wake, rings)[..., 0]
        drag[patch.wing] += float(
            (on_segments[index] * np.cross(velocity, segments.vectors))[:, 0].sum()
        )
    return drag["upper"], drag["lower"]


@pytest.mark.parametrize("fold", [0.0, 45.0, -60.0])
def test_near_field_drag_tends_to_that_of_the_far_field(fold: float) -> None:
    """With the wake along the stream both are exact; the bent row at a hinge converges slowly."""
    craft, state = biplane(gap=0.3, stagger=0.05), FlightState(alpha=0.06)
    apart = []
    for rows, strips in ((2, 8), (4, 14), (8, 26)):
        lattice = lattice_of(craft, fold, grid=Grid(rows, strips))
        values = coefficients(loads_of_state(lattice, state, fold_rates=False), state)
        apart.append(abs(values.CDi_surface / values.CDi - 1.0))
    assert apart[2] < (2e-4 if fold == 0.0 else 1e-3)


def observed_orders(values: list[float]) -> np.ndarray:
    """Orders from successive differences as all panels are halved."""
    steps = np.abs(np.diff(values))
    return np.log2(steps[:-1] / steps[1:])


def test_observed_order_of_convergence_of_a_flat_wing() -> None:
    """Third order, where the spacing meets the square roots at the edges."""
    found = []
    for n in (2, 4, 8, 16):
        loads = solved(monoplane(6.0, 1.0), FLAT, Grid(n, 2 * n), fold_rates=False)
        state = FlightState(alpha=0.05)
        slopes = derivatives(loads, state)["body"]
        centre = slopes["Cm_alpha"] / slopes["CL_alpha"]
        found.append([slopes["CL_alpha"], coefficients(loads, state).CDi, centre])
    slope, drag, centre = np.transpose(found)
    for values in (slope, drag, centre):
        assert 2.4 < observed_orders(values)[-1] < 3.6


@pytest.mark.parametrize(("fold", "order"), [(60.0, 3.0), (90.0, 8.0 / 3.0), (120.0, 2.5)])
def test_observed_order_of_convergence_of_the_far_field_with_a_corner(fold, order) -> None:
    """The sharper the corner of the wake, the lower the order; error estimates take 4/3."""
    bent = monoplane(4.0, 1.0, tips=Tips(span_m=1.0, end_chord_m=1.0))
    best = [
        solved(bent, FoldAngles(fold, fold), Grid(1, n), fold_rates=False).best_efficiency
        for n in (8, 16, 32, 64)
    ]
    assert observed_orders(best)[-1] == pytest.approx(order, abs=0.1)


def test_best_efficiency_is_no_worse_than_the_loading_that_was_found() -> None:
    for fold in (-60.0, 0.0, 45.0):
        values = values_of(biplane(), FlightState(alpha=0.1), FoldAngles(fold, fold))
        assert 0.0 < values.span_efficiency <= values.best_span_efficiency * (1.0 + 1e-12)


def test_loads_add_up_over_wings_strips_and_patches() -> None:
    craft, folds = biplane(gap=0.3), FoldAngles(25.0, -10.0)
    loads = solved(craft, folds)
    state = FlightState(alpha=0.08)
    areas = {name: 2.0 * half.area for name, half in build_cellule(craft, SMALL).halves.items()}
    values = coefficients(loads, state)
    parts = wing_loads(loads, state, areas)
    lift = sum(part.CL * part.area for part in parts.values())
    assert lift == pytest.approx(values.CL * loads.reference.area, rel=1e-12)
    assert sum(part.drag_share for part in parts.values()) == pytest.approx(1.0, rel=1e-12)
    # That strips' own coefficients add up to the forces is held in test_hinge_loads.py; they are no
    # longer 2 Gamma / (U c), which leaves out what the chordwise vortices carry.
    strips = strip_loads(loads, state)
    assert [s.wing for s in strips] == sorted([s.wing for s in strips], reverse=True)
    upper = [s.y_m for s in strips if s.wing == "upper"]
    assert upper == sorted(upper)


def test_the_moment_about_a_hinge_is_that_of_the_tips_forces_taken_by_hand() -> None:
    """Sum over the tip's segments of axis . (arm from the hinge x force)."""
    from vlm.flow.influence import velocities_from
    from vlm.flow.onset import onset_velocities
    from vlm.loads.segments import surface_segments, surface_strengths

    craft, folds = biplane(tips={"flare_deg": 8.0}), FoldAngles(0.0, 0.0)
    loads = solved(craft, folds, use_mirror=False)
    lattice, state = loads.lattice, FlightState(alpha=0.08, airspeed=15.0, density=1.1)
    circulation = loads.circulation @ state.amounts(lattice.reference, loads.columns)
    index = next(i for i, p in enumerate(lattice.patches) if p.body == "upper_right")
    patch, line = lattice.patches[index], lattice.hinges["upper_right"]
    segments = surface_segments(patch)
    rings = loads.wake.strengths(circulation[:, None])
    induced = velocities_from(segments.points, loads.wake, rings)[..., 0]
    onset = onset_velocities(lattice, patch, segments.points)[:, :, :3] @ state.wind()
    strength = surface_strengths(lattice, circulation[:, None])[index]
    force = 1.1 * 15.0**2 * strength * np.cross(induced + onset, segments.vectors)
    expected = float(np.cross(segments.points - line.point, force).sum(axis=0) @ line.axis)
    found = hinge_loads(loads, state, tip_sizes(build_cellule(craft, SMALL)))["upper_right"]
    # The row bent at the hinge is softened in the force; flat, that changes it a little.
    assert found.moment == pytest.approx(expected, rel=0.02)
    assert found.moment > 0.0
    assert found.coefficient == pytest.approx(found.moment / (0.5 * 1.1 * 15.0**2 * 0.04 * 0.2))

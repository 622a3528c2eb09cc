"""The compiled functions of strips and slipstream against the same equations in plain numpy.

Independent of the compiled code: polars by :meth:`vlm.sections.polar.Polar.at`, agreement by
scipy's Powell hybrid method on equations (3) and (4) of :mod:`vlm.sections.coupling`, forces and
winds by sums over whole arrays.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import root

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.sections import Section
from vlm.flight.trim.powered import PoweredCraft, flight_loads, powered_craft
from vlm.frames import cross
from vlm.lattice.cellule import Grid
from vlm.power.slipstream import slipstream
from vlm.sections.coupling import couple_strips, section_state, strip_onset
from vlm.sections.post_stall import smooth_step
from vlm.sections.sectioned import SectionGroup

AIR = standard_air()
GRID = Grid(3, 8)
SPEEDS = np.array([0.0, 4.0, 9.0, 15.0, 24.0])
ALPHAS = np.radians([0.0, 70.0, 19.0, 5.0, -2.0])


def made(name: str, folds: FoldAngles) -> PoweredCraft:
    return powered_craft(load_biplane(name), folds, grid=GRID)


CRAFT = [("tideline", FoldAngles(-40.0, -40.0)), ("thistle", FoldAngles(-60.0, 5.0)),
         ("winnow", FoldAngles(0.0, 0.0))]  # fmt: skip


@pytest.mark.parametrize(("name", "folds"), CRAFT)
def test_sections_at_all_angles(name: str, folds: FoldAngles) -> None:
    model = made(name, folds).model
    random = np.random.default_rng(3)
    shape = (40, model.strips.count)
    angle, speed = random.uniform(-np.pi, np.pi, shape), 10.0 ** random.uniform(-1, 2.5, shape)
    along, normal = speed * np.cos(angle), speed * np.sin(angle)
    found = section_state(model, along, normal, AIR)
    for group in model.groups:
        own = group.strips
        np.testing.assert_allclose(found.alpha[:, own], angle[:, own], rtol=1e-12, atol=1e-12)
        reynolds = speed[:, own] * model.strips.chord[own] / AIR.kinematic_viscosity_m2_s
        np.testing.assert_allclose(found.reynolds[:, own], reynolds, rtol=1e-12)
        if group.polar is None:
            continue
        wanted = group.polar.at(angle[:, own], reynolds)
        for key in ("cl", "cd", "cm", "separation"):
            np.testing.assert_allclose(
                getattr(found, key)[:, own], getattr(wanted, key), rtol=1e-9, atol=1e-11
            )
        left = np.minimum(wanted.stall_high - angle[:, own], angle[:, own] - wanted.stall_low)
        np.testing.assert_allclose(found.margin[:, own], left, rtol=1e-9, atol=1e-11)


def test_a_thin_sections_drag_is_its_parabola() -> None:
    section = Section(form="thin", cd_least=0.02, cd_rise=0.03, cl_at_least_drag=0.1,
                      reynolds=2e5, reynolds_exponent=0.2)  # fmt: skip
    model = made("tideline", FoldAngles()).model
    model = replace(model, groups=(SectionGroup("", section, None, np.arange(model.strips.count)),))
    along, normal = np.full((1, model.strips.count), 11.0), np.full((1, model.strips.count), 0.7)
    found = section_state(model, along, normal, AIR)
    strips = model.strips
    lift = 2.0 * np.pi * (strips.flatness * normal - strips.camber * along)
    lift = lift / np.hypot(along, normal)
    wanted = (0.02 + 0.03 * (lift - 0.1) ** 2) * (found.reynolds / 2e5) ** -0.2
    np.testing.assert_allclose(found.cl, lift, rtol=1e-12)
    np.testing.assert_allclose(found.cd, wanted, rtol=1e-12)


@pytest.mark.parametrize(("name", "folds"), CRAFT)
def test_what_strips_meet_is_the_mean_over_their_rows(name: str, folds: FoldAngles) -> None:
    model = made(name, folds).model
    velocity = np.random.default_rng(5).normal(size=(3, model.lattice.panels, 3))
    found, strips = strip_onset(model, velocity, AIR), model.strips
    np.testing.assert_allclose(
        found.normalwash, np.sum(velocity * model.lattice.normals(), axis=2), atol=1e-12
    )
    axes = {"tangential": strips.along, "normal": strips.normal, "spanwise": strips.turning}
    first = 0
    for index, patch in enumerate(model.lattice.patches):
        own = velocity[:, model.lattice.panels_of(index)]
        rows = own.reshape(3, patch.rows, patch.strips, 3)
        mean = np.einsum("r,brsc->bsc", strips.rows, rows)
        for key, axis in axes.items():
            wanted = np.sum(mean * axis[first : first + patch.strips], axis=2)
            got = getattr(found, key)[:, first : first + patch.strips]
            np.testing.assert_allclose(got, wanted, atol=1e-12)
        first += patch.strips


@pytest.mark.parametrize(("name", "folds"), CRAFT)
def test_strips_agree_with_their_sections(name: str, folds: FoldAngles) -> None:
    craft = made(name, folds)
    thrusts = np.full((len(SPEEDS), len(craft.rotors)), 3.0)
    loads = flight_loads(craft, SPEEDS, ALPHAS, thrusts)
    model, coupled, onset = craft.model, loads.coupled, loads.coupled.onset
    assert coupled.converged.all()
    depth = np.pi * model.strips.chord
    tables = model.wake.tables(onset.shares)
    trailing = np.tensordot(onset.shares, tables.closed_loop, 1) @ tables.trailing
    away = model.smoothing - np.eye(model.strips.count)
    across = np.hypot(onset.normal, onset.spanwise)
    turned = np.degrees(np.arctan2(across, onset.tangential))
    ratio = np.hypot(onset.tangential, across) / onset.scale[:, None]
    fade = (1.0 - smooth_step((turned - 25.0) / 20.0)) * smooth_step((ratio - 0.1) / 0.1)

    def apart(offset: Floats, b: int) -> Floats:
        """Equations (3) and (4), the departure averaged along the span."""
        normalwash = onset.normalwash[b] + model.spreading @ offset
        circulation = trailing[b] @ normalwash
        seen = circulation / depth - offset + model.strips.camber * onset.tangential[b]
        normal = fade[b] * seen / model.strips.flatness + (1.0 - fade[b]) * onset.normal[b]
        asked = np.empty_like(offset)
        for group in model.groups:
            own = group.strips
            assert group.polar is not None
            speed = np.hypot(onset.tangential[b, own], normal[own])
            angle = np.arctan2(normal[own], onset.tangential[b, own])
            chord = model.strips.chord[own]
            reynolds = speed * chord / AIR.kinematic_viscosity_m2_s
            asked[own] = 0.5 * speed * chord * group.polar.at(angle, reynolds).cl
        plain = (circulation - asked) / depth
        return np.asarray(plain - fade[b] * (away @ (offset - plain)))

    for b in range(len(SPEEDS)):
        assert np.abs(apart(coupled.offset[b], b)).max() < 1e-9 * onset.scale[b]
        solved = root(apart, coupled.offset[b] + 0.02, args=(b,), tol=1e-13)
        np.testing.assert_allclose(solved.x, coupled.offset[b], atol=1e-7)


def test_states_beside_the_first_find_the_same_answer() -> None:
    craft = made("tideline", FoldAngles())
    thrusts = np.full((3, len(craft.rotors)), 1.5)
    speed, alpha = np.full(3, 11.0), np.radians(9.0) + np.array([0.0, 1e-6, 2e-3])
    onset = flight_loads(craft, speed, alpha, thrusts).coupled.onset
    plain, beside = couple_strips(craft.model, onset), couple_strips(craft.model, onset, alike=True)
    np.testing.assert_allclose(beside.circulation, plain.circulation, rtol=1e-9, atol=1e-11)
    assert beside.iterations[1] < plain.iterations[1]


@pytest.mark.parametrize(("name", "folds"), CRAFT)
def test_forces_of_strips_are_those_of_their_segments(name: str, folds: FoldAngles) -> None:
    """Kutta and Joukowski on every segment, arm times force, summed by owner."""
    craft = made(name, folds)
    thrusts = np.full((len(SPEEDS), len(craft.rotors)), 3.0)
    loads = flight_loads(craft, SPEEDS, ALPHAS, thrusts)
    model, coupled = craft.model, loads.coupled
    strips, state, onset = model.strips, coupled.state, coupled.onset
    shares, turned = onset.shares, model.wake.tables(onset.shares)

    def behind(tables: tuple[Floats, ...]) -> Floats:
        """What the wakes of all directions do, each by its share."""
        table = np.concatenate(tables, axis=1)
        by_wake = table.reshape(len(table), shares.shape[1], strips.count)
        return np.asarray(np.einsum("bk,pks,bs->bp", shares, by_wake, coupled.circulation))

    wash = onset.normalwash + coupled.offset[:, model.spread] + behind(turned.normalwash)
    rings = wash @ model.response.T
    strength = AIR.density_kg_m3 * rings @ model.strengths.T.toarray()
    velocity = (rings @ model.induced.T + behind(turned.velocities)).reshape(len(SPEEDS), -1, 3)
    velocity = velocity + loads.stream[:, None, :]
    assert loads.wind is not None
    first = len(model.controls)
    velocity = velocity + loads.wind.velocity[:, first : first + len(model.segments)]
    pull = strength[:, :, None] * np.cross(velocity, model.vectors)
    origin = model.lattice.reference.moment_point
    lever = np.cross(model.segments - origin, pull)
    by_lattice = np.einsum("ks,bsc->bkc", model.owners, pull)
    turn_by_lattice = np.einsum("ks,bsc->bkc", model.owners, lever)
    half = 0.5 * AIR.density_kg_m3 * strips.area * state.speed
    vt, vn = onset.tangential[..., None], coupled.normal[..., None]
    lift = (half * state.cl)[..., None] * (vt * strips.normal - vn * strips.along)
    drag = (half * state.cd)[..., None] * (vt * strips.along + vn * strips.normal)
    nose_up = (half * strips.chord * state.speed * state.cm)[..., None] * strips.turning
    half_thin = 0.5 * AIR.density_kg_m3 * strips.area * strips.chord * strips.thin_moment
    thin = (half_thin * onset.tangential**2)[..., None] * strips.turning
    fade, arm = onset.attached[..., None], strips.quarter - origin
    found, size = loads.strips, np.abs(by_lattice).max()
    np.testing.assert_allclose(
        found.force, fade * by_lattice + (1.0 - fade) * lift, atol=1e-10 * size
    )
    wanted = fade * (turn_by_lattice + nose_up - thin) + (1 - fade) * (cross(arm, lift) + nose_up)
    np.testing.assert_allclose(found.moment, wanted, atol=1e-10 * size)
    np.testing.assert_allclose(found.profile, drag, atol=1e-10 * size)
    np.testing.assert_allclose(found.profile_moment, cross(arm, drag), atol=1e-10 * size)


def test_the_wind_at_strips_follows_its_equations() -> None:
    """Equations (1) to (3) of the slipstream, with whole arrays and another quadrature."""
    craft = made("tideline", FoldAngles(-40.0, -40.0))
    stream = SPEEDS[:, None] * np.stack([np.cos(ALPHAS), 0.0 * ALPHAS, np.sin(ALPHAS)], axis=1)
    thrusts = np.tile([3.0, 2.0, -0.5, 1.0], (len(SPEEDS), 1))
    loads = flight_loads(craft, SPEEDS, ALPHAS, thrusts)
    points, spans = craft.wind_points
    total = np.zeros((len(SPEEDS), len(points), 3))
    for rotor, state in zip(craft.rotors, loads.rotors, strict=True):
        swirl = state.torque / AIR.density_kg_m3
        wind = slipstream(rotor, state.flow, stream, points, spans, swirl)
        turning = swirl if craft.propulsion.swirl else None
        total += slipstream(rotor, state.flow, stream, points, spans, turning).velocity
        wanted = _plain_wind(rotor, state, stream, points, spans, swirl)
        np.testing.assert_allclose(wind.velocity, wanted, atol=1e-9)
    assert loads.wind is not None
    np.testing.assert_allclose(loads.wind.velocity, total, atol=1e-12)


def _plain_wind(rotor, state, stream, points, spans, swirl):  # type: ignore[no-untyped-def]
    axis, size = np.array(rotor.axis) / np.linalg.norm(rotor.axis), rotor.radius_m
    induced = state.flow.induced[:, None]
    axial = np.maximum(state.flow.axial[:, None], 0.0)
    place = points - np.array(rotor.position_m)
    behind = -place @ axis
    growth = 1.0 + behind / np.hypot(behind, size)
    through = np.maximum(axial + growth * induced, 0.05 * np.abs(induced) + 1e-12)
    disc = np.maximum(axial + induced, 1e-12)
    radius = size * np.sqrt(np.minimum(disc / through, 4.0))
    along = (stream @ axis)[:, None]
    aside = stream - along * axis
    arm = place + behind[:, None] * axis - (behind / through)[..., None] * aside[:, None, :]
    wide = spans - (spans @ axis)[:, None] * axis
    # The same six places across a strip, on the vectors themselves.
    inside, squared = np.zeros(radius.shape), np.zeros(radius.shape)
    for at, weight in zip(*np.polynomial.legendre.leggauss(6), strict=True):
        away = np.linalg.norm(arm + 0.5 * at * wide, axis=2)
        t = np.clip((away / radius - 1.0) / 0.3 + 0.5, 0.0, 1.0)
        edge = 1.0 - t**2 * (3.0 - 2.0 * t)
        inside += 0.5 * weight * edge
        squared += 0.5 * weight * edge**2
    inside, added = inside * (induced != 0.0), growth * induced
    # Equation (3): |V + k U|^2 = |V|^2 + 2 e V.U + e^2 |U|^2, for the nearer root.
    dot, square = -added * along, added**2
    whole = squared * square + 2.0 * inside * dot
    root_of = np.sqrt(np.maximum(dot**2 + square * whole, 0.0))
    share = inside.copy()
    fit = (square > 0.0) & ~((dot < 0.0) & (square + dot > 0.0))
    nearer = np.where(dot < 0.0, -dot - root_of, -dot + root_of)
    share[fit] = nearer[fit] / square[fit]
    sense = 1.0 if rotor.spin == "right" else -1.0
    rate = sense * 2.0 * swirl[:, None] / (np.pi * size**4 * disc)
    rate = rate * 0.5 * (1.0 + behind / np.hypot(behind, 0.1 * size)) * (size / radius) ** 2
    turning = (share * rate)[..., None] * np.cross(axis, arm)
    return (share * added)[..., None] * -axis + turning

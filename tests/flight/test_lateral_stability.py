"""Dihedral effect, its parts and its root; modes through the lattice; what control must add."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from flying_craft import biplane, mass_of, monoplane, round_body
from numpy.testing import assert_allclose

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mass import TipMass
from vlm.description.models import Biplane, Reference, Tips, Wing
from vlm.errors import ComputationFailed
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight, small_motion
from vlm.flight.craft.small_motions import (
    SmallMotion,
    coupled_matrix,
    lateral_matrix,
    longitudinal_matrix,
)
from vlm.flight.motion.aid import (
    fast_pitch_boundary,
    fast_pitch_is_acceptable,
    lateral_is_acceptable,
    pitch_boundary,
    pitch_is_acceptable,
    with_pitch_aid,
    with_yaw_aid,
    yaw_boundary,
)
from vlm.flight.motion.dihedral_effect import (
    NeutralFold,
    dihedral_effect,
    dihedral_shares,
    mean_height,
    neutral_folds,
)
from vlm.flight.motion.modes import coupled_modes, lateral_modes, longitudinal_modes
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import derivatives
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.state import FlightState
from vlm.show.sentences import neutral_sentences
from vlm.study.lateral.results import NOT_KNOWN
from vlm.study.lateral.study import _Study, dihedral_words

SMALL = Grid(rows=4, strips=12)
SMALL_ANGLE = 3.0


def flat_wing(span: float, chord: float, eta: float | None, dihedral: float = 0.0) -> Biplane:
    """A rectangle, with tips from ``eta`` of the half span out, about its quarter chord."""
    inner = span if eta is None else eta * span
    tips = None if eta is None else Tips(span_m=0.5 * (1.0 - eta) * span, end_chord_m=chord)
    wing = Wing(
        span_m=inner, root_chord_m=chord, end_chord_m=chord, dihedral_deg=dihedral, tips=tips
    )
    point = Reference(moment_point_m=(0.25 * chord, 0.0, 0.0), span_m=span, area_m2=span * chord)
    return Biplane(title="A rectangle", upper=wing, reference=point)


def roll_from_sideslip(craft: Biplane, fold: float) -> float:
    engine = FoldEngine(craft, Grid(rows=3, strips=28), fold_rates=False)
    return dihedral_effect(engine.loads(FoldAngles.symmetric(fold)), 0.0)[0]


def test_dihedral_effect_of_the_rectangle() -> None:
    """Rectangle of aspect ratio 6: -0.731 per rad^2 by lifting-surface theory (derived); the
    handbooks' charts give -0.0002 to -0.00025 per deg^2 (from memory)."""
    angle = np.radians(SMALL_ANGLE)
    found = roll_from_sideslip(flat_wing(1.2, 0.2, None, SMALL_ANGLE), 0.0) / angle
    assert found == pytest.approx(-0.731, rel=0.01)
    assert -0.00025 < found * np.radians(1.0) ** 2 < -0.0002


@pytest.mark.parametrize(
    ("eta", "share", "tolerance"),
    [(0.25, 0.924, 0.02), (0.5, 0.700, 0.03), (0.6, 0.573, 0.05), (0.8, 0.273, 0.10)],
)
def test_turned_up_tips_alone(eta: float, share: float, tolerance: float) -> None:
    """Dihedral of the tips only over dihedral of all, rectangle of aspect ratio 10: converged
    lifting line (derived; concept Pearson & Jones, NACA TR 635). Tips shorter than some chords
    are no line: the surface gives less there, by a tenth at most."""
    whole = roll_from_sideslip(flat_wing(2.0, 0.2, None, SMALL_ANGLE), 0.0)
    tips = roll_from_sideslip(flat_wing(2.0, 0.2, eta), SMALL_ANGLE)
    assert tips / whole == pytest.approx(share, rel=tolerance)
    assert tips / whole < share


def test_damping_in_roll_of_the_rectangle() -> None:
    """C_lp = -0.440, rectangle of aspect ratio 6, lifting-surface theory (derived)."""
    engine = FoldEngine(flat_wing(1.2, 0.2, None), Grid(rows=4, strips=24), fold_rates=False)
    slopes = derivatives(engine.loads(FoldAngles()), FlightState())["body"]
    assert slopes["Cl_p"] == pytest.approx(-0.440, rel=0.005)


# --- shares and root -------------------------------------------------------------------------


@pytest.mark.parametrize("fold", [-40.0, 0.0, 55.0])
def test_shares_add_up_to_the_derivative_of_a_point(fold: float) -> None:
    engine = FoldEngine(biplane(), SMALL, fold_rates=False)
    alpha = np.radians(4.0)
    shares = dihedral_shares(engine, fold, alpha)
    parts = shares.fixed_wings + shares.tips + shares.lift + shares.height + shares.sections
    slopes = derivatives(engine.loads(FoldAngles.symmetric(fold)), FlightState(alpha=alpha))
    assert parts == pytest.approx(slopes["body"]["Cl_beta"], rel=1e-12)
    assert shares.total == pytest.approx(slopes["body"]["Cl_beta"], rel=1e-12)


def test_flat_monoplane_has_only_the_share_of_lift() -> None:
    """Etkin, Dynamics of Flight: without dihedral or sweep, what is left grows with lift and
    is negative; nothing comes from tips that do not fold."""
    engine = FoldEngine(monoplane(), SMALL, fold_rates=False)
    shares = [dihedral_shares(engine, 0.0, np.radians(a)) for a in (2.0, 4.0)]
    for one in shares:
        assert one.fixed_wings == pytest.approx(0.0, abs=1e-12)
        assert one.tips == pytest.approx(0.0, abs=1e-12)
        assert one.lift < 0.0
    assert shares[1].lift == pytest.approx(2.0 * shares[0].lift, rel=0.01)


def test_height_share_is_side_force_at_an_arm() -> None:
    """Statics: the moment point raised by dz changes the rolling moment by dz times the force."""
    middle = mean_height(FoldEngine(biplane(), SMALL).cellule)
    low, high = (
        biplane().model_copy(update={"reference": Reference(moment_point_m=(0.05, 0.0, z))})
        for z in (middle, middle + 0.2)
    )
    alpha = np.radians(4.0)
    found = [
        dihedral_shares(FoldEngine(c, SMALL, fold_rates=False), 40.0, alpha) for c in (low, high)
    ]
    assert found[0].height == pytest.approx(0.0, abs=1e-12)
    for name in ("fixed_wings", "tips", "lift"):
        assert getattr(found[0], name) == pytest.approx(getattr(found[1], name), abs=1e-12)
    loads = FoldEngine(high, SMALL, fold_rates=False).loads(FoldAngles.symmetric(40.0))
    side = dihedral_effect(loads, alpha)[1]
    assert found[1].height == pytest.approx(-0.2 / loads.reference.span * side, rel=1e-9)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_neutral_fold_at_a_fold_that_was_asked_for_is_no_less_one(sign: float) -> None:
    """A straight line and its zero, on a node and beside one; where it has no value is none."""
    for zero in (10.0, 11.0):
        folds = [-30.0, -10.0, 10.0, 30.0, 50.0]
        found = neutral_folds(lambda f, z=zero: sign * (f - z) if f < 40.0 else np.nan, folds)
        assert [(one.fold_deg, one.slope) for one in found] == [pytest.approx((zero, sign))]


def test_neutral_fold_is_a_root() -> None:
    engine = FoldEngine(biplane(), SMALL, fold_rates=False)
    alpha = np.radians(4.0)

    def effect(fold: float) -> float:
        return dihedral_effect(engine.loads(FoldAngles.symmetric(fold)), alpha)[0]

    roots = neutral_folds(effect, [-40.0, -20.0, 0.0, 20.0])
    assert len(roots) == 1
    at = engine.loads(FoldAngles.symmetric(roots[0].fold_deg))
    away = engine.loads(FoldAngles.symmetric(roots[0].fold_deg + 1.0))
    assert dihedral_effect(at, alpha)[0] == pytest.approx(0.0, abs=1e-5)
    assert roots[0].slope == pytest.approx(dihedral_effect(away, alpha)[0], rel=0.05)


@pytest.mark.parametrize(
    ("value", "error", "words"),
    [(-0.1, 0.01, "stable"), (0.1, 0.01, "unstable"), (0.005, 0.01, "sign not known")],
)
def test_dihedral_effect_in_words(value: float, error: float, words: str) -> None:
    assert dihedral_words(value, error) == words


def test_demo_craft_is_stable_with_tips_up_and_unstable_with_tips_down() -> None:
    engine = FoldEngine(load_biplane("tideline"), Grid(6, 16), fold_rates=False)
    alpha = np.radians(4.5)
    up, down = (
        dihedral_effect(engine.loads(FoldAngles.symmetric(f)), alpha)[0] for f in (30.0, -30.0)
    )
    assert up < -0.1
    assert down > 0.1


# --- modes through the lattice ---------------------------------------------------------------


def upside_down(craft: Biplane) -> Biplane:
    """A biplane with flat wings turned about its roll axis by half a turn."""
    assert craft.lower is not None
    assert craft.arrangement is not None
    assert craft.mass is not None
    gap = craft.arrangement.gap_m
    x, _, z = craft.mass.body_centre_m
    tip = craft.mass.upper_tip
    assert tip is not None
    aft, outboard, up = tip.centre_m
    turned = tip.model_copy(update={"centre_m": (aft, outboard, -up)})
    mass = craft.mass.model_copy(
        update={
            "body_centre_m": (x, 0.0, -gap - z),
            "upper_tip": None,
            "lower_tip": turned,
        }
    )
    return craft.model_copy(update={"upper": craft.lower, "lower": craft.upper, "mass": mass})


def test_craft_turned_about_its_roll_axis_keeps_its_modes_through_the_lattice() -> None:
    """Upside down, with air, weight and folds turned alike, every root stays."""
    craft = biplane()
    upright, turned = FoldingCraft(craft, SMALL), FoldingCraft(upside_down(craft), SMALL)
    alpha, speed = np.radians(5.0), 14.0
    motions = []
    for folding, fold, sign in ((upright, 35.0, 1.0), (turned, -35.0, -1.0)):
        here = folding.symmetric(fold)
        motion = here.motion(speed, sign * alpha)
        gravity = GRAVITY * np.array([-np.sin(alpha), 0.0, sign * np.cos(alpha)])
        rates = here.rates(motion, 1.225)[:, :6]
        motions.append(
            SmallMotion(here.masses.mass, here.masses.inertia, motion[:3], gravity, rates)
        )
    roots = [
        np.sort_complex([mode.root for mode in coupled_modes(coupled_matrix(m))]) for m in motions
    ]
    assert_allclose(roots[0], roots[1], rtol=1e-7, atol=1e-7)


def test_symmetric_folds_do_not_couple_and_unlike_folds_do() -> None:
    craft = FoldingCraft(biplane(), SMALL)
    for folds, couples in ((FoldAngles(25.0, 25.0), False), (FoldAngles(25.0, -25.0), True)):
        here = craft.at(folds)
        flight = level_flight(here, 14.0, 1.225)
        assert flight is not None
        matrix = coupled_matrix(small_motion(here, flight))
        across = np.abs(matrix[np.ix_([0, 2, 4], [1, 3, 5])]).max()
        assert bool(across > 1e-2) is couples


def test_heavier_tips_slow_the_roll() -> None:
    """Roll subsidence near -I/L_p: more inertia at the tips, slower decay."""
    roots = []
    for mass in (0.03, 0.2):
        tip = TipMass(mass_kg=mass, centre_m=(0.08, 0.15, 0.0))
        craft = FoldingCraft(monoplane(mass=mass_of(upper_tip=tip, body_kg=2.0 - 2 * mass)), SMALL)
        here = craft.symmetric(0.0)
        flight = level_flight(here, 14.0, 1.225)
        assert flight is not None
        modes = lateral_modes(lateral_matrix(small_motion(here, flight)))
        roll = next(mode for mode in modes if mode.name == "roll subsidence")
        inertia = here.masses.inertia[0, 0]
        damping = here.rates(flight.motion, 1.225)[3, 3]
        assert roll.root.real == pytest.approx(damping / inertia, rel=0.15)
        roots.append(roll.root.real)
    assert roots[1] > 0.6 * roots[0]


def test_constant_power_damps_the_phugoid_more_than_constant_thrust() -> None:
    """Thrust falling with speed adds to the drag's damping (Etkin & Reid, propulsion terms)."""
    craft = FoldingCraft(biplane(), SMALL, drag=round_body(0.02))
    here = craft.symmetric(0.0)
    flight = level_flight(here, 14.0, 1.225)
    assert flight is not None
    falling = np.zeros((6, 6))
    falling[0, 0] = -flight.thrust / flight.airspeed
    traces = [
        np.trace(longitudinal_matrix(small_motion(here, flight, rotors)))
        for rotors in (None, falling)
    ]
    expected = -flight.thrust / flight.airspeed / here.masses.mass
    assert traces[1] - traces[0] == pytest.approx(expected, rel=1e-9)


# --- what control must add -------------------------------------------------------------------


def test_yaw_boundary_is_where_the_criteria_begin() -> None:
    here = FoldingCraft(biplane(), SMALL).symmetric(40.0)
    flight = level_flight(here, 14.0, 1.225)
    assert flight is not None
    motion = small_motion(here, flight)
    boundary = yaw_boundary(motion)
    assert boundary.is_needed
    middle = len(boundary.stiffness) // 2
    for stiffness, damping in ((boundary.stiffness[i], boundary.damping[i]) for i in (0, middle)):
        if not np.isfinite(damping) or damping == 0.0:
            continue
        assert lateral_is_acceptable(with_yaw_aid(motion, stiffness, 1.001 * damping))
        assert not lateral_is_acceptable(with_yaw_aid(motion, stiffness, 0.95 * damping))


def test_pitch_aid_moves_the_neutral_point() -> None:
    """Statics: a stiffness k adds -k to M_alpha, as a neutral point moved aft by k / L_alpha."""
    here = FoldingCraft(biplane(), SMALL).symmetric(0.0)
    flight = level_flight(here, 14.0, 1.225)
    assert flight is not None
    motion = small_motion(here, flight)
    aided = with_pitch_aid(motion, 2.5, 0.3)
    assert (aided.rates[4, 2] - motion.rates[4, 2]) * 14.0 == pytest.approx(-2.5)
    assert aided.rates[4, 4] - motion.rates[4, 4] == pytest.approx(-0.3)


def test_a_craft_too_heavy_aft_needs_pitch_stiffness() -> None:
    aft = mass_of(body_centre_m=(0.085, 0.0, -0.17))
    craft = biplane().model_copy(update={"mass": aft})
    here = FoldingCraft(craft, SMALL).symmetric(0.0)
    flight = level_flight(here, 14.0, 1.225)
    assert flight is not None
    motion = small_motion(here, flight)
    assert any(
        m.name == "pitch divergence" for m in longitudinal_modes(longitudinal_matrix(motion))
    )
    least = pitch_boundary(motion).least()
    assert least is not None
    assert least[0] > 0.0
    assert pitch_is_acceptable(with_pitch_aid(motion, least[0], 1.01 * least[1]))


def test_a_steady_craft_needs_no_aid() -> None:
    """An airliner-like stiffness and damping put into the rates meet the criteria."""
    here = FoldingCraft(biplane(), SMALL).symmetric(10.0)
    flight = level_flight(here, 14.0, 1.225)
    assert flight is not None
    motion = small_motion(here, flight)
    rates = motion.rates.copy()
    rates[5, 1] += 0.3
    rates[5, 5] -= 0.6
    assert not yaw_boundary(replace(motion, rates=rates)).is_needed


def test_wings_set_so_steep_that_no_angle_is_without_lift_are_reported() -> None:
    """A wing at 50 degrees of incidence: its lift vanishes near -50 degrees alone."""
    flat = flat_wing(1.2, 0.2, 0.6)
    steep = flat.model_copy(update={"upper": flat.upper.model_copy(update={"incidence_deg": 50.0})})
    engine = FoldEngine(steep, SMALL, fold_rates=False)
    with pytest.raises(ComputationFailed, match="from -34 to 34 degrees is without lift"):
        dihedral_shares(engine, 0.0, 0.0)


def test_boundaries_side_by_side_are_those_of_one_craft_after_the_other() -> None:
    """The criteria on stacks of matrices against those on named modes, on random small motions:
    just above the least damping a craft is accepted, just below it is not."""
    random = np.random.default_rng(11)
    ways = (
        (yaw_boundary, with_yaw_aid, lateral_is_acceptable),
        (pitch_boundary, with_pitch_aid, pitch_is_acceptable),
        (fast_pitch_boundary, with_pitch_aid, fast_pitch_is_acceptable),
    )
    checked = 0
    for _ in range(12):
        rates = random.normal(size=(6, 6)) * np.array([0.2, 0.3, 2.0, 0.3, 0.3, 0.3])[:, None]
        rates -= np.diag([0.1, 0.3, 3.0, 0.5, 0.5, 0.3])
        velocity, gravity = np.array([14.0, 0.0, 1.0]), GRAVITY * np.array([-0.07, 0.0, 1.0])
        motion = SmallMotion(1.5, np.diag([0.08, 0.05, 0.11]), velocity, gravity, rates)
        for boundary_of, aided, accepted in ways:
            boundary = boundary_of(motion)
            for k, c in zip(boundary.stiffness[::5], boundary.damping[::5], strict=True):
                if not np.isfinite(c):
                    continue
                assert accepted(aided(motion, float(k), 1.0001 * float(c)))
                if c > 0.0:
                    assert not accepted(aided(motion, float(k), 0.995 * float(c)))
                    checked += 1
    assert checked > 30


@pytest.mark.parametrize(
    ("lowest", "stable"), [(-28.0, "above"), (-26.5, "above"), (-25.8, NOT_KNOWN)]
)
def test_a_neutral_fold_near_an_end_of_the_folds_needs_the_sign_there(lowest, stable) -> None:
    """The same line, known to one degree: at an end 0.8 degrees from its zero it is not."""
    study = SimpleNamespace(
        plan=SimpleNamespace(folds_deg=(lowest, 50.0)),
        effect=lambda fold: -0.01 * (fold + 25.0),
        effect_widths=lambda fold, slope: (0.004, 0.006),
    )
    assert _Study.stable_side(study, NeutralFold(-25.0, -0.01), 1.0) == stable


@pytest.mark.parametrize("half_width", [float("nan"), 1.0])
def test_no_side_of_a_neutral_fold_is_stable_where_no_error_is_known(half_width: float) -> None:
    """At the fold, or only beside it, where the rotors' tables may end."""
    study = SimpleNamespace(
        plan=SimpleNamespace(folds_deg=(-50.0, 50.0)),
        effect=lambda fold: -0.01 * (fold + 25.0),
        effect_widths=lambda fold, slope: (float("nan"), 0.006),
    )
    found = _Study.stable_side(study, NeutralFold(-25.0, -0.01), half_width)
    assert found == NOT_KNOWN


@pytest.mark.parametrize(
    ("slope", "stalls_below", "stable"),
    [(-0.01, -90.0, "above"), (0.01, -90.0, "below"), (0.01, -26.0, NOT_KNOWN)],
)
def test_a_side_of_a_neutral_fold_is_stable_only_where_its_sign_is_known(
    slope: float, stalls_below: float, stable: str
) -> None:
    """Cl_beta a straight line through zero at -25 degrees, known to 0.01 either way, so to one
    degree; below a fold with stalled strips it is known to 0.2."""
    study = SimpleNamespace(
        plan=SimpleNamespace(folds_deg=(-50.0, 50.0)),
        effect=lambda fold: slope * (fold + 25.0),
        effect_widths=lambda fold, slope: (0.004, 0.2 if fold < stalls_below else 0.006),
    )
    found = _Study.stable_side(study, NeutralFold(-25.0, slope), 1.0)
    assert found == stable
    row = SimpleNamespace(fold_deg=-25.0, half_width_deg=1.0, stable=found)
    [said] = neutral_sentences(SimpleNamespace(neutral_folds=(row,)))
    known = f"It changes its sign at -25.0 ± 1.0 deg, stable {stable} it."
    open_ = (
        "Whether it changes its sign near -25.0 deg is not known, for its sign beside that is not."
    )
    assert said == (open_ if stable == NOT_KNOWN else known)

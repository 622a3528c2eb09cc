"""Moments about the hinges and loads along the wings: statics, rigid-body laws, derived values."""

import numpy as np
import pytest
from flying_craft import biplane, drive_of, mass_of, monoplane
from numpy.testing import assert_allclose

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mass import TipMass
from vlm.description.models import Biplane, Tips, Wing
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.mass_properties import PointedMass
from vlm.flight.mechanism.drive_limits import (
    fastest,
    folding_between,
    holding_margin,
    moving_margin,
)
from vlm.flight.mechanism.hinge_divergence import divergence, hinge_rates, side_stiffness
from vlm.flight.mechanism.hinge_moments import (
    Turning,
    hinge_moments,
    inertia_moment,
    servo_loads,
    steady_moment,
    weight_moment,
    worst_moment,
)
from vlm.flight.mechanism.wing_bending import wing_bending
from vlm.flight.mechanism.worm import worm_torque
from vlm.lattice.cellule import Grid
from vlm.lattice.patches import HingeLine
from vlm.loads.coefficients import contracted
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.segment_forces import patch_forces

SMALL = Grid(rows=4, strips=12)
AXIS_AFT = HingeLine(np.array([0.0, 0.5, 0.0]), np.array([1.0, 0.0, 0.0]))


def flown(
    craft: FoldingCraft, fold: float, speed: float = 14.0, factor: float = 1.0
) -> tuple[FoldedCraft, LevelFlight]:
    here = craft.symmetric(fold)
    flight = level_flight(here, speed, 1.225, factor)
    assert flight is not None
    return here, flight


# --- the air's part --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("eta", "share", "expected"),
    [(0.5, 0.2104, 0.0447), (0.6, 0.1567, 0.0264), (0.7, 0.1063, 0.0133), (0.8, 0.0605, 0.0050)],
)
def test_hinge_moment_of_the_rectangle(eta: float, share: float, expected: float) -> None:
    """Rectangle of aspect ratio 6, flat: tip lift over lift, and hinge moment over lift times
    half span, by linear lifting-surface theory (derived; given to four and three digits): so
    fast that the angle of attack is small."""
    span, chord = 1.2, 0.2
    tip = 0.5 * (1.0 - eta) * span
    wing = Wing(
        span_m=eta * span, root_chord_m=chord, end_chord_m=chord,
        tips=Tips(span_m=tip, end_chord_m=chord),
    )  # fmt: skip
    mass = mass_of(upper_tip=TipMass(mass_kg=0.05, centre_m=(0.08, 0.5 * tip, 0.0)))
    craft = FoldingCraft(Biplane(title="A rectangle", upper=wing, mass=mass), Grid(4, 32))
    here, flight = flown(craft, 0.0, 70.0)
    air = here.hinge_moments(flight.motion, flight.density)["upper_right"]
    assert air / (flight.lift * 0.5 * span) == pytest.approx(expected, abs=1.2e-4)
    starboard = next(h for h in wing_bending(here, flight) if h.side == "right")
    at_hinge = int(np.argmin(np.abs(starboard.distance_m - starboard.hinge_distance_m)))
    shear = starboard.shear_N[at_hinge] + 0.05 * GRAVITY * np.cos(flight.alpha)
    assert shear / flight.lift == pytest.approx(share, rel=4e-3)


def test_strip_forces_sum_to_the_load_tables() -> None:
    """Two routes to the same wrench: segment by segment, and the bilinear tables."""
    engine = FoldEngine(biplane(flare_deg=6.0), SMALL, wake="craft")
    loads = engine.loads(FoldAngles(30.0, -50.0))
    random = np.random.default_rng(5)
    amounts = random.normal(size=loads.columns)
    for index, one in enumerate(patch_forces(loads, amounts, 1.3)):
        wrench = 1.3 * contracted(loads.wrench.at(0.0)[index], amounts, amounts)
        force, moment = one.shared_to_strips()
        point = loads.reference.moment_point
        about = moment.sum(axis=0) - np.cross(point, force.sum(axis=0))
        scale = np.abs(wrench).max()
        assert_allclose(force.sum(axis=0), wrench[:3], atol=1e-9 * scale)
        assert_allclose(about, wrench[3:], atol=1e-9 * scale)


@pytest.mark.parametrize("fold", [0.0, 35.0, -60.0])
def test_bending_at_the_hinge_is_the_hinge_moment(fold: float) -> None:
    """Sum over the strips against the rigid tip, air and weight together."""
    here, flight = flown(FoldingCraft(biplane(), SMALL), fold)
    parts = hinge_moments(here, flight, 0.0)
    for half in wing_bending(here, flight):
        if half.wing != "upper":
            continue
        at_hinge = int(np.argmin(np.abs(half.distance_m - half.hinge_distance_m)))
        expected = steady_moment(parts[f"upper_{half.side}"])
        # Between the wake's angles one interpolates circulations, the other their products.
        assert half.bending_N_m[at_hinge] == pytest.approx(expected, rel=1e-6, abs=1e-9)
        assert half.bending_N_m[0] == half.shear_N[0] == 0.0


def test_root_shears_carry_the_craft_less_its_body() -> None:
    """Statics: flat wings; shear of all roots = air's force less the tips' weight."""
    here, flight = flown(FoldingCraft(biplane(), SMALL), 0.0)
    roots = sum(half.root_shear_N for half in wing_bending(here, flight))
    tips = 2.0 * 0.06 * GRAVITY * np.cos(flight.alpha)
    assert roots == pytest.approx(-flight.wrench[2] - tips, rel=1e-6)


def test_bending_is_the_integral_of_shear() -> None:
    """dM/ds = -V on an unfolded, unswept wing, by the trapezium rule on the strips."""
    here, flight = flown(FoldingCraft(biplane(), Grid(4, 40)), 0.0)
    half = wing_bending(here, flight)[0]
    order = np.argsort(half.distance_m)
    s, shear = half.distance_m[order], half.shear_N[order]
    rebuilt = np.trapezoid(shear, s)
    assert half.root_bending_N_m == pytest.approx(rebuilt, rel=5e-3)


# --- weight and inertia ----------------------------------------------------------------------


def point_mass(place: tuple[float, float, float]) -> PointedMass:
    return PointedMass(0.4, np.array(place), np.zeros((3, 3)))


def test_weight_of_a_point_on_an_arm() -> None:
    part = point_mass((0.1, 0.8, 0.0))
    assert weight_moment(part, AXIS_AFT, 0.0) == pytest.approx(-0.4 * GRAVITY * 0.3)


def test_centrifugal_force_straightens_a_raised_tip() -> None:
    """m omega^2 r at its arm: a tip raised by 30 degrees rolling about x is pulled down."""
    arm = 0.3
    angle = np.radians(30.0)
    part = point_mass((0.0, 0.5 + arm * np.cos(angle), arm * np.sin(angle)))
    rate = 3.0
    turning = Turning(np.zeros(3), np.array([rate, 0.0, 0.0]), np.zeros(3))
    found = inertia_moment(part, AXIS_AFT, np.zeros(3), turning)
    outward = 0.4 * rate**2 * part.centre[1]
    upward = 0.4 * rate**2 * part.centre[2]
    expected = -outward * arm * np.sin(angle) + upward * arm * np.cos(angle)
    assert found == pytest.approx(expected)
    assert found < 0.0


def test_roll_acceleration_bends_against_it() -> None:
    """-m a at its arm, and the tip's own inertia: starboard going down pushes the tip up."""
    part = PointedMass(0.4, np.array([0.0, 0.8, 0.0]), np.diag([0.002, 0.0, 0.002]))
    # Geometry axes: rolling starboard down turns about -x.
    turning = Turning(np.zeros(3), np.zeros(3), np.array([-5.0, 0.0, 0.0]))
    expected = 0.4 * 5.0 * 0.8 * 0.3 + 0.002 * 5.0
    assert inertia_moment(part, AXIS_AFT, np.zeros(3), turning) == pytest.approx(expected)


def test_tip_made_of_points_feels_the_sum_of_their_inertia_forces() -> None:
    random = np.random.default_rng(2)
    masses = random.uniform(0.01, 0.05, size=30)
    places = random.uniform([0.0, 0.5, -0.1], [0.2, 0.9, 0.3], size=(30, 3))
    centre = masses @ places / masses.sum()
    inertia = sum(
        m * ((r @ r) * np.eye(3) - np.outer(r, r))
        for m, r in zip(masses, places - centre, strict=True)
    )
    whole = PointedMass(float(masses.sum()), centre, np.asarray(inertia))
    turning = Turning(*random.normal(size=(3, 3)))
    craft_centre = np.array([0.05, 0.0, -0.1])
    line = HingeLine(np.array([0.0, 0.5, 0.02]), np.array([0.96, -0.28, 0.0]))
    expected = 0.0
    for m, r in zip(masses, places, strict=True):
        arm = r - craft_centre
        spin = np.cross(turning.rate, np.cross(turning.rate, arm))
        acceleration = turning.acceleration + np.cross(turning.rate_change, arm) + spin
        expected -= float(line.axis @ np.cross(r - line.point, m * acceleration))
    assert inertia_moment(whole, line, craft_centre, turning) == pytest.approx(expected)


def test_pull_up_multiplies_the_weight_of_a_tip() -> None:
    """At load factor n a tip weighs n times as much (but for its small pitching acceleration)."""
    folding = FoldingCraft(monoplane(), SMALL)
    here, flight = flown(folding, 0.0, 20.0, 3.0)
    parts = hinge_moments(here, flight, 0.0)["upper_left"]
    assert parts["pull_up"] == pytest.approx(2.0 * parts["weight"], rel=0.02)


def test_port_and_starboard_hinges_carry_the_same_and_mirrored_in_roll() -> None:
    here, flight = flown(FoldingCraft(biplane(), SMALL), 25.0)
    one, other = (hinge_moments(here, flight, sign * 2.0) for sign in (1.0, -1.0))
    for name, value in one["upper_left"].items():
        assert other["upper_right"][name] == pytest.approx(value, rel=1e-9, abs=1e-12), name


def test_worst_moment_looks_both_ways() -> None:
    parts = dict.fromkeys(("air", "weight", "pull_up", "roll_air", "roll_rate"), 0.0)
    parts |= {"air": 1.0, "roll_acceleration": -0.5}
    assert worst_moment(parts) == pytest.approx(1.5)


def test_a_free_hinge_would_coast_where_air_and_weight_balance() -> None:
    """The steady moment passes through zero where the tip's weight balances its lift: a heavy
    tip on a light craft."""
    heavy = TipMass(mass_kg=0.5, centre_m=(0.1, 0.15, 0.0))
    folding = FoldingCraft(monoplane(mass=mass_of(body_kg=0.6, upper_tip=heavy)), SMALL)
    here, flight = flown(folding, 0.0)
    parts = hinge_moments(here, flight, 0.0)["upper_right"]
    assert parts["air"] > 0.0 > steady_moment(parts)


# --- drive -----------------------------------------------------------------------------------


def test_servo_of_a_side_moves_all_its_tips() -> None:
    """Virtual work: the sum of the tips' moments, each times its linkage."""
    wing = {"span_m": 0.9, "root_chord_m": 0.2, "end_chord_m": 0.2}
    tips = {"span_m": 0.25, "end_chord_m": 0.2}
    craft = Biplane.model_validate(
        {
            "title": "Four tips",
            "upper": wing | {"tips": tips},
            "lower": wing | {"tips": tips | {"linkage": -1.0}},
            "arrangement": {"gap_m": 0.4},
            "mass": mass_of(lower_tip=TipMass(mass_kg=0.06, centre_m=(0.1, 0.12, 0.0))),
            "actuator": drive_of(),
        }
    )
    here, flight = flown(FoldingCraft(craft, SMALL), 20.0)
    parts = {name: steady_moment(one) for name, one in hinge_moments(here, flight, 0.0).items()}
    together = servo_loads(here, flight, "side")
    assert together["left"] == pytest.approx([parts["upper_left"] - parts["lower_left"]])
    single = servo_loads(here, flight, "tip")
    assert single["left"] == pytest.approx([parts["upper_left"], -parts["lower_left"]])


def test_limits_are_where_the_margin_ends() -> None:
    drive = drive_of(servo_stall_torque_N_m=0.06)
    folding = FoldingCraft(load_biplane("tideline"), SMALL)
    margin = moving_margin(folding, drive, 0.1, 1.225)
    found = fastest(margin, [60.0, 85.0], 12.0, 80.0)
    assert found.airspeed is not None
    assert found.fold_deg is not None
    here, flight = flown(folding, found.fold_deg, found.airspeed)
    moment = max((m for each in servo_loads(here, flight, "tip").values() for m in each), key=abs)
    needed = max(worm_torque(drive, s * moment, 0.1) for s in (-1.0, 1.0))
    assert needed == pytest.approx(0.06, rel=2e-3)


def test_holding_fails_at_once_where_the_limit_is_small() -> None:
    folding = FoldingCraft(biplane(), SMALL)
    weak = holding_margin(folding, drive_of(hinge_moment_limit_N_m=0.05), 1.225)
    assert fastest(weak, [0.0], 14.0, 60.0).fails_already
    strong = holding_margin(folding, drive_of(hinge_moment_limit_N_m=500.0), 1.225)
    assert fastest(strong, [0.0], 14.0, 40.0).airspeed is None


def test_folding_with_the_lift_is_quicker_and_cheaper_than_against_it() -> None:
    folding = FoldingCraft(biplane(), SMALL)
    up = folding_between(folding, drive_of(), 14.0, 1.225, -40.0, 0.0)
    down = folding_between(folding, drive_of(), 14.0, 1.225, 0.0, -40.0)
    assert up is not None
    assert down is not None
    for friction in up:
        assert up[friction].time < down[friction].time
        assert up[friction].energy < down[friction].energy
        assert up[friction].work == pytest.approx(-down[friction].work, rel=1e-9)


# --- divergence ------------------------------------------------------------------------------


@pytest.mark.parametrize("fold", [0.0, 25.0, -40.0])
def test_rates_of_the_hinge_moment_are_those_of_differences(fold: float) -> None:
    """Flat tips too, whose bound vortices lie in one line with the wing's."""
    craft = biplane(flare_deg=5.0)
    folding, engine = FoldingCraft(craft, SMALL), FoldEngine(craft, SMALL)
    alpha, step = np.radians(5.0), 0.02
    exact = hinge_rates(engine.loads(FoldAngles.symmetric(fold)), float(alpha), 14.0, 1.225)
    assert exact is not None

    def moments(right: float) -> np.ndarray:
        here = folding.at(FoldAngles(fold, right))
        found = here.hinge_moments(here.motion(14.0, float(alpha)), 1.225)
        return np.array([found["upper_left"], found["upper_right"]])

    slope = (moments(fold + step) - moments(fold - step)) / np.radians(2.0 * step)
    assert_allclose(exact[:, 1], slope, rtol=1e-5, atol=1e-7)


def test_flared_hinges_hold_the_tip_back_and_reversed_flare_drives_it_on() -> None:
    """Castrichini et al., J. Aircraft 54 (2017): raising a tip about a flared hinge turns it
    nose down, which restores it; the other way round it diverges."""
    slopes = []
    for flare in (12.0, -12.0):
        engine = FoldEngine(monoplane(flare_deg=flare), SMALL)
        rates = hinge_rates(engine.loads(FoldAngles()), float(np.radians(3.0)), 14.0, 1.225)
        assert rates is not None
        slopes.append(rates[1, 1])
    assert slopes[0] < 0.0 < slopes[1]


def test_divergence_speed_scales_with_the_root_of_stiffness() -> None:
    """q_D proportional to stiffness at a fixed angle of attack (Bisplinghoff, Ashley & Halfman,
    Aeroelasticity, typical section): four times the stiffness, twice the speed."""
    engine = FoldEngine(monoplane(flare_deg=-15.0), SMALL)
    loads = engine.loads(FoldAngles())

    def rates_at(speed: float) -> np.ndarray | None:
        return hinge_rates(loads, 0.05, speed, 1.225)

    soft = divergence(rates_at, side_stiffness(loads, 1.0), 2.0, 90.0)
    stiff = divergence(rates_at, side_stiffness(loads, 4.0), 2.0, 90.0)
    assert soft is not None
    assert stiff is not None
    assert soft.airspeed is not None
    assert stiff.airspeed == pytest.approx(2.0 * soft.airspeed, rel=1e-4)
    matrix = rates_at(soft.airspeed)
    assert matrix is not None
    assert np.linalg.det(matrix - np.eye(2)) == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("cross", [0.3, -0.3])
@pytest.mark.parametrize(("port", "starboard"), [(1.0, 1.0), (1.3, 0.9), (0.9, 1.3)])
def test_tips_that_help_each_other_diverge_together(
    cross: float, port: float, starboard: float
) -> None:
    """Of J = V^2 [[a, c], [c, b]] the strongest root is V^2 ((a + b) / 2 + sqrt(((a - b) / 2)^2 +
    c^2)), and its tips go the same way where c is positive (eigenvectors of a symmetric matrix)."""
    matrix = np.array([[port, cross], [cross, starboard]])
    root = 0.5 * (port + starboard) + np.hypot(0.5 * (port - starboard), cross)
    for stiffness in (400.0, 1.0, 1e6):
        found = divergence(lambda speed: speed**2 * matrix, stiffness, 2.0, 90.0)
        assert found is not None
        assert found.symmetric == (cross > 0.0)
        at = float(np.clip(np.sqrt(stiffness / root), 2.0, 90.0))
        assert found.turning == pytest.approx(root * at**2, rel=1e-4)
        assert found.airspeed == (None if at == 90.0 else pytest.approx(at, rel=1e-4))


def test_no_divergence_is_reported_with_how_far_it_was_looked_for() -> None:
    engine = FoldEngine(monoplane(flare_deg=12.0), SMALL)
    loads = engine.loads(FoldAngles())
    found = divergence(lambda speed: hinge_rates(loads, 0.05, speed, 1.225), 5.0, 5.0, 60.0)
    assert found is not None
    assert found.airspeed is None
    assert found.searched == 60.0


# --- strips ------------------------------------------------------------------------------------


def test_strips_of_a_flat_wing_add_up_to_its_lift() -> None:
    """The sum of cl chord width is CL S, chordwise vortices included; by circulation alone it
    misses what they carry."""
    from vlm.loads.coefficients import coefficients
    from vlm.loads.craft_loads import craft_loads
    from vlm.loads.parts import strip_loads
    from vlm.loads.state import FlightState

    lattice = FoldingCraft(monoplane(), SMALL).symmetric(0.0).loads.lattice
    loads, state = craft_loads(lattice, fold_rates=False), FlightState(alpha=np.radians(8.0))
    strips = strip_loads(loads, state)
    area = loads.reference.area
    total = sum(one.cl * one.chord_m * one.width_m for one in strips) / area
    assert total == pytest.approx(coefficients(loads, state).CL, rel=1e-9)
    bare = sum(2.0 * one.circulation_m2_s / state.airspeed * one.width_m for one in strips) / area
    assert abs(bare - total) > 1e-3 * total


def test_strips_of_a_folded_wing_add_up_across_the_span() -> None:
    """Tips straight up carry no lift: what their strips carry is side force, either way."""
    from vlm.loads.craft_loads import craft_loads
    from vlm.loads.parts import strip_loads
    from vlm.loads.state import FlightState

    lattice = FoldingCraft(monoplane(fold_max_deg=90.0), SMALL).symmetric(90.0).loads.lattice
    loads, state = craft_loads(lattice, fold_rates=False), FlightState(alpha=np.radians(6.0))
    amounts = state.amounts(loads.reference, loads.columns)
    wrench = np.einsum("pabk,a,b->pk", loads.surface.wrench, amounts, amounts)
    for side, sense in (("right", -1.0), ("left", 1.0)):
        own = [p.body == f"upper_{side}" for p in loads.lattice.patches]
        force = 2.0 * wrench[own].sum(axis=0)[1]
        tips = [s for s in strip_loads(loads, state) if s.side == side and s.part == "tip"]
        assert tips
        carried = sum(one.cl * one.chord_m * one.width_m for one in tips)
        assert sense * carried == pytest.approx(force, rel=1e-6)

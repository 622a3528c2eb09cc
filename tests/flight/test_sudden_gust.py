"""Sudden gusts: published formulas (from memory), single states of the exact lattice, and curves of
lift made up so that the answer is known by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from thin_craft import thin

from vlm import open_craft
from vlm.flight.craft import sudden_gust as gusts
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.craft.rotor_rates import NOT_KNOWN, RotorRates
from vlm.lattice.cellule import Grid

GRID, AIRSPEED, DENSITY, GRAVITY = Grid(4, 10), 20.0, 1.225, 9.80665
NO_BODIES = DragBodies(np.zeros((0, 3)), np.zeros((0, 3)))
CASES = [("tideline", 0.0), ("tideline", -60.0), ("winnow", 20.0), ("turnstone", 40.0)]


def level(name: str, fold: float):
    """A craft of wings alone at a fold, and its level flight."""
    craft = thin(name).model_copy(update={"fins": ()})
    folded = FoldingCraft(craft, GRID, NO_BODIES, sections=False).symmetric(fold)
    flight = level_flight(folded, AIRSPEED, DENSITY)
    assert flight is not None
    return craft, folded, flight


def asked(name: str, craft, fold: float, alpha: float):
    """One state of the exact lattice, as of the command ``point``."""
    front = replace(open_craft(name), description=craft)
    return front.point(alpha=np.degrees(alpha), fold=fold, airspeed=AIRSPEED, rows=4, strips=10,
                       errors=False).document  # fmt: skip


@pytest.mark.parametrize(("name", "fold"), CASES)
def test_a_small_gust_is_that_of_the_sharp_edged_gust_formula(name, fold):
    """n = 1 + rho U w a S / (2 m g) (any text on gust loads; from memory), a the slope of the force
    across the body, C_L,alpha and the drag that the gust tilts upward."""
    craft, folded, flight = level(name, fold)
    point = asked(name, craft, fold, flight.alpha)
    slope = point["derivatives"]["stability"]["CL_alpha"] + point["coefficients"]["CDi_surface"]
    area = point["reference"]["area_m2"]
    expected = DENSITY * AIRSPEED * slope * area / (2.0 * folded.masses.mass * GRAVITY)
    assert gusts.gust_slope(folded, flight, 0.0) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(("name", "fold"), CASES)
def test_the_gust_that_is_found_reaches_the_load_factor_in_the_exact_lattice(name, fold):
    """The force of one state at the gust's angle and speed, turned from its wind to the path, with
    the thrust of another at level flight's."""
    craft, folded, flight = level(name, fold)
    reach = gusts.gust_reach(folded, flight, 2.5)
    turn = np.arctan2(reach.speed, AIRSPEED)
    area, weight = folded.loads.reference.area, folded.masses.mass * GRAVITY
    before = asked(name, craft, fold, flight.alpha)["coefficients"]
    within = asked(name, craft, fold, flight.alpha + turn)["coefficients"]
    pressure = 0.5 * DENSITY * area * AIRSPEED**2
    # Along the path thrust holds the drag; the rest of the weight is lift.
    thrust = pressure * before["CDi_surface"] / np.cos(flight.alpha)
    up = within["CL"] * np.cos(turn) + within["CDi_surface"] * np.sin(turn)
    up *= pressure * (1.0 + (reach.speed / AIRSPEED) ** 2)
    assert (up + thrust * np.sin(flight.alpha)) / weight == pytest.approx(2.5, rel=1e-4)
    least = np.linspace(0.0, reach.speed - 1e-3, 40)
    assert (gusts.gust_load_factors(folded, flight, least) < 2.5).all()


def test_the_gust_alleviation_factor_by_its_definition():
    """14 CFR 23.341(c), from memory: n = 1 + K rho U a S U_de / (2 m g), K = 0.88 mu/(5.3 + mu),
    mu = 2 (m/S) / (rho c a). Invented craft."""
    mass, area, chord, slope = 3.0, 0.5, 0.2, 4.2
    mu = 2.0 * mass / area / (DENSITY * chord * slope)
    factor = 0.88 * mu / (5.3 + mu)
    derived = 6.0
    n = 1.0 + factor * DENSITY * AIRSPEED * slope * area * derived / (2.0 * mass * GRAVITY)
    sudden = (n - 1.0) * 2.0 * mass * GRAVITY / (DENSITY * AIRSPEED * slope * area)
    flight = SimpleNamespace(airspeed=AIRSPEED)
    assert gusts.eased_gust(flight, sudden, n, chord) == pytest.approx(derived, rel=1e-12)
    # By hand: 0.22 m/s over 0.88, and a fifth of the gust.
    assert gusts.eased_half_width(derived, 0.22) == pytest.approx(0.25 + 0.2 * derived)


def made_up(lift, alpha=0.0, thrust=0.0):
    """A craft of one kilogram whose force down is -g lift(w), with w the speed down its body."""

    def wrenches(motions, density):
        assert density == DENSITY
        force = np.zeros((len(motions), 6))
        force[:, 2] = -GRAVITY * np.array([lift(w) for w in motions[:, 2]])
        return force

    craft = SimpleNamespace(
        wrenches=wrenches, masses=SimpleNamespace(mass=1.0), stall=lambda *_: (-0.1, 0.5),
        wrench=lambda motion, density: wrenches(motion[None, :], density)[0],
    )  # fmt: skip
    motion = np.array([AIRSPEED * np.cos(alpha), 0.0, AIRSPEED * np.sin(alpha), 0.0, 0.0, 0.0])
    flight = SimpleNamespace(airspeed=AIRSPEED, density=DENSITY, alpha=alpha, thrust=thrust,
                             motion=motion)  # fmt: skip
    return craft, flight


def hill(w: float) -> float:
    """Highest, 3.25, at a gust of 3 m/s."""
    return 3.25 - 0.25 * (w - 3.0) ** 2


def test_wings_that_stall_first_reach_what_they_reach():
    craft, flight = made_up(hill)
    found = gusts.gust_reach(craft, flight, 3.5)
    assert found.speed == pytest.approx(3.0, abs=0.1)  # steps of half a degree
    assert found.load_factor == pytest.approx(3.25, abs=2e-3)
    rising = gusts.gust_reach(craft, flight, 3.0)
    assert rising == gusts.GustReach(pytest.approx(2.0), 3.0)  # not 4, on the far side
    assert gusts.gust_slope(craft, flight, 2.0) == pytest.approx(0.5)
    assert gusts.gust_reach(craft, flight, 1.0) == gusts.GustReach(0.0, 1.0)


def highest(craft, flight, speed) -> gusts.GustReach:
    return max(gusts.reached_on_the_way(craft, flight, speed), key=lambda one: one.load_factor)


@pytest.mark.parametrize(("speed", "at", "most"), [(2.0, 2.0, 3.0), (6.0, 3.0, 3.25)])
def test_a_gust_passes_the_highest_load_on_its_way(speed, at, most):
    craft, flight = made_up(hill)
    found = highest(craft, flight, speed)
    assert found.speed == pytest.approx(at, abs=0.1)
    assert found.load_factor == pytest.approx(most, abs=2e-3)


def test_angles_beyond_25_degrees_do_not_count():
    """20 tan 25 deg is 9.33 m/s; lift that grows without end is taken no farther."""
    craft, flight = made_up(lambda w: 1.0 + 0.1 * w)
    edge = AIRSPEED * np.tan(np.radians(25.0))
    assert highest(craft, flight, 50.0).speed == pytest.approx(edge)
    assert gusts.gust_reach(craft, flight, 2.0).load_factor < 2.0


def test_no_agreement_is_no_gust():
    craft, flight = made_up(lambda w: np.nan)
    assert gusts.gust_reach(craft, flight, 2.0) is None
    assert gusts.reached_on_the_way(craft, flight, 2.0) == []
    craft, flight = made_up(lambda w: 1.0 + w if w < 0.5 or w > 1.5 else np.nan)
    assert gusts.gust_reach(craft, flight, 2.0) is None  # at 1 m/s, where it is not known


def test_what_the_force_is_across():
    """Nose up 0.3 rad: force and thrust by their parts across a level path, at once."""
    craft, flight = made_up(lambda w: 2.0, alpha=0.3, thrust=GRAVITY)
    found = gusts.gust_load_factors(craft, flight, np.array([0.0, 5.0]))
    assert found == pytest.approx([2.0 * np.cos(0.3) + np.sin(0.3)] * 2)
    motions = gusts.gust_motions(flight, np.array([0.0, 5.0]))
    assert np.hypot(motions[1, 0], motions[1, 2]) == pytest.approx(np.hypot(AIRSPEED, 5.0))
    turned = np.arctan2(motions[1, 2], motions[1, 0])
    assert turned == pytest.approx(0.3 + np.arctan(5.0 / AIRSPEED))
    assert gusts.gust_alpha(flight, 5.0) == pytest.approx(turned)


def test_rotors_answer_the_gust():
    """-0.6 N for each m/s down the body: in 4 m/s 2.4 N more, over 9.81 N."""
    craft, flight = made_up(lambda w: 1.0)
    rates = np.zeros((6, 6))
    rates[2, 2] = -0.6
    rotors = RotorRates(rates, np.zeros((6, 6)))
    found = gusts.gust_load_factors(craft, flight, np.array([4.0]), rotors)
    assert found == pytest.approx([1.0 + 2.4 / GRAVITY])
    assert gusts.gust_load_factors(craft, flight, np.array([4.0]), NOT_KNOWN) == [1.0]

"""Slipstream in point, sweep, roll, lateral, hinge: the powered craft's loads, or the plain ones.

Sources: momentum theory for the velocity in the wake (Rankine and Froude; J. G. Leishman,
Principles of Helicopter Aerodynamics, chapter 2, from memory); the full trim of power curves, which
balances forces and moments on its own; mirror images.
"""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.craft.blown_craft import BlownCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.section_change import SectionStrips
from vlm.flight.motion.roll_authority import Air
from vlm.flight.trim.condition import FlightConditions
from vlm.flight.trim.powered import POWER_GRID, flight_loads, powered_craft
from vlm.lattice.cellule import Grid, build_cellule
from vlm.loads.state import FlightState
from vlm.sections.coupling import strip_onset
from vlm.study.hinge.moments import moment_row
from vlm.study.hinge.slipstream import HingeSlipstream
from vlm.study.lateral.study import LateralPlan
from vlm.study.lateral.study import _Study as lateral_study_of
from vlm.study.point.blown_values import BlownSetting
from vlm.study.point.document import point_document
from vlm.study.point.point import solve_point
from vlm.study.point.sizes import tip_sizes, wing_areas
from vlm.study.point.slipstream import MATTERS, Slipstreams, check_thrust
from vlm.study.roll.study import RollPlan
from vlm.study.roll.study import _Study as roll_study_of
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.plan import SweepPlan, as_document, plan_from
from vlm.study.sweep.running import run_plan

SMALL = Grid(3, 12)
DENSITY, SPEED = 1.225, 10.0
FLAT = FoldAngles()
ROLLING = FoldAngles(-20.0, 20.0)


@pytest.fixture(scope="module")
def tideline() -> Biplane:
    return load_biplane("tideline")


@pytest.fixture(scope="module")
def conditions(tideline: Biplane) -> FlightConditions:
    return FlightConditions(tideline, DENSITY, SMALL)


@pytest.fixture(scope="module")
def thrusts(conditions: FlightConditions) -> Any:
    trim = conditions.at(FLAT, SPEED, Modelling.ROTORS)
    assert trim is not None
    return np.array(trim.thrusts)


@pytest.fixture(scope="module")
def plain(tideline: Biplane) -> FoldingCraft:
    return FoldingCraft(tideline, SMALL)


def test_a_strip_far_behind_a_disc_meets_the_wake_of_momentum_theory(tideline: Biplane) -> None:
    """q / q0 = ((V + 2 v) / V)^2 with v = -V/2 + sqrt(V^2/4 + T / (2 rho A)), in closed form."""
    radius, thrust = 6.0, 800.0
    rotor = tideline.rotors[0].model_copy(
        update={"position_m": (-60.0 * radius, 0.0, -0.18), "radius_m": radius}
    )
    behind = tideline.model_copy(update={"rotors": (rotor,)})
    found = SectionStrips(behind, FLAT).pressure_ratios(
        np.array([[SPEED, 0.0, 0.0]]), DENSITY, np.array([thrust])
    )
    v = -0.5 * SPEED + np.sqrt(0.25 * SPEED**2 + thrust / (2.0 * DENSITY * np.pi * radius**2))
    np.testing.assert_allclose(found, ((SPEED + 2.0 * v) / SPEED) ** 2, rtol=1e-4)
    assert found.max() > 1.1


def test_strips_meet_what_they_meet_in_power_at_the_same_trim(
    tideline: Biplane, conditions: FlightConditions, thrusts: Any
) -> None:
    trim = conditions.trim(FLAT, SPEED)
    assert trim is not None
    met = trim.loads.coupled.onset
    strips = SectionStrips(tideline, FLAT)
    stream = trim.loads.stream
    air = conditions.powered(FLAT).air
    wind = strips.wind(stream, air.density_kg_m3, thrusts)
    velocity = stream[:, None, :] + wind[:, : len(strips.model.controls)]
    own = strip_onset(strips.model, velocity, air)
    for name in ("tangential", "normal", "spanwise"):
        np.testing.assert_allclose(getattr(own, name), getattr(met, name), rtol=1e-12, atol=1e-12)


def test_blown_level_flight_is_the_full_trim(
    tideline: Biplane, plain: FoldingCraft, conditions: FlightConditions, thrusts: Any
) -> None:
    """Two ways to one state: the trim balances three equations with the rotors' own forces, level
    flight only the lift. Without the slipstream the angle misses by more than the band."""
    trim = conditions.at(FLAT, SPEED, Modelling.ROTORS)
    blown = level_flight(BlownCraft(plain, thrusts).at(FLAT), SPEED, DENSITY)
    without = level_flight(plain.at(FLAT), SPEED, DENSITY)
    assert trim is not None
    assert blown is not None
    assert without is not None
    assert np.degrees(blown.alpha) == pytest.approx(np.degrees(trim.alpha), abs=0.07)
    assert blown.thrust == pytest.approx(trim.thrust, rel=0.01)
    assert np.degrees(without.alpha - trim.alpha) > 0.15
    assert blown.modelling is Modelling.BLOWN_SECTIONS


def test_no_thrust_is_the_plain_craft(plain: FoldingCraft) -> None:
    """To rounding: its lattice is asked with and without wind one after the other."""
    still = BlownCraft(plain, np.zeros(4)).at(ROLLING)
    motions = np.array([still.motion(SPEED, 0.12, 0.05, np.array([0.4, 0.1, -0.2]))])
    here, there = (craft.wrenches(motions, DENSITY) for craft in (still, plain.at(ROLLING)))
    np.testing.assert_allclose(here, there, rtol=1e-12)


def test_rolling_moment_by_way_of_power(tideline: Biplane, plain: FoldingCraft) -> None:
    """What the slipstream adds, against the loads that power curves are made of."""
    alpha, thrusts = 0.15, np.array([0.3, 1.2, 0.5, 0.9])
    powered = powered_craft(tideline, ROLLING, grid=POWER_GRID)
    state = (np.array([SPEED, SPEED]), np.array([alpha, alpha]))
    loads = flight_loads(powered, *state, np.array([thrusts, 0.0 * thrusts]))
    _, moments = loads.wings()
    expected = -(moments[0, 0] - moments[1, 0])
    motion = plain.at(ROLLING).motion(SPEED, alpha)
    density = powered.air.density_kg_m3
    found = (
        BlownCraft(plain, thrusts).at(ROLLING).wrench(motion, density)
        - plain.at(ROLLING).wrench(motion, density)
    )[3]
    assert abs(expected) > 0.01
    assert found == pytest.approx(expected, rel=1e-9)


def test_the_mirror_image_rolls_the_other_way(plain: FoldingCraft, tideline: Biplane) -> None:
    places = [rotor.position_m for rotor in tideline.rotors]
    given = np.array([0.3, 1.2, 0.5, 0.9])
    swapped = np.array([
        given[places.index((x, -y, z))] for x, y, z in places
    ])  # fmt: skip
    assert not np.array_equal(swapped, given)
    one, other = BlownCraft(plain, given), BlownCraft(plain, swapped)
    folds = FoldAngles(-40.0, 10.0)
    here, there = one.at(folds), other.at(folds.mirrored())
    motion = here.motion(SPEED, 0.1, 0.06)
    wrench = here.wrench(motion, DENSITY)
    mirrored = there.wrench(here.motion(SPEED, 0.1, -0.06), DENSITY)
    np.testing.assert_allclose(mirrored, [1, -1, 1, -1, 1, -1] * wrench, rtol=1e-8, atol=1e-9)


def test_a_point_without_thrust_is_the_plain_point(tideline: Biplane) -> None:
    state = FlightState(0.12, 0.03, airspeed=SPEED, density=DENSITY)
    documents = [
        point_document(solve_point(tideline, ROLLING, state, grid=SMALL, thrust=thrust))
        for thrust in (None, 0.0)
    ]
    assert documents[0].pop("slipstream") is None
    assert documents[1].pop("slipstream")["mean_pressure_ratio"] == 1.0
    assert documents[0] == documents[1]


def test_slopes_of_a_point_are_differences_of_points(tideline: Biplane) -> None:
    """Derivatives with slipstream against whole points a step to either side."""
    base = FlightState(0.12, 0.0, airspeed=SPEED, density=DENSITY)
    keys: dict[str, Any] = {"grid": Grid(2, 8), "errors": False, "thrust": 4.0}
    found = solve_point(tideline, FLAT, base, **keys).derivatives
    for name, step in (("alpha", 2e-3), ("beta", 2e-3), ("p_hat", 2e-3), ("r_hat", 2e-3)):
        ends = [
            solve_point(
                tideline, FLAT, replace(base, **{name: getattr(base, name) + s}), **keys
            ).coefficients
            for s in (step, -step)
        ]
        short = name.removesuffix("_hat")
        for force in ("CL", "Cm") if short == "alpha" else ("Cl", "Cn", "CY"):
            slope = (getattr(ends[0], force) - getattr(ends[1], force)) / (2.0 * step)
            assert found["body"][f"{force}_{short}"] == pytest.approx(slope, rel=2e-3, abs=2e-4)


def test_roll_of_a_fold_in_the_slipstream_is_a_difference_of_folds(tideline: Biplane) -> None:
    """The slipstream's part alone of Cl_fold_left, as it is small beside the whole."""
    state = FlightState(np.array([0.12]), airspeed=SPEED, density=DENSITY)
    cellule = build_cellule(tideline, POWER_GRID)
    sizes = wing_areas(cellule), tip_sizes(cellule)
    base = FoldAngles(-40.0, 0.0)

    def changes(fold: float) -> Any:
        setting = BlownSetting(tideline, FoldAngles(fold, 0.0), POWER_GRID, np.full(4, 2.0))
        return setting.changes(state, *sizes)

    found = changes(base.left_deg)
    ends = [changes(base.left_deg + step) for step in (1.0, -1.0)]
    for name in ("CL", "Cl", "Cn"):
        slope = (ends[0][name] - ends[1][name]) / np.radians(2.0)
        assert found[f"{name}_fold_left"] == pytest.approx(slope, rel=0.01)
    assert abs(found["Cl_fold_left"]) > 1e-4


def test_strips_and_wings_add_up_to_the_blown_lift(tideline: Biplane) -> None:
    state = FlightState(0.12, 0.0, airspeed=SPEED, density=DENSITY)
    found = solve_point(tideline, FLAT, state, grid=SMALL, errors=False, thrust=4.0)
    wings = sum(wing.CL * wing.area for wing in found.wings.values())
    area = found.loads.reference.area
    assert wings == pytest.approx(found.coefficients.CL * area, rel=1e-9)
    strips = sum(s.cl * s.chord_m * s.width_m for s in found.strips)
    assert strips == pytest.approx(found.coefficients.CL * area, rel=0.01)
    bare = solve_point(tideline, FLAT, state, grid=SMALL, errors=False)
    assert found.coefficients.CL > 1.03 * bare.coefficients.CL
    assert np.isnan(found.coefficients.span_efficiency)


def test_a_sweep_holds_the_points(tideline: Biplane) -> None:
    plan = SweepPlan((-20.0, 15.0), (3.0, 8.0), grid=Grid(2, 8), airspeed=SPEED, thrust="trim")
    assert plan_from(json.loads(json.dumps(as_document(plan)))) == plan
    assert "thrust" not in as_document(replace(plan, thrust=None))
    dataset = sweep_dataset(tideline, plan, run_plan(tideline, plan)[0])
    state = FlightState(np.radians(8.0), airspeed=SPEED, density=plan.density)
    for fold in plan.folds_deg:
        point = solve_point(
            tideline, FoldAngles.symmetric(fold), state, grid=plan.grid, errors=False, thrust="trim"
        )
        there = dataset.sel(fold=fold, alpha=8.0, beta=0.0)
        assert float(there["CL"]) == pytest.approx(point.coefficients.CL, rel=1e-9)
        assert float(there["Cl_beta"]) == pytest.approx(
            point.derivatives["body"]["Cl_beta"], rel=1e-7
        )
        assert point.slipstream is not None
        assert float(there["slipstream_thrust_N"]) == pytest.approx(point.slipstream.thrust_N)


def test_studies_say_that_it_is_on_and_when_it_is_missed(tideline: Biplane) -> None:
    """A body with much drag asks for much thrust: what that changes is reported with its share."""
    body = tideline.drag_areas[0].model_copy(update={"area_m2": 0.12})
    draggy = tideline.model_copy(update={"drag_areas": (body,)})
    plan = LateralPlan(Air(SPEED, DENSITY), (0.0,), grid=SMALL)
    off, on = (
        lateral_study_of(draggy, replace(plan, thrust=thrust), print) for thrust in (None, "trim")
    )
    rows = [study.shares(0.0) for study in (off, on)]
    assert rows[0].total is not None
    assert rows[1].total is not None
    share = abs(rows[1].total / rows[0].total - 1.0)
    assert share > MATTERS
    (told,) = off.left_out(rows[:1])
    assert told.code == "slipstream_left_out"
    assert told.value == pytest.approx(share, rel=1e-6)
    assert on.left_out(rows[1:]) == []
    assert off.blows([]) is None
    blows = on.slipstreams.row(SectionStrips(draggy, FLAT), FLAT, SPEED, 0.1)
    assert blows is not None
    assert blows.thrust_N == pytest.approx(sum(blows.thrusts_N.values()))
    assert 1.05 < blows.mean_pressure_ratio < blows.highest_pressure_ratio


def test_roll_holds_the_trims_slipstream(tideline: Biplane) -> None:
    plan = RollPlan(Air(SPEED, DENSITY), grid=SMALL, thrust="trim")
    study = roll_study_of(tideline, plan, print)
    assert study.base.modelling is Modelling.BLOWN_SECTIONS
    slow, fast = (study.airspeed_row(speed, None) for speed in (7.0, SPEED))
    assert slow.reason is not None
    assert "trim" in slow.reason
    assert fast.both_apart_20_deg is not None
    slipstreams = Slipstreams(tideline, "trim", FlightConditions(tideline, DENSITY, SMALL))
    craft = slipstreams.over(study.plain, FLAT, SPEED).at(FoldAngles(-20.0, 20.0))
    flight = level_flight(craft, SPEED, DENSITY)
    assert flight is not None
    ahead = np.array([np.cos(flight.alpha), 0.0, np.sin(flight.alpha)])
    rolling = abs(float(flight.wrench[3:] @ ahead))
    assert abs(fast.both_apart_20_deg.rolling_moment_N_m) == pytest.approx(rolling, rel=2e-3)


def test_hinge_holds_the_trims_slipstream(tideline: Biplane, plain: FoldingCraft) -> None:
    slipstreams = Slipstreams(tideline, "trim", FlightConditions(tideline, DENSITY, SMALL))
    actuator = tideline.actuator
    assert actuator is not None
    rough, blowing = FoldingCraft(tideline, Grid(2, 9)), HingeSlipstream(plain, slipstreams)
    row = moment_row(rough, blowing, actuator, 0.0, SPEED, 1.0, DENSITY)
    craft = BlownCraft(plain, slipstreams.thrusts(FLAT, SPEED)).at(FLAT)
    flight = level_flight(craft, SPEED, DENSITY)
    assert flight is not None
    expected = craft.hinge_moments(flight.motion, DENSITY)["upper_left"]
    assert row.hinges["upper_left"].air_N_m == pytest.approx(expected, rel=1e-9)
    still = plain.at(FLAT).hinge_moments(flight.motion, DENSITY)["upper_left"]
    assert expected != pytest.approx(still, rel=1e-5)


@pytest.mark.parametrize(
    ("without", "thrust", "words"),
    [
        ({"rotors": ()}, 3.0, "[[rotors]] is missing"),
        ({"propulsion": None}, 3.0, "[propulsion] is missing"),
        ({"mass": None}, "trim", "[mass] is missing"),
        ({}, 1e4, "thrust_max_N"),
        ({}, -1.0, "0 N or more"),
    ],
)
def test_refusals_name_the_key(tideline: Biplane, without: Any, thrust: Any, words: str) -> None:
    with pytest.raises(InputRefused, match=words.replace("[", r"\[").replace("]", r"\]")):
        check_thrust(tideline.model_copy(update=without), thrust)


def test_refusals_of_a_slipstream_switched_off_and_of_a_craft_that_hangs() -> None:
    off = load_biplane("tideline").overridden({"propulsion.slipstream": False})
    with pytest.raises(InputRefused, match=r"propulsion\.slipstream = false"):
        check_thrust(off, "trim")
    winnow = load_biplane("winnow")
    slipstreams = Slipstreams(winnow, "trim", FlightConditions(winnow, DENSITY, SMALL))
    with pytest.raises(ComputationFailed, match="carried by its rotors"):
        slipstreams.thrusts(FLAT, 8.0)


@pytest.mark.parametrize("command", ["point", "sweep"])
def test_the_command_asks_for_an_airspeed_and_for_a_number(
    command: str, tmp_path: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    more = (
        ["--alpha", "4"] if command == "point" else ["--folds", "0", "-o", str(tmp_path / "a.nc")]
    )
    for words, said in (
        (["--thrust", "2"], "--airspeed is missing"),
        (["--thrust", "much", "--airspeed", "12"], "the word trim"),
        (["--thrust", "-1", "--airspeed", "12"], "0 N or more"),
    ):
        assert main([command, "tideline", *more, *words]) == 2
        assert said in capsys.readouterr().err

"""What the ± of an answer is made of: closed forms, direct trims, refusals, tables and pictures."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.mission import Leg
from vlm.description.uncertainty import Uncertainty
from vlm.errors import InputRefused
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import MissionFlyer
from vlm.flight.plan.mission_rules import flying_schedule, held
from vlm.flight.plan.mission_samples import drawn_energy, filled, sampled_energies
from vlm.flight.trim.drawn_craft import drawn_craft, drawn_power
from vlm.flight.trim.power_book import POWER, power_book
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.power_samples import INPUTS, input_samples, sampled_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.uncertain_keys import (
    STEP,
    MovedCraft,
    key_samples,
    moved,
    response,
    uncertain_keys,
    with_keys,
)
from vlm.lattice.cellule import Grid
from vlm.show.tables.sensitivity import sensitivity_table
from vlm.study.design.changes import checked_key
from vlm.study.design.evaluator import DesignPlan
from vlm.study.design.goals import GoalPlan
from vlm.study.design.sensitivity import BEST, design_sensitivity
from vlm.study.design.study import design_study
from vlm.study.sensitivity import Draws, UncertainInput, _answer, draws_of, taken_apart

GRID = Grid(rows=2, strips=6)
KEYS = (
    'uncertainty.keys."upper.incidence_deg"=0.5',
    'uncertainty.keys."mass.body_centre_m.0"=0.003',
)


def plain_draws(count: int, inputs: int) -> Draws:
    """Normal draws of inputs without meaning."""
    normal = np.random.default_rng(5).standard_normal((count, inputs))
    names = tuple(UncertainInput(f"x{i}", f"x{i}", 1.0, "%") for i in range(inputs))
    nothing = np.zeros((count, 0))
    return Draws(names, normal, nothing, (), nothing, 90.0)


def test_shares_are_those_of_the_closed_form() -> None:
    """Of 3 x0 + x1^2 + x2 x3 the variances are 9, 2 and 1, moments of the normal distribution
    (var x^2 = 2, var x y = 1), so that the shares are 9/12, 2/12 and 1/12 for both together."""
    draws = plain_draws(40_000, 5)
    x = draws.normal.T
    values = 7.0 + 3.0 * x[0] + x[1] ** 2 + x[2] * x[3]
    found = taken_apart(draws, "group", "name", "W", 8.0, values)
    assert found is not None
    np.testing.assert_allclose(found.shares, [9 / 12, 2 / 12, 0.0, 0.0, 0.0], atol=0.012)
    assert found.together == pytest.approx(1 / 12, abs=0.012)
    np.testing.assert_allclose(found.slopes, [3.0, 0.0, 0.0, 0.0, 0.0], atol=0.03)
    assert found.shares.sum() + found.together == pytest.approx(1.0)
    # Half of the middle 90 % of a normal distribution: 1.645 deviations (statistical tables).
    plain = taken_apart(draws, "group", "name", "W", 8.0, 8.0 + 3.0 * x[0])
    assert plain is not None
    assert plain.half_width == pytest.approx(1.645 * 3.0, rel=0.03)
    beside = taken_apart(draws, "group", "name", "W", 6.0, 8.0 + 3.0 * x[0])
    assert beside is not None
    assert beside.half_width == pytest.approx(2.0 + 1.645 * 3.0, rel=0.03)


def test_without_values_or_spread_nothing_is_taken_apart() -> None:
    draws = plain_draws(400, 2)
    flat = np.full(400, 3.0)
    assert taken_apart(draws, "g", "n", "W", 3.0, flat) is None
    assert taken_apart(draws, "g", "n", "W", 3.0, np.full(400, np.nan)) is None
    values = draws.normal[:, 0].copy()
    values[:100] = np.nan
    found = taken_apart(draws, "g", "n", "W", 1.0, values, ("x1",))
    assert found is not None
    assert found.missing == pytest.approx(0.25)
    assert _answer(draws, found)["draws_without_value_percent"] == pytest.approx(25.0)
    assert np.isnan(found.shares[1])


def test_a_response_of_second_order_is_met_exactly() -> None:
    """Of 2 + 3 z - 0.5 z^2 by its values at no deviation and the steps; one side lost: a line."""

    def f(z: float) -> float:
        return 2.0 + 3.0 * z - 0.5 * z**2

    centre = np.array([f(0.0)])
    found = response(centre, np.array([[f(STEP)]]), np.array([[f(-STEP)]]))
    np.testing.assert_allclose(found.at(np.array([[-2.0], [0.7]]))[:, 0] + 2.0, [f(-2.0), f(0.7)])
    line = response(centre, np.array([[np.nan]]), np.array([[f(-STEP)]]))
    assert line.at(np.array([[1.0]]))[0, 0] == pytest.approx((f(0.0) - f(-STEP)) / STEP)
    assert np.isnan(response(centre, np.array([[np.nan]]), np.array([[np.nan]])).slope[0, 0])


def test_a_trace_of_third_order_leaves_the_variance_as_it_is() -> None:
    """Of 3 z + 0.1 z^3 it is 9 + 2 (3) (0.1) 3 + 0.01 (15) = 10.95 (moments of the normal
    distribution: 1, 3, 15); steps of one deviation would give 9.61."""

    def f(z: float) -> float:
        return 3.0 * z + 0.1 * z**3

    found = response(np.array([0.0]), np.array([[f(STEP)]]), np.array([[f(-STEP)]]))
    assert found.slope[0, 0] ** 2 == pytest.approx(10.95, rel=0.01)


def test_the_same_seed_gives_the_same_draws_and_keys_leave_the_others() -> None:
    plain = Uncertainty(mass_percent=2.0, samples=3000, seed=7)
    with_key = Uncertainty(mass_percent=2.0, samples=3000, seed=7, keys={"upper.span_m": 0.1})
    np.testing.assert_array_equal(input_samples(plain), input_samples(with_key))
    shifts = key_samples(with_key)
    np.testing.assert_array_equal(shifts, key_samples(with_key))
    assert shifts.shape == (3000, 1)
    assert shifts.std() == pytest.approx(0.987, abs=0.03)  # cut at three deviations: 0.9866
    other = with_key.model_copy(update={"seed": 8})
    assert not np.array_equal(shifts, key_samples(other))
    assert abs(np.corrcoef(shifts[:, 0], input_samples(plain)[:, 0])[0, 1]) < 0.06


@pytest.fixture(scope="module")
def curve() -> PowerCurve:
    """The demo craft on its wings, with uncertain keys."""
    craft = load_biplane("tideline", list(KEYS))
    made = powered_craft(craft, FoldAngles.symmetric(8.0), grid=GRID)
    return power_curve(made, [12.0, 19.0])


def test_a_moved_key_is_what_a_changed_file_gives(curve: PowerCurve) -> None:
    """At one deviation, where no step stands, against trims of the file with the key changed."""
    made = curve.problem.craft
    keys = uncertain_keys(made.craft)
    ones = np.ones((1, len(INPUTS)))
    base = sampled_curve(curve, ones)
    craft = MovedCraft(made, keys, GRID)
    for index, changes in enumerate(
        ({"upper.incidence_deg": 0.5}, {"mass.body_centre_m.0": 0.063})
    ):
        assert made.craft.mass is not None
        if index == 1:
            changes = {"mass.body_centre_m.0": made.craft.mass.body_centre_m[0] + 0.003}
        shifts = np.eye(2)[index : index + 1]
        tabled = with_keys(base, curve, craft, shifts)
        changed = powered_craft(
            load_biplane("tideline", [f"{k}={v}" for k, v in changes.items()]),
            FoldAngles.symmetric(8.0), grid=GRID,
        )  # fmt: skip
        direct = power_curve(changed, [12.0, 19.0])
        effect = direct.values(POWER) - curve.values(POWER)
        assert np.abs(effect).max() > 0.02
        np.testing.assert_allclose(
            tabled.power[0] - base.power[0], effect, atol=0.02 * np.abs(effect).max()
        )
        np.testing.assert_allclose(
            np.degrees(tabled.stall_margin[0]), direct.values("stall_margin_deg"), atol=0.05
        )
        angles = np.degrees(tabled.body_angle[0])
        np.testing.assert_allclose(angles, direct.values("body_angle_deg"), atol=0.02)
        np.testing.assert_allclose(tabled.thrust[0], direct.values("thrust_N"), rtol=2e-3)
        np.testing.assert_allclose(tabled.wing_share[0], direct.values("wing_share"), rtol=1e-3)


def test_a_draw_of_all_inputs_is_met_by_the_tables(curve: PowerCurve) -> None:
    """Ten inputs at once, deviations of up to three: to 2 % of the ± on the wings."""
    made = curve.problem.craft
    draws = draws_of(made.craft)
    assert len(draws.inputs) == 10
    craft = MovedCraft(made, draws.keys, GRID)
    sampled = with_keys(sampled_curve(curve, draws.factors), curve, craft, draws.shifts)
    half = 1.645 * sampled.power.std(axis=0)
    for i in range(3):
        drawn = drawn_craft(made, draws.factors[i], draws.keys, draws.shifts[i], GRID)
        direct = [drawn_power(drawn, p, draws.factors[i, 5]) for p in curve.points]
        np.testing.assert_allclose(sampled.power[i], direct, atol=0.02 * half.min())


def test_a_drawn_craft_takes_every_input(curve: PowerCurve) -> None:
    """Each input a tenth up changes the power in the sense that mechanics gives it."""
    made, point = curve.problem.craft, curve.points[0]
    senses = {"mass": 1, "profile_drag": 1, "lift_maximum": 0, "drag_area": 1, "efficiency": -1,
              "rotor_power": 1, "fixed_load": 1, "post_stall": 0}  # fmt: skip
    for index, name in enumerate(INPUTS):
        factors = np.ones(len(INPUTS))
        factors[index] = 1.1
        power = drawn_power(drawn_craft(made, factors, (), np.zeros(0), GRID), point, factors[5])
        change = power / point.value(POWER) - 1.0
        if senses[name]:
            assert senses[name] * change > 0.003, name
        else:
            assert abs(change) < 0.003, name


def test_energies_over_keys_are_those_of_direct_trims() -> None:
    """A loiter and a turn: one draw trimmed directly, against the tables, to 2 % of the ±."""
    craft = load_biplane("tideline", [*KEYS, "schedule.speeds=3"])
    flyer = MissionFlyer(power_book(craft, [0.0], np.array([0.0, 11.0, 14.0, 21.0]), grid=GRID))
    assert craft.schedule is not None
    rule = held("held", FoldTable.of(flyer.book, flying_schedule(craft.schedule)), 0.0)
    legs = (Leg(kind="loiter", time_s=600.0, airspeed_m_s=12.0),
            Leg(kind="turn", turns=9.0, load_factor=1.3, airspeed_m_s=15.0))  # fmt: skip
    flight, draws = flyer.flight(rule, legs), draws_of(craft)
    told: list[MovedCraft] = []
    energy = sampled_energies(flight, draws.factors, draws.keys, draws.shifts, told.append).sum(
        axis=0
    )
    without = sampled_energies(flight, draws.factors).sum(axis=0)
    half = 1.645 * energy.std()
    assert [one.left_out for one in told] == [{}]
    assert not np.allclose(energy, without, atol=1e-3 * half)
    for i in range(2):
        direct = drawn_energy(flight, draws.factors[i], draws.keys, draws.shifts[i])
        assert energy[i] == pytest.approx(direct, abs=0.02 * half)


def test_samples_without_a_trim_take_the_line_of_the_others() -> None:
    factors = 1.0 + 0.05 * np.random.default_rng(3).standard_normal((200, len(INPUTS)))
    exact = 50.0 + 30.0 * (factors[:, 0] - 1.0) - 20.0 * (factors[:, 4] - 1.0)
    lost = np.where(factors[:, 0] > 1.03, np.nan, exact)
    assert np.isnan(lost).any()
    np.testing.assert_allclose(filled(lost, factors), exact)
    nearly_all = np.where(np.arange(200) < 170, np.nan, exact)
    assert np.isnan(filled(nearly_all, factors)).sum() == 170


def test_induced_drag_goes_with_the_square_of_the_weight() -> None:
    """D ~ L^2 (Prandtl): 2 % of mass is 4 % of the induced drag, and nothing else matters."""
    craft = load_biplane("tideline", ["uncertainty.samples=2000"])
    assert craft.uncertainty is not None
    known = {f"{name}_percent": 0.0 for name in INPUTS}
    stated = craft.uncertainty.model_copy(update=known | {"mass_percent": 2.0})
    craft = craft.model_copy(update={"uncertainty": stated})
    plan = DesignPlan(
        (checked_key(craft, "lower.incidence_deg", -1.0, 1.0),),
        GoalPlan("induced drag", airspeed=14.0, grid=GRID), starts=1, most=5,
    )  # fmt: skip
    study = design_study(craft, plan)
    found = design_sensitivity(study)
    [best] = [one for one in found.answers if one.group == BEST]
    assert best.value == pytest.approx(study.best_worth.value)  # type: ignore[union-attr]
    # Camber keeps the drag from being all in the square of the lift.
    assert best.slopes[0] / best.value == pytest.approx(0.04, rel=0.05)
    np.testing.assert_allclose(best.shares, [1.0], atol=1e-3)
    [check] = found.checks
    assert check.worst < 0.02 * best.half_width


def test_a_key_that_opens_the_closed_box_is_said_to_be_unknown() -> None:
    craft = load_biplane("thistle", [KEYS[0]])
    made = powered_craft(craft, FoldAngles.symmetric(-90.0), grid=GRID)
    box = MovedCraft(made, uncertain_keys(craft), GRID)
    assert "meets the lower wing" in box.left_out["upper.incidence_deg"]


def test_keys_that_lead_to_no_number_are_refused() -> None:
    for key, said in (
        ("upper.incidense_deg", "did you mean incidence_deg"),
        ("title", "not a number"),
        ("upper.stations.0.chord_m", "does not give"),
    ):
        craft = load_biplane("tideline", [f'uncertainty.keys."{key}"=0.5'])
        with pytest.raises(InputRefused, match=said):
            uncertain_keys(craft)
    with pytest.raises(InputRefused, match=r"uncertainty\.keys"):
        load_biplane("tideline", ['uncertainty.keys."upper.incidence_deg"=0'])


def test_a_key_moves_alone() -> None:
    """The span of a tip grows, its mass does not: what is not known is the number alone."""
    craft = load_biplane("tideline", ['uncertainty.keys."upper.tips.span_m"=0.01'])
    longer = moved(craft, uncertain_keys(craft), [1.0])
    assert longer.upper.tips is not None
    assert longer.upper.tips.span_m == pytest.approx(0.37)
    assert longer.mass == craft.mass


def test_the_command_prints_shares_and_draws_them(tmp_path: Path) -> None:
    words = ["power", "thistle", "--configuration", "open", "--configuration", "box",
             "--airspeeds", "8,10", "--rows", "1", "--strips", "4", "--set",
             "uncertainty.samples=200", "--set", KEYS[0], "--json"]  # fmt: skip
    picture = tmp_path / "shares.svg"
    done = CliRunner().invoke(foldspan, [*words, "--plot-sensitivity", str(picture)])
    assert done.exit_code == 0, done.output
    assert "can be moved to neither side" in done.stderr
    text = picture.read_text(encoding="utf-8")
    assert "power of the rotors" in text
    assert "not known" in text
    document = json.loads(done.stdout)
    shares = document["uncertain_inputs"]
    printed = sensitivity_table(shares)
    assert "Share of each uncertain input in the ±, %: open" in printed
    assert "not known" in printed
    assert "4 draws trimmed" in printed
    assert max(map(len, printed.splitlines())) <= 80
    assert shares["draws"] == 200
    for answer in shares["answers"]:
        parts = [v for v in answer["share_percent"].values() if v is not None]
        assert sum(parts) + answer["together_percent"] == pytest.approx(100.0, abs=0.1)
    least = next(a for a in shares["answers"] if a["group"] == "box")
    ends = document["configurations"]["box"]["speed_intervals"]["least_power_W"]
    value = least["value"]
    assert least["half_width"] == pytest.approx(max(ends[1] - value, value - ends[0]))
    assert least["share_percent"]["upper.incidence_deg"] is None
    assert all(len(check["direct"]) == 4 for check in shares["checks"])


def test_without_uncertainty_the_commands_refuse(capsys: pytest.CaptureFixture[str]) -> None:
    """Before anything is worked out."""
    power = ["power", "tideline", "--no-intervals", "--sensitivity"]
    assert main(power) == 2
    assert "--no-intervals" in capsys.readouterr().err
    known = [f"--set=uncertainty.{name}_percent=0" for name in INPUTS]
    mission = ["mission", "tideline", "--legs", "long_survey", "--sensitivity", *known]
    design = ["design", "tideline", "--key", "upper.tips.span_m=0.2:0.5", "--goal", "power",
              "--airspeed", "13", "--sensitivity", *known]  # fmt: skip
    for words in (mission, design):
        assert main(words) == 2
        assert "[uncertainty] states no deviation" in capsys.readouterr().err


def test_a_turns_extra_weight_stays_in_a_draw(curve: PowerCurve) -> None:
    made = curve.problem.craft
    turning = replace(made, masses=replace(made.masses, mass=1.5 * made.masses.mass))
    drawn = drawn_craft(turning, np.ones(len(INPUTS)), (), np.zeros(0), GRID)
    assert drawn.masses.mass == pytest.approx(1.5 * made.masses.mass)

"""Power against airspeed: closed forms of a parabolic polar, smoothness, limits, intervals.

Sources: any text on aeroplane performance for the parabolic polar (least power at 3^(-1/4) of the
speed of least drag; P_min / P(V_md) = 2 / 3^(3/4)).
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from power_craft import SMALL, glider, powered
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.uncertainty import Uncertainty
from vlm.flight.trim.continuation import followed
from vlm.flight.trim.power_book import direct_trim
from vlm.flight.trim.power_curve import NO_BALANCE, PowerCurve, chosen_point, power_curve
from vlm.flight.trim.power_samples import INPUTS, input_samples, sampled_curve
from vlm.flight.trim.power_warnings import power_warnings
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.sampled_speeds import interval, sampled_least
from vlm.flight.trim.special_speeds import special_speeds
from vlm.flight.trim.trim import trimmed

POWER = "electrical_power_W"


@pytest.fixture(scope="module")
def curves() -> dict[str, PowerCurve]:
    """The demo craft open and folded, on a coarse lattice."""
    speeds = np.linspace(0.0, 30.0, 31)
    return {
        name: power_curve(powered("tideline", fold), speeds)
        for name, fold in (("open", 0.0), ("dash", -90.0))
    }


def least(speeds: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    curve = CubicSpline(speeds, values)
    found = minimize_scalar(curve, bounds=(speeds[0], speeds[-1]), method="bounded")
    return float(found.x), float(found.fun)


def test_speeds_of_least_drag_and_power_of_a_parabolic_polar() -> None:
    """V_mp / V_md = 3^(-1/4) = 0.7598, P_min / P(V_md) = 0.8774, and both speeds from the polar.

    A polar is a parabola where the wake keeps its direction; one that turns with the stream has a
    span efficiency that grows with the lift, and the first ratio is 0.748.
    """
    craft = powered_craft(glider(), FoldAngles(), grid=SMALL, wake="craft")
    speeds = np.linspace(5.0, 18.0, 27)
    curve = power_curve(craft, speeds)
    power = curve.values(POWER)
    slowest, least_power = least(speeds, power)
    fastest, _ = least(speeds, power / speeds)
    at_least_drag = float(CubicSpline(speeds, power)(fastest))
    assert slowest / fastest == pytest.approx(3.0**-0.25, rel=5e-3)
    assert least_power / at_least_drag == pytest.approx(2.0 / 3.0**0.75, rel=5e-3)
    # V_md from C_D0 and the induced drag: q = W / S sqrt(k / C_D0), k = 1 / (pi A e), with A = 15
    # and the rectangle's e of 0.92 (lifting-surface value between A = 6 and 20, derived).
    pressure = craft.masses.mass * 9.80665 / 0.6 * np.sqrt(1.0 / (np.pi * 15.0 * 0.92) / 0.02)
    assert fastest == pytest.approx(np.sqrt(2.0 * pressure / 1.225), rel=0.01)


def test_special_speeds_of_a_coarse_curve_are_those_of_a_fine_one() -> None:
    craft = powered_craft(glider(), FoldAngles(), grid=SMALL)
    fine = np.linspace(5.0, 18.0, 27)
    power = power_curve(craft, fine).values(POWER)
    special = special_speeds(power_curve(craft, np.linspace(5.0, 18.0, 8)))
    assert special.least_power == pytest.approx(least(fine, power)[0], abs=0.1)
    assert special.least_energy == pytest.approx(least(fine, power / fine)[0], abs=0.1)


def test_ideal_power_is_drag_times_speed() -> None:
    """A huge ideal rotor adds next to nothing to T V (momentum theory)."""
    curve = power_curve(powered_craft(glider(), FoldAngles(), grid=SMALL), [8.0, 10.0, 12.0])
    for point in curve.points:
        assert point.trim is not None
        thrust = float(point.trim.thrusts.sum())
        assert point.value(POWER) == pytest.approx(thrust * point.speed, rel=0.01)


def test_curves_are_smooth_but_for_jumps_that_are_reported(curves: dict[str, PowerCurve]) -> None:
    for curve in curves.values():
        told = [d for d in power_warnings(curve) if d.code in ("jump", "several_trims")]
        flying = [p for p in curve.points if p.value("stall_margin_deg") > 0.0]
        stalled = [p for p in curve.points if p.value("stall_margin_deg") < 0.0]
        for part in (flying, stalled):
            speeds = np.array([p.speed for p in part])
            power = np.array([p.value(POWER) for p in part])
            assert np.all(np.diff(speeds) == pytest.approx(1.0))
            assert np.abs(np.diff(power, 2)).max() < 36.0
        assert told
        fine = power_curve(curve.problem.craft, np.arange(12.0, 14.0, 0.1))
        bends = np.diff(fine.values(POWER), 2)
        assert np.abs(np.diff(bends)).max() < 0.002


def test_the_same_branch_is_found_from_above(curves: dict[str, PowerCurve]) -> None:
    """Followed down from top speed, around the turn near stall, the branch ends in the hover."""
    problem = curves["open"].problem
    top = trimmed(problem, 20.0)
    points = followed(problem, top, 0.0, 25.0, upward=False)
    assert points[-1].speed < 0.0
    hover = curves["open"].points[0].trim
    assert hover is not None
    last, before = points[-1], points[-2]
    share = before.speed / (before.speed - last.speed)
    upright = before.unknown[0] + share * (last.unknown[0] - before.unknown[0])
    assert upright == pytest.approx(hover.theta, abs=0.02)


def test_open_tips_draw_less_slowly_and_gain_little_fast(curves: dict[str, PowerCurve]) -> None:
    """Common practice: some tens of per cent around transition, a gain that shrinks with speed."""
    apart = 1.0 - curves["open"].values(POWER) / curves["dash"].values(POWER)
    by_speed = dict(zip(curves["open"].speeds, apart, strict=True))
    assert by_speed[8.0] > 0.2
    assert 0.1 < by_speed[13.0] < 0.3
    gains = [by_speed[u] for u in (12.0, 15.0, 18.0, 22.0, 26.0)]
    assert np.all(np.diff(gains) < 0.0)
    assert gains[-1] < 0.03


def test_speeds_that_matter_are_minima_and_roots(curves: dict[str, PowerCurve]) -> None:
    for curve in curves.values():
        special = special_speeds(curve)
        best = special.at_least_power
        assert best is not None
        for shift in (0.3, 0.6):
            assert best.value(POWER) <= curve.at(special.least_power + shift).value(POWER)
        assert curve.at(special.slowest_on_wings + 0.02).value("stall_margin_deg") > 0.0
        assert curve.at(special.slowest_on_wings - 0.05).value("stall_margin_deg") < 0.0
        assert curve.at(special.fastest - 0.02).is_allowed
        beyond = curve.at(special.fastest + 0.02)
        assert not beyond.is_allowed
        assert beyond.limit
        assert special.least_energy > special.least_power


def test_a_limit_forbids_and_is_named(curves: dict[str, PowerCurve]) -> None:
    last = curves["open"].points[-1]
    assert last.trim is not None
    assert not last.is_allowed
    assert "power (" in last.limit
    assert "lower" in last.limit


def test_the_limit_that_is_met_first_ends_the_speeds() -> None:
    """Far past the end of this heavy craft the power is passed by more than the least thrust, which
    a direct trim passes first."""
    tables = load_biplane("tideline").model_dump(exclude_none=True)
    tables["mass"]["body_kg"] = 4.2
    for rotor in tables["rotors"]:
        rotor |= {"thrust_max_N": 14.0, "power_max_W": 260.0}
    made = powered_craft(Biplane.model_validate(tables), FoldAngles(), grid=SMALL)
    speeds = (20.0, 30.0, 38.0)
    special = special_speeds(power_curve(made, speeds))
    assert 30.0 < special.fastest < 38.0
    past = direct_trim(made, special.fastest + 0.05)
    assert past.limit == "lowest thrust (upper port, upper starboard)"
    assert special.fastest_limit.name.startswith("lowest thrust of rotor upper")
    assert "power" in direct_trim(made, 38.0).measures.limit  # type: ignore[union-attr]


def test_no_trim_is_an_answer() -> None:
    """A dive at 60 degrees and 30 m/s would need rotors that brake harder than they may."""
    dive = power_curve(powered("tideline"), [28.0, 30.0], climb_angle=float(np.radians(-60.0)))
    for point in dive.points:
        assert not point.is_allowed
        assert "lowest thrust" in point.limit or point.limit == NO_BALANCE
    nothing = chosen_point(dive.problem, (), 5.0)
    assert (nothing.trim, nothing.limit, nothing.trims) == (None, NO_BALANCE, 0)
    assert np.isnan(nothing.value(POWER))


def test_samples_repeat_and_keep_to_their_deviations() -> None:
    wanted = Uncertainty(mass_percent=2.0, efficiency_percent=5.0, samples=4000, seed=7)
    factors = input_samples(wanted)
    np.testing.assert_array_equal(factors, input_samples(wanted))
    spread = dict(zip(INPUTS, factors.std(axis=0), strict=True))
    assert spread["mass"] == pytest.approx(0.02, rel=0.05)
    assert spread["efficiency"] == pytest.approx(0.05, rel=0.05)
    assert spread["drag_area"] == 0.0
    assert np.abs(factors - 1.0).max() <= 3.0 * 0.05


CHANGES: dict[str, tuple[float, dict[str, Any]]] = {
    "mass": (1.03, {"mass.body_kg": 1.86 + 0.03 * 2.1}),
    "profile_drag": (1.2, {"sections.foil.cd_least": 0.018, "sections.foil.cd_rise": 0.0144}),
    "lift_maximum": (1.05, {"sections.foil.cl_max": 1.2075, "sections.foil.cl_min": -0.7875}),
    "drag_area": (1.3, {f"drag_areas.{i}.{k}": v for i, k, v in (
        (0, "area_m2", 0.00208), (0, "side_area_m2", 0.0156), (0, "normal_area_m2", 0.013),
        (1, "area_m2", 0.00208))}),
    "efficiency": (0.95, {"propulsion.motor_efficiency": 0.76}),
    "fixed_load": (1.25, {"propulsion.fixed_load_W": 10.0}),
}  # fmt: skip


@pytest.fixture(scope="module")
def base() -> PowerCurve:
    """The craft as its file has it, at three airspeeds."""
    return power_curve(powered("tideline"), [6.0, 12.0, 20.0])


@pytest.mark.parametrize("name", list(CHANGES))
def test_a_sample_is_what_a_changed_file_gives(name: str, base: PowerCurve) -> None:
    """The small tables against direct trims of the craft with that input changed, to 1 %."""
    factor, keys = CHANGES[name]
    factors = np.ones((1, len(INPUTS)))
    factors[0, INPUTS.index(name)] = factor
    sampled = sampled_curve(base, factors).power[0]
    overrides = [f"{key}={value}" for key, value in keys.items()]
    changed = power_curve(powered("tideline", 0.0, None, *overrides), base.speeds).values(POWER)
    # In the stalled range the profile drag of the sample holds the plate's pressure as well.
    chosen = slice(1, None) if name == "profile_drag" else slice(None)
    np.testing.assert_allclose(sampled[chosen], changed[chosen], rtol=0.01)
    effect = np.abs(changed / base.values(POWER) - 1.0)[chosen]
    np.testing.assert_allclose(
        (sampled / base.values(POWER) - 1.0)[chosen],
        (changed / base.values(POWER) - 1.0)[chosen],
        atol=0.1 * effect.max() + 1e-5,
    )


def test_samples_know_the_crafts_limit_of_power() -> None:
    """A twentieth above the power at 16 m/s: what is left of it (definition), without uncertainty
    that of the trim, and with motors a tenth worse none."""
    plain = power_curve(powered("tideline"), [16.0]).values(POWER)[0]
    craft = powered("tideline", 0.0, None, f"propulsion.power_max_W={1.05 * plain}")
    base = power_curve(craft, [16.0])
    factors = np.ones((2, len(INPUTS)))
    factors[1, INPUTS.index("efficiency")] = 0.9
    found = sampled_curve(base, factors)
    assert found.margin[0, 0] == pytest.approx(base.points[0].margin, abs=1e-6)
    np.testing.assert_allclose(found.margin, 1.0 - found.power / (1.05 * plain), atol=1e-9)
    assert found.margin[1, 0] < 0.0 < found.margin[0, 0]


def test_a_sample_of_the_force_past_stall_is_what_other_sections_give() -> None:
    """A tenth more lift and drag past stall, at 6 m/s on stalled wings, and at 12 m/s."""
    speeds, made = [6.0, 12.0], powered("tideline")
    base = power_curve(made, speeds)
    model = made.model.rescaled(made.craft, normal_scale=1.1)
    changed = power_curve(replace(made, model=model), speeds).values(POWER)
    factors = np.ones((1, len(INPUTS)))
    factors[0, INPUTS.index("post_stall")] = 1.1
    sampled = sampled_curve(base, factors).power[0]
    effect = changed / base.values(POWER) - 1.0
    assert abs(effect[0]) > 0.01
    np.testing.assert_allclose(
        sampled / base.values(POWER) - 1.0, effect, atol=0.15 * abs(effect[0])
    )


@pytest.mark.parametrize("factor", [0.95, 1.05])
def test_samples_follow_the_curvature(factor: float) -> None:
    """Five per cent of mass at 12 m/s: tables to second order stay within 0.05 %, as straight
    ones do not (they err by 0.16 to 0.2 %)."""
    base = power_curve(powered("tideline"), [11.0, 12.0])
    key = f"mass.body_kg={1.86 + (factor - 1.0) * 2.1}"
    changed = power_curve(powered("tideline", 0.0, None, key), [11.0, 12.0]).values(POWER)
    factors = np.ones((1, len(INPUTS)))
    factors[0, INPUTS.index("mass")] = factor
    np.testing.assert_allclose(sampled_curve(base, factors).power[0], changed, rtol=5e-4)


def test_intervals_hold_the_stated_share() -> None:
    values = np.arange(1000.0)
    assert interval(values, 90.0) == pytest.approx((49.95, 949.05), abs=0.1)
    assert np.isnan(interval(np.full(5, np.nan), 90.0)[0])


def test_least_of_samples_is_a_parabolas_vertex() -> None:
    speeds = np.linspace(5.0, 15.0, 11)
    exact = np.array([8.3, 9.9])
    values = 40.0 + 2.0 * (speeds - exact[:, None]) ** 2
    found, size = sampled_least(speeds, values, np.ones_like(values, dtype=bool))
    np.testing.assert_allclose(found, exact, atol=1e-9)
    np.testing.assert_allclose(size, 40.0, atol=1e-9)

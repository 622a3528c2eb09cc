"""Curves of a craft that a log is held against: parabolas in unknowns, airspeeds, limits; by hand.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.loading import load_biplane
from vlm.flight.craft.folded_craft import angle_rates_of, both_sides, wind_angles
from vlm.log import craft_prediction
from vlm.log.craft_prediction import CraftPower, _Around, _nodes, _Table, _terms, speeds_for
from vlm.log.craft_unknowns import craft_unknowns


@pytest.mark.parametrize(("count", "nodes"), [(0, 1), (1, 3), (2, 6), (3, 10)])
def test_as_many_curves_as_a_parabola_has_terms(count, nodes):
    """1 + n + n(n + 1)/2 of them, from which any parabola comes back."""
    places = _nodes(count)
    assert places.shape == (nodes, count)
    matrix = _terms(places)
    assert matrix.shape == (nodes, nodes)
    assert np.linalg.matrix_rank(matrix) == nodes
    assert set(np.unique(places)) <= {-1.0, 0.0, 1.0}


def table(names=("x", "y")):
    """Power (V + 2) (3 + x + 2 y + x^2 - x y) at eleven airspeeds, steps of 0.5 and 2."""
    speeds = np.linspace(8.0, 18.0, 11)
    centre, steps, nodes = np.array([1.0, 4.0]), np.array([0.5, 2.0]), _nodes(2)
    x, y = (centre + nodes * steps).T
    curves = np.outer(3.0 + x + 2.0 * y + x**2 - x * y, speeds + 2.0)
    return _Table(names, speeds, curves, nodes, centre, steps, np.array([1.2, 3.0]))


def test_a_table_reads_off_its_parabola_between_airspeeds():
    at = np.array([9.3, 14.6])
    found = table().shaft_power(at, {"x": 1.7, "y": 5.0})
    np.testing.assert_allclose(found, (at + 2.0) * (3.0 + 1.7 + 10.0 + 1.7**2 - 8.5))
    usual = table().shaft_power(at, {})
    np.testing.assert_allclose(usual, (at + 2.0) * (3.0 + 1.2 + 6.0 + 1.44 - 3.6))
    assert np.isnan(table().shaft_power(np.array([7.9, 18.1]), {})).all()


def test_a_table_without_two_airspeeds_of_all_curves_knows_nothing():
    made = table()
    made.curves[2, 1:] = np.nan
    assert np.isnan(made.shaft_power(np.array([9.0]), {})).all()
    two = table()
    two.curves[2, 2:] = np.nan
    assert np.isfinite(two.shaft_power(np.array([8.5]), {})).all()


def power(**keys):
    craft = load_biplane("tideline")
    return CraftPower(craft, 1.225, np.linspace(8.0, 18.0, 11), **keys)


def test_electrical_power_by_efficiency_and_load():
    made = power()
    drive = made.craft.propulsion
    usual = drive.motor_efficiency * drive.controller_efficiency
    found = made._electrical(np.array([80.0]), {})
    assert found == pytest.approx([80.0 / usual + drive.fixed_load_W])
    named = {craft_prediction.EFFICIENCY: 0.5, craft_prediction.FIXED_LOAD: 7.0}
    assert made._electrical(np.array([80.0]), named) == pytest.approx([167.0])


def test_limits_and_effects_are_read_between_airspeeds():
    """A margin of 0 at 15 m/s; one without a trim is passed over; beyond the ends nothing flies."""
    made = power()
    margin = 0.5 * (15.0 - made.speeds)
    margin[1] = np.nan
    effects = np.column_stack((2.0 * made.speeds, np.full(11, 3.0)))
    effects[1] = np.nan
    made._around["f"] = _Around(margin, effects, None)
    at = np.array([7.9, 8.0, 9.0, 15.0, 15.1, 18.1])
    assert made.allowed(at, "f").tolist() == [False, True, True, True, False, False]
    np.testing.assert_allclose(made.input_effects(np.array([9.5]), "f"), [[19.0, 3.0]])
    made._around["g"] = _Around(np.full(11, np.nan), np.full((11, 2), np.nan), None)
    assert not made.allowed(at, "g").any()
    assert made.input_effects(at, "g").tolist() == [[0.0, 0.0]] * 6


def test_inputs_that_scale_loads_move_the_power_by_half_of_both_sides(monkeypatch):
    made = power()
    stated = made.craft.uncertainty
    names = made._scaled
    seen = {}

    def sampled(curve, factors):
        seen["factors"] = factors
        return SimpleNamespace(power=100.0 * factors @ np.arange(1.0, 9.0)[:, None])

    monkeypatch.setattr(craft_prediction, "sampled_curve", sampled)
    found = made._scaled_effects(SimpleNamespace(points=(None,)))
    for i, name in enumerate(names):
        place = craft_prediction.INPUTS.index(name)
        spread = getattr(stated, f"{name}_percent") / 100.0
        assert found[0, i] == pytest.approx(100.0 * spread * (place + 1.0))
        assert seen["factors"][2 * i, place] == pytest.approx(1.0 + spread)
        assert seen["factors"][2 * i + 1, place] == pytest.approx(1.0 - spread)
    assert len(names) > 2


@pytest.mark.parametrize(("low", "high"), [(9.0, 15.0), (0.5, 3.0), (10.0, 10.0), (5.0, 90.0)])
def test_airspeeds_of_the_curves_that_a_log_needs(low, high):
    found = speeds_for(np.array([high, low]))
    margin, step = craft_prediction.SPEED_MARGIN, craft_prediction.SPEED_STEP
    assert found[0] == max(low - margin, 0.0)
    assert found[-1] == high + margin
    count = round((found[-1] - found[0]) / step) + 1
    assert len(found) == min(
        max(count, craft_prediction.FEWEST_SPEEDS), craft_prediction.MOST_SPEEDS
    )


def test_what_a_fit_may_vary_and_how_far():
    craft = load_biplane("tideline")
    drive, mass = craft.propulsion, craft.mass
    found = craft_unknowns(craft, 0.5)
    area = found["drag_area_m2"]
    own = sum(one.area_m2 for one in craft.drag_areas)
    assert (area.nominal, area.low, area.high) == (own, 0.0, max(10.0 * own, 0.1))
    assert area.step == pytest.approx(0.1 * area.high)
    efficiency = found["efficiency"]
    assert efficiency.nominal == pytest.approx(drive.motor_efficiency * drive.controller_efficiency)
    assert (efficiency.low, efficiency.high) == (0.15, drive.controller_efficiency)
    load = found["fixed_load_W"]
    assert (load.nominal, load.low, load.high) == (
        drive.fixed_load_W, 0.0, max(10.0 * drive.fixed_load_W, 200.0),
    )  # fmt: skip
    whole = found["mass_kg"]
    assert whole.nominal == mass.total_kg
    assert whole.low >= 1.01 * (mass.total_kg - mass.body_kg) - 1e-12
    assert whole.low < whole.nominal < whole.high
    assert whole.step == pytest.approx(0.1 * mass.total_kg)
    light = mass.model_copy(update={"body_kg": 0.1})
    rest = light.total_kg - 0.1
    assert rest > 0.6 * light.total_kg
    found = craft_unknowns(craft.model_copy(update={"mass": light}), 0.5)
    assert found["mass_kg"].low == pytest.approx(1.01 * rest)
    assert craft_unknowns(craft, 50.0)["drag_area_m2"].high == pytest.approx(max(10.0 * own, 10.0))


# --- angles of a motion --------------------------------------------------------------------------


@pytest.mark.parametrize("velocity", [(12.0, 1.0, 2.0), (10.0, -3.0, -4.0), (-1.0, 0.5, 9.0)])
def test_angles_of_the_wind_and_their_slopes(velocity):
    """alpha = atan(w/u), beta = asin(v/V); slopes by central differences."""
    motion = np.array([*velocity, 0.0, 0.0, 0.0])
    alpha, beta = wind_angles(motion)
    u, v, w = velocity
    assert alpha == pytest.approx(np.arctan2(w, u))
    assert np.sin(beta) * np.linalg.norm(velocity) == pytest.approx(v)
    rates = angle_rates_of(motion)
    for i in range(3):
        step = 1e-6 * np.eye(6)[i]
        up, down = wind_angles(motion + step), wind_angles(motion - step)
        for name, high, low in zip(("alpha", "beta"), up, down, strict=True):
            assert rates[name][i] == pytest.approx((high - low) / 2e-6, abs=1e-7)


def test_at_rest_there_are_no_angles():
    assert wind_angles(np.zeros(6)) == (0.0, 0.0)
    side = angle_rates_of(np.array([0.0, 3.0, 0.0, 0, 0, 0]))
    assert not side["alpha"].any()
    assert not side["beta"].any()
    table_ = np.arange(8.0).reshape(2, 2, 2)
    motion = np.array([2.0, -1.0])
    expected = [sum(motion[i] * motion[j] * table_[i, j, k] for i in range(2) for j in range(2))
                for k in range(2)]  # fmt: skip
    np.testing.assert_allclose(both_sides(table_, motion), expected)

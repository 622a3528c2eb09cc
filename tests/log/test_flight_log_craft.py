"""A log against the tool's own power curves: unknowns of a craft, their table, the way back."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from craft_for_logs import invent

from vlm.air import standard_air
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane, load_biplane_text
from vlm.description.overrides import as_overrides
from vlm.description.uncertainty import Uncertainty
from vlm.errors import InputRefused
from vlm.flight.trim.power_curve import power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.log.analysis import Craft, LogPlan, measured
from vlm.log.craft_prediction import CraftPower, _Table, craft_prediction, speeds_for
from vlm.log.craft_study import compared_with_craft
from vlm.log.craft_unknowns import corrected, craft_unknowns, drag_area
from vlm.log.fitted_file import fitted_text
from vlm.log.reading import read_log

COARSE = Grid(2, 6)
ROTOR = """
[[rotors]]
name = "{name}"
position_m = [-0.1, {y}, 0.0]
radius_m = 0.13
spin = "{spin}"
form = "blades"
solidity = 0.1
pitch_m = 0.16
"""
TEXT = (
    """title = "An invented craft that flies on two rotors"

[upper]
span_m = 0.9
root_chord_m = 0.2
end_chord_m = 0.2
section = "plain"

[upper.tips]
span_m = 0.25
end_chord_m = 0.2

[configurations]
open = { fold_deg = 0 }

[mass]
body_kg = 1.5
body_centre_m = [0.03, 0.0, 0.0]
body_inertia_kg_m2 = [0.04, 0.03, 0.06]
upper_tip = { mass_kg = 0.06, centre_m = [0.08, 0.12, 0.0] }

[sections.plain]
form = "parametric"
cl_max = 1.2
cl_min = -0.9
cd_least = 0.012
cd_rise = 0.012

[propulsion]
motor_efficiency = 0.8
controller_efficiency = 0.95
fixed_load_W = 6.0

[[drag_areas]]
name = "body"
area_m2 = 0.004
side_area_m2 = 0.02

[[drag_areas]]
name = "camera"
area_m2 = 0.001
"""
    + ROTOR.format(name="port", y=-0.3, spin="right")
    + ROTOR.format(name="starboard", y=0.3, spin="left")
    + """
[log]
altitude_zero_m = 210.0
climb_efficiency = 0.5
modes = { open = "open" }

[log.uncertainty]
airspeed_offset_m_s = 0.05
power_share = 0.002
rising_air_m_s = 0.01
airspeed_scale = 0.001
current_zero_A = 0.0
density_share = 0.001
climb_efficiency = 0.02

[log.columns]
time = { name = "t_s", unit = "s" }
airspeed = { name = "ias_m_s", unit = "m/s" }
voltage = { name = "volt", unit = "V" }
current = { name = "amp", unit = "A" }
mode = { name = "mode" }
altitude = { name = "baro_m", unit = "m" }
pressure = { name = "static_hPa", unit = "hPa" }
temperature = { name = "oat_degC", unit = "degC" }
yaw_rate = { name = "yaw_rate_deg_s", unit = "deg/s" }
"""
)
SPEEDS = {"open": (12.0, 14.0, 16.0, 18.0)}


@pytest.fixture(scope="module")
def craft():
    return load_biplane_text(TEXT, "invented.toml")


def test_the_file_says_what_is_nominal(craft):
    unknowns = craft_unknowns(craft, 0.28)
    assert unknowns["drag_area_m2"].nominal == pytest.approx(0.005)
    assert unknowns["efficiency"].nominal == pytest.approx(0.76)
    assert unknowns["fixed_load_W"].nominal == 6.0
    assert unknowns["mass_kg"].nominal == pytest.approx(1.62)
    assert unknowns["lift_maximum"].nominal == 1.0
    hungry = corrected(craft, {"fixed_load_W": 300.0})
    for unknown in (*unknowns.values(), *craft_unknowns(hungry, 0.28).values()):
        assert unknown.low < unknown.nominal < unknown.high


@pytest.mark.parametrize("trimmed", [1, 2, 4])
def test_a_table_follows_a_parabola_where_two_speeds_are_trimmed(trimmed):
    """Power (3 + 2 x + x^2) V of one unknown; without two speeds there is nothing in between."""
    speeds, nodes = np.array([8.0, 10.0, 12.0, 14.0]), np.array([[0.0], [-1.0], [1.0]])
    curves = (3.0 + 2.0 * nodes + nodes**2) * np.where(np.arange(4) < trimmed, speeds, np.nan)
    one = np.ones(1)
    table = _Table(("x",), speeds, curves, nodes, 0.0 * one, one, 0.0 * one)
    found = table.shaft_power(np.array([9.0]), {"x": 0.4})
    wanted = (3.0 + 0.8 + 0.16) * 9.0 if trimmed >= 2 else float("nan")
    assert found == pytest.approx([wanted], nan_ok=True)


def test_a_corrected_craft_has_the_values_it_was_given(craft):
    values = {
        "drag_area_m2": 0.010, "efficiency": 0.6, "fixed_load_W": 9.0, "mass_kg": 2.0,
        "lift_maximum": 0.9,
    }  # fmt: skip
    changed = corrected(craft, values)
    assert drag_area(changed) == pytest.approx(0.010)
    assert changed.drag_areas[0].side_area_m2 == pytest.approx(0.04)
    assert changed.propulsion.motor_efficiency * 0.95 == pytest.approx(0.6)
    assert changed.propulsion.fixed_load_W == 9.0
    assert changed.mass.total_kg == pytest.approx(2.0)
    share = changed.mass.body_kg / craft.mass.body_kg
    for name in ("body_inertia_kg_m2", "body_products_kg_m2"):
        wanted = [share * moment for moment in getattr(craft.mass, name)]
        assert getattr(changed.mass, name) == pytest.approx(wanted)
    assert changed.sections["plain"].cl_max == pytest.approx(1.08)
    assert changed.sections["plain"].cl_min == pytest.approx(-0.81)
    again = load_biplane_text(changed.to_toml())
    assert craft_unknowns(again, 0.28)["mass_kg"].nominal == pytest.approx(2.0)
    assert corrected(craft, {}) == craft


def test_a_craft_without_drag_areas_gets_one_and_a_body_must_weigh_something(craft):
    bare = craft.model_copy(update={"drag_areas": ()}).from_source(craft.source)
    [added] = corrected(bare, {"drag_area_m2": 0.003}).drag_areas
    assert added.area_m2 == 0.003
    with pytest.raises(InputRefused, match="leaves nothing for the body"):
        corrected(craft, {"mass_kg": 0.1})


@pytest.fixture(scope="module")
def power(craft):
    speeds = speeds_for(np.array(SPEEDS["open"]))
    return CraftPower(craft, 1.18, speeds, ("drag_area_m2", "efficiency", "fixed_load_W"), COARSE)


def test_the_table_agrees_with_solves_of_the_corrected_craft(craft, power):
    """Two routes to the same power: the table, and the power curve of the craft corrected in all
    of its unknowns at once."""
    values = {"drag_area_m2": 0.009, "efficiency": 0.65, "fixed_load_W": 11.0}
    flat = FoldAngles()
    airspeed = np.array([12.3, 15.1, 17.7])
    table = power(airspeed, flat, values)
    air = replace(standard_air(), density_kg_m3=1.18)
    solved = powered_craft(corrected(craft, values), flat, air=air, grid=COARSE)
    direct = power_curve(solved, airspeed).values("electrical_power_W")
    np.testing.assert_allclose(table, direct, rtol=5e-3)
    np.testing.assert_allclose(power.solved(airspeed[::-1], flat, values), direct[::-1], rtol=5e-4)


def test_beyond_the_curves_there_is_no_prediction(power):
    assert np.isnan(power(np.array([2.0, 60.0]), FoldAngles(), {})).all()
    assert power.curves_needed == 3


KEYS = {"upper.incidence_deg": 0.6, "mass.body_centre_m.0": 0.004}


def with_keys(craft, keys):
    """The craft with numbers of its file uncertain, beside 2 % of its mass."""
    stated = Uncertainty(mass_percent=2.0, keys=keys)
    return craft.model_copy(update={"uncertainty": stated}).from_source(craft.source)


def test_uncertain_keys_change_the_prediction_as_a_changed_file_does(craft):
    """Two routes: the effect of one deviation, and the power curves of files changed by one."""
    speeds = np.array(SPEEDS["open"])
    power = CraftPower(with_keys(craft, KEYS), 1.18, speeds, (), COARSE)
    assert list(power.inputs) == ["mass", *KEYS]
    effects = power.input_effects(speeds, FoldAngles())
    assert effects.shape == (4, 3)
    for column, (path, spread) in enumerate(KEYS.items(), start=1):
        sides = []
        for sign in (1.0, -1.0):
            value = craft.mass.body_centre_m[0] if "mass" in path else craft.upper.incidence_deg
            changed = load_biplane_text(TEXT).overridden(
                as_overrides({path: value + sign * spread})
            )
            air = replace(standard_air(), density_kg_m3=1.18)
            made = powered_craft(changed, FoldAngles(), air=air, grid=COARSE)
            sides.append(power_curve(made, speeds).values("electrical_power_W"))
        direct = 0.5 * (sides[0] - sides[1])
        np.testing.assert_allclose(
            effects[:, column], direct, atol=0.02 * np.abs(direct).max(), err_msg=path
        )


def test_a_key_that_leads_nowhere_is_refused_and_one_that_cannot_move_is_reported(craft):
    astray = CraftPower(
        with_keys(craft, {"upper.incidense_deg": 0.5}), 1.18, np.array([12.0, 14.0])
    )
    with pytest.raises(InputRefused, match="did you mean incidence_deg"):
        craft_prediction(astray)
    # A closed box opens when one wing turns against the other.
    stuck = with_keys(load_biplane("thistle"), {"upper.incidence_deg": 0.5})
    power = CraftPower(stuck, 1.18, np.array([8.0, 9.0]), (), COARSE)
    power.input_effects(np.array([8.5]), FoldAngles.symmetric(-90.0))
    [told] = power.left_out
    assert told.sentence().startswith("box: upper.incidence_deg can be moved to neither side")


def flown_log(path, power, values):
    """A nearly calm log of the craft with other values than its file says."""
    random = np.random.default_rng(4)
    flat = FoldAngles()

    def true_power(airspeed, name, density):
        return power(airspeed, flat, values)

    log = invent.invented_log(
        true_power,
        invent.flight_plan(SPEEDS, 20.0, 3, random),
        invent.Craft(1.62, 0.5),
        invent.Weather(gust_m_s=0.1, rising_m_s=0.01),
        invent.Instruments(throttle_scatter=0.01, trim_scatter=0.003),
        random,
    )
    path.write_text(invent.as_csv(log, "# invented\n"))
    return path


def test_a_known_error_comes_back_from_a_log_of_the_tool_s_own_model(tmp_path, craft, power):
    truth = {"drag_area_m2": 0.010}
    path = flown_log(tmp_path / "log.csv", power, truth)
    settings = {"open": FoldAngles()}
    what = Craft(craft.title, "invented.toml", craft.log, settings, craft.mass.total_kg)
    result = measured(what, read_log(path, craft.log), LogPlan(fit=tuple(truth)))
    found = compared_with_craft(craft, result, grid=COARSE)
    for estimate in found.fit.estimates:
        low, high = estimate.interval
        assert low < truth[estimate.name] < high
        assert not low < estimate.nominal < high
    assert found.residuals[0].bias_share > 0.1
    assert abs(found.fitted_residuals[0].bias_share) < 0.01
    assert found.cross_validation.helps

    text = fitted_text(craft, result, found.fit)
    again = load_biplane_text(text)
    nominal = {n: u.nominal for n, u in craft_unknowns(again, 0.28).items()}
    for name, value in found.fit.values.items():
        assert nominal[name] == pytest.approx(value)
    assert "fitted to the flight log log.csv" in text
    assert "not a flight clearance" in text


def test_the_command_fits_and_writes_a_new_file_beside_the_old(tmp_path, monkeypatch, capsys):
    from vlm.cli.main import main
    from vlm.log import craft_prediction as rooms

    monkeypatch.setattr(rooms, "FEWEST_SPEEDS", 5)
    monkeypatch.setattr(rooms, "SPEED_STEP", 2.0)
    Path(tmp_path / "craft.toml").write_text(TEXT)
    craft = load_biplane_text(TEXT)
    power = CraftPower(craft, 1.18, speeds_for(np.array(SPEEDS["open"])), (), COARSE)
    flown_log(tmp_path / "log.csv", power, {"efficiency": 0.7})
    question = [
        "log", str(tmp_path / "craft.toml"), str(tmp_path / "log.csv"), "--fit", "efficiency",
        "--rows", "2", "--strips", "6", "--write-fitted", "new.toml", "--json",
        # An efficiency above one to one side and below zero to the other.
        "--set", 'uncertainty.keys."propulsion.motor_efficiency"=0.6',
    ]  # fmt: skip
    assert main(question) == 0
    document = json.loads(capsys.readouterr().out)
    told = [one for one in document["findings"] if one["code"].startswith("key_left_out")]
    assert "can be moved to neither side" in json.dumps(told)
    [estimate] = document["prediction"]["fit"]["unknowns"]
    assert estimate["value"] == pytest.approx(0.7, abs=0.02)
    written = load_biplane_text((tmp_path / "new.toml").read_text())
    assert written.propulsion.motor_efficiency * 0.95 == pytest.approx(estimate["value"])
    assert main(question) == 2
    assert "new.toml exists" in capsys.readouterr().err


def test_an_unknown_that_a_craft_has_not_is_refused(craft, power):
    assert "lift_maximum" in craft_prediction(power).unknowns
    thin = craft.model_copy(
        update={"sections": {"plain": craft.sections["plain"].model_copy(update={"form": "thin"})}}
    ).from_source(craft.source)
    assert "lift_maximum" not in craft_unknowns(thin, 0.28)


SHIPPED = Path(__file__).parents[2] / "geometries/logs/tideline-invented.csv"


def test_the_shipped_log_says_that_it_is_invented():
    assert SHIPPED.read_text(encoding="utf-8").startswith("# INVENTED")


@pytest.mark.slow
def test_the_shipped_log_is_what_its_script_makes():
    """Row by row but for the power, which may move a little with the model of the craft."""
    made = [line.split(",") for line in invent.demo_log("tideline").splitlines()]
    kept = [line.split(",") for line in SHIPPED.read_text(encoding="utf-8").splitlines()]
    assert len(made) == len(kept)
    place = kept[2].index("amp")
    for new, old in zip(made, kept, strict=True):
        assert new[:3] == old[:3]
        if len(old) > place and old[place] not in ("", "amp"):
            assert float(new[place]) == pytest.approx(float(old[place]), rel=0.03, abs=0.1)

"""Where the power of a trim goes, what braking does, and which limit ends the speeds.

Sources: momentum theory (J. G. Leishman, Principles of Helicopter Aerodynamics, chapter 2); the
induced drag of a wing L^2 / (pi q b^2 e) (any text); the balance of work along the flight path.
"""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from power_craft import SMALL, glider, powered

from vlm.constants import GRAVITY
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.power import Propulsion
from vlm.flight.trim.power_curve import NO_BALANCE, PowerCurve, PowerPoint, power_curve
from vlm.flight.trim.power_parts import (
    drag_parts,
    equal_thrusts,
    power_parts,
    rotor_points,
)
from vlm.flight.trim.power_warnings import power_warnings
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.special_speeds import special_speeds, speeds_at_body_angle
from vlm.flight.trim.trim import Trim, TrimProblem, trim_problem, trimmed
from vlm.flight.trim.trim_measures import driven_rotors, measured
from vlm.power.propulsion import electrical_power

COARSE = tuple(f"rotors.{i}.pitch_m=0.5" for i in (0, 1))
"""Upper rotors of coarse pitch: fast, they brake, and the air drives them."""
FAST = 26.0


def solved(speed: float, *overrides: str, climb: float = 0.0) -> tuple[TrimProblem, Trim]:
    problem = trim_problem(powered("tideline", 0.0, None, *overrides))
    trim = trimmed(problem, speed, climb)
    assert trim.is_converged
    return problem, trim


@pytest.mark.parametrize(("speed", "climb"), [(4.0, 0.0), (12.0, 0.0), (20.0, 0.1)])
def test_thrust_does_the_work_of_drag_and_climb(speed: float, climb: float) -> None:
    """sum T V_a = D V + W V sin gamma, in stalled, slow and climbing flight."""
    problem, trim = solved(speed, climb=climb)
    parts = power_parts(problem, trim)
    done = sum(float(s.flow.thrust[0] * s.flow.axial[0]) for s in trim.loads.rotors)
    taken = parts.induced + parts.profile + parts.body + parts.slipstream + parts.climb
    assert taken == pytest.approx(done, abs=1e-6)
    numbers = measured(problem, trim).values
    assert sum(parts.values.values()) == pytest.approx(numbers["electrical_power_W"])


def test_hover_is_momentum_theory_and_losses() -> None:
    problem, trim = solved(0.0, "propulsion.slipstream=false")
    parts, craft = power_parts(problem, trim), problem.craft
    ideal = sum(
        t * np.sqrt(t / (2.0 * craft.air.density_kg_m3 * a))
        for t, a in zip(trim.thrusts, craft.areas, strict=True)
    )
    assert parts.rotor_induced == pytest.approx(ideal, rel=1e-9)
    drive = craft.propulsion
    shafts = parts.rotor_induced + parts.rotor_blades
    share = drive.motor_efficiency * drive.controller_efficiency
    assert parts.motors == pytest.approx(shafts * (1.0 / share - 1.0), rel=1e-4)
    assert (parts.induced, parts.profile, parts.body) == (0.0, 0.0, 0.0)


def test_drag_of_a_plain_wing_is_that_of_the_textbooks() -> None:
    """Induced L^2 / (pi q b^2) with e near 1 at aspect ratio 15, profile q S c_d."""
    problem = trim_problem(powered_craft(glider(), FoldAngles(), grid=SMALL))
    speed = 12.0
    trim = trimmed(problem, speed)
    drags = drag_parts(problem.craft, trim.loads)
    pressure = 0.5 * problem.craft.air.density_kg_m3 * speed**2
    assert drags.profile == pytest.approx(pressure * 3.0 * 0.2 * 0.02, rel=0.01)
    weight = problem.craft.masses.mass * GRAVITY
    least = weight**2 / (np.pi * pressure * 3.0**2)
    assert 1.0 < drags.induced / least < 1.08
    assert drags.body == 0.0
    assert drags.slipstream == pytest.approx(0.0, abs=1e-9)


def test_the_rotors_wind_has_its_own_part() -> None:
    """It is what goes when the wind of the same rotors is switched off."""
    _, without = solved(12.0, "propulsion.slipstream=false")
    craft = powered("tideline", 0.0, None, "propulsion.slipstream=false")
    assert drag_parts(craft, without.loads).slipstream == pytest.approx(0.0, abs=1e-9)
    problem, blown = solved(12.0)
    assert drag_parts(problem.craft, blown.loads).slipstream > 0.01


def test_rotors_are_reported_one_by_one() -> None:
    problem, trim = solved(16.0)
    points = rotor_points(problem.craft, trim)
    for point, thrust in zip(points, trim.thrusts, strict=True):
        assert point.thrust_N == pytest.approx(thrust)
        turning = point.torque_N_m * point.speed_rpm * np.pi / 30.0
        assert turning == pytest.approx(point.shaft_power_W)
    assert sum(p.shaft_power_W for p in points) == pytest.approx(
        measured(problem, trim).values["shaft_power_W"]
    )


def test_pitch_trim_costs_what_unequal_thrusts_do() -> None:
    """Shaft power is convex in thrust, so that the mean thrust on all rotors takes the least."""
    problem, trim = solved(20.0)
    equal = equal_thrusts(problem, trim)
    assert equal.thrust == pytest.approx(trim.thrusts.mean())
    more = measured(problem, trim).values["electrical_power_W"] - equal.power
    assert more > 0.5
    assert np.ptp(trim.thrusts) > 0.5


def propulsion(braking: str) -> Propulsion:
    return Propulsion(motor_efficiency=0.8, controller_efficiency=0.9, braking=braking)  # type: ignore[arg-type]


def test_braking_is_spent_or_recovered() -> None:
    shafts = np.array([20.0, -10.0])
    assert electrical_power(propulsion("spent"), shafts) == pytest.approx(20.0 / 0.72)
    assert electrical_power(propulsion("recovered"), shafts) == pytest.approx(20 / 0.72 - 7.2)


@pytest.mark.parametrize("braking", ["spent", "recovered"])
def test_no_corner_where_the_air_begins_to_drive(braking: str) -> None:
    """Slopes on both sides of no power meet: halving the step halves their difference."""
    idle = 0.4

    def bend(step: float) -> float:
        values = electrical_power(
            propulsion(braking), np.array([[-step], [0.0], [step]]), idle=idle
        )
        return float(values[0] - 2.0 * values[1] + values[2]) / step

    assert bend(0.01) / bend(0.02) == pytest.approx(0.5, rel=0.01)
    far = electrical_power(propulsion(braking), np.array([20.0]), idle=idle)
    assert far == pytest.approx(20.0 / 0.72, rel=2e-4)


def test_driven_rotors_are_named_and_may_be_forbidden() -> None:
    problem, trim = solved(FAST, *COARSE)
    driven = driven_rotors(problem.craft, trim)
    assert set(driven) == {"upper starboard", "upper port"}
    assert all(power < 0.0 for power in driven.values())
    spent = measured(problem, trim)
    _, again = solved(FAST, *COARSE, 'propulsion.braking="recovered"')
    recovered = powered("tideline", 0.0, None, *COARSE, 'propulsion.braking="recovered"')
    less = measured(trim_problem(recovered), again)
    gained = -sum(driven.values()) * 0.8 * 0.95
    apart = spent.values["electrical_power_W"] - less.values["electrical_power_W"]
    assert apart == pytest.approx(gained, rel=0.05)
    forbidden = powered("tideline", 0.0, None, *COARSE, *COARSE, 'propulsion.braking="not allowed"')
    problem = trim_problem(forbidden)
    margins = measured(problem, trimmed(problem, FAST)).margins
    assert margins["driven by the air of rotor upper port"] < 0.0


def test_a_warning_names_the_driven_rotor() -> None:
    craft = powered("tideline", 0.0, None, *COARSE)
    curve = power_curve(craft, [12.0, FAST])
    found = [d for d in power_warnings(curve) if d.code == "rotor_driven"]
    assert {d.what.split(" is driven")[0] for d in found} == {
        "rotor upper starboard", "rotor upper port",
    }  # fmt: skip
    assert all("spent" in d.what for d in found)


def test_angles_beyond_a_sections_table_are_reported(tmp_path: Path) -> None:
    """Slow flight stalls the wings; the strips' own angles of attack are the measure."""
    table = tmp_path / "invented.csv"
    rows = [f"{a},{0.1 * (a + 2)},{0.02 + 0.0001 * a * a},-0.04,1e5" for a in range(-8, 13, 2)]
    table.write_text("alpha_deg,cl,cd,cm,reynolds\n" + "\n".join(rows))
    tables = load_biplane("tideline").model_dump(exclude_none=True)
    tables["sections"]["foil"] = {"form": "table", "table": str(table)}
    measured_section = Biplane.model_validate(tables)

    def beyond(craft: Biplane) -> tuple[list[float], float]:
        curve = power_curve(powered_craft(craft, FoldAngles(), grid=SMALL), [0.0, 4.0])
        found = [d.value for d in power_warnings(curve) if d.code == "beyond_table"]
        trim = curve.points[1].trim
        assert trim is not None
        return found, float(np.degrees(trim.loads.coupled.state.alpha.max()))

    told, highest = beyond(measured_section)
    assert told[-1] == pytest.approx(highest)
    assert highest > 12.0
    assert beyond(load_biplane("tideline"))[0] == []


@pytest.fixture(scope="module")
def curve() -> Any:
    return power_curve(powered("tideline"), np.linspace(0.0, 32.0, 17))


def test_the_ends_of_the_speeds_say_why(curve: Any) -> None:
    special = special_speeds(curve)
    assert special.slowest == 0.0
    assert str(special.slowest_limit) == ""
    assert special.fastest_limit.name.startswith("power of rotor lower")
    # With equal thrusts no rotor would come to its power there: a direct evaluation.
    problem = curve.problem
    point = curve.at(special.fastest + 0.2)
    shafts = equal_thrusts(problem, point.trim).shafts
    assert special.fastest_limit.by_pitch_trim == bool(np.all(shafts < 130.0))
    assert float(np.max(point.trim.loads.shaft_powers)) > 130.0


def test_a_speed_without_a_trim_is_beyond_the_fastest(
    curve: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever margin the next speed that was asked for has: nothing balances the craft there."""
    fastest, solved_at = special_speeds(curve).fastest, curve.at
    end = fastest - 0.2

    def at(_: Any, speed: float) -> PowerPoint:
        lost = PowerPoint(speed, None, None, 0, NO_BALANCE)
        return lost if end < speed < fastest + 0.1 else solved_at(speed)

    assert curve.speeds[np.flatnonzero(curve.allowed)[-1]] < end
    monkeypatch.setattr(PowerCurve, "at", at)
    assert special_speeds(curve).fastest == pytest.approx(end, abs=0.01)


def test_body_angle_and_airspeed_go_both_ways(curve: Any) -> None:
    for speed in (12.0, 15.5, 22.0):
        angle = curve.at(speed).value("body_angle_deg")
        found = speeds_at_body_angle(curve, angle)
        assert min(abs(u - speed) for u in found) < 0.02
    assert speeds_at_body_angle(curve, 120.0) == []

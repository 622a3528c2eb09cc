"""Two trims at one speed: what is flown from hover and from cruise, found by another way."""

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim import continuation
from vlm.flight.trim.branches import flown_branches
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.lattice.cellule import Grid
from vlm.study.power.branches import branch_sentence, branches_document, two_branches

STEP = 0.05
"""Change of speed from one trim to the next [m/s]."""


@pytest.fixture(scope="module")
def curve() -> PowerCurve:
    """The light craft, open."""
    made = powered_craft(load_biplane("thistle"), FoldAngles(), grid=Grid(2, 6))
    return power_curve(made, [4.0, 6.0, 10.0])


def walked(curve: PowerCurve, start: float, stop: float) -> float:
    """The speed at which trims, each sought from the one before, turn by more than 4 degrees."""
    point = curve.at(start)
    assert point.trim is not None
    guess, offset = point.trim.unknown, point.trim.loads.coupled.offset
    for speed in np.arange(start, stop, np.copysign(STEP, stop - start)):
        trim = trimmed(curve.problem, float(speed), curve.climb_angle, guess, offset)
        if not trim.is_converged or abs(trim.theta - guess[0]) > np.radians(4.0):
            return float(speed)
        guess, offset = trim.unknown, trim.loads.coupled.offset
    return float("nan")


def test_a_craft_that_walks_through_the_speeds_leaves_its_trim_where_it_is_said(
    curve: PowerCurve,
) -> None:
    """Trims sought in small steps of speed, which know nothing of branches, jump at the turns."""
    found = flown_branches(curve)
    assert found is not None
    assert found.lowest < found.highest
    assert walked(curve, 5.2, 7.5) == pytest.approx(found.highest, abs=2.0 * STEP)
    assert walked(curve, 8.0, 5.0) == pytest.approx(found.lowest, abs=2.0 * STEP)
    hover, cruise = found.from_hover[-1], found.from_cruise[0]
    assert hover.value("body_angle_deg") > cruise.value("body_angle_deg") + 5.0
    assert found.up is not None
    before, after = found.up
    assert after.value("electrical_power_W") < before.value("electrical_power_W")
    for point in (*found.from_hover, *found.from_cruise):
        assert point.trim is not None
        assert point.trim.is_converged


@pytest.mark.parametrize(
    ("descent_deg", "from_hover", "from_cruise"), [(8.0, 6.0, 8.5), (25.0, 6.5, 9.0)]
)
def test_in_a_descent_too(descent_deg: float, from_hover: float, from_cruise: float) -> None:
    """The same walk; in a descent the air meets a hovering wing from behind."""
    made = powered_craft(load_biplane("thistle"), FoldAngles(), grid=Grid(2, 6))
    steep = power_curve(made, [4.0, 10.0], climb_angle=-float(np.radians(descent_deg)))
    found = flown_branches(steep)
    assert found is not None
    assert walked(steep, from_hover, 9.0) == pytest.approx(found.highest, abs=2.0 * STEP)
    assert walked(steep, from_cruise, 5.0) == pytest.approx(found.lowest, abs=2.0 * STEP)


@pytest.mark.parametrize("name", ["tideline", "thistle"])
def test_a_descent_is_trimmed_as_one_walked_to_from_level_flight(name: str) -> None:
    """Every steeper path sought from the trim before, half a degree at a time."""
    made = powered_craft(load_biplane(name), FoldAngles(), grid=Grid(2, 6))
    problem = trim_problem(made)
    for speed in (12.0, 16.0):
        before = trimmed(problem, speed)
        for angle in np.radians(np.arange(0.5, 20.1, 0.5)):
            before = trimmed(problem, speed, -angle, before.unknown, before.loads.coupled.offset)
            assert before.is_converged
        cold = trimmed(problem, speed, -angle)
        assert cold.is_converged
        assert cold.unknown == pytest.approx(before.unknown, abs=1e-5)
        [point] = power_curve(made, [speed], climb_angle=-float(angle)).points
        assert point.trim is not None
        assert point.trim.unknown == pytest.approx(before.unknown, abs=1e-5)


def test_both_are_in_words_and_in_numbers(curve: PowerCurve) -> None:
    found = flown_branches(curve)
    assert found is not None
    words = branch_sentence(found)
    assert f"up to {found.highest:.3g} m/s" in words
    assert f"down to {found.lowest:.3g} m/s" in words
    assert words in two_branches("open", found).what
    document = branches_document(found)
    assert document is not None
    assert document["from_hover_up_to_m_s"] == found.highest
    assert document["jump_up"]["airspeed_m_s"][1] == pytest.approx(found.highest)
    assert branches_document(None) is None


def test_a_turn_does_not_hang_on_the_step_along_the_branch(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The same branches in steps of a hundredth, at most, where a quarter is allowed."""
    made = powered_craft(load_biplane("thistle"), FoldAngles.symmetric(-60.0), grid=Grid(2, 6))
    found = flown_branches(power_curve(made, [4.0, 10.0]))
    monkeypatch.setattr(continuation, "LONGEST", 0.01)
    monkeypatch.setattr(continuation, "FIRST_LENGTH", 0.01)
    fine = flown_branches(power_curve(made, [4.0, 10.0]))
    assert fine is not None
    assert found is not None
    assert found.highest == pytest.approx(fine.highest, abs=2e-4)
    assert found.lowest == pytest.approx(fine.lowest, abs=2e-4)
    for here, there in ((found.up, fine.up), (found.down, fine.down)):
        assert here is not None
        assert there is not None
        for one, other in zip(here, there, strict=True):
            # At a turn the angle goes with the root of what is left of the speed.
            angle = other.value("body_angle_deg")
            assert one.value("body_angle_deg") == pytest.approx(angle, abs=0.3)
            power = other.value("electrical_power_W")
            assert one.value("electrical_power_W") == pytest.approx(power, rel=0.02)


def test_a_single_branch_has_nothing_to_tell(curve: PowerCurve) -> None:
    assert flown_branches(PowerCurve(curve.problem, 0.0, (), curve.points)) is None

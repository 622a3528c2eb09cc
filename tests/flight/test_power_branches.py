"""Two trims at one speed: what is flown from hover and from cruise, found by another way."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.flight.trim.branches import _until_turn, flown_branches
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.trim import trimmed
from vlm.lattice.cellule import Grid
from vlm.study.power_branches import branch_sentence, branches_document, two_branches

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
        trim = trimmed(curve.problem, float(speed), 0.0, guess, offset)
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


def test_turns_of_a_cubic_are_met() -> None:
    """U = 9 - x^3 + 0.3 x turns where x^2 = 0.1, at U = 9 +- 0.2 sqrt(0.1) (derived)."""
    x = np.linspace(1.0, -1.0, 41)
    turn = 0.2 * np.sqrt(0.1)
    path = tuple(
        SimpleNamespace(speed=float(9.0 - (a**3 - 0.3 * a)), unknown=np.array([a])) for a in x
    )
    upward, highest = _until_turn(path, rising=True)  # type: ignore[arg-type]
    _, lowest = _until_turn(path[::-1], rising=False)  # type: ignore[arg-type]
    # The nearest of the points itself is 2.5e-4 off.
    assert highest == pytest.approx(9.0 + turn, abs=1e-4)
    assert lowest == pytest.approx(9.0 - turn, abs=1e-4)
    assert len(upward) < len(path)
    straight = tuple(SimpleNamespace(speed=float(a), unknown=np.array([a])) for a in x[::-1])
    assert _until_turn(straight, rising=True) == (straight, 1.0)  # type: ignore[arg-type]


def test_a_single_branch_has_nothing_to_tell(curve: PowerCurve) -> None:
    assert flown_branches(PowerCurve(curve.problem, 0.0, (), curve.points)) is None

"""What a motion is made ready with: ranges of folds, stops, thrusts that blow, steady flight.

No source but the rules stated in the modules; all numbers are invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from flying_craft import biplane

from vlm.description.folds import FoldAngles
from vlm.errors import ComputationFailed, InputRefused
from vlm.flight.simulation import building, steady
from vlm.flight.simulation.air_table import FoldRange
from vlm.flight.simulation.building import blowing_thrusts
from vlm.flight.simulation.task import Task


def folding(symmetric=True, limits=(-90.0, 20.0)):
    return SimpleNamespace(
        range_deg=limits, is_symmetric=symmetric, craft=SimpleNamespace(source_name="x.toml")
    )


def task(left=(0.0, 0.0), right=(0.0, 0.0), **more):
    return Task("x", 12.0, 4.0, FoldAngles(left[0], right[0]),
                target=FoldAngles(left[1], right[1]), **more)  # fmt: skip


def ends(ranges):
    return [(one.low, one.high) for one in ranges]


@pytest.mark.parametrize(
    ("given", "symmetric", "expected"),
    [
        # Both sides pass the same folds, or one all that the other does: one range for both.
        (task((0.0, -40.0), (0.0, -40.0)), True, [(-40.0, 0.0)] * 2),
        (task((0.0, -40.0), (-40.0, 0.0)), False, [(-40.0, 0.0)] * 2),
        # 3 and 3 points one beside the other are fewer than the pairs of 5 and its mirror images.
        (task((0.0, -40.0), (0.0, 20.0)), True, [(-40.0, 0.0), (0.0, 20.0)]),
        # Tips that are let go may end anywhere.
        (task((0.0, -40.0), lets_go=(9.0, 1.0)), False, [(-40.0, 0.0), (-90.0, 20.0)]),
        # A jam lies on the way.
        (task((0.0, -40.0), (0.0, -40.0), jams={0: np.radians(-60.0)}), False,
         [(-60.0, 0.0), (-40.0, 0.0)]),
    ],
)  # fmt: skip
def test_folds_that_each_side_passes(given, symmetric, expected):
    found = ends(building._ranges(folding(symmetric), given))
    np.testing.assert_allclose(found, expected)


def test_a_fold_that_no_tip_can_take_is_refused():
    with pytest.raises(InputRefused, match=r"fold 21 deg is beyond .* -90 to 20 deg"):
        building._ranges(folding(), task((0.0, 21.0)))
    building._ranges(folding(), task((0.0, 20.0), (0.0, -90.0)))


@pytest.mark.parametrize("limit", [24.0, 57.0, 59.0])
def test_a_fold_at_the_limit_itself_is_not_beyond_it(limit):
    """These degrees come back from radians larger than they were; a millionth more is beyond."""
    back = float(np.degrees(np.radians(limit)))
    assert back > limit
    at = folding(False, (-limit, limit))
    jammed = task((0.0, limit), jams={0: float(np.radians(limit))})
    np.testing.assert_allclose(ends(building._ranges(at, jammed))[0], (0.0, limit))
    schedule = np.array([8.0, 12.0]), np.radians([-limit, limit])
    following = Task("x", 12.0, 4.0, FoldAngles(0.0, 0.0), schedule=schedule)
    np.testing.assert_allclose(ends(building._ranges(at, following)), [(-limit, limit)] * 2)
    craft = biplane(fold_min_deg=-limit, fold_max_deg=limit)
    assert craft.tip_folds(FoldAngles(-back, back))["upper_right"] == back
    for folds in (FoldAngles(0.0, limit + 1e-6), FoldAngles(-limit - 1e-6, 0.0)):
        with pytest.raises(InputRefused, match=r"passes upper\.tips\.fold_m"):
            craft.tip_folds(folds)


@pytest.mark.parametrize(
    ("left", "right", "alike"),
    [
        ((-40.0, 0.0), (-40.0, 0.0), True),
        ((-40.0, 0.0), (0.0, 20.0), False),
        ((-40.0, 0.0), (-44.0, 2.0), True),
    ],
)
def test_one_range_for_both_sides_where_that_costs_less(left, right, alike):
    """Half of n (n + 1) settings against those of both sides' own points."""
    assert building._alike([FoldRange(*left), FoldRange(*right)]) is alike


@pytest.mark.parametrize(
    ("closed", "stops"),
    [((), (-90.0, 20.0)), ((-40.0,), (-40.0, 20.0)), ((-40.0, 10.0), (-40.0, 10.0)),
     ((10.0,), (-90.0, 10.0))],
)  # fmt: skip
def test_a_joint_that_closes_stops_the_tips_before_the_limits(monkeypatch, closed, stops):
    monkeypatch.setattr(building, "closes", lambda folding, fold: fold in closed)
    found = building._stops(folding(), FoldRange(-40.0, 10.0))
    assert np.degrees(found) == pytest.approx(stops)


def rotors(*most):
    return tuple(SimpleNamespace(thrust_max_N=one) for one in most)


def test_thrusts_that_blow_are_shared_alike_up_to_each_rotor_s_most():
    drive = SimpleNamespace(slipstream=True)
    craft = SimpleNamespace(rotors=rotors(2.0, None, 9.0), propulsion=drive)
    assert blowing_thrusts(craft, 9.0).tolist() == [2.0, 3.0, 3.0]
    drive.slipstream = False
    assert blowing_thrusts(craft, 9.0).size == 0
    assert blowing_thrusts(SimpleNamespace(rotors=(), propulsion=drive), 9.0).size == 0
    assert blowing_thrusts(SimpleNamespace(rotors=rotors(1.0), propulsion=None), 9.0).size == 0


def test_a_motion_needs_a_drive(monkeypatch):
    with pytest.raises(InputRefused, match=r"\[actuator\] is missing"):
        building.folding_craft(SimpleNamespace(actuator=None, source_name="x.toml"), None)
    seen = {}

    def made(craft, grid, sections):
        seen.update(grid=grid, sections=sections)
        return folding()

    monkeypatch.setattr(building, "FoldingCraft", made)
    craft = SimpleNamespace(actuator="drive")
    building.folding_craft(craft, SimpleNamespace(grid="grid", sections=False))
    assert seen == {"grid": "grid", "sections": False}


# --- steady flight ------------------------------------------------------------------------------


def plant(shares=None):
    if shares is None:
        return SimpleNamespace(rotors=None)
    set_ = SimpleNamespace(
        share=np.array(shares, dtype=float), names=("a", "b"), low=np.array([0.0, -1.0]),
        high=np.array([4.0, 5.0]),
    )  # fmt: skip
    return SimpleNamespace(rotors=set_)


def test_which_moments_the_rotors_can_make():
    """Columns: thrust, roll, pitch, yaw. Four rotors of all patterns make each; two with one
    difference make that one alone; without rotors all is held otherwise."""
    all_of = [[1, 1, 1, 1], [1, -1, 1, -1], [1, 1, -1, -1], [1, -1, -1, 1]]
    assert steady._held_alone(plant(all_of)).tolist() == [True, True, True]
    pitching = [[0.5, 0, 0.5, 0], [0.5, 0, -0.5, 0]]
    assert steady._held_alone(plant(pitching)).tolist() == [False, True, False]
    assert steady._held_alone(plant()).tolist() == [False, False, False]
    mixed = [[0.5, 0.5, 0.5, 0], [0.5, -0.5, -0.5, 0]]  # roll and pitch only together
    assert steady._held_alone(plant(mixed)).tolist() == [False, False, False]


@pytest.mark.parametrize(
    ("thrusts", "words"),
    [((4.0, -1.0), ""), ((4.1, 0.0), "rotor a would give 4.1 N, of 0 to 4 N"),
     ((0.0, -1.1), "rotor b would give -1.1 N, of -1 to 5 N"), ((0.0, 5.0), "")],
)  # fmt: skip
def test_a_rotor_beyond_its_limits_is_named(thrusts, words):
    assert steady.beyond_limits(plant([[1], [1]]), np.array(thrusts)) == words
    assert steady.beyond_limits(plant(), np.array(thrusts)) == ""


def test_an_airspeed_that_flies_is_the_first_with_steady_flight_on_the_wings(monkeypatch):
    """At 9 m/s it stands on its rotors; at 12 it flies; at 6 nothing balances."""
    angles = {6.0: None, 9.0: 1.2, 12.0: 0.3}
    monkeypatch.setattr(steady, "higher_airspeeds", lambda speed: [9.0, 12.0])
    monkeypatch.setattr(
        steady, "_balanced",
        lambda plant, speed, folds: (
            None if angles[speed] is None else SimpleNamespace(alpha=angles[speed])),
    )  # fmt: skip
    folds = np.radians([0.0, 10.0])
    assert steady._airspeed_that_flies(None, 6.0, folds) == 12.0
    with pytest.raises(ComputationFailed, match=r"at 6 m/s with folds 0, 10 deg; .* as 12 m/s"):
        steady.steady_state(None, 6.0, folds)
    with pytest.raises(ComputationFailed, match="at 9 m/s"):  # 1.2 rad is no flight on the wings
        steady.steady_state(None, 9.0, folds)
    angles[12.0] = None
    with pytest.raises(ComputationFailed, match=r"ask for a higher airspeed$"):
        steady.steady_state(None, 6.0, folds)

"""Fold angles: sides, linkage and stops."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.description import Biplane, Configuration, FoldAngles, Tips, Wing, load_biplane
from vlm.description.folds import allowed_fold
from vlm.errors import InputRefused

WING = {"span_m": 1.0, "root_chord_m": 0.2, "end_chord_m": 0.2}


def craft(**tips):
    upper = Wing(**WING, tips=Tips(span_m=0.3, end_chord_m=0.2, **tips))
    return Biplane(title="Invented", upper=upper)


def test_left_is_port_and_right_is_starboard():
    assert craft().tip_folds(FoldAngles(10.0, -20.0)) == {"upper_left": 10.0, "upper_right": -20.0}


def test_linked_tips_turn_the_other_way():
    folds = load_biplane("turnstone").tip_folds(FoldAngles(20.0, -5.0))
    assert folds == {
        "upper_left": 20.0,
        "upper_right": -5.0,
        "lower_left": -20.0,
        "lower_right": 5.0,
    }


@given(st.floats(-179.0, 179.0), st.floats(-179.0, 179.0))
def test_mirrored_folds_mirror_the_tips(left, right):
    vehicle = craft(linkage=-1.0)
    folds = vehicle.tip_folds(FoldAngles(left, right))
    mirrored = vehicle.tip_folds(FoldAngles(left, right).mirrored())
    assert mirrored == {"upper_left": folds["upper_right"], "upper_right": folds["upper_left"]}
    assert FoldAngles(left, right).mirrored().mirrored() == FoldAngles(left, right)


def test_symmetric_folds():
    assert FoldAngles.symmetric(12.0) == FoldAngles(12.0, 12.0)
    assert FoldAngles.symmetric(12.0).is_symmetric
    assert not FoldAngles(12.0, 11.0).is_symmetric


@pytest.mark.parametrize(("left", "right"), [(180.0, 0.0), (0.0, -180.0), (float("nan"), 0.0)])
def test_folds_of_half_a_turn_and_more_are_refused(left, right):
    with pytest.raises(InputRefused, match="a fold must lie between -180 and 180"):
        FoldAngles(left, right)


@pytest.mark.parametrize(
    ("folds", "said"),
    [
        ((200.0, 200.0), "fold = 200 degrees;"),
        ((float("nan"), float("nan")), "fold = nan degrees;"),
        ((200.0, 0.0), "port fold = 200 degrees;"),
        ((0.0, -190.0), "starboard fold = -190 degrees;"),
    ],
)
def test_the_refusal_names_the_side_where_only_one_is_wrong(folds, said):
    with pytest.raises(InputRefused) as refused:
        FoldAngles(*folds)
    assert str(refused.value).startswith(said)


def test_the_stops_themselves_are_allowed():
    vehicle = craft(fold_min_deg=-90.0, fold_max_deg=60.0)
    assert vehicle.tip_folds(FoldAngles(-90.0, 60.0)) == {"upper_left": -90.0, "upper_right": 60.0}


@pytest.mark.parametrize(
    ("tips", "folds", "said"),
    [
        (
            {"fold_min_deg": -90.0},
            FoldAngles(-90.5, 0.0),
            "a fold of -90.5 degrees on the port side passes upper.tips.fold_min_deg = -90;"
            " the limits allow -90 to 179",
        ),
        (
            {"fold_max_deg": 60.0},
            FoldAngles(0.0, 61.0),
            "a fold of 61 degrees on the starboard side passes upper.tips.fold_max_deg = 60;"
            " the limits allow -179 to 60",
        ),
        (
            {"fold_max_deg": 60.0, "linkage": -2.0},
            FoldAngles(-31.0, 0.0),
            "a fold of -31 degrees on the port side turns the upper tip by 62 and passes"
            " upper.tips.fold_max_deg = 60; the limits allow -30 to 89.5",
        ),
    ],
)
def test_a_fold_beyond_a_stop_is_refused_with_side_tip_and_limits(tips, folds, said):
    with pytest.raises(InputRefused) as caught:
        craft(**tips).tip_folds(folds)
    assert said in str(caught.value)


def test_a_wing_without_tips_folds_by_zero_only():
    plain = Biplane(title="Invented", upper=Wing(**WING))
    assert plain.tip_folds(FoldAngles()) == {}
    with pytest.raises(InputRefused, match="neither wing has any"):
        plain.tip_folds(FoldAngles.symmetric(10.0))


@given(st.floats(-170.0, -1.0), st.floats(1.0, 170.0), st.sampled_from([1.0, -1.0, 0.5, -2.0]))
def test_allowed_commands_reach_the_stops_and_no_further(low, high, linkage):
    first, last = allowed_fold(low, high, linkage)
    for command, inward in ((first, 1.0), (last, -1.0)):
        assert low - 1e-9 <= linkage * (command + inward * 1e-6) <= high + 1e-9
    if abs(linkage) >= 1.0:
        assert {round(linkage * first, 9), round(linkage * last, 9)} == {
            round(low, 9),
            round(high, 9),
        }


def test_a_configuration_is_one_angle_or_two():
    assert Configuration(fold_deg=15).folds == FoldAngles.symmetric(15.0)
    assert Configuration(left_deg=20, right_deg=-20).folds == FoldAngles(20.0, -20.0)

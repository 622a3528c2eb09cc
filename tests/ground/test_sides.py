"""Port and starboard: the sense of y in ISO 1151-1:1988 (from memory), and the names of bodies."""

import json

import pytest

from vlm.plain import without_nan
from vlm.sides import Side, across, on_side, other_body, tip_body, wing_and_side


def test_y_points_to_starboard_so_that_starboard_is_the_positive_side() -> None:
    assert Side.STARBOARD.sense == 1.0
    assert Side.PORT.sense == -1.0
    assert [side.words for side in Side] == ["port", "starboard"]


def test_the_other_side_of_the_other_side_is_the_side_itself() -> None:
    for side in Side:
        assert side.other is not side
        assert side.other.other is side
        assert across(side) == side.other
    assert across("alpha") == "alpha"


@pytest.mark.parametrize("side", list(Side))
def test_a_tips_body_names_its_wing_and_its_side(side: Side) -> None:
    body = tip_body("upper", side)
    assert wing_and_side(body) == ("upper", side)
    assert other_body(body) == tip_body("upper", side.other)
    others = [body, other_body(body), tip_body("lower", side)]
    assert on_side(others, side) == [body, tip_body("lower", side)]


def test_a_side_is_written_as_the_keys_of_files_call_it() -> None:
    text = json.dumps(without_nan({"side": Side.PORT, "folds": {Side.STARBOARD: 20.0}}))
    assert text == '{"side": "left", "folds": {"right": 20.0}}'
    assert type(without_nan([Side.PORT])[0]) is str

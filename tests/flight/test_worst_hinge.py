"""Which hinge is named the most loaded. No source but the promise: rounding decides nothing."""

import math

from vlm.flight.mechanism.hinge_moments import worst_hinge


def test_the_most_loaded_hinge_is_named_and_of_mirror_images_the_first() -> None:
    assert worst_hinge({"upper_left": 0.2, "upper_right": 0.3}) == "upper_right"
    for rounding in (-1e-12, 0.0, 1e-12):
        assert worst_hinge({"upper_left": 0.3, "upper_right": 0.3 + rounding}) == "upper_left"
    assert worst_hinge({"upper_left": 0.0, "upper_right": 0.0}) == "upper_left"
    assert worst_hinge({"upper_left": math.nan, "upper_right": 0.3}) == "upper_left"

"""A verdict word stands only where the interval lies wholly on one side of zero."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.verdicts import SIGN_NOT_KNOWN, known_sign, verdict

NUMBERS = st.floats(-1e6, 1e6)
WIDTHS = st.floats(0.0, 1e6)


@given(NUMBERS, WIDTHS)
def test_the_sign_is_known_exactly_where_both_ends_share_it(value: float, width: float) -> None:
    """Both ends of the interval, looked at one by one."""
    low, high = value - width, value + width
    found = known_sign(value, width)
    if low > 0.0:
        assert found == 1
    elif high < 0.0:
        assert found == -1
    elif low < 0.0 < high:
        assert found is None


@given(NUMBERS, WIDTHS)
def test_the_opposite_number_has_the_opposite_verdict(value: float, width: float) -> None:
    words = {"up": "down", "down": "up", "none": "none", SIGN_NOT_KNOWN: SIGN_NOT_KNOWN}
    assert (
        verdict(-value, width, "up", "down", "none")
        == words[verdict(value, width, "up", "down", "none")]
    )


@pytest.mark.parametrize(
    ("value", "width", "word"),
    [
        (-0.017, 0.020, SIGN_NOT_KNOWN),
        (-0.021, 0.020, "stable"),
        (0.139, 0.006, "unstable"),
        (0.02, 0.02, SIGN_NOT_KNOWN),
        (0.0, 0.0, "zero"),
        (0.3, None, SIGN_NOT_KNOWN),
        (0.3, math.nan, SIGN_NOT_KNOWN),
        (math.nan, 0.1, SIGN_NOT_KNOWN),
        (None, 0.1, SIGN_NOT_KNOWN),
        (5.0, math.inf, SIGN_NOT_KNOWN),
    ],
)
def test_words(value: float | None, width: float | None, word: str) -> None:
    assert verdict(value, width, "unstable", "stable") == word


def test_a_negative_half_width_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        known_sign(1.0, -0.1)

"""A verdict word stands only where the interval lies wholly on one side of zero."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vlm.verdicts import (
    SIGN_NOT_KNOWN,
    known_sign,
    not_known_apart,
    reach,
    verdict,
    words_of_alike,
)

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


@pytest.mark.parametrize(
    ("ends", "way"), [((1.0, 4.0), 2.0), ((-1.0, 2.5), 3.0), ((2.0, 2.0), 0.0), ((1.0, 3.0), 1.0)]
)
def test_an_interval_is_reached_to_its_farther_end(ends: tuple[float, float], way: float) -> None:
    """From 2 up by 2, down by 3, nowhere, and either way."""
    assert reach(2.0, ends) == way


def test_values_not_known_apart_from_the_best() -> None:
    """Best is 10 ± 1: 12.5 ± 1.5 touches it, 12.5 ± 1.4 does not; 7 ± 2 touches it from below. A
    value that is none is left out, an error that is none leaves all open."""
    values = [10.0, 12.5, 12.5, 7.0, 7.0, math.nan, 99.0]
    widths = [1.0, 1.5, 1.4, 2.0, 1.9, 1.0, math.nan]
    assert not_known_apart(values, widths, 0) == [1, 3, 6]
    assert not_known_apart(values, widths, 2) == [1, 6]
    with pytest.raises(ValueError, match="zip"):
        not_known_apart(values, widths[:-1], 0)
    assert words_of_alike("-20, -10") == "not known apart from -20, -10"
    assert words_of_alike("") == ""


def test_an_exact_zero_has_a_sign_of_its_own_and_a_limit_does_not() -> None:
    assert (known_sign(0.0, 0.0), known_sign(-0.0, 0.0), known_sign(0.0, 1e-300)) == (0, 0, None)
    assert (known_sign(2.0, 2.0), known_sign(2.0, 1.9), known_sign(-2.0, 1.9)) == (None, 1, -1)

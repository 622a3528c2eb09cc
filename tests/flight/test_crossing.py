"""Zeros of functions that are no number everywhere. No source but arithmetic."""

import math

import numpy as np
import pytest

from vlm.constants import Floats
from vlm.flight.craft.crossing import crossing
from vlm.flight.craft.steady_roll import _root


def test_a_zero_is_found_where_the_function_is_a_number() -> None:
    assert crossing(lambda x: x**3 - 0.027, 0.0, 1.0, 1e-12) == pytest.approx(0.3, abs=1e-9)


def test_there_is_none_where_the_search_comes_to_no_number() -> None:
    """Found by grammar 177: a rate of roll at which strips find no agreement with sections."""
    assert crossing(lambda x: math.nan if 0.2 < x < 0.9 else x - 0.5, 0.0, 1.0, 1e-9) is None
    assert crossing(lambda x: math.nan if x == 0.0 else x - 0.5, 0.0, 1.0, 1e-9) is None


def test_a_rate_of_roll_beyond_which_there_is_no_number_is_none() -> None:
    rates = np.linspace(0.0, 10.0, 11)

    def rolling(at: Floats) -> Floats:
        return np.where((at > 4.01) & (at < 4.99), np.nan, 4.5 - at)

    found = rolling(rates)
    assert _root(rolling, rates, np.where(rates > 5.5, np.nan, found), 5) is None

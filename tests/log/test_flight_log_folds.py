"""Folds that a log reads: beyond the hinges, and sides that stand apart.

No source but the rules stated in the module; all numbers are invented.
"""

import numpy as np
import pandas as pd
import pytest
from craft_for_logs import log_format

from vlm.findings import Finding
from vlm.log.fold_settings import UNKNOWN
from vlm.log.fold_warnings import fold_warnings

LIMITS = (-15.0, 85.0)
TIME = np.arange(0.0, 60.0, 0.5)


def warned(
    left: np.ndarray, right: np.ndarray, names: np.ndarray, time: np.ndarray = TIME
) -> list[Finding]:
    cells = pd.DataFrame(
        {"time": time, "fold_left": np.radians(left), "fold_right": np.radians(right)}
    )
    return fold_warnings(cells, names, log_format(), LIMITS)


def tips(jammed_s: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Both sides go from 12 to 80 degrees at 20 s; port stops at 47 for a time."""
    right = np.where(TIME < 20.0, 12.0, 80.0)
    stuck = (TIME >= 20.0) & (20.0 + jammed_s > TIME)
    left = np.where(stuck, 47.0, right)
    return left, right, np.where(stuck, UNKNOWN, np.where(TIME < 20.0, "cruise", "tucked"))


def test_a_tip_that_jams_is_told_with_its_time_and_both_folds() -> None:
    [found] = warned(*tips(18.0))
    assert "from 20 to 38 s" in found.what
    assert "port tips stood at 47 and the starboard ones at 80 deg" in found.what
    assert found.value == pytest.approx(33.0)


def test_tips_on_their_way_and_unlike_configurations_are_no_jam() -> None:
    assert warned(*tips(4.0)) == []  # shorter than a steady segment must be
    left, right, names = tips(18.0)
    assert warned(left, right, np.where(names == UNKNOWN, "bank", names)) == []


def test_a_silence_parts_two_short_times_apart() -> None:
    left, right, names = tips(18.0)
    assert warned(left, right, names, TIME + 30.0 * (TIME >= 29.0))[0].value == pytest.approx(33.0)
    assert warned(left, right, names, TIME + 30.0 * np.floor(TIME / 6.0)) == []


@pytest.mark.parametrize(("sign", "named"), [(1.0, []), (-1.0, ["log-fold-left-beyond-limits"])])
def test_a_side_with_the_wrong_sign_passes_the_hinges_limits(sign: float, named: list[str]) -> None:
    both = np.where(TIME < 20.0, 0.0, 80.0)
    found = warned(sign * both, both, np.full(len(TIME), UNKNOWN))
    assert [one.code for one in found] == named
    if named:
        assert (found[0].value, found[0].limit) == (pytest.approx(-80.0), -15.0)
        assert "log.columns.fold_left.negated" in found[0].remedy


def test_a_stray_reading_and_no_reading_are_no_wrong_sign() -> None:
    both = np.full(len(TIME), 80.0)
    stray = both.copy()
    stray[7] = 140.0
    assert warned(stray, both, np.full(len(TIME), "tucked")) == []
    nothing = np.full(len(TIME), np.nan)
    assert warned(nothing, nothing, np.full(len(TIME), UNKNOWN)) == []

"""Reading a sweep off its settings, with quantities made up so that the answer is known."""

import numpy as np
import pytest

from vlm.chart.fold_points import FoldPoints
from vlm.study.sweep.charted_values import MARGIN, misses, read, tolerance_of, widened

LINE = FoldPoints.between(-60.0, 60.0, 9, pairs=False)
ASKED = (-47.0, 3.0, 31.0)


def made(fold: float) -> dict:
    """Drag that all but vanishes at 30 degrees, and the share of a wing in it."""
    x = fold / 60.0
    drag, wing = (x - 0.5) ** 2 + 1e-3, 0.3 * x**2 + 0.2
    return {
        "CL": np.array([[x**3]]),
        "CDi": np.array([[drag]]),
        "CDi_share_upper": np.array([[wing / drag]]),
        "CL_error": np.array([[0.01 + 0.001 * abs(x)]]),
        "findings": [],
    }


def solved() -> dict:
    return {(i,): made(float(fold)) for i, fold in enumerate(LINE.folds)}


def test_a_share_is_read_by_what_it_is_the_share_of() -> None:
    """The share itself peaks 700 times over: no polynomial of nine points follows it."""
    found = read(LINE, solved(), ASKED)
    for place, fold in enumerate(ASKED):
        for name in ("CL", "CDi", "CDi_share_upper"):
            assert found[(place,)][name] == pytest.approx(made(fold)[name], rel=1e-6, abs=1e-9), (
                name
            )


def test_what_is_missed_widens_the_half_width() -> None:
    guess = {(0,): made(10.0), (1,): made(20.0)}
    truth = {place: values | {"CL": values["CL"] + 2e-5} for place, values in guess.items()}
    errors = misses(guess, truth, solved())
    assert errors is not None
    assert errors["CL"] == pytest.approx(2e-5)  # over the largest value, 1
    wider = widened({(0,): made(10.0)}, errors, solved())[(0,)]
    assert wider["CL_error"] == pytest.approx(made(10.0)["CL_error"] + MARGIN * 2e-5)


def test_a_failed_setting_leaves_the_question_open() -> None:
    assert misses({(0,): made(0.0)}, {(0,): {"failure": "surfaces cross"}}, solved()) is None


@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("CL", 1e-4), ("CL_fold_left", 1e-3), ("CDi_share_lower", 1e-3), ("Cl_beta", 1e-4)],
)
def test_ratios_and_slopes_with_a_fold_are_held_more_loosely(name: str, tolerance: float) -> None:
    assert tolerance_of(name) == tolerance

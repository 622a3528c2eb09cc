"""Draws that are trimmed directly beside the estimate of a sweep of power."""

from types import SimpleNamespace

import numpy as np

from vlm.study.power.sensitivity import _checks


def test_a_craft_that_may_not_be_flown_has_nothing_to_be_checked() -> None:
    """By the definition of the chosen speeds: of those allowed."""
    curve = SimpleNamespace(allowed=np.zeros(3, dtype=bool))
    assert _checks(SimpleNamespace(), SimpleNamespace(), "a", curve) == []  # type: ignore[arg-type]

"""Swings that grow at the end of a motion are told, others are not."""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.flight.simulation.task import Task
from vlm.study.motion_settling import growth_findings

TIMES = np.linspace(0.0, 6.0, 1201)
FLAT = FoldAngles(0.0, 0.0)
TASK = Task("test", 13.0, 6.0, FLAT)


def history(rate: float, size: float = 0.02, drift: float = 0.0) -> SimpleNamespace:
    """A pitch attitude that swings ten times with a growth [1/s] about a drift [rad/s]."""
    none = np.zeros_like(TIMES)
    swing = size * np.exp(rate * TIMES) * np.sin(10.0 * TIMES)
    return SimpleNamespace(
        times=TIMES, bank=none, beta=none, pitch=swing + drift * TIMES,
        worms={"left": none}, targets={"left": none},
    )  # fmt: skip


@pytest.mark.parametrize(("rate", "grows"), [(0.1, True), (0.0, False), (-0.1, False)])
def test_a_swing_that_grows(rate: float, grows: bool) -> None:
    found = growth_findings(TASK, history(rate, drift=0.05))  # type: ignore[arg-type]
    assert bool(found) is grows
    if grows:
        # Of an exponential: three seconds later, over the half before.
        assert found[0].value == pytest.approx(np.exp(0.3), rel=0.05)
        assert "pitch attitude" in found[0].what


def test_small_swings_and_short_histories_are_let_be() -> None:
    assert growth_findings(TASK, history(0.3, size=1e-4)) == []  # type: ignore[arg-type]
    late = Task("test", 13.0, 6.0, FLAT, target=FLAT, command_at=5.5)
    assert growth_findings(late, history(0.5)) == []  # type: ignore[arg-type]

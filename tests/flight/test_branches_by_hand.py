"""A branch of trims that turns back in speed, followed on a curve that is known.

No source but the curve: the airspeed of a trim is 12 - 40 (theta - 0.33)^2; all invented.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from vlm.flight.trim import branches, continuation
from vlm.flight.trim.continuation import _Path, _point, crossings, followed

PROBLEM = SimpleNamespace(
    equations=(0,), unknowns=1, leans=False, craft=SimpleNamespace(rotors=(None,) * 4)
)


def speed_of(theta):
    return 12.0 - 40.0 * (theta - 0.33) ** 2


@pytest.fixture(autouse=True)
def known(monkeypatch):
    """Balances and trims of the known curve in place of a craft's."""

    def imbalance(problem, speed, climb, unknown, start):
        found = 0.1 * (speed - speed_of(unknown[:, 0]))
        loads = SimpleNamespace(coupled=SimpleNamespace(offset=np.zeros((len(speed), 1))))
        return found[:, None], loads

    def trimmed(problem, speed, climb, guess=None, start=None):
        theta = float(guess[0])
        for _ in range(30):
            slope = -80.0 * (theta - 0.33)
            theta -= (speed_of(theta) - speed) / slope if slope else 0.0
        done = abs(speed_of(theta) - speed) < 1e-9
        return SimpleNamespace(is_converged=done, theta=theta, speed=speed)

    monkeypatch.setattr(continuation, "imbalance", imbalance)
    monkeypatch.setattr(continuation, "trimmed", trimmed)
    monkeypatch.setattr(continuation, "difference_steps", lambda problem: np.array([1e-6]))


def first(theta):
    coupled = SimpleNamespace(offset=np.zeros((1, 1)))
    return SimpleNamespace(
        climb_angle=0.0, unknown=np.array([theta]), speed=speed_of(theta),
        loads=SimpleNamespace(coupled=coupled),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("theta", "upward", "ends"),
    [(0.8, True, "past the turn"), (-0.1, True, "past the turn"), (0.6, False, "down")],
)
def test_a_branch_is_followed_around_its_turn(theta, upward, ends):
    """Every point balances; the steps are no longer than a quarter in weighted unknowns."""
    told = []
    points = followed(PROBLEM, first(theta), 2.0, 20.0, upward=upward, report=told.append)
    angles = np.array([p.unknown[0] for p in points])
    speeds = np.array([p.speed for p in points])
    np.testing.assert_allclose(speeds, speed_of(angles), atol=1e-5)
    assert told == speeds[1:].tolist()
    assert speeds[-1] < 2.0
    assert (speeds[:-1] >= 2.0).all()
    steps = np.hypot(np.diff(angles), np.diff(speeds) / 10.0)
    assert steps.max() < 0.3
    assert steps[0] == pytest.approx(0.08, rel=0.3)
    if ends == "past the turn":
        assert speeds.max() == pytest.approx(12.0, abs=0.15)
        assert (angles[0] - 0.33) * (angles[-1] - 0.33) < 0.0
    else:
        assert (np.diff(speeds) < 0.0).all()


def test_trims_wherever_a_branch_passes_a_speed():
    points = followed(PROBLEM, first(0.8), 2.0, 20.0, upward=True)
    found = sorted(trim.theta for trim in crossings(PROBLEM, points, 10.0))
    apart = np.sqrt(2.0 / 40.0)
    assert found == pytest.approx([0.33 - apart, 0.33 + apart])
    assert crossings(PROBLEM, points, 13.0) == []
    assert len(crossings(PROBLEM, [*points, *points[::-1]], 10.0)) == 2


def test_a_point_is_brought_back_across_the_tangent():
    """Across the branch's own direction, so that the shift has no part along it."""
    path = _Path(PROBLEM, 0.0)
    z = np.array([0.5, speed_of(0.5)])
    _, slopes, start = path.linearised(z, np.zeros((1, 1)))
    along = path.tangent(slopes, np.array([0.0, 1.0]))
    assert np.linalg.norm(along) == pytest.approx(1.0)
    assert along[1] > 0.0
    # d(speed)/d(theta) = -80 x 0.17, a tenth of it in weighted speed.
    assert along[1] / along[0] == pytest.approx(-80.0 * 0.17 / 10.0, rel=1e-4)
    np.testing.assert_allclose(slopes, [[0.1 * 80.0 * 0.17, 1.0]], rtol=1e-3)
    away = z + np.array([0.02, 0.3])
    new, _, _, steps = path.corrected(away, along, start)
    assert new[1] == pytest.approx(speed_of(new[0]), abs=1e-5)
    assert ((new - away) * path.weights) @ along == pytest.approx(0.0, abs=1e-9)
    assert 2 <= steps <= 4
    assert path.tangent(slopes, np.array([0.0, -1.0]))[1] < 0.0


def test_a_speed_between_two_points_is_neared_by_halving():
    ends = [_point(np.array([t, speed_of(t)]), np.zeros((1, 1))) for t in (0.9, 0.5)]
    near = continuation._nearer(PROBLEM, *ends, 6.0, 0.0)
    assert near.speed == pytest.approx(6.0, abs=0.02)
    assert near.speed == pytest.approx(speed_of(near.unknown[0]), abs=1e-5)


@pytest.mark.parametrize("rising", [True, False])
def test_a_branch_ends_at_its_turn_wherever_its_points_lie(rising, monkeypatch):
    """The summit of the known curve, 12 m/s at 0.33; turned over, its lowest point at 8 m/s."""
    if not rising:
        monkeypatch.setitem(globals(), "speed_of", lambda theta: 8.0 + 40.0 * (theta - 0.33) ** 2)
    curve = SimpleNamespace(problem=PROBLEM, climb_angle=0.0)
    for angles in ((0.6, 0.5, 0.4, 0.3, 0.2), (0.9, 0.45, 0.05), (-0.2, 0.31, 0.36, 0.8)):
        ends = [_point(np.array([t, speed_of(t)]), np.zeros((1, 1))) for t in angles]
        *before, turn = branches._until_turn(curve, tuple(ends), rising=rising)
        assert turn.speed == pytest.approx(12.0 if rising else 8.0, abs=1e-5)
        assert turn.unknown[0] == pytest.approx(0.33, abs=1e-3)
        assert before == ends[: len(before)]
        assert all((one.unknown[0] - 0.33) * (angles[0] - 0.33) > 0.0 for one in before)


def test_a_branch_without_a_turn_ends_where_it_ends():
    curve = SimpleNamespace(problem=PROBLEM, climb_angle=0.0)
    ends = tuple(_point(np.array([t, speed_of(t)]), np.zeros((1, 1))) for t in (0.8, 0.6, 0.4))
    assert branches._until_turn(curve, ends, rising=True) is ends
    assert branches._until_turn(curve, ends[::-1], rising=True) == ends[2:]

"""The search for a best design, on costs whose least value is known."""

import numpy as np
import pytest

from vlm.study.design.search import measured_noise, search, starting_points

CENTRE = np.array([0.3, 0.7])


def bowl(place: np.ndarray) -> float:
    """Least at the centre, 2 there, with a valley across both keys."""
    off = place - CENTRE
    return float(2.0 + 4.0 * off[0] ** 2 + 2.0 * off[0] * off[1] + off[1] ** 2)


def test_the_bottom_of_a_bowl_is_found_from_every_start() -> None:
    found = search(bowl, starting_points([0.9, 0.1], 3))
    assert found.best == pytest.approx(CENTRE, abs=0.02)
    assert found.cost == pytest.approx(2.0, abs=2e-4)
    assert len(found.ends) == 3
    for end in found.ends:
        assert end.converged
        assert end.cost == pytest.approx(2.0, abs=1e-3)
    assert np.ptp([end.start[0] for end in found.ends]) > 0.3


def test_the_best_of_two_valleys_is_taken() -> None:
    """A shallow valley at 0.2, a deeper one at 0.8; the first start stands in the shallow one."""

    def valleys(place: np.ndarray) -> float:
        x = float(place[0])
        return 3.0 - np.exp(-(((x - 0.2) / 0.1) ** 2)) - 2.0 * np.exp(-(((x - 0.8) / 0.1) ** 2))

    alone = search(valleys, starting_points([0.2], 1))
    assert alone.best == pytest.approx([0.2], abs=0.02)
    found = search(valleys, starting_points([0.2], 4))
    assert found.best == pytest.approx([0.8], abs=0.02)


def test_a_least_value_outside_the_bounds_ends_at_a_corner() -> None:
    found = search(
        lambda place: float(1.0 + place[0] - 2.0 * place[1]), starting_points([0.5, 0.5], 2)
    )
    assert found.best == pytest.approx([0.0, 1.0], abs=1e-6)


def test_a_simplex_that_collapses_in_a_corner_sets_out_again() -> None:
    """Least on the edge y = 1 at x = 0.85; the first simplex runs into the corner beside it."""

    def edge(place: np.ndarray) -> float:
        x, y = place
        return float(60.0 + (x - 0.85) ** 2 - 0.5 * y - 0.2 * x * (1.0 - y))

    found = search(edge, starting_points([0.52, 0.44], 1))
    assert found.best == pytest.approx([0.85, 1.0], abs=0.01)


def test_designs_that_fail_are_walked_around() -> None:
    """Half of the square is not allowed; the least of the rest lies on its edge."""

    def cut(place: np.ndarray) -> float:
        return float("nan") if place[0] < 0.5 else bowl(place)

    found = search(cut, starting_points([0.1, 0.1], 3))
    assert found.best is not None
    assert found.best[0] == pytest.approx(0.5, abs=0.02)
    # Along the edge d/dy = 0 at y = 0.7 - (0.5 - 0.3) (derived).
    assert found.best[1] == pytest.approx(0.5, abs=0.06)
    nothing = search(lambda place: float("nan"), starting_points([0.5, 0.5], 2))
    assert nothing.best is None


@pytest.mark.parametrize("starts", [1, 2])
def test_a_start_among_what_is_not_allowed_finds_what_is(starts: int) -> None:
    """An eighth of the square is allowed, far from the start; its least value is on its edge.

    Along x = 0.75 the bowl's d/dy = 0 at y = 0.7 - (0.75 - 0.3) (derived).
    """

    def corner(place: np.ndarray) -> float:
        x, y = place
        return bowl(place) if x > 0.75 and y < 0.5 else float("nan")

    found = search(corner, starting_points([0.1, 0.9], starts))
    assert found.best == pytest.approx([0.75, 0.25], abs=0.03)
    assert np.isfinite(found.noise)
    assert all(np.isfinite(end.cost) for end in found.ends)


def test_noise_is_measured_and_its_hollows_are_not_dug() -> None:
    spread = 0.01
    sizes = []
    for seed in range(40):
        random = np.random.default_rng(seed)

        def noisy(place: np.ndarray, random: np.random.Generator = random) -> float:
            return bowl(place) + spread * random.standard_normal()

        sizes.append(measured_noise(noisy, np.array([0.5, 0.5])))
    # The root of the mean square estimates the standard deviation; 40 samples, within a third.
    assert np.sqrt(np.mean(np.square(sizes))) == pytest.approx(spread, rel=0.35)
    count = [0]

    def counted(place: np.ndarray) -> float:
        count[0] += 1
        return bowl(place) + spread * np.sin(1e6 * float(place @ [1.0, 2.0]))

    found = search(counted, starting_points([0.9, 0.1], 1), most=200)
    assert found.cost < 2.0 + 3.0 * spread
    assert count[0] < 120


def test_a_search_that_is_stopped_keeps_its_best() -> None:
    count = [0]

    def stopped(place: np.ndarray) -> float:
        count[0] += 1
        if count[0] > 15:
            raise KeyboardInterrupt
        return bowl(place)

    found = search(stopped, starting_points([0.9, 0.1], 3))
    assert found.stopped
    assert found.best is not None
    assert found.cost < bowl(np.array([0.9, 0.1]))


def test_the_most_designs_from_a_start_are_kept_to() -> None:
    count = [0]

    def counted(place: np.ndarray) -> float:
        count[0] += 1
        return bowl(place)

    found = search(counted, starting_points([0.9, 0.1], 2), most=12)
    assert all(end.evaluations <= 12 for end in found.ends)
    assert not any(end.converged for end in found.ends)
    assert count[0] <= 4 + 24

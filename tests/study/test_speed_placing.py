"""Airspeeds where the curves bend, against trims at many more."""

from dataclasses import dataclass, replace

import numpy as np

from vlm.flight.trim.power_curve import PowerCurve
from vlm.study.power.speed_placing import LEAST_GAP, refined


@dataclass(frozen=True)
class Point:
    """A speed with its power."""

    speed: float
    power: float

    def value(self, _key: str) -> float:
        """The power."""
        return self.power


@dataclass(frozen=True)
class Known:
    """A curve of a known function: steep between 6 and 7 m/s, a parabola beyond."""

    points: tuple[Point, ...]

    @property
    def speeds(self) -> np.ndarray:
        return np.array([p.speed for p in self.points])

    def values(self, _key: str) -> np.ndarray:
        return np.array([p.power for p in self.points])

    def at(self, speed: float) -> Point:
        return Point(speed, float(power(speed)))


def power(speed: np.ndarray | float) -> np.ndarray:
    """300 W in hover, falling by 250 W about 6.5 m/s, rising again with the cube of the speed."""
    return np.asarray(50.0 + 250.0 / (1.0 + np.exp((speed - 6.5) / 0.3)) + 0.02 * speed**3)


def curve_on(speeds: np.ndarray) -> PowerCurve:
    return Known(tuple(Point(float(u), float(power(u))) for u in speeds))  # type: ignore[return-value]


def worst(curve: PowerCurve) -> float:
    """Largest error of straight lines between the points, in shares of the power."""
    fine = np.linspace(0.0, 20.0, 2001)
    drawn = np.interp(fine, curve.speeds, curve.values(""))
    return float(np.max(np.abs(drawn / power(fine) - 1.0)))


def test_straight_lines_between_placed_speeds_err_less() -> None:
    """28 even speeds and 12 placed ones against 40 even ones."""
    placed = refined({"a": curve_on(np.linspace(0.0, 20.0, 28))}, 12)["a"]
    even = curve_on(np.linspace(0.0, 20.0, 40))
    assert len(placed.speeds) == 40
    assert np.all(np.diff(placed.speeds) > 0.99 * LEAST_GAP * 20.0)
    assert worst(placed) < 0.5 * worst(even)
    added = np.setdiff1d(placed.speeds, np.linspace(0.0, 20.0, 28))
    assert np.mean((added > 4.5) & (added < 9.5)) > 0.7


def test_all_settings_keep_the_same_speeds_and_gaps_stop() -> None:
    even = np.linspace(0.0, 20.0, 12)
    two = {"a": curve_on(even), "b": curve_on(even)}
    placed = refined(two, 5)
    np.testing.assert_array_equal(placed["a"].speeds, placed["b"].speeds)
    lost = replace(curve_on(even), points=tuple(Point(float(u), np.nan) for u in even))  # type: ignore[arg-type]
    assert len(refined({"a": lost}, 5)["a"].speeds) == 12
    many = refined({"a": curve_on(even)}, 500)["a"]
    assert np.diff(many.speeds).min() > 0.99 * LEAST_GAP * 20.0

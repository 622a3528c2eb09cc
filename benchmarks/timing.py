"""Ratios of running times, measured in one run with interleaved repeats."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

Work = Callable[[], object]


@dataclass(frozen=True)
class Ratio:
    """Median, least and greatest ratio of two works over interleaved pairs of runs."""

    median: float
    least: float
    highest: float
    seconds: float
    base_seconds: float

    def text(self) -> str:
        """The ratio with its spread."""
        return f"{self.median:.2f} ({self.least:.2f} to {self.highest:.2f})"


def seconds(work: Work) -> float:
    """Time of one run [s]."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(work: Work, base: Work, repeats: int, *, warm: bool = True) -> Ratio:
    """Time of ``work`` over that of ``base``: run in turn, after one run of each to warm up."""
    if warm:
        work()
        base()
    pairs = [(seconds(work), seconds(base)) for _ in range(repeats)]
    quotients = [a / b for a, b in pairs]
    return Ratio(
        float(np.median(quotients)),
        min(quotients),
        max(quotients),
        float(np.median([a for a, _ in pairs])),
        float(np.median([b for _, b in pairs])),
    )


@dataclass(frozen=True)
class Cost:
    """Time of some work, as a clock shows it and of all processors together [s]."""

    elapsed: float
    processor: float

    def times(self, factor: float) -> "Cost":
        """That of so many times the work."""
        return Cost(factor * self.elapsed, factor * self.processor)


def cost(work: Work) -> Cost:
    """Time of a call."""
    before = time.process_time()
    elapsed = seconds(work)
    return Cost(elapsed, time.process_time() - before)


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Fitted p in time = k size^p."""
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def row(name: str, value: str, target: str = "") -> str:
    """One line of a benchmark's table."""
    return f"{name:<66} {value:>24} {target}"

"""What to fly next: how many more legs would settle a sign, by the fit's own information.

More legs of both configurations, flown by turns and out and back, are added to the points at a
speed, and the model is asked how well it would know the difference then, with the scatter it found.
If the difference stays what it is, its sign is coupled as soon as the interval over all bins leaves
zero out. What no number of legs can settle is said, with the stated uncertainty that stands in the
way.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from vlm.log.difference import Difference, DifferenceBin
from vlm.log.power_model import PowerModel, flown_again

MOST_LEGS = 32
# Time beside a leg for its turn and its change of speed, as a share of the leg (common practice).
BETWEEN = 0.5


@dataclass(frozen=True)
class Proposal:
    """What would settle one open sign.

    Attributes
    ----------
    first, second : the configurations
    airspeed_m_s : where
    difference_W, half_width_W : as known now, over all bins together
    legs_of_each : more legs of each; None where no number up to ``MOST_LEGS`` settles it
    minutes : what they take, turns included; NaN where there is no number
    obstacle : what stands in the way, in words; "" where legs settle it
    """

    first: str
    second: str
    airspeed_m_s: float
    difference_W: float
    half_width_W: float
    legs_of_each: int | None
    minutes: float
    obstacle: str

    def sentence(self) -> str:
        """The proposal in words."""
        where = f"{self.first} against {self.second} at {self.airspeed_m_s:.1f} m/s"
        if self.legs_of_each is None:
            return f"{where}: {self.obstacle}"
        times = "leg" if self.legs_of_each == 1 else "legs"
        return (
            f"{where}: {self.legs_of_each} more {times} of each, by turns, out and back"
            f" ({self.minutes:.0f} min), if the difference stays what it is"
        )


def proposals(model: PowerModel, item: Difference, level: float) -> list[Proposal]:
    """What would settle the open signs of a difference.

    Parameters
    ----------
    model : that it was found in
    item : the difference
    level : of the intervals, over all its bins together

    Returns
    -------
    One for each bin whose sign is not known, the cheapest first.
    """
    strict = 1.0 - (1.0 - level) / max(len(item.bins), 1)
    found = [
        _proposal(model, item, bin_, strict) for bin_ in item.bins if bin_.first_draws == "unknown"
    ]
    return sorted(
        found, key=lambda p: (p.legs_of_each is None, p.legs_of_each or 0, -abs(p.difference_W))
    )


def _proposal(model: PowerModel, item: Difference, bin_: DifferenceBin, strict: float) -> Proposal:
    length = float(np.median(model.points.length_s))
    half = bin_.half_width_of_sign_W

    def enough(legs: int) -> bool:
        return half_width_after(model, item, bin_, legs, strict) < abs(bin_.difference_W)

    legs: int | None = None
    obstacle = ""
    if not enough(MOST_LEGS):
        obstacle = _obstacle(model, bin_, strict)
    else:
        low, high = 0, MOST_LEGS
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if enough(middle) else (middle, high)
        legs = high
    minutes = float("nan") if legs is None else 2.0 * legs * length * (1.0 + BETWEEN) / 60.0
    return Proposal(
        item.first, item.second, bin_.airspeed_m_s, bin_.difference_W, half, legs, minutes, obstacle
    )


def half_width_after(
    model: PowerModel, item: Difference, bin_: DifferenceBin, legs: int, level: float
) -> float:
    """Half-width of a difference after more legs of both at its airspeed [W].

    Parameters
    ----------
    model, item : the model and the difference
    bin_ : one of its bins
    legs : more of each configuration
    level : of the interval
    """
    length = float(np.median(model.points.length_s))
    extra = {(name, bin_.airspeed_m_s): legs for name in (item.first, item.second)}
    points = flown_again(model.points, extra, length)
    solution = model.with_more(points)
    row = np.zeros(len(solution.names))
    for name, value in zip(model.solution.names, bin_.row, strict=True):
        if value and name in solution.names:
            row[solution.place(name)] = value
    return solution.half_width(row, level)


def _obstacle(model: PowerModel, bin_: DifferenceBin, strict: float) -> str:
    """Why no number of legs settles a sign."""
    parts = model.solution.stated_parts(bin_.row)
    stated = {n: v for n, v in parts.items() if v > 0.0 and _column_label(model, n) is not None}
    total = float(np.sqrt(sum(stated.values())))
    wall = float(norm.ppf(0.5 + 0.5 * strict)) * total
    if stated and wall > abs(bin_.difference_W):
        worst = max(stated, key=lambda name: stated[name])
        return (
            f"no number of legs settles {abs(bin_.difference_W):.1f} W: what is stated leaves"
            f" {wall:.1f} W, most of it {_column_label(model, worst)}; know that better first"
        )
    return (
        f"more than {MOST_LEGS} legs of each would be needed for {abs(bin_.difference_W):.1f} W;"
        " take them as equal within the interval"
    )


def _column_label(model: PowerModel, name: str) -> str | None:
    """Label of a parameter that is held down by a stated uncertainty."""
    for column in model.problem.columns:
        if column.name == name and not column.group and np.isfinite(column.spread):
            return column.label
    return None

"""How a craft folds during a mission: held at one fold, or moved along its schedule.

Either way there is a power for every airspeed at which the wings carry the craft, cut where a
constraint is passed. The schedule commands a fold by airspeed alone; below its lowest airspeed,
in transition and in hover, the tips rest at the fold of that airspeed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import minimize_scalar

from vlm.constants import Floats
from vlm.description.schedule import Schedule
from vlm.flight.plan.schedule import ideal_schedule
from vlm.flight.plan.schedule_limits import ScheduleLimits, schedule_limits
from vlm.flight.trim.power_book import FoldCurve, PowerBook

FINE_SPEEDS = 400
SAME_SPEED = 1e-9
NO_TRIM = "no trim within the limits of rotors and battery"


@dataclass(frozen=True)
class FoldRule:
    """The fold at every airspeed, and what it costs.

    Attributes
    ----------
    name : what it is called
    book : trims of the craft
    speeds : airspeeds of the wings, shape (speeds,), growing [m/s]
    folds_deg : the fold there, shape (speeds,), NaN where none is allowed [deg]
    power : electrical power in level flight, shape (speeds,), NaN where it is not allowed [W]
    reasons : what forbids a speed; empty where it is allowed
    stall_margin_deg : least margin to the stall; None does not bind [deg]
    active : by speed, the constraints that hold the fold back; empty where none was sought
    """

    name: str
    book: PowerBook
    speeds: Floats
    folds_deg: Floats
    power: Floats
    reasons: tuple[str, ...]
    stall_margin_deg: float | None = None
    active: tuple[tuple[str, ...], ...] = ()

    @cached_property
    def _curve(self) -> FoldCurve:
        return FoldCurve(self.speeds, self.power)

    def fold(self, speed: float) -> float:
        """The fold at an airspeed; beyond the ends the ends' own [deg]."""
        known = np.isfinite(self.folds_deg)
        if not known.any():
            return float("nan")
        return float(np.interp(speed, self.speeds[known], self.folds_deg[known]))

    def level_power(self, speed: float) -> float:
        """Power in level flight, interpolated; NaN where it is not allowed [W]."""
        return self._curve(speed)

    def reason(self, speed: float) -> str:
        """What forbids an airspeed."""
        nearest = int(np.argmin(np.abs(self.speeds - speed)))
        return self.reasons[nearest] or NO_TRIM

    def active_at(self, speed: float) -> tuple[str, ...]:
        """Constraints that hold the fold back at an airspeed."""
        return self.active[int(np.argmin(np.abs(self.speeds - speed)))] if self.active else ()

    def best_speed(self, headwind: float | None = None) -> float:
        """Airspeed of least power, or with a headwind that of least energy over the ground.

        Parameters
        ----------
        headwind : None for the least power [m/s]

        Returns
        -------
        NaN where no airspeed is allowed [m/s]
        """

        def cost(speed: float) -> float:
            power = self.level_power(speed)
            if not np.isfinite(power):
                return float("inf")
            if headwind is None:
                return power
            return power / (speed - headwind) if speed > headwind else float("inf")

        return _least(cost, self.speeds)


def _least(cost: Callable[[float], float], speeds: Floats) -> float:
    """Where a cost over speed is least: on a fine grid, then between its neighbours."""
    fine = np.unique(np.concatenate([np.linspace(speeds[0], speeds[-1], FINE_SPEEDS), speeds]))
    values = np.array([cost(float(u)) for u in fine])
    best = int(np.argmin(values))
    if not np.isfinite(values[best]):
        return float("nan")
    low, high = fine[max(0, best - 1)], fine[min(len(fine) - 1, best + 1)]
    found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"xatol": 1e-5})
    return float(found.x) if found.fun < values[best] else float(fine[best])


def scheduled(book: PowerBook, schedule: Schedule) -> FoldRule:
    """The best fold within all constraints at every airspeed of the schedule."""
    points = ideal_schedule(book, schedule_limits(book, schedule), confirm=False)
    kept = [p for p in points if p.speed >= schedule.airspeed_min_m_s - SAME_SPEED]
    return FoldRule(
        name="schedule",
        book=book,
        speeds=np.array([p.speed for p in kept]),
        folds_deg=np.array([p.fold_deg for p in kept]),
        power=np.array([p.power for p in kept]),
        reasons=tuple(p.reason for p in kept),
        stall_margin_deg=schedule.stall_margin_min_deg,
        active=tuple(p.active for p in kept),
    )


def flying_limits(book: PowerBook, schedule: Schedule) -> ScheduleLimits:
    """The constraints that bind a craft that does not fold: stall, rotors, dihedral effect."""
    folding = {
        "roll_reserve_deg": None,
        "roll_moment_min_N_m": None,
        "folding_rate_min_deg_s": None,
        "hinge_moment_max_N_m": None,
        "forbidden_deg": (),
    }
    return schedule_limits(book, schedule.model_copy(update=folding))


def held(
    name: str, book: PowerBook, schedule: Schedule, limits: ScheduleLimits, fold_deg: float
) -> FoldRule:
    """One fold held throughout, within what binds a craft that does not fold.

    Parameters
    ----------
    limits : see :func:`flying_limits`
    fold_deg : between the folds of the book [deg]
    """
    wanted = np.flatnonzero(book.speeds >= schedule.airspeed_min_m_s - SAME_SPEED)
    power, reasons = [], []
    for index in wanted:
        value = book.over_fold(book.power, int(index))(fold_deg)
        margins = limits.margins(fold_deg, int(index))
        passed = [key for key, margin in margins.items() if not margin >= 0.0]
        reason = NO_TRIM if not np.isfinite(value) else "".join(passed[:1])
        power.append(float("nan") if reason else value)
        reasons.append(reason)
    return FoldRule(
        name=name,
        book=book,
        speeds=book.speeds[wanted],
        folds_deg=np.full(len(wanted), fold_deg),
        power=np.array(power),
        reasons=tuple(reasons),
        stall_margin_deg=schedule.stall_margin_min_deg,
    )

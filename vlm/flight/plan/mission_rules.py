"""How a craft folds during a mission: held at one fold, or moved along its schedule.

Either way there is a power for every airspeed at which the wings carry the craft, cut where a
constraint is passed. The schedule commands a fold by airspeed alone; below its lowest airspeed,
in transition and in hover, the tips rest at the fold of that airspeed.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.optimize import minimize_scalar

from vlm.constants import Floats
from vlm.description.schedule import Schedule
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.lifted import OF_FOLDING, OF_MOVING, without
from vlm.flight.plan.schedule import SchedulePoint, best_fold, ideal_schedule
from vlm.flight.trim.power_book import FoldCurve, PowerBook

FINE_SPEEDS = 400
SAME_SPEED = 1e-9
AT_A_SPEED = 0.02
"""Distance from an airspeed of the table within which the best one stands at it [m/s]."""
EDGE_HALVINGS = 5
"""Halvings with which the last allowed airspeed is found between two of the table [1]."""
LOWEST_AIRSPEED, HIGHEST_AIRSPEED = (
    f"the {which} airspeed of [schedule]" for which in ("lowest", "highest")
)
FORBIDDEN = 1e12
"""A cost [W or J/m] far beyond any, where there is none."""
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
    table : settings solved directly, with the constraints that bind
    moves : whether the tips follow the schedule
    active : by speed, the active constraints; empty where none was sought
    """

    name: str
    book: PowerBook
    speeds: Floats
    folds_deg: Floats
    power: Floats
    reasons: tuple[str, ...]
    table: FoldTable
    moves: bool = False
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
        return float(self._curve(speed))

    def reason(self, speed: float) -> str:
        """What forbids an airspeed."""
        nearest = int(np.argmin(np.abs(self.speeds - speed)))
        return self.reasons[nearest] or NO_TRIM

    def active_at(self, speed: float) -> tuple[str, ...]:
        """Constraints that hold the fold back at an airspeed."""
        return self.active[int(np.argmin(np.abs(self.speeds - speed)))] if self.active else ()

    def level_fold(self, speed: float) -> tuple[float, str]:
        """The fold held in level flight at any airspeed, and what forbids it, solved directly.

        A schedule is asked for its best fold at this very airspeed. The fold is NaN where it is not
        allowed, the reason empty where it is.
        """
        point = self._solved(speed)
        return point.fold_deg, point.reason

    def _solved(self, speed: float) -> SchedulePoint:
        if self.moves:
            return best_fold(self.table, speed)
        found = self.table.setting(self.fold(speed), speed)
        return SchedulePoint(speed, found if found.is_allowed else None, forbidden=found.passed)

    def best_speed(self, headwind: float | None = None) -> float:
        """Airspeed of least power, or with a headwind that of least energy over the ground.

        Where the best of the table stands beside one that is not allowed, the last one that is
        allowed between them is sought by direct solves.

        Parameters
        ----------
        headwind : None for the least power [m/s]

        Returns
        -------
        NaN where no airspeed is allowed [m/s]
        """
        best = self._best_of_table(headwind)
        nearest = int(np.argmin(np.abs(self.speeds - best))) if np.isfinite(best) else -1
        if nearest < 0 or abs(self.speeds[nearest] - best) > AT_A_SPEED:
            return best
        for beside in (nearest - 1, nearest + 1):
            if 0 <= beside < len(self.speeds) and not np.isfinite(self.power[beside]):
                best = self._reaching(nearest, beside)._best_of_table(headwind)
        return best

    def speed_held_by(self, headwind: float | None = None) -> tuple[str, ...]:
        """What forbids the airspeeds next to :meth:`best_speed`; empty where none is forbidden."""
        best = self.best_speed(headwind)
        if not np.isfinite(best):
            return ()
        for end, name in ((0, LOWEST_AIRSPEED), (-1, HIGHEST_AIRSPEED)):
            if abs(best - self.speeds[end]) < AT_A_SPEED:
                return (name,)
        found: list[str] = []
        for way in (-1, 1):
            ahead = np.flatnonzero(way * (self.speeds - best) > 0.0)
            beside = int(ahead[-1] if way < 0 else ahead[0])
            if np.isfinite(self.power[beside]):
                continue
            edge = 2.0 * abs(self.speeds[beside] - self.speeds[beside - way]) / 2**EDGE_HALVINGS
            probe = best + way * min(edge, abs(float(self.speeds[beside]) - best))
            found += self._solved(float(probe)).forbidden
        return tuple(dict.fromkeys(found))

    def _reaching(self, inside: int, outside: int) -> "FoldRule":
        """The rule with the last allowed airspeed between two of the table among its own."""
        last: SchedulePoint | None = None
        low, high = float(self.speeds[inside]), float(self.speeds[outside])
        for _ in range(EDGE_HALVINGS):
            point = self._solved(0.5 * (low + high))
            if point.setting is None:
                high = point.speed
            else:
                low, last = point.speed, point
        if last is None:
            return self
        place = max(inside, outside)
        return replace(
            self,
            speeds=np.insert(self.speeds, place, last.speed),
            folds_deg=np.insert(self.folds_deg, place, last.fold_deg),
            power=np.insert(self.power, place, last.power),
            reasons=(*self.reasons[:place], "", *self.reasons[place:]),
            active=(*self.active[:place], last.active, *self.active[place:]) if self.active else (),
        )

    def _best_of_table(self, headwind: float | None) -> float:
        def cost(speeds: float | Floats) -> Floats:
            power = self._curve(speeds)
            if headwind is not None:
                power = power / np.where(speeds > headwind, speeds - headwind, np.nan)
            return np.where(np.isfinite(power), power, np.inf)

        return _least(cost, self.speeds)


def _least(cost: Callable[[float | Floats], Floats], speeds: Floats) -> float:
    """Where a cost over speed is least: on a fine grid, then between its neighbours."""
    fine = np.unique(np.concatenate([np.linspace(speeds[0], speeds[-1], FINE_SPEEDS), speeds]))
    values = cost(fine)
    best = int(np.argmin(values))
    if not np.isfinite(values[best]):
        return float("nan")

    def bounded(speed: float) -> float:  # the parabolas of the search take no infinity
        return min(float(cost(speed)), FORBIDDEN)

    low, high = fine[max(0, best - 1)], fine[min(len(fine) - 1, best + 1)]
    found = minimize_scalar(bounded, bounds=(low, high), method="bounded", options={"xatol": 1e-5})
    return float(found.x) if found.fun < values[best] else float(fine[best])


def scheduled(book: PowerBook, schedule: Schedule) -> FoldRule:
    """The best fold within all constraints at every airspeed of the schedule."""
    table = FoldTable.of(book, schedule)
    wanted = book.speeds[book.speeds >= schedule.airspeed_min_m_s - SAME_SPEED]
    points = ideal_schedule(table, wanted)
    return FoldRule(
        name="schedule",
        book=book,
        speeds=wanted,
        folds_deg=np.array([p.fold_deg for p in points]),
        power=np.array([p.power for p in points]),
        reasons=tuple(p.reason for p in points),
        table=table,
        moves=True,
        active=tuple(p.active for p in points),
    )


def flying_schedule(schedule: Schedule) -> Schedule:
    """The constraints that bind a craft without mechanism: stall, rotors, dihedral effect."""
    return without(schedule, OF_FOLDING)


def held_schedule(schedule: Schedule) -> Schedule:
    """Those that bind a craft whose mechanism holds one fold: hinges and forbidden folds too."""
    return without(schedule, OF_MOVING)


def held(name: str, table: FoldTable, fold_deg: float) -> FoldRule:
    """One fold held throughout, within the constraints of a table.

    Parameters
    ----------
    table : with the constraints of :func:`held_schedule`, or without a mechanism those of
        :func:`flying_schedule`
    fold_deg : between the limits [deg]
    """
    book = table.book
    lowest = table.constraints.schedule.airspeed_min_m_s
    wanted = book.speeds[book.speeds >= lowest - SAME_SPEED]
    settings = [table.setting(fold_deg, float(speed)) for speed in wanted]
    reasons = tuple(one.reason for one in settings)
    power = [np.nan if one.passed else one.power for one in settings]
    folds = np.full(len(wanted), fold_deg)
    return FoldRule(name, book, wanted, folds, np.array(power), reasons, table)

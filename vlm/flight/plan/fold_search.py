"""The best fold at an airspeed, by settings solved directly where the decision falls.

A row of solved settings is read between them only to say where to solve next: where the power could
still be less than the best one that is solved and allowed, and every constraint could still be
kept. It ends when no such place is left. The answer is a solved setting, whatever folds the table
started from.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.description.schedule import Schedule
from vlm.errors import InputRefused
from vlm.flight.plan.constraints import Constraints, Setting
from vlm.flight.plan.fold_row import RowReading, read_row
from vlm.flight.trim.power_book import PowerBook, direct_trim
from vlm.flight.trim.power_curve import NO_BALANCE, PowerPoint
from vlm.flight.trim.powered import PoweredCraft

GAIN = 3e-4
"""Gain in power below which no further fold is looked for [1]."""
MOST_SOLVED = 60
MOST_POLISHED = 12
CLOSE_DEG = 2.0
"""How near to the best fold one on either side is solved, before the row is trusted there [deg]."""
NEAREST_DEG = 0.1
"""Folds nearer than this are not solved apart [deg]."""
BESIDE_CONTACT_DEG = 1.0
"""How near to a contact a row is read [deg]."""
ROUNDED = 2
"""Decimal places of the folds that are solved, so that airspeeds share them [1]."""


@dataclass
class FoldTable:
    """Settings of one craft solved directly, over fold and airspeed; it grows as it is asked.

    Attributes
    ----------
    book : trims that it starts from
    constraints : what is worked out beside each trim
    """

    book: PowerBook
    constraints: Constraints
    _refused: set[float] = field(default_factory=set)
    _solved: dict[tuple[float, float], Setting] = field(default_factory=dict)

    @classmethod
    def of(cls, book: PowerBook, schedule: Schedule) -> "FoldTable":
        """A table of a book's craft under a schedule's constraints.

        Raises
        ------
        InputRefused : a constraint needs a block that the file does not have
        """
        return cls(book, Constraints.of(book, schedule))

    @property
    def _ends(self) -> tuple[float, float]:
        """Lowest and highest fold of the book [deg]."""
        return float(self.book.folds_deg[0]), float(self.book.folds_deg[-1])

    def row(self, speed: float) -> list[Setting]:
        """All settings solved at an airspeed so far, growing in fold; those of the book at least.

        Parameters
        ----------
        speed : one of the book's, or any other, for which the book's folds are then solved [m/s]
        """
        low, high = self._ends
        for fold in map(float, self.book.folds_deg):
            if not self.setting(fold, speed).is_joined:
                continue
            # A closed box and a slit are different answers: the row goes on beside the contact.
            for beside in (fold - BESIDE_CONTACT_DEG, fold + BESIDE_CONTACT_DEG):
                if low <= beside <= high:
                    self.setting(beside, speed)
        for fold in (*self._reach_of_reserve(), *self._ends_of_ranges()):
            self.setting(fold, speed)
        own = [s for (fold, at), s in self._solved.items() if at == speed]
        return sorted(own, key=lambda s: s.fold_deg)

    def _reach_of_reserve(self) -> tuple[float, ...]:
        """Folds to which the reserve's rolling moment can be had, where it is asked for [deg].

        It is read between solved folds alone: without these, those beyond the last of the book
        that leaves room would count as not allowed.
        """
        schedule, reach = self.constraints.schedule, self.constraints.craft.fold_range_deg
        reserve = schedule.roll_reserve_deg or 0.0
        if not reserve or schedule.roll_moment_min_N_m is None or np.ptp(reach) < 2.0 * reserve:
            return ()
        low, high = self._ends
        return tuple(f for f in (reach[0] + reserve, reach[1] - reserve) if low <= f <= high)

    def _ends_of_ranges(self) -> tuple[float, ...]:
        """Ends of ranges that must not be held, which may be held: however little is left between
        two of them is solved [deg]."""
        low, high = self._ends
        ends = {end for pair in self.constraints.schedule.forbidden_deg for end in pair}
        return tuple(sorted(end for end in ends if low <= end <= high))

    def setting(self, fold_deg: float, speed: float) -> Setting:
        """A setting, solved directly at this very fold and airspeed."""
        fold = round(float(fold_deg), 9)
        if (fold, speed) not in self._solved:
            self._solved[fold, speed] = self._worked_out(fold, speed)
        return self._solved[fold, speed]

    def _worked_out(self, fold: float, speed: float) -> Setting:
        made = self.craft_at(fold)
        if made is None:
            point = PowerPoint(speed, None, None, 0, NO_BALANCE)
            width = 1 + len(self.constraints.quantities)
            return Setting(fold, speed, point, np.full(width, np.nan), {}, {})
        point = self._tabled(fold, speed) or direct_trim(made, speed, near=self._near(fold, speed))
        return self.constraints.setting(made, fold, speed, point)

    def craft_at(self, fold: float) -> PoweredCraft | None:
        """The craft at a fold; None where it cannot be built."""
        if fold in self._refused:
            return None
        try:
            return self.book.built(fold)
        except InputRefused:
            self._refused.add(fold)
            return None

    def _tabled(self, fold: float, speed: float) -> PowerPoint | None:
        """The book's own trim, where it has this fold and airspeed."""
        index = int(np.argmin(np.abs(self.book.folds_deg - fold)))
        curve = self.book.curves[index]
        if abs(float(self.book.folds_deg[index]) - fold) > 1e-9:
            return None
        if curve is None:
            return PowerPoint(speed, None, None, 0, self.book.reasons[index])
        return curve.at(speed)

    def _near(self, fold: float, speed: float) -> PowerPoint | None:
        """The solved trim nearest in fold at this airspeed, else the book's."""
        own = [s for (_, at), s in self._solved.items() if at == speed and s.point.trim is not None]
        if own:
            return min(own, key=lambda s: abs(s.fold_deg - fold)).point
        order = np.argsort(np.abs(self.book.folds_deg - fold))
        curve = next((self.book.curves[i] for i in order if self.book.curves[i] is not None), None)
        return None if curve is None else curve.at(speed)

    def reading(self, speed: float, folds: Floats | None = None) -> RowReading:
        """The row of an airspeed read between its settings."""
        return read_row(self.constraints, self.row(speed), folds)

    def searched(self, speed: float) -> Setting | None:
        """The allowed setting of least power at an airspeed; None where none is allowed.

        What a chart gave of it is solved; where that forbids it, the search goes on.
        """
        for _ in range(MOST_SOLVED):
            best = self._least(speed)
            if best is None or best.is_solved:
                return best
            made = self.craft_at(best.fold_deg)
            assert made is not None
            self._solved[best.fold_deg, speed] = self.constraints.setting(
                made, best.fold_deg, speed, best.point, solved=True
            )
        return _best_of(self.row(speed))

    def _least(self, speed: float) -> Setting | None:
        """The best setting of a row that is grown until none better is to be hoped for."""
        for _ in range(MOST_SOLVED):
            row = self.row(speed)
            if len(row) < 2:
                break
            place = _worth_solving(self.reading(speed), row)
            if place is None:
                break
            self.setting(place, speed)
        best = _best_of(self.row(speed))
        for _ in range(MOST_POLISHED):
            if best is None or len(self.row(speed)) < 2:
                break
            place = _finer(self.reading(speed), self.row(speed), best)
            if place is None:
                break
            self.setting(place, speed)
            best = _best_of(self.row(speed))
        return best


def _best_of(row: Sequence[Setting]) -> Setting | None:
    return min((s for s in row if s.is_allowed), key=lambda s: s.power, default=None)


def _worth_solving(read: RowReading, row: Sequence[Setting]) -> float | None:
    """The fold at which the power could yet be least; None where nothing is left to win."""
    best = _best_of(row)
    hoped = np.where(read.perhaps, read.power - read.room, np.inf)
    least = np.inf if best is None else best.power * (1.0 - GAIN)
    solved = np.array([s.fold_deg for s in row])
    apart = np.min(np.abs(read.folds[:, None] - solved), axis=1)
    hoped[apart < 2.0 * NEAREST_DEG] = np.inf
    place = int(np.argmin(hoped))
    if hoped[place] < least:
        return _shared(float(read.folds[place]), float(apart[place]))
    return _edge_of_trims(row, best)


def _edge_of_trims(row: Sequence[Setting], best: Setting | None) -> float | None:
    """Half-way from the best setting to a neighbour without a trim, a degree away or more."""
    if best is None:
        return None
    place = row.index(best)
    for other in (*row[max(0, place - 1) : place], *row[place + 1 : place + 2]):
        if not np.isfinite(other.power) and abs(other.fold_deg - best.fold_deg) > 1.0:
            return round(0.5 * (other.fold_deg + best.fold_deg), ROUNDED)
    return None


def _finer(read: RowReading, row: Sequence[Setting], best: Setting) -> float | None:
    """Where the row itself has its least allowed power, if that is not solved yet.

    The row is read there once a fold on either side of the best one is solved too.
    """
    solved = np.array([s.fold_deg for s in row])
    for way in (-1.0, 1.0):
        ahead = way * (solved - best.fold_deg)
        if np.any(ahead > CLOSE_DEG) and not np.any((ahead > 0.0) & (ahead <= CLOSE_DEG)):
            return float(np.round(best.fold_deg + 0.75 * way * CLOSE_DEG, 0))
    cost = np.where(read.inside, read.power, np.inf)
    place = int(np.argmin(cost))
    if not cost[place] < best.power * (1.0 - 1e-7):
        return None
    fold = _rounded(float(read.folds[place]), solved)
    return None if fold is None or np.abs(solved - fold).min() < NEAREST_DEG else fold


def _shared(fold: float, room: float) -> float:
    """A round fold nearby, so that airspeeds share the craft that is built there.

    Parameters
    ----------
    room : distance from the nearest solved fold, of which half may be given away [deg]
    """
    step = 2.0 ** np.floor(np.log2(room))
    return float(np.round(fold / step) * step)


def _rounded(fold: float, solved: Floats) -> float | None:
    """A fold rounded, so that airspeeds share the craft that is built there."""
    found = round(fold, ROUNDED)
    return None if np.abs(solved - found).min() < 1e-6 else found

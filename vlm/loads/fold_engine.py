"""Many folds of one craft: block elimination on the fixed wings, tables made once an angle.

The fixed wings F are factorised once. With X = A_FF^-1 A_FR and Y = A_FF^-1 b_F, the unknowns of
a fold are the tips' alone,

    (A_RR - A_RF X) Gamma_R = b_R - A_RF Y,   Gamma_F = Y - X Gamma_R                 (13)

for the tips R of both sides together. What belongs to one side's angle is made once and mirrored
for the other side (:mod:`vlm.loads.tip_tables`); only the tables between port and starboard tips
belong to a pair of angles. Results equal those of the plain solve to rounding.
"""

from collections import Counter, OrderedDict
from collections.abc import Iterable
from threading import RLock

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.flow.solve import mirror_applies
from vlm.flow.threads import algebra_threads
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.contact import tips_apart
from vlm.lattice.lattice import Lattice, folded, resolved
from vlm.loads.craft_loads import CraftLoads, craft_loads
from vlm.loads.fold_pair import FoldPair, combined
from vlm.loads.tip_tables import (
    CrossTables,
    FixedTables,
    ReducedTables,
    TipTables,
    cross_tables,
    fixed_tables,
    reduced_tables,
    tip_tables,
)

DEFAULT_BUDGET = 2 * 2**30
PAIRS_TO_REDUCE = 3
REDUCED_SHARE = 1.5


def often_paired(pairs: Iterable[tuple[float, float]]) -> frozenset[float]:
    """Angles in so many of some asymmetric pairs that their reduced tables repay."""
    counts = Counter(angle for pair in pairs for angle in pair)
    return frozenset(angle for angle, count in counts.items() if count > PAIRS_TO_REDUCE)


class FoldEngine:
    """Loads of one craft at any fold, with everything kept that a fold does not change.

    Parameters
    ----------
    craft : the description
    grid : rows, strips and spacing laws
    fold_rates : whether loads come with their rates with fold
    budget : bytes that tables of tip angles may take; the oldest are dropped beyond it
    often : angles that will be in many asymmetric pairs, known beforehand; None finds them as
        they come, so that rounding then depends on the order of the pairs
    """

    def __init__(
        self,
        craft: Biplane,
        grid: Grid | None = None,
        *,
        fold_rates: bool = True,
        budget: int = DEFAULT_BUDGET,
        often: frozenset[float] | None = None,
    ) -> None:
        self.craft = craft
        self.grid = grid or Grid()
        self.fold_rates = fold_rates
        self.cellule: Cellule = build_cellule(craft, self.grid)
        self._budget = budget
        self._fixed: FixedTables | None = None
        self._tips: OrderedDict[float, TipTables] = OrderedDict()
        self._often = often
        self._pairs_of: Counter[float] = Counter()
        self._reduced: dict[float, ReducedTables] = {}
        self._lock = RLock()

    def loads(self, folds: FoldAngles) -> CraftLoads:
        """Loads at one fold setting.

        Raises
        ------
        InputRefused : the fold is beyond its limits, or surfaces cross
        ComputationFailed : the system is singular
        """
        if not self.cellule.hinges or self._once(folds):
            return self._without_tables(folds)
        port, starboard = self._tips_at(folds.left_deg), self._tips_at(folds.right_deg)
        if port is None or starboard is None:
            return self._without_tables(folds)
        lattice = combined(port.lattice, starboard.lattice, folds)
        if not folds.is_symmetric and not tips_apart(lattice.patches):
            folded(self.cellule, self.craft, folds)
        with algebra_threads():
            return FoldPair(self, lattice, port, starboard).loads()

    def _without_tables(self, folds: FoldAngles) -> CraftLoads:
        lattice = resolved(self.cellule, self.craft, folds)
        return craft_loads(lattice, fold_rates=self.fold_rates)

    def _once(self, folds: FoldAngles) -> bool:
        """Whether a symmetric setting's tables would be used for it alone.

        Then its two mirrored halves, whose velocities are summed and never stored, cost less than
        tables do.
        """
        alone = self._often is not None and folds.left_deg not in self._often
        return folds.is_symmetric and alone

    def _tips_at(self, angle: float) -> TipTables | None:
        """Tables of the tips at one angle; None where the engine does not apply."""
        with self._lock:
            if angle in self._tips:
                self._tips.move_to_end(angle)
                return self._tips[angle]
        lattice = self._symmetric_lattice(angle)
        if lattice is None or not mirror_applies(lattice):
            return None
        if any(not joint.closed for joint in lattice.joints):
            return None
        with algebra_threads():
            with self._lock:
                if self._fixed is None:
                    self._fixed = fixed_tables(lattice)
            tables = tip_tables(lattice, self._fixed, rates=self._rates_exist(lattice))
        with self._lock:
            return self._kept(angle, tables)

    def _kept(self, angle: float, tables: TipTables) -> TipTables:
        """Keep the tables of an angle, unless another thread was quicker; drop the oldest."""
        if angle in self._tips:
            return self._tips[angle]
        while self._tips and (len(self._tips) + 1) * tables.bytes * REDUCED_SHARE > self._budget:
            dropped, _ = self._tips.popitem(last=False)
            self._reduced.pop(dropped, None)
        self._tips[angle] = tables
        return tables

    def _rates_exist(self, lattice: Lattice) -> bool:
        """A joined tip has no rate with fold: moving it opens the joint."""
        return self.fold_rates and not lattice.is_joined

    def _symmetric_lattice(self, angle: float) -> Lattice | None:
        """The craft with both sides folded alike, or None where they would collide."""
        try:
            return folded(self.cellule, self.craft, FoldAngles.symmetric(angle))
        except InputRefused:
            return None

    @property
    def fixed(self) -> FixedTables:
        """Tables of the fixed wings; there once any tip table is."""
        assert self._fixed is not None
        return self._fixed

    def crossed(self, own: TipTables, other: TipTables) -> CrossTables:
        """Tables between starboard tips at one angle and port tips at another."""
        joined = own.lattice.is_joined or other.lattice.is_joined
        return cross_tables(own, other, rates=self.fold_rates and not joined)

    def reduced(self, tables: TipTables) -> ReducedTables | None:
        """Reduced tables of an angle, once it has been in enough asymmetric pairs to repay them."""
        with self._lock:
            angle = tables.angle
            self._pairs_of[angle] += 1
            repays = (
                self._pairs_of[angle] > PAIRS_TO_REDUCE
                if self._often is None
                else angle in self._often
            )
            if angle not in self._reduced and repays:
                self._reduced[angle] = reduced_tables(tables, self.fixed)
            return self._reduced.get(angle)

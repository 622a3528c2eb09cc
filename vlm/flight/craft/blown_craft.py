"""A craft whose rotors blow over its wings, at thrusts that are given and held."""

from collections import OrderedDict
from dataclasses import replace
from functools import partial

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import KEPT_SETTINGS, FoldingCraft
from vlm.flight.craft.modelling import Modelling


class BlownCraft(FoldingCraft):
    """A craft that can be asked for at any fold, its rotors at given thrusts blowing over it.

    It shares lattices and strips with the craft that it is made of.

    Parameters
    ----------
    plain : the craft without slipstream
    thrusts : by rotor, shape (rotors,) [N]
    """

    def __init__(self, plain: FoldingCraft, thrusts: Floats) -> None:
        self.__dict__.update(plain.__dict__)
        self.plain, self.thrusts = plain, np.asarray(thrusts, dtype=float)
        self._kept = OrderedDict()

    def at(self, folds: FoldAngles) -> FoldedCraft:
        """The craft at a fold setting; refusals as without slipstream."""
        if folds not in self._kept:
            while len(self._kept) >= KEPT_SETTINGS:
                self._kept.popitem(last=False)
            self._kept[folds] = replace(
                self.plain.at(folds),
                strips=partial(self.plain.strips_at, folds),
                thrusts=self.thrusts,
                modelling=Modelling.of_wings(sections=self.has_sections, blown=True),
            )
        return self._kept[folds]

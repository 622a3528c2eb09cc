"""A craft that can be asked for at any fold setting."""

from collections import OrderedDict
from contextlib import suppress
from functools import cached_property, partial

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError, InputRefused
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.folded_craft import FoldedCraft, folded_craft
from vlm.flight.craft.mass_properties import MassProperties, craft_mass_properties, needed_mass
from vlm.flight.craft.section_change import SECTION_GRID, SectionStrips, has_sections
from vlm.lattice.cellule import Cellule, Grid, build_cellule
from vlm.lattice.corners import other_corners
from vlm.loads.craft_loads import GeneralLoads
from vlm.loads.fold_engine import Charted, FoldEngine

KEPT_SETTINGS = 400
KEPT_STRIPS = 40
"""Settings whose strips are kept: each takes some megabytes."""


class FoldingCraft:
    """A craft that can be asked for at any fold; the last settings are kept.

    Parameters
    ----------
    craft : the description, with [mass]
    grid : rows, strips and spacing laws
    drag : drag areas of bodies, struts and gear; None for those of the file
    sections : whether the file's sections act; False leaves the inviscid wing
    sideslip : whether most folds are asked for what sideslip changes, see
        :func:`vlm.loads.many_wakes.stream_loads`
    charted : which folds are read off a chart, where many are asked for
    strip_grid : rows and strips of the lattice that carries sections and slipstream
    strips_of : the same craft on another lattice, whose strips serve here too

    Raises
    ------
    InputRefused : the file has no [mass]
    """

    def __init__(
        self,
        craft: Biplane,
        grid: Grid | None = None,
        drag: DragBodies | None = None,
        *,
        sections: bool = True,
        sideslip: bool = False,
        charted: Charted = "none",
        strip_grid: Grid = SECTION_GRID,
        strips_of: "FoldingCraft | None" = None,
    ) -> None:
        needed_mass(craft)
        self.craft, self.strip_grid = craft, strip_grid
        self.drag = DragBodies.of(craft) if drag is None else drag
        self.has_sections = sections and has_sections(craft)
        self.engine = FoldEngine(craft, grid, fold_rates=False, sideslip=sideslip, charted=charted)
        self._kept: OrderedDict[FoldAngles, FoldedCraft] = OrderedDict()
        self._strips: OrderedDict[FoldAngles, SectionStrips] = (
            OrderedDict() if strips_of is None else strips_of._strips
        )
        self._corners: dict[FoldAngles, tuple[FoldedCraft, ...]] = {}

    def at(self, folds: FoldAngles) -> FoldedCraft:
        """The craft at a fold setting.

        Raises
        ------
        InputRefused : the fold is beyond its limits, or surfaces cross
        ComputationFailed : the system is singular
        """
        if folds not in self._kept:
            while len(self._kept) >= KEPT_SETTINGS:
                self._kept.popitem(last=False)
            self._kept[folds] = folded_craft(
                self.craft,
                self.engine.cellule,
                self._loads(folds),
                self.drag,
                partial(self.strips_at, folds) if self.has_sections else None,
                partial(self._other_corners, folds),
            )
        return self._kept[folds]

    def strips_at(self, folds: FoldAngles) -> SectionStrips:
        """The strips at a fold setting, with the file's sections where these act."""
        if folds not in self._strips:
            while len(self._strips) >= KEPT_STRIPS:
                self._strips.popitem(last=False)
            self._strips[folds] = SectionStrips(
                self.craft, folds, self._strip_cellule, sections=self.has_sections
            )
        return self._strips[folds]

    def _other_corners(self, folds: FoldAngles) -> tuple[FoldedCraft, ...]:
        if folds not in self._corners:
            found = []
            for other in other_corners(self.craft, self.at(folds).loads.lattice):
                opened = FoldingCraft(other, self.engine.grid, self.drag, sections=False)
                with suppress(FoldspanError):  # its tips would not pass
                    found.append(opened.at(folds))
            self._corners[folds] = tuple(found)
        return self._corners[folds]

    @cached_property
    def _strip_cellule(self) -> Cellule:
        return build_cellule(self.craft, self.strip_grid)

    def _loads(self, folds: FoldAngles) -> GeneralLoads:
        """Solved, or the mirror image of a kept setting where the moment point is on the plane."""
        image = self._kept.get(folds.mirrored())
        if image is not None and image.loads.reference.moment_point[1] == 0.0:
            return image.loads.mirrored()
        return self.engine.loads(folds)

    def symmetric(self, fold_deg: float) -> FoldedCraft:
        """Both sides folded alike [deg]."""
        return self.at(FoldAngles.symmetric(fold_deg))

    @property
    def is_symmetric(self) -> bool:
        """Whether the craft with its port and starboard folds swapped is its mirror image."""
        masses = self.symmetric_masses
        inertia = masses.inertia
        size = float(np.abs(inertia).max())
        middle = abs(float(masses.centre[1])) < 1e-12
        return middle and max(abs(inertia[0, 1]), abs(inertia[1, 2])) < 1e-12 * size

    @cached_property
    def symmetric_masses(self) -> MassProperties:
        """Masses with all tips flat."""
        return craft_mass_properties(self.craft, self.engine.cellule, {})

    @property
    def range_deg(self) -> tuple[float, float]:
        """Commands that all tips of a side can follow: lowest and highest [deg]."""
        if not self.craft.tips:
            raise InputRefused(f"{self.craft.source_name}: neither wing has tips to fold")
        return self.craft.fold_range_deg

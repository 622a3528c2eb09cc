"""Tips against rotors: which are the stronger in roll at which airspeeds, as far as is known."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.flight.craft.crossing import crossing, sign_changes
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.model_spread import moment_spread
from vlm.flight.craft.modelling import Modelling
from vlm.flight.motion.roll_contest import Contest, TipsMoments, contest, tips_moments
from vlm.flight.trim.condition import FlightCondition, FlightConditions
from vlm.flight.trim.powered import POWER_GRID, PoweredCraft, powered_craft
from vlm.study.point.errors import coarser, half_width
from vlm.study.roll.results import Equal
from vlm.verdicts import SIGN_NOT_KNOWN

TOLERANCE = 1e-3
"""Of an airspeed [m/s]."""


@dataclass(frozen=True)
class TipsAgainstRotors:
    """Both moments at any airspeed.

    Attributes
    ----------
    conditions : gives the full trims
    base, command : folds that the command starts from, and its own
    wings : the wings at the command's folds, for what the model leaves open
    """

    conditions: FlightConditions
    base: FoldAngles
    command: FoldAngles
    wings: FoldedCraft

    @cached_property
    def _rolling(self) -> tuple[PoweredCraft, PoweredCraft]:
        """The craft at the command's folds, and the same with thin sections."""
        own = self.conditions.powered(self.command)
        return own, replace(own, model=own.model.thin())

    @cached_property
    def _rough(self) -> tuple[PoweredCraft, PoweredCraft]:
        """The same on a coarser lattice."""
        own, _ = self._rolling
        rough = powered_craft(own.craft, self.command, air=own.air, grid=coarser(POWER_GRID))
        return rough, replace(rough, model=rough.model.thin())

    def at(self, airspeed: float, *, sure: bool = True) -> Contest:
        """Both moments at one airspeed, the tips' with the half-width of its error where wanted.

        Raises
        ------
        InputRefused : a block that trim needs is missing, or a fold cannot be built
        """
        trim = self.conditions.at(self.base, airspeed, Modelling.ROTORS)
        if trim is None:
            return Contest(airspeed)
        tips = tips_moments(*self._rolling, trim)
        if tips is None or not sure:
            return contest(trim, tips)
        rotors = self.conditions.rotor_half_widths(trim)
        return contest(trim, tips, self._half_widths(trim, tips), rotors)

    def _half_widths(self, trim: FlightCondition, tips: TipsMoments) -> Floats | None:
        """Of the tips' moments, shape (3,) [N m]: of the lattice, the wake and stalled sections."""
        rough = tips_moments(*self._rough, trim)
        if rough is None:
            return None
        value = tips.moments
        width = half_width(value, rough.moments, np.abs(value), POWER_GRID) + tips.left_open
        motion = self.wings.motion(trim.airspeed, trim.alpha)
        held = LevelFlight(
            trim.airspeed, trim.density, trim.load_factor, trim.alpha, trim.thrust, np.zeros(6),
            motion,
        )  # fmt: skip
        return np.asarray(width + moment_spread(self.wings, held))

    def equal(self, found: Sequence[Contest]) -> list[Equal]:
        """Airspeeds at which both roll alike, solved directly.

        Parameters
        ----------
        found : at ascending airspeeds, between which the lead changes its sign at most once
        """
        known = [one for one in found if one.lead is not None]
        changes = sign_changes(one.lead for one in known if one.lead is not None)
        return [
            Equal(
                crossing(self._lead, known[i].airspeed_m_s, known[j].airspeed_m_s, TOLERANCE),
                _first_sure(known[i::-1]),
                _first_sure(known[j:]),
            )
            for i, j in changes
        ]

    def _lead(self, airspeed: float) -> float:
        """By how much the tips' moment is the larger [N m]; its error is not asked for."""
        lead = self.at(airspeed, sure=False).lead
        return float("nan") if lead is None else lead


def _first_sure(found: Sequence[Contest]) -> float | None:
    """The first airspeed of a row at which the stronger is known [m/s]; None where it never is."""
    sure = (one.airspeed_m_s for one in found if one.stronger != SIGN_NOT_KNOWN)
    return next(sure, None)

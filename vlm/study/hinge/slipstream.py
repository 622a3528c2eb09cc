"""The rotors' slipstream in the moments about the hinges: what blows, its error, its worth."""

from collections.abc import Mapping, Sequence
from functools import cached_property

from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.findings import Finding, gathered
from vlm.flight.craft.blown_craft import BlownCraft
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.section_change import SECTION_GRID
from vlm.flight.motion.roll_authority import Air
from vlm.study.hinge.results import MomentError
from vlm.study.point.errors import coarser, half_width
from vlm.study.point.slipstream import SlipstreamRow, Slipstreams, left_out_finding


class HingeSlipstream:
    """Slipstream of a study of the hinges.

    Parameters
    ----------
    folding : the craft without slipstream
    slipstreams : gives the thrusts
    """

    def __init__(self, folding: FoldingCraft, slipstreams: Slipstreams) -> None:
        self.folding, self.slipstreams = folding, slipstreams

    def over(self, folds: FoldAngles, airspeed: float) -> FoldingCraft:
        """The craft in the slipstream of a setting, where one is asked for.

        Raises
        ------
        ComputationFailed : no trim on the wings
        """
        return self.slipstreams.over(self.folding, folds, airspeed)

    @cached_property
    def _rough(self) -> FoldingCraft:
        grid = coarser(self.folding.engine.grid)
        return FoldingCraft(self.folding.craft, grid, strip_grid=coarser(SECTION_GRID))

    def coarser(self, craft: FoldedCraft, folds: FoldAngles) -> FoldedCraft | None:
        """The craft in its slipstream on coarser strips; None where none blows."""
        if craft.thrusts is None:
            return None
        return BlownCraft(self._rough, craft.thrusts).at(folds)

    def widened(
        self, widths: Mapping[str, float], craft: FoldedCraft, folds: FoldAngles,
        flight: LevelFlight,
    ) -> dict[str, float]:  # fmt: skip
        """Half-widths by hinge with the error of the strips' part, where a slipstream blows [N m].

        Parameters
        ----------
        craft, flight : the craft in the slipstream, and its flight
        """
        rough = self.coarser(craft, folds)
        if rough is None:
            return dict(widths)
        fine, other = (
            one.section_change(flight.motion[None, :], flight.density) for one in (craft, rough)
        )
        assert fine is not None
        assert other is not None
        grid = self.folding.engine.grid
        return {
            body: width
            + half_width(
                float(fine.hinges[body][0]),
                float(other.hinges[body][0]),
                abs(float(fine.hinges[body][0])),
                grid,
            )
            for body, width in widths.items()
        }

    def row(self, folds_deg: Sequence[float], air: Air) -> SlipstreamRow | None:
        """What blows at the fold that is nearest to flat and flown."""
        for fold in sorted(folds_deg, key=abs) if self.slipstreams.is_on else ():
            folds = FoldAngles.symmetric(fold)
            try:
                craft = self.over(folds, air.airspeed).at(folds)
            except FoldspanError:
                continue
            flight = level_flight(craft, air.airspeed, air.density)
            if flight is not None:
                strips = self.folding.strips_at(folds)
                return self.slipstreams.row(strips, folds, air.airspeed, flight.alpha)
        return None

    def left_out(self, errors: Sequence[MomentError], air: Air) -> list[Finding]:
        """How much of the air's moment a slipstream left out would change, against the largest.

        Parameters
        ----------
        errors : rows of the air's largest moment at every fold
        """
        found: list[Finding] = []
        size = max((abs(one.air_N_m) for one in errors), default=0.0)
        for one in errors:
            folds = FoldAngles.symmetric(one.fold_deg)
            blown = self.slipstreams.left_out(self.folding, folds, air.airspeed)
            if blown is None:
                continue
            craft = blown.at(folds)
            flight = level_flight(craft, air.airspeed, air.density)
            if flight is not None:
                other = craft.hinge_moments(flight.motion, air.density)[one.hinge]
                what = "the air's moment about a hinge (share of the largest)"
                found += left_out_finding(what, one.air_N_m, other, size)
        return gathered(found)

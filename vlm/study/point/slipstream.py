"""Slipstream in studies of the wings: which thrusts the rotors have, and what leaving it out costs.

The thrusts are given, one number in newtons shared alike over the rotors, or those of the full trim
at the fold and airspeed of the setting (the same trim as in power curves). They are held while
angles, rates and folds change.
"""

from collections import OrderedDict
from dataclasses import dataclass
from typing import Literal

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding
from vlm.flight.craft.blown_craft import BlownCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import STEEPEST_RAD
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.section_change import SectionStrips
from vlm.flight.trim.condition import FlightCondition, FlightConditions, has_trim
from vlm.frames import wind_direction

Thrust = float | Literal["trim"] | None
"""Thrust of all rotors together [N], the trim's, or no slipstream."""
KEPT = 64
"""Settings whose blown craft are kept."""
MATTERS = 0.1
"""Share of a number from which leaving the slipstream out is warned of [1]."""
SLIPSTREAM = (
    "slipstream: contracting tubes by momentum theory, thrusts held whatever angles, rates and"
    " folds do; drag areas out of it; each strip meets the mean dynamic pressure over its span"
)


@dataclass(frozen=True)
class SlipstreamRow:
    """What the rotors blow at one setting.

    Attributes
    ----------
    asked : "trim", or "given" for a number of newtons
    thrusts_N : by rotor
    mean_pressure_ratio, highest_pressure_ratio : dynamic pressure at the strips over that of the
        stream, mean over the wings' area and highest of a strip [1]
    """

    asked: str
    fold_left_deg: float
    fold_right_deg: float
    airspeed_m_s: float
    alpha_deg: float
    thrust_N: float
    thrusts_N: dict[str, float]
    mean_pressure_ratio: float
    highest_pressure_ratio: float


def check_thrust(craft: Biplane, thrust: Thrust) -> None:
    """Refuse a slipstream that the file says too little for.

    Raises
    ------
    InputRefused : names the key that is missing, or the thrust that no rotor can give
    """
    if thrust is None:
        return
    name, option = craft.source_name, f"--thrust {thrust if thrust == 'trim' else f'{thrust:g}'}"
    if not craft.rotors:
        raise InputRefused(f"{name}: [[rotors]] is missing; {option} needs the rotors that blow")
    if craft.propulsion is None:
        raise InputRefused(
            f"{name}: [propulsion] is missing; {option} needs its keys slipstream and swirl"
        )
    if not craft.propulsion.slipstream:
        raise InputRefused(
            f"{name}: propulsion.slipstream = false; {option} needs it true, or leave --thrust out"
        )
    if thrust == "trim":
        if craft.mass is None:
            raise InputRefused(f"{name}: [mass] is missing; --thrust trim needs the weight")
        return
    if not 0.0 <= thrust < float("inf"):
        raise InputRefused(f"{option}; 0 N or more is allowed, or the word trim")
    share = thrust / len(craft.rotors)
    for rotor in craft.rotors:
        if rotor.thrust_max_N is not None and share > rotor.thrust_max_N:
            raise InputRefused(
                f"{option}: {share:g} N on each of {len(craft.rotors)} rotors, where"
                f" thrust_max_N = {rotor.thrust_max_N:g} is the most of {rotor.name!r}"
            )


class Slipstreams:
    """Gives the rotors' thrusts of a study at any setting.

    Parameters
    ----------
    craft : the description
    thrust : what was asked for
    conditions : gives the trims

    Raises
    ------
    InputRefused : the file says too little for it
    """

    def __init__(self, craft: Biplane, thrust: Thrust, conditions: FlightConditions) -> None:
        check_thrust(craft, thrust)
        self.craft, self.thrust, self.conditions = craft, thrust, conditions
        self._blown: OrderedDict[tuple[int, FoldAngles, float], BlownCraft] = OrderedDict()

    @property
    def is_on(self) -> bool:
        """Whether a slipstream was asked for."""
        return self.thrust is not None

    def thrusts(self, folds: FoldAngles, airspeed: float) -> Floats:
        """Thrust of each rotor, shape (rotors,) [N].

        Raises
        ------
        ComputationFailed : there is no trim on the wings there
        """
        if isinstance(self.thrust, float):
            return np.full(len(self.craft.rotors), self.thrust / len(self.craft.rotors))
        return np.array(self.trim(folds, airspeed).thrusts)

    def trim(self, folds: FoldAngles, airspeed: float) -> FlightCondition:
        """The full trim, its weight on the wings.

        Raises
        ------
        ComputationFailed : there is none
        """
        found = self.conditions.at(folds, airspeed, Modelling.ROTORS)
        where = f"at fold {folds.left_deg:g}, {folds.right_deg:g} deg and {airspeed:g} m/s"
        if found is None:
            raise ComputationFailed(f"no trim with rotors {where}, which --thrust trim needs")
        if found.alpha > STEEPEST_RAD:
            raise ComputationFailed(
                f"carried by its rotors {where}, nose {np.degrees(found.alpha):.0f} deg up; for"
                " --thrust trim give an airspeed at which the wings carry it"
            )
        return found

    def over(self, craft: FoldingCraft, folds: FoldAngles, airspeed: float) -> FoldingCraft:
        """The craft in the slipstream of a setting; itself where none was asked for.

        Raises
        ------
        ComputationFailed : there is no trim on the wings there
        """
        if not self.is_on:
            return craft
        key = (id(craft), folds, airspeed)
        if key not in self._blown:
            while len(self._blown) >= KEPT:
                self._blown.popitem(last=False)
            self._blown[key] = BlownCraft(craft, self.thrusts(folds, airspeed))
        return self._blown[key]

    def row(
        self, strips: SectionStrips, folds: FoldAngles, airspeed: float, alpha: float,
        beta: float = 0.0,
    ) -> SlipstreamRow | None:  # fmt: skip
        """What blows at a setting, for its output; None where no slipstream was asked for."""
        if not self.is_on:
            return None
        thrusts = self.thrusts(folds, airspeed)
        stream = airspeed * wind_direction(alpha, beta)[None]
        ratios = strips.pressure_ratios(stream, self.conditions.density, thrusts)[0]
        area = strips.model.strips.area
        return SlipstreamRow(
            asked="trim" if self.thrust == "trim" else "given",
            fold_left_deg=folds.left_deg,
            fold_right_deg=folds.right_deg,
            airspeed_m_s=airspeed,
            alpha_deg=float(np.degrees(alpha)),
            thrust_N=float(thrusts.sum()),
            thrusts_N={
                rotor.name: float(one)
                for rotor, one in zip(self.craft.rotors, thrusts, strict=True)
            },
            mean_pressure_ratio=float(ratios @ area / area.sum()),
            highest_pressure_ratio=float(ratios.max()),
        )

    def left_out(
        self, craft: FoldingCraft, folds: FoldAngles, airspeed: float
    ) -> BlownCraft | None:
        """The craft in the slipstream that a study leaves out; None where nothing is left out.

        Nothing is left out where the file gives no slipstream, where it is on, and where there is
        no trim on the wings.
        """
        if self.is_on or not has_trim(self.craft):
            return None
        assert self.craft.propulsion is not None
        if not self.craft.propulsion.slipstream:
            return None
        try:
            return BlownCraft(craft, np.array(self.trim(folds, airspeed).thrusts))
        except (ComputationFailed, InputRefused):
            return None


def left_out_finding(what: str, plain: float, blown: float, size: float) -> list[Finding]:
    """The warning that the slipstream would change a number by more than :data:`MATTERS`.

    Parameters
    ----------
    plain, blown : the number without and with the slipstream of the trim
    size : what its change is held against, in the same unit
    """
    share = abs(blown - plain) / abs(size) if size else 0.0
    if not share > MATTERS:
        return []
    return [Finding(
        "slipstream_left_out", f"the rotors' slipstream is left out; it would change {what} by",
        share, MATTERS, "1", "common practice; share by a solve with the trim's thrusts",
        "add --thrust trim",
    )]  # fmt: skip


def carried_finding(airspeed: float) -> Finding:
    """The warning that an airspeed is too slow only because the slipstream is left out."""
    return Finding(
        "carried_by_slipstream",
        "too slow without the rotors' slipstream, which is left out; with it the wings carry the"
        " craft; airspeed",
        airspeed, None, "m/s", "trim with rotors", "add --thrust trim",
    )  # fmt: skip

"""What the schedule's saving consists of: flight by kind of leg, servos, the mechanism's drag and
weight.

The schedule flown with a mechanism that neither weighs nor drags, and with one that only drags,
stand between the two craft that are compared: from the other craft to the first the legs and the
servos differ, then the drag alone, and from there to the schedule the weight alone. All share the
samples, so that the interval of a part is that of a paired difference.
"""

from collections.abc import Sequence
from typing import TypedDict

import numpy as np

from vlm.constants import Floats
from vlm.flight.trim.sampled_speeds import interval
from vlm.study.mission.candidate import Candidate
from vlm.study.mission.study import JOULES, MissionStudy

SERVOS, DRAG, WEIGHT = "servos", "mechanism's drag", "mechanism's weight"
"""Parts that are no kind of leg."""


class SavingPart(TypedDict):
    """One part of a saving; the parts of one add up to it.

    Attributes
    ----------
    part : a kind of leg, with all legs of that kind; "servos", moving and at rest; "mechanism's
        drag" and "mechanism's weight", in all legs, where the file names them
    saves_Wh : negative where folding takes more [W h]
    interval_Wh : null without [uncertainty], where a way has no samples, and of the servos, whose
        current no sample changes [W h]
    """

    part: str
    saves_Wh: float
    interval_Wh: list[float] | None


class SavingParts(TypedDict):
    """Against craft that do not fold: with the same tips, and with tips of any span.

    Empty where no such craft can fly the mission, or the schedule cannot with a mechanism that
    weighs nothing.
    """

    same_tips: list[SavingPart]
    span_free: list[SavingPart]


def saving_parts(study: MissionStudy) -> SavingParts:
    """What the schedule saves against the best craft that do not fold, taken apart."""
    return {
        "same_tips": parts_against(study, study.best_fixed),
        "span_free": parts_against(study, study.best_purpose_built),
    }


def parts_against(study: MissionStudy, other: Candidate | None) -> list[SavingPart]:
    """The parts of what the schedule saves against another craft, in the order of the legs."""
    own = study.schedule
    light = study.reweighed[0] if study.reweighed else own
    clean = study.dragless or light
    flown = own, light, clean, other
    if other is None or not all(one is not None and np.isfinite(one.energy) for one in flown):
        return []
    kinds = list(dict.fromkeys(leg.leg.kind for leg in own.flight.legs))
    found = [_part(study, kind, _legs_of(other, kind), _legs_of(clean, kind)) for kind in kinds]
    servos = (_servos(other) - _servos(own)) / JOULES
    if servos:
        found.append({"part": SERVOS, "saves_Wh": servos, "interval_Wh": None})
    if clean is not light:
        found.append(_part(study, DRAG, _all_legs(clean), _all_legs(light)))
    if light is not own:
        found.append(_part(study, WEIGHT, _all_legs(light), _all_legs(own)))
    return found


Drawn = tuple[float, Floats | None]
"""Energy of some legs without the servos', and that of every sample [J]."""


def _part(study: MissionStudy, name: str, before: Drawn, after: Drawn) -> SavingPart:
    """What one takes less than another."""
    ends = None
    if study.percent is not None and before[1] is not None and after[1] is not None:
        ends = list(interval((before[1] - after[1]) / JOULES, study.percent))
    return {"part": name, "saves_Wh": (before[0] - after[0]) / JOULES, "interval_Wh": ends}


def _legs_of(candidate: Candidate, kind: str) -> Drawn:
    return _flight_energy(candidate, [leg.leg.kind == kind for leg in candidate.flight.legs])


def _all_legs(candidate: Candidate) -> Drawn:
    return _flight_energy(candidate, [True] * len(candidate.flight.legs))


def _flight_energy(candidate: Candidate, chosen: Sequence[bool]) -> Drawn:
    legs = candidate.flight.legs
    energy = sum(leg.flight_energy for leg, is_in in zip(legs, chosen, strict=True) if is_in)
    if candidate.leg_samples is None:
        return energy, None
    resting = np.array([[leg.folding + leg.holding] for leg in legs])
    return energy, np.asarray((candidate.leg_samples - resting)[np.array(chosen)].sum(axis=0))


def _servos(candidate: Candidate) -> float:
    """Energy of the servos, moving and at rest [J]."""
    return sum(leg.folding + leg.holding for leg in candidate.flight.legs)

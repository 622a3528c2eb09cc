"""One way to fly a mission, and what it takes at other shares of loiter."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from vlm.constants import Floats
from vlm.flight.plan.mission import MissionFlight

SHARES = np.linspace(0.0, 1.0, 201)
"""Shares of loiter in the flight time that are looked at [1]."""


@dataclass(frozen=True)
class Candidate:
    """One way to fly the mission.

    Attributes
    ----------
    group : "schedule"; "held": with the mechanism, one fold; "fixed": the mechanism taken out;
        "respanned": the mechanism taken out, tips of another span
    flight : the mission as flown
    fold_deg : the one fold; None for the schedule [deg]
    mass_kg : of the craft [kg]
    tip_span_share : span of the tips over that of the file [1]
    leg_samples : energy of every leg and sample of the inputs, shape (legs, samples) [J]; None
        without any
    is_best_fold : whether its one fold is the best of all
    """

    group: str
    flight: MissionFlight
    fold_deg: float | None
    mass_kg: float
    tip_span_share: float = 1.0
    leg_samples: Floats | None = None
    is_best_fold: bool = False

    @property
    def name(self) -> str:
        """What it is called."""
        return self.flight.rule.name

    @property
    def energy(self) -> float:
        """Energy of the mission [J]; NaN where it cannot be flown."""
        return self.flight.energy

    @property
    def samples(self) -> Floats | None:
        """Energy of every sample, shape (samples,) [J]; None without any."""
        return None if self.leg_samples is None else self.leg_samples.sum(axis=0)


def best_of(candidates: Sequence[Candidate]) -> Candidate | None:
    """The candidate of least energy; None where none can fly the mission."""
    able = [c for c in candidates if np.isfinite(c.energy)]
    return min(able, key=lambda c: c.energy, default=None)


def energy_over_share(
    candidate: Candidate, loiter_time: float, total_time: float, legs: Floats
) -> Floats:
    """Energy over the share of loiter in a flight time that stays, shape (shares, ...) [J].

    The loiter legs all stretch alike, and the other legs likewise.

    Parameters
    ----------
    legs : energy of every leg, shape (legs, ...) [J]
    """
    flown = candidate.flight.legs
    folding = np.array([leg.folding for leg in flown]).reshape(-1, *(1,) * (legs.ndim - 1))
    loiter = np.array([leg.leg.kind == "loiter" for leg in flown])
    own, other = ((legs - folding)[of].sum(axis=0) for of in (loiter, ~loiter))
    shares = SHARES.reshape(-1, *(1,) * (legs.ndim - 1))
    longer = shares * total_time / loiter_time
    rest = (1.0 - shares) * total_time / (total_time - loiter_time)
    return np.asarray(longer * own + rest * other + folding.sum())


def nominal_over_share(own: Candidate, candidate: Candidate) -> Floats:
    """:func:`energy_over_share` of a candidate at a mission's own times, shape (shares,) [J]."""
    loiter, _ = own.flight.part("loiter")
    legs = np.array([leg.energy for leg in candidate.flight.legs])
    return energy_over_share(candidate, loiter, own.flight.seconds, legs)


def rivals_by_share(own: Candidate, rivals: Sequence[Candidate]) -> list[Candidate]:
    """Those of the crafts that do not fold that are the best at some share of loiter."""
    loiter, _ = own.flight.part("loiter")
    able = [c for c in rivals if np.isfinite(c.energy)]
    if not able or not 0.0 < loiter < own.flight.seconds:
        return []
    best = np.argmin([nominal_over_share(own, c) for c in able], axis=0)
    return [able[i] for i in np.unique(best)]

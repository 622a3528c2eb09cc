"""What the ± of a mission's energies and savings is made of."""

import numpy as np

from vlm.flight.plan.mission_samples import drawn_energy
from vlm.flight.trim.sampled_speeds import interval
from vlm.study.mission.candidate import Candidate
from vlm.study.mission.study import MissionStudy
from vlm.study.sensitivity import (
    CHECKED,
    Answer,
    Check,
    Draws,
    Sensitivity,
    check_uncertainty,
    known_answers,
    taken_apart,
)
from vlm.verdicts import reach

JOULES = 3600.0
SCHEDULE, SAVED = "along the schedule", "saved by folding"


def mission_sensitivity(study: MissionStudy) -> Sensitivity:
    """Shares in the schedule's energy, and in what it saves against every other way.

    Raises
    ------
    InputRefused : the file states no uncertainty
    """
    check_uncertainty(study.craft)
    draws, own = study.draws, study.schedule
    assert draws is not None and own.samples is not None
    answers: list[Answer | None] = [
        taken_apart(draws, SCHEDULE, "energy", "Wh", own.energy / JOULES, own.samples / JOULES)
    ]
    rivals = [("best with the mechanism held", study.held[-1] if study.held else None),
              ("same tips, no mechanism", study.best_fixed),
              ("span free, no mechanism", study.best_purpose_built)]  # fmt: skip
    seen: list[str] = []
    for words, other in rivals:
        if other is None or other.samples is None or f"{other.group} {other.name}" in seen:
            continue
        seen.append(f"{other.group} {other.name}")
        saved = (other.samples - own.samples) / JOULES
        value = (other.energy - own.energy) / JOULES
        answers.append(taken_apart(draws, SAVED, f"against {words}", "Wh", value, saved))
    checks = [_check(draws, SCHEDULE, own)]
    if study.best_fixed is not None and study.best_fixed.samples is not None:
        checks.append(_check(draws, study.best_fixed.name, study.best_fixed))
    return Sensitivity(draws, known_answers(answers), tuple(checks))


def _check(draws: Draws, name: str, candidate: Candidate) -> Check:
    """The energy of a few draws, every state trimmed directly."""
    assert candidate.samples is not None
    direct = [
        drawn_energy(candidate.flight, factors, draws.keys, shifts) / JOULES
        for factors, shifts in zip(draws.factors[:CHECKED], draws.shifts[:CHECKED], strict=True)
    ]
    energy = candidate.energy / JOULES
    half = reach(energy, interval(candidate.samples / JOULES, draws.percent))
    return Check(
        f"{name}, energy", "Wh", energy, half, candidate.samples[:CHECKED] / JOULES,
        np.array(direct),
    )  # fmt: skip

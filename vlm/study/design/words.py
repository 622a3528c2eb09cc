"""What a search of the design says in sentences."""

import math

from vlm.plain import plus_minus
from vlm.study.design.changes import present_value
from vlm.study.design.goals import HIGHEST, UNITS, Worth
from vlm.study.design.study import DesignStudy
from vlm.study.sensitivity import GAINED, Sensitivity

ALIKE_PERCENT = 0.1
"""Difference of the goal that counts as none, whatever its noise [%]."""


LEAST_HALF = 0.001
"""Half-width that is not gone below [%]."""


def answer(study: DesignStudy) -> list[str]:
    """The decision in sentences."""
    goal, best = study.plan.goal, study.best_worth
    if best is None or study.best is None or study.searched is None:
        return []
    keys = ", ".join(_changed(study, name, value) for name, value in study.best.items())
    article = "an" if goal.goal[0] in "aeiou" else "a"
    converged = study.stopped or study.searched.has_converged  # that it was stopped is said above
    which = "Best" if converged else "Best so far (no start has converged on it: raise --most)"
    said = [f"{which}: {keys}, with {article} {goal.goal} of {_sized(study, best)}."]
    if study.present is not None and study.present.reason:
        said.append(f"As in the file it is not allowed: {study.present.reason}.")
    elif study.present is not None:
        said += _against_the_file(study, study.present)
    if best.rolls_to:
        said.append(_rolls(study.present, best))
    if best.active:
        said.append(f"Active constraint: {', '.join(best.active)}.")
    return said


def _changed(study: DesignStudy, name: str, value: float) -> str:
    """A key of the best design beside that of the file."""
    present = present_value(study.craft, name)
    was = "not in the file" if present is None else f"{present:.4g} in the file"
    return f"{name} = {value:.4g} ({was})"


def _against_the_file(study: DesignStudy, present: Worth) -> list[str]:
    """How the best compares with the craft as in the file; within noise and ± it does not."""
    gain, half = better(study, present), better_half_width(study)
    assert study.searched is not None
    if gain is None:
        return []
    noise = 0.0 if math.isnan(study.searched.noise) else study.searched.noise
    alike = max(100.0 * noise / abs(present.value), ALIKE_PERCENT)
    if abs(gain) <= alike:
        return [f"No difference to the craft as in the file, within {alike:.2g} %."]
    higher = (study.plan.goal.goal in HIGHEST) == (gain > 0.0)
    side = "higher" if higher else "lower"
    if half is None:
        size, of = f"{abs(gain):.1f} %", ""
    else:
        size = plus_minus(abs(gain), max(half, LEAST_HALF), "%")
        of = " (± of the lattice)"
        if abs(gain) <= half:
            return [f"Not known whether it is better than as in the file: {size} {side}{of}."]
    worse = "" if gain > 0.0 else ": the craft as in the file is the better one"
    return [f"That is {size} {side} than the {_sized(study, present)} as in the file{of}{worse}."]


def _sized(study: DesignStudy, worth: Worth) -> str:
    """The goal of a design with its unit."""
    unit = UNITS[study.plan.goal.goal]
    size = f"{worth.value:#.4g}".removesuffix(".")  # 79.00 beside 78.85
    return f"{size}{'' if unit == '1' else f' {unit}'}"


def _rolls(present: Worth | None, best: Worth) -> str:
    """To which side, and whether the file's craft rolls to the other."""
    said = f"With starboard folded up it rolls to {best.rolls_to}"
    if present is not None and present.rolls_to not in ("", best.rolls_to):
        return f"{said}, as in the file to {present.rolls_to}: commands must be reversed."
    return f"{said}."


def better_half_width(study: DesignStudy) -> float | None:
    """Half-width of the lattice in what the best design is better by [%]."""
    half, present = study.gain_half_width, study.present
    if present is None or not math.isfinite(half) or not abs(present.value) > 0.0:
        return None
    return 100.0 * half / abs(present.value)


def sure_of(sensitivity: Sensitivity | None) -> list[str]:
    """Differences whose sign the stated uncertainty leaves open."""
    if sensitivity is None:
        return []
    return [
        f"By the ± of [uncertainty] it is not known whether it is less or more"
        f" {one.name}: {plus_minus(one.value, one.half_width, one.unit)}."
        for one in sensitivity.answers
        if one.group == GAINED
        and (abs(one.value) <= one.half_width or one.ends[0] <= 0.0 <= one.ends[1])
    ]


def better(study: DesignStudy, other: Worth | None) -> float | None:
    """By how much the best design is better than another, in per cent of the other."""
    if study.best_worth is None or other is None or not abs(other.value) > 0.0:
        return None
    gain = study.plan.goal.sign * (other.value - study.best_worth.value)
    return 100.0 * gain / abs(other.value)

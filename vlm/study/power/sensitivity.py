"""What the ± of a power study is made of."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from vlm.errors import InputRefused
from vlm.flight.trim.drawn_craft import drawn_craft, drawn_power
from vlm.flight.trim.power_curve import PowerCurve
from vlm.flight.trim.powered import PoweredCraft
from vlm.flight.trim.sampled_speeds import interval
from vlm.quantities import QUANTITIES
from vlm.study.power.study import PowerStudy, special_document
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

POWER = "electrical_power_W"
ANSWERS = (
    ("least_power_W", "least power", "W"),
    ("least_power_speed_m_s", "its airspeed", "m/s"),
    ("best_range_speed_m_s", "farthest at", "m/s"),
    ("slowest_on_wings_m_s", "unstalled from", "m/s"),
    ("fastest_m_s", "fastest", "m/s"),
)
"""Keys of the speeds that matter, what they are called, and their units."""
EQUAL = "equal power"


def power_sensitivity(study: PowerStudy) -> Sensitivity:
    """Shares of the inputs in the speeds that matter, the least power, and the crossings.

    Raises
    ------
    InputRefused : the file states no uncertainty, or intervals were left out
    """
    check_uncertainty(study.craft)
    if study.draws is None:
        raise InputRefused("the intervals were left out; there is nothing to share out")
    answers: list[Answer | None] = []
    for name in study.curves:
        nominal: Mapping[str, Any] = special_document(study, name)
        samples = study.special_samples(name)
        answers += [
            taken_apart(
                study.draws,
                name,
                words,
                unit,
                nominal[key],
                samples[key],
                tuple(study.moved[name].left_out),
            )
            for key, words, unit in ANSWERS
        ]
    answers += [
        taken_apart(
            study.draws, EQUAL, f"{c.first} and {c.second}", "m/s", c.speed, c.samples
        )
        for c in study.crossings
        if c.samples is not None
    ]  # fmt: skip
    checks = [
        check
        for name, curve in study.curves.items()
        for check in _checks(study, study.draws, name, curve)
    ]
    return Sensitivity(study.draws, known_answers(answers), tuple(checks))


def _checks(study: PowerStudy, draws: Draws, name: str, curve: PowerCurve) -> list[Check]:
    """A few draws trimmed directly, near the least power and near the fastest speed."""
    flown = np.flatnonzero(curve.allowed)
    if len(flown) == 0:
        return []
    power = np.where(curve.allowed, curve.values(POWER), np.inf)
    chosen = dict.fromkeys((int(np.argmin(power)), int(flown[-1])))
    made, left_out = curve.problem.craft, study.moved[name].left_out
    kept = np.array([key.name not in left_out for key in draws.keys], dtype=float)
    crafts: list[PoweredCraft | None] = []
    for factors, shifts in zip(draws.factors[:CHECKED], draws.shifts[:CHECKED] * kept, strict=True):
        try:
            crafts.append(drawn_craft(made, factors, draws.keys, shifts, study.plan.grid))
        except InputRefused:
            crafts.append(None)
    found = []
    for index in chosen:
        point, sampled = curve.points[index], study.sampled[name].power[:, index]
        ends = interval(sampled, draws.percent)
        rotor = draws.factors[:CHECKED, 5]
        direct = [
            np.nan if craft is None else drawn_power(craft, point, float(scale), curve.climb_angle)
            for craft, scale in zip(crafts, rotor, strict=True)
        ]
        what = f"{name}, {QUANTITIES[POWER].long_name} at {point.speed:.3g} m/s"
        found.append(
            Check(
                what, "W", point.value(POWER), reach(point.value(POWER), ends), sampled[:CHECKED],
                np.array(direct),
            )
        )  # fmt: skip
    return found

"""What a schedule's study says in words: the fold to fly, what is not kept, what folding saves."""

import numpy as np

from vlm.flight.plan.constraints import keep_words
from vlm.flight.plan.flown_schedule import FlownSchedule
from vlm.plain import more_of, plus_minus
from vlm.study.schedule.saving import SAME, Saving
from vlm.study.schedule.saving_causes import causes_words
from vlm.study.schedule.study import ScheduleStudy, flat_settings, stretch_words

LEFT_FLAT = (
    "Leave the tips flat: folded they draw no less at any airspeed, within 0.2 %, and flat they"
    " keep every constraint."
)
LEFT_FLAT_WHERE = (
    "Leave the tips flat: folded they draw no less at any airspeed that allows a fold, within"
    " 0.2 %, and flat they keep every constraint there."
)
"""The same where some airspeeds allow no fold, flat tips among them."""


def answer(study: ScheduleStudy) -> list[str]:
    """The decision in sentences, the most costly mistake first."""
    flown, said = study.flown, []
    if flown is None:
        only = next(point for point in study.ideal if point.setting is not None)
        return [
            f"Only {only.speed:.4g} m/s allows any fold ({only.fold_deg:.3g} deg): no schedule."
        ]
    if flown.outside:
        worst = flown.outside[0]
        also = f" and {len(flown.outside) - 1} more" if len(flown.outside) > 1 else ""
        said.append(
            f"Not to be flown as it stands: at {worst.speed:.4g} m/s{also} the schedule does not"
            f" keep {', '.join(map(keep_words, worst.passed))}."
        )
    for before, after in flown.roll_reversals:
        said.append(f"The roll command reverses {stretch_words(before, after)}.")
    said += [
        f"{one.words[0].upper()}{one.words[1:]}: margin"
        f" {plus_minus(one.margin, one.half_width, one.unit)}."
        for one in study.unsure
    ]
    flat = _against_flat(study)
    said += flat
    still = {LEFT_FLAT, LEFT_FLAT_WHERE}.intersection(flat)
    folds = _fold_words(flown)
    said.append(
        f"As a schedule: {folds}; {_loss_words(flown)}."
        if still
        else f"{folds[0].upper()}{folds[1:]}; {_loss_words(flown)}."
    )
    said += _barred_words(study, flown)
    active = dict.fromkeys(name for point in study.ideal for name in point.active)
    if active:
        said.append(f"Active constraint: {', '.join(active)}.")
    shut: dict[str, list[str]] = {}
    for point in study.ideal:
        if point.setting is None:
            shut.setdefault(point.reason, []).append(f"{point.speed:.4g}")
    if shut:
        each = [f"{', '.join(speeds)} m/s ({reason})" for reason, speeds in shut.items()]
        said.append(f"No fold is allowed at {'; at '.join(each)}.")
    return said


def _fold_words(flown: FlownSchedule) -> str:
    """The breakpoints, those that follow each other with one fold together."""
    if len(set(flown.folds_deg)) == 1:
        return f"hold {flown.folds_deg[0]:.3g} deg at every airspeed"
    stretches: list[tuple[float, float, float]] = []
    for speed, fold in zip(flown.speeds, flown.folds_deg, strict=True):
        if stretches and stretches[-1][0] == fold:
            stretches[-1] = (fold, stretches[-1][1], speed)
        else:
            stretches.append((fold, speed, speed))
    words = [
        f"{fold:.3g} deg {f'at {low:.4g}' if low == high else f'from {low:.4g} to {high:.4g}'} m/s"
        for fold, low, high in stretches
    ]
    return f"fold {', '.join(words)}, straight between"


def _barred_words(study: ScheduleStudy, flown: FlownSchedule) -> list[str]:
    """Why straight pieces cannot follow the best folds, where that costs something."""
    barred = study.barred if flown.worst[0] >= SAME else {}
    if not barred:
        return []
    pairs = sorted({pair for each in barred.values() for pair in each})
    (low, high), more = pairs[0], len(pairs) - 1
    also = f" (and at {more_of(more, 'pair')} of airspeeds)" if more else ""
    return [
        f"The best folds at {low:.4g} and {high:.4g} m/s{also} lie to both sides of folds that are"
        f" not allowed ({', '.join(barred)}); a straight piece would cross them."
    ]


def _loss_words(flown: FlownSchedule) -> str:
    mean, (worst, speed) = float(np.mean(flown.losses)), flown.worst
    if worst < SAME:
        return "it draws what the best fold of every airspeed draws, within 0.2 %"
    return (
        f"{100.0 * mean:.1f} % above the best fold in the mean, {100.0 * worst:.1f} % at worst, at"
        f" {speed:.4g} m/s"
    )


def _saving_words(saving: Saving) -> str:
    passed = " and ".join(map(keep_words, saving.flat.passed))
    forbidden = f"; flat tips do not keep {passed} there" if passed else ""
    share, where = f"{100.0 * saving.share:.1f} %", f"at {saving.point.speed:.4g} m/s"
    if saving.interval is None:
        return f"Against flat tips folding saves {share} at most, {where}{forbidden}."
    low, high = (100.0 * end / saving.flat.power for end in saving.interval)
    known = f"{saving.percent:.0f} % interval {low:.1f} to {high:.1f} %{forbidden}."
    if low <= 0.0:
        return (
            f"It is not known whether folding saves against flat tips: {share} at most, {where},"
            f" {known}"
        )
    return f"Against flat tips folding saves {share} at most, {where}, {known}"


def _against_flat(study: ScheduleStudy) -> list[str]:
    """What moving the tips saves against flat ones, where flat ones fly at all."""
    if study.saving is None:
        return []
    if study.saving.share >= SAME:
        causes = study.saving.causes
        return [_saving_words(study.saving), *([causes_words(causes)] if causes else [])]
    points = [point for point in study.ideal if point.setting is not None]
    both = list(zip(points, flat_settings(study.table, study.ideal), strict=True))
    flown = [(point, flat) for point, flat in both if np.isfinite(flat.power)]
    passed = [
        (point.speed, " and ".join(map(keep_words, flat.passed)))
        for point, flat in flown
        if flat.passed
    ]
    if passed:
        speed, reason = passed[0]
        also = f" and at {more_of(len(passed) - 1, 'airspeed')}" if len(passed) > 1 else ""
        return [
            "No airspeed draws less than with flat tips, within 0.2 %, but these do not"
            f" keep {reason} at {speed:.4g} m/s{also}."
        ]
    if len(flown) < len(both):
        return ["No airspeed that flat tips fly draws less than with them, within 0.2 %."]
    if study.unsure_flat:
        open_ = "; ".join(
            f"{one.words}, margin {plus_minus(one.margin, one.half_width, one.unit)}"
            for one in study.unsure_flat
        )
        return [
            "No airspeed draws less than with flat tips, within 0.2 %, but for these it is"
            f" {open_}."
        ]
    return [LEFT_FLAT if len(both) == len(study.ideal) else LEFT_FLAT_WHERE]

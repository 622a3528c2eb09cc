"""Mass of the mechanism, and share of loiter, at which folding stops or starts to pay.

Both hang on a difference of energies that is small against either: its interval, over the samples
that both share, says what is known of them.
"""

from collections.abc import Sequence
from typing import TypedDict

import numpy as np

from vlm.constants import Floats
from vlm.flight.craft.crossing import zeros_of
from vlm.flight.trim.sampled_speeds import interval
from vlm.plain import from_to, interval_places, size_words
from vlm.study.mission.candidate import (
    SHARES,
    Candidate,
    energy_over_share,
    nominal_over_share,
    rivals_by_share,
)
from vlm.study.mission.study import HEAVIEST, JOULES, MissionStudy

ALIKE_WH = 1e-3
"""Difference of energies below which two ways take the same [W h]."""
NO_RIVAL = "no craft that does not fold can fly the mission"


class BreakEven(TypedDict):
    """Where folding stops or starts to pay, in numbers and in words; null where nowhere.

    Intervals are null without [uncertainty], and where the number is.

    Attributes
    ----------
    loiter_share : of the flight time [1]
    """

    mechanism_mass_kg: float | None
    mechanism_mass_interval_kg: list[float] | None
    mechanism_mass: str
    loiter_share: float | None
    loiter_share_interval: list[float] | None
    loiter: str


class BreakEvens(TypedDict):
    """Against craft that do not fold: with the same tips, and with tips of any span."""

    same_tips: BreakEven
    span_free: BreakEven


Even = tuple[float | None, list[float] | None, str]
"""Where folding stops or starts to pay, its interval, and both in words."""


def break_evens(study: MissionStudy) -> BreakEvens:
    """Mass of the mechanism and share of loiter at which folding stops or starts to pay."""
    every = (*study.every_fixed, *study.respanned)
    return {
        "same_tips": _break_even(study, study.best_fixed, study.every_fixed),
        "span_free": _break_even(study, study.best_purpose_built, every),
    }


def _break_even(
    study: MissionStudy, other: Candidate | None, rivals: Sequence[Candidate]
) -> BreakEven:
    mass, masses, mass_words = mass_break_even(study, other)
    share, shares, share_words = loiter_break_even(study.schedule, rivals, study.percent)
    return {
        "mechanism_mass_kg": mass,
        "mechanism_mass_interval_kg": masses,
        "mechanism_mass": mass_words,
        "loiter_share": share,
        "loiter_share_interval": shares,
        "loiter": share_words,
    }


def mass_break_even(study: MissionStudy, other: Candidate | None) -> Even:
    """Mass of all mechanisms at which the schedule takes what another craft takes.

    The schedule is flown again with each mass; between those flights the energy is a straight line.
    """
    if other is None:
        return None, None, NO_RIVAL
    if not study.reweighed:
        return None, None, "the file names no mechanism (mass.mechanism), so none is weighed"
    if study.reweighed[0].flight.reason:
        reason = study.reweighed[0].flight.reason
        return None, None, f"not known: with one that weighs nothing the schedule fails ({reason})"
    assert study.craft.mass is not None
    own = study.craft.mass.mechanism_kg
    bare = study.craft.mass.total_kg - own
    flown = sorted((study.schedule, *study.reweighed), key=lambda c: c.mass_kg)
    flown = [c for c in flown if np.isfinite(c.energy)]
    masses = np.array([c.mass_kg - bare for c in flown])
    apart = np.array([c.energy - other.energy for c in flown])
    apart[np.abs(apart) < ALIKE_WH * JOULES] = 0.0
    samples = _differences(flown, other, study.percent)
    gain = other.energy - study.schedule.energy
    if apart[0] > 0.0 and gain > 0.0:
        return None, None, _ballast_words(apart[0], gain)
    if apart[0] > 0.0:
        return None, None, _weightless_words(apart[0], samples, study.percent)
    place = next(iter(zeros_of(masses, apart)), None)
    if place is None:
        return None, None, _endless_words(masses, apart, samples, study.percent)
    ends, said = None, ""
    if samples is not None and study.percent is not None:
        most = HEAVIEST * study.craft.mass.total_kg
        drawn = np.array([_root(masses, row) for row in samples.T])
        low, high = interval(np.clip(drawn, 0.0, most), study.percent)
        ends = [low, high]
        said = f" ({study.percent:g} % interval {1000.0 * low:.0f} to {1000.0 * high:.0f} g)"
    words = (
        f"folding pays while all mechanisms together weigh less than {1000.0 * place:.0f}"
        f" g{said}; they weigh {1000.0 * own:.0f} g"
    )
    return place, ends, words


def _differences(
    flown: Sequence[Candidate], other: Candidate, percent: float | None
) -> Floats | None:
    """Energies of every sample less another's, shape (flown, samples) [J]."""
    drawn = [one.samples for one in flown]
    if percent is None or other.samples is None or any(one is None for one in drawn):
        return None
    return np.array([one - other.samples for one in drawn if one is not None])


def _root(masses: Floats, apart: Floats) -> float:
    """Where a rising line through masses is zero; the ends' own lines go on beyond them."""
    after = int(np.clip(np.searchsorted(apart, 0.0), 1, len(masses) - 1))
    rise = (apart[after] - apart[after - 1]) / (masses[after] - masses[after - 1])
    return float(masses[after] - apart[after] / rise)


def _ballast_words(cost: float, gain: float) -> str:
    """What is said where folding pays, but not with a mechanism that weighs nothing [J]."""
    return (
        "not known: with a mechanism that weighed nothing folding would take"
        f" {size_words(cost / JOULES)} Wh more, with the file's it takes"
        f" {size_words(gain / JOULES)} Wh less: its weight helps to trim the craft"
    )


def _endless_words(
    masses: Floats, apart: Floats, samples: Floats | None, percent: float | None
) -> str:
    """What is said where folding pays with every mass of the mechanism that was flown."""
    endless = f"folding pays up to a mechanism of {masses[-1]:.2f} kg and beyond"
    if samples is None or percent is None:
        return endless
    for place in reversed(range(len(masses))):
        low, high = interval(-samples[place] / JOULES, percent)
        if low <= 0.0 and max(abs(low), abs(high)) > ALIKE_WH:
            return (
                "not known up to what mass of the mechanism folding pays: with"
                f" {1000.0 * masses[place]:.0f} g it would save {-apart[place] / JOULES:z.2f} Wh,"
                f" {percent:g} % interval {from_to(low, high)} Wh"
            )
    return endless


def _weightless_words(apart: float, samples: Floats | None, percent: float | None) -> str:
    """What is said where folding costs more even with a mechanism that weighs nothing."""
    said, places = "", 2
    if samples is not None and percent is not None:
        low, high = interval(-samples[0] / JOULES, percent)
        places = interval_places(low, high)
        said = f", {percent:g} % interval {from_to(-high, -low)} Wh"
        if high >= 0.0:
            return (
                "not known whether folding would pay if the mechanism weighed nothing: it would"
                f" then save {-apart / JOULES:z.{places}f} Wh, {percent:g} % interval"
                f" {from_to(low, high)} Wh"
            )
    return (
        "folding would not pay even if the mechanism weighed nothing: it would still take"
        f" {size_words(apart / JOULES, places)} Wh more{said}"
    )


def loiter_break_even(own: Candidate, rivals: Sequence[Candidate], percent: float | None) -> Even:
    """Share of loiter in the flight time at which folding starts to pay.

    The time of the mission stays; the loiter legs all stretch alike, and the other legs likewise.
    At every share the best of the crafts that do not fold counts.
    """
    loiter, _ = own.flight.part("loiter")
    total = own.flight.seconds
    able = rivals_by_share(own, rivals)
    if not 0.0 < loiter < total:
        return None, None, "the mission has no loiter, or nothing else"
    if not able:
        return None, None, NO_RIVAL
    others = [nominal_over_share(own, c) for c in able]
    apart = nominal_over_share(own, own) - np.min(others, axis=0)
    low, high = _bands(own, able, apart, percent)
    pays, costs = high < 0.0, low > 0.0
    now = f"{100.0 * loiter / total:.0f} %"
    if pays.all() or costs.all():
        word = "always" if pays.all() else "never"
        return None, None, f"folding {word} pays, whatever the share of loiter (now {now})"
    place = next(iter(zeros_of(SHARES, apart)), None)
    if not (pays | costs).any():
        return None, None, f"at no share of loiter is it known whether folding pays (now {now})"
    if place is None or not (pays.any() and costs.any()):
        word, known = ("pays", pays) if pays.any() else ("does not pay", costs)
        words = (
            f"folding {word} at a share of loiter of {_ranges(known)} of the time; elsewhere it"
            f" is not known whether it pays (now {now})"
        )
        return None, None, words
    word = "starts" if apart[0] > 0.0 else "ceases"
    ends, said = None, ""
    if percent is not None and own.leg_samples is not None:
        ends = _open_around(place, ~(pays | costs))
        said = f" ({percent:g} % interval {100.0 * ends[0]:.0f} to {100.0 * ends[1]:.0f} %)"
    words = (
        f"folding {word} to pay at a share of loiter of {100.0 * place:.0f} % of the"
        f" time{said}; it is {now}"
    )
    return place, ends, words


def _bands(
    own: Candidate, able: Sequence[Candidate], apart: Floats, percent: float | None
) -> tuple[Floats, Floats]:
    """Ends of the interval of the difference over the share, shape (shares,) each [J]."""
    drawn = [c.leg_samples for c in able]
    if percent is None or own.leg_samples is None or any(one is None for one in drawn):
        return apart, apart
    loiter, _ = own.flight.part("loiter")
    times = loiter, own.flight.seconds
    rivals = [
        energy_over_share(c, *times, legs)
        for c, legs in zip(able, drawn, strict=True)
        if legs is not None
    ]
    found = energy_over_share(own, *times, own.leg_samples) - np.min(rivals, axis=0)
    ends = np.array([interval(row, percent) for row in found])
    return np.minimum(ends[:, 0], apart), np.maximum(ends[:, 1], apart)


def _ranges(known: np.ndarray) -> str:
    """Shares that are marked, in words."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(int), [0]])))
    return " and ".join(
        f"{100.0 * SHARES[a]:.3g} to {100.0 * SHARES[b - 1]:.3g} %"
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def _open_around(place: float, is_open: np.ndarray) -> list[float]:
    """Ends of the shares around a place that are marked; the place itself where none is."""
    nearest = int(np.argmin(np.abs(SHARES - place)))
    if not is_open[nearest]:
        return [place, place]
    shut = np.flatnonzero(~is_open)
    below, above = shut[shut < nearest], shut[shut > nearest]
    return [
        float(SHARES[below[-1] + 1]) if below.size else 0.0,
        float(SHARES[above[0] - 1]) if above.size else 1.0,
    ]

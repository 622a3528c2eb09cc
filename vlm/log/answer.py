"""The answer of a log in words: what draws less, by how much, how sure, why, and what to fly next.

Sentences hold what a reader acts on, each number with its half-width. Nothing here is computed but
what the words need; the numbers are those of the study.
"""

from dataclasses import dataclass

import numpy as np

from vlm.log.analysis import Compared, Measured
from vlm.log.difference import Difference, DifferenceBin
from vlm.log.next_flight import Proposal, proposals
from vlm.log.wind import Wind
from vlm.plain import plus_minus

# Causes that account for less than this share of a difference are not worth a word.
WORTH_A_WORD = 0.08
MOST_CAUSES = 3


@dataclass(frozen=True)
class Answer:
    """What a log says, in words.

    Attributes
    ----------
    differences : which configuration draws less, where and by how much
    prediction : how the log stands to the prediction; empty without one
    air : wind and instruments; empty where the log does not tell
    next_flight : what would settle what is open
    proposals : the same as numbers
    """

    differences: tuple[str, ...]
    prediction: tuple[str, ...]
    air: tuple[str, ...]
    next_flight: tuple[str, ...]
    proposals: tuple[Proposal, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of it in order."""
        return (*self.differences, *self.prediction, *self.air, *self.next_flight)


def answered(result: Measured, against: Compared | None = None) -> Answer:
    """The answer of a study.

    Parameters
    ----------
    result : the log by itself
    against : the log against the prediction; None where there is none
    """
    level = result.plan.level
    open_ = [
        proposal
        for item in result.differences
        if result.model is not None and item.bins
        for proposal in proposals(result.model, item, level)
    ]
    return Answer(
        differences=_differences(result),
        prediction=() if against is None else _prediction(against),
        air=() if result.wind is None else _air(result.wind),
        next_flight=_next(result, open_),
        proposals=tuple(open_),
    )


def _differences(result: Measured) -> tuple[str, ...]:
    if not result.binned:
        return (
            "Nothing is known of the power: there are too few steady segments for a curve and its"
            " scatter.",
        )
    if not result.differences:
        name = next(iter(result.binned))
        least = min(result.binned[name].bins, key=lambda b: b.power_W)
        return (
            f"Only {name} was flown steadily; it draws least at"
            f" {least.airspeed_m_s:.1f} m/s: {plus_minus(least.power_W, least.half_width_W, 'W')}.",
        )
    return tuple(sentence for item in result.differences for sentence in _of_pair(item))


def _of_pair(item: Difference) -> list[str]:
    if not item.bins:
        return [f"{sentence}." for sentence in item.sentences()]
    percent = f"{100.0 * item.level:g} %"
    said = []
    for sign in ("less", "more"):
        rows = [b for b in item.bins if b.first_draws == sign]
        if rows:
            said.append(
                f"{item.first} draws {sign} than {item.second} {_places(rows)}: by"
                f" {_sizes(rows)} (sure at {percent} over all speeds together)."
            )
    rows = [b for b in item.bins if b.first_draws == "unknown"]
    if rows:
        said.append(
            f"{_opened(_places(rows))} it is not known whether {item.first} or {item.second} draws"
            f" less: {_sizes(rows, signed=True)} ({percent} over all speeds together)."
        )
    return said


def _opened(text: str) -> str:
    return text[:1].upper() + text[1:]


def _places(rows: list[DifferenceBin]) -> str:
    speeds = [f"{row.airspeed_m_s:.1f}" for row in rows]
    if len(speeds) == 1:
        return f"at {speeds[0]} m/s"
    return f"at {', '.join(speeds[:-1])} and {speeds[-1]} m/s"


def _sizes(rows: list[DifferenceBin], *, signed: bool = False) -> str:
    """Differences with the half-widths that their signs rest on, over all speeds together."""
    sizes = []
    for row in rows:
        value = row.difference_W if signed else abs(row.difference_W)
        sizes.append(plus_minus(value, row.half_width_of_sign_W))
    return f"{', '.join(sizes)} W"


def _prediction(against: Compared) -> tuple[str, ...]:
    found = against.explanation
    size, half = abs(found.difference_W), against.difference_half_width_W
    more = "above" if found.difference_W > 0.0 else "below"
    causes = [
        cause
        for cause in found.causes
        if cause.power_W * found.difference_W > 0.0
        and abs(cause.power_W) > WORTH_A_WORD * abs(found.difference_W)
    ][:MOST_CAUSES]
    outside = sum(item.outside for item in against.residuals)
    bins = sum(int(np.isfinite(item.bin_residual_W).sum()) for item in against.residuals)
    stands = f"{plus_minus(size, half, 'W')} {more} the prediction"
    begin = (
        f"On average the measured power is {stands}" if not size <= half
        else f"On average no difference to the prediction is known: the measured power is {stands}"
    )  # fmt: skip
    said = [f"{begin}; {outside} of {bins} bins lie farther off than both uncertainties allow."]
    sure = [cause for cause in causes if cause.is_known]
    if causes and outside and not sure:
        said.append("Which of the stated uncertainties accounts for that is not known.")
    if sure and outside:
        names = ", ".join(
            f"{c.label} ({plus_minus(c.power_W, c.half_width_W, 'W')}, {abs(c.shift):.1f} of its"
            " standard uncertainties)"
            for c in sure
        )
        said.append(
            f"By the uncertainties that the file states, most of that is put down to {names};"
            f" {plus_minus(found.unexplained_W, found.unexplained_half_W, 'W')} stay unexplained."
        )
        said += [
            f"The log alone does not tell {c.label} from these: {', '.join(c.not_told_from)}."
            for c in sure
            if c.not_told_from
        ]
    if against.fit is not None:
        values = ", ".join(
            f"{e.label} {_between(e.interval)}{'' if e.unit == '1' else ' ' + e.unit}"
            f" (file {e.nominal:.3g})"
            for e in against.fit.estimates
        )
        check = against.cross_validation
        helps = "" if check is None else (
            ", and predicts unseen segments better than the file" if check.helps
            else ", but predicts unseen segments no better than the file: do not use it"
        )  # fmt: skip
        said.append(f"The fit gives {values}{helps}.")
    return tuple(said)


def _between(interval: tuple[float, float]) -> str:
    return f"{interval[0]:.3g} to {interval[1]:.3g}"


def _air(wind: Wind) -> tuple[str, ...]:
    half = float(np.hypot(wind.north_half_m_s, wind.east_half_m_s) / np.sqrt(2.0))
    said = (
        f"Wind: {plus_minus(wind.speed_m_s, half, 'm/s')} from {wind.from_deg:.0f} deg"
        f" (air moves {plus_minus(wind.north_m_s, wind.north_half_m_s)} m/s north,"
        f" {plus_minus(wind.east_m_s, wind.east_half_m_s)} m/s east)."
    )
    if wind.speed_m_s < half:
        said = (
            f"No wind is seen: {plus_minus(wind.north_m_s, wind.north_half_m_s)} m/s north,"
            f" {plus_minus(wind.east_m_s, wind.east_half_m_s)} m/s east."
        )
    if not np.isfinite(wind.offset_m_s):
        return (said,)
    pitot = (
        f"The pitot reads {plus_minus(wind.offset_m_s, wind.offset_half_m_s)} m/s and"
        f" {plus_minus(100.0 * wind.scale, 100.0 * wind.scale_half)} % too much (too little where"
        " negative); airspeeds here are corrected by that."
    )
    return said, pitot


def _next(result: Measured, open_: list[Proposal]) -> tuple[str, ...]:
    if not result.binned:
        return ("Next: fly each speed for half a minute, straight and level, three times or more.",)
    few = [
        name
        for name, power in result.binned.items()
        if sum(b.segments for b in power.bins) < 2 * len(power.bins)
    ]
    if open_:
        legs = [p for p in open_ if p.legs_of_each is not None]
        chosen = legs[0] if legs else open_[0]
        more = f" ({len(open_) - 1} more open signs: --full)" if len(open_) > 1 else ""
        return (f"Next: {chosen.sentence()}{more}.",)
    if few:
        return (f"Next: fly each speed of {', '.join(few)} again; most were flown once.",)
    return ()

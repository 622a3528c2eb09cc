"""What a mission's study says: the answer, the break-evens, and the document."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Annotated, Any, TypedDict

import numpy as np

from vlm.cautions import SHORT_CAUTION
from vlm.findings import Finding
from vlm.flight.plan.constraints import ROLL_MOMENT, constraint_words
from vlm.flight.plan.mission import FlownLeg, MissionFlight, fast_end, speed_held_by
from vlm.flight.trim.sampled_speeds import interval
from vlm.plain import Shown, from_to, interval_places, plus_minus, size_words, without_nan
from vlm.power.propulsion import usable_energy
from vlm.study.mission.break_even import BreakEvens, break_evens
from vlm.study.mission.candidate import Candidate
from vlm.study.mission.saving_parts import SavingParts, saving_parts
from vlm.study.mission.study import JOULES, TIP_SPANS, MissionStudy, flight_doubts
from vlm.study.sensitivity import Sensitivity, SensitivityDocument, sensitivity_document
from vlm.verdicts import reach, words_of_alike

LEAST_WH = 0.01
"""Least difference of two energies that is given as a number [W h]."""
ASSUMED = (
    "every leg is steady; a transition is the mean of level trims from hover to its airspeed,"
    " and the energy to speed up or slow down is left out",
    "the schedule commands the best fold of each airspeed, not the straight lines as flown; below"
    " its lowest airspeed the tips rest",
    "turns and climbs fly at the fold of their airspeed; a turn is trimmed as straight flight of"
    " its load factor times the weight",
    "a craft that does not fold keeps to stall margin, rotor margin and dihedral effect of"
    " [schedule], with its mechanism to hinge moment and forbidden folds too; the room to roll by"
    " folding does not bind it, and how it rolls is left open",
    "tips of another span weigh in proportion",
    "folding moves each tip steadily with the highest friction, beside the leg, not after it; at"
    " rest the servos draw their hold current",
    "intervals keep folds, airspeeds and times as flown; in a transition near stall a draw that"
    " finds no trim takes the straight line through the others",
)


class LegDocument(TypedDict):
    """One leg as flown; airspeed is null in a transition.

    Attributes
    ----------
    fast_end_m_s : airspeed at the fast end of a transition, its slow end being hover; null
        otherwise [m/s]
    folding_Wh, holding_Wh : of the servos, moving and at rest [W h]
    airspeed_held_by : what forbids a better airspeed of a leg that names none
    battery_left_Wh : after the leg; null where the file names no battery [W h]
    cannot_fly : why not; empty where it can
    """

    leg: str
    kind: str
    airspeed_m_s: float | None
    fast_end_m_s: float | None
    airspeed_held_by: list[str]
    fold_deg: float | None
    time_s: float
    mean_power_W: float
    flight_Wh: float
    folding_Wh: float
    holding_Wh: float
    energy_Wh: float
    battery_left_Wh: float | None
    cannot_fly: str


class CandidateDocument(TypedDict):
    """The mission flown one way.

    Attributes
    ----------
    fold_deg : that is held; null along the schedule [deg]
    time_s, energy_Wh, folding_Wh : null where the mission cannot be flown [s], [W h]
    tip_span_share : span of the tips over that of the file [1]
    energy_interval_Wh, schedule_saves_interval_Wh : null without [uncertainty] [W h]
    schedule_saves_Wh : energy above that along the schedule [W h]
    cannot_fly : why not; empty where it can
    """

    name: str
    fold_deg: float | None
    tip_span_share: float
    mass_kg: float
    time_s: float | None
    energy_Wh: float | None
    folding_Wh: float | None
    energy_interval_Wh: list[float] | None
    schedule_saves_Wh: float | None
    schedule_saves_percent: float | None
    schedule_saves_interval_Wh: list[float] | None
    cannot_fly: str
    legs: list[LegDocument]


class MissionDocument(TypedDict):
    """Energy of a mission: folding along the schedule against craft that do not fold.

    Attributes
    ----------
    answer, purpose_built_answer : the decision in words
    airspeeds_answer : which legs could fly a better airspeed but for what; empty where none could
    held : the craft with its mechanism, tips held at one fold
    without_mechanism : the same without the mechanism
    other_tips : without the mechanism, tips of another span
    best_fixed, best_purpose_built : names of the best of those; null where none can fly it
    saving_parts : what the schedule saves against the best of those, taken apart
    uncertain_inputs : shares of the intervals, where asked for
    """

    title: str
    mission: str
    answer: str
    schedule: CandidateDocument
    held: list[CandidateDocument]
    without_mechanism: list[CandidateDocument]
    other_tips: list[CandidateDocument]
    best_fixed: str | None
    best_purpose_built: str | None
    purpose_built_answer: str
    airspeeds_answer: str
    saving_parts: SavingParts
    break_even: BreakEvens
    battery_usable_Wh: float | None
    interval_percent: float | None
    uncertain_inputs: SensitivityDocument | None
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]
    assumed: list[str]
    caution: str


def mission_document(
    study: MissionStudy, sensitivity: Sensitivity | None = None
) -> MissionDocument:
    """The study as plain values.

    Parameters
    ----------
    sensitivity : what the intervals are made of, where that was asked for
    """
    best, built = study.best_fixed, study.best_purpose_built
    document: MissionDocument = {
        "title": study.craft.title,
        "mission": study.title,
        "answer": answer(study, best),
        "schedule": _candidate(study, study.schedule),
        "held": [_candidate(study, c) for c in study.held],
        "without_mechanism": [_candidate(study, c) for c in study.fixed],
        "other_tips": [_candidate(study, c) for c in study.respanned],
        "best_fixed": None if best is None else best.name,
        "best_purpose_built": None if built is None else built.name,
        "purpose_built_answer": answer(study, built),
        "airspeeds_answer": airspeeds_answer(study),
        "saving_parts": saving_parts(study),
        "break_even": break_evens(study),
        "battery_usable_Wh": _battery(study),
        "interval_percent": study.percent,
        "uncertain_inputs": sensitivity_document(sensitivity),
        "findings": [asdict(finding) for finding in mission_findings(study)],
        "assumed": [*ASSUMED, _mechanism_words(study)],
        "caution": SHORT_CAUTION,
    }
    return without_nan(document)


def mission_findings(study: MissionStudy) -> list[Finding]:
    """What a user must know before the mission is flown along the schedule."""
    found = [*study.left_out, *_battery_findings(study)]
    found += flight_doubts(study.schedule.flight)
    signs: dict[float, float] = {}
    for leg in study.schedule.flight.legs:
        for piece in leg.pieces:
            state = piece.piece
            rule = study.schedule.flight.rule
            low = rule.table.constraints.schedule.airspeed_min_m_s
            if state.speed < low or leg.leg.kind == "transition":
                continue
            setting = rule.table.setting(state.fold_deg, state.speed)
            moment = setting.quantities.get(ROLL_MOMENT)
            if moment is not None and np.isfinite(moment):
                signs[state.speed] = moment
    if signs and min(signs.values()) < 0.0 < max(signs.values()):
        port, starboard = (find(signs, key=lambda u: signs[u]) for find in (min, max))
        found.append(
            Finding(
                "roll_reversal", "the roll command reverses between legs of the mission: with the"
                f" starboard tips folded up the craft rolls to starboard at {starboard:.4g} m/s and"
                f" to port at {port:.4g} m/s; rolling moment to port",
                -signs[port], None, "N m", "direct solves",
                "keep the schedule to one side of the reversal with forbidden_deg",
            )
        )  # fmt: skip
    return found


def _battery_findings(study: MissionStudy) -> list[Finding]:
    """Whether the battery is short of the mission along the schedule, or may be."""
    battery, needed = _battery(study), study.schedule.energy / JOULES
    if battery is None:
        return []
    ends = _ends(study, study.schedule) or (needed, needed)
    most, half = max(needed, ends[1]), reach(needed, ends)
    if not most > battery:
        return []
    remedy = "shorten the mission, or take a larger battery"
    if needed > battery:
        what = "the mission takes more than the usable battery holds"
        return [
            Finding(
                "battery", what, needed, battery, "Wh", "[propulsion]", remedy,
                half_width=half or None,
            )
        ]  # fmt: skip
    what = (
        "it is not known whether the usable battery is enough: within its interval the mission"
        " takes up to"
    )
    return [Finding("battery_not_known", what, most, battery, "Wh", "[uncertainty]", remedy)]


def _mechanism_words(study: MissionStudy) -> str:
    """What is taken out with the mechanism."""
    mass = study.craft.mass
    assert mass is not None
    area = mass.mechanism_drag_area_m2
    if area == 0.0:
        return (
            "without the mechanism its mass is gone; the file names no drag of it"
            " (mass.mechanism.drag_area_m2), so none is taken out"
        )
    return f"without the mechanism its mass and its drag area of {1e4 * area:.3g} cm^2 are gone"


def _battery(study: MissionStudy) -> float | None:
    assert study.craft.propulsion is not None
    energy = usable_energy(study.craft.propulsion)
    return None if energy is None else energy / JOULES


def answer(study: MissionStudy, other: Candidate | None) -> str:
    """One sentence: the schedule against a craft that does not fold."""
    own, taken = study.schedule.energy, total(study, study.schedule)
    if other is None:
        return (
            f"Folding along the schedule flies the mission with {taken}; no craft"
            " that does not fold can fly it within the constraints."
        )
    gain = other.energy - own
    verb = "saves" if gain > 0.0 else "costs"
    size = abs(gain) / JOULES
    ends = _difference_ends(study, other)
    unknown = "" if ends else "; the file states no [uncertainty], so there is no interval"
    if max([size, *(abs(end) for end in ends or ())]) < LEAST_WH:
        return (
            "No difference: folding along the schedule and the craft without the mechanism"
            f" ({_named(study, other)}) both take {taken}, within {LEAST_WH:g}"
            f" Wh{unknown}."
        )
    places = interval_places(*ends) if ends else 2
    text = (
        f"Folding along the schedule takes {taken}, and {verb}"
        f" {size_words(size, places)} Wh or {size_words(100.0 * abs(gain) / other.energy, 1)} %"
        f" against {total(study, other)} of the craft without the mechanism"
        f" ({_named(study, other)})"
    )
    if ends is None:
        return f"{text}{unknown}."
    if holds_zero(ends):
        return (
            f"No difference: folding along the schedule takes {taken}, the craft"
            f" without the mechanism ({_named(study, other)}) {size_words(size, places)} Wh"
            f" {'more' if gain > 0.0 else 'less'}; {study.percent:g} % interval"
            f" {from_to(*ends)} Wh."
        )
    # Of a cost the signs turn round, so that both read as the verb says.
    low, high = ends if gain > 0.0 else (-ends[1], -ends[0])
    scale = 100.0 / (other.energy / JOULES)
    return (
        f"{text}; {study.percent:g} % interval {from_to(low, high)} Wh,"
        f" {low * scale:z.1f} to {high * scale:z.1f} %."
    )


def total(study: MissionStudy, candidate: Candidate) -> str:
    """Energy of a mission flown one way, with its ± where it is known: to the farther end."""
    energy, ends = candidate.energy / JOULES, _ends(study, candidate)
    if ends is None or not reach(energy, ends) > 0.0:
        return f"{energy:.2f} Wh"
    return plus_minus(energy, reach(energy, ends), "Wh")


def _ends(study: MissionStudy, candidate: Candidate) -> tuple[float, float] | None:
    """Interval of the energy of a mission flown one way [W h]."""
    if candidate.samples is None or study.percent is None:
        return None
    return interval(candidate.samples / JOULES, study.percent)


def airspeeds_answer(study: MissionStudy) -> str:
    """Which legs stand at an airspeed beyond which none is allowed, along the schedule."""
    held: dict[tuple[str, ...], list[str]] = {}
    for leg in study.schedule.flight.legs:
        held.setdefault(speed_held_by(study.schedule.flight.rule, leg), []).append(leg.leg.label)
    return " ".join(
        f"Airspeed held by {' and '.join(map(constraint_words, names))}: {', '.join(legs)}."
        for names, legs in held.items()
        if names
    )


def _named(study: MissionStudy, best: Candidate) -> str:
    """A best craft, and those with the same tips whose energy is not known to be more.

    By the interval of their difference over the same samples.
    """
    name, percent = f"{best.name}{_end_of_range(best)}", study.percent
    if percent is None or best.samples is None:
        return name
    alike = [
        one.name
        for one in study.fixed
        if one.fold_deg != best.fold_deg and best.tip_span_share == 1.0
        and one.samples is not None
        and holds_zero(interval(one.samples - best.samples, percent))
    ]  # fmt: skip
    return f"{name}; {words_of_alike(', '.join(alike))}" if alike else name


def holds_zero(ends: Sequence[float]) -> bool:
    """Whether an interval leaves the sign of what lies in it open."""
    return ends[0] <= 0.0 <= ends[1]


def _end_of_range(other: Candidate) -> str:
    """Words for tips that are as long or as short as any that were tried."""
    if other.tip_span_share == max(TIP_SPANS):
        return ", the longest tried"
    return ", the shortest tried" if other.tip_span_share == min(TIP_SPANS) else ""


def _difference_ends(study: MissionStudy, other: Candidate) -> tuple[float, float] | None:
    """Interval of what the schedule saves against another [Wh]."""
    percent = study.percent
    if percent is None or study.schedule.samples is None or other.samples is None:
        return None
    low, high = interval((other.samples - study.schedule.samples) / JOULES, percent)
    return low, high


def _candidate(study: MissionStudy, candidate: Candidate) -> CandidateDocument:
    flight, ends = candidate.flight, _ends(study, candidate)
    saved = candidate.energy - study.schedule.energy
    apart = _difference_ends(study, candidate) if candidate is not study.schedule else None
    return {
        "name": candidate.name,
        "fold_deg": candidate.fold_deg,
        "tip_span_share": candidate.tip_span_share,
        "mass_kg": candidate.mass_kg,
        "time_s": flight.seconds,
        "energy_Wh": flight.energy / JOULES,
        "folding_Wh": sum(leg.folding for leg in flight.legs) / JOULES,
        "energy_interval_Wh": None if ends is None else list(ends),
        "schedule_saves_Wh": saved / JOULES,
        "schedule_saves_percent": 100.0 * saved / candidate.energy,
        "schedule_saves_interval_Wh": None if apart is None else list(apart),
        "cannot_fly": flight.reason,
        "legs": _legs(study, flight),
    }


def _legs(study: MissionStudy, flight: MissionFlight) -> list[LegDocument]:
    battery, used, rule = _battery(study), 0.0, flight.rule
    rows: list[LegDocument] = []
    for leg in flight.legs:
        used += leg.energy / JOULES
        last = leg.pieces[-1].piece if leg.pieces else None
        rows.append(
            {
                "leg": leg.leg.label,
                "kind": leg.leg.kind,
                "airspeed_m_s": None if last is None else _leg_speed(leg),
                "fast_end_m_s": fast_end(leg),
                "airspeed_held_by": list(speed_held_by(rule, leg)),
                "fold_deg": None if last is None else last.fold_deg,
                "time_s": leg.seconds,
                "mean_power_W": leg.energy / leg.seconds,
                "flight_Wh": leg.flight_energy / JOULES,
                "folding_Wh": leg.folding / JOULES,
                "holding_Wh": leg.holding / JOULES,
                "energy_Wh": leg.energy / JOULES,
                "battery_left_Wh": None if battery is None else battery - used,
                "cannot_fly": leg.reason,
            }
        )
    return rows


def _leg_speed(leg: FlownLeg) -> float | None:
    """Airspeed of a leg that has one; none for a transition, which runs through many."""
    return None if leg.leg.kind == "transition" else leg.pieces[0].piece.speed

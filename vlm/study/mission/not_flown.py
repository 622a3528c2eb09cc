"""Why the schedule cannot fly a mission, and what to change."""

import numpy as np

from vlm.errors import FoldspanError
from vlm.flight.plan.mission import FlownLeg, MissionFlight, MissionFlyer, planned_pieces
from vlm.flight.plan.remedies import remedy, why_none
from vlm.flight.plan.schedule import nearest_setting
from vlm.flight.trim.passed_limits import passed_limits


def why_not(flyer: MissionFlyer, flight: MissionFlight) -> str:
    """The first leg that cannot be flown, why, and what to change; empty where all can."""
    stuck = next((leg for leg in flight.legs if leg.reason), None)
    if stuck is None:
        return ""
    rule, label = flight.rule, stuck.leg.label
    if not np.isfinite(rule.folds_deg).any():
        none = why_none(rule.table, rule.speeds)
        return f"{label}: no airspeed of the schedule allows any fold; {none}"
    speed = stuck.leg.airspeed_m_s
    if speed is not None and rule.level_fold(speed)[1]:
        nearest = nearest_setting(rule.table, speed)
        if nearest is not None:
            return f"{label}: {remedy(rule.table, nearest)}"
    short = _short(flyer, flight, stuck)
    return f"{label}: {stuck.reason}{f': {short}' if short else ''}"


def _short(flyer: MissionFlyer, flight: MissionFlight, stuck: FlownLeg) -> str:
    """What the first steady state of a leg that is not allowed passes."""
    try:
        for piece in planned_pieces(flight.rule, stuck.leg):
            point, problem = flyer.trim(
                piece.fold_deg, piece.speed, piece.climb_angle, piece.load_factor
            )
            if not point.is_allowed:
                return passed_limits(problem.craft, point)
    except FoldspanError:
        return ""
    return ""

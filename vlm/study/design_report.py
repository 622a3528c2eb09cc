"""What a search of the design says: as one document, and as a geometry file."""

from collections.abc import Mapping
from typing import Any

from vlm.cautions import SHORT_CAUTION
from vlm.description.models import Biplane
from vlm.plain import without_nan
from vlm.study.design_changes import FOLD, FOLLOWS, SearchKey, designed, present_value
from vlm.study.design_goals import GREATEST, UNITS, Worth
from vlm.study.design_study import AT_BOUND, DesignStudy, Side

NEARLY_ZERO = 1e-9
ASSUMED: dict[str, tuple[str, ...]] = {
    "energy": (
        "energy of the mission as in foldspan mission: steady legs, fold by airspeed, within the"
        " constraints of [schedule]",
    ),
    "power": (
        "electrical power of steady, level flight, within the constraints of [schedule]",
    ),
    "span efficiency": (
        "span efficiency of the wings alone, on their own flat span, at one angle of attack; no"
        " constraint of [schedule] is asked",
    ),
    "rolling moment": (
        "rolling moment with the sides folded apart by schedule.roll_reserve_deg about the fold, at"
        " the trim's angle of attack, in the free stream; the constraints of [schedule] hold",
    ),
}  # fmt: skip


def design_document(study: DesignStudy) -> dict[str, Any]:
    """The study as plain values."""
    plan, searched = study.plan, study.searched
    document = {
        "title": study.craft.title,
        "goal": plan.goal.goal,
        "unit": UNITS[plan.goal.goal],
        "sought": "greatest" if plan.goal.goal in GREATEST else "least",
        "airspeed_m_s": plan.goal.airspeed,
        "fold": _fold_words(study),
        "keys": [_key(study, key) for key in plan.keys],
        "present": None if study.present is None else _worth(study.present),
        "best": None if study.best_worth is None else _worth(study.best_worth),
        "better_percent": _better(study, study.present),
        "ends": [] if searched is None else _ends(study),
        "fixed": [_fixed(study, way, found) for way, found in study.fixed.items()],
        "sensitivity": [_side(study, side) for side in study.sides],
        "trade": _trade(study),
        "noise": None if searched is None else searched.noise,
        "worked_out": study.solved,
        "recalled": study.recalled,
        "failures": [{"reason": r, "designs": n} for r, n in study.failures],
        "stopped": study.stopped,
        "follows": list(FOLLOWS),
        "assumed": list(ASSUMED[plan.goal.goal]),
        "caution": SHORT_CAUTION,
    }
    return without_nan(document)  # type: ignore[no-any-return]


def _fold_words(study: DesignStudy) -> str:
    goal = study.plan.goal
    if any(key.name == FOLD for key in study.plan.keys):
        return "held, searched for"
    if goal.fold_deg is not None:
        return f"held at {goal.fold_deg:g} deg"
    if goal.goal in GREATEST or not study.craft.tips:
        return "flat"
    return "along the schedule" if goal.goal == "energy" else "the best at this airspeed"


def _worth(found: Worth) -> dict[str, Any]:
    return {
        "value": found.value,
        "reason": found.reason,
        "active": list(found.active),
        "mass_kg": found.mass_kg,
        "fold_from_deg": found.folds_deg[0],
        "fold_to_deg": found.folds_deg[1],
    }


def _better(study: DesignStudy, other: Worth | None) -> float | None:
    """By how much the best design is better than another, in per cent of the other."""
    if study.best_worth is None or other is None or not abs(other.value) > 0.0:
        return None
    gain = study.plan.goal.sign * (other.value - study.best_worth.value)
    return 100.0 * gain / abs(other.value)


def _key(study: DesignStudy, key: SearchKey) -> dict[str, Any]:
    best = None if study.best is None else study.best[key.name]
    return {
        "key": key.name,
        "low": key.low,
        "high": key.high,
        "present": present_value(study.craft, key.name),
        "best": best,
        "bound": None if best is None else _bound(key, best),
    }


def _bound(key: SearchKey, value: float) -> str | None:
    """The bound at which a value stands; None within."""
    share = key.share(value)
    return "lower" if share < AT_BOUND else "upper" if share > 1.0 - AT_BOUND else None


def _ends(study: DesignStudy) -> list[dict[str, Any]]:
    assert study.searched is not None
    plan = study.plan
    return [
        {
            "start": plan.values(end.start),
            "end": plan.values(end.end),
            "value": plan.goal.sign * end.cost,
            "evaluations": end.evaluations,
            "settled": end.settled,
        }
        for end in study.searched.ends
    ]


def _fixed(study: DesignStudy, way: str, found: Worth) -> dict[str, Any]:
    return {"way": way, **_worth(found), "best_is_better_percent": _better(study, found)}


def _side(study: DesignStudy, side: Side) -> dict[str, Any]:
    assert study.best is not None and study.best_worth is not None
    key, value = study.plan.key(side.key), study.best[side.key]
    by_value = abs(value) > NEARLY_ZERO and side.key != FOLD
    row: dict[str, Any] = {
        "key": side.key,
        "side": "up" if side.step > 0.0 else "down",
        "step": side.step,
        "per": "percent of the key" if by_value else "hundredth of the bounds",
        "goal_percent": None,
        "goal_percent_per": None,
        "reason": "at its bound" if side.worth is None else side.worth.reason,
    }
    if side.worth is None or side.worth.reason:
        return row
    change = 100.0 * (side.worth.value - study.best_worth.value) / abs(study.best_worth.value)
    whole = abs(value) if by_value else key.high - key.low
    return row | {"goal_percent": change, "goal_percent_per": change / (100.0 * side.step / whole)}


def _trade(study: DesignStudy) -> dict[str, Any] | None:
    trade = study.trade
    if trade is None:
        return None
    return {
        "key": trade.key,
        "values": list(trade.values),
        "folding": [_worth(found) for found in trade.folding],
        "open_fixed": [_worth(found) for found in trade.open_fixed],
    }


def best_craft(craft: Biplane, values: Mapping[str, float]) -> Biplane:
    """The best design; a fold that was searched for becomes the setting ``best``."""
    made = designed(craft, values)
    if FOLD not in values:
        return made
    return made.overridden({"configurations.best.fold_deg": values[FOLD]})


def best_text(study: DesignStudy) -> str:
    """TOML of the best design, every change named in front."""
    assert study.best is not None and study.best_worth is not None
    goal = study.plan.goal
    head = [
        f"{study.craft.source_name}, changed by a search for the"
        f" {'greatest' if goal.goal in GREATEST else 'least'} {goal.goal}:"
        f" {study.best_worth.value:.4g} {UNITS[goal.goal]}.",
        *(_change(study, key) for key in study.plan.keys),
        SHORT_CAUTION,
    ]
    comment = "".join(f"# {line}\n" for line in head)
    return f"{comment}\n{best_craft(study.craft, study.best).to_toml()}"


def _change(study: DesignStudy, key: SearchKey) -> str:
    assert study.best is not None
    was = present_value(study.craft, key.name)
    value = study.best[key.name]
    bound = _bound(key, value)
    at = f", at its {bound} bound" if bound else ""
    said = "" if was is None else f", was {was:.5g}"
    return f"{key.name} = {value:.5g}{said} (searched from {key.low:g} to {key.high:g}{at})"

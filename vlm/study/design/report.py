"""What a search of the design says: as one document, and as a geometry file."""

import os
from collections.abc import Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated, Any, TypedDict

from vlm.cautions import SHORT_CAUTION
from vlm.description.editing import edited_toml, says_the_same
from vlm.description.loading import load_biplane_text
from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.plain import Shown, without_nan
from vlm.study.design.around import AT_BOUND, Side
from vlm.study.design.changes import FOLD, FOLLOWS, SearchKey, designed, present_value
from vlm.study.design.goals import HIGHEST, OF_THE_LATTICE, UNITS, Worth
from vlm.study.design.study import DesignStudy
from vlm.study.design.words import answer, better, better_half_width, sure_of
from vlm.study.sensitivity import Sensitivity, SensitivityDocument, sensitivity_document

NEARLY_ZERO = 1e-9
ASSUMED: dict[str, tuple[str, ...]] = {
    "energy": (
        "energy of the mission as in foldspan mission: steady legs, fold by airspeed, within the"
        " constraints of [schedule]",
    ),
    "power": (
        "electrical power of steady, level flight, within the constraints of [schedule]",
    ),
    "induced drag": (
        "induced drag of the wings alone at one airspeed and lift; no constraint of [schedule] is"
        " asked",
    ),
    "span efficiency": (
        "span efficiency of the wings alone at one angle of attack, on the flat span, which no key"
        " may change; no constraint of [schedule] is asked",
    ),
    "rolling moment": (
        "rolling moment with the sides folded apart by schedule.roll_reserve_deg about the fold, at"
        " the trim's angle of attack, in the free stream; the constraints of [schedule] hold",
    ),
}  # fmt: skip


class KeyDocument(TypedDict):
    """A key that was searched, in the unit that ends its name.

    Attributes
    ----------
    low, high : bounds of the search
    present, best : in the file, and found; null where there is none
    bound : "lower" or "upper" where the best stands at a bound, else null
    """

    key: str
    low: float
    high: float
    present: float | None
    best: float | None
    bound: str | None


class WorthDocument(TypedDict):
    """What a design is worth.

    Attributes
    ----------
    value : of the goal, in its unit; null where the design is not allowed
    reason : why it is not; empty where it is
    active : active constraints
    mass_kg : null where the craft cannot be built [kg]
    fold_from_deg, fold_to_deg : lowest and highest fold at which it is flown; null for none [deg]
    rolls_to : side to which it rolls with starboard folded up; empty for other goals
    """

    value: float | None
    reason: str
    active: list[str]
    mass_kg: float | None
    fold_from_deg: float | None
    fold_to_deg: float | None
    rolls_to: str


class FixedDocument(WorthDocument):
    """The best design, held at one fold without the mechanism."""

    way: str
    best_is_better_percent: float | None


class EndDocument(TypedDict):
    """Where one start of the search ended; keys by name, the goal in its unit."""

    start: dict[str, float]
    end: dict[str, float]
    value: float | None
    evaluations: int
    converged: bool


class SideDocument(TypedDict):
    """What a step of one key changes of the best design's goal.

    Attributes
    ----------
    side : "up" or "down"
    goal_percent, goal_percent_per : change, and change for each ``per``; null with a reason [%]
    reason : why there is none; empty where there is
    """

    key: str
    side: str
    step: float
    per: str
    goal_percent: float | None
    goal_percent_per: float | None
    reason: str


class TradeDocument(TypedDict):
    """The goal over one key: along the best folds, and open and fixed."""

    key: str
    values: list[float]
    folding: list[WorthDocument]
    open_fixed: list[WorthDocument]


class FailureDocument(TypedDict):
    """Designs that have no value, by reason."""

    reason: str
    designs: int


class DesignDocument(TypedDict):
    """Dimensions searched for the best of a goal.

    Attributes
    ----------
    unit : of the goal
    sought : "highest" or "lowest"
    airspeed_m_s, lift_N : of the goal, where it has them
    answer : the decision in sentences
    present, best : the craft of the file, and the best design
    better_percent, better_half_width_percent : by which the best is better than that of the file,
        and the half-width of the lattice in it; null where that is not known [%]
    fixed : the best design without the mechanism, by the fold it is held at
    noise : of the goal, in its unit
    worked_out, recalled : designs computed, and taken from a search that was stopped
    stopped : whether the search was stopped
    follows : what follows the keys
    """

    title: str
    goal: str
    unit: str
    sought: str
    airspeed_m_s: float | None
    lift_N: float | None
    fold: str
    answer: list[str]
    findings: list[Annotated[dict[str, Any], Shown(Finding)]]
    keys: list[KeyDocument]
    present: WorthDocument | None
    best: WorthDocument | None
    better_percent: float | None
    better_half_width_percent: float | None
    ends: list[EndDocument]
    fixed: list[FixedDocument]
    sensitivity: list[SideDocument]
    uncertain_inputs: SensitivityDocument | None
    trade: TradeDocument | None
    noise: float | None
    worked_out: int
    recalled: int
    failures: list[FailureDocument]
    stopped: bool
    follows: list[str]
    assumed: list[str]
    caution: str


def design_document(study: DesignStudy, sensitivity: Sensitivity | None = None) -> DesignDocument:
    """The study as plain values.

    Parameters
    ----------
    sensitivity : what the uncertain inputs do to the goal, where that was asked for
    """
    plan, searched = study.plan, study.searched
    document: DesignDocument = {
        "title": study.craft.title,
        "goal": plan.goal.goal,
        "unit": UNITS[plan.goal.goal],
        "sought": "highest" if plan.goal.goal in HIGHEST else "lowest",
        "airspeed_m_s": plan.goal.airspeed,
        "lift_N": plan.goal.lift_N,
        "fold": _fold_words(study),
        "answer": [*answer(study), *sure_of(sensitivity)],
        "findings": [asdict(finding) for finding in design_findings(study)],
        "keys": [_key(study, key) for key in plan.keys],
        "present": None if study.present is None else _worth(study.present),
        "best": None if study.best_worth is None else _worth(study.best_worth),
        "better_percent": better(study, study.present),
        "better_half_width_percent": better_half_width(study),
        "ends": [] if searched is None else _ends(study),
        "fixed": [_fixed(study, way, found) for way, found in study.fixed.items()],
        "sensitivity": [_side(study, side) for side in study.sides],
        "uncertain_inputs": sensitivity_document(sensitivity),
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
    return without_nan(document)


def design_findings(study: DesignStudy) -> list[Finding]:
    """What a user must know before the best design is built."""
    found = []
    for key in study.plan.keys:
        if study.best is not None and _bound(key, study.best[key.name]) is not None:
            value = study.best[key.name]
            what = f"the best {key.name} stands at the {_bound(key, value)} bound of the search"
            remedy = "widen it if a craft can be built beyond"
            found.append(Finding("at_bound", what, value, None, "1", "--key", remedy))
    if study.searched is not None and not all(end.converged for end in study.searched.ends):
        count = sum(not end.converged for end in study.searched.ends)
        what = "starts that ran out of designs before they converged"
        found.append(Finding("not_converged", what, count, None, "1", "--most", "raise --most"))
    found += study.lost
    if study.best_worth is not None:
        found += study.best_worth.findings
    return found


def _fold_words(study: DesignStudy) -> str:
    goal = study.plan.goal
    if any(key.name == FOLD for key in study.plan.keys):
        return "held at a fold that is searched for"
    if goal.fold_deg is not None:
        return f"held at {goal.fold_deg:g} deg"
    if goal.goal in (*HIGHEST, *OF_THE_LATTICE) or not study.craft.tips:
        return "flat"
    return "along the schedule" if goal.goal == "energy" else "at the best fold of this airspeed"


def _worth(found: Worth) -> WorthDocument:
    return {
        "value": found.value,
        "reason": found.reason,
        "active": list(found.active),
        "mass_kg": found.mass_kg,
        "fold_from_deg": found.folds_deg[0],
        "fold_to_deg": found.folds_deg[1],
        "rolls_to": found.rolls_to,
    }


def _key(study: DesignStudy, key: SearchKey) -> KeyDocument:
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


def _ends(study: DesignStudy) -> list[EndDocument]:
    assert study.searched is not None
    plan = study.plan
    return [
        {
            "start": plan.values(end.start),
            "end": plan.values(end.end),
            "value": plan.goal.sign * end.cost,
            "evaluations": end.evaluations,
            "converged": end.converged,
        }
        for end in study.searched.ends
    ]


def _fixed(study: DesignStudy, way: str, found: Worth) -> FixedDocument:
    return {"way": way, **_worth(found), "best_is_better_percent": better(study, found)}


def _side(study: DesignStudy, side: Side) -> SideDocument:
    assert study.best is not None and study.best_worth is not None
    key, value = study.plan.key(side.key), study.best[side.key]
    by_value = abs(value) > NEARLY_ZERO and side.key != FOLD
    row: SideDocument = {
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
    per = change / (100.0 * side.step / whole)
    return {**row, "goal_percent": change, "goal_percent_per": per}


def _trade(study: DesignStudy) -> TradeDocument | None:
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


def best_text(study: DesignStudy, out: Path | None = None) -> str:
    """TOML of the best design, every change named in front.

    Parameters
    ----------
    out : where it will stand; paths of tables are written so that they lead from there to the same
        files. None keeps them as they are
    """
    assert study.best is not None and study.best_worth is not None
    goal = study.plan.goal
    head = [
        f"{Path(study.craft.source_name).name}, changed by a search for the"
        f" {'highest' if goal.goal in HIGHEST else 'lowest'} {goal.goal}:"
        f" {study.best_worth.value:.4g} {UNITS[goal.goal]}.",
        *(_change(study, key) for key in study.plan.keys),
        SHORT_CAUTION,
    ]
    comment = "".join(f"# {line}\n" for line in head)
    made = best_craft(study.craft, study.best)
    if out is not None:
        there = replace(made.source, folder=out.resolve().parent)
        made = made.from_source(there).overridden(_moved_paths(made, out))
    return f"{comment}\n{_kept_text(study.craft, made)}"


def _kept_text(craft: Biplane, made: Biplane) -> str:
    """The craft's own file with what differs changed in place; canonical where it has no file."""
    source = craft.source
    if not source.text:
        return made.to_toml()
    was = load_biplane_text(source.text, source.name, folder=source.folder)
    text = edited_toml(source.text, was, made)
    return text if says_the_same(text, made) else made.to_toml()


def _moved_paths(craft: Biplane, out: Path) -> dict[str, object]:
    """Relative paths of CSV files that the craft names, as seen from another file's folder."""
    folder = craft.folder or Path()
    changes: dict[str, object] = {}

    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                walk(inner, f"{path}.{key}" if path else key)
        elif isinstance(value, list | tuple):
            for index, inner in enumerate(value):
                walk(inner, f"{path}.{index}")
        elif _names_a_table(value, folder):
            moved = os.path.relpath((folder / value).resolve(), out.resolve().parent)
            changes[path] = Path(moved).as_posix()

    walk(craft.model_dump(exclude_none=True), "")
    return changes


def _names_a_table(value: object, folder: Path) -> bool:
    """Whether a value is the relative path of a CSV file."""
    if not isinstance(value, str):
        return False
    if not value.lower().endswith((".csv", ".dat", ".txt")):
        return "/" in value and not Path(value).is_absolute() and (folder / value).is_dir()
    return not Path(value).is_absolute() and (folder / value).is_file()


def _change(study: DesignStudy, key: SearchKey) -> str:
    assert study.best is not None
    was = present_value(study.craft, key.name)
    value = study.best[key.name]
    bound = _bound(key, value)
    at = f", at its {bound} bound" if bound else ""
    said = "" if was is None else f", was {was:.5g}"
    return f"{key.name} = {value:.5g}{said} (searched from {key.low:g} to {key.high:g}{at})"

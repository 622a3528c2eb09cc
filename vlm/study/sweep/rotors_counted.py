"""Numbers of stability of a sweep with the rotors counted, and which signs that may turn.

The sweep's own numbers are those of wings and fins. Beside static margin, Cl_beta and Cn_beta
stand those of the craft with rotors that turn without thrust, whose part no fold changes.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.craft.rotor_slopes import NO_SLOPES, idle_slopes, slopes_over, with_rotors
from vlm.lattice.cellule import build_cellule
from vlm.plain import spans
from vlm.study.point.rotors_across import ALONE, CODE, REMEDY, SOURCE, WORDS, may_turn, not_so_far
from vlm.study.sweep.naming import COUNTED, printed_width
from vlm.study.sweep.plan import Case, SweepPlan
from vlm.study.sweep.running import Results

MOST_ANGLES, DEGREES = 3, " deg"
"""Sets of folds that a warning names, each with its angles of attack; their unit."""


def with_rotors_counted(craft: Biplane, plan: SweepPlan, results: Results) -> Results:
    """The results with numbers of stability of the craft with its rotors, where it has any.

    ``NAME_with_rotors`` with its ``_error`` (the lattice's) and its ``_spread`` (what the model
    leaves open, half of the rotors' side force included); NaN where the rotors' model does not
    reach so far.
    """
    if not craft.rotors:
        return results
    kept: dict[tuple[tuple[str, float], ...], Mapping[str, tuple[Floats, Floats]]] = {}
    found = {}
    for case in plan.cases():
        values = results[case.place]
        if "failure" not in values:
            if case.changes not in kept:
                kept[case.changes] = _rotors(craft, plan, case)
            values = values | _counted(values, kept[case.changes])
        found[case.place] = values
    return found


def _rotors(craft: Biplane, plan: SweepPlan, case: Case) -> Mapping[str, tuple[Floats, Floats]]:
    """What the rotors of a case add, arrays over its angles of attack, shape (alpha, 1)."""
    changed = craft.overridden(dict(case.changes)) if case.changes else craft
    reference = build_cellule(changed, plan.grid).reference
    each = [
        idle_slopes(changed, reference, float(alpha), plan.airspeed, plan.density)
        for alpha in np.radians(plan.alphas_deg)
    ]
    tables = {name: slopes_over(each, name) for name in NO_SLOPES}
    return {name: (table[:, :1], table[:, 1:]) for name, table in tables.items()}


def _counted(
    values: Mapping[str, Any], rotors: Mapping[str, tuple[Floats, Floats]]
) -> dict[str, Any]:
    found = {}
    slopes: Any = rotors
    added: Any = with_rotors(values, slopes)
    for name, (value, wide) in added.items():
        both = f"{name}{COUNTED}"
        found[both] = value
        if f"{name}_error" in values:
            found[f"{both}_error"] = values[f"{name}_error"]
            found[f"{both}_spread"] = wide + values.get(f"{name}_spread", 0.0)
    return found


def turned(chosen: Any, name: str) -> Any:
    """Where the sign of a number of a sweep may be turned by rotors, an array of its shape.

    Nowhere for other numbers, for a craft without rotors and without errors.

    Parameters
    ----------
    chosen : a dataset of a sweep, or a part of one
    """
    both = f"{name}{COUNTED}"
    if both not in chosen or f"{both}_error" not in chosen:
        return np.zeros(chosen[name].shape, dtype=bool)
    return np.vectorize(may_turn, otypes=[bool])(
        chosen[name].values, printed_width(chosen, name),
        chosen[both].values, printed_width(chosen, both),
    )  # fmt: skip


def rotor_findings(dataset: Any) -> list[Finding]:
    """Warnings of numbers whose sign rotors may turn, with the folds and angles of attack."""
    found = []
    for name, (words, unit, _, _) in WORDS.items():
        where = turned(dataset, name) if name in dataset else np.zeros(0, dtype=bool)
        if not where.any():
            continue
        if not np.isfinite(dataset[f"{name}{COUNTED}"]).any():
            return [not_so_far()]
        places = _places(dataset, name, where)
        found.append(Finding(
            f"{CODE}: {name}, folds", f"the sign of {words} is that of {ALONE}; with rotors"
            f" that turn without thrust it is another, or not known, {places}",
            None, None, unit, SOURCE, REMEDY, cases=int(where.sum()),
        ))  # fmt: skip
    return found


def _places(dataset: Any, name: str, where: Any) -> str:
    """Folds, and angles of attack where these are several."""
    if dataset["failure"].dims != ("fold",):
        return f"at some settings, {name}{COUNTED} says which"
    folds, alphas = (dataset[axis].values.tolist() for axis in ("fold", "alpha"))
    groups: dict[tuple[float, ...], list[float]] = {}
    for i, alpha in enumerate(alphas):
        own = tuple(
            fold for fold, there in zip(folds, where[:, i].any(axis=-1), strict=True) if there
        )
        if own:
            groups.setdefault(own, []).append(alpha)
    if len(groups) > MOST_ANGLES:
        return f"at some folds, {name}{COUNTED} says which"
    said = []
    for own, at in groups.items():
        text = "all folds" if len(own) == len(folds) else f"fold {spans(own, folds, DEGREES)}"
        said.append(
            text if at == alphas else f"{text} ({spans(at, alphas, DEGREES)} angle of attack)"
        )
    return f"at {', '.join(said)}"

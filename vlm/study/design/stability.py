"""What no goal asks for: whether the best design is less stable than the craft as in the file."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding
from vlm.flight.craft.drag_bodies import DragBodies
from vlm.flight.craft.rotor_slopes import NO_SLOPES, idle_slopes, with_rotors
from vlm.loads.state import FlightState
from vlm.plain import plus_minus
from vlm.study.point.point import solve_point
from vlm.verdicts import known_sign, verdict


@dataclass(frozen=True)
class _Kind:
    """A number whose sign is a verdict: its words, its unit, and the sign that is stable."""

    words: str
    name: str
    unit: str
    stable: int


KINDS = {
    "static_margin": _Kind("in pitch", "static margin", "chords", 1),
    "Cl_beta": _Kind("in its dihedral effect", "Cl_beta", "1/rad", -1),
    "Cn_beta": _Kind("as a weathercock", "Cn_beta", "1/rad", 1),
}
Known = Mapping[str, tuple[float, float]]
"""Values with their half-widths, by name."""


def stability_lost(
    present: Biplane, best: Biplane, folds_deg: tuple[float, float], alpha_deg: float
) -> tuple[Finding, ...]:
    """Warnings where the best design is not stable, and less so than the file's craft.

    Of wings and fins, the side force of drag areas and of rotors without thrust, about the centre
    of gravity with flat tips, on the default lattice; none for craft without masses.

    Parameters
    ----------
    folds_deg : at which the file's craft and the best design are flown [deg]
    """
    if present.mass is None or best.mass is None:
        return ()
    try:
        before, after = (
            _stability(craft, fold, alpha_deg)
            for craft, fold in zip((present, best), folds_deg, strict=True)
        )
    except FoldspanError:
        return ()
    return tuple(
        _finding(kind, before[name], after[name], folds_deg, alpha_deg)
        for name, kind in KINDS.items()
        if not (name == "Cl_beta" and _wants_it_unstable(best))
        and _is_lost(kind.stable, before[name], after[name])
    )


def _wants_it_unstable(craft: Biplane) -> bool:
    """Whether the file asks for an unstable dihedral effect."""
    return craft.schedule is not None and craft.schedule.dihedral_effect == "unstable"


def _stability(craft: Biplane, fold_deg: float, alpha_deg: float) -> Known:
    reference = craft.reference.model_copy(update={"moment_point_m": None})
    balanced = craft.model_copy(update={"reference": reference})
    state = FlightState(alpha=float(np.radians(alpha_deg)))
    report = solve_point(balanced, FoldAngles.symmetric(fold_deg), state)
    frame, bodies = report.loads.reference, DragBodies.of(balanced)
    dragged = bodies.lateral_slopes(frame.moment_point, frame, float(state.alpha))
    at = float(state.alpha), float(state.airspeed), float(state.density)
    rotors = idle_slopes(balanced, frame, *at) or NO_SLOPES
    found = with_rotors(report.derivatives["body"], rotors)
    return {
        name: (found[name][0] + dragged.get(name, 0.0), report.half_widths[name] + found[name][1])
        for name in KINDS
    }


def _is_lost(stable: int, before: tuple[float, float], after: tuple[float, float]) -> bool:
    """Whether a number is not known to be stable, and was, or was more so beyond both ±."""
    signs = [known_sign(stable * value, width) for value, width in (before, after)]
    if signs[1] == 1:
        return False
    falls = stable * (before[0] - after[0]) > before[1] + after[1]
    return falls or signs[0] == 1 or (signs[0] is None and signs[1] == -1)


def _finding(
    kind: _Kind,
    before: tuple[float, float],
    after: tuple[float, float],
    folds_deg: tuple[float, float],
    alpha_deg: float,
) -> Finding:
    was, now = (
        verdict(kind.stable * value, width, "stable", "unstable", "neutral")
        for value, width in (before, after)
    )
    there = plus_minus(*before, kind.unit)
    return Finding(
        "stability_lost",
        f"the best design is less stable {kind.words} than as in the file ({was}, {there});"
        f" {kind.name}, {now}",
        after[0],
        None,
        kind.unit,
        f"wings, fins, drag areas and rotors at {alpha_deg:g} deg, fold {folds_deg[1]:.3g} deg,"
        f" in the file {folds_deg[0]:.3g} deg",
        "the goal does not ask for it; narrow the bounds of the keys, and look at lateral",
        half_width=after[1],
    )

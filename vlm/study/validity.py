"""Doubts about a flight state: where the model behind the numbers ends."""

import numpy as np

from vlm.air import standard_air
from vlm.description.ranges import range_finding
from vlm.findings import Finding
from vlm.lattice.cellule import Cellule
from vlm.loads.state import FlightState

ATTACHED_LIMIT_DEG = 12.0
SIDESLIP_LIMIT_DEG = 10.0
RATE_LIMIT = 0.1
MACH_LIMIT = 0.3
LEAST_ASPECT, GREATEST_ASPECT = 0.25, 40.0
LEAST_GAP = 0.25


def craft_doubts(cellule: Cellule) -> list[Finding]:
    """Wings and gaps beyond those that published values were met with (docs, validation)."""
    found = []
    for name, half in cellule.halves.items():
        ratio = (2.0 * half.half_span) ** 2 / (2.0 * half.area)
        if not LEAST_ASPECT <= ratio <= GREATEST_ASPECT:
            limit = LEAST_ASPECT if ratio < LEAST_ASPECT else GREATEST_ASPECT
            found.append(
                Finding(
                    "aspect_ratio",
                    f"aspect ratio of the {name} wing beyond what was validated",
                    ratio,
                    limit,
                    "1",
                    "docs, validation",
                    "check against another source",
                )
            )
    if len(cellule.halves) == 2:
        roots = [half.leading_edge[0, 2] for half in cellule.halves.values()]
        gap = abs(float(roots[0] - roots[1])) / cellule.reference.chord
        if gap < LEAST_GAP:
            found.append(
                Finding(
                    "gap",
                    "gap over chord below what was validated",
                    gap,
                    LEAST_GAP,
                    "1",
                    "docs, validation",
                    "check against another source",
                )
            )
    return found


def state_doubts(state: FlightState) -> list[Finding]:
    """Angles, rates and speeds beyond what linear, incompressible flow describes."""
    worst_alpha = float(np.degrees(np.max(np.abs(state.alpha))))
    worst_beta = float(np.degrees(np.max(np.abs(state.beta))))
    rates = [float(np.max(np.abs(r))) for r in (state.p_hat, state.q_hat, state.r_hat)]
    mach = float(np.max(state.airspeed)) / standard_air(0.0).speed_of_sound_m_s
    checks = [
        ("angle_of_attack", "angle of attack beyond attached flow", worst_alpha,
         ATTACHED_LIMIT_DEG, "deg", "the lattice knows no stall: use sections for stall"),
        ("sideslip", "sideslip beyond small angles", worst_beta, SIDESLIP_LIMIT_DEG, "deg",
         "the wake is held at a stated angle beyond 12 degrees: ask for less"),
        ("rate", "rate beyond quasi-steady flow", max(rates), RATE_LIMIT, "1",
         "ask for a smaller rate"),
        ("mach", "airspeed beyond incompressible flow", mach, MACH_LIMIT, "Mach",
         "the result leaves compressibility out"),
    ]  # fmt: skip
    air = [
        range_finding("airspeed", float(np.min(state.airspeed))),
        range_finding("airspeed", float(np.max(state.airspeed))),
        range_finding("density", float(np.min(state.density))),
        range_finding("density", float(np.max(state.density))),
    ]
    beyond = list(dict.fromkeys(finding for finding in air if finding is not None))
    return beyond + [
        Finding(code, what, value, limit, unit, "common practice", cure)
        for code, what, value, limit, unit, cure in checks
        if value > limit
    ]

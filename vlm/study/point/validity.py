"""Warnings about a craft, a flight state and its results: where the numbers are not to be had."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from vlm.air import standard_air
from vlm.description.ranges import range_finding
from vlm.findings import Finding
from vlm.flow.direction import CRAFT_AXIS, wake_direction
from vlm.flow.onset import onset_velocities
from vlm.frames import cross
from vlm.lattice.cellule import Cellule
from vlm.lattice.lattice import Lattice
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.craft_loads import Loads
from vlm.loads.state import FlightState, WakeKind

ATTACHED_LIMIT_DEG = 12.0
SIDESLIP_LIMIT_DEG = 10.0
RATE_LIMIT = 0.1
MACH_LIMIT = 0.3
LEAST_ASPECT, GREATEST_ASPECT = 0.25, 40.0
LEAST_GAP = 0.25
STRIP_ANGLE_DEG = 16.0
"""Common practice: sections of electric craft stall at 12 to 16 degrees."""
CONDITION_LIMIT = 20.0
"""Measured: up to 4 on lattices that converge, 8 with slits and 12 with pointed ends; 25 where a
tip is folded back to 175 degrees."""
NEGATIVE_DRAG = -1e-6
WIDEST_SHARE = 0.1
"""Half-width over value from which a number is no basis for a decision."""
ONE_DEGREE = float(np.radians(1.0))
FLARED_STEP = 0.1
"""Step of incidence at a hinge beyond which its error outlasts finer lattices [1]."""
REFINE = "take more strips and rows (converge), or decide nothing by this number"
LESS_FLARE = (
    "fold less, or give the hinge less flare: the error at a folded flared hinge does not fall with"
    " more strips and rows; decide nothing by this number"
)
SHARED_WIDTHS = ("CL", "CDi", "CL_alpha", "Cl_p")
"""Numbers whose half-widths are held against their values; others may vanish in sound cases."""


def craft_warnings(cellule: Cellule) -> list[Finding]:
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


def state_warnings(state: FlightState) -> list[Finding]:
    """Angles, rates and speeds beyond what linear, incompressible flow describes."""
    worst_alpha = float(np.degrees(np.max(np.abs(state.alpha))))
    worst_beta = float(np.degrees(np.max(np.abs(state.beta))))
    rates = [float(np.max(np.abs(r))) for r in (state.p_hat, state.q_hat, state.r_hat)]
    mach = float(np.max(state.airspeed)) / standard_air(0.0).speed_of_sound_m_s
    checks = [
        ("angle_of_attack", "angle of attack beyond attached flow", worst_alpha,
         ATTACHED_LIMIT_DEG, "deg",
         "the lattice knows no stall; go by the stall margin that sections of the file give"),
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
        Finding(code, what, value, limit, unit, "common practice", remedy)
        for code, what, value, limit, unit, remedy in checks
        if value > limit
    ]


def setting_findings(lattice: Lattice, state: FlightState, wake: WakeKind) -> list[Finding]:
    """Warnings about one fold setting in some states that need no solve."""
    if wake == "craft":
        wakes = CRAFT_AXIS[None]
    else:
        alpha, beta = np.broadcast_arrays(state.alpha, state.beta)
        angles = np.unique(np.stack([alpha.ravel(), beta.ravel()], axis=1), axis=0)
        wakes = np.array([wake_direction(a, b) for a, b in angles])
    return lattice_warnings(lattice, wakes) + _strip_angle(lattice, state)


def _strip_angle(lattice: Lattice, state: FlightState) -> list[Finding]:
    """The largest angle between the air and a strip's chord, rates included."""
    amounts = state.amounts(lattice.reference, 6 + len(lattice.bodies)).reshape(
        -1, 6 + len(lattice.bodies)
    )
    worst = 0.0
    for patch in lattice.patches:
        places = patch.trailing_stations()
        flows = onset_velocities(lattice, patch, places)
        air = np.einsum("mcq,sq->smc", flows, amounts)
        aft = places - patch.bound_points()[0]
        aft /= np.linalg.norm(aft, axis=1, keepdims=True)
        up = cross(aft, patch.sense * np.diff(patch.nodes[0], axis=0))
        up /= np.linalg.norm(up, axis=1, keepdims=True)
        angle = np.arctan2(np.sum(air * up, axis=-1), np.sum(air * aft, axis=-1))
        worst = max(worst, float(np.degrees(np.abs(angle).max())))
    if worst <= STRIP_ANGLE_DEG:
        return []
    return [Finding(
        "strip_angle", "angle of the air to a strip's chord beyond attached flow", worst,
        STRIP_ANGLE_DEG, "deg", "common practice",
        "the lattice knows no stall: less incidence, washout, fold or rate, or use sections",
    )]  # fmt: skip


def condition_findings(loads: Loads) -> list[Finding]:
    """A condition number beyond that of lattices of such panels.

    A condition number grows with the strips and with how much the panels differ in size; both are
    divided out.
    """
    share = loads.condition / (_panel_range(loads.lattice) * loads.lattice.grid.strips)
    if not share > CONDITION_LIMIT:
        return []
    return [Finding(
        "condition", "condition number over strips and range of panel sizes", share,
        CONDITION_LIMIT, "1", "measured: at most 12 on lattices that converge",
        "surfaces nearly touch, or a tip lies over its own wing: change fold, gap or strips",
    )]  # fmt: skip


def _panel_range(lattice: Lattice) -> float:
    """Largest over least of 1/width + 1/length of all panels [1]."""
    sizes = []
    for patch in lattice.patches:
        width = np.linalg.norm(np.diff(patch.nodes, axis=1), axis=-1)
        length = np.linalg.norm(np.diff(patch.nodes, axis=0), axis=-1)
        across = 0.5 * (width[1:] + width[:-1])
        along = 0.5 * (length[:, 1:] + length[:, :-1])
        sizes.append((1.0 / across + 1.0 / along).ravel())
    every = np.concatenate(sizes)
    return float(every.max() / every.min())


def value_findings(
    values: Mapping[str, Any], widths: Mapping[str, Any], aspect_ratio: float, step: float
) -> list[Finding]:
    """Negative induced drag, and half-widths that leave a number open.

    Parameters
    ----------
    values : numbers or arrays of one shape by name
    widths : half-widths, error of the lattice and spread of the model together, by name; may be
        empty
    aspect_ratio : of the reference area and span [1]
    step : of incidence at a flared hinge that is folded, whose error no finer lattice mends [1]
    """
    found = []
    drag = float(np.min(values["CDi"]))
    if drag < NEGATIVE_DRAG:
        found.append(Finding(
            "negative_drag", "negative induced drag", drag, None, "1",
            "it is the energy left in the wake (Munk 1921, from memory)",
            "the lattice does not stand for the flow: trust no number of this setting",
        ))  # fmt: skip
    lift = np.abs(values["CL_alpha"]) * ONE_DEGREE
    # Lift and drag may vanish in sound cases: they count at least as one degree of attack gives.
    least = {"CL": lift, "CDi": lift**2 / (np.pi * aspect_ratio)}
    for name in SHARED_WIDTHS:
        if name not in widths:
            continue
        size = np.maximum(np.abs(values[name]), least.get(name, 0.0))
        share = np.asarray(widths[name]) / np.where(size > 0.0, size, np.inf)
        if np.isnan(share).all() or np.nanmax(share) <= WIDEST_SHARE:
            continue
        found.append(Finding(
            f"half_width: {name}", f"the half-width of {name} is a large share of it",
            float(np.nanmax(share)), WIDEST_SHARE, "1", "common practice",
            REFINE if step <= FLARED_STEP else LESS_FLARE,
        ))  # fmt: skip
    return found

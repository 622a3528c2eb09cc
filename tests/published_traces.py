"""Quantities of the wake's trace in the far-field plane, with loads put on it by hand."""

import numpy as np
from published_cases import Solved, Table, quantity


def shaped_loading(found: Solved, law: str, wing: str) -> np.ndarray:
    """Circulation of a law of the lateral place on one wing, zero on the other."""
    own = found.strips_on(wing)
    half = found.cellule.halves[wing].half_span
    eta = np.where(own, np.abs(found.trace_points[:, 1]) / half, 1.0)
    power = {"elliptic": 0.5, "bell": 1.5}[law]
    return np.where(own, np.clip(1.0 - eta**2, 0.0, None) ** power, 0.0)


def lift_of(found: Solved, circulation: np.ndarray) -> float:
    """Lift of a loading, unit density and speed."""
    return float(found.trace.across[:, 2] @ circulation)


def drag_of(found: Solved, one: np.ndarray, two: np.ndarray | None = None) -> float:
    """Drag of a loading in its own wake, or in another's; unit density and speed."""
    return float(one @ found.trace.matrix @ (one if two is None else two))


def best_loading(found: Solved) -> np.ndarray:
    """Circulation of least drag for unit lift, from the trace's matrix."""
    matrix = 0.5 * (found.trace.matrix + found.trace.matrix.T)
    share = found.trace.across[:, 2]
    best = np.linalg.lstsq(matrix, share, rcond=1e-9)[0]
    return np.asarray(best / (share @ best))


@quantity
def loaded_efficiency(found: Solved, told: Table) -> float:
    """Span efficiency of a loading law on every wing, equal circulation at the centre."""
    total = sum(shaped_loading(found, told["law"], wing) for wing in found.cellule.halves)
    span = found.lattice.reference.span
    return 2.0 * lift_of(found, total) ** 2 / (np.pi * span**2 * drag_of(found, total))


@quantity
def mutual_drag(found: Solved, told: Table) -> float:
    """Prandtl's sigma of two elliptic loadings: mutual drag x pi q b1 b2 / (L1 L2)."""
    upper, lower = (shaped_loading(found, "elliptic", wing) for wing in ("upper", "lower"))
    spans = [2.0 * half.half_span for half in found.cellule.halves.values()]
    mutual = 0.5 * (drag_of(found, upper, lower) + drag_of(found, lower, upper))
    lifts = lift_of(found, upper) * lift_of(found, lower)
    return 0.5 * np.pi * spans[0] * spans[1] * mutual / lifts


@quantity
def mutual_drag_lopsidedness(found: Solved, told: Table) -> float:
    """(D12 - D21) / (D12 + D21) of two elliptic loadings."""
    upper, lower = (shaped_loading(found, "elliptic", wing) for wing in ("upper", "lower"))
    one, two = drag_of(found, upper, lower), drag_of(found, lower, upper)
    return (one - two) / (one + two)


@quantity
def stiffened_drag(found: Solved, told: Table) -> float:
    """Least drag at equal lift and root bending moment when the span is ``growth`` times larger.

    Over the drag of the elliptic wing of the first span.
    """
    share, points = found.trace.across[:, 2], found.trace_points
    half = 0.5 * found.lattice.reference.span
    bending = share * np.abs(points[:, 1])
    matrix = 0.5 * (found.trace.matrix + found.trace.matrix.T)
    # Lift 1, bending that of the elliptic loading on the shorter span: 4/(3 pi) of its half span.
    arm = 4.0 / (3.0 * np.pi) * half / float(told["growth"])
    size = len(share)
    system = np.zeros((size + 2, size + 2))
    system[:size, :size] = 2.0 * matrix
    system[:size, size:] = np.column_stack([share, bending])
    system[size:, :size] = system[:size, size:].T
    right = np.concatenate([np.zeros(size), [1.0, arm]])
    gamma = np.linalg.solve(system, right)[:size]
    elliptic = 2.0 / (np.pi * (2.0 * half / float(told["growth"])) ** 2)
    return drag_of(found, gamma) / elliptic


@quantity
def best_share_difference(found: Solved, told: Table) -> float:
    """Relative difference of the two wings' lift over drag in the loading of least drag."""
    best, washed = best_loading(found), found.trace.matrix @ best_loading(found)
    ratios = []
    for wing in ("upper", "lower"):
        own = found.strips_on(wing)
        drag = float(best[own] @ washed[own])
        ratios.append(float(found.trace.across[own, 2] @ best[own]) / drag)
    return ratios[0] / ratios[1] - 1.0


@quantity
def loop_drag(found: Solved, told: Table) -> float:
    """Change of the least drag when a constant circulation shifts ``shift`` of the lift.

    The loop runs outward on the upper wing and back on the lower; joined tips carry it across.
    Returned over the least drag.
    """
    best = best_loading(found)
    across = found.trace.across
    loop = np.array([loop_sense(found, i) for i in range(len(best))])
    upper_lift = float(across[found.strips_on("upper"), 2] @ loop[found.strips_on("upper")])
    shifted = best + loop * float(told["shift"]) / upper_lift
    return drag_of(found, shifted) / drag_of(found, best) - 1.0


def loop_sense(found: Solved, strip: int) -> float:
    """+1 where a strip of the upper wing or its tips lies, -1 on the lower wing."""
    return 1.0 if found.strips_on("upper")[strip] else -1.0

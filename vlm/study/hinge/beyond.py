"""What passes a limit that the file states of its hinges and wings, or may."""

from collections.abc import Sequence

from vlm.description.actuator import Actuator
from vlm.findings import Finding, gathered
from vlm.study.hinge.results import MomentRow, MoveRow, WingRow
from vlm.verdicts import known_sign


def passed_limits(
    actuator: Actuator,
    rows: Sequence[MomentRow],
    wings: Sequence[WingRow],
    moved: Sequence[MoveRow],
) -> tuple[Finding, ...]:
    """Moments beyond the limits of the file, or perhaps, as far as they are known."""
    hinge, root = actuator.hinge_moment_limit_N_m, actuator.root_bending_limit_N_m
    return tuple(gathered([*_hinges(rows, hinge), *_roots(wings, root), *_shocks(moved, hinge)]))


def _hinges(rows: Sequence[MomentRow], limit: float | None) -> list[Finding]:
    """The moment about a hinge that reaches farthest with its ±; one that surely passes first."""
    if limit is None:
        return []
    each = [(row, hinge) for row in rows for hinge in (row.hinges or {}).values()]
    beyond = [pair for pair in each if pair[1].reach_N_m > limit]
    if not beyond:
        return []
    sure = [pair for pair in beyond if _is_sure(pair[1].least_N_m, limit)]
    worst, hinge = max(sure or beyond, key=lambda pair: pair[1].reach_N_m)
    return [
        Finding(
            "hinge_limit",
            f"the moment about a hinge {'passes' if sure else 'may pass'} its limit at"
            f" {worst.fold_deg:g} deg and {worst.airspeed_m_s:g} m/s",
            abs(hinge.worst_N_m),
            limit,
            "N m",
            "hinge_moment_limit_N_m",
            "fly slower, with a smaller load factor or roll rate, or take a stronger hinge",
            half_width=hinge.half_width_N_m,
        )
    ]


def _is_sure(least: float | None, limit: float) -> bool:
    """Whether what a moment is at least passes a limit; not where that is not known."""
    return least is not None and least > limit


def _roots(wings: Sequence[WingRow], limit: float | None) -> list[Finding]:
    """The wing whose root may bend most, where that passes the limit; surely first."""
    if limit is None:
        return []
    halves = [(row, half) for row in wings if (half := row.most_bent) is not None]
    beyond = [pair for pair in halves if pair[1].root_bending_reach_N_m > limit]
    if not beyond:
        return []
    sure = [pair for pair in beyond if _is_sure(pair[1].root_bending_least_N_m, limit)]
    worst, half = max(sure or beyond, key=lambda pair: pair[1].root_bending_reach_N_m)
    bending, width = abs(half.root_bending_N_m), half.root_bending_half_width_N_m
    speed = "" if worst.airspeed_m_s is None else f", {worst.airspeed_m_s:g} m/s"
    reached = worst.reached_load_factor or worst.load_factor
    return [
        Finding(
            "root_limit",
            f"the bending moment at a wing's root {'passes' if sure else 'may pass'} its limit at"
            f" {worst.fold_deg:g} deg{speed} and load factor {reached:.3g}"
            f"{', ± not known' if width is None else ''}",
            bending,
            limit,
            "N m",
            "root_bending_limit_N_m",
            "fly with a smaller load factor, or take a stronger wing",
            half_width=width,
        )
    ]


def _shocks(moved: Sequence[MoveRow], limit: float | None) -> list[Finding]:
    """Stops that pass the hinge's limit, or may, as far as the steady moment is known."""
    found = []
    for move in moved:
        stop = move.stop
        if stop is None or limit is None:
            continue
        width = stop.half_width_N_m or 0.0
        if not stop.peak_N_m + width <= limit:
            sure = known_sign(stop.peak_N_m - limit, stop.half_width_N_m) == 1
            found.append(
                Finding(
                    "stopping_shock",
                    f"stopping the tip ({move.name}) {'passes' if sure else 'may pass'} the"
                    " hinge's limit",
                    stop.peak_N_m,
                    limit,
                    "N m",
                    "hinge_moment_limit_N_m",
                    "fold more slowly, or let the servo slow down before the end",
                    half_width=stop.half_width_N_m,
                )
            )
    return found

"""What passes a limit that the file states of its hinges and wings, or may."""

from collections.abc import Sequence

from vlm.description.actuator import Actuator
from vlm.findings import Finding, gathered
from vlm.study.hinge.results import MomentRow, MoveRow, WingRow


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
    """The moment about a hinge that reaches farthest with its ±."""
    known = [row for row in rows if row.hinges is not None]
    if limit is None or not known:
        return []
    worst = max(known, key=lambda row: row.hinge().reach_N_m)
    hinge = worst.hinge()
    if not hinge.reach_N_m > limit:
        return []
    # The swing in a gust is an upper bound, damping and lag left out: it makes nothing sure.
    sure = 2.0 * abs(hinge.worst_N_m) - hinge.reach_N_m - abs(hinge.swing_N_m) > limit
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


def _roots(wings: Sequence[WingRow], limit: float | None) -> list[Finding]:
    """The wing whose root may bend most, where that passes the limit."""
    rows = [row for row in wings if row.most_bent is not None]
    if limit is None or not rows:
        return []
    worst = max(rows, key=lambda row: row.share_of_root_limit or 0.0)
    half = worst.most_bent
    assert half is not None
    if not half.root_bending_reach_N_m > limit:
        return []
    bending, width = abs(half.root_bending_N_m), half.root_bending_half_width_N_m
    sure = bending - (width or 0.0) > limit
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
            sure = stop.peak_N_m - width > limit
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

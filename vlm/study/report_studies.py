"""The studies a report may hold: what each needs, and how it is made.

A study stands in the report where its file has the blocks it needs. Each is imported when it is
made.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from vlm.description.folds import allowed_fold
from vlm.description.models import Biplane

if TYPE_CHECKING:
    from vlm.study.report_data import ReportPlan


@dataclass(frozen=True)
class Study:
    """One study.

    Attributes
    ----------
    name : of its command
    title : what is being done, for the progress bar
    weight : its cost, in steps of the progress bar
    missing : why a craft has no such study; empty if it has
    made : its result
    """

    name: str
    title: str
    weight: int
    missing: Callable[[Biplane, "ReportPlan"], str]
    made: Callable[[Biplane, "ReportPlan"], Any]


def limits_of(craft: Biplane) -> tuple[float, float]:
    """Symmetric folds that the limits of all tips allow [deg]."""
    ends = [allowed_fold(*tips.fold_limits_deg, tips.linkage) for tips in craft.tips.values()]
    low, high = max(low for low, _ in ends), min(high for _, high in ends)
    return max(low, -179.0), min(high, 179.0)


def spread_folds(craft: Biplane, count: int) -> tuple[float, ...]:
    """Folds evenly over the limits, 0 among them where they allow it [deg]."""
    low, high = limits_of(craft)
    even = {round(low + (high - low) * i / (count - 1), 3) for i in range(count)}
    return tuple(sorted(even | ({0.0} if low <= 0.0 <= high else set())))


def _without(craft: Biplane, *blocks: str) -> str:
    """Which blocks of the file are missing, in words."""
    if not craft.tips:
        return "the craft has no tips"
    absent = [f"[{name}]" for name in blocks if not getattr(craft, name)]
    return f"the file has no {' and no '.join(absent)}" if absent else ""


def _lateral(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.flight.roll_authority import Air
    from vlm.study.lateral_study import LateralPlan, lateral_study

    folds = spread_folds(craft, 9)
    speeds = tuple(round(plan.airspeed * share, 2) for share in (0.8, 1.0, 1.4))
    wanted = LateralPlan(
        air=Air(plan.airspeed, plan.density),
        folds_deg=folds,
        alphas_deg=plan.alphas_deg,
        shares_deg=folds[::2],
        airspeeds=speeds,
        grid=plan.grid,
    )
    return lateral_study(craft, wanted)


def _roll(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.flight.roll_authority import Air
    from vlm.study.roll_study import RollPlan, roll_study

    low, high = limits_of(craft)
    return roll_study(
        craft,
        RollPlan(
            air=Air(plan.airspeed, plan.density),
            base_deg=min(max(0.0, low), high),
            step_deg=plan.step_deg,
            grid=plan.grid,
        ),
    )


def _hinge(craft: Biplane, plan: "ReportPlan") -> Any:
    from vlm.flight.roll_authority import Air
    from vlm.study.hinge_study import HingePlan, hinge_study

    speeds = tuple(round(plan.airspeed * share, 2) for share in (1.0, 1.5, 2.0))
    wanted = HingePlan(
        air=Air(plan.airspeed, plan.density),
        folds_deg=spread_folds(craft, 7),
        airspeeds=speeds,
        grid=plan.grid,
    )
    return hinge_study(craft, wanted)


STUDIES: tuple[Study, ...] = (
    Study("lateral", "lateral stability", 60, lambda c, _: _without(c, "mass"), _lateral),
    Study("roll", "roll by folding", 60, lambda c, _: _without(c, "mass"), _roll),
    Study("hinge", "hinge and drive", 60, lambda c, _: _without(c, "mass", "actuator"), _hinge),
)
"""In the order in which they are made."""

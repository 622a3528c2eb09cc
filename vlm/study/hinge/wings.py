"""Shear and bending along the half wings at every fold, with their half-widths."""

from dataclasses import replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft, FoldingCraft
from vlm.flight.craft.level import LevelFlight, highest_load_factor
from vlm.flight.mechanism.section_bending import section_bending, together
from vlm.flight.mechanism.wing_bending import HalfWing, wing_bending
from vlm.flight.motion.roll_authority import TOO_SLOW
from vlm.study.hinge.errors import wing_half_widths
from vlm.study.hinge.results import HingePlan, WingRow


def wing_row(
    folding: FoldingCraft,
    rough: FoldingCraft,
    actuator: Actuator,
    fold: float,
    plan: HingePlan,
    factor: float,
) -> WingRow:
    """Shear and bending of every half wing at one load factor, at an airspeed that reaches it."""
    row = WingRow(fold, factor)
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    speed, flight = _reaching(craft, plan, factor)
    if flight is None:
        return replace(row, reason=TOO_SLOW)
    limit, lattice = actuator.root_bending_limit_N_m, craft.loads.lattice
    joined = lattice.is_joined or any(len(p.stands_on) > 1 for p in lattice.patches)
    halves = _halves(craft, None if joined else rough.symmetric(fold), flight)
    most = max(one.root_bending_reach_N_m for one in halves)
    return replace(
        row,
        airspeed_m_s=speed,
        reached_load_factor=flight.load_factor,
        alpha_deg=float(np.degrees(flight.alpha)),
        touching=lattice.is_joined,
        joined=joined,
        fins_left_out=lattice.has_fins,
        halves=tuple(halves),
        share_of_root_limit=None if limit is None else most / limit,
    )


def _halves(craft: FoldedCraft, rough: FoldedCraft | None, flight: LevelFlight) -> list[HalfWing]:
    """Loads of every half wing with their half-widths; these are not known without ``rough``."""
    changes = section_bending(craft, flight)
    halves = together(wing_bending(craft, flight), changes)
    if rough is None:
        return halves
    widths = wing_half_widths(craft, rough, flight, changes)
    return [
        replace(
            half,
            root_shear_half_width_N=_known(shear),
            root_bending_half_width_N_m=_known(root),
            hinge_bending_half_width_N_m=_known(hinge),
        )
        for half, (shear, root, hinge) in zip(halves, widths.tolist(), strict=True)
    ]


def _known(width: float) -> float | None:
    """Not known without a hinge, and on lattices too coarse for another to be held against."""
    return width if np.isfinite(width) else None


def _reaching(
    craft: FoldedCraft, plan: HingePlan, factor: float
) -> tuple[float, LevelFlight | None]:
    """The lowest airspeed from the plan's on that reaches a load factor, or most of it."""
    speeds = sorted({plan.air.airspeed, *plan.airspeeds})
    best: tuple[float, LevelFlight | None] = plan.air.airspeed, None
    for speed in speeds[speeds.index(plan.air.airspeed) :]:
        flight = highest_load_factor(craft, speed, plan.air.density, factor)
        known = best[1]
        if flight is not None and (known is None or flight.load_factor > known.load_factor):
            best = speed, flight
        if flight is not None and flight.load_factor >= factor - 1e-9:
            break
    return best

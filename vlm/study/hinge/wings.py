"""Shear and bending along the half wings at every fold, with their half-widths."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
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
    """Shear and bending of every half wing at one load factor.

    At the lowest airspeed of the plan that reaches it or at the highest, whichever bends a root
    more: what camber, twist and folded tips move from wing to wing grows with the airspeed.
    """
    row = WingRow(fold, factor)
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    flights = _reaching(craft, plan, factor)
    if not flights:
        return replace(row, reason=TOO_SLOW)
    limit, lattice = actuator.root_bending_limit_N_m, craft.loads.lattice
    joined = lattice.is_joined or any(len(p.stands_on) > 1 for p in lattice.patches)
    coarser = None if joined else rough.symmetric(fold)
    each = [(flight, _halves(craft, coarser, flight)) for flight in flights]
    flight, halves = max(each, key=lambda pair: _most(pair[1]))
    return replace(
        row,
        airspeed_m_s=flight.airspeed,
        reached_load_factor=flight.load_factor,
        alpha_deg=float(np.degrees(flight.alpha)),
        touching=lattice.is_joined,
        joined=joined,
        fins_left_out=lattice.has_fins,
        halves=tuple(halves),
        share_of_root_limit=None if limit is None else _most(halves) / limit,
    )


def _halves(craft: FoldedCraft, rough: FoldedCraft | None, flight: LevelFlight) -> list[HalfWing]:
    """Loads of every half wing with their half-widths; these are not known without ``rough``."""
    alone, changes = wing_bending(craft, flight), section_bending(craft, flight)
    halves = together(alone, changes)
    if rough is None:
        return halves
    widths = wing_half_widths(craft, rough, flight, alone, changes)
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


def _most(halves: Sequence[HalfWing]) -> float:
    return max(half.root_bending_reach_N_m for half in halves)


def _reaching(craft: FoldedCraft, plan: HingePlan, factor: float) -> list[LevelFlight]:
    """Flight at the lowest airspeed from the plan's on that reaches a load factor and at the
    highest, or at the one that reaches most of it."""
    speeds = sorted({plan.air.airspeed, *plan.airspeeds})
    found = [
        flight
        for speed in speeds[speeds.index(plan.air.airspeed) :]
        if (flight := highest_load_factor(craft, speed, plan.air.density, factor)) is not None
    ]
    full = [flight for flight in found if flight.load_factor >= factor - 1e-9]
    if full:
        return [full[0], full[-1]] if len(full) > 1 else full
    return [max(found, key=lambda flight: flight.load_factor)] if found else []

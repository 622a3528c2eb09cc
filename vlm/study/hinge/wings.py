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

WORTH_A_ROW = 1.05
"""How much more a root surely bends at another airspeed where that has a row of its own [1]."""


def wing_rows(
    folding: FoldingCraft,
    rough: FoldingCraft,
    actuator: Actuator,
    fold: float,
    plan: HingePlan,
    factor: float,
) -> tuple[WingRow, ...]:
    """Shear and bending of every half wing at one load factor.

    Of the airspeeds of the plan, from its own on, the one at which a root may bend most; and the
    one at which it surely bends most, where that is another. Past the first stalls the most bent
    root need be neither at the lowest nor at the highest airspeed that reaches the load factor,
    and its half-width hides what is well known at another airspeed.
    """
    row = WingRow(fold, factor)
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return (replace(row, reason=str(error)),)
    flights = _reaching(craft, plan, factor)
    if not flights:
        return (replace(row, reason=TOO_SLOW),)
    limit, lattice = actuator.root_bending_limit_N_m, craft.loads.lattice
    joined = lattice.is_joined or any(len(p.stands_on) > 1 for p in lattice.patches)
    coarser = None if joined else rough.symmetric(fold)
    each = [_halves(craft, coarser, flight) for flight in flights]
    widest, sure = (int(np.argmax([size(one) for one in each])) for size in (_most, _surely))
    hides = _surely(each[sure]) > WORTH_A_ROW * _surely(each[widest])
    shown = {widest, sure} if hides else {widest}
    return tuple(
        replace(
            row,
            airspeed_m_s=flights[i].airspeed,
            reached_load_factor=flights[i].load_factor,
            alpha_deg=float(np.degrees(flights[i].alpha)),
            touching=lattice.is_joined,
            joined=joined,
            fins_left_out=lattice.has_fins,
            halves=tuple(each[i]),
            share_of_root_limit=None if limit is None else _most(each[i]) / limit,
        )
        for i in sorted(shown)
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


def _surely(halves: Sequence[HalfWing]) -> float:
    """How much a root bends at least; one whose half-width is not known counts without it."""
    least = [(half, half.root_bending_least_N_m) for half in halves]
    return max(abs(half.root_bending_N_m) if one is None else one for half, one in least)


def _reaching(craft: FoldedCraft, plan: HingePlan, factor: float) -> list[LevelFlight]:
    """Flight at every airspeed from the plan's on, at a load factor or the highest reached."""
    speeds = sorted({plan.air.airspeed, *plan.airspeeds})
    found = [
        highest_load_factor(craft, speed, plan.air.density, factor)
        for speed in speeds[speeds.index(plan.air.airspeed) :]
    ]
    return [flight for flight in found if flight is not None]

"""Hinge, worm gear, servo and wing loads: the answer of ``foldspan hinge``."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.mechanism.drive_limits import (
    servo_most,
)
from vlm.flight.mechanism.hinge_moments import (
    hover_weight_moment,
    worst_hinge,
)
from vlm.flight.mechanism.worm import efficiency_curves, worm_states
from vlm.flight.trim.condition import FlightConditions
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.state import FlightState
from vlm.progress import Progress, silent
from vlm.study.hinge.beyond import passed_limits
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.faults import backlash, divergences, jammed
from vlm.study.hinge.gusts import gust_findings, gust_row
from vlm.study.hinge.moments import moment_row
from vlm.study.hinge.moves import limits, moves
from vlm.study.hinge.results import (
    HingePlan,
    HingeStudy,
    HoverRow,
    MomentError,
    MomentRow,
    Worm,
    WormCurve,
    moments_in_gusts,
    stalls_first,
)
from vlm.study.hinge.slipstream import HingeSlipstream
from vlm.study.hinge.wings import wing_rows
from vlm.study.kept_answers import kept_answer
from vlm.study.level_flights import flown, stalled_findings
from vlm.study.point.document import reference_document
from vlm.study.point.errors import coarser
from vlm.study.point.slipstream import SLIPSTREAM, Slipstreams
from vlm.study.point.validity import state_warnings

ASSUMPTIONS = (
    "tips rigid, folded alike on both sides; level flight or the bottom of a pull-up, angle of"
    " attack re-trimmed",
    "limit loads by the file's design roll rate and load factor only, the largest from level flight"
    " up to it, or to the highest that the wings reach before they stall",
    "a sudden gust rises over the whole craft at once, its loads those of steady flow, speed and"
    " attitude as before, rotors' controls fixed; tips swing in it, undamped; eased by"
    " 0.88 mu/(5.3 + mu) (Pratt and Walker 1954, from memory); mass as in the file",
    "wing loads by the lattice's strips at the trimmed angle of attack and what sections change in"
    " them, without the slipstream; where tips are joined or a fin stands on several wings, ± not"
    " known",
    "wing loads inboard of the hinge without relief by the wing's own mass (on the safe side)",
    "servo on its straight motor line; folding against load and the air's damping; the start by the"
    " servo's time constant and the tips' inertia; the stop in an instant, undamped",
)
NO_SLIPSTREAM = "slipstream left out"
WITH_SECTIONS = (
    "air's moment with profile drag, lift slope and stall of the file's sections; with a strip past"
    " its stall all that they change in a moment counts in its ±"
)
WITHOUT_SECTIONS = "no section in the file: neither stall nor profile drag is known"
LOCKING_CAUTION = (
    "self-locking by these formulas is no brake certificate: vibration releases a gear that locks"
    " at rest, grease and wear lower its friction"
)


def hinge_study(craft: Biplane, plan: HingePlan, progress: Progress = silent) -> HingeStudy:
    """Everything about the mechanism.

    Raises
    ------
    InputRefused : no [mass], no [actuator], no tips, or a fold beyond its limits
    """
    return kept_answer(
        HingeStudy, [craft], ("hinge", plan), lambda: _worked_out(craft, plan, progress)
    )


def _worked_out(craft: Biplane, plan: HingePlan, progress: Progress) -> HingeStudy:
    actuator = craft.actuator
    if actuator is None:
        raise InputRefused(f"{craft.source_name}: [actuator] is missing; hinge needs the drive")
    for fold in plan.folds_deg:
        craft.tip_folds(FoldAngles.symmetric(fold))  # refused before anything is solved
    folding = FoldingCraft(craft, plan.grid, charted="like folds")
    conditions = FlightConditions(craft, plan.air.density, plan.grid)
    blowing = HingeSlipstream(folding, Slipstreams(craft, plan.thrust, conditions))
    flying = _flying(blowing, plan)
    progress("hinge moments")
    speeds = plan.airspeeds or (plan.air.airspeed,)
    factors = plan.load_factors or (1.0, actuator.load_factor_limit)
    rough = FoldingCraft(craft, coarser(plan.grid), sections=False)
    rows = tuple(
        moment_row(rough, blowing, actuator, fold, speed, factor, plan.air.density)
        for fold in plan.folds_deg
        for speed in speeds
        for factor in factors
    )
    errors = _moment_errors(folding, rough, blowing, plan)
    gusts = tuple(
        gust_row(folding, rough, blowing, fold, speed, plan.air.density, actuator, plan.gust_speed)
        for fold in plan.folds_deg
        for speed in speeds
    )
    progress("folding")
    moved = moves(craft, folding, rough, actuator, plan)
    progress("airspeed limits")
    at = limits(folding, rough, actuator, plan)
    progress("wing loads")
    wings = tuple(
        row
        for fold in plan.folds_deg
        for factor in (1.0, actuator.load_factor_limit)
        for row in wing_rows(folding, rough, actuator, fold, plan, factor)
    )
    progress("backlash and stiffness")
    first = folding.symmetric(plan.folds_deg[0])
    return HingeStudy(
        title=craft.title,
        state={
            "airspeed_m_s": plan.air.airspeed,
            "density_kg_m3": plan.air.density,
            "load_factor_limit": actuator.load_factor_limit,
            "design_roll_rate_deg_s": actuator.design_roll_rate_deg_s,
        },
        reference=reference_document(first.loads.lattice),
        worm=_worm(actuator),
        modelling=str(flying.modelling),
        moments=rows,
        moment_errors=errors,
        gusts=gusts,
        folding=moved,
        limits=at,
        wings=wings,
        backlash=tuple(backlash(folding, actuator, fold, plan.air) for fold in plan.folds_deg),
        divergence=divergences(craft, folding, actuator, plan),
        hover=tuple(_hover_row(folding, actuator, fold) for fold in plan.folds_deg),
        jammed=jammed(craft, folding, rough, plan),
        slipstream=blowing.row(plan.folds_deg, plan.air),
        assumptions=(
            *ASSUMPTIONS,
            f"{SLIPSTREAM}; in the hinge moments and their errors alone"
            if blowing.slipstreams.is_on
            else NO_SLIPSTREAM,
            WITH_SECTIONS if folding.has_sections else WITHOUT_SECTIONS,
        ),
        findings=(
            *_findings(folding, plan, rows),
            *passed_limits(actuator, [*rows, *moments_in_gusts(gusts)], wings, moved),
            *gust_findings(gusts),
            *blowing.left_out(errors, plan.air),
        ),
    )


def _flying(blowing: HingeSlipstream, plan: HingePlan) -> FoldedCraft:
    """The craft at the first of the folds at which its wings carry it.

    Raises
    ------
    ComputationFailed : at none of them; as of the first
    """
    for fold in plan.folds_deg:
        folds = FoldAngles.symmetric(fold)
        craft = blowing.over(folds, plan.air.airspeed).at(folds)
        if level_flight(craft, plan.air.airspeed, plan.air.density) is not None:
            return craft
    first = FoldAngles.symmetric(plan.folds_deg[0])
    blown = blowing.over(first, plan.air.airspeed)
    flown(blown, first, plan.air)
    return blown.at(first)


def _worm(actuator: Actuator) -> Worm:
    states = worm_states(actuator)
    # Well past where the gear locks.
    top = max(states["dry"].friction[1], 1.3 * states["dry"].locking_friction)
    return Worm(
        ratio=actuator.worm_ratio,
        lubrication=actuator.lubrication,
        dry=states["dry"],
        greased=states["greased"],
        curve=WormCurve(*efficiency_curves(actuator, top)),
        caution=LOCKING_CAUTION,
    )


def _hover_row(folding: FoldingCraft, actuator: Actuator, fold: float) -> HoverRow:
    """Weight of the tips about their hinges, and on one servo, with the nose straight up."""
    row = HoverRow(fold)
    try:
        craft = folding.symmetric(fold)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    lattice = craft.loads.lattice
    moments = {
        body: hover_weight_moment(craft.masses.parts[body], line)
        for body, line in lattice.hinges.items()
    }
    on_servo = servo_most(craft, {b: np.asarray(m) for b, m in moments.items()}, actuator.serves)
    return replace(row, weight_N_m=moments, on_servo_N_m=on_servo)


def _moment_errors(
    folding: FoldingCraft, rough: FoldingCraft, blowing: HingeSlipstream, plan: HingePlan
) -> tuple[MomentError, ...]:
    """Half-width of the air's largest moment in level flight at every fold."""
    found = []
    for fold in plan.folds_deg:
        folds = FoldAngles.symmetric(fold)
        try:
            fine = blowing.over(folds, plan.air.airspeed).at(folds)
            other = rough.at(folds)
        except FoldspanError:
            continue
        flight = level_flight(fine, plan.air.airspeed, plan.air.density)
        if flight is None:
            continue
        moments = fine.hinge_moments(flight.motion, plan.air.density)
        widths = hinge_half_widths(fine, other, folding.engine.cellule, flight)
        widths = blowing.widened(widths, fine, folds, flight)
        body = worst_hinge({name: abs(moment) for name, moment in moments.items()})
        found.append(MomentError(fold, body, moments[body], widths[body]))
    return tuple(found)


def _findings(
    folding: FoldingCraft,
    plan: HingePlan,
    rows: Sequence[MomentRow],
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    for fold in plan.folds_deg:
        try:
            found += lattice_warnings(folding.symmetric(fold).loads.lattice)
        except FoldspanError:
            continue
    alphas = [row.alpha_deg for row in rows if row.alpha_deg is not None]
    if alphas:
        speed = max(row.airspeed_m_s for row in rows)
        found += state_warnings(FlightState(alpha=np.radians(alphas), airspeed=speed))
    found += stalled_findings(
        {
            f"{row.fold_deg:.3g} deg at {row.airspeed_m_s:g} m/s": row.stall_margin_deg
            for row in rows
            if row.load_factor == 1.0
        }
    )
    least = (
        "the wings stall below the load factor asked for",
        "the file's sections",
    ) if folding.has_sections else (
        "without sections no stall is known, and up to 25 deg of angle of attack the wings do not"
        " reach the load factor asked for",
        "level flight",
    )  # fmt: skip
    for row in rows:
        if row.reached_load_factor is not None and stalls_first(row):
            found.append(
                Finding(
                    "load_factor_not_reached",
                    least[0],
                    row.reached_load_factor,
                    row.load_factor,
                    "1",
                    least[1],
                    "loads there are those up to the load factor reached; a gust can exceed it",
                )
            )
    return tuple(gathered(found))

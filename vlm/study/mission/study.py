"""The study behind ``foldspan mission``: what folding is worth over a mission."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from vlm.air import Air
from vlm.constants import Floats
from vlm.description.mission import Leg
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding, gathered
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.mission import MissionFlight, MissionFlyer
from vlm.flight.plan.mission_rules import flying_schedule, held, held_schedule, scheduled
from vlm.flight.plan.mission_samples import sampled_energies
from vlm.flight.trim.kept_curves import CurveKeeper
from vlm.flight.trim.power_book import PowerBook, fold_grid, power_book
from vlm.flight.trim.power_warnings import flown_doubts
from vlm.flight.trim.uncertain_keys import keys_left_out
from vlm.lattice.cellule import Grid
from vlm.progress import Progress, silent
from vlm.study.asked import MISSION_FOLDS
from vlm.study.fixed_craft import (
    with_mechanism_mass,
    with_tip_span,
    without_mechanism,
    without_mechanism_drag,
)
from vlm.study.kept_trims import kept_trims
from vlm.study.mission.candidate import Candidate, best_of, rivals_by_share
from vlm.study.mission.not_flown import why_not
from vlm.study.mission.single_fold import SAME_DEG, best_between, edges
from vlm.study.sensitivity import Draws, draws_of

JOULES = 3600.0
"""In a watt-hour [J]."""
TIP_SPANS = (0.25, 0.5, 0.75, 1.25, 1.5)
"""Shares of the tips' span that are tried for the craft whose span is free [1]."""
SAME_SHARE = 0.02
"""Shares of the tips' span nearer than this are not flown apart [1]."""
WEIGHTLESS = 1e-6
"""Mass of mechanisms that weigh nothing [kg]: a file has none of zero, and with its uncertain keys
moved this craft is read as a file."""
HEAVIEST = 0.25
"""Heaviest mechanisms that are tried, over the craft's mass [1]."""
BEYOND_EVEN = 1.1
"""How far beyond where a straight line ends what folding gains a heavier mechanism is flown [1]."""


@dataclass(frozen=True)
class MissionStudy:
    """A mission flown in every way.

    Attributes
    ----------
    schedule : along the schedule
    held, fixed : at one fold each, the named ones and the best, with and without the mechanism
    every_fixed : without the mechanism at every fold that was tried
    respanned : without the mechanism, with other tips, flat or at the best single fold, whichever
        takes less
    reweighed : along the schedule, with mechanisms of other masses, each flown again: of none, and
        where folding pays, of about as much as makes it cost what another way does
    dragless : along the schedule, with a mechanism that neither weighs nor drags; None where the
        file's has no drag
    draws : of the uncertain inputs; None without any
    left_out : findings of keys that are in no interval of a way to fly
    """

    craft: Biplane
    title: str
    legs: tuple[Leg, ...]
    schedule: Candidate
    held: tuple[Candidate, ...]
    fixed: tuple[Candidate, ...]
    every_fixed: tuple[Candidate, ...]
    respanned: tuple[Candidate, ...]
    reweighed: tuple[Candidate, ...] = ()
    dragless: Candidate | None = None
    draws: Draws | None = None
    left_out: tuple[Finding, ...] = ()

    @property
    def percent(self) -> float | None:
        """What part of the samples an interval holds; None without any [%]."""
        uncertainty = self.craft.uncertainty
        return None if uncertainty is None else uncertainty.interval_percent

    @property
    def best_fixed(self) -> Candidate | None:
        """The best craft with the same tips that does not fold."""
        return best_of(self.fixed)

    @property
    def best_purpose_built(self) -> Candidate | None:
        """The best craft that does not fold, its span free."""
        return best_of((*self.fixed, *self.respanned))


def flight_doubts(flight: MissionFlight) -> list[Finding]:
    """Warnings about the trims of a mission, but for those of transitions, which cross stall."""
    pieces = [p for leg in flight.legs if leg.leg.kind != "transition" for p in leg.pieces]
    return gathered(flown_doubts((piece.problem.craft, piece.point) for piece in pieces))


@dataclass(frozen=True)
class _Tools:
    """What all candidates share."""

    schedule: Schedule
    legs: tuple[Leg, ...]
    speeds: Floats
    air: Air | None
    grid: Grid | None
    report: Progress
    keeper: CurveKeeper | None

    def book(self, craft: Biplane, folds: Floats, stage: str) -> PowerBook:
        return power_book(
            craft, folds, self.speeds, air=self.air, grid=self.grid,
            report=lambda done, total: self.report(stage, done, total), keeper=self.keeper,
        )  # fmt: skip


def mission_study(
    craft: Biplane,
    legs: Sequence[Leg],
    *,
    title: str = "",
    folds: int = MISSION_FOLDS,
    air: Air | None = None,
    grid: Grid | None = None,
    report: Progress | None = None,
    keep: Path | None = None,
) -> MissionStudy:
    """Fly a mission along the schedule, at fixed folds, and with crafts that do not fold.

    Parameters
    ----------
    legs : in the order in which they are flown
    title : of the mission
    folds : number of folds in the table of trims
    report : called with the stage, what is done of it, and all there is
    keep : folder that keeps every finished power curve; a stopped study goes on from there

    Raises
    ------
    InputRefused : there are no legs, no [schedule], no tips, a block is missing, or an airspeed is
        outside the schedule's
    ComputationFailed : the craft can be trimmed at no fold, or the schedule cannot fly a leg
    """
    schedule = checked_mission(craft, legs)
    tools = _Tools(
        schedule, tuple(legs), mission_speeds(schedule, legs), air, grid,
        report or silent, kept_trims(keep, craft, air, grid),
    )  # fmt: skip
    grid_folds = fold_grid(craft, folds)
    book = tools.book(craft, grid_folds, "trims by fold")
    flyer = MissionFlyer(book)
    assert craft.mass is not None
    flight = flyer.flight(scheduled(book, schedule), tools.legs)
    if flight.reason:
        raise ComputationFailed(f"the schedule cannot fly the mission: {why_not(flyer, flight)}")
    along = Candidate("schedule", flight, None, craft.mass.total_kg)
    bare = without_mechanism(craft)
    bare_book = tools.book(bare, grid_folds, "trims without the mechanism")
    further = sorted({p.piece.fold_deg for leg in flight.legs for p in leg.pieces})
    held_all = _at_every_fold(tools, book, flyer, "held", further)
    fixed_all = _at_every_fold(tools, bare_book, MissionFlyer(bare_book), "fixed", further)
    study = MissionStudy(
        craft, title or f"mission of {craft.source_name}", tools.legs, along,
        _named(craft, held_all), _named(craft, fixed_all), fixed_all,
        _respanned(tools, bare, fixed_all),
    )  # fmt: skip
    reweighed, dragless = _reweighed(tools, study, bare_book), _dragless(tools, craft, bare_book)
    study = replace(study, reweighed=reweighed, dragless=dragless)
    return _with_samples(study, tools.report)


def mission_speeds(schedule: Schedule, legs: Sequence[Leg]) -> Floats:
    """Hover, the schedule's airspeeds and those that the legs name, growing [m/s]."""
    named = [leg.airspeed_m_s for leg in legs if leg.airspeed_m_s is not None]
    spread = np.linspace(schedule.airspeed_min_m_s, schedule.airspeed_max_m_s, schedule.speeds)
    return np.unique(np.round(np.concatenate([[0.0], spread, named]), 9))


def checked_mission(craft: Biplane, legs: Sequence[Leg]) -> Schedule:
    """The schedule of a craft that can be asked to fly these legs.

    Raises
    ------
    InputRefused : there are no legs, a block is missing, or an airspeed is outside the schedule's
    """
    schedule = craft.schedule
    if not legs:
        raise InputRefused(
            f"{craft.source_name}: [[mission]] is missing; it, or --legs, names the legs"
        )
    if schedule is None:
        raise InputRefused(f"{craft.source_name}: [schedule] is missing; it names the airspeeds")
    if not craft.tips:
        raise InputRefused(f"{craft.source_name}: neither wing has tips to fold ([upper.tips])")
    low, high = schedule.airspeed_min_m_s, schedule.airspeed_max_m_s
    for index, leg in enumerate(legs):
        if leg.airspeed_m_s is not None and not low <= leg.airspeed_m_s <= high:
            raise InputRefused(
                f"mission.{index}.airspeed_m_s = {leg.airspeed_m_s:g}; the airspeeds of [schedule]"
                f" in {craft.source_name} run from {low:g} to {high:g}"
            )
    if craft.mass is None:
        raise InputRefused(f"{craft.source_name}: [mass] is missing; a mission needs it")
    return schedule


def _at_every_fold(
    tools: _Tools, book: PowerBook, flyer: MissionFlyer, group: str, further: Sequence[float]
) -> tuple[Candidate, ...]:
    """The mission at every tabulated fold, and at the best one between them, which comes last.

    Parameters
    ----------
    further : folds that are flown too where none of the table can be: those allowed may all lie
        between two of it [deg]
    """
    binding = held_schedule if group == "held" else flying_schedule
    table = FoldTable.of(book, binding(tools.schedule))
    assert book.craft.mass is not None
    mass = book.craft.mass.total_kg

    def at(fold: float, name: str) -> Candidate:
        rule = held(name, table, fold)
        return Candidate(group, flyer.flight(rule, tools.legs), fold, mass)

    found = []
    for done, fold in enumerate(book.folds_deg):
        found.append(at(float(fold), f"held at {fold:g} deg"))
        tools.report(f"flights, {group}", done + 1, len(book.folds_deg))
    if best_of(found) is None:
        found += [at(fold, f"held at {fold:g} deg") for fold in further]
        found.sort(key=lambda candidate: candidate.fold_deg or 0.0)
    found += edges(found, at)
    best = best_between(found, at)
    if best is not None and best.fold_deg is not None:
        flown = at(best.fold_deg, f"best single fold, {best.fold_deg:.1f} deg")
        found.append(replace(flown, is_best_fold=True))
    return tuple(found)


def _named(craft: Biplane, candidates: tuple[Candidate, ...]) -> tuple[Candidate, ...]:
    """The named symmetric configurations, and the best single fold last."""
    kept = []
    for name, configuration in craft.configurations.items():
        folds = configuration.folds
        images = [c for c in candidates if c.fold_deg is not None and folds.is_symmetric]
        near = [c for c in images if abs(c.fold_deg - folds.left_deg) < 1e-6]  # type: ignore[operator]
        if near:
            flight = replace(near[0].flight, rule=replace(near[0].flight.rule, name=name))
            kept.append(replace(near[0], flight=flight))
    return (*kept, *(c for c in candidates if c.is_best_fold))


def _respanned(tools: _Tools, bare: Biplane, fixed: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The craft without mechanism and with other tips, each at the better of a few folds."""
    found: list[Candidate] = []
    folds = _folds_of_other_tips(fixed)
    if not folds:
        return ()
    for done, share in enumerate(TIP_SPANS):
        craft = with_tip_span(bare, share)
        if craft is None:
            break
        found += _with_tips(tools, craft, folds, share)
        tools.report("other tips", done + 1, len(TIP_SPANS))
    between = _least_between_spans(found, fixed)
    made = None if between is None else with_tip_span(bare, between)
    if between is not None and made is not None:
        found += _with_tips(tools, made, folds, between)
    return tuple(found)


def _with_tips(
    tools: _Tools, craft: Biplane, folds: Sequence[float], share: float
) -> list[Candidate]:
    """A craft with other tips, flown at the better of some folds; none where it has no trim."""
    assert craft.mass is not None
    try:
        book = tools.book(craft, np.array(sorted(folds)), f"tips {share:g} times as long")
    except ComputationFailed:
        return []
    table, flyer = FoldTable.of(book, flying_schedule(tools.schedule)), MissionFlyer(book)
    flown = []
    for fold in folds:
        set_at = "flat" if fold == 0.0 else f"at {fold:.1f} deg"
        rule = held(f"tips {share:g} times as long, {set_at}", table, fold)
        flight = flyer.flight(rule, tools.legs)
        flown.append(Candidate("respanned", flight, fold, craft.mass.total_kg, share))
    return [best_of(flown) or flown[0]]


def _folds_of_other_tips(fixed: Sequence[Candidate]) -> list[float]:
    """Flat where the craft can fly the mission so, and its best single fold; none without any.

    The craft with the same tips stands at its best fold, and so may one with other tips.
    """
    best = best_of(fixed)
    if best is None or best.fold_deg is None:
        return []
    flat = any(c.fold_deg == 0.0 and np.isfinite(c.energy) for c in fixed)
    return [0.0] * flat + [best.fold_deg] * (not flat or abs(best.fold_deg) > SAME_DEG)


def _least_between_spans(
    respanned: Sequence[Candidate], fixed: Sequence[Candidate]
) -> float | None:
    """Share of the tips' span at which a parabola through the best and its neighbours is least.

    None where the best is at an end, or that share as good as flown.
    """
    known = sorted((c for c in (*respanned, best_of(fixed)) if c), key=lambda c: c.tip_span_share)
    energies = np.array([c.energy for c in known])
    place = int(np.nanargmin(energies))
    around = slice(place - 1, place + 2)
    if not 0 < place < len(known) - 1 or not np.isfinite(energies[around]).all():
        return None
    shares = np.array([c.tip_span_share for c in known[around]])
    square, slope, _ = np.polyfit(shares - shares[1], energies[around] - energies[place], 2)
    if not square > 0.0:
        return None
    share = round(float(shares[1] - 0.5 * slope / square), 2)
    return None if abs(share - shares[1]) < SAME_SHARE else share


def _reweighed(tools: _Tools, study: MissionStudy, bare: PowerBook) -> tuple[Candidate, ...]:
    """The schedule flown with mechanisms of other masses.

    Parameters
    ----------
    bare : trims of the craft without the mechanism; those with one that weighs nothing are the
        same where it has no drag
    """
    craft, own = study.craft, study.schedule
    assert craft.mass is not None
    light = with_mechanism_mass(craft, WEIGHTLESS)
    if light is None:
        return ()
    same = craft.mass.mechanism_drag_area_m2 == 0.0
    found = [_with_mass(tools, light, replace(bare, craft=light) if same else None, bare.folds_deg)]
    weight, total = craft.mass.mechanism_kg, craft.mass.total_kg
    slope = 0.5 * own.energy / total
    if np.isfinite(found[0].energy):
        slope = max(slope, (own.energy - found[0].energy) / weight)
    for other in (study.best_fixed, study.best_purpose_built):
        if other is None or other.energy <= max(c.energy for c in (own, *found[1:])):
            continue
        heavier = weight + BEYOND_EVEN * (other.energy - own.energy) / slope
        made = with_mechanism_mass(craft, min(heavier, HEAVIEST * total))
        assert made is not None
        found.append(_with_mass(tools, made, None, bare.folds_deg))
    return tuple(found)


def _dragless(tools: _Tools, craft: Biplane, bare: PowerBook) -> Candidate | None:
    """The schedule flown with a mechanism that neither weighs nor drags, whose trims are those of
    the craft without one."""
    clean = without_mechanism_drag(craft)
    light = None if clean is None else with_mechanism_mass(clean, WEIGHTLESS)
    if light is None:
        return None
    return _with_mass(tools, light, replace(bare, craft=light), bare.folds_deg)


def _with_mass(
    tools: _Tools, craft: Biplane, book: PowerBook | None, folds: Floats
) -> Candidate:  # fmt: skip
    """The mission along the schedule of a craft whose mechanisms have another mass."""
    assert craft.mass is not None
    mass = craft.mass
    stage = f"mechanisms of {1000.0 * mass.mechanism_kg:.0f} g"
    book = book or tools.book(craft, folds, stage)
    flight = MissionFlyer(book).flight(scheduled(book, tools.schedule), tools.legs)
    flight = replace(flight, rule=replace(flight.rule, name=stage))
    return Candidate("schedule", flight, None, mass.total_kg)


def _with_samples(study: MissionStudy, report: Progress) -> MissionStudy:
    """Energy of every sample for what the answer compares."""
    if study.craft.uncertainty is None:
        return study
    draws = draws_of(study.craft)
    left_out: list[Finding] = []

    known: dict[int, Floats] = {}

    def sampled(candidate: Candidate) -> Candidate:
        report(f"samples, {candidate.name}", 0, 1)
        if not np.isfinite(candidate.energy):
            return candidate
        # A named fold is one of every fold, under another name.
        key = id(candidate.flight.legs)
        if key not in known:
            known[key] = sampled_energies(
                candidate.flight, draws.factors, draws.keys, draws.shifts,
                lambda craft: left_out.extend(keys_left_out({candidate.name: craft})),
            )  # fmt: skip
        return replace(candidate, leg_samples=known[key])

    best = best_of(study.respanned)
    rivals = rivals_by_share(study.schedule, (*study.every_fixed, *study.respanned))
    asked = {id(c) for c in (*rivals_by_share(study.schedule, study.every_fixed), *rivals, best)}
    sampled_study = replace(
        study,
        schedule=sampled(study.schedule),
        held=tuple(sampled(c) for c in study.held),
        fixed=tuple(sampled(c) for c in study.fixed),
        every_fixed=tuple(sampled(c) if id(c) in asked else c for c in study.every_fixed),
        respanned=tuple(sampled(c) if id(c) in asked else c for c in study.respanned),
        reweighed=tuple(sampled(c) for c in study.reweighed),
        dragless=None if study.dragless is None else sampled(study.dragless),
        draws=draws,
    )
    return replace(sampled_study, left_out=tuple(gathered(left_out)))

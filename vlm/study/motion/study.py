"""The craft in time: the answer of ``foldspan motion``."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from vlm.constants import Floats
from vlm.description.models import Biplane
from vlm.description.motion import Scenario, StabilisingLaw
from vlm.findings import Finding
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.simulation.air_table import held_out, miss_at
from vlm.flight.simulation.bodies import SIDES
from vlm.flight.simulation.building import Modelled, folding_craft, motion_of, plant_of
from vlm.flight.simulation.history import History, history_of
from vlm.flight.simulation.plant import Plant
from vlm.flight.simulation.running import SAMPLES, Run, run
from vlm.flight.simulation.steady import SteadyState, steady_state
from vlm.flight.simulation.task import NEVER, Task, task_of
from vlm.lattice.cellule import Grid
from vlm.progress import Progress, silent
from vlm.sides import Side
from vlm.study.kept_answers import kept_answer
from vlm.study.motion.bands import band_widths
from vlm.study.motion.columns import PEAKS, apart, columns_of, extreme
from vlm.study.motion.judging import CUT_OFF_WITHIN, findings_of, limit_rows, whether_within
from vlm.study.motion.results import (
    MotionModelling,
    MotionState,
    MotionStudy,
    PeakRow,
    SideRow,
    StartRow,
)
from vlm.study.motion.schedule import followed
from vlm.study.motion.settling import growth_findings, upset_findings
from vlm.study.motion.shape import craft_shape
from vlm.study.motion.spread import (
    LoadSpread,
    load_spread,
    rotor_ends,
    with_allowance,
    worm_width,
)
from vlm.study.point.errors import coarser, half_width

ARRIVED, ARRIVED_SHARE = float(np.radians(1.0)), 0.1
"""How near to its target a worm has arrived: at most [rad], and of the way there [1]."""
SATURATED = 1e-6
ANY_BANK_DEG = 90.0
"""Half-width of a bank from which on it is not known which side is up [deg]."""

ASSUMPTIONS = (
    "rigid wings and tips; the tips of a side turn together, by their linkage",
    "air from lattices at Chebyshev's points of both folds, quasi-steady with the tips' rates, wake"
    " along the stream; late by a lag law and with the apparent mass of the air where these are not"
    " switched off",
    "thrust limits, torque and speed of the rotors those of the airspeed of the start",
    "a gust is the same over the whole craft; height and density do not change the air",
    "the law senses without delay, noise or error",
    "the ± is the lattice's, from the same scenario on a coarser one, and what the wake's roll-up,"
    " a joint that closes and what the rotors' control holds leave open, flown again with loads and"
    " rotors that are off; what the model leaves out, and stall itself, are not in it",
)
WITH_SECTIONS = (
    "stall and profile drag by the file's sections, over folds, angle of attack with sideslip and"
    " with roll rate, at the airspeed of the start"
)
BLOWN = (
    "slipstream at thrusts near those of the start by the strips of power, with a straight line"
    " over each rotor's thrust, at no sideslip"
)
NOT_BLOWN = "no slipstream on the wings"
SPINNING = "gyroscopic moments of the rotors whose inertia_kg_m2 the file gives"
NOT_SPINNING = "no gyroscopic moments: the file gives no rotor's inertia_kg_m2"
ANSWERING = (
    "the rotors answer the air where it changes from that of the start, or of the airspeed that the"
    " law steers to, in a straight line: thrust and torque to what is along their axes, midway"
    " between rotors that hold their speed and rotors that hold their torque, and a force across"
    " the axes to what is across them; no moments of the rotors in their own planes"
)
NOT_ANSWERING = (
    "thrust is what is commanded, whatever the airspeed and the craft's turning: what rotors damp"
    " by themselves and their forces across their axes are left out"
)
WITHOUT_SECTIONS = "no section in the file: neither stall nor profile drag is known"
NO_LAW = "no [motion.law] in the file: the thrusts of the start stay commanded"


@dataclass(frozen=True)
class MotionPlan:
    """What ``motion`` is asked for.

    Attributes
    ----------
    scenario : what happens
    modelled : how
    law : whether the file's stabilising law acts
    errors : whether the scenario is flown again to see its error
    """

    scenario: Scenario
    modelled: Modelled = field(default_factory=lambda: Modelled(Grid()))
    law: bool = True
    errors: bool = True


@dataclass(frozen=True)
class Flown:
    """A scenario flown on one lattice."""

    folding: FoldingCraft
    plant: Plant
    start: SteadyState
    run: Run
    history: History

    @cached_property
    def columns(self) -> dict[str, Floats]:
        """The history by the names of JSON and dataset."""
        return columns_of(self.plant, self.history)


def flown(
    craft: Biplane, task: Task, modelled: Modelled, law: StabilisingLaw | None,
    progress: Progress = silent,
) -> Flown:  # fmt: skip
    """Fly a task.

    Raises
    ------
    InputRefused : a block or key that is missing, or a fold beyond its limits
    ComputationFailed : no steady flight at the start, or the integrator gives up
    """
    folding = folding_craft(craft, modelled)
    plant = plant_of(folding, task, modelled, progress)
    folds = np.radians([task.start.left_deg, task.start.right_deg])
    start = steady_state(plant, task.airspeed, folds)
    progress("motion")
    done = run(plant, task, law, start)
    return Flown(folding, plant, start, done, history_of(plant, done))


@dataclass(frozen=True)
class Again:
    """The same scenario with what is not sure changed.

    Attributes
    ----------
    rough : on a coarser lattice
    off : on that, with loads that are off by the model's half-widths, group by group
    spread : the half-widths
    rotors : on that, with rotors at the ends of what their answer may be; none where thrust does
        not answer the air
    """

    rough: Flown
    off: tuple[Flown, ...]
    spread: LoadSpread
    rotors: tuple[Flown, ...] = ()

    @property
    def all(self) -> tuple[Flown, ...]:
        """Every flight."""
        return (self.rough, *self.off, *self.rotors)

    def model_change(self, change: Callable[[Flown], float]) -> float:
        """What the model leaves open, from the change of a number in each flight.

        Summed over the groups; of the rotors' ends the one that changes most counts.
        """
        ends = max((change(one) for one in self.rotors), default=0.0)
        return float(sum(change(one) for one in self.off) + ends)

    def known_until(self, own: Flown) -> float:
        """When the first of all flights is cut off; beyond it nothing is compared [s]."""
        ends = [one.history.times[-1] for one in (own, *self.all) if one.run.cut_off]
        return float(min(ends, default=NEVER))

    def model_width(self, plant: Plant, name: str, before_s: float = NEVER) -> float:
        """Half-width of the model in an extreme of a history's column."""
        base = _until(self.rough.columns, before_s)[name]
        width = self.model_change(
            lambda one: apart(name, base, _until(one.columns, before_s)[name])
        )
        if name.startswith("hinge_"):
            width += self.spread.hinges[name.removeprefix("hinge_").removesuffix("_N_m")]
        if name.startswith("worm_torque_"):
            side = SIDES.index(name.removeprefix("worm_torque_").removesuffix("_N_m"))
            tips = [tip for tip in plant.bodies.tips if tip.side == side]
            own = [abs(tip.linkage) * self.spread.hinges[tip.body] for tip in tips]
            width += worm_width(plant, side, own)
        return float(width)

    def widths(self, own: Flown, grid: Grid) -> dict[str, Floats]:
        """Half-widths all along the histories."""
        off, rotors = ([one.columns for one in each] for each in (self.off, self.rotors))
        return band_widths(own.columns, self.rough.columns, off, rotors, self.spread.hinges, grid)

    def cut_off_findings(self) -> list[Finding]:
        """Where a history that runs through is cut off with loads and rotors within their error."""
        cut = [one.run for one in self.all if one.run.cut_off]
        if not cut:
            return []
        at = min(float(one.times[-1]) for one in cut)
        return [
            Finding(
                CUT_OFF_WITHIN, "with loads and rotors within their error the history is cut off"
                f" ({cut[0].cut_off}); time", at, None, "s",
                "histories on a coarser lattice", "take what comes then as not known",
            )
        ]  # fmt: skip


def flown_again(
    craft: Biplane, task: Task, modelled: Modelled, law: StabilisingLaw | None, own: Flown,
    progress: Progress,
) -> Again:  # fmt: skip
    """Fly a task on a coarser lattice, then there with loads, and rotors, that are off."""
    progress("again on a coarser lattice")
    rough = flown(craft, task, replace(modelled, grid=coarser(modelled.grid)), law)
    spread = load_spread(own.folding, own.plant, task, own.history)
    folds, off = np.radians([task.start.left_deg, task.start.right_deg]), []
    for i, group in enumerate(spread.groups):
        progress(f"again with loads off, {i + 1} of {len(spread.groups)}")
        plant = with_allowance(rough.plant, group)
        start = steady_state(plant, task.airspeed, folds)
        done = run(plant, task, law, start)
        off.append(Flown(rough.folding, plant, start, done, history_of(plant, done)))
    ends: list[Flown] = []
    plants = rotor_ends(rough.plant)
    for plant in plants:
        progress(f"again with rotors off, {len(ends) + 1} of {len(plants)}")
        done = run(plant, task, law, rough.start)  # steady flight is the same
        ends.append(Flown(rough.folding, plant, rough.start, done, history_of(plant, done)))
    return Again(rough, tuple(off), spread, tuple(ends))


def motion_study(craft: Biplane, plan: MotionPlan, progress: Progress = silent) -> MotionStudy:
    """A scenario flown and judged.

    Raises
    ------
    InputRefused : a block or key that is missing, or a fold beyond its limits
    ComputationFailed : no steady flight at the start, or the integrator gives up
    """
    return kept_answer(
        MotionStudy, [craft], ("motion", plan), lambda: _judged(craft, plan, progress)
    )


def _judged(craft: Biplane, plan: MotionPlan, progress: Progress) -> MotionStudy:
    scenario, warned = followed(craft, plan.scenario, plan.modelled.density, progress)
    task = task_of(craft, scenario)
    law = motion_of(craft).law if plan.law else None
    own = flown(craft, task, plan.modelled, law, progress)
    again = None
    if plan.errors:
        again = flown_again(craft, task, plan.modelled, law, own, progress)
    peaks = peak_rows(own, again, plan.modelled.grid)
    stalled = _stalled_from(own)
    early = None
    if np.isfinite(stalled):
        early = peak_rows(own, again, plan.modelled.grid, before_s=stalled)
    until = NEVER if again is None else again.known_until(own)
    until_cut = None
    if until < NEVER:
        just_after = float(np.nextafter(until, np.inf))
        until_cut = peak_rows(own, again, plan.modelled.grid, before_s=just_after)
    limits = limit_rows(craft, peaks, early, until_cut)
    history, done = own.history, own.run
    limited = _limited(task, own)
    density = plan.modelled.density
    found = [*warned, *findings_of(own.folding, own.plant, task, own.start, history, density)]
    ends = () if again is None else tuple(one.history for one in again.rotors)
    found += growth_findings(task, history, ends)
    if again is not None and not done.cut_off:
        found += again.cut_off_findings()
        plants = (own.plant, *rotor_ends(own.plant))
        found += upset_findings(plants, task, law, own.start, history)
    modelling = _modelling(own.plant, plan, task)
    assumptions = [
        *ASSUMPTIONS,
        WITH_SECTIONS if modelling["sections"] else WITHOUT_SECTIONS,
        BLOWN if modelling["slipstream"] else NOT_BLOWN,
        ANSWERING if modelling["rotors_answer"] else NOT_ANSWERING,
        SPINNING if modelling["gyroscopic"] else NOT_SPINNING,
    ]
    if law is None:
        assumptions.append(NO_LAW if plan.law else "the law is switched off")
    return MotionStudy(
        title=craft.title,
        scenario=task.name,
        state=_state(task, scenario, plan),
        modelling=modelling,
        start=_start(own),
        sides=tuple(_side(task, own, again, side, plan.modelled.grid) for side in (0, 1)),
        peaks=peaks,
        limits=limits,
        within_limits=whether_within(limits, done.cut_off, found),
        bank_end_deg=float(np.degrees(history.bank[-1])),
        bank_end_half_width_deg=_end_width(own, again, "bank_deg", plan.modelled.grid),
        height_end_m=float(history.height[-1]),
        height_end_half_width_m=_end_width(own, again, "height_m", plan.modelled.grid),
        rotors_limited_s=limited,
        cut_off=done.cut_off,
        cut_off_at_s=float(done.times[-1]) if done.cut_off else None,
        known_until_s=None if until == NEVER else until,
        table_miss=_table_miss(own),
        history=columns_of(own.plant, history),
        assumptions=tuple(assumptions),
        findings=tuple(found),
        _shape=craft_shape(craft),
        _widths={} if again is None else again.widths(own, plan.modelled.grid),
    )


def _stalled_from(own: Flown) -> float:
    """When a strip first is past its stall; infinite where none is [s]."""
    past = np.flatnonzero(own.history.stall_margin < 0.0)
    return float(own.history.times[past[0]]) if len(past) else float("inf")


def _state(task: Task, scenario: Scenario, plan: MotionPlan) -> MotionState:
    return {
        "airspeed_m_s": task.airspeed,
        "density_kg_m3": plan.modelled.density,
        "duration_s": task.duration,
        "fold_left_deg": task.start.left_deg,
        "fold_right_deg": task.start.right_deg,
        "command_at_s": task.command_at,
        "happens": scenario.model_dump(exclude_defaults=True, exclude_none=True),
    }


def _modelling(plant: Plant, plan: MotionPlan, task: Task) -> MotionModelling:
    lag, sections = plant.lag, plant.sections
    return {
        "sections": sections is not None and sections.stalls,
        "slipstream": sections is not None and len(sections.thrusts) > 0,
        "apparent_mass": plant.apparent is not None,
        "rotors_answer": plant.rotors is not None and plant.rotors.answers,
        "gyroscopic": plant.rotors is not None and plant.rotors.turns,
        "lag": None
        if lag is None
        else {
            "shares": lag.law.shares.tolist(),
            "rates_per_half_chord": lag.law.rates.tolist(),
            "misfit": lag.law.misfit,
            "mean_lag_s": lag.law.mean_lag * 0.5 * lag.chord / task.airspeed,
        },
        "friction": "highest" if plan.modelled.friction else "lowest",
        "friction_coefficient": plant.drives[0].friction if plant.drives else None,
        "law": plan.law,
        "rows": plan.modelled.grid.rows,
        "strips": plan.modelled.grid.strips,
        "solved_folds_deg": [np.degrees(points).tolist() for points in plant.air.points],
    }


def _start(own: Flown) -> StartRow:
    start, rotors = own.start, own.plant.rotors
    names = () if rotors is None else rotors.names
    roll, pitch, yaw = (float(v) for v in start.held_moment)
    return StartRow(
        alpha_deg=float(np.degrees(start.alpha)),
        bank_deg=float(np.degrees(start.bank)),
        thrust_N=start.thrust,
        thrusts_N={n: float(t) for n, t in zip(names, start.thrusts, strict=bool(names))},
        held_moment_N_m=(roll, pitch, yaw),
        stall_margin_deg=float(np.degrees(start.air.margin)),
    )


def _end_width(own: Flown, again: Again | None, name: str, grid: Grid) -> float:
    """Half-width of a column's last value, lattice and model; NaN where none is known."""
    if again is None or len({len(one.columns[name]) for one in (own, *again.all)}) > 1:
        return float("nan")  # one of them is cut off
    values, rough = own.columns[name], float(again.rough.columns[name][-1])
    lattice = float(half_width(float(values[-1]), rough, float(np.ptp(values)), grid))
    width = lattice + again.model_change(lambda one: abs(float(one.columns[name][-1]) - rough))
    return _sensible(name, width)


def _sensible(name: str, width: float) -> float:
    """A half-width; NaN for a bank that may be any."""
    return float("nan") if name == "bank_deg" and width > ANY_BANK_DEG else width


def _time_width(
    task: Task, own: Flown, again: Again | None, name: Side, grid: Grid
) -> float | None:
    """Half-width of a side's time to fold; None where one of the flights does not arrive."""
    if again is None:
        return None
    times = [_arrival(task, one.history, name) for one in (own, *again.all)]
    known = [one for one in times if one is not None]
    if len(known) < len(times):
        return None
    time, rough = known[:2]

    def change(one: Flown) -> float:
        return abs((_arrival(task, one.history, name) or 0.0) - rough)

    lattice = float(half_width(time, rough, time, grid))
    return lattice + again.model_change(change) + 1.0 / SAMPLES


def _side(task: Task, own: Flown, again: Again | None, side: int, grid: Grid) -> SideRow:
    history, name = own.history, SIDES[side]
    said = float(history.targets[name][-1])
    jammed = own.run.jammed_at[side]
    let_go = task.lets_go[side]
    return SideRow(
        side=name,
        commanded_by=_commanded_by(task),
        start_deg=(task.start.left_deg, task.start.right_deg)[side],
        commanded_deg=float(np.degrees(said)),
        end_deg=float(np.degrees(history.folds[name][-1])),
        time_s=_arrival(task, history, name),
        time_half_width_s=_time_width(task, own, again, name, grid),
        jammed_at_s=None if np.isnan(jammed) else float(jammed),
        let_go_at_s=None if let_go == NEVER or let_go > task.duration else let_go,
        peak_rate_deg_s=float(np.degrees(np.abs(history.fold_rates[name]).max())),
    )


def _commanded_by(task: Task) -> str:
    if task.target is not None:
        return "command"
    return "nothing" if task.schedule is None else "schedule"


def _arrival(task: Task, history: History, side: Side) -> float | None:
    """Time from the command until the worm stays at its target, see :data:`ARRIVED` [s]."""
    if task.target is None:
        return None
    left = np.abs(history.worms[side] - history.targets[side])
    off = left > min(ARRIVED, ARRIVED_SHARE * float(left.max()))
    if off[-1]:
        return None
    last = int(np.flatnonzero(off)[-1]) if off.any() else -1
    if last < 0:
        return 0.0
    return max(0.0, float(history.times[last + 1]) - task.command_at)


def _limited(task: Task, own: Flown) -> float:
    """Time in which the law asks a rotor for what it cannot give [s]."""
    rotors, history = own.plant.rotors, own.history
    if rotors is None or len(history.times) < 2:
        return 0.0
    given = np.array([one.commanded for one in own.run.instants])
    short = np.abs(history.asked - given) > SATURATED
    if task.lost is not None:
        short[:, task.lost] = False
    return float(np.trapezoid(short.any(axis=1).astype(float), history.times))


def peak_rows(
    own: Flown, again: Again | None, grid: Grid, before_s: float = NEVER
) -> tuple[PeakRow, ...]:
    """Extremes with the half-widths of their errors.

    Where a flight is cut off, all are compared until then. An extreme after it has no half-width,
    nor one from whose side the others have gone farther than all that this history passes through.

    Parameters
    ----------
    before_s : the time from which on nothing counts; no rows where nothing is before it [s]
    """
    until = NEVER if again is None else again.known_until(own)
    shared = min(before_s, float(np.nextafter(until, np.inf)) if until < NEVER else NEVER)
    columns = _until(columns_of(own.plant, own.history), before_s)
    units = dict(PEAKS)
    units |= {n: "N m" for n in columns if n.startswith(("hinge_", "worm_torque_"))}
    units |= {n: "A" for n in columns if n.startswith("current_")}
    rows = []
    for name, unit in units.items():
        values = columns[name]
        if not len(values) or not np.isfinite(values).all():
            continue
        place = extreme(name, values)
        at, width = float(columns["time_s"][place]), float("nan")
        if again is not None and at <= until:
            here, size = _until(columns, shared)[name], float(np.ptp(values))
            off = apart(name, here, _until(again.rough.columns, shared)[name])
            width = float(half_width(0.0, off, size, grid))
            width += again.model_width(own.plant, name, shared)
            if until < NEVER and width > max(size, abs(values[place])):
                width = float("nan")
            width = _sensible(name, width)
        rows.append(PeakRow(name, float(values[place]), width, unit, at))
    return tuple(rows)


def _until(columns: Mapping[str, Floats], before_s: float) -> Mapping[str, Floats]:
    """Columns of a history as far as a time."""
    if before_s == NEVER:
        return columns
    kept = columns["time_s"] < before_s
    return {name: values[kept] for name, values in columns.items()}


def _table_miss(own: Flown) -> dict[str, float]:
    setting = held_out(own.plant.air)
    motion = np.zeros(own.plant.air.motions)
    motion[:3] = own.start.state[:3]
    force, moment = miss_at(own.folding, own.plant.air, setting, motion)
    return {
        "fold_left_deg": setting[0],
        "fold_right_deg": setting[1],
        "force": force,
        "moment": moment,
    }

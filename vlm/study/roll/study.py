"""Roll by folding: the answer of ``foldspan roll``."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, cast

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding, gathered
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.rotor_rates import rotor_rates
from vlm.flight.craft.section_change import SECTION_GRID
from vlm.flight.craft.steady_roll import roll_axis, steady_roll_rate
from vlm.flight.motion.roll_authority import (
    FIELDS,
    TOO_SLOW,
    Air,
    RollMap,
    roll_map,
    setting_moment,
)
from vlm.flight.motion.roll_command import commanded, roll_commands
from vlm.flight.motion.roll_contest import stronger_words
from vlm.flight.motion.roll_manoeuvre import Manoeuvre, manoeuvre
from vlm.flight.motion.roll_pairs import least_yaw_pairs, pure_roll_pairs
from vlm.flight.motion.roll_response import Yaw, YawAid, roll_response
from vlm.flight.trim.condition import FlightConditions, has_trim
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.state import FlightState
from vlm.progress import Progress, silent
from vlm.sides import Side
from vlm.study.kept_answers import kept_answer
from vlm.study.level_flights import flight_document, flown, stalled_findings
from vlm.study.point.document import reference_document
from vlm.study.point.errors import coarser
from vlm.study.point.fin_validity import sideslip_findings
from vlm.study.point.slipstream import (
    SLIPSTREAM,
    Slipstreams,
    Thrust,
    carried_finding,
    left_out_finding,
)
from vlm.study.point.validity import state_warnings
from vlm.study.roll.moments import RollMoments
from vlm.study.roll.results import (
    AirspeedRow,
    Authority,
    BankHistory,
    Reversal,
    RollMapDocument,
    RollStudy,
    Rotors,
    YawAidRow,
)
from vlm.study.roll.tips_against_rotors import TipsAgainstRotors
from vlm.study.roll.verdicts import (
    ending,
    history_row,
    peak_sideslip_deg,
    reversals,
    roll_findings,
)

SMALL_DEG = 20.0
YAW_AID_RAD_S = 4.0

ASSUMPTIONS = (
    "lift held at every setting by re-trimming the angle of attack; thrust along the body's x axis",
    "rolling and yawing moments about the direction of flight and across it, at the centre of"
    " gravity of the setting; body axes beside them",
    "against the rotors: a full trim with sections, stall and slipstream at the base fold; the tips"
    " with body angle and thrust held, the rotors with total thrust and the other moments held",
    "rigid wings; wake along the stream, what its direction and roll-up leave open counted as"
    " spread",
    "bank history: airspeed and pitch attitude held by the rotors, loads quasi-steady; where yaw is"
    " not held, they answer side velocity, roll and yaw rate midway between rotors that hold their"
    " speed and rotors that hold their torque, and how it ends is said where all within that lead"
    " there",
)
NO_SLIPSTREAM = "no slipstream but in the full trim"
WITH_SECTIONS = (
    "stall and profile drag by the file's sections, strip by strip; with a strip past its stall all"
    " that they change in a moment or a rate counts in its ±; in the bank history yaw rate and the"
    " swing of the tips do not change them"
)
WITHOUT_SECTIONS = "no section in the file: neither stall nor profile drag is known"


@dataclass(frozen=True)
class RollPlan:
    """What ``roll`` is asked for.

    Attributes
    ----------
    air : airspeed and density of the map
    base_deg : symmetric fold that commands start from [deg]
    step_deg : step of the map's folds [deg]
    airspeeds : of the table [m/s]; eight around the map's where empty
    target : folds of the bank history; the strongest pair where None
    duration : of the bank history [s]
    grid : the lattice
    thrust : whose slipstream blows over the wings
    """

    air: Air
    base_deg: float = 0.0
    step_deg: float = 15.0
    airspeeds: tuple[float, ...] = ()
    target: FoldAngles | None = None
    duration: float = 4.0
    grid: Grid = field(default_factory=Grid)
    thrust: Thrust = None


def map_folds(low: float, high: float, step: float, base: float) -> list[float]:
    """Folds of the map: multiples of the step within the limits, the limits, and the base."""
    inside = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return [float(f) for f in np.unique(np.concatenate([[low, high, base], inside]))]


def roll_study(craft: Biplane, plan: RollPlan, progress: Progress = silent) -> RollStudy:
    """Everything about rolling by folding.

    Raises
    ------
    InputRefused : no [mass], no tips, or a fold beyond its limits
    ComputationFailed : the wings cannot carry the craft at this airspeed
    """
    return kept_answer(
        RollStudy, [craft], ("roll", plan), lambda: _Study(craft, plan, progress).result()
    )


class _Study:
    """One study's craft, its coarser lattice for errors, and its flight conditions."""

    def __init__(self, craft: Biplane, plan: RollPlan, progress: Progress) -> None:
        self.craft, self.plan, self.progress = craft, plan, progress
        self.conditions = FlightConditions(craft, plan.air.density, plan.grid)
        self.slipstreams = Slipstreams(craft, plan.thrust, self.conditions)
        self.at_base = FoldAngles.symmetric(plan.base_deg)
        self.plain = FoldingCraft(craft, plan.grid, charted="all folds")
        self.rough = (
            FoldingCraft(craft, coarser(plan.grid), strip_grid=coarser(SECTION_GRID))
            if self.slipstreams.is_on
            else FoldingCraft(craft, coarser(plan.grid), strips_of=self.plain)
        )
        self.folding = self.blown(plan.air.airspeed)
        self.base = flown(self.folding, self.at_base, plan.air)
        self.moments = RollMoments(
            craft.source_name, plan.grid, self.base, plan.base_deg, self.blown,
            lambda airspeed: self.slipstreams.over(self.rough, self.at_base, airspeed),
        )  # fmt: skip

    def blown(self, airspeed: float) -> FoldingCraft:
        """The craft with the base fold's slipstream, where one is asked for."""
        return self.slipstreams.over(self.plain, self.at_base, airspeed)

    def result(self) -> RollStudy:
        plan, folding = self.plan, self.folding
        self.progress("map")
        folds = map_folds(*folding.range_deg, plan.step_deg, plan.base_deg)
        grid = roll_map(folding, plan.air, folds, plan.base_deg, self.base)
        self.progress("pairs")
        strongest = grid.strongest()
        made = partial(self.moments.pair, air=plan.air)
        strong = None if strongest is None else made(FoldAngles(*strongest))
        alike = () if strong is None else self.moments.alike(grid, strong, plan.air)
        pure = [made(p.folds) for p in pure_roll_pairs(folding, grid, plan.air)]
        least = [made(p.folds) for p in least_yaw_pairs(folding, grid, plan.air)]
        self.progress("commands")
        reach = max(abs(end - plan.base_deg) for end in folding.range_deg)
        steps = np.arange(-np.floor(reach / 5.0), np.floor(reach / 5.0) + 1) * 5.0
        commands = roll_commands(folding, plan.air, plan.base_deg, [float(s) for s in steps])
        self.progress("airspeeds")
        speeds = plan.airspeeds or default_airspeeds(plan.air.airspeed)
        rows = tuple(self.airspeed_row(speed, strongest) for speed in speeds)
        turned = self.reversals(rows, strongest)
        self.progress("tips against rotors")
        target = plan.target or (FoldAngles(*strongest) if strongest else None)
        rotors = self.rotors(speeds, target)
        self.progress("bank history")
        history = self.history(target)
        middle = folding.symmetric(plan.base_deg)
        own = WITH_SECTIONS if folding.has_sections else WITHOUT_SECTIONS
        margin = None if strong is None else strong.values["stall_margin_deg"]
        return RollStudy(
            title=self.craft.title,
            state={
                "airspeed_m_s": plan.air.airspeed,
                "density_kg_m3": plan.air.density,
                "base_fold_deg": plan.base_deg,
            },
            modelling=self.base.modelling,
            reference=reference_document(middle.loads.lattice),
            base=flight_document(middle, self.base),
            map=map_document(grid),
            strongest=strong,
            strongest_not_known_apart=alike,
            pure_roll_pairs=tuple(row for row in pure if row is not None),
            least_yaw_pairs=tuple(row for row in least if row is not None),
            commands=tuple(self.moments.with_errors(one, plan.air) for one in commands),
            airspeeds=rows,
            reversals=turned,
            rotors=rotors,
            bank_history=history,
            slipstream=self.slipstreams.row(
                self.plain.strips_at(self.at_base), self.at_base, plan.air.airspeed, self.base.alpha
            ),
            assumptions=(
                *ASSUMPTIONS,
                SLIPSTREAM if self.slipstreams.is_on else NO_SLIPSTREAM,
                own,
            ),
            findings=(
                *self.findings(grid, turned, history),
                *stalled_findings({"the strongest pair of folds": margin}),
                *self.left_out(rows),
            ),
        )

    def airspeed_row(self, speed: float, strongest: tuple[float, float] | None) -> AirspeedRow:
        """Authority at one airspeed, level flight throughout."""
        plan, air = self.plan, Air(speed, self.plan.air.density)
        try:
            folding = self.blown(speed)
        except FoldspanError as error:
            return AirspeedRow(speed, reason=str(error))
        base = level_flight(folding.symmetric(plan.base_deg), speed, air.density)
        if base is None:
            return AirspeedRow(speed, reason=TOO_SLOW)
        found = {
            key: "no such folds" if folds is None else self.moments.authority(folds, air)
            for key, folds in self.settings(strongest).items()
        }
        flown = {key: at for key, at in found.items() if isinstance(at, Authority)}
        return AirspeedRow(
            airspeed_m_s=speed,
            alpha_deg=float(np.degrees(base.alpha)),
            strongest=flown.get("strongest"),
            both_apart_20_deg=flown.get("both_apart_20_deg"),
            port_down_20_deg=flown.get("port_down_20_deg"),
            not_flown={key: at for key, at in found.items() if isinstance(at, str)},
        )

    def settings(self, strongest: tuple[float, float] | None) -> dict[str, FoldAngles | None]:
        """Folds of the commands whose authority is reported; None where there are none."""
        base = self.plan.base_deg
        return {
            "strongest": FoldAngles(*strongest) if strongest else None,
            "both_apart_20_deg": commanded(base, "both tips apart", SMALL_DEG),
            "port_down_20_deg": commanded(base, "port tip alone", -SMALL_DEG),
        }

    def reversals(
        self, rows: Sequence[AirspeedRow], strongest: tuple[float, float] | None
    ) -> tuple[Reversal, ...]:
        """Airspeeds at which a command of the rows changes its way."""
        found = self.settings(strongest)
        commands = {key: folds for key, folds in found.items() if folds is not None}

        def at(what: Callable[[FoldAngles, Air], float], command: str, airspeed: float) -> float:
            return what(commands[command], Air(airspeed, self.plan.air.density))

        return reversals(
            rows, partial(at, self.moments.moment_at), partial(at, self.moments.width_at)
        )

    def left_out(self, rows: Sequence[AirspeedRow]) -> list[Finding]:
        """Airspeeds at which the slipstream left out changes the rolling moment that is printed."""
        found = []
        command = commanded(self.plan.base_deg, "both tips apart", SMALL_DEG)
        for row in rows:
            blown = self.slipstreams.left_out(self.plain, self.at_base, row.airspeed_m_s)
            if blown is None:
                continue
            air, own = Air(row.airspeed_m_s, self.plan.air.density), row.both_apart_20_deg
            if row.alpha_deg is None:  # the wings cannot carry it, without slipstream
                if level_flight(blown.at(self.at_base), air.airspeed, air.density) is not None:
                    found.append(carried_finding(air.airspeed))
            elif own is not None and command is not None:
                plain = own.rolling_moment_N_m
                what = f"the rolling moment of both tips {SMALL_DEG:g} deg apart"
                found += left_out_finding(what, plain, setting_moment(blown, command, air), plain)
        return gathered(found)

    def rotors(self, speeds: Sequence[float], command: FoldAngles | None) -> Rotors | None:
        """Tips at a command's folds against rotors, from hover to the table's fastest airspeed."""
        if not has_trim(self.craft) or command is None:
            return None
        asked = np.unique(np.round(np.append(np.arange(0.0, max(speeds), 1.0), speeds), 3))
        try:
            wings = self.plain.at(command)
            both = TipsAgainstRotors(self.conditions, self.at_base, command, wings)
            found = [both.at(float(speed)) for speed in asked]
            equal = both.equal(found)
        except FoldspanError as error:
            return Rotors(Modelling.ROTORS, reason=str(error))
        return Rotors(
            modelling=Modelling.ROTORS,
            left_deg=command.left_deg,
            right_deg=command.right_deg,
            equal=tuple(equal),
            words=stronger_words(found),
            airspeeds=tuple(found),
        )

    def history(self, target: FoldAngles | None) -> BankHistory:
        """Bank against time, or the reason why there is none."""
        if self.craft.actuator is None:
            return BankHistory(reason=f"{self.craft.source_name}: [actuator] is missing")
        if target is None:
            return BankHistory(reason="no pair of folds has a value")
        start = FoldAngles.symmetric(self.plan.base_deg)
        try:
            done = manoeuvre(self.folding, self.craft.actuator, start, target, self.plan.air)
            return self.flown_history(done, target)
        except FoldspanError as error:
            return BankHistory(reason=str(error))

    def flown_history(self, done: Manoeuvre, target: FoldAngles) -> BankHistory:
        plan, last = self.plan, done.passages[-1]
        rate = steady_roll_rate(last.craft, last.flight)
        aid = self.yaw_aid(done)
        moment = float(last.flight.wrench[3:] @ roll_axis(last.flight.alpha))
        width = self.moments.width_at(target, plan.air)
        ways: list[tuple[str, Yaw | YawAid, bool]] = [
            ("sideslip held at zero", "held", True),
            ("the same, swing of the tips left out", "held", False),
            ("free in yaw", "free", True),
            ("rotors aid yaw", aid, True),
        ]
        first = done.passages[0]
        rotors = rotor_rates(self.craft, first.craft, first.flight)
        rows = []
        for name, yaw, swings in ways:
            answers = [rotors.rates]
            if yaw != "held" and rotors.known and rotors.rates.any():
                answers += [rotors.rates + way for way in rotors.ways]
            flown, *others = (
                roll_response(
                    done.passages, done.path, plan.duration, yaw, swings=swings, rotors=rates
                )
                for rates in answers
            )
            missed = self.sideslip_findings(last.flight.alpha, peak_sideslip_deg(flown))
            rows.append(
                history_row(
                    name, flown, moment, width, loads_hold=not missed,
                    rotors_decide=(yaw != "held" and not rotors.known)
                    or any(ending(one) != ending(flown) for one in others),
                )
            )  # fmt: skip
        return BankHistory(
            from_deg=plan.base_deg,
            left_deg=target.left_deg,
            right_deg=target.right_deg,
            duration_s=plan.duration,
            folding_time_s=done.path.duration,
            stops_s=dict(done.path.stops),
            mean_fold_speed_deg_s=_mean_speed(done),
            steady_roll_rate_deg_s=None if rate is None else float(np.degrees(rate)),
            yaw_aid=YawAidRow(aid.stiffness, aid.damping, aid.lowest, aid.highest),
            histories=tuple(rows),
        )

    def yaw_aid(self, done: Manoeuvre) -> YawAid:
        """The soft yaw control, held to what the rotors can give in the trim it starts from."""
        soft = soft_yaw_aid(float(done.passages[0].craft.masses.inertia[2, 2]))
        if not has_trim(self.craft):
            return soft
        trim = self.conditions.at(done.start, self.plan.air.airspeed, Modelling.ROTORS)
        if trim is None or trim.rotors is None:
            return soft
        return replace(soft, lowest=trim.rotors.yaw.lowest, highest=trim.rotors.yaw.highest)

    def findings(
        self, grid: RollMap, turned: Sequence[Reversal], history: BankHistory
    ) -> list[Finding]:
        alphas = grid.values["alpha_deg"]
        known = alphas[np.isfinite(alphas)]
        state = FlightState(alpha=np.radians(known), airspeed=self.plan.air.airspeed)
        found = lattice_warnings(self.folding.symmetric(self.plan.base_deg).loads.lattice)
        found += state_warnings(state)
        slips = [one.peak_sideslip_deg for one in history.histories or ()]
        alpha = float(np.radians(np.median(known))) if known.size else 0.0
        found += self.sideslip_findings(alpha, max(slips, default=0.0))
        return gathered(found) + roll_findings(self.plan.duration, turned, history)

    def sideslip_findings(self, alpha: float, sideslip_deg: float) -> list[Finding]:
        """Whether the tables of the base fold miss what fins meet in sideslip."""
        base = self.folding.symmetric(self.plan.base_deg).loads
        return sideslip_findings(self.craft, base, alpha, sideslip_deg)


def default_airspeeds(middle: float) -> tuple[float, ...]:
    """Eight airspeeds from 0.7 to 1.75 times the given one [m/s]."""
    return tuple(round(float(v), 2) for v in middle * np.linspace(0.7, 1.75, 8))


def map_document(grid: RollMap) -> RollMapDocument:
    """The map: fields by name, rows port folds, columns starboard folds."""
    document: Any = {
        "left_deg": grid.left_deg.tolist(),
        "right_deg": grid.right_deg.tolist(),
        **{name: grid.values[name].tolist() for name in FIELDS},
        "joined": grid.joined.tolist(),
        "failures": [
            {"left_deg": left, "right_deg": right, "reason": reason}
            for (left, right), reason in grid.failures.items()
        ],
    }
    return cast(RollMapDocument, document)


def soft_yaw_aid(inertia: float) -> YawAid:
    """Yaw control of 4 rad/s and 0.7 of critical damping on the craft's inertia (common practice
    for a small craft's outer loop)."""
    return YawAid(inertia * YAW_AID_RAD_S**2, 2.0 * 0.7 * inertia * YAW_AID_RAD_S)


def _mean_speed(done: Manoeuvre) -> float:
    travels = {
        Side.PORT: abs(done.end.left_deg - done.start.left_deg),
        Side.STARBOARD: abs(done.end.right_deg - done.start.right_deg),
    }
    side = max(travels, key=lambda s: travels[s])
    time = done.path.stops[side]
    return travels[side] / time if time > 0.0 else 0.0

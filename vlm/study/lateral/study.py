"""Lateral stability against fold: the answer of ``foldspan lateral``."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import FoldspanError
from vlm.findings import Finding, gathered
from vlm.flight.craft.body_turning import volume_in_yaw
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight, level_flight
from vlm.flight.craft.model_spread import corner_spread
from vlm.flight.craft.modelling import Modelling
from vlm.flight.craft.rotor_slopes import rotor_slopes
from vlm.flight.craft.section_change import SECTION_GRID
from vlm.flight.craft.section_slopes import in_stability_axes, section_margin, section_slopes
from vlm.flight.craft.stalled import left_open
from vlm.flight.motion.dihedral_effect import (
    NeutralFold,
    dihedral_effect,
    dihedral_shares,
    neutral_folds,
    wake_turn,
)
from vlm.flight.motion.roll_authority import TOO_SLOW, Air
from vlm.flight.trim.condition import FlightConditions
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice_warnings import lattice_warnings
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState
from vlm.progress import Progress, silent
from vlm.study.kept_answers import kept_answer
from vlm.study.lateral.modes import Crafts, aid_row, growing, mode_rows, setting_modes
from vlm.study.lateral.results import (
    NOT_KNOWN,
    Derivatives,
    FoldRow,
    LateralStudy,
    NeutralFoldRow,
    SettingModes,
    SharesRow,
)
from vlm.study.level_flights import flown, stalled_findings, too_slow_findings
from vlm.study.point.document import reference_document
from vlm.study.point.errors import coarser, half_width
from vlm.study.point.slipstream import (
    SLIPSTREAM,
    SlipstreamRow,
    Slipstreams,
    Thrust,
    carried_finding,
    left_out_finding,
)
from vlm.study.point.validity import state_warnings
from vlm.verdicts import known_sign, verdict

NAMES = ("CY_beta", "Cl_beta", "Cn_beta", "CY_p", "Cl_p", "Cn_p", "CY_r", "Cl_r", "Cn_r")
WITH_ERRORS = ("Cl_beta", "Cn_beta", "Cl_p")
BESIDE_A_ROOT = 2.0
"""Distance from a root at which the sign must be known, over the root's half-width [1]."""
FROM_CONTACT_DEG = 1.0
"""Roots are looked for up to so far from a fold at which a tip touches [deg]."""

CHARTED_FROM = 3
"""Folds from which on a chart takes fewer solves than they and the search for neutral ones."""
ASSUMPTIONS = (
    "derivatives per radian about the stated moment point, wake along the stream; they and the"
    " modes hold the drag areas of the file too, at their places, which have no lift: the turning"
    " moment of a long body, nose away from the wind by about 2 q volume per radian, is left out",
    "± is the lattice's error and what the wake's direction and roll-up leave open; where a tip"
    " touches, or nearly does, also what an open or closed corner changes",
    "modes: level, wing-borne flight, thrust along the body's x axis; no lag of the wake (no"
    " derivatives with acceleration)",
)
WITH_ROTORS = (
    "controls fixed: the rotors' thrust falls with the air along their axes, by speed and by"
    " turning, midway between rotors that hold their speed and rotors that hold their torque; the ±"
    " of modes holds both; gyroscopic moments and what their thrust changes in the slipstream are"
    " left out",
    "derivatives with sideslip and modes hold the rotors' forces across their axes, by blade"
    " elements in a wind that is the same all over the disc: rotors ahead take from the stiffness"
    " in yaw and pitch; half of that, an estimate, counts in the ±; moments about a hub across its"
    " axis are left out",
)
WITHOUT_ROTORS = (
    "controls fixed; no rotors in the file: thrust stays as it is, without the damping of speed,"
    " pitch and yaw that rotors give, and without what rotors ahead take from the stiffness in yaw"
    " and pitch",
)
NO_SLIPSTREAM = "slipstream left out"
WITH_SECTIONS = (
    "lift slope, profile drag and stall by the file's sections, strip by strip; with a strip past"
    " its stall all that they change in a derivative counts in its ±"
)
WITHOUT_SECTIONS = "no section in the file: neither stall nor profile drag is known"


@dataclass(frozen=True)
class LateralPlan:
    """What ``lateral`` is asked for.

    Attributes
    ----------
    air : airspeed and density
    folds_deg : symmetric folds [deg]
    alphas_deg : angles of attack of the table [deg]
    shares_deg : folds at which Cl_beta is taken apart [deg]
    airspeeds : of the modes [m/s]
    grid : the lattice
    thrust : whose slipstream blows over the wings
    """

    air: Air
    folds_deg: tuple[float, ...]
    alphas_deg: tuple[float, ...] = (0.0, 4.0, 8.0)
    shares_deg: tuple[float, ...] = ()
    airspeeds: tuple[float, ...] = ()
    grid: Grid = field(default_factory=Grid)
    thrust: Thrust = None


def dihedral_words(value: float, half_width: float) -> str:
    """The sign of the dihedral effect in words; ± is error and spread together."""
    return verdict(value, half_width, "unstable", "stable", "none")


def lateral_study(craft: Biplane, plan: LateralPlan, progress: Progress = silent) -> LateralStudy:
    """Everything about lateral stability against fold.

    Raises
    ------
    InputRefused : no [mass], or a fold beyond its limits
    ComputationFailed : the wings cannot carry the craft at this airspeed
    """
    return kept_answer(
        LateralStudy, [craft], ("lateral", plan), lambda: _Study(craft, plan, progress).result()
    )


class _Study:
    """One study's craft, its coarser lattice for errors, and its flight conditions."""

    def __init__(self, craft: Biplane, plan: LateralPlan, progress: Progress) -> None:
        self.craft, self.plan, self.progress = craft, plan, progress
        self.folding = FoldingCraft(
            craft, plan.grid, sideslip=True,
            charted="like folds" if len(plan.folds_deg) >= CHARTED_FROM else "none",
        )  # fmt: skip
        self.rough = FoldingCraft(craft, coarser(plan.grid), sections=False, sideslip=True)
        self.conditions = FlightConditions(craft, plan.air.density, plan.grid)
        self.slipstreams = Slipstreams(craft, plan.thrust, self.conditions)
        self.crafts = Crafts(self.folding, self.rough, self.slipstreams)
        self.rough_strips = FoldingCraft(
            craft, coarser(plan.grid), sideslip=True, strip_grid=coarser(SECTION_GRID)
        )

    def at(self, fold: float) -> FoldedCraft:
        """The craft at a symmetric fold, in its own slipstream where one is asked for."""
        return self.crafts.at(FoldAngles.symmetric(fold), self.plan.air.airspeed)

    def result(self) -> LateralStudy:
        plan, air = self.plan, self.plan.air
        first = self.folding.symmetric(plan.folds_deg[0])
        self.progress("derivatives")
        rows = tuple(self.row(fold) for fold in plan.folds_deg)
        self.progress("neutral fold")
        neutral = tuple(self.neutral())
        self.progress("shares")
        shares = tuple(self.shares(fold) for fold in plan.shares_deg)
        self.progress("modes")
        speeds = plan.airspeeds or (air.airspeed,)
        modes = mode_rows(self.crafts, plan.folds_deg, speeds, air.density)
        unlike = tuple(
            setting_modes(self.crafts, folds, air.airspeed, air.density, name)
            for name, folds in unlike_folds(self.craft).items()
        )
        self.progress("rotors' control")
        aid = tuple(aid_row(self.crafts, self.conditions, fold, air) for fold in plan.shares_deg)
        has = self.folding.has_sections
        return LateralStudy(
            title=self.craft.title,
            state={
                "airspeed_m_s": air.airspeed,
                "density_kg_m3": air.density,
                "alphas_deg": list(plan.alphas_deg),
            },
            modelling=Modelling.of_wings(sections=has, blown=self.slipstreams.is_on),
            slipstream=self.blows(rows),
            reference=reference_document(first.loads.lattice),
            folds=rows,
            neutral_folds=neutral,
            shares=shares,
            modes=modes,
            unlike_folds=unlike,
            rotors_must_add=aid,
            assumptions=(
                *ASSUMPTIONS,
                *(WITH_ROTORS if self.craft.rotors else WITHOUT_ROTORS),
                SLIPSTREAM if self.slipstreams.is_on else NO_SLIPSTREAM,
                WITH_SECTIONS if has else WITHOUT_SECTIONS,
            ),
            findings=tuple(
                self.findings(rows, (*modes, *unlike)) + self.left_out(shares) + self.carried(rows)
            ),
        )

    def blows(self, rows: Sequence[FoldRow]) -> SlipstreamRow | None:
        """What blows at the fold that is nearest to flat and flown."""
        flown_at = {
            row.fold_deg: row.level.alpha_deg
            for row in rows
            if row.level is not None and row.level.alpha_deg is not None
        }
        if not flown_at:
            return None
        fold = min(flown_at, key=abs)
        folds = FoldAngles.symmetric(fold)
        return self.slipstreams.row(
            self.folding.strips_at(folds), folds, self.plan.air.airspeed,
            float(np.radians(flown_at[fold])),
        )  # fmt: skip

    def row(self, fold: float) -> FoldRow:
        """Derivatives at one fold: at every angle of attack asked for, and in level flight."""
        try:
            craft = self.at(fold)
            self.rough.symmetric(fold)
        except FoldspanError as error:
            return FoldRow(fold, reason=str(error))
        air = self.plan.air
        flight = level_flight(craft, air.airspeed, air.density)
        level = Derivatives(reason=TOO_SLOW)
        if flight is not None:
            level = replace(
                self.derivatives(fold, flight.alpha),
                stall_margin_deg=float(np.degrees(flight.stall_margin)),
            )
        alphas = tuple(
            self.derivatives(fold, float(np.radians(alpha))) for alpha in self.plan.alphas_deg
        )
        return FoldRow(fold, craft.loads.lattice.is_joined, alphas, level)

    def derivatives(self, fold: float, alpha: float) -> Derivatives:
        """Derivatives of lattice, sections, drag areas and rotors with error and spread.

        The rotors' part is known for those with sideslip.
        """
        craft, air = self.at(fold), self.plan.air
        loads, other = craft.loads, self.rough.symmetric(fold).loads
        state = FlightState(alpha=alpha)
        own = derivatives(loads, state)["body"]
        lift, changes = section_slopes(craft, alpha, air.airspeed, air.density)
        dragged = craft.drag_slopes(alpha)
        rotors = rotor_slopes(self.craft, craft, alpha, air.airspeed, air.density)
        body = {
            name: float(own[name]) + changes[name] + dragged[name] + rotors.get(name, (0.0,))[0]
            for name in NAMES
        }
        rough = derivatives(other, state)["body"]
        errors = {
            name: half_width(own[name], rough[name], abs(own[name]), self.plan.grid)
            + loads.errors.get(name, 0.0)
            for name in WITH_ERRORS
        }
        folds = FoldAngles.symmetric(fold)
        coarse = self.slipstreams.over(self.rough_strips, folds, air.airspeed).at(folds)
        _, there = section_slopes(coarse, alpha, air.airspeed, air.density)
        for name in WITH_ERRORS:
            here = changes[name]
            errors[name] += half_width(here, there[name], abs(here), self.plan.grid)
        spread = self.spread(fold, own, state)
        margin = section_margin(craft, alpha, air.airspeed, air.density)
        for name in WITH_ERRORS:
            spread[name] += left_open(margin, changes[name]) + rotors.get(name, (0.0, 0.0))[1]
        widths = {name: errors[name] + spread[name] for name in WITH_ERRORS}
        return Derivatives(
            alpha_deg=float(np.degrees(alpha)),
            CL=float(coefficients(loads, state).CL) + lift,
            body=body,
            stability=in_stability_axes(body, alpha),
            errors=errors,
            spread=spread,
            dihedral_effect=dihedral_words(body["Cl_beta"], widths["Cl_beta"]),
            weathercock=verdict(body["Cn_beta"], widths["Cn_beta"], "stable", "unstable", "none"),
            body_turns_yaw_m3=volume_in_yaw(body["Cn_beta"], widths["Cn_beta"], loads.reference),
            modelling=craft.modelling,
        )

    def spread(self, fold: float, own: Mapping[str, float], state: FlightState) -> dict[str, float]:
        """What the wake's direction, and a corner that touches or nearly does, leave open."""
        craft = self.folding.symmetric(fold)
        wake = wake_spread(craft.loads, state)

        def slopes(one: FoldedCraft) -> Floats:
            found = own if one is craft else derivatives(one.loads, state)["body"]
            return np.array([float(found[name]) for name in WITH_ERRORS])

        corners = np.broadcast_to(corner_spread(craft, slopes), len(WITH_ERRORS))
        return {
            name: float(wake.get(name, 0.0)) + float(corner)
            for name, corner in zip(WITH_ERRORS, corners, strict=True)
        }

    def effect(self, fold: float) -> float:
        """Cl_beta in level flight; NaN where none is flown, or a tip touches."""
        air = self.plan.air
        try:
            craft = self.at(fold)
        except FoldspanError:
            return float("nan")
        if craft.loads.lattice.is_joined:
            return float("nan")  # another branch: what lies between has no root in common
        flight = level_flight(craft, air.airspeed, air.density)
        if flight is None:
            return float("nan")
        return self.whole_effect(craft, flight.alpha)

    def whole_effect(self, craft: FoldedCraft, alpha: float) -> float:
        """Cl_beta of lattice, sections, drag areas and rotors."""
        air = self.plan.air
        _, changes = section_slopes(craft, alpha, air.airspeed, air.density)
        inviscid, _ = dihedral_effect(craft.loads, alpha)
        rotors, _ = rotor_slopes(self.craft, craft, alpha, air.airspeed, air.density)["Cl_beta"]
        return inviscid + changes["Cl_beta"] + craft.drag_slopes(alpha)["Cl_beta"] + rotors

    def neutral(self) -> list[NeutralFoldRow]:
        """Folds without dihedral effect in level flight.

        Their half-width is the error of the lattice and what the model leaves open.
        """
        folds = sorted({*self.plan.folds_deg, *_dense(self.plan.folds_deg)})
        for fold in [fold for fold in folds if self.touches(fold)]:
            beside = (fold - FROM_CONTACT_DEG, fold + FROM_CONTACT_DEG)
            folds = sorted({*folds, *(one for one in beside if folds[0] < one < folds[-1])})
        return [self.neutral_row(one) for one in neutral_folds(self.effect, folds)]

    def touches(self, fold: float) -> bool:
        """Whether a tip touches another wing at a fold."""
        try:
            return self.folding.symmetric(fold).loads.lattice.is_joined
        except FoldspanError:
            return False

    def neutral_row(self, neutral: NeutralFold) -> NeutralFoldRow:
        fold, slope = neutral.fold_deg, neutral.slope
        width, open_to = (part / abs(slope) for part in self.effect_widths(fold, slope))
        whole, flight = width + open_to, self.flown(fold)
        loads, alpha = self.folding.symmetric(fold).loads, flight.alpha
        return NeutralFoldRow(
            fold_deg=fold,
            half_width_deg=whole,
            interval_deg=(fold - whole, fold + whole),
            lattice_half_width_deg=width,
            wake_turn_moves_by_deg=wake_turn(loads, alpha) / slope,
            slope_per_rad_per_deg=slope,
            alpha_deg=float(np.degrees(alpha)),
            stable=self.stable_side(neutral, whole),
            warnings=tuple(one.sentence() for one in lattice_warnings(loads.lattice)),
        )

    def effect_widths(self, fold: float, slope: float) -> tuple[float, float]:
        """Half-widths of Cl_beta near a root, of the lattice and of what the model leaves open.

        Parameters
        ----------
        slope : of Cl_beta with the fold [1 per rad per deg]
        """
        alpha, craft, air = self.flown(fold).alpha, self.at(fold), self.plan.air
        loads = self.folding.symmetric(fold).loads
        fine, _ = dihedral_effect(loads, alpha)
        coarse, _ = dihedral_effect(self.rough.symmetric(fold).loads, alpha)
        width = half_width(fine, coarse, abs(slope) * 10.0, self.plan.grid)
        own = derivatives(loads, FlightState(alpha=alpha))["body"]
        open_to = self.spread(fold, own, FlightState(alpha=alpha))["Cl_beta"]
        margin = section_margin(craft, alpha, air.airspeed, air.density)
        _, changes = section_slopes(craft, alpha, air.airspeed, air.density)
        rotors = rotor_slopes(self.craft, craft, alpha, air.airspeed, air.density)
        open_to = open_to + left_open(margin, changes["Cl_beta"]) + rotors["Cl_beta"][1]
        return float(width + loads.errors.get("Cl_beta", 0.0)), float(open_to)

    def stable_side(self, neutral: NeutralFold, half_width_deg: float) -> str:
        """Side of a root that is stable; not known where the sign beside it is not.

        Beyond a root strips may stall, and then what is left open outgrows what the slope makes.
        Near an end of the folds the sign there counts: what lies beyond is not flown.
        """
        if not np.isfinite(half_width_deg):
            return NOT_KNOWN  # the lattice is too coarse for it
        low, high = min(self.plan.folds_deg), max(self.plan.folds_deg)
        for sign in (-1.0, 1.0):
            beside = neutral.fold_deg + sign * BESIDE_A_ROOT * half_width_deg
            fold = min(max(beside, low), high)
            value = self.effect(fold)
            if not np.isfinite(value):
                continue
            if not known_sign(value, sum(self.effect_widths(fold, neutral.slope))):
                return NOT_KNOWN
        return "above" if neutral.slope < 0.0 else "below"

    def flown(self, fold: float) -> LevelFlight:
        """Level flight at a fold, in its slipstream where one is asked for."""
        folds, air = FoldAngles.symmetric(fold), self.plan.air
        return flown(self.slipstreams.over(self.folding, folds, air.airspeed), folds, air)

    def left_out(self, shares: Sequence[SharesRow]) -> list[Finding]:
        """How much of Cl_beta the slipstream left out would change, against the largest."""
        air, found = self.plan.air, []
        known = {row.fold_deg: row.total for row in shares if row.total is not None}
        size = max((abs(value) for value in known.values()), default=0.0)
        for fold, plain in known.items():
            folds = FoldAngles.symmetric(fold)
            blown = self.slipstreams.left_out(self.folding, folds, air.airspeed)
            flight = None
            if blown is not None:
                flight = level_flight(blown.at(folds), air.airspeed, air.density)
            if blown is None or flight is None:
                continue
            other = self.whole_effect(blown.at(folds), flight.alpha)
            found += left_out_finding("Cl_beta (share of the largest)", plain, other, size)
        return gathered(found)

    def too_slow(self, rows: Sequence[FoldRow]) -> list[Finding]:
        """Folds without level flight, and an airspeed that has it."""
        folds = [
            row.fold_deg for row in rows if row.level is not None and row.level.reason == TOO_SLOW
        ]
        slow = {f"{fold:g} deg": self.at(fold) for fold in folds}
        return too_slow_findings(slow, self.plan.air)

    def carried(self, rows: Sequence[FoldRow]) -> list[Finding]:
        """Folds that are too slow only because the slipstream is left out."""
        air, found = self.plan.air, []
        for row in rows:
            if row.level is None or row.level.reason != TOO_SLOW:
                continue
            folds = FoldAngles.symmetric(row.fold_deg)
            blown = self.slipstreams.left_out(self.folding, folds, air.airspeed)
            if blown is not None and level_flight(blown.at(folds), air.airspeed, air.density):
                found.append(carried_finding(air.airspeed))
        return gathered(found)

    def shares(self, fold: float) -> SharesRow:
        """Cl_beta in level flight taken apart."""
        air = self.plan.air
        try:
            flight, craft = self.flown(fold), self.at(fold)
            _, changes = section_slopes(craft, flight.alpha, air.airspeed, air.density)
            alpha = flight.alpha
            rotors = rotor_slopes(self.craft, craft, alpha, air.airspeed, air.density)
            shares = dihedral_shares(
                self.folding.engine, fold, alpha, changes["Cl_beta"],
                craft.drag_slopes(alpha)["Cl_beta"], rotors["Cl_beta"][0],
            )  # fmt: skip
        except FoldspanError as error:
            return SharesRow(fold, reason=str(error))
        return SharesRow(fold, float(np.degrees(flight.alpha)), **vars(shares))

    def findings(self, rows: Sequence[FoldRow], modes: Sequence[SettingModes]) -> list[Finding]:
        known = [row.level for row in rows if row.level is not None]
        alphas = [at.alpha_deg for at in known if at.alpha_deg is not None]
        found: list[Finding] = []
        for row in rows:
            if row.reason is None:
                found += lattice_warnings(self.folding.symmetric(row.fold_deg).loads.lattice)
        if alphas:
            speed = self.plan.air.airspeed
            found += state_warnings(FlightState(alpha=np.radians(alphas), airspeed=speed))
        found += self.too_slow(rows)
        found += stalled_findings(
            {f"{fold:g} deg": at.stall_margin_deg for fold, at in _levels(rows).items()}
        )
        return gathered(found) + growing(modes)


def _levels(rows: Sequence[FoldRow]) -> dict[float, Derivatives]:
    """Level flight by fold, where the wings carry the craft."""
    return {
        row.fold_deg: row.level for row in rows if row.level and row.level.alpha_deg is not None
    }


def unlike_folds(craft: Biplane) -> dict[str, FoldAngles]:
    """The file's configurations whose sides are folded unlike."""
    named = {name: one.folds for name, one in craft.configurations.items()}
    return {name: folds for name, folds in named.items() if not folds.is_symmetric}


def _dense(folds: Sequence[float]) -> list[float]:
    """Folds at every twelfth of the range, so that no root falls between two asked for."""
    return [float(f) for f in np.linspace(min(folds), max(folds), 13)]

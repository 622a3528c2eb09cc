"""Moments about the hinges at one fold, airspeed and load factor, and what they ask of a servo."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vlm.description.actuator import Actuator
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folded_craft import FoldedCraft
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import LevelFlight
from vlm.flight.craft.pull_ups import pull_ups
from vlm.flight.mechanism.drive_limits import servo_demand
from vlm.flight.mechanism.hinge_moments import (
    gust_swing,
    hinge_moments,
    steady_moment,
    steady_on_servos,
    worst_hinge,
    worst_moment,
)
from vlm.flight.motion.roll_authority import TOO_SLOW
from vlm.study.hinge.errors import hinge_half_widths
from vlm.study.hinge.results import HingeParts, MomentRow, ServoTorques
from vlm.study.hinge.slipstream import HingeSlipstream


@dataclass(frozen=True)
class Loading:
    """A flight whose moments are asked for.

    Attributes
    ----------
    met : the same flight by the angle of attack and the speed of the air that it meets
    before : the flight out of which it comes at once, so that tips swing beyond their moments; the
        swing errs as they do. None where the loads build up slowly
    """

    flight: LevelFlight
    met: LevelFlight
    before: LevelFlight | None = None


@dataclass(frozen=True)
class _Loaded:
    """Moments of one loading by hinge: parts, swings, worst ones and half-widths [N m]."""

    loading: Loading
    parts: Mapping[str, dict[str, float]]
    swings: Mapping[str, float]
    worst: Mapping[str, float]
    widths: Mapping[str, float]


@dataclass(frozen=True)
class LoadedHinges:
    """A craft at a fold whose moments about the hinges are asked for.

    Attributes
    ----------
    craft, rough : on the lattice and on a coarser one without sections
    """

    craft: FoldedCraft
    rough: FoldedCraft
    blowing: HingeSlipstream
    folds: FoldAngles
    actuator: Actuator

    @property
    def roll_rate(self) -> float:
        """The design roll rate [rad/s]."""
        return float(np.radians(self.actuator.design_roll_rate_deg_s))

    def filled(self, row: MomentRow, loadings: Sequence[Loading]) -> MomentRow:
        """A row with the largest moments of several loadings and what the servo needs for them.

        Each hinge has its own; load factor, angle and stall margin are those of the highest load
        factor.
        """
        highest = max(loadings, key=lambda one: one.flight.load_factor)
        loaded = [self._loaded(one) for one in loadings]
        hinges = {body: _largest(body, loaded) for body in self.craft.bodies}
        serves, limit = self.actuator.serves, self.actuator.hinge_moment_limit_N_m
        on_servos = [
            moment
            for one in loaded
            for each in steady_on_servos(self.craft, one.parts, serves).values()
            for moment in each
        ]
        demand = servo_demand(self.actuator, on_servos, self.actuator.friction)
        most = worst_hinge({body: one.reach_N_m for body, one in hinges.items()})
        width = hinges[most].half_width_N_m
        is_known = width is not None and np.isfinite(width)
        reach = hinges[most].reach_N_m if is_known else float("nan")
        needed = max(demand.raising, demand.lowering)
        return replace(
            row,
            reached_load_factor=highest.flight.load_factor,
            stall_margin_deg=float(np.degrees(highest.flight.stall_margin)),
            most_loaded_hinge=most,
            alpha_deg=float(np.degrees(highest.met.alpha)),
            hinges=hinges,
            servo=ServoTorques(demand.moment, demand.raising, demand.lowering, demand.holding),
            share_of_stall=needed / self.actuator.servo_stall_torque_N_m,
            share_of_hinge_limit=None if limit is None else reach / limit,
        )

    def _loaded(self, loading: Loading) -> _Loaded:
        craft, flight, before = self.craft, loading.flight, loading.before
        cellule = self.blowing.folding.engine.cellule
        parts = hinge_moments(craft, flight, self.roll_rate)
        widths = hinge_half_widths(craft, self.rough, cellule, loading.met, self.roll_rate)
        widths = self.blowing.widened(widths, craft, self.folds, flight)
        swings = dict.fromkeys(parts, 0.0)
        if before is not None:
            level = hinge_moments(craft, before, 0.0)
            swings = {body: gust_swing(one, level[body]) for body, one in parts.items()}
            widths = {body: 2.0 * width for body, width in widths.items()}
        worst = {body: worst_moment(one, swings[body]) for body, one in parts.items()}
        return _Loaded(loading, parts, swings, worst, widths)


def _largest(body: str, loaded: Sequence[_Loaded]) -> HingeParts:
    """The largest moment about a hinge, with a half-width within which it is, and each other."""
    sizes = np.array([abs(one.worst[body]) for one in loaded])
    widths = np.array([one.widths[body] for one in loaded])
    place = int(np.nanargmax(np.where(np.isfinite(sizes), sizes, -1.0)))
    one, size = loaded[place], sizes[place]
    half_width = np.max(sizes + widths) - size
    least = np.max(sizes - np.abs([one.swings[body] for one in loaded]) - widths)
    return HingeParts(
        load_factor=one.loading.flight.load_factor,
        **{f"{name}_N_m": value for name, value in one.parts[body].items()},
        steady_N_m=steady_moment(one.parts[body]),
        swing_N_m=one.swings[body],
        worst_N_m=one.worst[body],
        half_width_N_m=float(half_width),
        least_N_m=float(least) if np.isfinite(least) else None,
    )


def moment_row(
    rough: FoldingCraft,
    blowing: HingeSlipstream,
    actuator: Actuator,
    fold: float,
    airspeed: float,
    factor: float,
    density: float,
) -> MomentRow:
    """Moment about each hinge by part, largest up to a load factor, and the servo's need for it."""
    row = MomentRow(fold, airspeed, factor)
    folds = FoldAngles.symmetric(fold)
    try:
        craft = blowing.over(folds, airspeed).at(folds)
    except FoldspanError as error:
        return replace(row, reason=str(error))
    hinges = LoadedHinges(craft, rough.symmetric(fold), blowing, folds, actuator)
    way = pull_ups(craft, airspeed, density, factor, hinges.roll_rate)
    if not way:
        return replace(row, reason=TOO_SLOW)
    return hinges.filled(row, [Loading(flight, flight) for flight in way])

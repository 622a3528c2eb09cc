"""A scenario made ready: folds in radians, instants at which something changes, who acts when."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.description.motion import Scenario
from vlm.description.schedule import default_airspeed
from vlm.errors import InputRefused, nearest_name
from vlm.flight.simulation.bodies import SIDES
from vlm.flight.simulation.gusts import Gust, gust_of

NEVER = float("inf")
DEFAULT_DURATION = 4.0


@dataclass(frozen=True)
class Task:
    """What happens, and when.

    Attributes
    ----------
    name : of the scenario
    airspeed, duration : [m/s], [s]
    start : folds of port and starboard at the start [deg]
    target : folds they are commanded to go to; None without a command [deg]
    command_at : [s]
    schedule : airspeeds [m/s] and folds [rad] that the tips follow; None without
    holds_bank : whether the law holds the bank
    speed_to, speed_change : airspeed the law is commanded to reach [m/s], and the time of it [s]
    gust : None in still air
    jams : by side, fold at which its worm jams [rad]
    lets_go : by side, when its tips are let go; :data:`NEVER` else [s]
    battery, battery_at : voltage over the file's [1] from an instant on [s]
    lost, lost_at : place of the rotor that is lost, None for none, and when [s]
    """

    name: str
    airspeed: float
    duration: float
    start: FoldAngles
    target: FoldAngles | None = None
    command_at: float = 0.0
    schedule: tuple[Floats, Floats] | None = None
    holds_bank: bool = True
    speed_to: float | None = None
    speed_change: float = 5.0
    gust: Gust | None = None
    jams: Mapping[int, float] = field(default_factory=dict)
    lets_go: tuple[float, float] = (NEVER, NEVER)
    battery: float = 1.0
    battery_at: float = NEVER
    lost: int | None = None
    lost_at: float = NEVER

    @property
    def instants(self) -> tuple[float, ...]:
        """Times at which something changes, within the duration, rising [s]."""
        found = [self.command_at if self.target else 0.0, self.battery_at, self.lost_at]
        found += self.lets_go
        found += self.gust.instants if self.gust else ()
        if self.speed_to is not None:
            found += [self.command_at, self.command_at + self.speed_change]
        return tuple(sorted({t for t in found if 0.0 < t < self.duration}))

    @property
    def commanded(self) -> tuple[FoldAngles, ...]:
        """Folds that the tips are commanded: the target, or both ends of a schedule."""
        if self.target is not None:
            return (self.target,)
        if self.schedule is None:
            return ()
        folds = np.degrees(self.schedule[1])
        return tuple(FoldAngles.symmetric(float(one)) for one in (folds.min(), folds.max()))

    def passed_folds(self, side: int) -> list[float]:
        """Folds of a side that it holds, is commanded, or jams at [deg]."""
        pair = (self.start.left_deg, self.start.right_deg)
        folds = [pair[side]]
        if self.target is not None:
            folds.append((self.target.left_deg, self.target.right_deg)[side])
        if self.schedule is not None:
            folds += [float(f) for f in np.degrees(self.schedule[1])]
        if side in self.jams:
            folds.append(float(np.degrees(self.jams[side])))
        return folds

    def frees(self, side: int) -> bool:
        """Whether a side's tips are let go."""
        return self.lets_go[side] < self.duration

    def wanted_airspeed(self, time: float) -> float:
        """Airspeed that the law steers to [m/s]."""
        if self.speed_to is None:
            return self.airspeed
        share = min(1.0, max(0.0, (time - self.command_at) / self.speed_change))
        return self.airspeed + share * (self.speed_to - self.airspeed)


def task_of(craft: Biplane, scenario: Scenario) -> Task:
    """A scenario of a craft made ready.

    Raises
    ------
    InputRefused : a configuration or rotor that the file has not, or an airspeed's fold missing
    """
    airspeed = scenario.airspeed_m_s or default_airspeed(craft.schedule)
    start = FoldAngles(0.0, 0.0) if scenario.start is None else named(craft, scenario.start)
    schedule = None
    if scenario.fold_schedule:
        speeds, folds = np.array(scenario.fold_schedule).T
        schedule = speeds, np.radians(folds)
        start = FoldAngles.symmetric(float(np.interp(airspeed, speeds, folds)))
    gust = None
    if scenario.gust is not None:
        gust = gust_of(
            scenario.gust, scenario.gust_form, scenario.gust_speed_m_s,
            scenario.gust_at_s, scenario.gust_gradient_m, airspeed,
        )  # fmt: skip
    lets_go = tuple(scenario.let_go_at_s if scenario.let_go == side else NEVER for side in SIDES)
    return Task(
        name=scenario.name,
        airspeed=airspeed,
        duration=scenario.duration_s or DEFAULT_DURATION,
        start=start,
        target=_target(craft, scenario, start),
        command_at=scenario.command_at_s,
        schedule=schedule,
        holds_bank=scenario.holds_bank,
        speed_to=scenario.speed_to_m_s,
        speed_change=scenario.speed_change_s,
        gust=gust,
        jams=_jams(scenario, start),
        lets_go=(lets_go[0], lets_go[1]),
        battery=scenario.battery,
        battery_at=scenario.battery_at_s if scenario.battery < 1.0 else NEVER,
        lost=_lost(craft, scenario),
        lost_at=scenario.lost_at_s if scenario.lost_rotor else NEVER,
    )


BY_ANGLE = "angles are asked for by to_left_deg and to_right_deg (--to-left, --to-right)"


def named(craft: Biplane, name: str) -> FoldAngles:
    """Folds of a configuration.

    Raises
    ------
    InputRefused : the file has none of this name
    """
    if name not in craft.configurations:
        words = _unknown(craft, "configuration", name, craft.configurations)
        raise InputRefused(f"{words}; {BY_ANGLE}" if _is_number(name) else words)
    return craft.configurations[name].folds


def _is_number(name: str) -> bool:
    try:
        float(name)
    except ValueError:
        return False
    return True


def _target(craft: Biplane, scenario: Scenario, start: FoldAngles) -> FoldAngles | None:
    if scenario.to is not None:
        return named(craft, scenario.to)
    if scenario.to_left_deg is None and scenario.to_right_deg is None:
        return None
    left, right = scenario.to_left_deg, scenario.to_right_deg
    return FoldAngles(
        start.left_deg if left is None else left, start.right_deg if right is None else right
    )


def _jams(scenario: Scenario, start: FoldAngles) -> dict[int, float]:
    if scenario.jam is None:
        return {}
    side = SIDES.index(scenario.jam)
    own = (start.left_deg, start.right_deg)[side]
    fold = own if scenario.jam_deg is None else scenario.jam_deg
    return {side: float(np.radians(fold))}


def _lost(craft: Biplane, scenario: Scenario) -> int | None:
    if scenario.lost_rotor is None:
        return None
    names = [rotor.name for rotor in craft.rotors]
    if scenario.lost_rotor not in names:
        raise InputRefused(_unknown(craft, "rotor", scenario.lost_rotor, names))
    return names.index(scenario.lost_rotor)


def _unknown(craft: Biplane, kind: str, name: str, known: object) -> str:
    names = list(known)  # type: ignore[call-overload]
    nearest = nearest_name(name, names)
    hint = f"did you mean {nearest}?" if nearest else f"known are: {', '.join(names) or 'none'}"
    return f"{craft.source_name}: it has no {kind} {name!r}; {hint}"

"""How the craft is flown while its tips move: rotors' lag, the stabilising law, scenarios."""

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, FoldAngle, Number

NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
SideName = Literal["left", "right"]
Share = Annotated[float, Field(gt=0.0, le=1.0, allow_inf_nan=False)]
Ratio = Annotated[float, Field(ge=0.0, lt=1.0, allow_inf_nan=False)]


class StabilisingLaw(Block):
    """What the rotors are commanded to add to the thrust and the moments of the start.

    Without this block the thrusts of the start stay commanded. Gains are per unit of what is
    sensed, moments about the centre of gravity, body axes.
    """

    roll_angle_N_m_rad: NotNegative = 0.0
    """Rolling moment against bank [N m/rad]."""
    roll_rate_N_m_s_rad: NotNegative = 0.0
    """Rolling moment against roll rate [N m s/rad]."""
    roll_limit_N_m: Positive | None = None
    """Largest rolling moment that is asked for, either way [N m]."""
    pitch_angle_N_m_rad: NotNegative = 0.0
    """Pitching moment against the difference of pitch attitude from what is wanted [N m/rad]."""
    pitch_rate_N_m_s_rad: NotNegative = 0.0
    """Pitching moment against pitch rate [N m s/rad]."""
    pitch_limit_N_m: Positive | None = None
    """Largest pitching moment that is asked for, either way [N m]."""
    sideslip_N_m_rad: NotNegative = 0.0
    """Yawing moment that turns the nose into the wind [N m/rad]."""
    yaw_rate_N_m_s_rad: NotNegative = 0.0
    """Yawing moment against yaw rate [N m s/rad]."""
    yaw_limit_N_m: Positive | None = None
    """Largest yawing moment that is asked for, either way [N m]."""
    speed_N_s_m: NotNegative = 0.0
    """Thrust for each metre per second that the airspeed is too low [N s/m]."""
    height_rad_m: NotNegative = 0.0
    """Pitch attitude wanted for each metre that the craft is too low [rad/m]."""
    sink_rad_s_m: NotNegative = 0.0
    """Pitch attitude wanted for each metre per second of sinking [rad s/m]."""
    pitch_change_max_deg: Positive = 15.0
    """Largest change of the pitch attitude wanted, from that of the start [deg]."""


ONLY_WITH = {
    "command_at_s": ("to", "to_left_deg", "to_right_deg"),
    "speed_change_s": ("speed_to_m_s",),
    "gust_form": ("gust",),
    "gust_speed_m_s": ("gust",),
    "gust_gradient_m": ("gust",),
    "gust_at_s": ("gust",),
    "jam_deg": ("jam",),
    "let_go_at_s": ("let_go",),
    "battery_at_s": ("battery",),
    "lost_at_s": ("lost_rotor",),
}
"""Keys of a scenario that change nothing alone, and those of which one must stand beside them."""


class Scenario(Block):
    """One thing to happen to a craft in steady, level flight. What is left out does not happen."""

    name: str
    """What it is called [text]."""
    airspeed_m_s: Positive | None = None
    """Airspeed at the start; 12, or the nearest to it of [schedule], if left out [m/s]."""
    duration_s: Positive | None = None
    """How long it is followed [s]."""
    start: str | None = None
    """Configuration at the start; tips flat if left out [text]."""
    to: str | None = None
    """Configuration that the tips are commanded to fold to [text]."""
    to_left_deg: FoldAngle | None = None
    """Fold that the port side is commanded to go to [deg]."""
    to_right_deg: FoldAngle | None = None
    """Fold that the starboard side is commanded to go to [deg]."""
    command_at_s: NotNegative = 0.0
    """When the tips are commanded [s]."""
    holds_bank: bool = True
    """Whether the law's roll angle gain acts; false for a roll that is wanted [text]."""
    speed_to_m_s: Positive | None = None
    """Airspeed that the law is commanded to reach, in a straight line with time [m/s]."""
    speed_change_s: Positive = 5.0
    """Time of that change [s]."""
    fold_schedule: tuple[tuple[NotNegative, FoldAngle], ...] = ()
    """Fold of both sides against the airspeed flown: [airspeed [m/s], fold [deg]], rising."""
    follows_schedule: bool = False
    """Whether fold_schedule is the one that is worked out from the file's [schedule] [text]."""
    gust: Literal["vertical", "side"] | None = None
    """Direction of a gust, over the whole craft at once: upward, or from starboard [text]."""
    gust_form: Literal["one minus cosine", "step"] = "one minus cosine"
    """Its form along the way flown [text]."""
    gust_speed_m_s: Number = 0.0
    """Its highest speed; negative is downward, or from port [m/s]."""
    gust_gradient_m: Positive = 10.0
    """Way flown from its start to its highest speed [m]."""
    gust_at_s: NotNegative = 0.0
    """When it starts [s]."""
    jam: SideName | None = None
    """Side whose worm stands still from jam_deg on [text]."""
    jam_deg: FoldAngle | None = None
    """Fold at which it jams; where the side stands at the start if left out [deg]."""
    let_go: SideName | None = None
    """Side whose tips no longer have a gear from let_go_at_s on [text]."""
    let_go_at_s: NotNegative = 0.0
    """When they are let go [s]."""
    battery: Share = 1.0
    """Voltage of the battery from battery_at_s on, over that of the file [1]."""
    battery_at_s: NotNegative = 0.0
    """When it sags [s]."""
    lost_rotor: str | None = None
    """Rotor that gives no thrust from lost_at_s on [text]."""
    lost_at_s: NotNegative = 0.0
    """When it is lost [s]."""

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        speeds = [speed for speed, _ in self.fold_schedule]
        if any(b <= a for a, b in pairwise(speeds)) or len(speeds) == 1:
            raise ValueError("fold_schedule needs two airspeeds or more, each above the last")
        if self.fold_schedule and (self.to or self.to_left_deg is not None
                                   or self.to_right_deg is not None):  # fmt: skip
            raise ValueError("tips follow either fold_schedule or a command (to, to_left_deg)")
        if self.follows_schedule and (self.fold_schedule or self.to or self.to_left_deg is not None
                                      or self.to_right_deg is not None):  # fmt: skip
            raise ValueError(
                "tips follow either the file's schedule (follows_schedule), or fold_schedule, or a"
                " command (to, to_left_deg)"
            )
        if self.to and (self.to_left_deg is not None or self.to_right_deg is not None):
            raise ValueError("give either to, a configuration, or to_left_deg and to_right_deg")
        for key, partners in ONLY_WITH.items():
            if self._states(key) and not any(map(self._states, partners)):
                raise ValueError(f"{key} is given without {', '.join(partners)}; leave it out")
        if self.gust is not None and self.gust_speed_m_s == 0.0:
            raise ValueError("gust_speed_m_s = 0; it must be a speed, upward or down")
        return self

    def _states(self, key: str) -> bool:
        """Whether a key says something else than what holds without it."""
        return bool(getattr(self, key) != type(self).model_fields[key].default)


class Motion(Block):
    """How the craft is flown in time."""

    rotor_time_constant_s: Positive = 0.08
    """Time in which a rotor's thrust settles by 63 % [s]."""
    servo_band_deg: Positive = 2.0
    """How far before its target a servo begins to slow, in degrees of fold [deg]."""
    hinge_damping_ratio: Ratio = 0.02
    """Damping of gear and hinge over the critical damping of the tips on them [1]."""
    law: StabilisingLaw | None = None
    """The stabilising law [table]."""
    scenarios: tuple[Scenario, ...] = ()
    """Named scenarios [tables]."""

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        names = [one.name for one in self.scenarios]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"two scenarios are called {name!r}; give each its own name")
        return self

"""What a fold schedule must keep to: the constraints at every airspeed, and how it is flown."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from vlm.constants import DEFAULT_AIRSPEED
from vlm.description.block import Block, FoldAngle

Speed = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0.0, lt=1.0, allow_inf_nan=False)]


class Schedule(Block):
    """Fold of both sides against airspeed: what it must keep to. What is left out does not bind."""

    airspeed_min_m_s: Speed
    """Lowest airspeed of the schedule [m/s]."""
    airspeed_max_m_s: Positive
    """Highest airspeed of the schedule [m/s]."""
    speeds: Annotated[int, Field(ge=2, le=400)] = 25
    """Number of airspeeds [1]."""
    thrust_borne_below_m_s: NotNegative = 0.0
    """Airspeed below which the rotors are meant to carry the craft: there, at every fold, stall
    margin, dihedral effect and rolling moment are not asked for. From it on they are, stalled or
    not [m/s]."""
    stall_margin_min_deg: NotNegative | None = None
    """Least margin of the angle of attack to the stall [deg]."""
    dihedral_effect: Literal["stable", "unstable", "any"] = "any"
    """Wanted sign of the dihedral effect, Cl_beta: "stable" is negative [text]."""
    dihedral_effect_min_per_rad: NotNegative = 0.0
    """Least size of Cl_beta with the wanted sign [1/rad]."""
    roll_reserve_deg: NotNegative | None = None
    """Asymmetric range that must be left: both sides can fold this far away from the schedule in
    opposite senses, inside the limits [deg]."""
    roll_moment_min_N_m: NotNegative | None = None
    """Least rolling moment that the reserve must give [N m]."""
    folding_rate_min_deg_s: NotNegative | None = None
    """Least speed at which the drive can still move the tips against air and weight [deg/s]."""
    hinge_moment_max_N_m: Positive | None = None
    """Highest moment of the air about any hinge, either way, that may be held [N m]."""
    rotor_margin_min: Share | None = None
    """Least part of each rotor's highest thrust that must be left for control [1]."""
    forbidden_deg: tuple[tuple[FoldAngle, FoldAngle], ...] = ()
    """Ranges of fold that must not be held, each [from, to] [deg]."""
    breakpoints: Annotated[int, Field(ge=2, le=40)] = 5
    """Most breakpoints of the schedule as flown [1]."""
    rate_limit_deg_per_speed: Positive | None = None
    """Steepest change of fold with airspeed as flown [deg s/m]."""
    hysteresis_m_s: NotNegative = 0.0
    """Speeding up, a fold is commanded this much later than slowing down [m/s]."""

    @model_validator(mode="after")
    def _ranges_run_upward(self) -> Self:
        if self.airspeed_max_m_s <= self.airspeed_min_m_s:
            raise ValueError(
                f"airspeed_max_m_s = {self.airspeed_max_m_s:g}; it must be above"
                f" airspeed_min_m_s = {self.airspeed_min_m_s:g}"
            )
        for low, high in self.forbidden_deg:
            if low >= high:
                raise ValueError(f"forbidden_deg holds [{low:g}, {high:g}]; write [from, to]")
        if self.roll_moment_min_N_m is not None and self.roll_reserve_deg is None:
            raise ValueError("roll_reserve_deg is missing; roll_moment_min_N_m needs it")
        return self

    @property
    def on_the_wings_m_s(self) -> tuple[float, float]:
        """Lowest and highest airspeed at which the wings are to carry the craft [m/s]."""
        return max(self.airspeed_min_m_s, self.thrust_borne_below_m_s), self.airspeed_max_m_s


def default_airspeed(schedule: Schedule | None) -> float:
    """Airspeed of a study in level flight where none is asked for [m/s].

    The nearest to :data:`DEFAULT_AIRSPEED` at which the schedule has the wings carry the craft.
    """
    if schedule is None:
        return DEFAULT_AIRSPEED
    low, high = schedule.on_the_wings_m_s
    return min(max(DEFAULT_AIRSPEED, low), high)

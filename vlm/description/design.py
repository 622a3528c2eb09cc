"""What a search of the design is for: its goal, and the keys it may change."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, FoldAngle, Number

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Goal = Literal["energy", "power", "induced drag", "span efficiency", "rolling moment"]
GOALS: tuple[Goal, ...] = (
    "energy", "power", "induced drag", "span efficiency", "rolling moment",
)  # fmt: skip


class Design(Block):
    """A search over keys of this file for the best craft.

    The goals are the lowest ``energy`` of the mission, the lowest ``power`` at one airspeed, the
    lowest ``induced drag`` at one airspeed and lift, the highest ``span efficiency`` of a given
    span, and the highest ``rolling moment`` at one airspeed.
    """

    goal: Goal = "energy"
    """What is sought [text]."""
    airspeed_m_s: Positive | None = None
    """Airspeed of the power, the induced drag or the rolling moment [m/s]."""
    lift_N: Positive | None = None
    """Lift at which designs are held against each other for the induced drag; if left out, each
    lifts its own weight [N]."""
    alpha_deg: Annotated[float, Field(ge=-20.0, le=20.0, allow_inf_nan=False)] = 4.0
    """Angle of attack of the span efficiency [deg]."""
    fold_deg: FoldAngle | None = None
    """Fold that both sides hold; if left out, the best one at every airspeed, and for induced
    drag, span efficiency and rolling moment flat [deg]."""
    keys: dict[str, tuple[Number, Number]] = Field(default_factory=dict)
    """Keys that may change, by their path in quotation marks, each [from, to]; see the guide to
    designs for those that are not keys of the file [list]."""
    square_metre_of_wing_kg: NotNegative = 0.0
    """Mass that the body gains with every square metre of fixed wing [kg]."""

    @model_validator(mode="after")
    def _bounds_run_upward(self) -> Self:
        for key, (low, high) in self.keys.items():
            if low >= high:
                raise ValueError(f"keys holds {key} = [{low:g}, {high:g}]; write [from, to]")
        return self

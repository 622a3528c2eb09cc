"""What folds a tip: a worm gear with its friction, the servo before it, the hinge behind it."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from vlm.description.block import Block

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0.0, le=1.0, allow_inf_nan=False)]
Friction = Annotated[float, Field(gt=0.0, lt=1.0, allow_inf_nan=False)]
Lead = Annotated[float, Field(gt=0.0, lt=60.0, allow_inf_nan=False)]
Pressure = Annotated[float, Field(gt=0.0, lt=45.0, allow_inf_nan=False)]


class Actuator(Block):
    """Drive of the tips, one kind for all hinges.

    A servo turns the worm, the worm turns the wheel on the hinge. With ``serves = "side"`` one
    servo moves all tips of its side through their linkage; with "tip" every tip has its own.
    """

    worm_ratio: Positive
    """Wheel teeth over worm starts: turns of the worm for one of the wheel [1]."""
    lead_angle_deg: Lead
    """Lead angle of the worm at its pitch circle [deg]."""
    pressure_angle_deg: Pressure = 20.0
    """Pressure angle in the normal section [deg]."""
    friction_dry: tuple[Friction, Friction]
    """Coefficient of friction of the dry mesh: lowest and highest expected [1]."""
    friction_greased: tuple[Friction, Friction]
    """The same for the greased mesh [1]."""
    lubrication: Literal["dry", "greased"] = "greased"
    """How the craft is flown [text]."""
    bearing_efficiency: Share = 0.95
    """Share of the power left after the bearings of worm and wheel, each way [1]."""
    servo_stall_torque_N_m: Positive
    """Torque of one servo at rest [N m]."""
    servo_no_load_speed_deg_s: Positive
    """Speed of the servo's shaft without load [deg/s]."""
    servo_time_constant_s: NotNegative = 0.03
    """Time in which the servo's speed settles by 63 % [s]."""
    servo_voltage_V: Positive
    """Voltage at the servo [V]."""
    servo_no_load_current_A: NotNegative
    """Current of the servo running free [A]."""
    servo_stall_current_A: Positive
    """Current of the servo held at rest at full effort [A]."""
    servo_hold_current_A: NotNegative
    """Current of the servo at rest with the gear carrying the load [A]."""
    serves: Literal["tip", "side"] = "tip"
    """Whether a servo moves one tip or all tips of a side [text]."""
    backlash_deg: NotNegative = 0.0
    """Free play of one tip about its hinge, end to end [deg]."""
    hinge_stiffness_N_m_rad: Positive | None = None
    """Stiffness of gear and hinge about the hinge line, one tip [N m per rad]."""
    hinge_moment_limit_N_m: Positive | None = None
    """Highest moment gear and hinge may carry about the hinge line, one tip [N m]."""
    root_bending_limit_N_m: Positive | None = None
    """Highest bending moment of one half wing at its root [N m]."""
    load_factor_limit: Positive = 3.0
    """Limit load factor of the craft [1]."""
    design_roll_rate_deg_s: NotNegative = 120.0
    """Roll rate the inertia loads are worked out for [deg/s]."""

    @model_validator(mode="after")
    def _is_consistent(self) -> Self:
        for key in ("friction_dry", "friction_greased"):
            low, high = getattr(self, key)
            if low > high:
                raise ValueError(f"{key} = [{low:g}, {high:g}]; write the least value first")
        if self.servo_no_load_current_A >= self.servo_stall_current_A:
            raise ValueError(
                f"servo_no_load_current_A = {self.servo_no_load_current_A:g}; a free running"
                f" servo draws less than a stalled one ({self.servo_stall_current_A:g} A)"
            )
        return self

    @property
    def friction(self) -> tuple[float, float]:
        """Lowest and highest friction as the craft is flown [1]."""
        return self.friction_dry if self.lubrication == "dry" else self.friction_greased

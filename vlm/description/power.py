"""What drives the craft: rotors, motors, battery; and what drags besides the wings."""

from math import isclose, sqrt
from typing import Annotated, ClassVar, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from vlm.description.block import Block, Length, Number, Point
from vlm.description.names import checked_title

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Efficiency = Annotated[float, Field(gt=0.0, le=1.0, allow_inf_nan=False)]
InducedFactor = Annotated[float, Field(ge=1.0, le=2.0, allow_inf_nan=False)]
Solidity = Annotated[float, Field(gt=0.0, le=0.5, allow_inf_nan=False)]
AdvanceRatio = Annotated[float, Field(gt=0.1, le=4.0, allow_inf_nan=False)]
Blades = Annotated[int, Field(ge=1, le=12)]
Title = Annotated[str, AfterValidator(checked_title)]

AHEAD = (-1.0, 0.0, 0.0)
DEFAULTS = {
    "blade_lift_slope_per_rad": 5.7, "blade_drag": 0.036, "blade_drag_rise": 0.047,
    "induced_power_factor": 1.15,
}  # fmt: skip
"""Of blades: chosen so that the power at a thrust agrees with wind-tunnel tests of four propellers,
see docs/power.md."""


class Rotor(Block):
    """One rotor, of fixed pitch and driven by its own motor.

    ``form = "blades"`` works its speed and power out of solidity, pitch and the drag of its blades;
    ``form = "elements"`` from chord and angle of its blades along the radius, and their section;
    ``form = "table"`` reads measured coefficients of thrust and power over the advance ratio.
    """

    allowed: ClassVar[dict[str, tuple[str, ...]]] = {
        "blades": ("solidity", "pitch_m", *DEFAULTS),
        "elements": ("blade_table", "section_table", "no_thrust_advance_ratio"),
        "table": ("table",),
    }

    name: Title
    """What it is called [text]."""
    position_m: Point
    """Centre of the disc, geometry axes [m]."""
    axis: Point = AHEAD
    """Direction of its thrust, geometry axes; ahead if left out [1]."""
    radius_m: Length
    """Radius of the disc [m]."""
    spin: Literal["right", "left"]
    """Sense of rotation about the direction of thrust: "right" turns clockwise seen from
    behind [text]."""
    blades: Blades = 2
    """Number of blades [1]."""
    form: Literal["blades", "elements", "table"]
    """How thrust and power are worked out [text]."""
    solidity: Solidity | None = None
    """Blade area over disc area [1]."""
    pitch_m: Length | None = None
    """Advance in one turn at which the blades give no thrust [m]."""
    blade_lift_slope_per_rad: Positive | None = None
    """Slope of the blades' lift coefficient; 5.7 if left out [1/rad]."""
    blade_drag: NotNegative | None = None
    """Drag coefficient of the blades without lift; 0.036 if left out [1]."""
    blade_drag_rise: NotNegative | None = None
    """Rise of the blades' drag with the fourth power of their mean lift coefficient, toward stall;
    0.047 if left out [1]."""
    induced_power_factor: InducedFactor | None = None
    """Induced power over that of the momentum theory; 1.15 if left out [1]."""
    blade_table: str | None = None
    """CSV file with the columns r_R, chord_R, beta_deg: chord over the radius of the tip, and angle
    of the chord line against the disc, at radii over that of the tip [text]."""
    section_table: str | None = None
    """CSV file of the blades' section with the columns alpha_deg, cl, cd, cm, reynolds; a section
    for low Reynolds numbers if left out [text]."""
    no_thrust_advance_ratio: AdvanceRatio | None = None
    """Measured V / (n D) at which the thrust vanishes; all blades are turned so that it does there.
    Not turned if left out [1]."""
    table: str | None = None
    """CSV file with the columns advance_ratio, thrust_coefficient, power_coefficient, on
    n^2 D^4 and n^3 D^5 [text]."""
    thrust_max_N: Positive | None = None
    """Highest thrust; no limit if left out [N]."""
    thrust_min_N: Number = 0.0
    """Least thrust it is allowed, negative where the rotor may brake [N]."""
    power_max_W: Positive | None = None
    """Highest power at the shaft; no limit if left out [W]."""
    inertia_kg_m2: Positive | None = None
    """Moment of inertia of blades, hub and what turns of the motor about the shaft; without it a
    motion in time has no gyroscopic moments of this rotor [kg m^2]."""

    @property
    def direction(self) -> Point:
        """Direction of its thrust, geometry axes, of length 1."""
        x, y, z = self.axis
        return x / self._length, y / self._length, z / self._length

    @property
    def _length(self) -> float:
        return sqrt(sum(part * part for part in self.axis))

    @property
    def sense(self) -> float:
        """Sense of rotation about its thrust: +1 right-handed, -1 left-handed."""
        return 1.0 if self.spin == "right" else -1.0

    @model_validator(mode="after")
    def _keys_fit_the_form(self) -> Self:
        needed = {
            "blades": ("solidity", "pitch_m"), "elements": ("blade_table",), "table": ("table",)
        }  # fmt: skip
        for key in needed[self.form]:
            if getattr(self, key) is None:
                raise ValueError(f'{key} is missing; form = "{self.form}" needs it')
        for key in {k for keys in self.allowed.values() for k in keys}:
            if key not in self.allowed[self.form] and getattr(self, key) is not None:
                raise ValueError(
                    f'{key} does not belong to form = "{self.form}"; it takes'
                    f" {', '.join(self.allowed[self.form])}"
                )
        return self

    @model_validator(mode="after")
    def _limits_are_in_order(self) -> Self:
        if self.thrust_max_N is not None and self.thrust_min_N >= self.thrust_max_N:
            raise ValueError(
                f"thrust_min_N = {self.thrust_min_N:g}; it must be less than thrust_max_N ="
                f" {self.thrust_max_N:g}"
            )
        return self

    @model_validator(mode="after")
    def _axis_is_a_direction(self) -> Self:
        if not isclose(self._length, 1.0, abs_tol=1e-3):
            raise ValueError(
                f"axis = {list(self.axis)} is {self._length:.4g} long; write a direction of"
                " length 1"
            )
        return self

    def value(self, key: str) -> float:
        """A number of the blades, or what stands for it where it is left out."""
        given = getattr(self, key)
        return float(DEFAULTS[key] if given is None else given)


class Propulsion(Block):
    """From the battery to the shafts, and how the rotors' wakes are treated."""

    motor_efficiency: Efficiency
    """Shaft power over electrical power of the motors [1]."""
    controller_efficiency: Efficiency
    """Power out of the speed controllers over power into them [1]."""
    fixed_load_W: NotNegative = 0.0
    """What avionics and payload draw all the time [W]."""
    battery_energy_Wh: Positive | None = None
    """Energy of the full battery [Wh]."""
    battery_usable: Efficiency = 0.8
    """Part of it that may be used [1]."""
    power_max_W: Positive | None = None
    """Highest electrical power of the whole craft; no limit if left out [W]."""
    braking: Literal["spent", "recovered", "not allowed"] = "spent"
    """What becomes of the power of a rotor that the air drives: lost ("spent"), charged into the
    battery by way of motor and controller ("recovered"), or a limit of the craft ("not
    allowed") [text]."""
    slipstream: bool = True
    """Whether the rotors blow over the wings [true or false]."""
    swirl: bool = False
    """Whether that wind turns as well [true or false]."""


class DragArea(Block):
    """Something that drags besides wings and rotors: a body, struts, gear, a camera."""

    name: Title
    """What it is [text]."""
    area_m2: NotNegative
    """Drag over dynamic pressure in a wind along the craft's x axis [m^2]."""
    side_area_m2: NotNegative | None = None
    """The same in a wind along y; as along x if left out [m^2]."""
    normal_area_m2: NotNegative | None = None
    """The same in a wind along z; as along x if left out [m^2]."""
    position_m: Point | None = None
    """Where it acts, geometry axes; at the centre of gravity, and out of the rotors' wakes, if
    left out [m]."""

    @property
    def areas_m2(self) -> tuple[float, float, float]:
        """Drag areas along x, y and z [m^2]."""
        side = self.area_m2 if self.side_area_m2 is None else self.side_area_m2
        normal = self.area_m2 if self.normal_area_m2 is None else self.normal_area_m2
        return self.area_m2, side, normal

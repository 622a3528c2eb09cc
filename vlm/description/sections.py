"""Sections of wings and tips: how lift and drag of a strip depend on its angle of attack.

A section is given in one of three forms: a table of measured or computed values, the few numbers
of a parametric section, or the thin section that the lattice itself stands for.
"""

from collections.abc import Iterable
from math import pi
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, Number
from vlm.errors import nearest_name

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Slope = Annotated[float, Field(gt=0.0, le=8.0, allow_inf_nan=False)]
Thickness = Annotated[float, Field(ge=0.0, le=0.3, allow_inf_nan=False)]
Width = Annotated[float, Field(gt=0.5, le=20.0, allow_inf_nan=False)]
NormalDrag = Annotated[float, Field(gt=0.0, le=3.0, allow_inf_nan=False)]
Exponent = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]

TABLE_KEYS = ("table",)
LIFT_KEYS = ("cl_max", "cl_min")
OF_THICKNESS = 0.77
"""Gain of lift slope with thickness over chord: to first order that of symmetric Joukowski
sections, 4 / (3 sqrt 3) (L. M. Milne-Thomson, Theoretical Aerodynamics, from memory)."""
DEFAULTS = {
    "zero_lift_deg": 0.0,
    "lift_slope_per_rad": 6.0,
    "stall_width_deg": 8.0,
    "cd_least": 0.0,
    "cl_at_least_drag": 0.0,
    "cd_rise": 0.0,
    "reynolds": 200_000.0,
    "reynolds_exponent": 0.0,
    "cm_quarter_chord": 0.0,
}


class Section(Block):
    """One section, named by wings and tips.

    ``form = "table"`` reads a CSV file. ``form = "parametric"`` has straight lift up to a rounded
    stall and a parabolic drag. ``form = "thin"`` is the lattice's own thin section, which never
    stalls, with the same parabolic drag. Past stall the first two go over to a plate's normal
    force, up to 180 degrees either way.
    """

    allowed: ClassVar[dict[str, tuple[str, ...]]] = {
        "table": (*TABLE_KEYS, "stall_width_deg"),
        "parametric": (*LIFT_KEYS, *DEFAULTS, "thickness"),
        "thin": ("cd_least", "cl_at_least_drag", "cd_rise", "reynolds", "reynolds_exponent"),
    }
    needed: ClassVar[dict[str, tuple[str, ...]]] = {
        "table": TABLE_KEYS,
        "parametric": LIFT_KEYS,
        "thin": (),
    }

    form: Literal["table", "parametric", "thin"]
    """Which of the three forms this is [text]."""
    table: str | None = None
    """CSV file with the columns alpha_deg, cl, cd, cm, reynolds, or a folder of such files, whose
    names may tell the Reynolds number instead (re100000.csv); relative to this file. Beyond the
    angles that are given, to 180 degrees either way, a plate's normal force takes over [text]."""
    zero_lift_deg: Number | None = None
    """Angle of attack without lift, against the chord line; 0 if left out [deg]."""
    lift_slope_per_rad: Slope | None = None
    """Slope of the lift coefficient below stall; 6.0 if left out [1/rad]."""
    thickness: Thickness | None = None
    """Largest thickness over the chord; in place of lift_slope_per_rad it gives the slope
    2 pi (1 + 0.77 thickness) of a thick section without friction. Friction takes some of it away
    again, so measured slopes are lower at low Reynolds numbers [1]."""
    cl_max: Positive | None = None
    """Highest lift coefficient [1]."""
    cl_min: Annotated[float, Field(lt=0.0, allow_inf_nan=False)] | None = None
    """Least (most negative) lift coefficient [1]."""
    stall_width_deg: Width | None = None
    """Range of angles over which the attached flow gives way; 8 if left out [deg]."""
    cd_least: NotNegative | None = None
    """Least drag coefficient, at the stated Reynolds number; 0 if left out [1]."""
    cl_at_least_drag: Number | None = None
    """Lift coefficient at least drag; 0 if left out [1]."""
    cd_rise: NotNegative | None = None
    """Rise of drag with the square of the distance from that lift; 0 if left out [1]."""
    reynolds: Positive | None = None
    """Reynolds number that the drag is stated for; 200 000 if left out [1]."""
    reynolds_exponent: Exponent | None = None
    """Drag goes with the Reynolds number, held between 1e4 and 1e7, to minus this power; 0 if
    left out [1]."""
    cm_quarter_chord: Number | None = None
    """Pitching moment coefficient about the quarter chord below stall; 0 if left out [1]."""
    cd_normal: NormalDrag | None = None
    """Normal force coefficient of a plate across the flow; from the aspect ratio of the wing if
    left out [1]."""

    @model_validator(mode="after")
    def _keys_fit_the_form(self) -> Self:
        for key in self.needed[self.form]:
            if getattr(self, key) is None:
                raise ValueError(f'{key} is missing; form = "{self.form}" needs it')
        allowed = ("form", "cd_normal", *self.allowed[self.form])
        for key in type(self).model_fields:
            if key not in allowed and getattr(self, key) is not None:
                raise ValueError(
                    f'{key} does not belong to form = "{self.form}"; it takes'
                    f" {', '.join(self.allowed[self.form])}"
                )
        if self.thickness is not None and self.lift_slope_per_rad is not None:
            raise ValueError("thickness and lift_slope_per_rad both give the slope; leave one out")
        return self

    def value(self, key: str) -> float:
        """A number of this section, or what stands for it where it is left out."""
        given = getattr(self, key)
        if key == "lift_slope_per_rad" and self.thickness is not None:
            return 2.0 * pi * (1.0 + OF_THICKNESS * self.thickness)
        return float(DEFAULTS[key] if given is None else given)


def unknown_section(place: str, name: str, known: Iterable[str]) -> str:
    """Message for a wing or tip that names a section which is not in the file."""
    near = nearest_name(name, known)
    listed = ", ".join(known) or "no sections"
    hint = f"did you mean {near}?" if near else f"the file has {listed}"
    return f'{place}.section = "{name}"; there is no [sections.{name}]: {hint}'

"""How well the inputs are known: standard deviations, from which intervals are sampled."""

from typing import Annotated

from pydantic import Field

from vlm.description.block import LARGEST, Block

Percent = Annotated[float, Field(ge=0.0, le=30.0, allow_inf_nan=False)]
Spread = Annotated[float, Field(gt=0.0, le=LARGEST, allow_inf_nan=False)]


class Uncertainty(Block):
    """Standard deviations of the inputs, in per cent of their values, all independent.

    What is left out counts as known. Numbers of the geometry stand in ``keys``.
    """

    mass_percent: Percent = 0.0
    """Mass of the whole craft [%]."""
    profile_drag_percent: Percent = 0.0
    """Drag of the wings' sections [%]."""
    lift_maximum_percent: Percent = 0.0
    """Highest and lowest lift of the sections [%]."""
    drag_area_percent: Percent = 0.0
    """All drag areas together [%]."""
    efficiency_percent: Percent = 0.0
    """Efficiency of motors and controllers together [%]."""
    rotor_power_percent: Percent = 0.0
    """Power the rotors need for their thrust [%]."""
    fixed_load_percent: Percent = 0.0
    """Fixed electrical load [%]."""
    post_stall_percent: Percent = 0.0
    """Lift and drag of the sections past stall [%]."""
    keys: dict[str, Spread] = Field(default_factory=dict)
    """Standard deviations of further numbers of the file, of the geometry above all, by their path
    in quotation marks, such as "upper.incidence_deg", each in its key's unit [list]."""
    samples: Annotated[int, Field(ge=20, le=20_000)] = 400
    """Number of samples [1]."""
    seed: Annotated[int, Field(ge=0)] = 1
    """Start of the random numbers: the same seed gives the same intervals [1]."""
    interval_percent: Annotated[float, Field(gt=10.0, lt=99.9)] = 90.0
    """Share of the samples inside the intervals [%]."""

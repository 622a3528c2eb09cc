"""A mission: the legs that are flown one after another."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from vlm.description.block import Block, Number
from vlm.description.names import checked_title

# A leg of 1e8 s or m is out of all reach; beyond it sums of energies run over.
Positive = Annotated[float, Field(gt=0.0, le=1e8, allow_inf_nan=False)]
LoadFactor = Annotated[float, Field(gt=1.0, le=5.0, allow_inf_nan=False)]
Title = Annotated[str, AfterValidator(checked_title)]


class Leg(Block):
    """One leg of a mission. Which keys it takes hangs on its kind.

    ``hover``, ``transition`` and ``loiter`` take time_s; ``dash`` takes distance_m; ``climb`` takes
    height_m and climb_rate_m_s; ``turn`` takes turns, with load_factor or radius_m. All but hover
    take airspeed_m_s, and dash takes headwind_m_s.
    """

    needed: ClassVar[dict[str, tuple[str, ...]]] = {
        "hover": ("time_s",),
        "transition": ("time_s",),
        "loiter": ("time_s",),
        "dash": ("distance_m",),
        "climb": ("height_m", "climb_rate_m_s"),
        "turn": ("turns",),
    }
    optional: ClassVar[dict[str, tuple[str, ...]]] = {
        "hover": (),
        "transition": ("airspeed_m_s",),
        "loiter": ("airspeed_m_s",),
        "dash": ("airspeed_m_s", "headwind_m_s"),
        "climb": ("airspeed_m_s",),
        "turn": ("airspeed_m_s", "load_factor", "radius_m"),
    }

    kind: Literal["hover", "transition", "loiter", "dash", "climb", "turn"]
    """What is flown [text]."""
    name: Title | None = None
    """What it is called; its kind if left out [text]."""
    repeat: Annotated[int, Field(ge=1, le=10_000)] = 1
    """How many times it is flown without a break [1]."""
    time_s: Positive | None = None
    """How long it lasts [s]."""
    distance_m: Positive | None = None
    """Distance over the ground [m]."""
    height_m: Positive | None = None
    """Height gained [m]."""
    climb_rate_m_s: Positive | None = None
    """Height gained in a second [m/s]."""
    turns: Positive | None = None
    """Number of full circles [1]."""
    load_factor: LoadFactor | None = None
    """Lift over weight in the turn [1]."""
    radius_m: Positive | None = None
    """Radius of the turn; needs airspeed_m_s [m]."""
    airspeed_m_s: Positive | None = None
    """Airspeed, of a transition the one at its fast end; if left out, that of least power, for a
    dash that of least energy over the ground [m/s]."""
    headwind_m_s: Number | None = None
    """Wind against the flight, negative from behind; none if left out [m/s]."""

    @model_validator(mode="after")
    def _keys_fit_the_kind(self) -> Self:
        needed, optional = self.needed[self.kind], self.optional[self.kind]
        for key in needed:
            if getattr(self, key) is None:
                raise ValueError(f'{key} is missing; kind = "{self.kind}" needs it')
        known = {
            k for table in (self.needed, self.optional) for keys in table.values() for k in keys
        }
        for key in sorted(known - {*needed, *optional}):
            if getattr(self, key) is not None:
                raise ValueError(
                    f'{key} does not belong to kind = "{self.kind}"; it takes'
                    f" {', '.join((*needed, *optional))}"
                )
        return self

    @model_validator(mode="after")
    def _turn_is_one_of_both_forms(self) -> Self:
        if self.kind != "turn":
            return self
        if (self.load_factor is None) == (self.radius_m is None):
            raise ValueError('kind = "turn" takes one of load_factor and radius_m')
        if self.radius_m is not None and self.airspeed_m_s is None:
            raise ValueError("airspeed_m_s is missing; radius_m needs it")
        return self

    @model_validator(mode="after")
    def _speeds_agree(self) -> Self:
        if self.airspeed_m_s is None:
            return self
        if self.headwind_m_s is not None and self.headwind_m_s >= self.airspeed_m_s:
            raise ValueError(
                f"headwind_m_s = {self.headwind_m_s:g}; it must be less than airspeed_m_s ="
                f" {self.airspeed_m_s:g}"
            )
        if self.climb_rate_m_s is not None and self.climb_rate_m_s >= self.airspeed_m_s:
            raise ValueError(
                f"climb_rate_m_s = {self.climb_rate_m_s:g}; it must be less than airspeed_m_s ="
                f" {self.airspeed_m_s:g}"
            )
        return self

    @property
    def label(self) -> str:
        """Its name, or its kind."""
        return self.name or self.kind


class MissionFile(Block):
    """A file that holds a mission and nothing else."""

    title: Title
    """What the mission is called, in one line [text]."""
    mission: Annotated[tuple[Leg, ...], Field(min_length=1)]
    """The legs in the order in which they are flown [list]."""

"""The legs of a mission, in the order they are flown."""

from typing import Annotated, ClassVar, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from vlm.description.block import Block, Number
from vlm.description.names import checked_title

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
LoadFactor = Annotated[float, Field(gt=1.0, le=10.0, allow_inf_nan=False)]
Title = Annotated[str, AfterValidator(checked_title)]

KINDS = Literal["hover", "transition", "loiter", "dash", "climb", "turn"]


class Leg(Block):
    """One leg of a mission.

    hover: ``time_s``. transition: from hover to wing-borne flight, or back, over ``time_s``.
    loiter: ``time_s``, at the speed of least power unless ``airspeed_m_s`` is given. dash:
    ``distance_m`` over the ground, at the speed of least energy unless one is given. climb:
    ``height_m`` (negative descends) at ``climb_rate_m_s``. turn: ``turns`` at a ``load_factor``
    or a ``radius_m``.
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

    name: Title
    """What the leg is called [text]."""
    kind: KINDS
    """What is flown [text]."""
    time_s: Positive | None = None
    """How long [s]."""
    distance_m: Positive | None = None
    """How far over the ground [m]."""
    height_m: Number | None = None
    """Height gained, negative lost [m]."""
    climb_rate_m_s: Positive | None = None
    """Vertical speed, up or down [m/s]."""
    turns: Positive | None = None
    """Full circles flown [1]."""
    load_factor: LoadFactor | None = None
    """Lift over weight in the turn [1]."""
    radius_m: Positive | None = None
    """Radius of the turn [m]."""
    airspeed_m_s: Positive | None = None
    """Airspeed; the best one if left out [m/s]."""
    headwind_m_s: Number = 0.0
    """Wind against the way, negative helps [m/s]."""
    repeat: Annotated[int, Field(ge=1, le=100_000)] = 1
    """How often the leg is flown [1]."""

    @model_validator(mode="after")
    def _keys_fit_the_kind(self) -> Self:
        for key in self.needed[self.kind]:
            if getattr(self, key) is None:
                raise ValueError(f'{key} is missing; kind = "{self.kind}" needs it')
        allowed = {*self.needed[self.kind], *self.optional[self.kind], "name", "kind", "repeat"}
        for key in self.model_fields_set - allowed:
            raise ValueError(
                f'{key} does not belong to kind = "{self.kind}"; it takes'
                f" {', '.join(sorted(allowed))}"
            )
        if self.kind == "turn" and (self.load_factor is None) == (self.radius_m is None):
            raise ValueError('kind = "turn" takes one of load_factor and radius_m')
        if self.kind == "climb" and self.height_m == 0.0:
            raise ValueError("height_m = 0; a climb gains or loses height")
        return self

"""Fins: fixed surfaces besides the wings - plates, keels, tailplanes."""

from collections.abc import Sequence
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from vlm.description.block import LARGEST, Block, Length, Number, SweepAngle, TwistAngle
from vlm.description.names import checked_name
from vlm.description.wing import Camber

NotNegative = Annotated[float, Field(ge=0.0, le=LARGEST, allow_inf_nan=False)]
Dihedral = Annotated[float, Field(ge=-180.0, le=180.0, allow_inf_nan=False)]
WingName = Literal["upper", "lower"]
UPRIGHT = 90.0
STEEPEST_PAIR = 75.0
"""Beyond this dihedral plates that meet at the centreline nearly lie on each other [deg]."""
RESERVED = ("upper", "lower")


def _name(text: str) -> str:
    problem = checked_name(text)
    if problem is None and text in RESERVED:
        problem = f"it must not be {' or '.join(RESERVED)}, which are the wings"
    if problem is None and not text.replace("_", "").replace("-", "").isalnum():
        problem = 'it may hold letters, digits, "-" and "_"'
    if problem:
        raise ValueError(problem)
    return text


class Fin(Block):
    """A fixed surface besides the wings: a plate, a keel, half of a tailplane.

    Written as a trapezoid from its root to its end. A fin off the plane of symmetry has its mirror
    image on the other side; one with its root on the centreline is a pair whose roots meet there,
    or, upright, one plate in the plane of symmetry.
    """

    name: Annotated[str, AfterValidator(_name)]
    """What it is called [text]."""
    x_m: Number
    """Leading edge of its root: geometry axes, or aft of the wing's leading edge there where
    ``joined_to`` is given [m]."""
    y_m: NotNegative = 0.0
    """Lateral place of its root, starboard; 0 for one on the centreline [m]."""
    z_m: Number | None = None
    """Height of the leading edge of its root, geometry axes; 0 if left out, and not allowed with
    ``joined_to`` [m]."""
    span_m: Length | None = None
    """Span along itself, from root to end; needed without ``end_joined_to`` [m]."""
    root_chord_m: Length
    """Chord at the root [m]."""
    end_chord_m: Length
    """Chord at the end [m]."""
    sweep_deg: SweepAngle | None = None
    """Sweep of the quarter-chord line, positive aft; 0 if left out [deg]."""
    dihedral_deg: Dihedral | None = None
    """Way from root to end: 0 outboard, 90 up, -90 down; 90 if left out [deg]."""
    incidence_deg: TwistAngle = 0.0
    """Setting about its quarter-chord line, positive with the leading edge toward its upper side:
    nose up where it is flat, leading edge inboard where it stands up [deg]."""
    camber: Camber = "flat"
    """Mean line, as a wing's [text]."""
    section: str | None = None
    """Name of a block [sections.NAME] with the section's lift and drag [text]."""
    joined_to: WingName | None = None
    """Wing that its root stands on, along the wing's chord at y_m [text]."""
    end_joined_to: WingName | None = None
    """Wing that its end meets, along the wing's chord at y_m; span, sweep and dihedral follow
    [text]."""
    end_x_m: Number | None = None
    """Leading edge of its end aft of that wing's leading edge; x_m if left out [m]."""

    @model_validator(mode="after")
    def _ends_are_placed(self) -> Self:
        if self.joined_to is not None and self.z_m is not None:
            raise ValueError(
                f"z_m = {self.z_m:g}; with joined_to the root stands on the wing: leave z_m out"
            )
        if self.end_joined_to is None:
            if self.span_m is None:
                raise ValueError("span_m is missing; give it, or end_joined_to")
            if self.end_x_m is not None:
                raise ValueError("end_x_m is given without end_joined_to; leave it out")
            return self
        if self.joined_to is None or self.joined_to == self.end_joined_to:
            raise ValueError(
                f'end_joined_to = "{self.end_joined_to}"; this needs joined_to with the other wing'
            )
        for key in ("span_m", "sweep_deg", "dihedral_deg"):
            if getattr(self, key) is not None:
                raise ValueError(
                    f"{key} = {getattr(self, key):g}; with end_joined_to it follows from where the"
                    " end meets the wing: leave it out"
                )
        return self

    @model_validator(mode="after")
    def _setting_fits_the_place(self) -> Self:
        if self.joined_to is not None and self.incidence_deg != 0.0:
            raise ValueError(
                f"incidence_deg = {self.incidence_deg:g}; the root of a joined fin lies along the"
                " wing's chord: it must be 0"
            )
        if self.y_m > 0.0:
            return self
        if self.is_on_plane:
            if self.incidence_deg != 0.0:
                raise ValueError(
                    f"incidence_deg = {self.incidence_deg:g}; an upright fin on the centreline"
                    " lies in the plane of symmetry: it must be 0"
                )
            if self.camber != "flat":
                raise ValueError(
                    f'camber = "{self.camber}"; an upright fin on the centreline lies in the plane'
                    ' of symmetry: it must be "flat"'
                )
        elif abs(self.direction_deg) > STEEPEST_PAIR:
            raise ValueError(
                f"dihedral_deg = {self.direction_deg:g} with y_m = 0; a pair that meets at the"
                f" centreline has {-STEEPEST_PAIR:g} to {STEEPEST_PAIR:g}, one plate in the plane"
                " of symmetry has 90 or -90"
            )
        return self

    @property
    def direction_deg(self) -> float:
        """The way from root to end [deg]."""
        return UPRIGHT if self.dihedral_deg is None else self.dihedral_deg

    @property
    def is_on_plane(self) -> bool:
        """Whether it is one plate in the plane of symmetry."""
        return self.y_m == 0.0 and (
            self.end_joined_to is not None or abs(self.direction_deg) == UPRIGHT
        )

    @property
    def stands_on(self) -> tuple[str, ...]:
        """The wings that its root and its end are joined to."""
        return tuple(wing for wing in (self.joined_to, self.end_joined_to) if wing is not None)


def fins_misfit(fins: Sequence[Fin], wings: Sequence[str]) -> str | None:
    """What is wrong with fins together, or on a craft with these wings; None where nothing is."""
    names = [fin.name for fin in fins]
    for index, fin in enumerate(fins):
        if names.index(fin.name) != index:
            return f'fins.{index}.name = "{fin.name}"; another fin has that name'
        for key, wing in (("joined_to", fin.joined_to), ("end_joined_to", fin.end_joined_to)):
            if wing is not None and wing not in wings:
                return f'fins.{index}.{key} = "{wing}"; the craft has no {wing} wing'
    return None

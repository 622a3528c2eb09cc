"""The craft: wings, arrangement, references, named fold settings, and the other blocks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, PrivateAttr, model_validator

from vlm.description.actuator import Actuator
from vlm.description.block import Area, Block, FoldAngle, Length, Number, Point
from vlm.description.design import Design
from vlm.description.fin import Fin, fins_misfit
from vlm.description.folds import ROUNDING_DEG, FoldAngles, allowed_fold
from vlm.description.log import FlightLogFormat
from vlm.description.mass import Mass
from vlm.description.mission import Leg
from vlm.description.motion import Motion
from vlm.description.names import checked_name, checked_title, cut
from vlm.description.power import DragArea, Propulsion, Rotor
from vlm.description.schedule import Schedule
from vlm.description.sections import Section, unknown_section
from vlm.description.uncertainty import Uncertainty
from vlm.description.wing import Station, Tips, Wing
from vlm.errors import InputRefused
from vlm.sides import Side, tip_body, wing_and_side

__all__ = [
    "Arrangement",
    "Biplane",
    "Configuration",
    "FoldAngles",
    "Reference",
    "Source",
    "Station",
    "Tips",
    "Wing",
]

FURTHEST_DEG = 179.0
"""Furthest fold either way that is asked for [deg]."""
CENTRE_OF_GRAVITY: Literal["centre of gravity"] = "centre of gravity"


class Arrangement(Block):
    """How two wings stand to each other, between their root leading edges."""

    gap_m: Length
    """Distance between the root leading edges along z, the lower wing below [m]."""
    stagger_m: Number = 0.0
    """Distance between them along x, positive with the upper wing ahead [m]."""


def _point_or_name(value: Any) -> Any:
    if isinstance(value, str) and value != CENTRE_OF_GRAVITY:
        raise ValueError(f'it must be three lengths [x, y, z] in metres, or "{CENTRE_OF_GRAVITY}"')
    return value


class Reference(Block):
    """What coefficients are divided by and moments taken about, whatever the fold."""

    area_m2: Area | None = None
    """Area; all wings' planform area with the tips flat if left out [m^2]."""
    span_m: Length | None = None
    """Span; the largest flat span if left out [m]."""
    chord_m: Length | None = None
    """Chord; the area over the sum of the flat spans if left out [m]."""
    moment_point_m: Annotated[
        Point | Literal["centre of gravity"] | None, BeforeValidator(_point_or_name)
    ] = None
    """Moment point [x, y, z] in geometry axes, or "centre of gravity" for that of [mass]; if
    left out, that of [mass] where there is one, else the centroid of the wings' quarter-chord
    lines weighted by area [m]."""


class Configuration(Block):
    """A named fold setting: one angle for both sides, or one each."""

    fold_deg: FoldAngle | None = None
    """Fold of both sides, positive raises the tips [deg]."""
    left_deg: FoldAngle | None = None
    """Fold of the port side, together with right_deg [deg]."""
    right_deg: FoldAngle | None = None
    """Fold of the starboard side, together with left_deg [deg]."""

    @model_validator(mode="after")
    def _is_one_of_both_forms(self) -> Self:
        sides = (self.left_deg, self.right_deg)
        if self.fold_deg is not None and sides != (None, None):
            raise ValueError("fold_deg can't stand beside left_deg or right_deg; give one form")
        if self.fold_deg is None and None in sides:
            missing = "left_deg" if self.left_deg is None else "right_deg"
            raise ValueError(
                f"{missing} is missing; give fold_deg for both sides, or left_deg and right_deg"
            )
        return self

    @property
    def folds(self) -> FoldAngles:
        """The setting as fold angles."""
        if self.fold_deg is not None:
            return FoldAngles.symmetric(self.fold_deg)
        assert self.left_deg is not None and self.right_deg is not None
        return FoldAngles(self.left_deg, self.right_deg)


@dataclass(frozen=True)
class Source:
    """Where a description was read from.

    Attributes
    ----------
    name : file name as given, or a name for text that came from elsewhere
    text : the file's text
    folder : the file's folder, against which CSV paths are resolved; None for the current one
    overrides : keys set on the command line, "KEY=VALUE"
    """

    name: str = "(no file)"
    text: str = ""
    folder: Path | None = None
    overrides: tuple[str, ...] = ()


class Biplane(Block):
    """A craft with one or two wings whose tips may fold. One a file."""

    title: Annotated[str, AfterValidator(checked_title)]
    """What the craft is called, in one line [text]."""
    upper: Wing
    """The upper wing, or the only one [table]."""
    lower: Wing | None = None
    """The lower wing; without it the craft is a monoplane [table]."""
    arrangement: Arrangement | None = None
    """Gap and stagger, needed with two wings [table]."""
    fins: tuple[Fin, ...] = ()
    """Fixed surfaces besides the wings: plates, keels, tailplanes [list]."""
    reference: Reference = Reference()
    """Reference area, span, chord and moment point [table]."""
    configurations: dict[str, Configuration] = Field(default_factory=dict)
    """Fold settings by name [tables]."""
    mass: Mass | None = None
    """Masses of body, tips and folding mechanism [table]."""
    actuator: Actuator | None = None
    """What folds the tips [table]."""
    sections: dict[str, Section] = Field(default_factory=dict)
    """Sections by name, for the wings and tips that name them [tables]."""
    rotors: tuple[Rotor, ...] = ()
    """The rotors [list]."""
    propulsion: Propulsion | None = None
    """Motors, controllers and battery [table]."""
    drag_areas: tuple[DragArea, ...] = ()
    """What drags besides wings and rotors [list]."""
    uncertainty: Uncertainty | None = None
    """How well the inputs are known [table]."""
    schedule: Schedule | None = None
    """What a fold schedule must keep to [table]."""
    motion: Motion | None = None
    """How the craft is flown while its tips move [table]."""
    mission: tuple[Leg, ...] = ()
    """The legs of the mission, in the order in which they are flown [list]."""
    design: Design | None = None
    """What a search of the design is for [table]."""
    log: FlightLogFormat | None = None
    """How its flight logs are written and judged [table]."""

    _source: Source = PrivateAttr(default_factory=Source)

    @model_validator(mode="after")
    def _wings_are_arranged(self) -> Self:
        if self.lower is not None and self.arrangement is None:
            raise ValueError("arrangement is missing; two wings need arrangement.gap_m")
        if self.lower is None and self.arrangement is not None:
            raise ValueError("arrangement is given, but there is no lower wing; leave it out")
        return self

    @model_validator(mode="after")
    def _blocks_agree(self) -> Self:
        misfit = self.mass.misfit(tuple(self.tips)) if self.mass is not None else None
        misfit = misfit or fins_misfit(self.fins, tuple(self.wings))
        if misfit is None and self.log is not None:
            misfit = self.log.misfit(self.configurations)
        if misfit:
            raise ValueError(misfit)
        for place, name in self.named_sections.items():
            if name is not None and name not in self.sections:
                raise ValueError(unknown_section(self._key_of(place), name, self.sections))
        if self.reference.moment_point_m == CENTRE_OF_GRAVITY and self.mass is None:
            raise ValueError(
                f'reference.moment_point_m = "{CENTRE_OF_GRAVITY}"; this needs a block [mass]'
            )
        return self

    @model_validator(mode="after")
    def _configurations_can_be_folded(self) -> Self:
        for name, configuration in self.configurations.items():
            if problem := checked_name(name):
                raise ValueError(f'configurations: the name "{cut(name)}": {problem}')
            problem = self._fold_problem(configuration.folds)
            if problem:
                raise ValueError(f"configurations.{cut(name)}: {problem}")
        return self

    def __eq__(self, other: object) -> bool:
        """Equal descriptions, wherever they were read from."""
        return type(other) is type(self) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((self.title, self.arrangement, self.reference))

    @property
    def wings(self) -> dict[str, Wing]:
        """The wings by name: "upper", and "lower" where there is one."""
        both = {"upper": self.upper, "lower": self.lower}
        return {name: wing for name, wing in both.items() if wing is not None}

    @property
    def tips(self) -> dict[str, Tips]:
        """The folding tips by the name of their wing."""
        return {name: wing.tips for name, wing in self.wings.items() if wing.tips is not None}

    @property
    def fold_range_deg(self) -> tuple[float, float]:
        """Lowest and highest command, of both sides, that the limits of all tips allow [deg]."""
        ends = [allowed_fold(*tips.fold_limits_deg, tips.linkage) for tips in self.tips.values()]
        low = max((low for low, _ in ends), default=-FURTHEST_DEG)
        high = min((high for _, high in ends), default=FURTHEST_DEG)
        return max(low, -FURTHEST_DEG), min(high, FURTHEST_DEG)

    @property
    def all_drag_areas(self) -> tuple[DragArea, ...]:
        """What drags besides wings and rotors, the folding mechanisms among it."""
        area = 0.0 if self.mass is None else self.mass.mechanism_drag_area_m2
        if area == 0.0:
            return self.drag_areas
        return (*self.drag_areas, DragArea(name="folding mechanisms", area_m2=area))

    @property
    def named_sections(self) -> dict[str, str | None]:
        """Name of the section by place: "upper", "upper.tips", ..., "fins.NAME"; a tip's is its
        wing's."""
        named: dict[str, str | None] = {}
        for wing, outline in self.wings.items():
            named[wing] = outline.section
            if outline.tips is not None:
                named[f"{wing}.tips"] = outline.tips.section or outline.section
        named |= {f"fins.{fin.name}": fin.section for fin in self.fins}
        return named

    def _key_of(self, place: str) -> str:
        """Key of the block that a place of a section is in."""
        fins = {f"fins.{fin.name}": f"fins.{index}" for index, fin in enumerate(self.fins)}
        return fins.get(place, place)

    @property
    def source(self) -> Source:
        """Where the description was read from."""
        return self._source

    @property
    def source_name(self) -> str:
        """Name of the file it was read from."""
        return self._source.name

    @property
    def source_text(self) -> str:
        """Text of the file it was read from; the canonical text where there was none."""
        return self._source.text or self.to_toml()

    @property
    def folder(self) -> Path | None:
        """Folder against which CSV paths are resolved; None for the current one."""
        return self._source.folder

    def from_source(self, source: Source) -> Self:
        """The same description, said to come from ``source``."""
        copy = self.model_copy()
        copy._source = source
        return copy

    def tip_folds(self, folds: FoldAngles) -> dict[str, float]:
        """Fold of every tip under a commanded setting, linkage applied [deg].

        Returns
        -------
        Angles by tip: "upper_left", "upper_right", "lower_left", "lower_right", as they exist.

        Raises
        ------
        InputRefused : a tip would pass its limits, or there are no tips to fold
        """
        problem = self._fold_problem(folds)
        if problem:
            raise InputRefused(f"{self.source_name}: {problem}")
        return self._linked(folds)

    def _linked(self, folds: FoldAngles) -> dict[str, float]:
        commanded = {Side.PORT: folds.left_deg, Side.STARBOARD: folds.right_deg}
        return {
            tip_body(wing, side): tips.linkage * angle + 0.0
            for wing, tips in self.tips.items()
            for side, angle in commanded.items()
        }

    def _fold_problem(self, folds: FoldAngles) -> str | None:
        """Why the tips can't be folded so, or None."""
        if not self.tips and folds != FoldAngles():
            return "the tips can't be folded: neither wing has any ([upper.tips])"
        commanded = {Side.PORT: folds.left_deg, Side.STARBOARD: folds.right_deg}
        for name, angle in self._linked(folds).items():
            wing, side = wing_and_side(name)
            tips = self.tips[wing]
            low, high = tips.fold_limits_deg
            if low - ROUNDING_DEG <= angle <= high + ROUNDING_DEG:
                continue
            lowest, highest = allowed_fold(low, high, tips.linkage)
            limit = "fold_min_deg" if angle < low else "fold_max_deg"
            turned = "" if tips.linkage == 1.0 else f" turns the {wing} tip by {angle:g} and"
            return (
                f"a fold of {commanded[side]:g} degrees on the {side.words} side{turned}"
                f" passes {wing}.tips.{limit} = {low if angle < low else high:g};"
                f" the limits allow {lowest:g} to {highest:g}"
            )
        return None

    def overridden(self, changes: Mapping[str, object] | Sequence[str]) -> "Biplane":
        """A changed copy: keys given by their path, as ``--set`` does.

        Parameters
        ----------
        changes : values by key path ({"arrangement.gap_m": 0.5}), or texts "KEY=VALUE"

        Raises
        ------
        InputRefused : a key is unknown or the changed description is not allowed
        """
        from vlm.description.loading import overridden

        return overridden(self, changes)

    def to_toml(self) -> str:
        """Canonical text of the description: reading it gives an equal one."""
        from vlm.description.writing import canonical_toml

        return canonical_toml(self)

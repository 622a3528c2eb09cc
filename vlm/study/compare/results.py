"""What a comparison found: numbers of every entry, and their differences from the first."""

from dataclasses import dataclass
from enum import Enum
from typing import Any, TypedDict

from vlm.findings import Finding
from vlm.plain import as_document
from vlm.verdicts import known_sign


class Group(Enum):
    """What a number is about."""

    ANGLE = "same angle of attack"
    LEVEL = "level flight"
    ROLL = "roll, tips at their limits"
    POWER = "power"
    MISSION = "mission"


@dataclass(frozen=True)
class Kind:
    """One number that entries are compared by.

    Attributes
    ----------
    key : name, with the unit as its suffix
    group : what it is about
    words : what it is
    unit : "1" for pure numbers
    more, less : what a larger and a smaller number is called
    """

    key: str
    group: Group
    words: str
    unit: str = "1"
    more: str = "more"
    less: str = "less"


KINDS = (
    Kind("lift_N", Group.ANGLE, "lift", "N"),
    Kind("induced_drag_N", Group.ANGLE, "induced drag", "N"),
    Kind("span_efficiency", Group.ANGLE, "span efficiency"),
    Kind("static_margin", Group.ANGLE, "static margin", "chords"),
    Kind("neutral_point_m", Group.ANGLE, "neutral point, x", "m", "farther aft", "farther ahead"),
    Kind("level_alpha_deg", Group.LEVEL, "angle of attack", "deg"),
    Kind("thrust_N", Group.LEVEL, "thrust that holds the drag", "N"),
    Kind("stall_margin_deg", Group.LEVEL, "margin to stall", "deg"),
    Kind("Cl_beta", Group.LEVEL, "Cl_beta", "1/rad", "toward unstable", "toward stable"),
    Kind("Cn_beta", Group.LEVEL, "Cn_beta", "1/rad", "toward stable", "toward unstable"),
    Kind("CY_beta", Group.LEVEL, "CY_beta", "1/rad"),
    Kind("pitch_growth_1_s", Group.LEVEL, "fastest growth in pitch", "1/s", "faster", "slower"),
    Kind("lateral_growth_1_s", Group.LEVEL, "fastest growth, lateral", "1/s", "faster", "slower"),
    Kind("hinge_moment_N_m", Group.LEVEL, "largest hinge moment", "N m"),
    Kind("rolling_moment_N_m", Group.ROLL, "rolling moment by folding", "N m"),
    Kind("yawing_moment_N_m", Group.ROLL, "yawing moment with it", "N m", "more proverse",
         "more adverse"),
    Kind("roll_rate_deg_s", Group.ROLL, "steady roll rate", "deg/s"),
    Kind("least_power_W", Group.POWER, "least power", "W"),
    Kind("least_power_speed_m_s", Group.POWER, "speed of least power", "m/s", "faster", "slower"),
    Kind("best_range_speed_m_s", Group.POWER, "speed of best range", "m/s", "faster", "slower"),
    Kind("slowest_on_wings_m_s", Group.POWER, "lowest speed on the wings", "m/s", "faster",
         "slower"),
    Kind("fastest_m_s", Group.POWER, "top speed", "m/s", "faster", "slower"),
    Kind("mission_energy_Wh", Group.MISSION, "energy along the schedule", "Wh"),
)  # fmt: skip
"""All numbers, in the order in which they are printed."""


@dataclass(frozen=True)
class Known:
    """A number with the half-width of its error; None where there is no number, or no error."""

    value: float | None
    half_width: float | None

    @property
    def sign(self) -> int | None:
        """1 or -1 where the half-width leaves no doubt of it, 0 where nothing differs, else None.

        See :func:`vlm.verdicts.known_sign`.
        """
        return known_sign(self.value, self.half_width)


@dataclass(frozen=True)
class ComparedNumber:
    """One number of all entries.

    Attributes
    ----------
    key : of :data:`KINDS`
    values : of every entry
    differences : of every entry less the first; that of the first is zero
    body_turns_m3 : of static margin and Cn_beta, the least volume of a round body, left out here,
        that may turn a stable sign of each entry; None where it is not known to be stable
    """

    key: str
    values: tuple[Known, ...]
    differences: tuple[Known, ...]
    body_turns_m3: tuple[float | None, ...] | None = None

    @property
    def kind(self) -> Kind:
        """What the number is."""
        return next(kind for kind in KINDS if kind.key == self.key)


@dataclass(frozen=True)
class KeyDifference:
    """A key of the geometry file that is not the same in all entries; None where it is missing."""

    key: str
    values: tuple[Any, ...]


@dataclass(frozen=True)
class Named:
    """One entry: what it is called, its craft's title and file, and its folds."""

    name: str
    title: str
    file: str
    fold_left_deg: float
    fold_right_deg: float
    area_m2: float
    span_m: float
    chord_m: float


@dataclass(frozen=True)
class NotFlown:
    """An entry without an energy of the mission that was asked for.

    Attributes
    ----------
    cannot : whether the craft cannot fly it; False where that could not be worked out
    why : in words
    """

    entry: str
    cannot: bool
    why: str


@dataclass(frozen=True)
class PowerLine:
    """Electrical power against airspeed of one entry, over the airspeeds that its limits allow.

    Attributes
    ----------
    leaps_before : indices of airspeeds before which the trim leaps to another branch
    electrical_power_W_low, electrical_power_W_high : ends of the intervals; empty where the file
        states no [uncertainty]
    """

    entry: str
    airspeed_m_s: tuple[float, ...]
    electrical_power_W: tuple[float | None, ...]
    leaps_before: tuple[int, ...] = ()
    electrical_power_W_low: tuple[float | None, ...] = ()
    electrical_power_W_high: tuple[float | None, ...] = ()


class ComparedState(TypedDict):
    """State at which entries are compared."""

    alpha_deg: float
    airspeed_m_s: float
    density_kg_m3: float


@dataclass(frozen=True)
class Comparison:
    """Everything that was compared.

    Attributes
    ----------
    state : angle of attack, airspeed, density
    entries : what was compared; differences are from the first
    keys : what differs in the files
    numbers : see :class:`ComparedNumber`
    power : power curves, where the files allow them
    missing : by entry, what it has no numbers for, and why
    not_flown : entries that do not fly the mission
    assumptions, findings : what it rests on; what is questionable
    """

    state: ComparedState
    entries: tuple[Named, ...]
    keys: tuple[KeyDifference, ...]
    numbers: tuple[ComparedNumber, ...]
    power: tuple[PowerLine, ...]
    missing: dict[str, tuple[str, ...]]
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    not_flown: tuple[NotFlown, ...] = ()

    def document(self) -> Any:
        """The comparison as plain values for JSON."""
        return as_document(self)

"""Columns of a flight log: what each holds, by which name, and in which unit.

Units are those that loggers write. Each is turned into the SI unit of its quantity by one factor
and one offset: SI = factor x value + offset. The factors are exact, by the units' definitions.
"""

from math import pi
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from vlm.description.block import Block

Name = Annotated[str, Field(min_length=1)]
Scale = tuple[float, float]


class Column(Block):
    """One column of the log: its name in the header and its unit."""

    SCALES: ClassVar[dict[str, Scale]] = {}

    name: Name
    """The column's name, as it stands in the log's header [text]."""
    unit: str
    """The unit its numbers are written in [text]."""
    negated: bool = False
    """Whether the log counts the other way round, as a discharge written negative
    [true or false]."""

    @property
    def scale(self) -> Scale:
        """Factor and offset that turn the column's numbers into SI units."""
        factor, offset = self.SCALES[self.unit]
        sign = -1.0 if self.negated else 1.0
        return sign * factor, sign * offset


class TimeColumn(Column):
    """Time since any start, in [s]; or time stamps, read by ``log.time_format``."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "s": (1.0, 0.0),
        "ms": (1e-3, 0.0),
        "us": (1e-6, 0.0),
        "min": (60.0, 0.0),
        "stamp": (1.0, 0.0),
    }
    unit: Literal["s", "ms", "us", "min", "stamp"]
    """The unit its numbers are written in [text]."""


class SpeedColumn(Column):
    """A speed [m/s]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "m/s": (1.0, 0.0),
        "km/h": (1.0 / 3.6, 0.0),
        "kt": (1852.0 / 3600.0, 0.0),
        "mph": (0.44704, 0.0),
        "ft/s": (0.3048, 0.0),
        "ft/min": (0.3048 / 60.0, 0.0),
        "cm/s": (0.01, 0.0),
    }
    unit: Literal["m/s", "km/h", "kt", "mph", "ft/s", "ft/min", "cm/s"]
    """The unit its numbers are written in [text]."""


class AirspeedColumn(SpeedColumn):
    """The airspeed [m/s], and what the instrument means by it.

    ``indicated``: a pitot's reading at the standard sea-level density. ``true``: already turned
    into true airspeed. ``ground``: there is no pitot; the column is speed over ground, and the
    wind is found from track and heading, or goes into the uncertainty of the airspeed.
    """

    kind: Literal["indicated", "true", "ground"] = "indicated"
    """What the instrument means by airspeed [text]."""


class PowerColumn(Column):
    """Electrical power out of the battery [W]; negative while it is charged in flight."""

    SCALES: ClassVar[dict[str, Scale]] = {"W": (1.0, 0.0), "kW": (1e3, 0.0), "mW": (1e-3, 0.0)}
    unit: Literal["W", "kW", "mW"]
    """The unit its numbers are written in [text]."""


class VoltageColumn(Column):
    """Battery voltage [V]."""

    SCALES: ClassVar[dict[str, Scale]] = {"V": (1.0, 0.0), "mV": (1e-3, 0.0)}
    unit: Literal["V", "mV"]
    """The unit its numbers are written in [text]."""


class CurrentColumn(Column):
    """Battery current, positive out of the battery [A]."""

    SCALES: ClassVar[dict[str, Scale]] = {"A": (1.0, 0.0), "mA": (1e-3, 0.0), "cA": (1e-2, 0.0)}
    unit: Literal["A", "mA", "cA"]
    """The unit its numbers are written in [text]."""


class AngleColumn(Column):
    """An angle [rad]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "deg": (pi / 180.0, 0.0),
        "rad": (1.0, 0.0),
        "cdeg": (pi / 18000.0, 0.0),
    }
    unit: Literal["deg", "rad", "cdeg"]
    """The unit its numbers are written in [text]."""


class RateColumn(Column):
    """A rate of turn [rad/s]."""

    SCALES: ClassVar[dict[str, Scale]] = {"deg/s": (pi / 180.0, 0.0), "rad/s": (1.0, 0.0)}
    unit: Literal["deg/s", "rad/s"]
    """The unit its numbers are written in [text]."""


class RotorSpeedColumn(Column):
    """Speed of a rotor [rad/s]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "rpm": (pi / 30.0, 0.0),
        "rad/s": (1.0, 0.0),
        "1/s": (2.0 * pi, 0.0),
    }
    unit: Literal["rpm", "rad/s", "1/s"]
    """The unit its numbers are written in [text]."""


class HeightColumn(Column):
    """A height [m]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "m": (1.0, 0.0),
        "ft": (0.3048, 0.0),
        "cm": (0.01, 0.0),
        "mm": (1e-3, 0.0),
    }
    unit: Literal["m", "ft", "cm", "mm"]
    """The unit its numbers are written in [text]."""


class PressureColumn(Column):
    """Static pressure [Pa]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "Pa": (1.0, 0.0),
        "hPa": (100.0, 0.0),
        "mbar": (100.0, 0.0),
        "kPa": (1e3, 0.0),
    }
    unit: Literal["Pa", "hPa", "mbar", "kPa"]
    """The unit its numbers are written in [text]."""


class TemperatureColumn(Column):
    """Air temperature [K]."""

    SCALES: ClassVar[dict[str, Scale]] = {
        "K": (1.0, 0.0),
        "degC": (1.0, 273.15),
        "degF": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
    }
    unit: Literal["K", "degC", "degF"]
    """The unit its numbers are written in [text]."""


class LabelColumn(Block):
    """A column of labels, such as the flight mode's name."""

    name: Name
    """The column's name, as it stands in the log's header [text]."""


class LogColumns(Block):
    """Which column of the log holds which quantity. What the log lacks is left out."""

    time: TimeColumn
    """Time since any start, or time stamps [s]."""
    airspeed: AirspeedColumn
    """Airspeed [m/s]."""
    power: PowerColumn | None = None
    """Electrical power out of the battery; or give ``voltage`` and ``current`` [W]."""
    voltage: VoltageColumn | None = None
    """Battery voltage [V]."""
    current: CurrentColumn | None = None
    """Battery current [A]."""
    rotor_speeds: tuple[RotorSpeedColumn, ...] = ()
    """Speed of each rotor [rad/s]."""
    roll: AngleColumn | None = None
    """Bank of the flight path's frame, starboard down [rad]."""
    pitch: AngleColumn | None = None
    """Angle of the body's x axis above the horizon [rad]."""
    heading: AngleColumn | None = None
    """Direction the craft points to in flight, clockwise from true north [rad]."""
    roll_rate: RateColumn | None = None
    """Rate of roll [rad/s]."""
    pitch_rate: RateColumn | None = None
    """Rate of pitch [rad/s]."""
    yaw_rate: RateColumn | None = None
    """Rate of yaw [rad/s]."""
    fold: AngleColumn | None = None
    """Fold of both tips; or give ``fold_left`` and ``fold_right`` [rad]."""
    fold_left: AngleColumn | None = None
    """Fold of the port tips [rad]."""
    fold_right: AngleColumn | None = None
    """Fold of the starboard tips [rad]."""
    mode: LabelColumn | None = None
    """A label that says which configuration was flown; see ``log.modes`` [text]."""
    altitude: HeightColumn | None = None
    """Height above the log's zero, see ``log.altitude_zero_m`` [m]."""
    climb_rate: SpeedColumn | None = None
    """Rate of climb [m/s]."""
    pressure: PressureColumn | None = None
    """Static pressure [Pa]."""
    temperature: TemperatureColumn | None = None
    """Temperature of the air [K]."""
    ground_speed: SpeedColumn | None = None
    """Speed over ground [m/s]."""
    track: AngleColumn | None = None
    """Direction of the path over ground, clockwise from true north [rad]."""
    velocity_north: SpeedColumn | None = None
    """Velocity over ground, northward part; or give ``ground_speed`` and ``track`` [m/s]."""
    velocity_east: SpeedColumn | None = None
    """Velocity over ground, eastward part [m/s]."""
    velocity_down: SpeedColumn | None = None
    """Velocity downward; or give ``climb_rate`` or ``altitude`` [m/s]."""

    @property
    def numbers(self) -> dict[str, Column]:
        """The columns of numbers without the time, by the quantity they hold.

        Rotor speeds are ``rotor_speed_1``, ``rotor_speed_2`` and so on.
        """
        found = {
            key: value
            for key in type(self).model_fields
            if key != "time" and isinstance(value := getattr(self, key), Column)
        }
        rotors = {f"rotor_speed_{i}": column for i, column in enumerate(self.rotor_speeds, 1)}
        return found | rotors

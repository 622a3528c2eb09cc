"""How a flight log is to be read and judged: the block ``[log]`` of a geometry file.

A log is a table of text, one row a sample, with a header that names its columns. Nothing about
it is guessed: the file says which column is what, in which unit, and what counts as steady.
"""

from collections.abc import Iterable
from typing import Annotated, Self

from pydantic import Field, model_validator

from vlm.description.block import Block, Number
from vlm.description.log_columns import LogColumns
from vlm.errors import nearest_name

Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0.0, le=1.0, allow_inf_nan=False)]
Density = Annotated[float, Field(gt=0.0, le=2.0, allow_inf_nan=False)]


class SteadyCriteria(Block):
    """When a stretch of the log counts as steady, level flight.

    The limits hold for slopes and means over ``window_s``, so that a gust's noise does not break
    a segment. The defaults are a start for a craft of a few kilograms (common practice); look at
    the time plot and set your own.
    """

    shortest_s: Positive = 8.0
    """Least length of a segment [s]."""
    window_s: Positive = 4.0
    """Length over which slopes and means are taken [s]."""
    acceleration_max_m_s2: Positive = 0.3
    """Largest change of airspeed with time, up or down [m/s^2]."""
    climb_max_m_s: Positive = 0.5
    """Highest climb or descent [m/s]."""
    rate_max_deg_s: Positive = 8.0
    """Highest rate of roll, pitch and yaw, each, averaged over the window [deg/s]."""
    bank_max_deg: Positive = 15.0
    """Highest bank, where the log holds roll [deg]."""
    airspeed_drift_max_m_s: Positive = 1.0
    """Largest wander of the averaged airspeed within one segment, end to end [m/s]."""
    fold_change_max_deg: Positive = 3.0
    """Largest distance of the tips from the configuration's fold [deg]."""
    gap_max_s: Positive = 2.0
    """Longest silence of the log that a segment may bridge [s]."""

    @model_validator(mode="after")
    def _window_fits(self) -> Self:
        if self.window_s > self.shortest_s:
            raise ValueError(
                f"window_s = {self.window_s:g} is longer than shortest_s = {self.shortest_s:g};"
                " a segment must hold at least one window"
            )
        return self


class LogUncertainty(Block):
    """What the instruments and the air may add alike to all of a log; standard deviations.

    They do not average out however long the log is, so they go into every interval. One left out
    is taken as ``USUAL_UNCERTAINTY`` has it, and the result names it; 0 states that it is exact.
    """

    airspeed_offset_m_s: NotNegative | None = None
    """Of the pitot's offset that is left after ``log.airspeed_offset_m_s`` [m/s]."""
    airspeed_scale: NotNegative | None = None
    """Of the pitot's scale, as a share of the reading [1]."""
    airspeed_by_configuration_m_s: NotNegative | None = None
    """Of what each configuration adds to the pitot's offset: folded tips change the pressure at its
    ports [m/s]."""
    power_share: NotNegative | None = None
    """Of the power or current sensor's gain, as a share of the reading [1]."""
    current_zero_A: NotNegative | None = None
    """Of what the current sensor reads at no current [A]."""
    density_share: NotNegative | None = None
    """Of the air's density, as a share of it; 0.01 is 3 K of temperature [1]."""
    rising_air_m_s: NotNegative | None = None
    """Of the air's mean vertical motion while one configuration was flown [m/s]."""
    climb_m_s: NotNegative | None = None
    """Of the mean climb while one configuration was flown, where no column tells it [m/s]."""
    climb_efficiency: NotNegative | None = None
    """Of ``log.climb_efficiency``, or of what the craft's own model gives instead [1]."""
    wind_m_s: NotNegative | None = None
    """Of each component of the wind, where no column tells it [m/s]."""
    heading_deg: NotNegative | None = None
    """Of the error that all headings share [deg]."""


USUAL_UNCERTAINTY = LogUncertainty(
    airspeed_offset_m_s=0.3,
    airspeed_scale=0.03,
    airspeed_by_configuration_m_s=0.1,
    power_share=0.03,
    current_zero_A=0.2,
    density_share=0.02,
    rising_air_m_s=0.05,
    climb_m_s=0.5,
    climb_efficiency=0.1,
    wind_m_s=4.0,
    heading_deg=6.0,
)
"""What is assumed where ``[log.uncertainty]`` states nothing (common practice for hobby-grade
sensors in calm air; a calibration is better)."""


class FlightLogFormat(Block):
    """The block ``[log]``: how a log is written, what it means and what counts as steady."""

    columns: LogColumns
    """Which column holds which quantity [table]."""

    delimiter: str = ","
    """Between two fields: one character, or "tab" [text]."""
    decimal: str = "."
    """Decimal mark: "." or "," [text]."""
    encoding: str = "utf-8"
    """Of the text. A byte-order mark is understood whatever stands here [text]."""
    comment: str | None = "#"
    """A line that starts with this is not a row [text]."""
    header_line: Annotated[int, Field(ge=1)] | None = None
    """Line of the column names, counted from 1; by default the first that is no comment [1]."""
    time_format: str | None = None
    """Of time stamps (unit "stamp"): "iso" or a pattern of %Y %m %d %H %M %S %f [text]."""
    missing: tuple[str, ...] = ("", "nan", "NaN", "NA")
    """Cells that mean "no value" [texts]."""

    modes: dict[str, str] = Field(default_factory=dict)
    """Which configuration a label of ``columns.mode`` stands for [texts by label]."""
    configuration: str | None = None
    """The configuration of the whole log, where no column tells it [text]."""

    altitude_zero_m: Number = 0.0
    """Height above sea level of the log's altitude zero [m]."""
    density_kg_m3: Density | None = None
    """Air density of the whole log; a column of temperature with one of pressure or altitude goes
    before it [kg/m^3]."""
    airspeed_offset_m_s: Number = 0.0
    """What the pitot reads too much; subtracted from its reading [m/s]."""
    climb_efficiency: Share | None = None
    """Share of electrical power that turns into climb, for what climb and change of speed within a
    segment cost; by default that of the craft's own model [1]."""
    cell_s: Positive = 0.5
    """Rows are averaged over cells of this length before anything else [s]."""
    bin_width_m_s: Positive = 1.0
    """Width of the bins of airspeed [m/s]."""

    steady: SteadyCriteria = SteadyCriteria()
    """When a stretch counts as steady, level flight [table]."""
    uncertainty: LogUncertainty = LogUncertainty()
    """What instruments and air may add alike to all of a log [table]."""

    @model_validator(mode="after")
    def _text_is_readable(self) -> Self:
        if self.delimiter != "tab" and len(self.delimiter) != 1:
            raise ValueError(f'delimiter = "{self.delimiter}"; allowed is one character, or "tab"')
        if self.decimal not in (".", ","):
            raise ValueError(f'decimal = "{self.decimal}"; allowed are "." and ","')
        if self.decimal == self.separator:
            raise ValueError(
                f'delimiter and decimal are both "{self.decimal}"; numbers could not be'
                " distinguished"
            )
        if self.separator in ('"', "\n", "\r") or self.separator == self.comment:
            raise ValueError(f'delimiter = "{self.delimiter}" already has another meaning')
        return self

    @model_validator(mode="after")
    def _time_is_readable(self) -> Self:
        stamped = self.columns.time.unit == "stamp"
        if stamped and self.time_format is None:
            raise ValueError(
                'time_format is missing; columns.time has the unit "stamp". Write "iso" or a'
                ' pattern such as "%d.%m.%Y %H:%M:%S.%f"'
            )
        if not stamped and self.time_format is not None:
            raise ValueError(
                f'time_format is given, but columns.time has the unit "{self.columns.time.unit}";'
                ' the unit of time stamps is "stamp"'
            )
        return self

    @model_validator(mode="after")
    def _power_is_known(self) -> Self:
        columns = self.columns
        volts_and_amperes = columns.voltage is not None and columns.current is not None
        if (columns.power is None) == (not volts_and_amperes):
            raise ValueError(
                "columns needs either power, or both voltage and current, and not all three"
            )
        if (columns.fold_left is None) != (columns.fold_right is None):
            raise ValueError("columns.fold_left and columns.fold_right are only given together")
        if columns.fold is not None and columns.fold_left is not None:
            raise ValueError("columns.fold is given beside fold_left and fold_right; keep one")
        return self

    @model_validator(mode="after")
    def _configuration_is_known(self) -> Self:
        columns = self.columns
        tells = {
            "columns.mode": columns.mode is not None,
            "columns.fold or fold_left and fold_right": bool(columns.fold or columns.fold_left),
            "configuration": self.configuration is not None,
        }
        given = [key for key, present in tells.items() if present]
        if not given:
            raise ValueError(
                f"configuration is missing; nothing tells the fold. Give one of {', '.join(tells)}"
            )
        if len(given) > 1:
            raise ValueError(f"{' and '.join(given)} both tell the configuration; keep one")
        if (columns.mode is not None) != bool(self.modes):
            raise ValueError("columns.mode and modes are only given together")
        return self

    @model_validator(mode="after")
    def _velocity_is_whole(self) -> Self:
        columns = self.columns
        if (columns.velocity_north is None) != (columns.velocity_east is None):
            raise ValueError("columns.velocity_north and velocity_east are only given together")
        if columns.velocity_north is not None and columns.ground_speed is not None:
            raise ValueError(
                "columns.ground_speed is given beside velocity_north and velocity_east; keep one"
            )
        return self

    @property
    def separator(self) -> str:
        """The character between two fields."""
        return "\t" if self.delimiter == "tab" else self.delimiter

    def misfit(self, configurations: Iterable[str]) -> str | None:
        """What does not agree between this block and the file's configurations, in words."""
        known = list(configurations)
        named = {f"log.modes.{label}": name for label, name in self.modes.items()}
        if self.configuration is not None:
            named["log.configuration"] = self.configuration
        for key, name in named.items():
            if name not in known:
                near = nearest_name(name, known)
                remedy = f"did you mean {near}?" if near else f"known are {', '.join(known)}."
                return f'{key} = "{name}" is not one of the configurations; {remedy}'
        return None

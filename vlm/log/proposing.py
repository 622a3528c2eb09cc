"""What the columns of a log seem to be, and the block ``[log]`` that says so.

Names are taken apart at their capitals, digits and underscores; a quantity is known by its words, a
unit by its ending. What a name does not tell is not guessed: the column is listed as not used. The
proposal is for a person to check; nothing is read by it until it stands in a geometry file.
"""

import csv
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Annotated, Any, TypedDict

import numpy as np
import pandas as pd

from vlm.constants import Floats
from vlm.description.log_columns import LogColumns
from vlm.errors import InputRefused
from vlm.log.cells import typical_interval
from vlm.log.lines import opened
from vlm.log.plausible import IN_FLIGHT
from vlm.plain import Shown, without_nan

SEPARATORS = (",", ";", "\t", "|")
MOST_ROWS = 400_000
SLOWEST_M_S, FEWEST_TURNING, TURNING_DEG_S = 3.0, 50, 5.0
# For a flight that is mostly turns: they are used, reduced by their load factor.
TURNING_BLOCK = """
[log.steady]                 # most of this flight is turns: they are used, by their load factor
window_s = 2.0
shortest_s = 3.0
rate_max_deg_s = 30.0
climb_max_m_s = 1.5
acceleration_max_m_s2 = 0.8
"""

# The words of a name that make it a quantity; the first row whose words all stand in it wins.
WORDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("velocity_north", ("v", "north")), ("velocity_north", ("vel", "n")),
    ("velocity_north", ("vn",)), ("velocity_east", ("v", "east")), ("velocity_east", ("vel", "e")),
    ("velocity_east", ("ve",)), ("velocity_down", ("v", "down")), ("velocity_down", ("vel", "d")),
    ("velocity_down", ("vd",)), ("ground_speed", ("ground", "speed")), ("ground_speed", ("gs",)),
    ("track", ("track",)), ("track", ("trk",)), ("track", ("course",)), ("airspeed", ("airspeed",)),
    ("airspeed", ("ias",)), ("airspeed", ("tas",)), ("airspeed", ("air", "speed")),
    ("climb_rate", ("climb",)), ("yaw_rate", ("yaw", "rate")), ("roll_rate", ("roll", "rate")),
    ("pitch_rate", ("pitch", "rate")), ("heading", ("heading",)), ("heading", ("hdg",)),
    ("heading", ("yaw",)), ("roll", ("roll",)), ("roll", ("bank",)), ("pitch", ("pitch",)),
    ("voltage", ("voltage",)), ("voltage", ("volt",)),
    ("current", ("current",)), ("current", ("amp",)), ("power", ("power",)),
    ("rotor_speeds", ("rpm",)), ("fold_left", ("fold", "left")), ("fold_left", ("fold", "port")),
    ("fold_left", ("fold", "l")), ("fold_right", ("fold", "right")),
    ("fold_right", ("fold", "starboard")), ("fold_right", ("fold", "stbd")),
    ("fold_right", ("fold", "r")), ("fold", ("fold",)), ("altitude", ("altitude",)),
    ("altitude", ("alt",)), ("altitude", ("baro",)), ("pressure", ("pressure",)),
    ("pressure", ("static",)), ("temperature", ("temperature",)), ("temperature", ("temp",)),
    ("temperature", ("oat",)), ("mode", ("mode",)), ("time", ("time",)), ("time", ("t",)),
    ("time", ("timestamp",)),
)  # fmt: skip
# Words that make a quantity only beside one of its units: U and I are also other things.
WORDS_WITH_UNIT: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("voltage", ("u", "bat", "batt", "battery", "vbat"), ("V", "mV")),
    ("current", ("i", "bat", "batt", "battery", "ibat", "curr"), ("A", "mA", "cA")),
)
# Endings of names that mean a unit beside the units themselves.
OTHER_ENDINGS = {"kmh": "km/h", "kph": "km/h", "volt": "V", "amp": "A"}
SPLIT_PREFIX = re.compile(r"(?:^|[^A-Za-z])[a-z][A-Z]$")
"""A name that ends in a letter small and a letter large: a prefix and its unit, such as cA."""


def _scales(key: str) -> dict[str, tuple[float, float]]:
    """Units that a quantity's column takes, with factor and offset to SI."""
    kind = LogColumns.model_fields[key].annotation
    scales: dict[str, tuple[float, float]] = {}
    for option in getattr(kind, "__args__", (kind,)):
        scales |= getattr(option, "SCALES", {})
    return scales


def _as_ending(text: str) -> str:
    """A name or a unit in small letters, with underscores for all that is no letter or digit."""
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")


UNITS = sorted({unit for key in LogColumns.model_fields for unit in _scales(key)} - {"stamp"})
# Endings of names, and the units that they mean; longer ones first.
ENDINGS: tuple[tuple[str, str], ...] = tuple(
    sorted(
        [*((_as_ending(unit), unit) for unit in UNITS), *OTHER_ENDINGS.items()],
        key=lambda one: -len(one[0]),
    )
)


@dataclass(frozen=True)
class SeenColumn:
    """One column as it was found.

    Attributes
    ----------
    file, name : where it stands
    key : the quantity it seems to hold, "" for none
    unit : of it, "" where the name does not tell
    rate_Hz : readings a second; NaN for fewer than two
    low, high : its range as written; NaN for text
    longest_gap_s : longest silence
    labels : the first few texts, empty for numbers
    """

    file: str
    name: str
    key: str
    unit: str
    rate_Hz: float
    low: float
    high: float
    longest_gap_s: float
    labels: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proposal:
    """The block that fits, as far as it can be recognised.

    Attributes
    ----------
    columns : as found, in order
    separator, decimal : of the tables
    block : TOML text of ``[log]``
    missing : what a person must still say, in words
    """

    columns: tuple[SeenColumn, ...]
    separator: str
    decimal: str
    block: str
    missing: tuple[str, ...]


class ProposedDocument(TypedDict):
    """What the columns of a log seem to be.

    Attributes
    ----------
    block : TOML text of the block [log] that fits
    missing : what a person must still say, in words
    """

    columns: list[Annotated[dict[str, Any], Shown(SeenColumn)]]
    block: str
    missing: list[str]


def proposed_document(found: Proposal) -> ProposedDocument:
    """A proposal as plain values."""
    document: ProposedDocument = {
        "columns": [asdict(column) for column in found.columns],
        "block": found.block,
        "missing": list(found.missing),
    }
    return without_nan(document)


def proposed(paths: Sequence[Path], configurations: Sequence[str]) -> Proposal:
    """Look at the tables of a log and propose how to read them.

    Parameters
    ----------
    paths : the tables
    configurations : names that the geometry file knows

    Raises
    ------
    InputRefused
        If a file is no table of text.
    """
    seen: list[SeenColumn] = []
    separator, decimal, turning = ",", ".", False
    for path in paths:
        separator, decimal, table = _table(path)
        turning |= _turns(table)
        seen += _columns(path, table, {column.key for column in seen if column.key})
    block, missing = _block(seen, separator, decimal, configurations)
    if turning:
        block += TURNING_BLOCK
    return Proposal(tuple(seen), separator, decimal, block, missing)


def _table(path: Path) -> tuple[str, str, pd.DataFrame]:
    """Separator, decimal mark and rows of a table."""
    if not path.is_file():
        raise InputRefused(f"{path}: no such file.")
    try:
        with opened(path) as stream:
            start = stream.read(20_000).decode("utf-8-sig", errors="replace")
        lines = [line for line in start.splitlines() if line.strip() and not line.startswith("#")]
        if len(lines) < 2:
            raise InputRefused(f"{path}: the file holds no header with rows below it.")
        separator = max(SEPARATORS, key=lines[0].count)
        rows = csv.reader(lines[1:-1], delimiter=separator)
        fields = [field for row in rows for field in row]
        commas = sum(bool(re.fullmatch(r"[+-]?\d+,\d+", field.strip())) for field in fields)
        decimal = "," if separator != "," and commas > 0.05 * max(len(fields), 1) else "."
        with opened(path) as stream:
            table = pd.read_csv(
                stream, sep=separator, comment="#", decimal=decimal, nrows=MOST_ROWS,
                skipinitialspace=True, on_bad_lines="skip", low_memory=False,
            )  # fmt: skip
    except (ValueError, OSError, EOFError) as error:
        raise InputRefused(f"{path}: this is no table of text ({str(error)[:80]}).") from None
    return separator, decimal, _with_numbers(table) if decimal == "," else table


def _with_numbers(table: pd.DataFrame) -> pd.DataFrame:
    """Columns with decimal commas that a cell of text, such as "--", has kept texts."""
    for name in table.select_dtypes(exclude="number").columns:
        points = table[name].astype(str).str.replace(",", ".", n=1, regex=False)
        numbers = pd.to_numeric(points, errors="coerce")
        if numbers.notna().any():
            table[name] = numbers
    return table


def _seconds(clock: str) -> float:
    """Seconds in one unit of a column of time; 1 where its name does not tell."""
    return _scales("time").get(named_quantity(clock)[1], (1.0, 0.0))[0]


def _turns(table: pd.DataFrame) -> bool:
    """Whether most of a flight is turns, by its velocity over ground."""
    parts = {named_quantity(str(name))[0]: str(name) for name in table.columns}
    if not {"velocity_north", "velocity_east", "time"} <= set(parts):
        return False
    scale = _seconds(parts["time"])
    time = _numbers(table[parts["time"]]) * scale
    north, east = (_numbers(table[parts[f"velocity_{side}"]]) for side in ("north", "east"))
    known = np.isfinite(time + north + east) & (np.hypot(north, east) > SLOWEST_M_S)
    if known.sum() < FEWEST_TURNING:
        return False
    track = np.degrees(np.unwrap(np.arctan2(east[known], north[known])))
    window = max(round(2.0 / max(typical_interval(time[known]), 1e-3)), 1)
    rate = (track[window:] - track[:-window]) / np.maximum(
        time[known][window:] - time[known][:-window], 1e-6
    )
    return bool(rate.size) and float(np.median(np.abs(rate))) > TURNING_DEG_S


def _words(name: str) -> list[str]:
    apart = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    return [word for word in re.split(r"[^A-Za-z0-9]+", apart.lower()) if word]


def named_quantity(name: str) -> tuple[str, str]:
    """The quantity and the unit that a column's name tells; "" for what it does not tell."""
    words = _words(name)
    key = next((k for k, wanted in WORDS if all(w in words for w in wanted)), "")
    plain = "_".join(words)
    # As it is written first: hPa and degC hold a capital, and would fall apart into h and Pa.
    # A prefix that is no unit here, as in uA, must not leave the bare unit.
    texts = (_as_ending(name),) if SPLIT_PREFIX.search(name) else (_as_ending(name), plain)
    units = (u for text in texts for end, u in ENDINGS if text == end or text.endswith(f"_{end}"))
    unit = next(units, "")
    for other, any_of, beside in WORDS_WITH_UNIT:
        if not key and unit in beside and set(any_of) & set(words):
            key = other
    return key, unit


def _columns(path: Path, table: pd.DataFrame, taken: set[str]) -> list[SeenColumn]:
    found = []
    names = [str(name) for name in table.columns]
    keys = [named_quantity(name) for name in names]
    clock = next((n for n, (key, _) in zip(names, keys, strict=True) if key == "time"), None)
    time = _numbers(table[clock]) if clock is not None else np.full(len(table), np.nan)
    scale = _seconds(clock or "")
    for name, (key, unit) in zip(names, keys, strict=True):
        if key in taken and key not in ("time", "rotor_speeds"):
            key = ""
        taken.add(key)
        values = _numbers(table[name])
        text = not np.isfinite(values).any()
        moments = time[table[name].notna().to_numpy()] * scale
        steps = np.diff(moments[np.isfinite(moments)])
        interval = typical_interval(moments[np.isfinite(moments)])
        found.append(
            SeenColumn(
                file=path.name,
                name=name,
                key=key if text == (key == "mode") or key == "time" else "",
                unit="" if text else unit,
                rate_Hz=1.0 / interval if np.isfinite(interval) else float("nan"),
                low=float("nan") if text else float(np.nanmin(values)),
                high=float("nan") if text else float(np.nanmax(values)),
                longest_gap_s=float(steps.max()) if steps.size else float("nan"),
                labels=tuple(str(v) for v in table[name].dropna().unique()[:6]) if text else (),
            )
        )
    return found


def _numbers(column: pd.Series) -> Floats:
    return pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64)


def _block(
    seen: Sequence[SeenColumn], separator: str, decimal: str, configurations: Sequence[str]
) -> tuple[str, tuple[str, ...]]:
    """Text of the block, and what it lacks."""
    used = {c.key: c for c in seen if c.key and c.key != "rotor_speeds"}
    missing = []
    lines = ["[log]"]
    if separator != ",":
        lines.append(f'delimiter = "{"tab" if separator == chr(9) else separator}"')
    if decimal != ".":
        lines.append(f'decimal = "{decimal}"')
    if "mode" not in used and not any(key.startswith("fold") for key in used):
        name = configurations[0] if len(configurations) == 1 else "?"
        lines.append(f'configuration = "{name}"')
        if name == "?":
            missing.append("log.configuration: which configuration was flown")
    if "mode" in used:
        labels = used["mode"].labels
        names = {name.casefold(): name for name in configurations}
        known = {label: names.get(label.casefold(), "?") for label in labels}
        lines.append("modes = { " + ", ".join(f'"{k}" = "{v}"' for k, v in known.items()) + " }")
        missing += [f"log.modes: what {k} stands for" for k, v in known.items() if v == "?"]
    lines += ["", "[log.columns]", *_column_lines(seen, used, missing)]
    for key in ("time", "airspeed"):
        if key not in used:
            missing.append(f"log.columns.{key}: no column's name tells it")
    if "power" not in used and not {"voltage", "current"} <= set(used):
        missing.append("log.columns: power, or voltage and current")
    return "\n".join(lines) + "\n", tuple(missing)


def _column_lines(
    seen: Sequence[SeenColumn], used: dict[str, SeenColumn], missing: list[str]
) -> list[str]:
    """One line a column of ``[log.columns]``; what a name does not tell goes to ``missing``."""
    if "voltage" in used and "current" in used:
        used.pop("power", None)
    lines = []
    for key, column in used.items():
        if key == "mode":
            lines.append(f'mode = {{ name = "{column.name}" }}')
            continue
        unit = _unit(key, column)
        if not unit:
            missing.append(f"log.columns.{key}.unit: {column.name} does not tell its unit")
        kind = ""
        if key == "airspeed":
            kind = ', kind = "true"' if "tas" in _words(column.name) else ', kind = "indicated"'
        # A craft in flight draws: readings that are never positive count the other way round.
        sign = ", negated = true" if key in ("current", "power") and column.high <= 0.0 else ""
        lines.append(f'{key} = {{ name = "{column.name}", unit = "{unit or "?"}"{kind}{sign} }}')
    rotors = [c for c in seen if c.key == "rotor_speeds"]
    if rotors:
        inner = ", ".join(f'{{ name = "{c.name}", unit = "{c.unit or "rpm"}" }}' for c in rotors)
        lines.append(f"rotor_speeds = [{inner}]")
    return lines


def _unit(key: str, column: SeenColumn) -> str:
    """The unit that the name tells, if it is one of this quantity's."""
    return column.unit if column.unit in _scales(key) else ""


def unusual_ranges(seen: Sequence[SeenColumn]) -> list[str]:
    """Columns whose range no small craft shows in the unit that their name tells, in words."""
    said = []
    for column in seen:
        kind = "rotor_speed" if column.key == "rotor_speeds" else column.key
        if kind not in IN_FLIGHT or not column.unit:
            continue
        scales = _scales(column.key)
        if column.unit not in scales:
            continue
        factor, offset = scales[column.unit]
        most = max(abs(factor * column.low + offset), abs(factor * column.high + offset))
        if most < IN_FLIGHT[kind].low:
            said.append(f"{column.name}: at most {most:.3g} in SI; check its unit")
    return said

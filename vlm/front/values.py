"""Values given from code, checked as those of the command line are."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from vlm.air import Air as Atmosphere
from vlm.air import standard_air
from vlm.errors import InputRefused, nearest_name
from vlm.lattice.cellule import FEWEST_STRIPS, Grid

if TYPE_CHECKING:
    from vlm.flight.motion.roll_authority import Air

Numbers = float | Sequence[float] | np.ndarray
Folds = float | tuple[float, float] | str
Wake = Literal["stream", "craft", "relaxed"]
Thrust = float | Literal["trim"] | None
MOST_ROWS, MOST_STRIPS = 100, 400
LARGEST = 1e4
LEAST = 1e-6


def plain(value: Any) -> Any:
    """Tables, lists and arrays as plain Python values."""
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return value


def number(name: str, value: Any, least: float, most: float) -> float:
    """A number within bounds; InputRefused else."""
    try:
        found = float("nan") if isinstance(value, str | bool) else float(value)
    except (TypeError, ValueError, OverflowError):
        found = float("nan")
    if not least <= found <= most:
        raise InputRefused(
            f"{name} = {value!r:.60}; a number from {least:g} to {most:g} is allowed"
        )
    return found


def thrust_of(value: Any) -> Any:
    """A thrust in newtons, the word trim, or None; InputRefused else."""
    return value if value is None or value == "trim" else number("thrust", value, 0.0, LARGEST)


def whole(name: str, value: Any, least: int, most: int) -> int:
    """A whole number within bounds; InputRefused else."""
    found = number(name, value, least, most)
    if found != int(found):
        raise InputRefused(f"{name} = {value!r:.60}; a whole number is needed")
    return int(found)


def listed(name: str, values: Any, *, positive: bool = False) -> tuple[float, ...]:
    """Values in rising order; none where nothing is given."""
    from vlm.study.sweep.plan import axis_of

    found = () if values is None else axis_of(values, name)
    for value in found:
        number(name, value, LEAST if positive else -1000.0, 1000.0)
    return found


def lattice(rows: Any, strips: Any, most: int = MOST_ROWS, widest: int = MOST_STRIPS) -> Grid:
    """Rows along the chord and strips over each half of the flat span."""
    return Grid(whole("rows", rows, 1, most), whole("strips", strips, FEWEST_STRIPS, widest))


def air_of(airspeed: Any, density: Any) -> "Air":
    """Airspeed [m/s] and density [kg/m^3]."""
    from vlm.flight.motion.roll_authority import Air

    return Air(
        number("airspeed", airspeed, LEAST, LARGEST), number("density", density, LEAST, LARGEST)
    )


def air_at(altitude: Any) -> Atmosphere:
    """The standard atmosphere at an altitude [m]."""
    return standard_air(number("altitude", altitude, -2000.0, 20000.0))


def one_of(name: str, value: Any, known: Sequence[str]) -> None:
    """Refuse a name that is not known, with the nearest one that is."""
    if value not in known:
        near = nearest_name(str(value), known)
        hint = f"did you mean {near}?" if near else f"known are {', '.join(known) or 'none'}"
        raise InputRefused(f"{name} = {value!r:.60}; {hint}")

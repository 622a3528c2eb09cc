"""What a sweep asks for: axes of folds, states and keys of the geometry file."""

import hashlib
import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from dataclasses import fields as dataclass_fields
from itertools import product
from typing import Any, Literal, get_args

import numpy as np

import vlm
from vlm.constants import DEFAULT_AIRSPEED, SEA_LEVEL_DENSITY
from vlm.description.camber import CamberLine, camber_of
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import FEWEST_STRIPS, Grid
from vlm.lattice.spacing import ChordLaw, SpanLaw
from vlm.loads.state import FlightState, WakeKind

MOST_VALUES = 10_000_000
ALPHA_LIMIT_DEG = 180.0
BETA_LIMIT_DEG = 90.0
# What a plan read from a file may ask for; more would fill the memory.
MOST_ROWS = 100
MOST_STRIPS = 400
LEAST_AIR, GREATEST_AIR = 1e-6, 1e4


@dataclass(frozen=True)
class KeyAxis:
    """A key of the geometry file and the values it takes in turn."""

    key: str
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", plain_values(self.values, self.key))

    @property
    def name(self) -> str:
        """Name of its axis in a dataset, an identifier: the key with underscores for dots."""
        return re.sub(r"\W", "_", self.key)


@dataclass(frozen=True)
class Case:
    """One solve: where it stands on the outer axes, its folds and its changed keys.

    Attributes
    ----------
    errors : whether it gets the error estimate that its plan asks for
    fold_rates : whether it gets rates with fold
    """

    place: tuple[int, ...]
    folds: FoldAngles
    changes: tuple[tuple[str, float], ...] = ()
    errors: bool = True
    fold_rates: bool = True

    def serves(self, other: "Case") -> bool:
        """Whether its values hold all that is asked of another case of the same craft."""
        return self.errors >= other.errors and self.fold_rates >= other.fold_rates


@dataclass(frozen=True)
class SweepPlan:
    """All settings of a sweep.

    Attributes
    ----------
    folds_deg : commanded folds, of both sides alike, or of each side in turn if asymmetric; this
        and the next two may be given as a tuple, a list, an array or one number
    alphas_deg, betas_deg : flight states at every fold
    asymmetric : whether port and starboard folds are independent axes
    keys : further axes over keys of the geometry file
    grid : rows, strips and spacing laws
    airspeed, density : of every state [m/s, kg/m^3]
    wake : along the stream of each state, or along the craft's axis
    errors : whether every case gets an error estimate from a coarser lattice
    exact : whether every fold is solved, where many could be interpolated
    thrust : whose slipstream blows over the wings
    """

    folds_deg: tuple[float, ...]
    alphas_deg: tuple[float, ...] = (4.0,)
    betas_deg: tuple[float, ...] = (0.0,)
    asymmetric: bool = False
    keys: tuple[KeyAxis, ...] = ()
    grid: Grid = field(default_factory=Grid)
    airspeed: float = DEFAULT_AIRSPEED
    density: float = SEA_LEVEL_DENSITY
    wake: WakeKind = "stream"
    errors: bool = False
    exact: bool = False
    thrust: float | Literal["trim"] | None = None

    def __post_init__(self) -> None:
        for name in ("folds_deg", "alphas_deg", "betas_deg"):
            object.__setattr__(self, name, plain_values(getattr(self, name), name))
        self._refuse_twice_and_beyond()
        size = int(np.prod([len(values) for _, values in self.axes], dtype=float))
        if size > MOST_VALUES:
            raise InputRefused(
                f"the sweep asks for {size} settings; at most {MOST_VALUES} fit into one dataset"
            )

    def _refuse_twice_and_beyond(self) -> None:
        for name, limit in (("alphas_deg", ALPHA_LIMIT_DEG), ("betas_deg", BETA_LIMIT_DEG)):
            worst = max(getattr(self, name), key=abs)
            if abs(worst) > limit:
                raise InputRefused(
                    f"{name} holds {worst:g}; angles between {-limit:g} and {limit:g} are allowed"
                )
        keys = Counter(axis.name for axis in self.keys)
        for key, count in keys.items():
            if count > 1:
                raise InputRefused(f"{key} is swept over {count} times; give it one axis")

    @property
    def outer_axes(self) -> list[tuple[str, tuple[float, ...]]]:
        """Axes that need a solve each: keys, then folds."""
        keys = [(axis.name, axis.values) for axis in self.keys]
        if self.asymmetric:
            return [*keys, ("fold_left", self.folds_deg), ("fold_right", self.folds_deg)]
        return [*keys, ("fold", self.folds_deg)]

    @property
    def axes(self) -> list[tuple[str, tuple[float, ...]]]:
        """All axes of the dataset, in order."""
        return [*self.outer_axes, ("alpha", self.alphas_deg), ("beta", self.betas_deg)]

    @property
    def outer_shape(self) -> tuple[int, ...]:
        """Number of values on each outer axis."""
        return tuple(len(values) for _, values in self.outer_axes)

    def state(self) -> FlightState:
        """The flight states of every case, arrays (alpha, beta)."""
        alphas, betas = np.meshgrid(self.alphas_deg, self.betas_deg, indexing="ij")
        return FlightState(
            alpha=np.radians(alphas),
            beta=np.radians(betas),
            airspeed=self.airspeed,
            density=self.density,
        )

    def cases(self) -> list[Case]:
        """Every solve, in the order of the dataset."""
        found = []
        names = [name for name, _ in self.outer_axes]
        for place in product(*(range(n) for n in self.outer_shape)):
            values = [axis[i] for (_, axis), i in zip(self.outer_axes, place, strict=True)]
            named = dict(zip(names, values, strict=True))
            both = named.get("fold", 0.0)
            folds = FoldAngles(named.get("fold_left", both), named.get("fold_right", both))
            changes = tuple((axis.key, named[axis.name]) for axis in self.keys)
            found.append(Case(place, folds, changes))
        return found

    def work_order(self, cases: Sequence[Case] | None = None) -> list[Case]:
        """Some cases, or all, with every mirrored pair of folds side by side: one serves both."""

        def key(case: Case) -> tuple[object, ...]:
            left, right = case.folds.left_deg, case.folds.right_deg
            return (case.changes, max(left, right), min(left, right), left)

        wanted = self.cases() if cases is None else cases
        return sorted(wanted, key=key) if self.asymmetric else list(wanted)

    def digest(self, craft: Biplane, geometry: str | None = None) -> str:
        """Fingerprint of what the numbers depend on: craft, its mean lines, plan and version.

        ``geometry`` stands for the craft's canonical text where its tables have other names now.
        """
        text = json.dumps(
            {
                "craft": craft.to_toml() if geometry is None else geometry,
                "mean_lines": [asdict(line) for line in mean_lines(craft)],
                "plan": as_document(self),
                "version": vlm.__version__,
            },
            sort_keys=True,
        )
        return hashlib.sha256(text.encode()).hexdigest()


def plain_values(values: object, what: str) -> tuple[float, ...]:
    """Finite numbers of a tuple, a list, an array of one dimension, or one number.

    Raises
    ------
    InputRefused : nothing is there, or something that is no finite number
    """
    try:
        array = np.atleast_1d(np.asarray(values, dtype=float))
    except (TypeError, ValueError, OverflowError):
        array = np.array([])
    if array.ndim != 1 or not array.size or not np.all(np.isfinite(array)):
        raise InputRefused(f"{what} must hold at least one number and only numbers")
    return tuple(float(value) for value in array)


def mean_lines(craft: Biplane) -> list[CamberLine]:
    """Mean lines of all wings and tips, read from their files where they have one."""
    specs = [
        spec
        for wing in craft.wings.values()
        for spec in (wing.camber, wing.tips.camber if wing.tips is not None else None)
        if spec is not None
    ]
    return [camber_of(spec, craft.folder) for spec in specs]


def axis_values(text: str, what: str) -> tuple[float, ...]:
    """Values of an axis written START:STOP:COUNT, a list A,B,C, or one number.

    Lists are put in rising order; a range runs from its start to its stop.

    Raises
    ------
    InputRefused : it is none of these, or a value stands there twice
    """
    try:
        if ":" in text:
            start, stop, count = text.split(":")
            number = int(count)
            if number < 1 or number > MOST_VALUES:
                raise ValueError
            values = np.linspace(float(start), float(stop), number)
        else:
            values = np.sort([float(part) for part in text.split(",")])
    except ValueError:
        raise InputRefused(
            f"{what} = {text}; write START:STOP:COUNT, a list A,B,C, or one number"
        ) from None
    if not np.all(np.isfinite(values)):
        raise InputRefused(f"{what} = {text}; only finite numbers are allowed")
    found = axis_of(values, f"{what} = {text}")
    return found if values[0] <= values[-1] else found[::-1]


def axis_of(values: object, what: str) -> tuple[float, ...]:
    """Values of an axis from a list, an array or one number, in rising order.

    Raises
    ------
    InputRefused : not numbers, or a value stands there twice
    """
    # Rounding keeps 0.1 steps readable and the fold of -90 exact; Python's own does not overflow.
    rounded = sorted(round(value, 12) + 0.0 for value in plain_values(values, what))
    twice = [value for value, n in Counter(rounded).items() if n > 1]
    if twice:
        raise InputRefused(f"{what}; {twice[0]:g} stands there more than once")
    return tuple(rounded)


def as_document(plan: SweepPlan) -> dict[str, Any]:
    """The plan as plain values, for a dataset's attributes; no thrust where none is asked for."""
    plain = asdict(plan)
    if plan.thrust is None:
        del plain["thrust"]
    return plain


def plan_from(document: object) -> SweepPlan:
    """The plan that :func:`as_document` wrote, wherever it comes from now.

    Raises
    ------
    InputRefused : it is no such document
    """
    try:
        return _plan_from(document)
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise InputRefused(f"the plan is none that a sweep writes ({error})") from None


def _plan_from(document: object) -> SweepPlan:
    fields = _table({"thrust": None, **_mapping(document)}, SweepPlan)
    grid = _table(fields["grid"], Grid)
    fields["grid"] = Grid(
        rows=_count(grid["rows"], 1, MOST_ROWS),
        strips=_count(grid["strips"], FEWEST_STRIPS, MOST_STRIPS),
        span_law=_choice(grid["span_law"], get_args(SpanLaw)),
        chord_law=_choice(grid["chord_law"], get_args(ChordLaw)),
    )
    axes = [_table(axis, KeyAxis) for axis in fields["keys"]]
    fields["keys"] = tuple(KeyAxis(str(axis["key"]), _numbers(axis["values"])) for axis in axes)
    for name in ("folds_deg", "alphas_deg", "betas_deg"):
        fields[name] = _numbers(fields[name])
    for name in ("airspeed", "density"):
        fields[name] = _numbers([fields[name]])[0]
        if not LEAST_AIR <= fields[name] <= GREATEST_AIR:
            raise ValueError(f"{name} = {fields[name]:g}")
    for name in ("asymmetric", "errors", "exact"):
        _choice(fields[name], (True, False))
    _choice(fields["wake"], get_args(WakeKind))
    fields["thrust"] = _thrust(fields["thrust"])
    return SweepPlan(**fields)


def _mapping(document: object) -> dict[str, Any]:
    """A table of a document.

    Raises
    ------
    ValueError : it is none
    """
    if not isinstance(document, dict):
        raise ValueError("it is no table")
    return document


def _thrust(value: Any) -> Any:
    if value is None or value == "trim":
        return value
    found = _numbers([value])[0]
    if found < 0.0:
        raise ValueError(f"thrust = {found:g}")
    return found


def _table(value: object, kind: type) -> dict[str, Any]:
    """A table with the keys of a dataclass, all of them and no others."""
    names = {one.name for one in dataclass_fields(kind)}
    if not isinstance(value, dict) or set(value) != names:
        raise ValueError(f"{kind.__name__} needs {', '.join(sorted(names))} and nothing else")
    return dict(value)


def _numbers(values: object) -> tuple[float, ...]:
    """Finite numbers of a list."""
    if not isinstance(values, list | tuple) or not values:
        raise ValueError(f"{values!r:.60} is no list of numbers")
    for value in values:
        if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
            raise ValueError(f"{value!r:.60} is no finite number")
    return tuple(float(value) for value in values)


def _count(value: object, least: int, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise ValueError(f"{value!r:.60}, where {least} to {most} are allowed")
    return value


def _choice(value: Any, allowed: tuple[Any, ...]) -> Any:
    if not any(value is one or (isinstance(one, str) and value == one) for one in allowed):
        raise ValueError(f"{value!r:.60}, where {', '.join(map(str, allowed))} are allowed")
    return value

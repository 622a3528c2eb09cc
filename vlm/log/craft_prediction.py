"""The power curve of a geometry file as a prediction for a log, quick enough to be fitted.

A power curve takes seconds; a fit asks for hundreds. Efficiency and fixed load enter the electrical
power in closed form. Drag area, mass and lift maximum do not: for those that are to be fitted,
curves are made at a few of their values, and a parabola in them (with the products of each two)
goes through every speed. How far the parabola is off is checked by direct solves at the fitted
values.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from vlm.air import sea_level_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.findings import Finding
from vlm.flight.trim.power_curve import PowerCurve, power_curve
from vlm.flight.trim.power_samples import INPUTS, sampled_curve
from vlm.flight.trim.powered import powered_craft
from vlm.flight.trim.uncertain_keys import MovedCraft, keys_left_out, uncertain_keys
from vlm.lattice.cellule import Grid
from vlm.log.craft_unknowns import (
    DRAG_AREA,
    EFFICIENCY,
    FIXED_LOAD,
    LIFT_MAXIMUM,
    MASS,
    corrected,
    craft_unknowns,
)
from vlm.log.prediction import Prediction

TABULATED = (DRAG_AREA, MASS, LIFT_MAXIMUM)
SPEED_STEP = 0.75
FEWEST_SPEEDS, MOST_SPEEDS = 8, 40
SPEED_MARGIN = 1.5
# Tabulated values stand this share of the possible range to both sides of the file's own.
TABLE_REACH = {DRAG_AREA: 0.1, MASS: 0.12, LIFT_MAXIMUM: 0.12}
# Error of the table against a direct solve from which on it is reported, as a share of the power.
TABLE_ERROR = 0.02
LABELS = {
    "mass": "mass", "profile_drag": "drag of the wings' sections",
    "lift_maximum": "highest lift of the sections", "drag_area": "drag areas",
    "efficiency": "efficiency of motors and controllers",
    "rotor_power": "power the rotors need for their thrust", "fixed_load": "fixed load",
}  # fmt: skip


@dataclass
class CraftPower:
    """Electrical power of a craft over airspeed, fold and unknowns; solved when first asked for.

    Attributes
    ----------
    craft : the description
    density : of the air [kg/m^3]
    speeds : where curves are solved, shape (speeds) [m/s]
    fits : the unknowns that will be varied
    grid : lattice; None for that of power curves
    report : called with 1 after each curve
    """

    craft: Biplane
    density: float
    speeds: Floats
    fits: Sequence[str] = ()
    grid: Grid | None = None
    report: Callable[[int], None] | None = None
    _tables: dict[FoldAngles, "_Table"] = field(default_factory=dict)
    _around: dict[FoldAngles, "_Around"] = field(default_factory=dict)

    @property
    def curves_needed(self) -> int:
        """Curves to be solved for each fold setting."""
        return len(_nodes(len(self._varied)))

    @property
    def _varied(self) -> tuple[str, ...]:
        return tuple(name for name in TABULATED if name in self.fits)

    def __call__(self, airspeed: Floats, folds: FoldAngles, values: Mapping[str, float]) -> Floats:
        """Electrical power, shape (n) [W]; NaN where there is no trim."""
        if folds not in self._tables:
            self._tables[folds] = self._tabulated(folds)
        shaft = self._tables[folds].shaft_power(airspeed, values)
        return self._electrical(shaft, values)

    def solved(self, airspeed: Floats, folds: FoldAngles, values: Mapping[str, float]) -> Floats:
        """The same by direct solves at the asked-for values, shape (n) [W]."""
        known = {name: value for name, value in values.items() if name in TABULATED}
        return self._electrical(self._curve(folds, known, np.sort(airspeed)), values)[
            np.argsort(np.argsort(airspeed))
        ]

    @property
    def inputs(self) -> dict[str, str]:
        """What ``[uncertainty]`` states of the craft: labels by name, its keys by their paths.

        Raises
        ------
        InputRefused : one of its keys leads to no number that the file gives
        """
        labels = {n: LABELS.get(n, n.replace("_", " ")) for n in self._scaled}
        return labels | {key.name: key.name for key in uncertain_keys(self.craft)}

    @property
    def _scaled(self) -> tuple[str, ...]:
        """Inputs that scale parts of the loads."""
        stated = self.craft.uncertainty
        if stated is None:
            return ()
        return tuple(n for n in INPUTS if getattr(stated, f"{n}_percent") > 0.0)

    @property
    def left_out(self) -> tuple[Finding, ...]:
        """Findings of keys that are not in the effects of the settings asked for so far."""
        names = {s.folds: name for name, s in self.craft.configurations.items()}
        moved = {names.get(folds, str(folds)): one.moved for folds, one in self._around.items()}
        return tuple(keys_left_out(moved))

    def input_effects(self, airspeed: Floats, folds: FoldAngles) -> Floats:
        """Electrical power for one standard deviation of each input, shape (n, inputs) [W]."""
        around = self._surroundings(folds)
        known = np.isfinite(around.effects).all(axis=1)
        if known.sum() < 2:
            return np.zeros((airspeed.size, around.effects.shape[1]))
        return np.column_stack(
            [np.interp(airspeed, self.speeds[known], e[known]) for e in around.effects.T]
        )

    def allowed(self, airspeed: Floats, folds: FoldAngles) -> NDArray[np.bool_]:
        """Whether the craft can be flown there within all its limits, shape (n)."""
        margin = self._surroundings(folds).margin
        known = np.isfinite(margin)
        if known.sum() < 2:
            return np.zeros(airspeed.shape, dtype=bool)
        inside = np.interp(airspeed, self.speeds[known], margin[known], left=-1.0, right=-1.0)
        return np.asarray(inside >= 0.0)

    def _surroundings(self, folds: FoldAngles) -> "_Around":
        if folds not in self._around:
            self._around[folds] = self._surrounded(folds)
        return self._around[folds]

    def _surrounded(self, folds: FoldAngles) -> "_Around":
        """Margins and effects of uncertain inputs along the file's own curve."""
        air = sea_level_air(self.density)
        made = powered_craft(self.craft, folds, air=air, grid=self.grid)
        curve = power_curve(made, self.speeds)
        margin = np.array([point.margin for point in curve.points])
        moved = MovedCraft(made, uncertain_keys(self.craft), self.grid)
        effects = np.column_stack([self._scaled_effects(curve), _moved_effects(curve, moved)])
        if self.report is not None:
            self.report(1)
        return _Around(margin, effects, moved)

    def _scaled_effects(self, curve: PowerCurve) -> Floats:
        """Of inputs that scale parts of the loads, shape (speeds, inputs) [W]."""
        names = self._scaled
        if not names:
            return np.zeros((len(curve.points), 0))
        factors = np.ones((2 * len(names), len(INPUTS)))
        for i, name in enumerate(names):
            spread = getattr(self.craft.uncertainty, f"{name}_percent") / 100.0
            factors[2 * i, INPUTS.index(name)] += spread
            factors[2 * i + 1, INPUTS.index(name)] -= spread
        power = sampled_curve(curve, factors).power
        return np.asarray(0.5 * (power[0::2] - power[1::2]).T)

    def _electrical(self, shaft: Floats, values: Mapping[str, float]) -> Floats:
        propulsion = self.craft.propulsion
        assert propulsion is not None
        usual = propulsion.motor_efficiency * propulsion.controller_efficiency
        efficiency = values.get(EFFICIENCY, usual)
        return shaft / efficiency + values.get(FIXED_LOAD, propulsion.fixed_load_W)

    def _curve(self, folds: FoldAngles, values: Mapping[str, float], speeds: Floats) -> Floats:
        """Power at all shafts together, shape (speeds) [W]."""
        air = sea_level_air(self.density)
        craft = powered_craft(corrected(self.craft, values), folds, air=air, grid=self.grid)
        power = power_curve(craft, speeds).values("shaft_power_W")
        if self.report is not None:
            self.report(1)
        return power

    def _tabulated(self, folds: FoldAngles) -> "_Table":
        unknowns = craft_unknowns(self.craft, _wing_area(self.craft))
        varied = [unknowns[name] for name in self._varied]
        steps = np.array([TABLE_REACH[u.name] * (u.high - u.low) for u in varied])
        centre = np.array([max(u.nominal, u.low + step) for u, step in zip(varied, steps)])  # noqa: B905
        nodes = _nodes(len(varied))
        curves = [
            self._curve(
                folds,
                {u.name: float(c + n * s) for u, c, n, s in zip(varied, centre, node, steps)},  # noqa: B905
                self.speeds,
            )
            for node in nodes
        ]
        usual = np.array([u.nominal for u in varied])
        return _Table(self._varied, self.speeds, np.array(curves), nodes, centre, steps, usual)


@dataclass(frozen=True)
class _Around:
    """Of the file's own curve: least margin of all limits, shape (speeds); change of the power for
    a standard deviation of each input, shape (speeds, inputs) [W]; the craft with its uncertain
    keys moved."""

    margin: Floats
    effects: Floats
    moved: MovedCraft


def _moved_effects(curve: PowerCurve, moved: MovedCraft) -> Floats:
    """Of uncertain keys, shape (speeds, keys) [W]; NaN without a trim."""
    effects = np.full((len(curve.points), len(moved.sides)), np.nan)
    for i, point in enumerate(curve.points):
        if point.trim is not None and moved.sides:
            effects[i] = moved.response(point, curve.climb_angle).slope[:, 0]
    return effects


@dataclass(frozen=True)
class _Table:
    """Power curves at a few values of the varied unknowns, and a parabola through them.

    Attributes
    ----------
    names : the unknowns
    speeds : shape (speeds) [m/s]
    curves : power at the shafts, shape (nodes, speeds) [W]
    nodes : places of the curves in steps from the centre, shape (nodes, unknowns)
    centre, steps, usual : of the unknowns, shape (unknowns)
    """

    names: tuple[str, ...]
    speeds: Floats
    curves: Floats
    nodes: Floats
    centre: Floats
    steps: Floats
    usual: Floats

    @cached_property
    def _between_speeds(self) -> PchipInterpolator | None:
        """Every curve over airspeed, where all of them have a trim."""
        known = np.isfinite(self.curves).all(axis=0)
        if known.sum() < 2:
            return None
        return PchipInterpolator(self.speeds[known], self.curves[:, known].T, extrapolate=False)

    @cached_property
    def _inverse(self) -> Floats:
        return np.asarray(np.linalg.inv(_terms(self.nodes)), dtype=np.float64)

    def shaft_power(self, airspeed: Floats, values: Mapping[str, float]) -> Floats:
        """Power at the shafts, shape (n) [W]."""
        if self._between_speeds is None:
            return np.full(airspeed.shape, np.nan)
        place = np.array(
            [values.get(n, float(u)) for n, u in zip(self.names, self.usual, strict=True)]
        )
        weights = _terms(((place - self.centre) / self.steps)[None, :])[0] @ self._inverse
        return np.asarray(self._between_speeds(airspeed) @ weights, dtype=np.float64)


def _nodes(count: int) -> Floats:
    """Places of a parabola in some unknowns: the middle, both sides of each, each two together."""
    places = [np.zeros(count)]
    for i in range(count):
        for side in (-1.0, 1.0):
            place = np.zeros(count)
            place[i] = side
            places.append(place)
    for i, j in combinations(range(count), 2):
        place = np.zeros(count)
        place[[i, j]] = 1.0
        places.append(place)
    return np.array(places).reshape(len(places), count)


def _terms(places: Floats) -> Floats:
    """1, x, x^2 and the products of each two, shape (places, terms)."""
    count = places.shape[1]
    columns = [np.ones(len(places))]
    columns += [places[:, i] for i in range(count)]
    columns += [places[:, i] ** 2 for i in range(count)]
    columns += [places[:, i] * places[:, j] for i, j in combinations(range(count), 2)]
    return np.column_stack(columns)


def _wing_area(craft: Biplane) -> float:
    from vlm.lattice.cellule import build_cellule

    return float(build_cellule(craft, Grid(2, 8)).reference.area)


def speeds_for(flown: Floats) -> Floats:
    """Speeds of the curves that a log needs: around what was flown, some each metre a second.

    Parameters
    ----------
    flown : airspeeds of segments, shape (any) [m/s]
    """
    low, high = max(float(flown.min()) - SPEED_MARGIN, 0.0), float(flown.max()) + SPEED_MARGIN
    count = int(np.clip(round((high - low) / SPEED_STEP) + 1, FEWEST_SPEEDS, MOST_SPEEDS))
    return np.linspace(low, high, count)


def craft_prediction(power: CraftPower) -> Prediction:
    """The prediction that a craft's power curves give.

    Parameters
    ----------
    power : of the craft
    """
    craft = power.craft
    settings = {name: setting.folds for name, setting in craft.configurations.items()}
    return Prediction(
        power,
        settings,
        craft_unknowns(craft, _wing_area(craft)),
        power.inputs,
        power.input_effects,
        power.allowed,
    )


def table_warnings(
    power: CraftPower,
    flown: Mapping[str, Floats],
    values: Mapping[str, float],
) -> list[Finding]:
    """Whether the parabola holds at the fitted values, by direct solves.

    Parameters
    ----------
    power : the tabulated craft
    flown : airspeeds by configuration, shape (n) [m/s]
    values : fitted unknowns by name
    """
    if not any(name in TABULATED for name in values):
        return []
    settings = craft_prediction(power).settings
    worst = 0.0
    for name, airspeed in flown.items():
        exact = power.solved(airspeed, settings[name], values)
        table = power(airspeed, settings[name], values)
        known = np.isfinite(exact) & np.isfinite(table)
        if known.any():
            worst = max(worst, float(np.max(np.abs(table / exact - 1.0)[known])))
    if worst <= TABLE_ERROR:
        return []
    return [
        Finding(
            "log-fit-table", "at the fitted values the tabulated power is off", 100.0 * worst,
            100.0 * TABLE_ERROR, "%", "direct solves at the flown speeds",
            "write the fitted file and fit that one again",
        )
    ]  # fmt: skip

"""Constraints of a schedule that are kept by less than their ±.

A constraint on stability, roll or hinges reads numbers of the lattice in the free stream. Their
half-widths are the lattice's error, what the wake leaves open, and all that sections and the moved
centre of gravity change, which these numbers leave out. Where a margin is smaller, whether the
constraint is kept is not known.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from vlm.air import standard_air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.errors import FoldspanError
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.section_slopes import section_slopes
from vlm.flight.plan.constraints import DRIVE, HINGE, ROLL_MOMENT, TOUCH, Constraint, Setting
from vlm.flight.plan.fold_loads import FoldLoads
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.trim.powered import POWER_GRID
from vlm.loads.model_spread import HINGE as HINGE_SPREAD
from vlm.loads.model_spread import wake_spread
from vlm.loads.state import FlightState
from vlm.plain import more_of
from vlm.sides import wing_and_side
from vlm.study.point.errors import coarser, half_width
from vlm.study.point.sizes import tip_sizes

DIHEDRAL = "Cl_beta"
LIKELY = 0.5
"""Share of a quantity within which its half-width is looked for [1]."""
LEAST = {DIHEDRAL: 0.03}
"""The same where the quantity itself is near zero [1/rad]."""


@dataclass(frozen=True)
class Unsure:
    """A constraint of which it is not known whether it is kept, at its worst airspeed.

    Attributes
    ----------
    name, unit : of the constraint and its margin
    speeds : airspeeds at which it is not known, growing [m/s]
    speed, fold_deg : where the margin less its half-width is least [m/s], [deg]
    margin, half_width : there, in the unit
    """

    name: str
    unit: str
    speeds: tuple[float, ...]
    speed: float
    fold_deg: float
    margin: float
    half_width: float

    @property
    def words(self) -> str:
        """In one sentence, without the margin."""
        also = (
            f" and at {more_of(len(self.speeds) - 1, 'airspeed')}" if len(self.speeds) > 1 else ""
        )
        place = f"fold {self.fold_deg:.3g} deg and {self.speed:.4g} m/s"
        return f"not known whether {self.name} is kept at {place}{also}"


def unsure(table: FoldTable, settings: Iterable[Setting]) -> tuple[Unsure, ...]:
    """What is not known of the constraints at some settings, one entry a constraint."""
    widths = _Widths(table)
    found: dict[str, list[tuple[Setting, float, float]]] = {}
    for one in {(s.fold_deg, s.speed): s for s in settings}.values():
        for constraint in table.constraints.listed:
            margin = one.margins.get(constraint.name, float("nan"))
            if not margin >= -TOUCH or one.speed == 0.0:
                continue
            width = widths.of(constraint, one)
            if not width <= margin:
                found.setdefault(constraint.name, []).append((one, margin, width))
    units = table.constraints.units
    return tuple(_worst(name, units[name], cases) for name, cases in found.items())


def _worst(name: str, unit: str, cases: Sequence[tuple[Setting, float, float]]) -> Unsure:
    one, margin, width = min(cases, key=lambda case: case[1] - case[2])
    speeds = tuple(sorted({setting.speed for setting, _, _ in cases}))
    return Unsure(name, unit, speeds, one.speed, one.fold_deg, margin, width)


@dataclass
class _Widths:
    """Half-widths of what constraints read, worked out where they may count."""

    table: FoldTable
    _known: dict[tuple[float, float, str], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        book = self.table.book
        self.grid = book.grid or POWER_GRID
        self.density = (book.air or standard_air()).density_kg_m3
        self.reserve = self.table.constraints.schedule.roll_reserve_deg or 0.0
        self.loads = self.table.constraints.loads.exact
        self.rough = FoldLoads.of(book.craft, book.air, coarser(self.grid))
        self.folding = FoldingCraft(book.craft, self.grid, sideslip=True)
        self.low, self.high = book.craft.fold_range_deg

    def of(self, constraint: Constraint, setting: Setting) -> float:
        """Half-width of a margin; 0 where it is far from counting."""
        if not all(name.startswith((DIHEDRAL, ROLL_MOMENT, HINGE, DRIVE))
                   for name in constraint.reads):  # fmt: skip
            return 0.0
        values = np.array([setting.quantities[name] for name in constraint.reads])
        likely = np.maximum(LIKELY * np.abs(values), LEAST.get(constraint.reads[0], 0.0))
        if _reach(constraint, values, likely) <= setting.margins[constraint.name]:
            return 0.0
        widths = np.array([self.width(name, setting) for name in constraint.reads])
        return _reach(constraint, values, widths)

    def width(self, name: str, setting: Setting) -> float:
        """Half-width of one quantity; NaN where it cannot be worked out."""
        key = (setting.fold_deg, setting.speed, name)
        if key not in self._known:
            try:
                self._known[key] = self._width(name, setting)
            except FoldspanError:
                self._known[key] = float("nan")
        return self._known[key]

    def _width(self, name: str, setting: Setting) -> float:
        value = setting.quantities[name]
        if name == DIHEDRAL:
            return self._of_dihedral(value, setting)
        if name == ROLL_MOMENT:
            return self._of_roll(value, setting)
        body = name.removeprefix(HINGE).removeprefix(DRIVE)
        return self._of_hinge(body, setting)

    def _of_dihedral(self, value: float, setting: Setting) -> float:
        fold, speed, alpha = setting.fold_deg, setting.speed, _alpha(setting)
        other = self.rough.dihedral_effect(fold, alpha, speed)
        loads = self.loads.engine.loads(FoldAngles.symmetric(fold))
        wake = float(wake_spread(loads, FlightState(alpha=np.radians(alpha)))[DIHEDRAL])
        craft = self.folding.symmetric(fold)
        _, changes = section_slopes(craft, float(np.radians(alpha)), speed, self.density)
        lattice = float(half_width(value, other, abs(value), self.grid))
        return lattice + wake + abs(changes[DIHEDRAL])

    def _of_roll(self, value: float, setting: Setting) -> float:
        fold, speed, alpha = setting.fold_deg, setting.speed, _alpha(setting)
        other = self.rough.roll_moment(fold, self.reserve, alpha, speed)
        folds = FoldAngles(max(self.low, fold - self.reserve), min(self.high, fold + self.reserve))
        craft = self.folding.at(folds)
        state = FlightState(alpha=np.radians(alpha))
        reference = craft.loads.reference
        size = 0.5 * self.density * speed**2 * reference.area * reference.span
        wake = size * float(wake_spread(craft.loads, state)["Cl"])
        motion = craft.motion(speed, float(np.radians(alpha)))
        # About the centre of gravity, which the folded tips have moved, and with sections.
        whole = float(craft.wrench(motion, self.density)[3])
        return float(half_width(value, other, abs(value), self.grid)) + wake + abs(whole - value)

    def _of_hinge(self, body: str, setting: Setting) -> float:
        fold, speed, alpha = setting.fold_deg, setting.speed, _alpha(setting)
        value = self.loads.hinge_moments(fold, alpha, speed)[body]
        other = self.rough.hinge_moments(fold, alpha, speed)[body]
        craft = self.folding.symmetric(fold)
        state = FlightState(alpha=np.radians(alpha))
        tip = float(np.prod(tip_sizes(self.loads.engine.cellule)[wing_and_side(body)[0]]))
        pressure = 0.5 * self.density * speed**2
        wake = pressure * tip * float(wake_spread(craft.loads, state)[HINGE_SPREAD])
        motion = craft.motion(speed, float(np.radians(alpha)))
        change = craft.section_change(motion[None, :], self.density)
        sections = 0.0 if change is None else abs(float(change.hinges[body][0]))
        return float(half_width(value, other, abs(value), self.grid)) + wake + sections


def _alpha(setting: Setting) -> float:
    """Angle of attack of a trim [deg]."""
    return float(setting.point.value("alpha_deg"))


def _reach(constraint: Constraint, values: Floats, widths: Floats) -> float:
    """How far a margin falls where its quantities are off by their half-widths."""
    signs = np.sign(values)
    shifts = (1.0, -1.0, signs, -signs)
    around = np.array([values, *(values + shift * widths for shift in shifts)])
    margins = constraint.margin(around)
    return float(margins[0] - np.min(margins))

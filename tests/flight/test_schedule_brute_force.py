"""Schedules against brute force: every fold of a grid of one degree, solved by another way.

Nothing is interpolated and nothing of the search is used: each fold has its own trims, and its
constraints are worked out here from the plain solve of the lattice, the trims' thrusts and the
strips' angles.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane
from vlm.description.schedule import Schedule
from vlm.flight.plan.fold_search import FoldTable
from vlm.flight.plan.schedule import best_fold
from vlm.flight.trim.power_book import direct_trim, fold_grid, power_book
from vlm.flight.trim.powered import powered_craft
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.state import FlightState

GRID = Grid(rows=2, strips=8)
TOLERANCE = 2e-3
"""What docs/schedule.md states, in shares of the power."""
FLAT = 0.01
RANGES = {"tideline": (11.0, 21.0), "winnow": (13.0, 25.0), "thistle": (7.0, 13.0)}
BOUND = {
    "tideline": {},
    "winnow": {},
    "thistle": {
        "roll_reserve_deg": 10.0, "roll_moment_min_N_m": 0.004, "folding_rate_min_deg_s": 20.0,
    },
}  # fmt: skip


def craft_of(name: str, *, bound: bool) -> Biplane:
    """A craft with the constraints of its file and further ones, or with none at all."""
    craft = load_biplane(name)
    tables = craft.model_dump(exclude_none=True)
    low, high = RANGES[name]
    ends = {"airspeed_min_m_s": low, "airspeed_max_m_s": high}
    tables["schedule"] = (tables["schedule"] | BOUND[name] | ends) if bound else ends
    return Biplane.model_validate(tables).from_source(craft.source)


@dataclass(frozen=True)
class Brute:
    """Folds [deg], power [W] and least margin, (folds, speeds); NaN without a trim."""

    folds: np.ndarray
    power: np.ndarray
    margin: np.ndarray

    def inside(self, index: int, *, bound: bool) -> np.ndarray:
        """Power where every constraint is kept, or only those of the rotors; else infinite."""
        kept = np.isfinite(self.power[:, index])
        kept &= (self.margin[:, index] >= 0.0) | (not bound)
        return np.where(kept, self.power[:, index], np.inf)


def brute(craft: Biplane, speeds: tuple[float, ...], step: float) -> Brute:
    """Every fold from limit to limit."""
    schedule = craft.schedule
    assert schedule is not None
    low, high = craft.fold_range_deg
    folds = np.unique(np.append(np.arange(low, high, step), high))
    power, margin = np.full((2, len(folds), len(speeds)), np.nan)
    for i, fold in enumerate(folds):
        made = powered_craft(craft, FoldAngles.symmetric(float(fold)), grid=GRID)
        lattice = _lattice(craft, float(fold), float(fold))
        apart = _apart(craft, schedule, float(fold))
        near = None
        for j in reversed(range(len(speeds))):
            near = point = direct_trim(made, speeds[j], near=near)
            if point.trim is None or point.limit:
                continue
            power[i, j] = point.value("electrical_power_W")
            margin[i, j] = _margin(craft, schedule, float(fold), point, lattice, apart)
    return Brute(folds, power, margin)


def _lattice(craft: Biplane, left: float, right: float) -> Lattice:
    return build_lattice(craft, FoldAngles(left, right), GRID)


def _apart(craft: Biplane, schedule: Schedule, fold: float) -> Lattice | None:
    reserve = schedule.roll_reserve_deg
    low, high = craft.fold_range_deg
    if not reserve or schedule.roll_moment_min_N_m is None:
        return None
    if fold - reserve < low or fold + reserve > high:
        return None
    return _lattice(craft, fold - reserve, fold + reserve)


def _margin(craft, schedule, fold, point, lattice, apart):  # type: ignore[no-untyped-def]
    """The least margin of all constraints, each over a size of its own kind."""
    speed = point.speed
    state = FlightState(alpha=point.trim.alpha, airspeed=speed)
    low, high = craft.fold_range_deg
    found = [min(fold - low, high - fold) - (schedule.roll_reserve_deg or 0.0)]
    found += [max(a - fold, fold - b) for a, b in schedule.forbidden_deg]
    if schedule.stall_margin_min_deg is not None:
        coupled = point.trim.loads.coupled
        least = np.degrees(coupled.state.margin[0].min())
        found.append(least - schedule.stall_margin_min_deg)
    if schedule.rotor_margin_min is not None:
        used = [t / r.thrust_max_N for t, r in zip(point.trim.thrusts, craft.rotors, strict=True)]
        found.append(1.0 - max(used) - schedule.rotor_margin_min)
    if schedule.dihedral_effect != "any":
        sense = -1.0 if schedule.dihedral_effect == "stable" else 1.0
        slope = derivatives(loads_of_state(lattice, state, fold_rates=False), state)["body"][
            "Cl_beta"
        ]
        found.append(sense * float(slope) - schedule.dihedral_effect_min_per_rad)
    if apart is not None:
        size = 0.5 * 1.225 * speed**2 * apart.reference.area * apart.reference.span
        loads = loads_of_state(apart, state, fold_rates=False)
        moment = float(coefficients(loads, state).Cl) * size
        found.append(abs(moment) - schedule.roll_moment_min_N_m)
    return min(found)


@cache
def brute_of(name: str, count: int, step: float) -> Brute:
    """Brute force over a craft's range of airspeeds."""
    return brute(craft_of(name, bound=True), speeds_of(name, count), step)


def speeds_of(name: str, count: int) -> tuple[float, ...]:
    """Airspeeds of a craft's schedule."""
    return tuple(float(u) for u in np.linspace(*RANGES[name], count))


def check(name: str, *, bound: bool, folds: int, count: int, step: float) -> None:
    """Same power, same fold within the flat range, and no constraint missed at that fold."""
    craft = craft_of(name, bound=bound)
    assert craft.schedule is not None
    speeds = speeds_of(name, count)
    direct = brute_of(name, count, step)
    book = power_book(craft, fold_grid(craft, folds), speeds, grid=GRID)
    table = FoldTable.of(book, craft.schedule)
    for index, speed in enumerate(speeds):
        found = best_fold(table, speed)
        inside = direct.inside(index, bound=bound)
        least = float(inside.min())
        assert np.isfinite(found.power) == np.isfinite(least), (name, speed)
        if not np.isfinite(least):
            continue
        # The grid's steps miss the least power between them, so that the search may be below it.
        assert found.power <= least * (1.0 + TOLERANCE), (name, speed)
        assert found.power >= least * (1.0 - 5.0 * TOLERANCE), (name, speed)
        flat = direct.folds[inside <= least * (1.0 + FLAT)]
        assert np.abs(flat - found.fold_deg).min() <= step, (name, speed)
        own = brute_at(craft, found.fold_deg, speed)
        # The search reads the wake's angle between nodes, the plain solve does not.
        assert own.margin[0, 0] >= -1e-3, (name, speed, found.fold_deg)
        assert own.power[0, 0] == pytest.approx(found.power, rel=1e-6)


def brute_at(craft: Biplane, fold: float, speed: float) -> Brute:
    """One fold by the same other way."""
    made = powered_craft(craft, FoldAngles.symmetric(fold), grid=GRID)
    assert craft.schedule is not None
    point = direct_trim(made, speed)
    margin = _margin(
        craft, craft.schedule, fold, point, _lattice(craft, fold, fold),
        _apart(craft, craft.schedule, fold),
    )  # fmt: skip
    power = np.array([[point.value("electrical_power_W")]])
    return Brute(np.array([fold]), power, np.array([[margin]]))


@pytest.mark.parametrize(
    "name",
    [*(pytest.param(name, marks=pytest.mark.slow) for name in ("tideline", "winnow")), "thistle"],
)
def test_the_schedule_is_the_least_of_direct_solves(name: str) -> None:
    check(name, bound=True, folds=7, count=3, step=5.0)


@pytest.mark.slow
@pytest.mark.parametrize("folds", [7, 11, 21])
@pytest.mark.parametrize("bound", [True, False])
@pytest.mark.parametrize("name", RANGES)
def test_every_degree_at_twelve_airspeeds_whatever_the_fold_count(
    name: str, bound: bool, folds: int
) -> None:
    check(name, bound=bound, folds=folds, count=12, step=1.0)


def test_one_of_them_is_bound_by_its_dihedral_effect() -> None:
    """Else the constraints would be idle here: without it another fold would be better."""
    craft = craft_of("winnow", bound=True)
    assert craft.schedule is not None
    book = power_book(craft, fold_grid(craft, 7), [24.0], grid=GRID)
    bound = best_fold(FoldTable.of(book, craft.schedule), 24.0)
    assert bound.active == ("dihedral effect",)
    free = craft.schedule.model_copy(update={"dihedral_effect": "any"})
    assert best_fold(FoldTable.of(book, free), 24.0).power < bound.power * (1.0 - 1e-3)

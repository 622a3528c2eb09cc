"""Power and limits over airspeed and symmetric fold, tabulated once from trims.

A schedule asks for thousands of settings; it reads them here. Between the tabulated folds,
quantities are interpolated by local cubics that do not swing (Akima 1970, modified, from memory);
what is decided on them is confirmed by direct trims.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator, PchipInterpolator

from vlm.air import Air
from vlm.constants import Floats
from vlm.description.folds import FoldAngles
from vlm.description.models import Biplane
from vlm.errors import BlockMissing, ComputationFailed, InputRefused
from vlm.flight.trim.kept_curves import CurveKeeper
from vlm.flight.trim.power_curve import PowerCurve, PowerPoint
from vlm.flight.trim.powered import PoweredCraft, powered_craft
from vlm.flight.trim.spot_trims import spot_curve
from vlm.flight.trim.trim import trim_problem, trimmed
from vlm.flight.trim.trim_measures import limits_in_words, measured
from vlm.lattice.cellule import Grid
from vlm.progress import Counted

POWER = "electrical_power_W"
Curve = PchipInterpolator | Akima1DInterpolator


@dataclass(frozen=True)
class PowerBook:
    """Trims over symmetric folds and airspeeds.

    Attributes
    ----------
    craft : the description
    folds_deg : shape (folds,), growing [deg]
    speeds : shape (speeds,), growing from 0 [m/s]
    curves : one power curve a fold; None where the craft cannot be built or trimmed there
    reasons : by fold, why there is no curve; empty where there is one
    air : the air
    grid : the lattice's grid, None for the default of power curves
    """

    craft: Biplane
    folds_deg: Floats
    speeds: Floats
    curves: tuple[PowerCurve | None, ...]
    reasons: tuple[str, ...]
    air: Air | None
    grid: Grid | None

    @cached_property
    def kept(self) -> dict[str, Any]:
        """What was worked out for this craft, such as its loads over the folds, by name."""
        return {}

    @cached_property
    def _built(self) -> dict[float, PoweredCraft]:
        return {}

    def built(self, fold_deg: float) -> PoweredCraft:
        """The craft at a fold, the same for all who ask [deg].

        Raises
        ------
        InputRefused : it cannot be built there
        """
        fold = round(float(fold_deg), 9)
        if fold not in self._built:
            known = [c for f, c in zip(self.folds_deg, self.curves, strict=True) if f == fold and c]
            self._built[fold] = (
                known[0].problem.craft
                if known
                else powered_craft(
                    self.craft, FoldAngles.symmetric(fold), air=self.air, grid=self.grid
                )
            )
        return self._built[fold]

    def table(self, key: str) -> Floats:
        """One quantity over (folds, speeds), NaN where there is no trim."""
        nothing = np.full(len(self.speeds), np.nan)
        return np.array([nothing if c is None else c.values(key) for c in self.curves])

    @cached_property
    def allowed(self) -> NDArray[np.bool_]:
        """Where the craft may be flown, shape (folds, speeds)."""
        nowhere = np.zeros(len(self.speeds), dtype=bool)
        return np.array([nowhere if c is None else c.allowed for c in self.curves])

    @cached_property
    def power(self) -> Floats:
        """Electrical power over (folds, speeds), NaN where the craft may not be flown [W]."""
        return np.where(self.allowed, self.table(POWER), np.nan)


class FoldCurve:
    """A quantity against fold: local cubics over each unbroken run of known values."""

    def __init__(self, folds_deg: Floats, values: Floats) -> None:
        self.runs: list[tuple[float, float, float, Curve | None]] = []
        known = np.isfinite(values)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(int), [0]])))
        for first, after in zip(edges[::2], edges[1::2], strict=True):
            x, y = folds_deg[first:after], values[first:after]
            curve = _local_cubic(x, y) if len(x) > 1 else None
            self.runs.append((float(x[0]), float(x[-1]), float(y[0]), curve))

    def __call__(self, fold_deg: float | Floats) -> Floats:
        """The values at some folds, of their shape; NaN outside every run."""
        folds = np.asarray(fold_deg, float)
        found = np.full(folds.shape, np.nan)
        for low, high, only, curve in self.runs:
            own = (low <= folds) & (folds <= high)
            found[own] = only if curve is None else curve(folds[own])
        return found


def _local_cubic(x: Floats, y: Floats) -> Curve:
    """Modified Akima interpolation; monotone cubics for fewer than five points."""
    if len(x) < 5:
        return PchipInterpolator(x, y)
    return Akima1DInterpolator(x, y, method="makima")


def power_book(
    craft: Biplane,
    folds_deg: Sequence[float] | Floats,
    speeds: Sequence[float] | Floats,
    *,
    air: Air | None = None,
    grid: Grid | None = None,
    report: Counted | None = None,
    keeper: CurveKeeper | None = None,
) -> PowerBook:
    """Tabulate trims over symmetric folds and airspeeds.

    Parameters
    ----------
    folds_deg : growing [deg]
    speeds : growing, from 0 [m/s]
    report : called with the folds done, and all there are
    keeper : keeps every finished fold, and gives back those it has

    Raises
    ------
    ComputationFailed : the craft can be trimmed at no fold
    """
    curves: list[PowerCurve | None] = []
    reasons: list[str] = []
    for index, fold in enumerate(folds_deg):
        curve, reason = _curve_at(craft, float(fold), np.asarray(speeds), air, grid, keeper)
        curves.append(curve)
        reasons.append(reason)
        if report is not None:
            report(index + 1, len(folds_deg))
    if all(curve is None for curve in curves):
        raise ComputationFailed(
            f"the craft can be trimmed at no fold; the first says: {reasons[0]}"
        )
    return PowerBook(
        craft, np.asarray(folds_deg, float), np.asarray(speeds, float),
        tuple(curves), tuple(reasons), air, grid,
    )  # fmt: skip


def _curve_at(
    craft: Biplane,
    fold: float,
    speeds: Floats,
    air: Air | None,
    grid: Grid | None,
    keeper: CurveKeeper | None,
) -> tuple[PowerCurve | None, str]:
    try:
        made = powered_craft(craft, FoldAngles.symmetric(fold), air=air, grid=grid)
        name = "" if keeper is None else curve_name(craft, fold, speeds)
        return spot_curve(made, speeds, keeper=keeper, name=name), ""
    except BlockMissing:
        raise
    except (InputRefused, ComputationFailed) as error:
        return None, str(error)


def curve_name(craft: Biplane, fold: float, speeds: Floats) -> str:
    """A name for the curve of a craft at a fold, air and lattice left aside."""
    text = json.dumps([craft.to_toml(), round(fold, 9), np.round(speeds, 9).tolist()])
    return hashlib.sha256(text.encode()).hexdigest()


def fold_grid(craft: Biplane, count: int) -> Floats:
    """Folds from limit to limit, the flat setting and the named symmetric ones among them [deg]."""
    low, high = craft.fold_range_deg
    named = [c.folds.left_deg for c in craft.configurations.values() if c.folds.is_symmetric]
    spread = np.linspace(low, high, count)
    kept = [f for f in (0.0, *named) if low <= f <= high]
    room = 0.35 * (high - low) / max(1, count - 1)
    spread = spread[[all(abs(f - k) > room or f in (low, high) for k in kept) for f in spread]]
    return np.unique(np.round(np.concatenate([spread, kept]), 9))


def direct_trim(
    craft: PoweredCraft,
    speed: float,
    *,
    climb_angle: float = 0.0,
    load_factor: float = 1.0,
    near: PowerPoint | None = None,
) -> PowerPoint:
    """One trim solved directly.

    A level turn of load factor n is trimmed as straight flight of n times the weight: the wings
    and rotors carry the same, and the turn's own rates are left out.

    Parameters
    ----------
    near : a trim nearby to start from
    """
    if load_factor != 1.0:
        heavier = replace(craft.masses, mass=craft.masses.mass * load_factor)
        craft = replace(craft, masses=heavier)
    problem = trim_problem(craft)
    guess = near.trim.unknown if near is not None and near.trim is not None else None
    trim = trimmed(problem, speed, climb_angle, guess)
    if not trim.is_converged and guess is not None:
        trim = trimmed(problem, speed, climb_angle)
    if not trim.is_converged:
        return PowerPoint(speed, None, None, 0, "no body angle and thrust balance the craft")
    numbers = measured(problem, trim)
    return PowerPoint(speed, trim, numbers, 1, limits_in_words(numbers.margins))


def nearest_curve(book: PowerBook, fold_deg: float) -> PowerCurve | None:
    """The curve of the tabulated fold nearest to an angle that has one."""
    order = np.argsort(np.abs(book.folds_deg - fold_deg))
    return next((book.curves[i] for i in order if book.curves[i] is not None), None)

"""Settings solved directly at some folds of one airspeed, and what is read between them.

Two interpolants run through the same solved settings: local cubics that do not swing (modified
Akima 1970, from memory) and monotone cubics (Fritsch and Carlson 1980, from memory). Where they
part, and where the solved folds stand far apart, the row is not known well, and a search must solve
more settings there before it trusts it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator, PchipInterpolator

from vlm.constants import Floats
from vlm.flight.plan.constraints import TOUCH, Constraints, Setting

STEP_DEG = 0.25
"""Distance of the folds at which a row is read [deg]."""
SPACED_DEG = 30.0
SMOOTHNESS = 0.02
"""Part of a quantity's size by which it may bend unseen between folds 30 degrees apart; it grows
with the square of their distance [1]."""


@dataclass(frozen=True)
class RowReading:
    """A row read at many folds.

    Attributes
    ----------
    folds : shape (folds,), growing [deg]
    power, room : power and how far it may be off, shape (folds,); NaN without a trim [W]
    values : shape (folds, 1 + quantities)
    margins, hopes : by constraint, shape (folds,): the margin, and the most it may be
    """

    folds: Floats
    power: Floats
    room: Floats
    values: Floats
    margins: dict[str, Floats]
    hopes: dict[str, Floats]

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Where every constraint is kept."""
        return self._all(self.margins)

    @property
    def perhaps(self) -> NDArray[np.bool_]:
        """Where every constraint may be kept."""
        return self._all(self.hopes)

    def inside_but(self, name: str) -> NDArray[np.bool_]:
        """Where every constraint but one is kept, and that one is not."""
        others = {other: margin for other, margin in self.margins.items() if other != name}
        return self._all(others) & (self.margins[name] < -TOUCH)

    def _all(self, margins: dict[str, Floats]) -> NDArray[np.bool_]:
        inside = np.isfinite(self.power)
        for margin in margins.values():
            inside &= margin >= -TOUCH
        return inside


def row_folds(settings: Sequence[Setting]) -> Floats:
    """Folds at which a row is read, those solved among them [deg]."""
    solved = [s.fold_deg for s in settings]
    steps = np.arange(min(solved), max(solved), STEP_DEG)
    return np.unique(np.round(np.concatenate([steps, solved]), 9))


def read_row(
    constraints: Constraints, settings: Sequence[Setting], folds: Floats | None = None
) -> RowReading:
    """Read a row between its solved settings.

    Parameters
    ----------
    settings : at one airspeed, growing in fold
    folds : where it is read; every quarter of a degree if None [deg]
    """
    folds = row_folds(settings) if folds is None else folds
    width = len(settings[0].values)
    local, monotone = np.full((2, len(folds), width), np.nan)
    bend = np.full(len(folds), 0.0)
    for run in _runs(settings):
        x = np.array([s.fold_deg for s in run])
        y = np.array([s.values for s in run])
        own = (folds >= x[0]) & (folds <= x[-1])
        local[own], monotone[own] = _interpolated(x, y, folds[own])
        bend[own] = _unseen(x, folds[own])
    for values in (local, monotone):
        values[:, 0] = constraints.power(values)
    known = local[np.isfinite(local[:, 0])]
    scale = np.ptp(known, axis=0) if len(known) else np.zeros(width)
    scale[0] = float(np.median(known[:, 0])) if len(known) else 0.0
    far = bend[:, None] * scale
    speed = settings[0].speed
    margins = constraints.margins(folds, local, speed)
    others = [constraints.margins(folds, v, speed) for v in (monotone, local + far, local - far)]
    hopes = {}
    for name, margin in margins.items():
        apart = np.abs(others[0][name] - margin)
        hopes[name] = np.max([margin, *(o[name] for o in others)], axis=0) + apart
    power = local[:, 0]
    room = np.abs(monotone[:, 0] - power) + far[:, 0]
    return RowReading(folds, power, room, local, margins, hopes)


def _runs(settings: Sequence[Setting]) -> Iterator[list[Setting]]:
    """Unbroken runs of settings that have a trim; one whose tips touch stands for itself."""
    run: list[Setting] = []
    for setting in settings:
        known = bool(np.isfinite(setting.power))
        if known and not setting.is_joined:
            run.append(setting)
            continue
        if run:
            yield run
        run = []
        if known:
            yield [setting]
    if run:
        yield run


def _interpolated(x: Floats, y: Floats, folds: Floats) -> tuple[Floats, Floats]:
    """Local and monotone cubics through (settings, quantities), at some folds."""
    values = np.full((2, len(folds), y.shape[1]), np.nan)
    known = np.isfinite(y)
    whole = known.all(axis=0)
    values[:, :, whole] = _cubics(x, y[:, whole], folds)
    # A setting folded apart may be impossible to build at some folds only.
    for column in np.flatnonzero(known.any(axis=0) & ~whole):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], known[:, column].astype(int), [0]])))
        for first, end in zip(edges[::2], edges[1::2], strict=True):
            own = (folds >= x[first]) & (folds <= x[end - 1])
            part = y[first:end, column : column + 1]
            values[:, own, column] = _cubics(x[first:end], part, folds[own])[:, :, 0]
    return values[0], values[1]


def _cubics(x: Floats, y: Floats, folds: Floats) -> Floats:
    """Both interpolants, shape (2, folds, quantities)."""
    if len(x) == 1:
        return np.array([np.repeat(y, len(folds), axis=0)] * 2)
    monotone = PchipInterpolator(x, y, axis=0)(folds)
    if len(x) < 5:
        return np.array([monotone, monotone])
    return np.array([Akima1DInterpolator(x, y, axis=0, method="makima")(folds), monotone])


def _unseen(x: Floats, folds: Floats) -> Floats:
    """How far a smooth quantity may bend between solved folds, in shares of its size."""
    if len(x) == 1:
        return np.zeros(len(folds))
    after = np.clip(np.searchsorted(x, folds, side="right"), 1, len(x) - 1)
    width = x[after] - x[after - 1]
    share = (folds - x[after - 1]) / width
    return np.asarray(SMOOTHNESS * (width / SPACED_DEG) ** 2 * 4.0 * share * (1.0 - share))

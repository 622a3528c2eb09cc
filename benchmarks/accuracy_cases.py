"""Craft whose lift slope and span efficiency are known, for benchmarks and tests of accuracy."""

from dataclasses import dataclass, replace

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane, Station, Wing
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import craft_loads
from vlm.loads.state import FlightState
from vlm.study.convergence.extrapolation import Limit, limit_of

STATIONS = 400
SMALL_ANGLE = 1e-3
CRAFT_ANGLE = float(np.radians(4.0))


@dataclass(frozen=True)
class AccuracyCase:
    """One craft with its exact numbers.

    Attributes
    ----------
    slope : lift slope at zero incidence [1/rad]
    efficiency : span efficiency, at a small incidence of a flat wing, at 4 degrees of a craft
    source : where both come from
    """

    name: str
    craft: Biplane
    folds: FoldAngles
    slope: float
    efficiency: float
    source: str

    @property
    def state(self) -> FlightState:
        """State in which the span efficiency is taken."""
        return FlightState(alpha=CRAFT_ANGLE if self.craft.tips else SMALL_ANGLE)


def rectangle(aspect_ratio: float) -> Biplane:
    """A flat rectangular plate."""
    wing = Wing(span_m=aspect_ratio, root_chord_m=1.0, end_chord_m=1.0)
    return Biplane(title=f"A rectangle of aspect ratio {aspect_ratio:g}", upper=wing)


def ellipse(aspect_ratio: float) -> Biplane:
    """A flat elliptic plate with a straight mid-chord line, as dense stations."""
    along = np.linspace(0.0, 0.5 * np.pi, STATIONS)
    half_span = 0.125 * np.pi * aspect_ratio
    chords = np.maximum(np.cos(along), 1e-6)
    outline = tuple(
        Station(y_m=half_span * np.sin(t), x_m=0.5 * (1.0 - c), chord_m=c, corner=False)
        for t, c in zip(along, chords, strict=True)
    )
    return Biplane(
        title=f"An ellipse of aspect ratio {aspect_ratio:.3g}", upper=Wing(stations=outline)
    )


def by_drag(aspect_ratio: float, drag: float) -> float:
    """Span efficiency of a drag factor CDi / CL^2."""
    return 1.0 / (np.pi * aspect_ratio * drag)


DERIVED = "derived: extrapolated lifting surface"
TWO_LAWS = (
    "derived: extrapolated from 32 x 64 panels with two spacing laws, which agree to 0.0005 %"
)
FLAT = FoldAngles()


def accuracy_cases() -> list[AccuracyCase]:
    """Square, circle, rectangles and ellipses, and the shipped craft that closes a box."""
    return [
        AccuracyCase("square", rectangle(1.0), FLAT, 1.460227, by_drag(1.0, 0.3183182),
                     "slope: Tuck 1993, 1.46023; digits beyond and efficiency " + DERIVED),
        AccuracyCase("circle", ellipse(4.0 / np.pi), FLAT, 1.790002, 0.99954,
                     "slope: Jordan 1973 (from memory); efficiency " + TWO_LAWS),
        AccuracyCase("rectangle 6", rectangle(6.0), FLAT, 4.214635, by_drag(6.0, 0.0539208),
                     DERIVED),
        AccuracyCase("rectangle 20", rectangle(20.0), FLAT, 5.433532, by_drag(20.0, 0.0175929),
                     DERIVED),
        AccuracyCase("ellipse 6", ellipse(6.0), FLAT, 4.403257, 0.999580,
                     TWO_LAWS + "; 4.4034 +- 0.0005 by a computation apart"),
        AccuracyCase("ellipse 20", ellipse(20.0), FLAT, 5.645800, 0.999918, TWO_LAWS),
        AccuracyCase("box", load_biplane("tideline"), FoldAngles(-90.0, -90.0), 2.76461, 0.51321,
                     "derived: extrapolated from 40 x 56 panels with two spacing laws, which agree"
                     " to 0.003 % in slope and 0.007 % in efficiency"),
    ]  # fmt: skip


def numbers_of(case: AccuracyCase, grid: Grid) -> tuple[float, float]:
    """Lift slope and span efficiency on a lattice."""
    loads = craft_loads(build_lattice(case.craft, case.folds, grid), fold_rates=False)
    slope = float(derivatives(loads, FlightState())["body"]["CL_alpha"])
    return slope, float(coefficients(loads, case.state).span_efficiency)


def errors_of(case: AccuracyCase, numbers: tuple[float, float]) -> tuple[float, float]:
    """Relative errors of slope and efficiency."""
    return numbers[0] / case.slope - 1.0, numbers[1] / case.efficiency - 1.0


def extrapolated(
    case: AccuracyCase, grid: Grid, shares: tuple[int, ...] = (4, 2, 1)
) -> tuple[float, float]:
    """Slope and efficiency extrapolated from a lattice and from halves and quarters of it."""
    rows = [max(1, grid.rows // share) for share in shares]
    strips = [max(1, grid.strips // share) for share in shares]
    values = np.zeros((2, len(rows), len(strips)))
    for i, n in enumerate(rows):
        for j, m in enumerate(strips):
            if i == len(rows) - 1 or j == len(strips) - 1:
                values[:, i, j] = numbers_of(case, replace(grid, rows=n, strips=m))
    limits: list[Limit] = [limit_of(rows, strips, table) for table in values]
    return limits[0].extrapolated, limits[1].extrapolated

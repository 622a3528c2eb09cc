"""Small invented craft for the checks of lattice, flow and loads, fixed and random.

The random ones come from hypothesis strategies, so that a failing one is shown at its simplest.
"""

from typing import Any

import numpy as np
from hypothesis import strategies as st

from vlm.description.folds import FoldAngles
from vlm.description.models import Arrangement, Biplane, Reference, Tips, Wing
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads.coefficients import Coefficients, coefficients
from vlm.loads.craft_loads import CraftLoads, craft_loads
from vlm.loads.state import FlightState

SMALL = Grid(rows=3, strips=10)
FLAT = FoldAngles()


def wing(span: float = 1.0, chord: float = 0.2, **keys: Any) -> Wing:
    """A rectangular wing, changed by further keys."""
    return Wing(**{"span_m": span, "root_chord_m": chord, "end_chord_m": chord, **keys})


def monoplane(span: float = 1.0, chord: float = 0.2, **keys: Any) -> Biplane:
    """A craft with one wing."""
    return Biplane(title="A monoplane", upper=wing(span, chord, **keys))


def biplane(gap: float = 0.3, stagger: float = 0.0, *, tip: float = 0.2, **keys: Any) -> Biplane:
    """Two rectangular wings of span 1 m and chord 0.2 m, the upper one with tips of 0.2 m.

    ``tip`` is the tips' span, ``tips`` further keys of theirs, ``upper`` and ``lower`` further
    keys of the wings.
    """
    tips = Tips(span_m=tip, **{"end_chord_m": 0.2, **keys.pop("tips", {})})
    return Biplane(
        title="A biplane",
        upper=wing(tips=tips, **keys.pop("upper", {})),
        lower=wing(**keys.pop("lower", {})),
        arrangement=Arrangement(gap_m=gap, stagger_m=stagger),
        **keys,
    )


def lattice_of(
    craft: Biplane, left: float = 0.0, right: float | None = None, grid: Grid = SMALL
) -> Lattice:
    """The lattice at a fold of the port and the starboard side, alike if one is given [deg]."""
    return build_lattice(craft, FoldAngles(left, left if right is None else right), grid)


def values_of(
    craft: Biplane, state: FlightState, folds: FoldAngles = FLAT, grid: Grid = SMALL
) -> Coefficients:
    """Coefficients of one setting."""
    return coefficients(craft_loads(build_lattice(craft, folds, grid), fold_rates=False), state)


def solved(craft: Biplane, folds: FoldAngles = FLAT, grid: Grid = SMALL, **keys: Any) -> CraftLoads:
    """Loads of one setting."""
    return craft_loads(build_lattice(craft, folds, grid), **keys)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers between two bounds, with at most six digits behind the point."""
    return st.integers(0, 1000).map(lambda n: round(low + (high - low) * n / 1000, 6))


@st.composite
def wings(draw: Any, *, tips: bool) -> Wing:
    """A trapezoid with sweep, dihedral, taper, twist and camber, and tips with flare if asked."""
    chord = draw(numbers(0.12, 0.3))
    end = chord * draw(numbers(0.6, 1.0))
    tip = Tips(
        span_m=draw(numbers(0.15, 0.4)),
        end_chord_m=end * draw(numbers(0.4, 1.0)),
        sweep_deg=draw(numbers(-5.0, 25.0)),
        washout_deg=draw(numbers(0.0, 4.0)),
        flare_deg=draw(numbers(-12.0, 12.0)),
        linkage=draw(st.sampled_from([1.0, -1.0, 0.5])),
    )
    return Wing(
        span_m=draw(numbers(0.6, 1.2)),
        root_chord_m=chord,
        end_chord_m=end,
        sweep_deg=draw(numbers(-10.0, 20.0)),
        dihedral_deg=draw(numbers(-3.0, 6.0)),
        incidence_deg=draw(numbers(-2.0, 4.0)),
        washout_deg=draw(numbers(-1.0, 4.0)),
        camber=draw(st.sampled_from(["flat", "2412", "4512"])),
        tips=tip if tips else None,
    )


@st.composite
def settings_of_craft(draw: Any) -> tuple[Biplane, FoldAngles]:
    """A monoplane or biplane with tips on one wing or both, and folds that can be built."""
    where = draw(st.sampled_from(["upper", "both", "lower", "alone"]))
    upper = draw(wings(tips=where != "lower"))
    if where == "alone":
        craft = Biplane(title="A random monoplane", upper=upper)
    else:
        craft = Biplane(
            title="A random biplane",
            upper=upper,
            lower=draw(wings(tips=where in ("lower", "both"))),
            arrangement=Arrangement(
                gap_m=draw(numbers(0.25, 0.6)), stagger_m=draw(numbers(-0.15, 0.2))
            ),
        )
    for _ in range(4):
        left = draw(numbers(-120.0, 120.0))
        right = draw(st.one_of(st.just(left), numbers(-120.0, 120.0)))
        folds = FoldAngles(left, right)
        if can_be_built(craft, folds):
            return craft, folds
    return craft, FoldAngles(left_deg=10.0, right_deg=-5.0) if can_be_built(
        craft, FoldAngles(10.0, -5.0)
    ) else FLAT


def can_be_built(craft: Biplane, folds: FoldAngles) -> bool:
    """Whether no surfaces meet."""
    try:
        build_lattice(craft, folds, SMALL)
    except InputRefused:
        return False
    return True


@st.composite
def flight_states(draw: Any) -> FlightState:
    """Small angles and rates."""
    return FlightState(
        alpha=float(np.radians(draw(numbers(-5.0, 10.0)))),
        beta=float(np.radians(draw(numbers(-8.0, 8.0)))),
        p_hat=draw(numbers(-0.05, 0.05)),
        q_hat=draw(numbers(-0.01, 0.01)),
        r_hat=draw(numbers(-0.05, 0.05)),
    )


def with_moment_point(craft: Biplane, point: tuple[float, float, float]) -> Biplane:
    """The craft with moments about another point."""
    return craft.model_copy(update={"reference": Reference(moment_point_m=point)})

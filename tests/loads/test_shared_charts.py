"""Engines of one craft and lattice share their charts where they are asked to."""

import numpy as np

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.loads.coefficients import coefficients
from vlm.loads.fold_engine import Charted, FoldEngine, shared_charts
from vlm.loads.loads_chart import ChartedLoads
from vlm.loads.state import FlightState

GRID = Grid(2, 6)
FOLDS = FoldAngles.symmetric(-21.0)


def engine(grid: Grid, charted: Charted = "like folds", *, sideslip: bool = False) -> FoldEngine:
    return FoldEngine(
        load_biplane("thistle"), grid, fold_rates=False, sideslip=sideslip, charted=charted
    )


def test_a_chart_serves_who_asks_for_no_more_than_it_knows() -> None:
    with shared_charts():
        first = engine(GRID, sideslip=True)._chart
        assert first is not None
        assert engine(GRID)._chart is first
        assert engine(GRID, sideslip=True)._chart is first
        assert engine(GRID, "all folds")._chart is not first
        assert engine(Grid(3, 6))._chart is not first
    assert engine(GRID)._chart is not first


def test_a_shared_reading_is_that_of_a_chart_of_ones_own() -> None:
    state = FlightState(alpha=np.radians([2.0, 7.0]))
    with shared_charts():
        engine(GRID, sideslip=True).loads(FOLDS)
        shared = engine(GRID).loads(FOLDS)
    own = engine(GRID).loads(FOLDS)
    assert isinstance(shared, ChartedLoads)
    np.testing.assert_allclose(
        coefficients(shared, state).CL, coefficients(own, state).CL, rtol=1e-10
    )

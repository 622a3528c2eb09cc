"""A craft and plans that tests of sweeps share."""

import numpy as np
import xarray as xr
from core_craft import biplane

from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.plan import SweepPlan
from vlm.study.sweep.running import run_plan

GRID = Grid(2, 6)
CRAFT = biplane(gap=0.2, tips={"fold_min_deg": -95.0, "fold_max_deg": 60.0})
PLAN = SweepPlan((-100.0, -90.0, 0.0, 30.0), (0.0, 4.0), (0.0, 5.0), grid=GRID)
PAIRS = SweepPlan((-30.0, 0.0, 20.0, 50.0), (4.0,), asymmetric=True, grid=GRID)


def dataset_of(craft: Biplane, plan: SweepPlan, **keys) -> xr.Dataset:
    results, _ = run_plan(craft, plan, **keys)
    return sweep_dataset(craft, plan, results)


def same(one: xr.Dataset, two: xr.Dataset, tolerance: float = 0.0) -> None:
    """Equal variables, coordinates and attributes; numbers within a tolerance of their size."""
    assert set(one.variables) == set(two.variables)
    assert set(one.coords) == set(two.coords)
    assert one.attrs.keys() == two.attrs.keys()
    for name in one.variables:
        assert one[name].dims == two[name].dims
        assert one[name].attrs == two[name].attrs
        if one[name].dtype.kind == "f" and tolerance and name not in ("residual", "condition"):
            size = float(np.nanmax(np.abs(one[name].values), initial=1e-3))
            np.testing.assert_allclose(
                two[name].values, one[name].values, rtol=0.0, atol=tolerance * size
            )
        elif name not in ("residual", "condition") or not tolerance:
            np.testing.assert_array_equal(two[name].values, one[name].values)

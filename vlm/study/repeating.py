"""A sweep's result computed again from what it carries, and compared."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import vlm
from vlm.description.loading import load_biplane_text
from vlm.errors import InputRefused
from vlm.study.carried_tables import laid_out, tables_in
from vlm.study.dataset import load_dataset, sweep_dataset
from vlm.study.plan import plan_from
from vlm.study.running import Report, run_plan

if TYPE_CHECKING:
    import xarray as xr

SAME_VERSION = 1e-12
OTHER_VERSION = 1e-9
ROUNDING = ("residual", "condition")


@dataclass(frozen=True)
class Repetition:
    """How far a repeated result lies from the first.

    Attributes
    ----------
    worst : by variable, largest difference over the variable's largest value [1]
    version : the version that made the first result
    limit : the difference that is allowed
    """

    worst: dict[str, float]
    version: str
    limit: float

    @property
    def agrees(self) -> bool:
        """Whether every variable agrees within the limit."""
        return all(value <= self.limit for value in self.worst.values())


def repeated(path: Path, *, workers: int = 1, report: Report | None = None) -> Repetition:
    """Compute a saved sweep again and compare every number.

    Raises
    ------
    InputRefused : the file was not written by a sweep, or was changed since
    """
    first = load_dataset(path)
    tables = tables_in(first.attrs.get("tables"), str(path))
    with laid_out(tables, str(path)) as folder:
        second = _computed(path, first, folder if tables else path.parent, workers, report)
    version = str(first.attrs["source"]).removeprefix("foldspan ")
    limit = SAME_VERSION if version == vlm.__version__ else OTHER_VERSION
    names = [name for name in first.data_vars if name not in ("failure", *ROUNDING)]
    return Repetition({str(n): _difference(first, second, n) for n in names}, version, limit)


def _computed(
    path: Path, first: "xr.Dataset", folder: Path, workers: int, report: Report | None
) -> "xr.Dataset":
    """The sweep that a dataset holds, computed again."""
    craft = load_biplane_text(first.attrs["geometry"], f"geometry in {path}", folder=folder)
    try:
        plan = plan_from(json.loads(first.attrs["plan"]))
    except (ValueError, RecursionError):
        raise InputRefused(f"{path}: its plan is not JSON") from None
    except InputRefused as error:
        raise InputRefused(f"{path}: {error}") from None
    version = str(first.attrs["source"]).removeprefix("foldspan ")
    if version == vlm.__version__ and plan.digest(craft) != first.attrs["digest"]:
        raise InputRefused(
            f"{path}: its geometry, a mean line or its plan is not the one it was computed from"
        )
    results, _ = run_plan(craft, plan, workers=workers, report=report)
    return sweep_dataset(craft, plan, results)


def _difference(first: "xr.Dataset", second: "xr.Dataset", name: Any) -> float:
    """Largest difference over the largest value; infinite where numbers are missing."""
    if name not in second:
        return float("inf")
    one, two = first[name].values, second[name].values
    if not np.array_equal(np.isfinite(one), np.isfinite(two)):
        return float("inf")
    known = np.isfinite(one)
    if not known.any():
        return 0.0
    size = max(float(np.abs(one[known]).max()), 1e-3)
    return float(np.abs(one[known] - two[known]).max()) / size

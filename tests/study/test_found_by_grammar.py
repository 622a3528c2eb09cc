"""Faults that hostile input by grammar found, by their causes. No source but the promise itself."""

import json
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import xarray as xr

from vlm.findings import Finding
from vlm.flight.trim.special_speeds import _slowest_on_wings
from vlm.plain import without_nan
from vlm.study.sweep.dataset import as_netcdf


def test_truth_values_of_arrays_are_plain_in_a_document() -> None:
    """Grammar 7053: "Object of type bool is not JSON serializable"."""
    assert json.dumps(without_nan({"a": np.bool_(True), "b": [np.int64(3)]})) == (
        '{"a": true, "b": [3]}'
    )


@pytest.mark.parametrize("number", [None, float("nan")])
def test_a_warning_whose_number_is_not_known_says_so(number: Any) -> None:
    """Grammar 3828: documents hold null where there is no number."""
    finding = Finding("code", "share past stall", number, 0.1, "1", "common practice", "fly faster")
    assert (
        finding.sentence() == "share past stall: not known, limit 0.1 (common practice); fly faster"
    )


def test_datasets_are_written_by_way_of_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """Grammar 9165: of files in memory HDF5 2.0.0 cannot close some, and ends the process."""
    places: list[Any] = []
    write = xr.Dataset.to_netcdf

    def noted(self: xr.Dataset, path: Any = None, **keys: Any) -> Any:
        places.append(path)
        return write(self, path, **keys)

    monkeypatch.setattr(xr.Dataset, "to_netcdf", noted)
    dataset = xr.Dataset({"CL": ("alpha", [0.1, np.inf])}, attrs={"title": "invented"})
    assert as_netcdf(dataset).startswith(b"\x89HDF")
    assert places[0] is not None
    assert not places[0].exists()


@pytest.mark.parametrize(("beside", "slowest"), [(-3.0, 8.5), (2.0, 10.0)])
def test_the_slowest_speed_beside_another_branch_is_one_that_was_solved(
    beside: float, slowest: float
) -> None:
    """Grammar 6009: asked again, a speed found the trim of another branch; no sign changed."""

    def margin(speed: float) -> float:
        return np.interp(speed, [7.0, 10.0], [beside, beside + 2.0 * abs(beside)])

    curve = SimpleNamespace(
        speeds=np.array([7.0, 10.0, 13.0]), allowed=np.ones(3, bool), stall_known=np.ones(3, bool),
        values=lambda _key: np.array([-1.0, 1.0, 4.0]),
        at=lambda speed: SimpleNamespace(value=lambda _key: float(margin(speed))),
        is_stall_known=lambda _point: True,
    )  # fmt: skip
    assert _slowest_on_wings(curve) == pytest.approx(slowest, abs=0.01)  # type: ignore[arg-type]

"""Sweeps saved and read back, whole or not at all."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from sweep_cases import CRAFT, PLAN, dataset_of, same

from vlm.errors import InputRefused
from vlm.study.store import write_whole
from vlm.study.sweep.dataset import load_dataset, save_dataset


@pytest.fixture(scope="module")
def dataset() -> xr.Dataset:
    return dataset_of(CRAFT, PLAN)


def test_netcdf_round_trip(dataset: xr.Dataset, tmp_path: Path) -> None:
    path = tmp_path / "sweep.nc"
    save_dataset(dataset, path)
    read = load_dataset(path)
    same(dataset, read)
    assert read["failure"].dtype.kind in "UOT"
    assert [str(t) for t in read["failure"].values] == [str(t) for t in dataset["failure"].values]
    np.testing.assert_array_equal(read.attrs["moment_point_m"], dataset.attrs["moment_point_m"])
    assert {k: v for k, v in read.attrs.items() if isinstance(v, str)} == {
        k: v for k, v in dataset.attrs.items() if isinstance(v, str)
    }


def test_csv_round_trip(dataset: xr.Dataset, tmp_path: Path) -> None:
    path = tmp_path / "sweep.csv"
    save_dataset(dataset, path)
    text = path.read_text(encoding="utf-8")
    head = [line for line in text.splitlines() if line.startswith("# ")]
    assert head[0] == "# title: A biplane"
    assert any(line.startswith("# caution: An estimate, not a flight clearance") for line in head)
    assert f"# reference_area_m2: {dataset.attrs['reference_area_m2']}" in head
    frame = pd.read_csv(path, skiprows=len(head))
    assert len(frame) == 16
    one = frame[(frame.fold == 30.0) & (frame.alpha == 4.0) & (frame.beta == 5.0)].iloc[0]
    for name in ("CL", "Cl_beta", "hinge_moment_upper_left_N_m", "best_span_efficiency"):
        expected = dataset[name].sel(fold=30.0)
        expected = expected.sel(alpha=4.0, beta=5.0) if "alpha" in expected.dims else expected
        # Old pandas read the last digit to one unit only.
        assert one[name] == pytest.approx(float(expected), rel=4e-16)
    failed = frame[frame.fold == -100.0]
    assert failed["CL"].isna().all()
    assert failed["failure"].str.contains("passes upper.tips.fold_min_deg").all()


@pytest.mark.parametrize(
    ("name", "words"),
    [("a.txt", "the ending must be .nc"), ("none/a.nc", "there is no folder")],
)
def test_outputs_that_cannot_be_written(dataset, tmp_path, name, words) -> None:
    with pytest.raises(InputRefused, match=words):
        save_dataset(dataset, tmp_path / name)


def test_files_that_are_no_sweep(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="there is no such file"):
        load_dataset(tmp_path / "absent.nc")
    (tmp_path / "text.nc").write_text("no")
    with pytest.raises(InputRefused, match="not a readable NetCDF file"):
        load_dataset(tmp_path / "text.nc")
    xr.Dataset({"a": 1.0}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    with pytest.raises(InputRefused, match="not written by foldspan sweep"):
        load_dataset(tmp_path / "other.nc")


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path, monkeypatch) -> None:
    path = tmp_path / "out.nc"
    write_whole(path, b"first")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"second")
    assert path.read_bytes() == b"first"
    assert list(tmp_path.iterdir()) == [path]


def test_what_killed_writers_left_is_taken_away(tmp_path: Path) -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    stale = tmp_path / f".out.nc.{gone.pid}.partial"
    alive = tmp_path / f".out.nc.{os.getppid()}.partial"
    other = tmp_path / f".other.nc.{gone.pid}.partial"
    for leftover in (stale, alive, other):
        leftover.write_bytes(b"half")
    write_whole(tmp_path / "out.nc", b"whole")
    assert not stale.exists()
    assert alive.exists()
    assert other.exists()

"""Schedules and missions that are stopped: what is finished is kept, whole, and taken up."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from power_craft import SMALL, powered

from vlm.cli.main import main
from vlm.description.loading import load_biplane
from vlm.flight.trim.kept_curves import arrays_of, branches_of, points_of
from vlm.flight.trim.power_book import power_book
from vlm.flight.trim.spot_trims import spot_curve
from vlm.study.kept_trims import KeptTrims, input_digest

SCHEDULE = (
    "schedule", "tideline", "--fold-count", "4", "--rows", "2", "--strips", "8",
    "--set", "schedule.speeds=2", "--keep", "kept", "--json",
)  # fmt: skip


class Notebook:
    """Keeps arrays in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, dict[str, np.ndarray]] = {}
        self.recalled = 0

    def load(self, name: str) -> dict[str, np.ndarray] | None:
        self.recalled += name in self.kept
        return self.kept.get(name)

    def keep(self, name: str, arrays: dict[str, np.ndarray]) -> None:
        assert name not in self.kept
        self.kept[name] = arrays


@pytest.mark.parametrize("fold", [0.0, 80.0])
def test_a_curve_comes_back_from_its_arrays(fold: float) -> None:
    """Both kinds: trims on the spot, and with the branch that was followed."""
    speeds = np.array([0.0, 11.0, 16.0])
    curve = spot_curve(powered("tideline", fold), speeds)
    arrays = arrays_of(curve)
    points = points_of(curve.problem, 0.0, arrays)
    for old, new in zip(curve.points, points, strict=True):
        assert new.measures is not None
        assert old.measures is not None
        found, kept = dict(new.measures.values), dict(old.measures.values)
        # How it was found may differ, what was found may not.
        del found["strip_iterations"], kept["strip_iterations"]
        assert found == pytest.approx(kept, rel=1e-7, nan_ok=True)
        assert (new.trims, new.limit) == (old.trims, old.limit)
    for old_branch, new_branch in zip(
        curve.branches, branches_of(curve.problem, arrays), strict=True
    ):
        assert [p.speed for p in old_branch] == [p.speed for p in new_branch]
        np.testing.assert_array_equal(old_branch[-1].offset, new_branch[-1].offset)


def test_a_book_is_taken_from_what_was_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    craft, notebook = load_biplane("tideline"), Notebook()
    folds, speeds = [0.0, 80.0], [0.0, 11.0, 16.0]
    first = power_book(craft, folds, speeds, grid=SMALL, keeper=notebook)
    assert len(notebook.kept) == 2
    assert first.curves[0] is not None
    low = first.curves[0].at(4.0).value("electrical_power_W")
    assert len(notebook.kept) == 3
    monkeypatch.setattr("vlm.flight.trim.spot_trims.power_curve", None)
    again = power_book(craft, folds, speeds, grid=SMALL, keeper=notebook)
    np.testing.assert_allclose(again.power, first.power, rtol=1e-8)
    assert again.curves[0] is not None
    assert again.curves[0].at(4.0).value("electrical_power_W") == pytest.approx(low, rel=1e-8)
    assert notebook.recalled == 3


def test_what_trims_do_not_depend_on_is_left_out_of_the_fingerprint() -> None:
    craft = load_biplane("tideline")
    own = input_digest(craft, None, SMALL)
    assert input_digest(load_biplane("tideline", ["design.goal=power"]), None, SMALL) == own
    assert input_digest(load_biplane("tideline", ["mass.body_kg=1.9"]), None, SMALL) != own
    assert input_digest(craft, None, None) != own


def test_killed_a_schedule_goes_on_with_its_finished_folds(
    tmp_path: Path,
    command_environment: dict[str, str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = [sys.executable, "-m", "vlm", *SCHEDULE]
    killed = subprocess.Popen(
        words, cwd=tmp_path, env=command_environment, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    kept = tmp_path / "kept"
    for _ in range(1200):
        if len(list(kept.glob("chunk-*.npz"))) >= 2:
            break
        assert killed.poll() is None, "it ended before it could be stopped"
        time.sleep(0.05)
    os.kill(killed.pid, signal.SIGKILL)
    killed.wait()
    times = {p: p.stat().st_mtime_ns for p in kept.glob("chunk-*.npz")}
    monkeypatch.chdir(tmp_path)
    loads: list[bool] = []
    load = KeptTrims.load

    def counted(self: KeptTrims, name: str):  # type: ignore[no-untyped-def]
        found = load(self, name)
        loads.append(found is not None)
        return found

    monkeypatch.setattr(KeptTrims, "load", counted)
    assert main(SCHEDULE) == 0
    resumed = json.loads(capsys.readouterr().out)
    assert loads.count(True) == len(times)
    assert all(p.stat().st_mtime_ns == t for p, t in times.items())
    assert main([w for w in SCHEDULE if w not in ("--keep", "kept")]) == 0
    whole = json.loads(capsys.readouterr().out)
    for one, two in zip(whole["ideal"], resumed["ideal"], strict=True):
        assert one["electrical_power_W"] == pytest.approx(two["electrical_power_W"], rel=1e-7)
        assert one["fold_deg"] == pytest.approx(two["fold_deg"], abs=1e-3)
    assert main([*SCHEDULE, "--set", "mass.body_kg=1.9"]) == 2
    assert "another craft" in capsys.readouterr().err


def test_interrupted_it_leaves_whole_files_and_no_output(
    tmp_path: Path, command_environment: dict[str, str]
) -> None:
    words = [sys.executable, "-m", "vlm", *SCHEDULE, "--csv", "s.csv", "--plot", "s.png"]
    running = subprocess.Popen(
        words, cwd=tmp_path, env=command_environment, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )  # fmt: skip
    for _ in range(1200):
        if list((tmp_path / "kept").glob("chunk-*.npz")):
            break
        assert running.poll() is None, "it ended before it could be stopped"
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert out == b""
    assert b"interrupted" in err
    assert {p.name for p in tmp_path.iterdir()} == {"kept"}
    for path in (tmp_path / "kept").glob("chunk-*.npz"):
        with np.load(path, allow_pickle=False) as archive:
            assert archive.files

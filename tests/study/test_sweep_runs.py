"""Sweeps: the same however they were run; stopped and taken up again."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import asdict, replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from core_craft import biplane
from sweep_cases import CRAFT, PAIRS, PLAN, dataset_of, same

from vlm.cli.main import main
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding
from vlm.study.store import ChunkStore, packed, unpacked
from vlm.study.sweep import running, workers
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.running import chunked, run_plan

# --- however it is run -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def pairs() -> xr.Dataset:
    return dataset_of(CRAFT, PAIRS)


@pytest.mark.parametrize("size", [1, 3, 100])
def test_the_same_dataset_whatever_the_chunks(pairs, size: int, monkeypatch) -> None:
    monkeypatch.setattr(running, "CHUNK", size)
    same(pairs, dataset_of(CRAFT, PAIRS))


def counted_solves(monkeypatch) -> list[int]:
    """How many cases each chunk that is solved from here on has."""
    solved: list[int] = []

    def counted(craft, plan, cases):
        solved.append(len(cases))
        return solve_cases(craft, plan, cases)

    monkeypatch.setattr(running, "solve_cases", counted)
    return solved


def test_the_same_dataset_from_two_processes(pairs, monkeypatch) -> None:
    monkeypatch.setattr(running, "CHUNK", 4)
    seen: list[tuple[int, int]] = []
    found = dataset_of(CRAFT, PAIRS, workers=2, report=lambda done, n: seen.append((done, n)))
    same(pairs, found)
    assert seen[0] == (0, 16)
    assert seen[-1] == (16, 16)
    assert seen == sorted(seen)


def test_a_worker_that_fails_outside_its_work_is_missed_at_once() -> None:
    """What it is handed cannot be read: it ends, and nobody waits for its answer for ever."""
    worker = workers._Worker(partial(solve_cases, CRAFT, PAIRS), 1)
    try:
        worker.pipe.send_bytes(b"no cases")
        assert worker.pipe.poll(120.0)
        with pytest.raises(ComputationFailed, match="a worker process ended"):
            worker.take()
    finally:
        worker.close()


def test_the_same_dataset_from_a_cluster_of_two(pairs, monkeypatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(running, "CHUNK", 4)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True,
    ) as cluster:  # fmt: skip
        found = dataset_of(CRAFT, PAIRS, scheduler=cluster.scheduler_address)
    same(pairs, found)


def test_no_scheduler_is_a_failed_computation(monkeypatch) -> None:
    distributed = pytest.importorskip("distributed")

    def refuse(*_arguments, **_keys):
        raise OSError("refused")

    monkeypatch.setattr(distributed, "Client", refuse)
    with pytest.raises(ComputationFailed, match="no scheduler answers at tcp://nowhere: refused"):
        run_plan(CRAFT, PAIRS, scheduler="tcp://nowhere")


def test_a_cluster_without_its_extra_is_refused(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputRefused, match=r"pip install 'foldspan\[cluster\]'"):
        run_plan(CRAFT, PAIRS, scheduler="tcp://nowhere")


# --- stopped and taken up again --------------------------------------------------------------


def test_chunks_on_disk_come_back_as_they_were(tmp_path: Path) -> None:
    results = solve_cases(CRAFT, PLAN, PLAN.cases())
    back = unpacked(packed(results))
    assert len(back) == len(results)
    for one, two in zip(results, back, strict=True):
        assert one.keys() == two.keys()
        for name, value in one.items():
            if isinstance(value, np.ndarray | float):
                np.testing.assert_array_equal(two[name], value)
            else:
                assert two[name] == value


class Touch:
    """An object that makes a file when it is read back from a pickle."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self):
        return Path.touch, (self.path,)


def test_a_chunk_is_data_that_runs_no_code(tmp_path: Path) -> None:
    """Pickled objects are refused by the reader, and a damaged chunk counts as not there."""
    store = ChunkStore(tmp_path / "store", "digest")
    store.keep(0, [{"CL": np.array([1.0])}])
    path = next((tmp_path / "store").glob("chunk-*"))
    np.savez(path, words=np.array([Touch(tmp_path / "touched")], dtype=object))
    assert store.load(0) is None
    assert not (tmp_path / "touched").exists()
    path.write_bytes(b"PK\x03\x04 cut short")
    assert store.load(0) is None
    assert store.load(1) is None


def test_a_stopped_run_is_taken_up_without_computing_anything_twice(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(running, "CHUNK", 3)
    store = tmp_path / "store"
    whole = dataset_of(CRAFT, PAIRS)
    solved: list[tuple[int, ...]] = []

    def counted(craft, plan, cases):
        if len(solved) > 6:
            raise KeyboardInterrupt
        found = solve_cases(craft, plan, cases)
        solved.extend(case.place for case in cases)
        return found

    monkeypatch.setattr(running, "solve_cases", counted)
    with pytest.raises(KeyboardInterrupt):
        run_plan(CRAFT, PAIRS, store=store)
    done = list(solved)
    assert 6 < len(done) < 16
    solved.clear()
    solved_before = len(done)

    def counted_again(craft, plan, cases):
        solved.extend(case.place for case in cases)
        return solve_cases(craft, plan, cases)

    monkeypatch.setattr(running, "solve_cases", counted_again)
    results, kept = run_plan(CRAFT, PAIRS, store=store)
    assert not set(solved) & set(done)
    assert len(solved) + solved_before == 16
    same(whole, sweep_dataset(CRAFT, PAIRS, results))
    kept.remove()
    assert not store.exists()


KILLED = """
import sys
sys.path[:0] = {tests!r}
from sweep_cases import CRAFT, PAIRS
from vlm.study.sweep import running
from vlm.study.sweep.cases import solve_cases
import time
running.CHUNK = 3
def slowly(craft, plan, cases):
    time.sleep(0.3)
    return solve_cases(craft, plan, cases)
running.solve_cases = slowly
running.run_plan(CRAFT, PAIRS, store=__import__("pathlib").Path(sys.argv[1]))
"""


def test_a_killed_run_leaves_only_whole_chunks(
    tmp_path, project, monkeypatch, command_environment
) -> None:
    store = tmp_path / "store"
    tests = [str(project / "tests"), str(project / "tests/study")]
    run = subprocess.Popen(
        [sys.executable, "-P", "-c", KILLED.format(tests=tests), str(store)],
        env=dict(command_environment),
    )
    try:
        deadline = time.monotonic() + 60.0
        while len(list(store.glob("chunk-*"))) < 2 and time.monotonic() < deadline:
            time.sleep(0.02)
        os.kill(run.pid, signal.SIGKILL)
    finally:
        run.wait(timeout=30)
    assert run.returncode == -signal.SIGKILL
    whole = sorted(store.glob("chunk-*"))
    assert len(whole) >= 2
    for path in whole:
        index = int(path.stem.removeprefix("chunk-"))
        assert unpacked(path.read_bytes(), f"{PAIRS.digest(CRAFT)} {index}")
    monkeypatch.setattr(running, "CHUNK", 3)
    solved = counted_solves(monkeypatch)
    results, _ = run_plan(CRAFT, PAIRS, store=store)
    assert len(solved) == len(chunked(PAIRS.work_order())) - len(whole)
    monkeypatch.undo()
    same(dataset_of(CRAFT, PAIRS), sweep_dataset(CRAFT, PAIRS, results))


def test_a_store_of_another_run_is_refused(tmp_path: Path) -> None:
    store = tmp_path / "store"
    run_plan(CRAFT, PLAN, store=store)
    words = "holds a stopped run of another craft, plan or version"
    with pytest.raises(InputRefused, match=words):
        run_plan(CRAFT, replace(PLAN, airspeed=13.0), store=store)
    with pytest.raises(InputRefused, match=words):
        run_plan(biplane(gap=0.3), PLAN, store=store)
    (store / "run.json").write_text("{")
    with pytest.raises(InputRefused, match=words):
        run_plan(CRAFT, PLAN, store=store)


def without(values: dict, name: str) -> dict:
    return {key: value for key, value in values.items() if key != name}


# What a chunk can lack while it is an archive in order, sealed for its place.
FORGED = {
    "too few cases": lambda results: results[:-1],
    "too many cases": lambda results: [*results, results[-1]],
    "another shape": lambda results: [r | {"CL": np.zeros((2, 1))} for r in results],
    "a missing quantity": lambda results: [without(r, "CL") for r in results],
    "whole numbers": lambda results: [r | {"CL": r["CL"].astype(int)} for r in results],
    "text": lambda results: [r | {"CL": "0.3"} for r in results],
    "a residual": lambda results: [r | {"residual": np.float64(1e9)} for r in results],
    "no warnings": lambda results: [without(r, "findings") for r in results],
    "a failure beside numbers": lambda results: [r | {"failure": "no"} for r in results],
}  # fmt: skip


@pytest.mark.parametrize("change", FORGED.values(), ids=FORGED)
def test_a_chunk_that_does_not_fit_the_plan_is_computed_again(
    change, tmp_path: Path, monkeypatch
) -> None:
    """As one from elsewhere: where it stood and what it held is not believed."""
    monkeypatch.setattr(running, "CHUNK", 3)
    store = tmp_path / "store"
    results, _ = run_plan(CRAFT, PAIRS, store=store)
    whole = sweep_dataset(CRAFT, PAIRS, results)
    other = ChunkStore(tmp_path / "other", PAIRS.digest(CRAFT))
    kept = ChunkStore(store, PAIRS.digest(CRAFT))
    good = kept.load(1)
    assert good is not None
    del kept
    other.keep(1, change(good))
    shutil.copy(tmp_path / "other/chunk-000001.npz", store / "chunk-000001.npz")
    solved = counted_solves(monkeypatch)
    results, _ = run_plan(CRAFT, PAIRS, store=store)
    assert solved == [len(good)]
    same(whole, sweep_dataset(CRAFT, PAIRS, results))


@pytest.mark.parametrize("source", ["another place", "another run"])
def test_a_chunk_from_another_place_or_run_is_computed_again(source: str, tmp_path: Path) -> None:
    digest = "one" if source == "another place" else "two"
    ChunkStore(tmp_path / "a", digest).keep(0, [{"CL": np.zeros(2)}])
    store = ChunkStore(tmp_path / "b", "one")
    index = 1 if source == "another place" else 0
    shutil.copy(tmp_path / "a/chunk-000000.npz", tmp_path / f"b/chunk-{index:06d}.npz")
    assert store.load(index) is None


def test_a_store_is_removed_without_what_others_put_there(tmp_path: Path) -> None:
    """A folder that the user names may hold other things."""
    (tmp_path / "mine.txt").write_text("keep")
    store = ChunkStore(tmp_path, "one")
    store.keep(0, [{"CL": np.zeros(2)}])
    store.remove()
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_refused_sweep_leaves_the_way_free_for_the_corrected_one(tmp_path, monkeypatch) -> None:
    """Refused before it begins, and if it were refused late, its store would go."""
    monkeypatch.chdir(tmp_path)
    words = ["sweep", "tideline", "--fold", "0", "--rows", "1", "--strips", "4", "--out", "a.nc"]
    assert main([*words, "--set", "upper.tips.flare_deg=80"]) == 2
    assert list(tmp_path.iterdir()) == []
    with monkeypatch.context() as patch:
        patch.setattr("vlm.study.sweep.dataset.sweep_dataset", refused_late)
        assert main([*words, "--density", "1.1"]) == 2
    assert list(tmp_path.iterdir()) == []
    assert main(words) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["a.nc"]


def refused_late(*_arguments: object) -> None:
    raise InputRefused("late")


def test_a_store_without_a_finished_chunk_is_anybodys(tmp_path: Path) -> None:
    ChunkStore(tmp_path / "store", "one")
    again = ChunkStore(tmp_path / "store", "two")
    assert json.loads((tmp_path / "store" / "run.json").read_text()) == {"digest": "two"}
    assert again.load(0) is None


def test_findings_of_a_case_are_kept_on_disk() -> None:
    finding = Finding("a", "b", 1.0, 2.0, "1", "c", "d")
    (back,) = unpacked(packed([{"findings": [finding], "CL": np.float64(1.0)}]))
    assert back["findings"] == [finding]
    assert asdict(back["findings"][0]) == asdict(finding)

"""The benchmark of long logs runs; memory does not grow with the rows; progress is told."""

import tracemalloc

import numpy as np
from test_flight_log_rows import good_rows, log_format, written

from vlm.log.reading import read_log


def test_the_benchmark_runs(run_benchmark):
    printed = run_benchmark("bench_log.py", "--quick")
    assert "read, segments, bins" in printed


def peak_of_reading(path):
    tracemalloc.start()
    read_log(path, log_format())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def test_memory_grows_with_the_time_flown_not_with_the_rows(tmp_path, monkeypatch):
    """The same minute at 100 and at 800 rows a second, read in blocks of 50 000 characters."""
    monkeypatch.setattr("vlm.log.lines.BLOCK_CHARACTERS", 50_000)
    peaks = []
    for rate in (100, 800):
        times = np.arange(60 * rate) / rate
        # Readings that stand still all through a log are refused as a dead sensor's.
        rows = (f"{t:.5f},{10 + t % 2:.2f},{100 + t % 3:.3f}" for t in times)
        text = "t,v,p\n" + "\n".join(rows)
        peaks.append(peak_of_reading(written(tmp_path, text, f"{rate}.csv")))
    assert peaks[1] < 1.3 * peaks[0]


def test_progress_counts_every_byte(tmp_path, monkeypatch):
    monkeypatch.setattr("vlm.log.lines.BLOCK_CHARACTERS", 100)
    path = written(tmp_path, "t,v,p\n" + "\n".join(good_rows()))
    told = []
    read_log(path, log_format(), told.append)
    assert len(told) > 3
    assert sum(told) == path.stat().st_size

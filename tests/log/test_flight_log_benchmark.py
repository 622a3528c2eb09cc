"""The benchmark of long logs runs; memory does not grow with the rows; progress is reported."""

import gc
import tracemalloc

import numpy as np
import pytest
from test_flight_log_rows import good_rows, log_format, written

from vlm.log.reading import read_log


@pytest.mark.slow
def test_the_benchmark_runs(run_benchmark):
    printed = run_benchmark("bench_log.py", "--quick")
    assert "read, segments, bins" in printed


def peak_of_reading(path):
    """Least peak of two readings: what else lies about until it is collected is no part of it."""
    peaks = []
    for _ in range(2):
        gc.collect()
        tracemalloc.start()
        read_log(path, log_format())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    return min(peaks)


def test_memory_grows_with_the_time_flown_not_with_the_rows(tmp_path, monkeypatch):
    """The same 40 s at 100 and at 800 rows a second, read in blocks of 50 000 characters.

    A row that is held takes some 200 bytes (measured with one block for the whole file), its text
    20: what a further row adds must be far less.
    """
    monkeypatch.setattr("vlm.log.lines.BLOCK_CHARACTERS", 50_000)
    paths = []
    for rate in (100, 800):
        times = np.arange(40 * rate) / rate
        # Readings that stand still all through a log are refused as a dead sensor's.
        rows = (f"{t:.5f},{10 + t % 2:.2f},{100 + t % 3:.3f}" for t in times)
        paths.append(written(tmp_path, "t,v,p\n" + "\n".join(rows), f"{rate}.csv"))
    read_log(paths[0], log_format())  # modules and caches are no part of a reading
    grown = peak_of_reading(paths[1]) - peak_of_reading(paths[0])
    assert grown / (40 * 700) < 40.0


def test_progress_counts_every_byte(tmp_path, monkeypatch):
    monkeypatch.setattr("vlm.log.lines.BLOCK_CHARACTERS", 100)
    path = written(tmp_path, "t,v,p\n" + "\n".join(good_rows()))
    told = []
    read_log(path, log_format(), told.append)
    assert len(told) > 3
    assert sum(told) == path.stat().st_size

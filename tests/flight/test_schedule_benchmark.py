"""The benchmark of fold schedules runs to its end, at its smallest."""

import re

import pytest


@pytest.mark.slow
def test_the_line_is_printed(run_benchmark) -> None:
    printed = run_benchmark("bench_schedule.py", "--quick")
    assert re.search(r"schedule of 3 speeds .* \d+\.\d\d .*\[\d+\.\d s\]", printed)

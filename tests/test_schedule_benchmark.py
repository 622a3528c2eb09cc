"""The benchmark of fold schedules runs to its end, at its smallest."""

import re
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).parents[1]


def test_the_line_is_printed() -> None:
    done = subprocess.run(
        [sys.executable, "benchmarks/bench_schedule.py", "--quick"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert re.search(r"schedule of 3 speeds .* \d+\.\d\d .*\[\d+\.\d s\]", done.stdout)

"""The benchmark of power curves runs to its end, at its smallest."""

import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).parents[1]


def test_the_line_is_printed() -> None:
    done = subprocess.run(
        [sys.executable, "benchmarks/bench_power.py", "--quick"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "trims from cold starts" in done.stdout

"""The benchmark of solves and sweeps runs to its end, at its smallest, and measures memory."""

import re
import subprocess
import sys

import pytest


@pytest.mark.slow
def test_the_benchmark_runs(run_benchmark):
    printed = run_benchmark("bench_core.py", "--tiny")
    for words in ("assembly", "full point, asymmetric", "symmetric sweep", "asymmetric map",
                  "slider", "peak memory", "--help", "import vlm"):  # fmt: skip
        assert re.search(rf"^.*{re.escape(words)}.* \[?\d", printed, re.MULTILINE), words


def test_peak_memory_is_the_processes_own(project, command_environment):
    """A child that does little has a small peak, however large the process that starts it."""
    code = (
        "import subprocess, sys; sys.path.insert(0, 'benchmarks');"
        "from bench_core import peak_bytes; import numpy as np;"
        "kept = np.ones(50_000_000);"
        "child = \"import sys; sys.path.insert(0, 'benchmarks');"
        ' from bench_core import peak_bytes; print(peak_bytes())";'
        "subprocess.run([sys.executable, '-c', child]); print(peak_bytes())"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=project,
        env=dict(command_environment),
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    child, parent = sorted(int(line) for line in run.stdout.split())
    assert parent - child > 300e6

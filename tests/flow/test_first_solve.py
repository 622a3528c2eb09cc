"""The first solve of a new installation says that it compiles; later ones say nothing."""

import subprocess
import sys

COMPILED = """
from vlm.flow.compiling import MESSAGE, report_compiling
import logging, sys
report_compiling()
from numba import njit
@njit(cache=True)
def twice(x):
    return 2.0 * x
@njit(cache=True)
def thrice(x):
    return 3.0 * x
twice(1.0), thrice(1.0)
"""


def test_compiling_is_reported_once_and_loading_is_not(tmp_path, command_environment) -> None:
    """Two small functions in place of the kernel: the second run loads them from the disk."""
    script = tmp_path / "solve.py"
    script.write_text(COMPILED)
    runs = [
        subprocess.run(
            [sys.executable, script], env=dict(command_environment), capture_output=True, text=True
        )
        for _ in range(2)
    ]
    assert [run.returncode for run in runs] == [0, 0], runs[0].stderr
    assert (
        runs[0].stderr == "compiling the kernel (once for each installation, about half a minute)\n"
    )
    assert runs[1].stderr == ""


def test_a_solve_listens_for_compiling(command_environment) -> None:
    code = (
        "import vlm.flow.influence; from numba.core import event;"
        "print([type(l).__name__ for l in event._registered['numba:compile']])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], env=dict(command_environment), capture_output=True, text=True
    )
    assert "_FirstCompilation" in run.stdout

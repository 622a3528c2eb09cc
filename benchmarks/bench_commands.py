"""Processor seconds of whole commands, each a process of its own on one thread.

    python benchmarks/bench_commands.py [--quick] [COMMAND ...]

Starting, reading and writing count; nothing is kept from an earlier run but compiled code. Beside
it stands the same with what an earlier run kept on disk, and, where a command can solve every case
(``--exact``), its plain loop. All are run in turn; their ratios are what to compare between
machines. Run it on a machine that does nothing else.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
from dataclasses import dataclass

import numpy as np
from timing import row

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS")
COARSE = ("--rows", "2", "--strips", "8")


@dataclass(frozen=True)
class Command:
    """A command on the demo craft.

    Attributes
    ----------
    words : what follows its name
    target_s : processor time to stay below [s]
    exact : whether its plain loop can be run
    """

    words: tuple[str, ...]
    target_s: float
    exact: bool = False


COMMANDS = {
    "roll": Command(("tideline",), 1.5, exact=True),
    "lateral": Command(("tideline",), 1.5, exact=True),
    "hinge": Command(("tideline",), 1.5, exact=True),
    "schedule": Command(("tideline",), 2.0, exact=True),
    "power": Command(("tideline", "--configuration", "open", "--configuration", "loiter"), 3.0),
    "mission": Command(("tideline", "--legs", "long_survey"), 6.0, exact=True),
    "report": Command(("tideline", "--out", "report.html"), 10.0),
}


def processor_seconds(words: list[str], **environment: str) -> float:
    """Processor time of one command, user and system, in a folder of its own [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "vlm", *words],
            cwd=folder,
            env=os.environ | dict.fromkeys(THREADS, "1") | environment,
            check=True,
            capture_output=True,
        )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def measured(command: Command, words: list[str], runs: int) -> np.ndarray:
    """Medians of the plain command, the same from what is kept, and every case solved [s]."""
    with tempfile.TemporaryDirectory() as kept:
        processor_seconds(words, FOLDSPAN_CACHE_DIR=kept)  # what is compiled is kept, too
        took = [
            [
                processor_seconds(words, FOLDSPAN_NO_CACHE="1"),
                processor_seconds(words, FOLDSPAN_CACHE_DIR=kept),
                processor_seconds([*words, "--exact"], FOLDSPAN_NO_CACHE="1")
                if command.exact
                else np.nan,
            ]
            for _ in range(runs)
        ]
    return np.asarray(np.median(took, axis=0))


def main() -> None:
    """Print a line for each command."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="lateral alone, a small lattice (CI)")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("commands", nargs="*", choices=[[], *COMMANDS], metavar="COMMAND")
    asked = parser.parse_args()
    for name in ["lateral"] if asked.quick else asked.commands or list(COMMANDS):
        command = COMMANDS[name]
        words = [name, *command.words, *(COARSE if asked.quick else ())]
        plain, kept, exact = measured(command, words, 1 if asked.quick else asked.repeats)
        beside = f"{kept:.2f} s from what is kept"
        if command.exact:
            beside += f"; {plain / exact:.2f} of --exact"
        met = "met" if plain <= command.target_s else "MISSED"
        target = "" if asked.quick else f"; target {command.target_s:g} s: {met}"
        print(row(f"{name}, processor time", f"{plain:.2f} s", beside + target), flush=True)


if __name__ == "__main__":
    main()

"""Commands in processes of their own that cost no start: a parent loads all, each case is a fork.

Loading and compiling take a second, most cases far less. The parent loads every command once, goes
through a few, and forks for each case. The child has the way in of a real process (streams,
interrupts, exit status), a folder for what is temporary, and hard limits on time and memory.
"""

import gc
import importlib
import io
import os
import pkgutil
import resource
import signal
import sys
import tempfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import vlm
from vlm.description.keys import root_schema

# The layer of numba that works on after a fork; one thread, as many such parents share a machine.
SURROUNDINGS = {
    "NUMBA_THREADING_LAYER": "workqueue",
    "NUMBA_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MPLBACKEND": "Agg",
    "PYVISTA_OFF_SCREEN": "true",
    "COLUMNS": "100",
    "LC_ALL": "C.UTF-8",
    "FOLDSPAN_NO_CACHE": "1",
}
"""The environment that a parent must have been started with."""

GRID = ("--rows", "2", "--strips", "4")
LOADED = (
    "matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg", "matplotlib.pyplot",
    "pandas", "xarray", "h5netcdf", "scipy.optimize", "scipy.stats", "scipy.interpolate",
)  # fmt: skip
WARM = (
    ("point", "tideline", "--alpha", "4", "--fold-left", "10", "--json", *GRID),
    ("sweep", "tideline", "--folds", "0,20", "--out", "w.nc", "--plot", "w.svg", *GRID),
    ("power", "tideline", "--airspeeds", "12,14", "--fold", "0", "--plot", "p.svg", *GRID),
)  # fmt: skip
"""Words of commands that the parent goes through, so that what they compile and load is there."""


@dataclass(frozen=True)
class Ended:
    """How a command ended: its exit status (less than 0: the signal), what it printed, its cost."""

    status: int
    out: str
    err: str
    seconds: float
    """Of the processor."""
    peak_mb: int
    """Most memory, the parent's share included."""


@dataclass(frozen=True)
class Limits:
    """Beyond which a child is ended by the system: processor and clock [s], memory [MB]."""

    seconds: int = 120
    clock: float = 3600.0
    memory_mb: int = 4000


def load_everything(warm: Sequence[Sequence[str]] = WARM) -> None:
    """Have this process load and compile what commands need; what is printed is thrown away."""
    for module in pkgutil.walk_packages(vlm.__path__, "vlm."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in LOADED:
        importlib.import_module(name)
    root_schema()  # of refusals
    with tempfile.TemporaryDirectory() as made, open(os.devnull, "w") as sink:
        before = (os.getcwd(), sys.stdout, sys.stderr)
        os.chdir(made)
        sys.stdout = sys.stderr = sink
        try:
            from vlm.cli.main import main

            for words in warm:
                status = main(words)
                assert status == 0, words
        finally:
            os.chdir(before[0])
            sys.stdout, sys.stderr = before[1:]
    gc.collect()
    gc.freeze()


def started(
    words: Sequence[str], folder: Path, limits: Limits, first: Callable[[], object] = lambda: None
) -> int:
    """Fork a child that runs a command in a folder; its process number.

    What it prints goes into ``folder.out`` and ``folder.err`` beside the folder, temporary files
    into ``folder.tmp``, and what it keeps for the next command into ``folder.kept``.

    Parameters
    ----------
    first : called in the child before the command
    """
    beside(folder, "tmp").mkdir(exist_ok=True)
    sys.stdout.flush()
    sys.stderr.flush()
    process = os.fork()
    if process:
        return process
    status = 70
    try:
        status = _child(words, folder, limits, first)
    except BaseException:  # noqa: BLE001 - nothing of the parent's is to run in the child
        import traceback

        traceback.print_exc()
    finally:
        with suppress(Exception):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(status)


def _child(words: Sequence[str], folder: Path, limits: Limits, first: Callable[[], object]) -> int:
    os.setsid()
    for number, name in ((1, "out"), (2, "err")):
        opened = os.open(beside(folder, name), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.dup2(opened, number)
        os.close(opened)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.environ |= surroundings(folder)
    tempfile.tempdir = os.environ["TMPDIR"]
    os.chdir(folder)
    taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    most = taken + limits.memory_mb * 2**20
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CPU, (limits.seconds, limits.seconds + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_REAL, limits.clock)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.stdout, sys.stderr = (
        io.TextIOWrapper(io.FileIO(number, "w", closefd=False), "utf-8", "backslashreplace")
        for number in (1, 2)
    )
    sys.argv = ["foldspan", *words]
    first()
    from vlm.cli.start import main

    return main()


def waited(process: int, folder: Path) -> Ended:
    """Wait for a child and read what it printed."""
    _, state, usage = os.wait4(process, 0)
    out, err = (
        beside(folder, name).read_bytes().decode("utf-8", "replace")
        if beside(folder, name).exists()
        else ""
        for name in ("out", "err")
    )
    return Ended(
        os.waitstatus_to_exitcode(state), out, err,
        round(usage.ru_utime + usage.ru_stime, 3), usage.ru_maxrss // 1024,
    )  # fmt: skip


def ended(
    words: Sequence[str], folder: Path, limits: Limits = Limits(),
    first: Callable[[], object] = lambda: None,
) -> Ended:  # fmt: skip
    """Run a command in a fork of this process."""
    return waited(started(words, folder, limits, first), folder)


def surroundings(folder: Path) -> dict[str, str]:
    """The environment of a command in a folder, beside that of the parent."""
    return {
        "TMPDIR": str(beside(folder, "tmp")),
        "FOLDSPAN_CACHE_DIR": str(beside(folder, "kept")),
        "FOLDSPAN_NO_CACHE": "",
    }


def beside(folder: Path, name: str) -> Path:
    """Where something of a case stands that is no part of its folder."""
    return folder.with_name(f"{folder.name}.{name}")

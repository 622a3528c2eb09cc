"""Stops, kills, lost workers and two runs on one file: whole files only, and a way on.

No source but the promise itself. POSIX: a signal's number and what the shell makes of it
(128 + 2 = 130 for an interrupt). The commands run in processes of their own.
"""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import xarray as xr
from sweep_cases import CRAFT, PAIRS, dataset_of, same
from test_fuzz import checked_whole

from vlm.study.sweep import running

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

LONG_SWEEP = ("sweep", "craft.toml", "--fold=-60:60:30", "--asymmetric", "--rows", "4")
SHORT_SWEEP = ("sweep", "craft.toml", "--fold=-60:60:6", "--asymmetric", "--rows", "3")
LONG = {
    "sweep": (*LONG_SWEEP, "--out", "out.nc"),
    "sweep in two processes": (*LONG_SWEEP, "--out", "out.nc", "--workers", "2"),
    "converge": ("converge", "tideline", "--rows", "24", "--strips", "60", "--plot", "out.png"),
    "power": ("power", "tideline", "--airspeeds", "8:28:60", "--plot", "out.png"),
    "roll": ("roll", "tideline", "--step", "5", "--plot", "out.png"),
    "lateral": ("lateral", "tideline", "--plot", "out.png"),
    "hinge": ("hinge", "tideline", "--plot", "out.png"),
    "schedule": ("schedule", "tideline", "--csv", "out.csv", "--plot", "out.png"),
    "mission": ("mission", "tideline", "--legs", "long_transit", "--plot", "out.png"),
    "report": ("report", "tideline", "-o", "out.html"),
    "log": ("log", "tideline", "tideline-invented.csv", "--plots", "pictures"),
}


@pytest.fixture
def folder(tmp_path: Path, project: Path) -> Path:
    """A folder with a craft whose mean line is a table."""
    text = (project / "geometries" / "tideline.toml").read_text(encoding="utf-8")
    text = re.sub(r'camber = "\d+"', 'camber = "line.csv"', text, count=1)
    (tmp_path / "craft.toml").write_text(text, encoding="utf-8")
    (tmp_path / "line.csv").write_text("x_c,z_c\n0.0,0.0\n0.5,0.02\n1.0,0.0\n", encoding="utf-8")
    return tmp_path


@contextmanager
def started(words, folder: Path, environment, **keys) -> Iterator[subprocess.Popen[str]]:
    """A command in a process group of its own, as in a terminal; killed if it is left running."""
    process = subprocess.Popen(
        ["foldspan", *words], cwd=folder, env=environment, text=True, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, **keys,
    )  # fmt: skip
    try:
        yield process
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.communicate(timeout=60)


def worked_until(there, process: subprocess.Popen[str], seconds: float = 90.0) -> None:
    """Wait until something holds, while the process runs."""
    end = time.monotonic() + seconds
    while not there():
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end
        time.sleep(0.02)


def chunks(folder: Path, name: str = "out.nc") -> list[Path]:
    return sorted((folder / f".{name}.unfinished").glob("chunk-*"))


def checked_leavings(folder: Path) -> None:
    """Fail if a file that a stopped run leaves is not whole."""
    for path in folder.rglob("*"):
        if not path.is_file() or path.name in ("craft.toml", "line.csv"):
            continue
        assert ".partial" not in path.name, path
        if ".unfinished" not in str(path):
            checked_whole(path)


def interrupted(process: subprocess.Popen[str]) -> None:
    """Press the keyboard's interrupt; fail unless the command ends with one plain line."""
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    last = err.rstrip("\n").split("\n")
    if process.returncode == 0 and last[-1].startswith("wrote "):
        pytest.skip("it was through before the interrupt reached it")
    assert process.returncode == 130, err[-3000:]
    assert "Traceback" not in err
    assert last[-1] == "foldspan: interrupted"
    assert out == ""


@pytest.mark.parametrize("name", ["sweep", "sweep in two processes"])
def test_an_interrupted_sweep_keeps_whole_chunks(
    name: str, folder: Path, command_environment
) -> None:
    with started(LONG[name], folder, command_environment) as process:
        worked_until(lambda: len(chunks(folder)) >= 1, process)
        interrupted(process)
    checked_leavings(folder)
    kept = chunks(folder)
    assert kept
    assert not (folder / "out.nc").exists()
    for path in kept:
        assert running.ChunkStore(folder / ".out.nc.unfinished", _digest(folder)).load(
            int(path.stem.removeprefix("chunk-"))
        )


def _digest(folder: Path) -> str:
    import json

    label = folder / ".out.nc.unfinished" / "run.json"
    return str(json.loads(label.read_text(encoding="utf-8"))["digest"])


INTERRUPTED_AT_THE_START = """
import os, sys
from importlib.abc import MetaPathFinder
class Interrupting(MetaPathFinder):
    def find_spec(self, name, *_more):
        if name == "vlm.cli.main":
            os.kill(os.getpid(), 2)
sys.meta_path.insert(0, Interrupting())
from vlm.cli.start import main
sys.exit(main())
"""


def test_an_interrupt_while_it_is_loaded_is_as_quiet(command_environment) -> None:
    """Once Python has read the first lines of foldspan, some hundredths of a second from start."""
    done = subprocess.run(
        [sys.executable, "-P", "-c", INTERRUPTED_AT_THE_START],
        env=dict(command_environment),
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "foldspan: interrupted\n")


def test_a_killed_sweep_goes_on_and_ends_with_the_same_numbers(
    folder: Path, command_environment, run_foldspan
) -> None:
    """The same dataset, number for number, as one that nobody stopped."""
    words = (*SHORT_SWEEP, "--over", "arrangement.gap_m=0.36:0.40:3")
    with started((*words, "--out", "out.nc"), folder, command_environment) as process:
        worked_until(lambda: len(chunks(folder)) >= 1, process)
        os.killpg(process.pid, signal.SIGKILL)
    checked_leavings(folder)
    kept = {path.name: path.stat().st_mtime_ns for path in chunks(folder)}
    assert kept
    for name in ("out.nc", "whole.nc"):
        done = run_foldspan(*words, "--out", name, cwd=folder)
        assert done.returncode == 0, done.stderr
    one, two = (xr.load_dataset(folder / n, engine="h5netcdf") for n in ("out.nc", "whole.nc"))
    same(one, two)
    assert not (folder / ".out.nc.unfinished").exists()


@pytest.mark.parametrize(
    "changed", ["line.csv", pytest.param("craft.toml", marks=pytest.mark.slow)]
)
def test_input_changed_between_stop_and_resume_is_noticed(
    changed: str, folder: Path, command_environment, run_foldspan
) -> None:
    with started(LONG["sweep"], folder, command_environment) as process:
        worked_until(lambda: len(chunks(folder)) >= 1, process)
        os.killpg(process.pid, signal.SIGKILL)
    text = (folder / changed).read_text(encoding="utf-8")
    old, new = ("gap_m = 0.36", "gap_m = 0.37") if changed == "craft.toml" else ("0.02", "0.03")
    assert text.count(old) == 1
    (folder / changed).write_text(text.replace(old, new), encoding="utf-8")
    done = run_foldspan(*LONG["sweep"], cwd=folder)
    assert done.returncode == 2
    assert "holds a stopped run of another craft, plan or version" in done.stderr
    assert not (folder / "out.nc").exists()
    assert chunks(folder)


PROBE = """
import signal, time
from vlm.study.sweep.workers import local_work
def is_masked(_piece):
    time.sleep(0.5)  # so that no worker does both
    return signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())
if __name__ == "__main__":
    with local_work(is_masked, [(0, None), (1, None)], 2) as results:
        print(sorted(results))
"""


def test_no_worker_sees_an_interrupt_while_it_starts(tmp_path: Path, command_environment) -> None:
    """POSIX: a process inherits the mask of the thread that starts it; the first process too, with
    which multiprocessing starts one of its own and unmasks the keyboard's interrupt."""
    (tmp_path / "probe.py").write_text(PROBE)
    done = subprocess.run(
        [sys.executable, "probe.py"], cwd=tmp_path, env=command_environment, text=True,
        capture_output=True,
    )  # fmt: skip
    assert done.stdout == "[(0, True), (1, True)]\n", done.stderr


def test_a_second_run_on_the_same_file_is_refused(
    folder: Path, command_environment, run_foldspan
) -> None:
    with started(LONG["sweep"], folder, command_environment) as process:
        worked_until((folder / ".out.nc.unfinished/run.json").exists, process)
        done = run_foldspan(*SHORT_SWEEP, "--out", "out.nc", cwd=folder)
        assert done.returncode == 2
        assert "another run works in this folder" in done.stderr
        assert process.poll() is None
        interrupted(process)
    checked_leavings(folder)


@pytest.mark.slow
def test_pictures_and_pages_written_twice_at_once_end_whole(
    folder: Path, command_environment
) -> None:
    """Each writes under a name of its own and renames: the last one stands, whole."""
    words = ("sweep", "craft.toml", "--fold", "0:30:3", "--alpha", "0:4:2", "--rows", "2")
    runs = [(*words, "--strips", "6", "--out", f"{name}.csv", "--plot", "out.png") for name in "ab"]
    with (
        started(runs[0], folder, command_environment) as one,
        started(runs[1], folder, command_environment) as two,
    ):
        ends = [process.communicate(timeout=120) for process in (one, two)]
        assert [one.returncode, two.returncode] == [0, 0], ends
    checked_leavings(folder)
    assert (folder / "out.png").read_bytes().startswith(b"\x89PNG")
    assert (folder / "out.png").read_bytes().rstrip().endswith(b"IEND\xaeB`\x82")


def test_workers_end_with_a_killed_parent(folder: Path, command_environment) -> None:
    """Nobody else would end them."""
    with started(LONG["sweep in two processes"], folder, command_environment) as process:
        worked_until(lambda: len(chunks(folder)) >= 1, process)
        children = [int(pid) for pid in _children(process.pid)]
        assert len(children) >= 2
        os.kill(process.pid, signal.SIGKILL)
        end = time.monotonic() + 30.0
        while any(_alive(pid) for pid in children) and time.monotonic() < end:
            time.sleep(0.05)
        assert not any(_alive(pid) for pid in children)


def test_a_worker_that_is_ended_is_reported_and_the_rest_is_kept(
    folder: Path, command_environment
) -> None:
    """As the system does where memory runs out; nothing waits for it."""
    words = (*SHORT_SWEEP, "--over", "arrangement.gap_m=0.36:0.40:9", "--workers", "2")
    with started((*words, "--out", "out.nc"), folder, command_environment) as process:
        worked_until(lambda: len(chunks(folder)) >= 1, process)
        workers = [pid for pid in _children(process.pid) if b"spawn_main" in _command(pid)]
        assert len(workers) == 2
        os.kill(int(workers[0]), signal.SIGKILL)
        _, err = process.communicate(timeout=60)
    assert process.returncode == 3, err
    last = err.splitlines()[-1]
    assert last.startswith("foldspan: a worker process ended before its work was done")
    assert "exit code -9" in last
    assert chunks(folder)
    assert not any(_alive(int(pid)) for pid in workers)


def _command(pid: str) -> bytes:
    return Path(f"/proc/{pid}/cmdline").read_bytes()


def _children(parent: int) -> list[str]:
    tasks = Path(f"/proc/{parent}/task")
    if not tasks.exists():
        pytest.skip("needs /proc")
    return [pid for t in tasks.iterdir() for pid in (t / "children").read_text().split()]


def _alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


@pytest.mark.slow
@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGKILL], ids=["interrupt", "kill"])
@pytest.mark.parametrize("delay", [2.0, 5.0])
@pytest.mark.parametrize("name", LONG)
def test_every_long_command_leaves_only_whole_files(
    name: str, delay: float, sent: signal.Signals, folder: Path, command_environment
) -> None:
    with started(LONG[name], folder, command_environment) as process:
        time.sleep(delay)
        if process.poll() is not None:
            pytest.skip("it was through already")
        if sent is signal.SIGINT:
            interrupted(process)
        else:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate(timeout=60)
            assert process.returncode == -signal.SIGKILL
    checked_leavings(folder)


KILLED_WHILE_WRITING = """
import os, sys
from pathlib import Path
from vlm.study import store
def killed(*_arguments):
    os.kill(os.getpid(), 9)
os.fsync = killed
store.write_whole(Path(sys.argv[1]), b"new")
"""


def test_a_run_killed_while_it_writes_leaves_the_old_file(
    tmp_path: Path, command_environment
) -> None:
    """The half-written one has another name, and the next run takes it away."""
    out = tmp_path / "out.csv"
    out.write_bytes(b"old")
    done = subprocess.run(
        [sys.executable, "-P", "-c", KILLED_WHILE_WRITING, str(out)],
        env=dict(command_environment),
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    assert out.read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 2
    running.write_whole(out, b"newer")
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
    assert out.read_bytes() == b"newer"


@pytest.mark.slow
def test_a_sweep_survives_a_lost_worker_of_the_cluster(monkeypatch) -> None:
    """One of two is killed after the first chunk; another takes its work, the numbers stay."""
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(running, "CHUNK", 2)
    killed: list[int] = []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True,
    ) as cluster:  # fmt: skip
        pids = [worker.process.process.pid for worker in cluster.workers.values()]

        def report(done: int, total: int) -> None:
            if 0 < done < total and not killed:
                os.kill(pids[0], signal.SIGKILL)
                killed.append(pids[0])

        found = dataset_of(CRAFT, PAIRS, scheduler=cluster.scheduler_address, report=report)
    assert killed
    same(dataset_of(CRAFT, PAIRS), found)

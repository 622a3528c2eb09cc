"""What all tests share: no windows, repeatable cases, the command in a process of its own."""

import json
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from document_schemas import held_against_schema
from hypothesis import HealthCheck, Phase, settings

# A shell starts what runs behind it with interrupts ignored, and every command would inherit that.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
# Processes that share the tests leave each other a processor.
if "PYTEST_XDIST_WORKER" in os.environ:
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
        os.environ.setdefault(threads, "1")
os.environ.setdefault("MPLBACKEND", "Agg")
os.environ.setdefault("PYVISTA_OFF_SCREEN", "true")
# Nothing from the user's caches, and nothing into them; tests of what is kept name a folder, and
# those that ask the same question often share one (answers_kept).
os.environ["FOLDSPAN_NO_CACHE"] = "1"

# "run": the same cases every time, so that a failure is one for everybody. "search": new cases
# each time, many of them, to look for trouble: HYPOTHESIS_PROFILE=search pytest ... "first": as
# "run", but the first failure ends a test: looking for a smaller one takes minutes.
settings.register_profile(
    "run",
    deadline=None,
    derandomize=True,
    max_examples=30,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "first", settings.get_profile("run"), phases=[Phase.explicit, Phase.generate]
)
settings.register_profile("search", deadline=None, max_examples=500, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "run"))

PROJECT = Path(__file__).parents[1]


@pytest.hookimpl(optionalhook=True)  # where tests run in one process there is none
def pytest_xdist_auto_num_workers() -> int:
    """One process more than processors: many tests wait for a command, a browser or a clock."""
    here = getattr(os, "sched_getaffinity", None)
    return (len(here(0)) if here else os.cpu_count() or 1) + 1


COMPILES = (
    "sweep tideline --folds -30,0,20 --asymmetric --rows 2 --strips 6 --out all.csv",
    "point tideline --alpha 4 --fold-left 10 --fold-right 20 --wake stream --rows 2 --strips 6",
)
"""Commands that use every function of the kernel."""


@pytest.fixture(scope="session")
def project() -> Path:
    """The project's root folder."""
    return PROJECT


@pytest.fixture(scope="session")
def command_environment(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """An environment in which ``foldspan`` and ``python`` are those under test, from any folder."""
    import vlm

    folder = tmp_path_factory.mktemp("bin")
    # -P: the package under test, not one that lies in the folder where a command is run.
    for name, words in {"foldspan": "-P -W error -m vlm", "python": ""}.items():
        script = folder / name
        script.write_text(f'#!/bin/sh\nexec "{sys.executable}" {words} "$@"\n')
        script.chmod(script.stat().st_mode | stat.S_IXUSR)
    package_parent = Path(vlm.__file__).parents[1]
    environment = os.environ | {
        "PATH": f"{folder}{os.pathsep}{os.environ.get('PATH', '')}",
        "PYTHONPATH": str(package_parent),
        "COLUMNS": "100",
        "LC_ALL": "C.UTF-8",
    }
    for words in COMPILES:  # so that no test's command is the first, which says that it compiles
        subprocess.run(
            ["foldspan", *words.split()],
            cwd=folder,
            env=environment,
            capture_output=True,
            check=True,
        )
    return environment


@pytest.fixture(scope="session")
def quick_environment(
    tmp_path_factory: pytest.TempPathFactory, command_environment: Mapping[str, str]
) -> Iterator[dict[str, str]]:
    """The same environment, its ``foldspan`` run by a process that has loaded everything."""
    if not hasattr(os, "fork"):
        yield command_environment
        return
    from fork_server import script, started

    folder = tmp_path_factory.mktemp("quick")
    server = started(folder / "way_in", command_environment)
    script(folder / "foldspan", folder / "way_in")
    path = f"{folder}{os.pathsep}{command_environment['PATH']}"
    yield {**command_environment, "PATH": path}
    server.kill()
    server.wait()


@pytest.fixture(scope="session", autouse=True)
def _every_document_as_its_schema_says() -> Iterator[None]:
    """Whatever a test prints with ``--json`` in this process."""
    import click

    from vlm.cli import answering

    whole = answering.with_input_findings

    def held(document: Any) -> Any:
        name = str(click.get_current_context().info_name)
        return held_against_schema(name, whole(document))

    answering.with_input_findings = held
    yield
    answering.with_input_findings = whole


KEEPING = ("FOLDSPAN_NO_CACHE", "FOLDSPAN_CACHE_DIR")
"""Whether solved settings and answers are kept, and where."""


@pytest.fixture(scope="session")
def shared_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of what is kept between tests; each worker has its own."""
    return tmp_path_factory.mktemp("shared_cache")


@pytest.fixture
def answers_kept(shared_cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another test, or an earlier command of this one, has solved is not solved again.

    For tests that ask the same craft and lattice more than once, for what is said of the answer:
    ``@pytest.mark.usefixtures("answers_kept")``, or ``pytestmark`` for all of a module. Never where
    a test patches code that computes, counts solves or looks at what is kept: an answer from the
    folder would hide the change.
    """
    for name, value in zip(KEEPING, ("", str(shared_cache)), strict=True):
        monkeypatch.setenv(name, value)


RunCommand = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def run_foldspan(
    quick_environment: Mapping[str, str], command_environment: Mapping[str, str]
) -> RunCommand:
    """Run ``foldspan`` in a process of its own: ``run_foldspan("point", "tideline", cwd=...)``.

    One that starts again where it is given an environment, else a fork.
    """

    def run(
        *arguments: str, cwd: Path | None = None, timeout: float = 120.0, **extra: str
    ) -> subprocess.CompletedProcess[str]:
        keeping = {name: os.environ[name] for name in KEEPING if name in os.environ}
        environment = command_environment if extra else quick_environment
        run = subprocess.run(
            ["foldspan", *arguments],
            cwd=cwd,
            env={**environment, **keeping, **extra},
            capture_output=True,
            encoding="utf-8",
            errors="surrogateescape",  # under another locale
            timeout=timeout,
            check=False,
            stdin=subprocess.DEVNULL,
        )
        if "--json" in arguments and run.returncode == 0:
            held_against_schema(arguments[0], json.loads(run.stdout))
        return run

    return run


RunBenchmark = Callable[..., str]


@pytest.fixture(scope="session")
def run_benchmark(project: Path, command_environment: Mapping[str, str]) -> RunBenchmark:
    """Run a script of benchmarks/ to its end and give what it prints."""

    def run(name: str, *arguments: str | Path) -> str:
        return subprocess.run(
            [sys.executable, f"benchmarks/{name}", *arguments],
            cwd=project,
            env=dict(command_environment),
            capture_output=True,
            text=True,
            timeout=600,
            check=True,
        ).stdout

    return run

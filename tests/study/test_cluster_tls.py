"""A cluster with certificates: the page's own commands; a stranger at its port gets nothing.

No source but docs/security.md and dask's documentation of its TLS settings.
"""

import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("openssl") is None, reason="needs openssl"),
]
SWEEP = ("sweep", "plank", "--fold", "0", "--alpha", "0,4", "--rows", "2", "--strips", "6")


def page_commands(project: Path) -> list[str]:
    """The commands of the page's block about certificates."""
    text = (project / "docs" / "security.md").read_text(encoding="utf-8")
    block = re.search(r"```sh\n(openssl.*?)```", text, re.S)
    assert block is not None
    return [line for line in block[1].replace("\\\n", " ").splitlines() if line.strip()]


@contextmanager
def running(words: list[str], folder: Path, environment: dict[str, str]) -> Iterator[None]:
    with (folder / f"{words[0]}.log").open("w") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", *words], cwd=folder, env=environment, stdout=log, stderr=log
        )
        try:
            yield
        finally:
            process.terminate()
            process.wait(60)


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def listens(port: int) -> bool:
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0


def test_the_page_s_commands_work_and_a_stranger_is_refused(
    tmp_path: Path, project: Path, run_foldspan, command_environment
) -> None:
    pytest.importorskip("distributed")
    lines = page_commands(project)
    certificates = [line for line in lines if line.startswith("openssl")]
    subprocess.run(
        "set -e\n" + "\n".join(certificates), shell=True, cwd=tmp_path, check=True,
        capture_output=True,
    )  # fmt: skip
    settings = dict(
        line.removeprefix("export ").split("=", 1) for line in lines if line.startswith("export")
    )
    port = free_port()

    def asked(start: str) -> list[str]:
        (line,) = (line for line in lines if line.startswith(start))
        _, kind, *more = line.replace("HOST:8786", f"127.0.0.1:{port}").split()
        extra = ["--port", str(port)] if kind == "scheduler" else ["--nthreads", "1"]
        return [f"distributed.cli.dask_{kind}", *more, *extra]

    environment = {**command_environment, "OMP_NUM_THREADS": "1"}
    with running(asked("dask scheduler"), tmp_path, environment):
        end = time.monotonic() + 120.0
        while not listens(port):
            assert time.monotonic() < end
            time.sleep(0.2)
        with running(asked("dask worker"), tmp_path, environment):
            address = f"tls://127.0.0.1:{port}"
            words = (*SWEEP, "--scheduler", address)
            done = run_foldspan(*words, "--out", "a.nc", cwd=tmp_path, timeout=300, **settings)
            assert done.returncode == 0, done.stderr
            # The same port, without a certificate of this circle.
            for stranger, status in ((address, 2), (f"tcp://127.0.0.1:{port}", 3)):
                words = (*SWEEP, "--scheduler", stranger)
                done = run_foldspan(*words, "--out", "b.nc", cwd=tmp_path, timeout=300)
                assert done.returncode == status, done.stderr
                assert ("needs certificates" if status == 2 else "no scheduler") in done.stderr
    assert (tmp_path / "a.nc").exists()
    assert not (tmp_path / "b.nc").exists()
    assert os.stat(tmp_path / "node.key").st_size > 0

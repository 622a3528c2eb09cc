"""Commands that cost no start: a process that has loaded all forks for each.

``python fork_server.py SOCKET`` loads every command and waits; ``foldspan`` of :func:`script` sends
it the words, the folder, the environment and the three standard streams, and ends with the status
of the fork that ran them. For tests of what commands print and write: those of how a process
starts, of signals and of other environments take a process of their own.
"""

import io
import json
import os
import signal
import socket
import subprocess
import sys
import time
import warnings
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from forked import SURROUNDINGS, load_everything

MOST_BYTES = 1 << 20
CLIENT = """#!{python} -IS
import json, os, socket, sys
with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as way:
    way.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, {most})
    way.connect({path!r})
    asked = json.dumps([sys.argv[1:], os.getcwd(), dict(os.environ)]).encode()
    socket.send_fds(way, [asked], [0, 1, 2])
    status = int(way.recv(16) or 70)
if status < 0:
    os.kill(os.getpid(), -status)
sys.exit(status)
"""


def script(path: Path, way_in: Path) -> None:
    """Write a ``foldspan`` that has the server at a socket run it."""
    text = CLIENT.format(python=sys.executable, most=MOST_BYTES, path=str(way_in))
    path.write_text(text, encoding="utf-8")
    path.chmod(0o755)


def started(way_in: Path, environment: Mapping[str, str]) -> subprocess.Popen[bytes]:
    """A server that listens at a socket."""
    places = os.pathsep.join([str(Path(__file__).parent), environment.get("PYTHONPATH", "")])
    server = subprocess.Popen(
        [sys.executable, "-P", "-W", "error", __file__, str(way_in)],
        env={**environment, **SURROUNDINGS, "PYTHONPATH": places},
        stdin=subprocess.DEVNULL,
    )
    while not way_in.exists():
        assert server.poll() is None, "the server of commands ended before it listened"
        time.sleep(0.02)
    return server


def serve(way_in: Path) -> None:
    """Load all, then fork for whoever asks, until this process is ended."""
    load_everything()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # children that ended leave nothing behind
    with socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET) as door:
        beside = way_in.with_suffix(".made")
        door.bind(str(beside))
        door.listen(16)
        beside.rename(way_in)  # so that it is there once it listens
        while True:
            asking, _ = door.accept()
            if _forked() == 0:
                door.close()
                _attend(asking)
            asking.close()


def _forked() -> int:
    """A fork, of a process whose only other threads are those of libraries that wait."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return os.fork()


def _attend(asking: socket.socket) -> None:
    """Run what is asked for in a fork, and tell how it ended."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    text, streams, _, _ = socket.recv_fds(asking, MOST_BYTES, 3)
    process = _forked()
    if process == 0:
        asking.close()
        _run(*json.loads(text), streams)
    _, state = os.waitpid(process, 0)
    with suppress(OSError):  # whoever asked went away
        asking.send(str(os.waitstatus_to_exitcode(state)).encode())
    os._exit(0)


def _run(words: list[str], folder: str, environment: dict[str, str], streams: list[int]) -> None:
    status = 70
    try:
        for number, stream in enumerate(streams):
            os.dup2(stream, number)
            os.close(stream)
        os.environ.clear()
        os.environ.update(environment)
        os.chdir(folder)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        sys.stdin, sys.stdout, sys.stderr = (_text(number) for number in range(3))
        sys.argv = ["foldspan", *words]
        from vlm.cli.start import main

        status = main()
    except BaseException:  # noqa: BLE001 - nothing of the parent's is to run in the child
        import traceback

        traceback.print_exc()
        status = 70
    finally:
        for stream in (sys.stdout, sys.stderr):
            with suppress(Exception):
                stream.flush()
        os._exit(status)


def _text(number: int) -> Any:
    """A standard stream as Python opens it in a UTF-8 locale."""
    mode = "r" if number == 0 else "w"
    return io.TextIOWrapper(
        open(number, f"{mode}b", closefd=False), "utf-8",
        "surrogateescape" if number == 0 else "strict" if number == 1 else "backslashreplace",
        line_buffering=number == 2 or os.isatty(number),
    )  # fmt: skip


if __name__ == "__main__":
    serve(Path(sys.argv[1]))

"""An interrupt ends a command wherever it arrives, and what is half done is put away.

No source but the promise itself. Each case runs in a process of its own that interrupts itself.
"""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")

START = """
import os, signal, sys
from pathlib import Path
from vlm.interrupts import *
def press(): os.kill(os.getpid(), signal.SIGINT)
end_when_interrupted()
"""


def ended(code: str, folder: Path, project: Path) -> str:
    """Standard output of a process that must end by an interrupt."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", START + code], cwd=folder,
        env=os.environ | {"PYTHONPATH": str(project)}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 130
    assert done.stderr == "foldspan: interrupted\n"
    return done.stdout


@pytest.mark.parametrize(
    "code",
    [
        "press()",
        # Python throws away what a destructor or a callback raises.
        "class Gone:\n    def __del__(self): press()\nGone()",
        "import ctypes\ncall = ctypes.CFUNCTYPE(None)(press)\ncall()",
        # Libraries catch all there is.
        "try: press()\nexcept BaseException: pass",
        # Between a file's opening and its name.
        "import io\nreal = io.open\ndef opened(*a): made = real(*a); press(); return made\n"
        "os.fdopen = opened\nos.fdopen(os.open('f', os.O_CREAT | os.O_RDWR))",
    ],
    ids=["plain", "destructor", "callback", "caught", "opening"],
)
def test_it_ends_the_process_wherever_it_arrives(code: str, tmp_path: Path, project: Path) -> None:
    assert ended(f"{code}\nos.write(1, b'went on')", tmp_path, project) == ""


def test_its_line_is_the_last(tmp_path: Path, project: Path) -> None:
    """Other threads write too, those of progress lines and of libraries, until the process ends."""
    code = """
import threading
from vlm import interrupts
begun = threading.Event()
def lines():
    while os.write(2, b"1 of 2 done\\n"): begun.set()
threading.Thread(target=lines, daemon=True).start()
begun.wait()
real = os._exit
def slow(status):
    import time
    time.sleep(0.3)
    real(status)
os._exit = slow
press()
"""
    done = subprocess.run(
        [sys.executable, "-c", START + code], cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(project)}, capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode == 130
    before, last, nothing = done.stderr.rsplit("\n", 2)
    assert (last, nothing) == ("foldspan: interrupted", "")
    assert set(before.split("\n")) == {"1 of 2 done"}


def test_what_is_half_done_is_put_away(tmp_path: Path, project: Path) -> None:
    """A file that is being written, and a folder for the time being."""
    code = """
from vlm import disk
disk.os.fsync = lambda _descriptor: press()
with disk.temporary_folder() as made:
    os.write(1, str(made).encode())
    disk.write_whole(Path("out.csv"), b"new")
"""
    (tmp_path / "out.csv").write_bytes(b"old")
    made = Path(ended(code, tmp_path, project))
    assert made.name.startswith("foldspan-")
    assert not made.exists()
    assert [path.name for path in tmp_path.iterdir()] == ["out.csv"]
    assert (tmp_path / "out.csv").read_bytes() == b"old"


def test_it_is_put_off_while_it_is_held(tmp_path: Path, project: Path) -> None:
    """Also where the mask of the thread does not hold it: another thread may take the signal."""
    code = """
with interrupts_held():
    with interrupts_held():
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
        press()
    os.write(1, b"to the end")
os.write(1, b"; went on")
"""
    assert ended(code, tmp_path, project) == "to the end"


def test_the_first_may_be_summed_up_and_the_second_ends(tmp_path: Path, project: Path) -> None:
    code = """
with interrupt_raised():
    try: press()
    except KeyboardInterrupt: os.write(1, b"summed up")
    try: press()
    except KeyboardInterrupt: os.write(1, b"; again")
"""
    assert ended(code, tmp_path, project) == "summed up"


def test_a_process_started_while_it_is_held_never_sees_it(tmp_path: Path, project: Path) -> None:
    code = """
import subprocess
with interrupts_held():
    started = subprocess.Popen([sys.executable, "-c",
        "import signal, os; os.kill(os.getpid(), signal.SIGINT); os.write(1, b'lives')"])
started.wait()
press()
"""
    assert ended(code, tmp_path, project) == "lives"
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler

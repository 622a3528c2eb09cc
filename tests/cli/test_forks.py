"""Hostile input by the ten thousand, in forks of one process; and what such a fork would notice.

No source but the promise itself; see tests/forked.py and benchmarks/hostile_input.py.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="forks of POSIX")

MANY, PORTION = 10_000, 500
BAD_COMMANDS = """
import json, os, sys, tempfile
from pathlib import Path
sys.path[:0] = sys.argv[1:]
import vlm.cli.start
from forked import Limits, ended
from forked_cases import broken_promise
from mutations import HostileCase

def says_nothing():
    return 2
def trips():
    raise ZeroDivisionError("tripped")
def is_a_bug():
    sys.stderr.write("Traceback (most recent call last):\\nfoldspan: this is a bug\\n")
    return 1
def leaves_half():
    Path(".out.nc.1.partial").write_text("half")
    return 0
def changes_its_input():
    Path("in.toml").write_text("changed")
    return 0
def litters():
    tempfile.mkdtemp()
    return 0
def never_ends():
    while True:
        pass
def waits_for_ever():
    import time
    time.sleep(1000.0)
def takes_all():
    bytearray(2**31)
    return 0
def prints_nan():
    sys.stdout.write('{"CL": NaN}')
    sys.stdout.flush()
    return 0
def does_well():
    sys.stdout.write('{"CL": 1.0}')
    sys.stdout.flush()
    return 0

found = {}
with tempfile.TemporaryDirectory() as made:
    for main in (says_nothing, trips, is_a_bug, leaves_half, changes_its_input, litters, never_ends,
                 waits_for_ever, takes_all, prints_nan, does_well):
        folder = Path(made) / main.__name__ / "work"
        folder.mkdir(parents=True)
        (folder / "in.toml").write_text("good")
        case = HostileCase(0, ("point", "in.toml", "--json"), {"in.toml": b"good"}, "")
        def first(main=main):
            vlm.cli.start.main = main
        how = ended(case.words, folder, Limits(seconds=1, clock=2.0, memory_mb=500), first)
        found[main.__name__] = broken_promise(case, folder, how)
print(json.dumps(found))
"""


def test_what_breaks_a_promise_in_a_fork_is_noticed(project: Path) -> None:
    """A bug, silence, half a file, a changed input, litter, no end, all the memory, NaN in JSON."""
    places = [str(project / "tests"), str(project / "tests" / "cli")]
    done = subprocess.run(
        [sys.executable, "-c", BAD_COMMANDS, *places], capture_output=True, text=True,
        env=os.environ | {"PYTHONPATH": str(project)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found.pop("does_well") is None
    for name, words in (
        ("says_nothing", "no message"), ("trips", "status 70"), ("is_a_bug", "status 1"),
        ("leaves_half", "left half-written"), ("changes_its_input", "was changed"),
        ("litters", "left among temporary"), ("never_ends", "ended by signal"),
        ("waits_for_ever", "ended by signal 14"), ("takes_all", "status 70"), ("prints_nan", "NaN"),
    ):  # fmt: skip
        assert words in found.pop(name), name
    assert not found


@pytest.mark.slow
@pytest.mark.parametrize("start", range(0, MANY, PORTION))
@pytest.mark.parametrize("kind", ["grammar", "mutations"])
def test_ten_thousand_cases(kind: str, start: int, tmp_path: Path, project: Path) -> None:
    record = tmp_path / "record.jsonl"
    numbers = map(str, range(start, start + PORTION))
    words = ["--record", str(record), "--set", kind, "--numbers", *numbers]
    subprocess.run(
        [sys.executable, project / "benchmarks" / "hostile_input.py", *words], check=True,
        env=os.environ | {"PYTHONPATH": str(project)}, capture_output=True,
    )  # fmt: skip
    rows = [json.loads(line) for line in record.read_text(encoding="utf-8").splitlines()]
    assert len(rows) == PORTION
    broken = [row["fault"] for row in rows if "fault" in row]
    assert not broken, f"{len(broken)} of {PORTION}:\n\n" + "\n\n".join(broken[:20])
    ends = {row["status"] for row in rows}
    assert {0, 2} <= ends


@pytest.mark.parametrize(
    "words",
    [
        ("point", "tideline", "--alpha", "20", "--rows", "2", "--strips", "6"),
        ("point", "tydeline", "--alpha", "4"),
        ("check", "tideline", "--strict", "--fold", "-60"),
    ],
)
def test_a_command_of_the_server_ends_as_one_that_starts_anew(
    words: tuple[str, ...], quick_environment: Any, command_environment: Any, tmp_path: Path
) -> None:
    """What is printed on both streams, and the exit status."""
    quick, anew = (
        subprocess.run(
            ["foldspan", *words],
            cwd=tmp_path,
            env=dict(environment),
            capture_output=True,
            check=False,
        )
        for environment in (quick_environment, command_environment)
    )
    assert (quick.returncode, quick.stdout, quick.stderr) == (
        anew.returncode, anew.stdout, anew.stderr,
    )  # fmt: skip
    assert anew.stdout or anew.stderr

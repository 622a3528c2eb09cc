"""Hostile input ends in a result or in one clear message, never in a traceback or a false number.

No source but the promise itself. Good files and commands are changed at random, always the same
way for a number (tests/mutations.py); the command runs in this process on a coarse grid, with
warnings as errors. The ten thousand run in forks (test_forks.py).
"""

import json
import resource
import time
from pathlib import Path
from typing import Any

import pytest
from mutations import QUICK, HostileCase, hostile_case

from vlm.cli.main import main

MOST_SECONDS, MOST_OF_A_SEARCH = 60.0, 180.0
"""Processor time of a command, and of a search over designs, each of which flies a mission [s]."""
MOST_MEMORY_GROWTH_KB = 1_500_000


class FalseNumber(AssertionError):
    """JSON that holds NaN or an infinity."""


def no_number(word: str) -> float:
    raise FalseNumber(word)


def checked_ending(words: tuple[str, ...], status: int, out: str, err: str) -> None:
    """Fail unless a command ended as promised."""
    assert status in (0, 2, 3), f"status {status}\n{err[-3000:]}"
    assert "Traceback" not in err
    if status != 0:
        last = err.rstrip("\n").rpartition("\n")[2] if status == 3 else err.split("\n")[0]
        assert len(err) < 20_000, f"a message of {len(err)} letters"
        assert err.strip(), "no message"
        assert last.startswith(("foldspan: ", "Usage: ")) or "\nfoldspan: " in err, err[-500:]
    if status == 2:
        assert out == "", f"refused, but printed {out[:200]!r}"
    if status == 0 and "--json" in words and out.lstrip().startswith("{"):
        try:
            json.loads(out, parse_constant=no_number)
        except ValueError as error:
            raise AssertionError(f"no JSON: {error}") from None


def checked_folder(folder: Path, case: HostileCase, status: int) -> None:
    """Fail if an input was changed, or if a file is left that is not whole."""
    for name, content in case.files.items():
        assert (folder / name).read_bytes() == content, f"{name} was changed"
    for path in folder.rglob("*"):
        assert ".partial" not in path.name, f"left half-written: {path.name}"
        if path.name in case.files or not path.is_file() or ".unfinished" in str(path):
            continue
        assert status != 2, f"refused, but wrote {path.name}"
        checked_whole(path)


def checked_whole(path: Path) -> None:
    data = path.read_bytes()
    if path.suffix == ".nc":
        import xarray as xr

        assert xr.load_dataset(path, engine="h5netcdf").attrs, f"{path.name} says nothing"
    elif path.suffix == ".html":
        assert data.rstrip().endswith(b"</html>")
    elif path.suffix == ".csv":
        assert data.endswith(b"\n")
    else:
        assert data


def run_case(case: HostileCase, folder: Path, capsys: Any) -> int:
    """Run one case in a folder of its own and check all that is promised."""
    folder.mkdir()
    for name, content in case.files.items():
        (folder / name).write_bytes(content)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        started = time.process_time()
        status = main(case.words)
        seconds = time.process_time() - started
    out, err = capsys.readouterr()
    try:
        checked_ending(case.words, status, out, err)
        checked_folder(folder, case, status)
        assert seconds < (MOST_OF_A_SEARCH if case.words[:1] == ("design",) else MOST_SECONDS)
    except AssertionError as failed:
        shown = " ".join(repr(word[:80]) for word in case.words)
        raise AssertionError(f"case {case.number}: {shown}\n{case.what[:400]}\n{failed}") from None
    return status


def run_cases(numbers: range, folder: Path, capsys: Any) -> dict[int, int]:
    """How many cases ended with each status; fails with every case that broke a promise."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    ends: dict[int, int] = {}
    broken = []
    for number in numbers:
        try:
            status = run_case(hostile_case(number), folder / str(number), capsys)
        except AssertionError as failed:
            broken.append(str(failed))
        else:
            ends[status] = ends.get(status, 0) + 1
    assert not broken, f"{len(broken)} of {len(numbers)}:\n\n" + "\n\n".join(broken[:20])
    growth = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert growth < MOST_MEMORY_GROWTH_KB
    return ends


def test_mutated_input_ends_in_a_result_or_a_message(tmp_path: Path, capsys: Any) -> None:
    ends = run_cases(range(QUICK), tmp_path, capsys)
    # Both ways out are taken often, or the cases test nothing.
    assert ends[0] > QUICK / 20
    assert ends[2] > QUICK / 5


@pytest.mark.parametrize(
    ("status", "out", "err"),
    [
        (1, "", "Traceback (most recent call last):\nfoldspan: this is a bug"),
        (0, '{"CL": NaN}', ""),
        (0, '{"CL": -Infinity}', ""),
        (0, '{"CL": 1', ""),
        (2, '{"CL": 1}', "foldspan: a.toml: wrong\n"),
        (2, "", ""),
        (3, "", "ZeroDivisionError\n"),
        (2, "", "foldspan: " + "a" * 20_000),
    ],
)
def test_endings_that_break_the_promise_are_seen(status: int, out: str, err: str) -> None:
    with pytest.raises(AssertionError):
        checked_ending(("point", "plank", "--json"), status, out, err)


def test_files_that_break_the_promise_are_seen(tmp_path: Path) -> None:
    case = HostileCase(0, ("check", "a.toml"), {"a.toml": b"good"}, "")
    (tmp_path / "a.toml").write_bytes(b"good")
    checked_folder(tmp_path, case, 0)
    for name, content, status in (
        ("a.toml", b"changed", 0),
        (".out.nc.1.partial", b"", 0),
        ("out.csv", b"a,b\n1,", 0),
        ("out.csv", b"a,b\n1,2\n", 2),
        ("out.html", b"<html>", 0),
    ):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(AssertionError):
            checked_folder(tmp_path, case, status)
        (tmp_path / name).unlink()
        (tmp_path / "a.toml").write_bytes(b"good")

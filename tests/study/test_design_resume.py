"""Searches of the design that are killed or stopped: what is finished is kept and taken up."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description.loading import load_biplane
from vlm.findings import Finding
from vlm.study.design.evaluator import _plain, _worth_of
from vlm.study.design.goals import Worth
from vlm.study.store import packed, unpacked

NAME = [sys.executable, "-m", "vlm"]
SEARCH = (
    "design", "tideline", "--key", "arrangement.gap_m=0.3:0.6", "--key",
    "arrangement.stagger_m=-0.1:0.1", "--goal", "span efficiency", "--rows", "4", "--strips", "20",
    "--most", "14",
)  # fmt: skip


def test_killed_and_resumed_it_works_nothing_out_twice(
    tmp_path: Path, command_environment: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    words = [*NAME, *SEARCH, "--keep", "kept", "--json"]
    killed = subprocess.Popen(
        words, cwd=tmp_path, env=command_environment, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    wait_for(tmp_path / "kept", 4, killed)
    os.kill(killed.pid, signal.SIGKILL)
    assert killed.wait() == -signal.SIGKILL
    finished = len(list((tmp_path / "kept").glob("chunk-*.npz")))
    times = {p.name: p.stat().st_mtime_ns for p in (tmp_path / "kept").glob("chunk-*.npz")}
    resumed = json.loads(output(words, tmp_path, command_environment))
    assert resumed["recalled"] == finished
    assert all((tmp_path / "kept" / n).stat().st_mtime_ns == t for n, t in times.items())
    kept = ("--keep", str(tmp_path / "kept"))
    again = json.loads(printed(*SEARCH, *kept, "--json"))
    assert again["worked_out"] == 0
    whole = json.loads(printed(*SEARCH, "--json"))
    assert whole["worked_out"] == resumed["worked_out"] + finished
    assert whole["best"]["value"] == resumed["best"]["value"] == again["best"]["value"]
    assert whole["ends"] == resumed["ends"]
    assert main([*SEARCH, *kept, "--set", "upper.root_chord_m=0.18"]) == 2
    assert "another craft" in capsys.readouterr().err


def test_all_of_a_designs_worth_is_kept() -> None:
    """Through the bytes of the store and back."""
    warned = Finding("moment_left_over", "moments", 0.25, 0.0, "N m", "balance", "turn them", 3)
    found = Worth(81.5, "", ("room to roll",), 2.1, (-3.0, 12.5), (warned,), "port")
    [kept] = unpacked(packed([_plain(found)]))
    assert _worth_of(kept) == found


def printed(*words: str) -> str:
    """What the command prints, in this process."""
    return CliRunner().invoke(foldspan, words).stdout


def wait_for(folder: Path, count: int, process: subprocess.Popen[bytes]) -> None:
    """Wait until a running search has kept some designs."""
    for _ in range(600):
        if len(list(folder.glob("chunk-*.npz"))) >= count:
            return
        assert process.poll() is None, "it ended before it could be stopped"
        time.sleep(0.05)
    raise AssertionError("no designs were kept")


def output(words: list[str], folder: Path, environment: dict[str, str]) -> str:
    """Standard output of a command that ends well."""
    done = subprocess.run(
        words, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_stopped_from_the_keyboard_it_tells_the_best_so_far(
    tmp_path: Path, command_environment: dict[str, str]
) -> None:
    running = subprocess.Popen(
        [*NAME, *SEARCH, "-o", "best.toml"], cwd=tmp_path, env=command_environment,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    wait_for(tmp_path / ".best.toml.unfinished", 6, running)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert b"STOPPED before its end" in out
    assert b"goes on from" in err
    assert load_biplane(tmp_path / "best.toml").title.startswith("Tideline")
    assert not list(tmp_path.glob("**/*.partial"))

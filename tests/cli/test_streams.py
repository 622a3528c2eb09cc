"""Standard streams that are closed, warnings of libraries, messages about endless values.

No source but the promise itself; how a shell closes a stream is POSIX's.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import xarray as xr

from vlm.cli.main import main
from vlm.cli.text import LONGEST_LINE, shown_text
from vlm.plain import plain_cell

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a shell of POSIX")
GRID = ("--rows", "2", "--strips", "6")


def in_shell(words: str, folder: Path, environment: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", words], cwd=folder, env=dict(environment), capture_output=True, text=True,
        check=False, stdin=subprocess.DEVNULL,
    )  # fmt: skip


def test_a_closed_standard_output_ends_quietly(tmp_path: Path, command_environment: Any) -> None:
    """As a reader that went away: what was written to files is whole."""
    words = "foldspan sweep plank --fold 0 --rows 2 --strips 6 --out out.nc >&-"
    done = in_shell(words, tmp_path, command_environment)
    assert (done.returncode, done.stderr) == (141, "")
    assert xr.load_dataset(tmp_path / "out.nc", engine="h5netcdf")["CL"].size == 1


@pytest.mark.parametrize("closed", ["2>&-", "<&-"])
def test_another_closed_stream_changes_nothing(
    closed: str, tmp_path: Path, command_environment: Any
) -> None:
    words = f"foldspan check plank --json {closed}"
    done = in_shell(words, tmp_path, command_environment)
    assert done.returncode == 0
    assert json.loads(done.stdout)


def test_both_others_closed_change_nothing(tmp_path: Path, command_environment: Any) -> None:
    """A file that is opened must not take a stream's number, or messages go into it."""
    words = "foldspan sweep plank --fold 0 --rows 2 --strips 6 --json --out out.csv <&- 2>&-"
    done = in_shell(words, tmp_path, command_environment)
    assert done.returncode == 0
    assert json.loads(done.stdout)["variables"]["CL"]
    assert pd.read_csv(tmp_path / "out.csv", comment="#")["CL"].size == 1


def test_all_closed_it_still_writes_its_file(tmp_path: Path, command_environment: Any) -> None:
    words = "foldspan sweep plank --fold 0 --rows 2 --strips 6 --out out.csv <&- >&- 2>&-"
    done = in_shell(words, tmp_path, command_environment)
    assert (done.returncode, done.stdout, done.stderr) == (141, "", "")
    assert pd.read_csv(tmp_path / "out.csv", comment="#")["CL"].size == 1


def test_a_refusal_with_standard_output_closed_is_reported(
    tmp_path: Path, command_environment: Any
) -> None:
    done = in_shell("foldspan check nothing >&-", tmp_path, command_environment)
    assert done.returncode == 2
    assert done.stderr.startswith("foldspan: nothing: ")


WARNING = """
import sys, warnings
from vlm.libraries import show_library_warnings_plainly
show_library_warnings_plainly()
for _ in range(3):
    warnings.warn_explicit("invalid\\nvalue", RuntimeWarning, "/some/place/optimize.py", 7)
warnings.warn("old", DeprecationWarning)
"""


def test_a_library_s_warning_is_one_line_without_a_path(project: Path) -> None:
    environment = os.environ | {"PYTHONPATH": str(project)}
    environment.pop("PYTHONWARNINGS", None)
    done = subprocess.run(
        [sys.executable, "-c", WARNING], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stderr == "note: a library warns: invalid value (RuntimeWarning)\n"


ENDLESS = "x" * 5000
CASES = (
    ["point", ENDLESS],
    ["point", "plank", "--alpha", ENDLESS],
    ["point", "plank", "--set", f"upper.span_m={ENDLESS}"],
    ["point", "plank", "--set", f"{ENDLESS}=1"],
    ["point", "plank", "--configuration", ENDLESS],
    ["point", "plank", "--within", ENDLESS],
    ["sweep", "plank", "--fold", ENDLESS, "--out", "a.nc"],
    ["sweep", "plank", "--fold", "0", "--over", f"upper.span_m={ENDLESS}", "--out", "a.nc"],
    ["sweep", "plank", "--fold", "0", "--out", f"{ENDLESS}.nc"],
    ["sweep", "plank", "--fold", "0", "--out", f"{'x/' * 2500}a.nc"],
    ["sweep", "plank", "--fold", "0", "--wake", ENDLESS, "--out", "a.nc"],
    ["power", "plank", "--airspeeds", ENDLESS],
    ["design", "plank", "--key", ENDLESS],
    ["mission", "tideline", "--legs", ENDLESS],
    ["log", "tideline", ENDLESS],
    ["rerun", f"{ENDLESS}.nc"],
    ["report", "plank", "--without", ENDLESS, "-o", "a.html"],
    ["view", "plank", "--from", ENDLESS, "-o", "a.png"],
    [ENDLESS],
    ["point", f"--{ENDLESS}"],
    ["point", "plank", "--alpha", "4 " * 2500],
    ["point", "plank", "--alpha", "\x1b[31m\n" * 900],
)


@pytest.mark.parametrize("words", CASES, ids=[str(index) for index in range(len(CASES))])
def test_no_message_repeats_an_endless_value(
    words: list[str], tmp_path: Path, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    said = capsys.readouterr().err
    assert said.startswith("foldspan: ")
    assert len(said) < LONGEST_LINE + 50
    assert "\x1b" not in said
    assert list(tmp_path.iterdir()) == []


def test_messages_of_usual_length_are_reported_as_they_are() -> None:
    for text in ("a: b", "a" * 300, "one\ntwo", "é漢"):
        assert shown_text(text) == text
    assert shown_text("a\x1bb") == "a\\x1bb"
    assert shown_text("\udcff") == "\\udcff"
    assert shown_text("\n" * 1000).count("\n") == 40


@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0", "+1", "-2+3", "@SUM(A1)", "\tx"])
def test_a_cell_that_a_spreadsheet_would_run_is_text(name: str) -> None:
    """The mark that spreadsheets take for "this is text" (common practice)."""
    assert plain_cell(name) == f"'{name}"
    assert plain_cell("loiter") == "loiter"
    assert plain_cell(-1.5) == -1.5


def test_neither_formulas_nor_infinities_stand_in_a_dataset(
    tmp_path: Path, project: Path, monkeypatch: Any
) -> None:
    """A craft without sections has no stall, and so an endless margin to it."""
    monkeypatch.chdir(tmp_path)
    text = (project / "geometries/tideline.toml").read_text(encoding="utf-8")
    head, _, rest = text.partition("[sections.foil]")
    text = head + rest[rest.index("\n[") :]
    text = "\n".join(line for line in text.splitlines() if not line.startswith("section = "))
    text = text.replace("loiter = {", '"=cmd|x" = {', 1).replace('"loiter"', '"=cmd|x"')
    (tmp_path / "craft.toml").write_text(text)
    words = ["power", "craft.toml", "--configuration", "=cmd|x", "--airspeeds", "12,14",
             "--no-intervals", *GRID]  # fmt: skip
    for name in ("out.csv", "out.nc"):
        assert main([*words, "--out", name]) == 0
    content = (tmp_path / "out.csv").read_text()
    assert "inf" not in content.lower().replace("information", "")
    assert ",=" not in content
    assert "\n=" not in content
    assert "'=cmd|x" in content
    found = xr.load_dataset(tmp_path / "out.nc", engine="h5netcdf")
    numbers = [v.values for v in found.variables.values() if v.dtype.kind == "f"]
    assert numbers
    assert not any((abs(v) == float("inf")).any() for v in numbers)

"""A long command shows life where its standard error is a log or a pipe.

No source but the promise of docs/guide.md: progress goes to standard error, results to standard
output.
"""

import re
import time

import pytest

from vlm.cli import hearing
from vlm.cli.hearing import Lines, counted, shown_progress
from vlm.cli.main import main

SMALL = ["converge", "plank", "--rows", "4", "--strips", "16"]


def until(said: list[str], count: int) -> None:
    end = time.monotonic() + 5.0
    while len(said) < count and time.monotonic() < end:
        time.sleep(0.005)


def test_lines_tell_the_stage_its_count_and_the_time() -> None:
    said: list[str] = []
    lines = Lines(said.append, 0.01, 0.01)
    counted(lines, "table of trims")(3, 12)
    until(said, 2)
    lines.end()
    assert re.fullmatch(r"table of trims, 3 of 12 done; \d+ s so far", said[-1])


def test_a_stage_that_reports_nothing_is_told_again_and_the_end_is_quiet() -> None:
    said: list[str] = []
    lines = Lines(said.append, 0.01, 0.01)
    lines("solving")
    until(said, 3)
    lines.end()
    count = len(said)
    assert count >= 3
    time.sleep(0.05)
    assert len(said) == count


def test_nothing_is_written_where_nobody_reads() -> None:
    def closed(_line: str) -> None:
        raise BrokenPipeError

    lines = Lines(closed, 0.0, 0.0)
    time.sleep(0.02)
    lines.end()


def test_quiet_is_quiet(capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    monkeypatch.setattr(hearing, "FIRST_S", 0.0)
    with shown_progress(quiet=True) as progress:
        progress("solving", 1, 2)
        time.sleep(0.02)
    assert capsys.readouterr().err == ""


def test_a_command_shows_life_on_a_redirected_standard_error(capsys, monkeypatch) -> None:
    monkeypatch.setattr(hearing, "FIRST_S", 0.02)
    monkeypatch.setattr(hearing, "EVERY_S", 0.02)
    assert main(SMALL) == 0
    assert re.search(r"^[a-z].*; \d+ s so far$", capsys.readouterr().err, re.M)

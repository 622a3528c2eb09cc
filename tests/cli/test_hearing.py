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


def test_the_first_line_comes_soon_the_others_seldom_with_the_time_since_the_begin() -> None:
    """By a clock that goes 70 s a look: the first look is the begin's."""
    said: list[str] = []
    looks = iter(range(0, 70000, 70))
    lines = Lines(said.append, 0.01, 60.0, lambda: float(next(looks)))
    until(said, 1)
    time.sleep(0.1)
    lines.end()
    assert said == ["working; 70 s so far"]
    lines = Lines(said.append, 60.0, 60.0, iter([0.0, 161.0]).__next__)
    lines.end()
    assert lines.line() == "working; 2:41 min so far"
    assert 1.0 <= hearing.FIRST_S <= hearing.EVERY_S <= 30.0


def test_a_terminal_gets_a_bar_that_stands_where_the_work_is(monkeypatch) -> None:
    bars = []

    class Bar:
        def __init__(self, **asked) -> None:
            self.asked, self.total, self.n, self.said = asked, None, 0, ""
            bars.append(self)

        def __enter__(self):
            return self

        def __exit__(self, *_) -> None: ...

        def set_description(self, said: str, refresh: bool) -> None:
            self.said = said

        def update(self, more: int) -> None:
            self.n += more

    monkeypatch.setattr("tqdm.tqdm", Bar)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    with shown_progress("solve") as progress:
        progress("solving", 3, 12)
        progress("solving", 7, 12)
    (bar,) = bars
    assert (bar.said, bar.n, bar.total, bar.asked["unit"]) == ("solving", 7, 12, "solve")
    assert bar.asked["leave"] is False


def test_a_stage_that_reports_nothing_is_reported_again_and_the_end_is_quiet() -> None:
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

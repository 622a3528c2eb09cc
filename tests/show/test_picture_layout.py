"""No two texts of a picture meet, and none leaves it: every picture that a command writes.

No source but the rule itself (docs/guide.md): a picture that cannot be read says nothing.
"""

from pathlib import Path
from typing import Any

import pytest
from picture_layout import faults

from vlm.cli.main import main
from vlm.show.style import plot_style

COARSE = ("--rows", "2", "--strips", "8")
COMMANDS = [
    ["sweep", "tideline", "--fold", "-90,0,60", "--alpha", "0,4", "--errors", *COARSE, "--out",
     "s.nc"],
    ["sweep", "tideline", "--fold", "-40,40", "--asymmetric", *COARSE, "--out", "a.nc"],
    ["sweep", "plank", "--fold", "0", "--over", "upper.span_m=1:1.4:3", *COARSE, "--out", "k.nc"],
    ["converge", "plank", "--rows", "4", "--strips", "16"],
    ["check", "tideline"],
    ["compare", "tideline", "thistle", "--no-power", *COARSE],
]  # fmt: skip
LONG = [
    ["power", "tideline", *COARSE],
    ["lateral", "tideline", *COARSE],
    ["hinge", "tideline", *COARSE],
    ["roll", "tideline", "--step", "30", *COARSE],
    ["schedule", "tideline", "--fold-count", "7", *COARSE],
    ["mission", "tideline", "--legs", "long_survey", "--fold-count", "3", *COARSE, "--set",
     "schedule.speeds=4", "--plot-sensitivity", "shares.png"],
    ["design", "tideline", "--key", "upper.tips.span_m=0.2:0.7", "--goal", "power", "--airspeed",
     "14", "--fold", "8", "--starts", "1", *COARSE],
    ["motion", "tideline", "--scenario", "side gust", *COARSE],
]  # fmt: skip


def by_command(words: list[str], drawn: list[Any]) -> None:
    assert main([*words, "--plot", "picture.png"]) in (0, 3)
    assert drawn
    assert [fault for one in drawn for fault in one] == []


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_texts_of_a_command_s_picture_stand_apart(words, drawn, monkeypatch, tmp_path) -> None:
    monkeypatch.chdir(tmp_path)
    by_command(words, drawn)


@pytest.mark.slow
@pytest.mark.parametrize("words", LONG, ids=" ".join)
def test_texts_of_a_long_study_s_picture_stand_apart(words, drawn, monkeypatch, tmp_path) -> None:
    monkeypatch.chdir(tmp_path)
    by_command(words, drawn)


@pytest.mark.slow
def test_texts_of_a_log_s_pictures_stand_apart(drawn, monkeypatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["log", "tideline", "tideline-invented.csv", *COARSE, "--fit", "drag_area_m2"]
    assert main([*words, "--plots", "pictures"]) == 0
    assert len(drawn) >= 3
    assert [fault for one in drawn for fault in one] == []


def test_texts_that_meet_or_leave_are_found() -> None:
    with plot_style() as plt:
        figure, axes = plt.subplots(figsize=(4.0, 3.0))
        axes.text(0.5, 0.5, "one word")
        axes.text(0.52, 0.51, "another")
        axes.text(0.95, 0.2, "far too long to stay within")
        said = faults(figure)
    assert any("'one word' meets 'another'" in one for one in said)
    assert any("leaves the figure" in one for one in said)

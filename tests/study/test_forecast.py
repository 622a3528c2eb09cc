"""What a sweep takes is reported before, in memory and in time, and refused where it cannot be had.

No source but the promise itself.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from sweep_cases import CRAFT

from vlm.cli.main import main
from vlm.errors import ComputationFailed
from vlm.flow import memory
from vlm.lattice.cellule import Grid
from vlm.study.sweep.forecast import Pace, memory_sentence, spoken_time, sweep_bytes
from vlm.study.sweep.plan import SweepPlan

PLAN = SweepPlan(folds_deg=(0.0,), grid=Grid(1, 4))


def test_memory_grows_with_states_and_with_the_square_of_panels() -> None:
    few, many = (replace(PLAN, alphas_deg=tuple(np.linspace(-5, 5, n))) for n in (10, 1010))
    a_state = (sweep_bytes(CRAFT, many) - sweep_bytes(CRAFT, few)) / 1000
    assert 10_000 < a_state < 40_000
    one = sweep_bytes(CRAFT, replace(PLAN, grid=Grid(8, 40)))
    assert sweep_bytes(CRAFT, replace(PLAN, grid=Grid(16, 40))) == pytest.approx(4 * one, rel=0.02)


def test_memory_is_reported_from_a_gib_and_refused_beyond_what_is_there() -> None:
    assert memory_sentence(10**9, there=2 * 10**9) is None
    assert memory_sentence(3 * 2**30, there=4 * 2**30) == "this takes about 3 GiB of memory"
    with pytest.raises(ComputationFailed, match=r"needs about 5 GiB of memory, 4 GiB may be taken"):
        memory_sentence(5 * 2**30, there=4 * 2**30)


def test_a_sweep_beyond_the_memory_is_refused_before_it_begins(
    tmp_path: Any, capsys: Any, monkeypatch: Any
) -> None:
    """Ten million states would take some two hundred GB, and a day."""
    monkeypatch.setattr(memory, "available_memory", lambda: 2**34)
    monkeypatch.setattr("vlm.study.sweep.forecast.available_memory", lambda: 2**34)
    words = ["sweep", "plank", "--fold", "0", "--alphas=-90:90:5000", "--betas=-60:60:2000"]
    assert main([*words, "--rows", "1", "--strips", "4", "--out", str(tmp_path / "o.nc")]) == 3
    assert "the sweep needs about" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def paced(steps: list[tuple[float, int]], total: int) -> list[str]:
    """What is reported of work that stands at (seconds, done) in turn."""
    told: list[str] = []
    times = iter(step[0] for step in steps)
    pace = Pace(told.append, "folds", lambda: next(times))
    for _, done in steps:
        pace(done, total)
    return told


def test_the_time_is_reported_once_and_only_beyond_a_minute() -> None:
    # 4 of 400 in 4 s: 396 s are left.
    told = paced([(0.0, 0), (1.0, 2), (4.0, 4), (8.0, 6)], 400)
    assert told == [
        "about 7 min more: 4 of 400 folds took 4 s; stopped, the same command goes on from where"
        " it was"
    ]
    assert paced([(0.0, 0), (4.0, 4), (8.0, 8)], 40) == []


def test_what_was_kept_of_a_stopped_run_is_no_pace() -> None:
    """300 of 400 were there at once; 10 in 10 s are the pace, and 90 are left."""
    (told,) = paced([(100.0, 300), (110.0, 310)], 400)
    assert told.startswith("about 2 min more: 10 of 400 folds took 10 s")


@pytest.mark.parametrize(
    ("seconds", "said"), [(61.0, "61 s"), (600.0, "10 min"), (9000.0, "2.5 h")]
)
def test_times_are_said_as_one_says_them(seconds: float, said: str) -> None:
    assert spoken_time(seconds) == said


LARGE = ("--rows", "60", "--strips", "400")
OUT = ("-o", "out.nc")


@pytest.mark.parametrize(
    "words",
    [
        ("point", "--alpha", "4"), ("roll",), ("lateral",), ("hinge",), ("converge",),
        ("motion", "--scenario", "dash"), ("export", *OUT), ("report", "-o", "out.html"),
        ("compare", "--fold", "0", "--fold", "10"), ("view", "-o", "out.html"),
    ],
    ids=lambda words: words[0],
)  # fmt: skip
def test_every_command_refuses_a_lattice_beyond_the_memory_before_it_begins(
    words: tuple[str, ...], tmp_path: Any, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("vlm.study.sweep.forecast.available_memory", lambda: 2**34)
    name, *more = words
    assert main([name, "tideline", *more, *LARGE]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines()[-1].startswith(f"foldspan: this {name} needs about 2")  # hundred GiB
    assert list(tmp_path.iterdir()) == []


def test_a_command_tells_its_memory_from_a_gib_on(
    tmp_path: Any, capsys: Any, monkeypatch: Any
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("vlm.study.sweep.forecast.TOLD_BYTES", 2**18)
    assert main(["point", "plank", "--alpha", "4", "--no-errors", "--rows", "4"]) == 0
    assert "this takes about 0.0" in capsys.readouterr().err

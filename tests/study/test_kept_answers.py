"""Answers kept from one command to the next: the same to the last byte, and never another's."""

from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from vlm.chart.kept_arrays import OFF, PLACE, KeptArrays, users_cache
from vlm.cli.main import main
from vlm.constants import Floats
from vlm.description.loading import load_biplane
from vlm.errors import ComputationFailed
from vlm.loads.fold_engine import every_fold_solved
from vlm.sides import Side
from vlm.study import kept_answers
from vlm.study.answer_form import NoPlainForm, read_back, written
from vlm.study.kept_answers import TrimTable, kept_answer
from vlm.study.mission import kept as mission
from vlm.study.schedule import kept as schedule
from vlm.study.schedule.kept import ScheduleAnswer


@dataclass(frozen=True)
class Part:
    side: Side
    values: Floats


@dataclass(frozen=True)
class Whole:
    name: str
    parts: dict[Side, Part]
    loose: Any
    moments: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Foreign:
    name: str


WHOLE = Whole(
    "a", {side: Part(side, np.array([[0.1, np.nan], [-0.0, np.inf]])) for side in Side},
    [1, True, None, "x", {"k": (1.5,)}, []], ((1.0, 1 / 3), ()),
)  # fmt: skip


def test_an_answer_comes_back_with_every_bit_and_type() -> None:
    again = read_back(Whole, *written(Whole, WHOLE))
    assert replace(again, parts={}) == replace(WHOLE, parts={})
    assert [type(one) for one in again.loose] == [type(one) for one in WHOLE.loose]
    for side in Side:
        assert next(s for s in again.parts if s is side)
        np.testing.assert_array_equal(again.parts[side].values, WHOLE.parts[side].values)
        assert np.signbit(again.parts[side].values[1, 0])


@pytest.mark.parametrize("loose", [{1}, Foreign("b"), np.zeros(2, dtype=int), [object()]])
def test_what_could_not_come_back_is_not_written(loose: object) -> None:
    with pytest.raises(NoPlainForm, match="has no plain form"):
        written(Whole, replace(WHOLE, loose=loose))


@pytest.mark.parametrize(
    "words",
    [
        ["result", "tests.Foreign", {"name": "a"}],
        ["result", "subprocess.Popen", {"args": "true"}],
        ["result", f"{Whole.__module__}.Whole", {"name": "a"}],
        ["member", "vlm.sides.Side", "MIDDLE"],
        ["array", 0, 50],
        ["unknown"],
        ["dictionary", 3],
        "a",
        None,
    ],
)
def test_words_that_are_no_such_answer_are_refused(words: object) -> None:
    with pytest.raises(NoPlainForm):
        read_back(Whole, words, np.zeros(4))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of caches of one's own."""
    monkeypatch.delenv(OFF)
    monkeypatch.setenv(PLACE, str(tmp_path / "kept"))
    return tmp_path / "kept"


class Counting:
    """Works something out, and counts how often."""

    def __init__(self) -> None:
        self.done = 0

    def __call__(self) -> Whole:
        self.done += 1
        return WHOLE


def test_every_part_of_the_question_belongs_to_the_key(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    craft, work = load_biplane("tideline"), Counting()

    def asked(*more: object, of: Any = craft) -> int:
        kept_answer(Whole, [of], more, work)
        return work.done

    assert (asked(1.0), asked(1.0), asked(2.0), asked(1.0), asked(2.0)) == (1, 1, 2, 2, 2)
    assert asked(1.0, of=load_biplane("tideline", ["arrangement.gap_m=0.31"])) == 3
    assert asked(1.0, of=load_biplane("tideline", ["propulsion.battery_energy_Wh=70"])) == 4
    with every_fold_solved():
        assert asked(1.0) == 5
    monkeypatch.setattr(kept_answers, "fingerprint_of_code", lambda: "other code")
    assert asked(1.0) == 6
    monkeypatch.setenv(OFF, "1")
    assert (asked(1.0), asked(1.0)) == (7, 8)


def test_a_table_that_the_file_names_belongs_to_the_key(folder: Path, tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "geometries/tideline.toml").read_text()
    table = tmp_path / "curve.csv"
    table.write_text("alpha_deg,cl,cd,cm\n-10,-1,0.02,0\n0,0,0.01,0\n10,1,0.02,0\n")
    file = tmp_path / "own.toml"
    file.write_text(text + '\n[sections.own]\nform = "table"\ntable = "curve.csv"\n')
    work = Counting()
    for expected in (1, 1):
        kept_answer(Whole, [load_biplane(str(file))], "a", work)
        assert work.done == expected
    table.write_text(table.read_text().replace("10,1,", "10,1.1,"))
    kept_answer(Whole, [load_biplane(str(file))], "a", work)
    assert work.done == 2


def test_a_damaged_or_foreign_file_is_worked_out_again(folder: Path) -> None:
    craft, work = load_biplane("tideline"), Counting()
    kept_answer(Whole, [craft], "a", work)
    (path,) = folder.glob("*.npz")
    whole = path.read_bytes()
    path.write_bytes(whole[:-40])
    assert kept_answer(Whole, [craft], "a", work).name == "a"
    kept = users_cache()
    assert isinstance(kept, KeptArrays)
    kept.keep(path.stem, {"numbers": np.zeros(1)}, ["result", "os.system", {}])
    assert kept_answer(Whole, [craft], "a", work).name == "a"
    assert work.done == 3
    kept_answer(Whole, [craft], "a", work)
    assert work.done == 3


def test_an_answer_without_plain_form_is_worked_out_each_time(folder: Path) -> None:
    def work() -> Whole:
        return replace(WHOLE, loose={1})

    for _ in range(2):
        assert kept_answer(Whole, [load_biplane("tideline")], "a", work).loose == {1}
    assert not list(folder.glob("*.npz"))


COARSE = ("--rows", "2", "--strips", "6")
ROLL = "vlm.study.roll.study._Study"
COMMANDS: dict[str, tuple[str, ...]] = {
    ROLL: (
        "roll", "turnstone", "--step", "60", "--airspeeds", "12", *COARSE,
    ),
    "vlm.study.lateral.study._Study": ("lateral", "tideline", "--folds", "0", *COARSE),
    "vlm.study.hinge.study._worked_out": ("hinge", "tideline", "--folds", "0", *COARSE),
    "vlm.study.compare.study._Comparing": (
        "compare", "tideline", "thistle", "--no-power", *COARSE,
    ),
    "vlm.study.motion.study._judged": (
        "motion", "tideline", "--scenario", "dash", "--no-error", "--duration", "0.2",
        "--quasi-steady", *COARSE,
    ),
    "vlm.study.power.kept.power_study": (
        "power", "tideline", "--airspeeds", "10,12", "--no-intervals",
    ),
    "vlm.study.schedule.kept.schedule_study": (
        "schedule", "tideline", "--fold-count", "3", "--set", "schedule.speeds=2", *COARSE,
    ),
    "vlm.study.mission.kept.mission_study": (
        "mission", "tideline", "--legs", "long_survey", "--fold-count", "3",
    ),
}  # fmt: skip
"""What works the answer out, and a command that asks for it."""


CASES = [(name, words, "mission" in name) for name, words in COMMANDS.items()]
CASES.append((ROLL, ("roll", "tideline", *COMMANDS[ROLL][2:]), True))


@pytest.mark.parametrize(
    ("inner", "command"),
    [
        pytest.param(name, words, marks=[pytest.mark.slow] if slow else [], id=" ".join(words[:2]))
        for name, words, slow in CASES
    ],
)
def test_the_second_time_nothing_is_worked_out_and_every_byte_is_the_same(
    inner: str,
    command: tuple[str, ...],
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:

    def said(*more: str) -> str:
        assert main([*command, *more]) == 0
        return capsys.readouterr().out

    answer, document = said(), said("--json")
    again = answer, document

    def not_now(*_: object, **__: object) -> None:
        raise ComputationFailed("it was worked out")

    monkeypatch.setattr(inner, not_now)
    assert (said(), said("--json")) == again
    assert main([*command, "--no-cache"]) == 3
    assert "it was worked out" in capsys.readouterr().err


@pytest.mark.parametrize("room", [schedule, mission])
def test_with_a_folder_of_curves_an_answer_is_worked_out_though_it_is_kept(
    room: Any, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    craft, table, done = load_biplane("tideline"), TrimTable(3), []
    ask = (
        partial(schedule.schedule_answer, craft, table)
        if room is schedule
        else partial(mission.mission_answer, craft, craft.mission, table)
    )

    def noted(value: object, *_: object, **__: object) -> object:
        done.append(value)
        return value

    for name, value in (
        ("schedule_study", None), ("_said", ScheduleAnswer({}, "", "", ())),  # type: ignore[typeddict-item]
        ("mission_study", None), ("mission_document", {}),
    ):  # fmt: skip
        monkeypatch.setattr(room, name, partial(noted, value), raising=False)
    ask()
    once = len(done)
    ask()
    assert len(done) == once
    ask(keep=tmp_path)
    assert len(done) == 2 * once

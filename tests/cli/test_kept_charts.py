"""Commands and what they keep in the user's folder of caches; ``--no-cache`` and ``--exact``."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from vlm.chart.kept_arrays import LIMIT, OFF, PLACE, users_cache
from vlm.cli.commands import COMMANDS, load_command
from vlm.cli.main import main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.lattice.cellule import Grid
from vlm.loads import stream_tables
from vlm.loads.fold_engine import FoldEngine, every_fold_solved
from vlm.study.sweep.cases import solver_of

SWEEP = (
    "sweep", "tideline", "--folds", "0,12", "--alphas", "0:5:6", "--rows", "2", "--strips", "6",
    "--out", "out.csv", "--json",
)  # fmt: skip
"""So many angles that each fold is solved for all states."""
CHARTED = {"roll", "lateral", "hinge", "schedule", "mission", "design", "compare", "report"}
KEEP = CHARTED | {"sweep", "rerun", "motion", "export", "explore", "view", "power"}


def options_of(name: str) -> set[str]:
    return {word for p in load_command(name).params for word in p.opts}


def test_every_command_that_keeps_settings_can_be_reported_not_to() -> None:
    assert {name for name in COMMANDS if "--no-cache" in options_of(name)} == KEEP
    assert {name for name in COMMANDS if "--exact" in options_of(name)} == CHARTED | {"sweep"}


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of caches of one's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv(OFF)
    monkeypatch.setenv(PLACE, str(tmp_path / "kept"))
    return tmp_path / "kept"


def swept(capsys: pytest.CaptureFixture[str], *more: str) -> str:
    capsys.readouterr()
    solver_of.cache_clear()  # as in another process
    assert main([*SWEEP, *more]) == 0
    return Path("out.csv").read_text() + capsys.readouterr().out


def test_the_same_numbers_solved_kept_and_read(
    kept: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    solved = swept(capsys, "--no-cache")
    assert not kept.exists()
    assert swept(capsys) == solved
    assert len(list(kept.glob("*.npz"))) == 2

    def no_solve(*_: object, **__: object) -> None:
        raise AssertionError("it was solved")

    monkeypatch.setattr(stream_tables, "stream_loads", no_solve)
    assert swept(capsys) == solved
    with pytest.raises(AssertionError, match="it was solved"):
        FoldEngine(load_biplane("tideline"), Grid(2, 7)).loads(FoldAngles())


def test_what_is_kept_with_sideslip_serves_without_it_bit_by_bit(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folds, lattice = FoldAngles(-20.0, -35.0), Grid(2, 6)

    def loads(name: str, *, sideslip: bool) -> stream_tables.StreamTables:
        engine = FoldEngine(load_biplane(name), lattice, fold_rates=False, sideslip=sideslip)
        found = engine.loads(folds)
        assert isinstance(found, stream_tables.StreamTables)
        return found

    own = loads("thistle", sideslip=False)
    shutil.rmtree(kept)
    loads("thistle", sideslip=True)
    loads("teasel", sideslip=True)
    monkeypatch.setattr(stream_tables, "stream_loads", None)
    found = loads("thistle", sideslip=False)
    for name, table in own.arrays.items():
        np.testing.assert_array_equal(found.arrays[name], table, err_msg=name)
    with pytest.raises(TypeError):  # with fins it would miss by more than asked for
        loads("teasel", sideslip=False)


def test_the_option_ends_with_its_command(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    swept(capsys, "--no-cache")
    assert users_cache() is not None
    with every_fold_solved():
        assert FoldEngine(load_biplane("thistle"), charted="all folds").charted == "none"
    assert FoldEngine(load_biplane("thistle"), charted="all folds").charted == "all folds"


def test_without_a_folder_it_works_and_says_nothing(tmp_path: Path, run_foldspan) -> None:
    """Root may write into any folder, so a file stands where the home would be."""
    place = tmp_path / "home"
    place.write_text("")
    done = run_foldspan(*SWEEP, cwd=tmp_path, HOME=str(place), XDG_CACHE_HOME="", **{OFF: ""})
    assert done.returncode == 0
    assert done.stderr.splitlines()[-1:] == ["wrote out.csv"]


def test_a_size_that_is_none_is_refused(
    kept: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(LIMIT, "big")
    assert main([*SWEEP]) == 2
    assert f"{LIMIT} = big; a number of megabytes is allowed" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["roll", "lateral", "hinge", "schedule", "mission"])
def test_exact_reaches_the_study(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    made = []

    def noted(*_: object, **__: object) -> None:
        made.append(FoldEngine(load_biplane("thistle"), charted="like folds").charted)
        raise InputRefused("seen")

    asked = {"schedule": "kept.schedule_answer", "mission": "kept.mission_answer"}
    monkeypatch.setattr(f"vlm.study.{name}.{asked.get(name, f'study.{name}_study')}", noted)
    legs = ["--legs", "long_survey"] if name == "mission" else []
    assert main([name, "tideline", *legs]) == 2
    assert main([name, "tideline", *legs, "--exact"]) == 2
    assert made == ["like folds", "none"]

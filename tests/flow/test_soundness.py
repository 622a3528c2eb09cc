"""What guards a result: residual, memory, threads that do not disturb each other, repetition."""

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import h5py
import numpy as np
import pytest
from click.testing import CliRunner

from vlm.cli.main import foldspan, main
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.errors import ComputationFailed
from vlm.flow import memory
from vlm.flow.influence import influence_matrix
from vlm.flow.memory import available_memory, largest_lattice, refuse_too_large, solve_bytes
from vlm.flow.solve import factorised
from vlm.flow.threads import LARGE_MATRIX, _controller, algebra_threads, side_by_side
from vlm.flow.wake import axis_wake
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads import soundness
from vlm.loads.craft_loads import craft_loads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.soundness import RESIDUAL_LIMIT, checked_residual, residual
from vlm.study.sweep.dataset import load_dataset, save_dataset
from vlm.study.sweep.repeating import repeated

SMALL = Grid(3, 10)


def test_the_linear_algebra_takes_one_thread_and_gives_the_others_back() -> None:
    controller, every = _controller()

    def counts() -> set[int]:
        return {one.num_threads for one in controller.lib_controllers if one.user_api == "blas"}

    with controller.limit(limits=2, user_api="blas"):
        with algebra_threads():
            assert counts() == {1}
            with algebra_threads():
                assert counts() == {1}
            assert counts() == {1}
            with algebra_threads(LARGE_MATRIX):
                assert counts() == {every}
            assert counts() == {1}
        assert counts() == {2}


def test_a_solution_stops_the_flow_and_a_wrong_one_is_caught() -> None:
    """The boundary condition itself, summed again from the circulations."""
    craft = load_biplane("tideline")
    loads = craft_loads(build_lattice(craft, FoldAngles(20.0, -35.0), SMALL))
    assert residual(loads) < 1e-11
    wrong = replace(loads, circulation=loads.circulation * (1.0 + 10.0 * RESIDUAL_LIMIT))
    with pytest.raises(ComputationFailed, match="flowing through panels"):
        checked_residual(wrong)


@pytest.mark.parametrize("place", [0, -1])
def test_a_slip_at_either_end_of_a_patch_leaves_its_own_downwash(place: int) -> None:
    """A circulation that is wrong by d leaves A_ii d of normal velocity at its own panel."""
    lattice = build_lattice(load_biplane("plank"), FoldAngles(), SMALL)
    loads = craft_loads(lattice)
    spoiled = loads.circulation.copy()
    spoiled[place, 0] += 1e-4
    own = abs(influence_matrix(axis_wake(lattice))[place, place]) * 1e-4
    assert residual(replace(loads, circulation=spoiled)) == pytest.approx(own, rel=1e-6)


def test_the_check_takes_a_dozen_points_or_one_of_each_patch(monkeypatch) -> None:
    """So that it costs next to nothing however fine the lattice is."""
    counted: list[int] = []
    plain = soundness.velocities_from

    def counting(points, *more):  # type: ignore[no-untyped-def]
        counted.append(len(points))
        return plain(points, *more)

    monkeypatch.setattr(soundness, "velocities_from", counting)
    for name, grid in (("plank", SMALL), ("tideline", SMALL), ("tideline", Grid(8, 30))):
        loads = craft_loads(build_lattice(load_biplane(name), FoldAngles(), grid))
        residual(loads)
        patches = len(loads.lattice.patches)
        assert max(12 - patches, patches) < counted.pop() <= max(12, patches), name
    assert counted == []


def test_threads_side_by_side_give_the_numbers_of_one() -> None:
    """Several folds at once on shared factors: equal to one after the other."""
    craft = load_biplane("tideline")
    folds = [FoldAngles.symmetric(f) for f in (-90.0, -30.0, 30.0, -60.0, 10.0, 0.0, 45.0, -15.0)]
    engine = FoldEngine(craft, SMALL)
    alone = [engine.loads(f).flow(0.1, 0.0)[1] for f in folds]
    for _ in range(4):
        fresh = FoldEngine(craft, SMALL)
        with side_by_side() as run:
            together = [loads.flow(0.1, 0.0)[1] for loads in run(fresh.loads, folds)]
        for one, other in zip(alone, together, strict=True):
            np.testing.assert_allclose(other, one, rtol=1e-12, atol=1e-14)


def test_factors_may_be_used_by_several_threads() -> None:
    random = np.random.default_rng(5)
    matrix = random.normal(size=(120, 120)) + 20.0 * np.eye(120)
    right = [random.normal(size=(120, 3)) for _ in range(400)]
    expected = [np.linalg.solve(matrix, b) for b in right]
    solver, _ = factorised(matrix.copy())
    with side_by_side() as run:
        found = list(run(solver, right))
    assert max(np.abs(a - b).max() for a, b in zip(found, expected, strict=True)) < 1e-12


def test_singular_matrices_are_refused() -> None:
    with pytest.raises(ComputationFailed, match="singular"):
        factorised(np.zeros((4, 4)))
    with pytest.raises(ComputationFailed, match="not finite"):
        factorised(np.full((4, 4), np.nan))
    nearly = np.eye(4)
    nearly[3, 3] = 1e-20
    with pytest.raises(ComputationFailed, match="working precision"):
        factorised(nearly)


def test_memory_is_asked_for_before_it_is_taken() -> None:
    assert available_memory() > 2**26
    fits = largest_lattice(2**30)
    assert solve_bytes(fits) <= 2**30 < solve_bytes(fits + 1)
    refuse_too_large(fits, 2**30)
    with pytest.raises(ComputationFailed, match=f"at most {fits} panels fit"):
        refuse_too_large(fits + 1, 2**30)


def test_a_huge_lattice_is_refused_with_the_largest_that_fits(capsys) -> None:  # type: ignore[no-untyped-def]
    status = main(["point", "tideline", "--alpha", "4", "--rows", "100", "--strips", "400"])
    assert status == 3
    assert "panels fit" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("limit", "used", "left"),
    [
        ("max", "5", None),
        ("1000", "300", 700),
        ("1000", "1300", 0),
        ("x", "1", None),
        (None, "1", None),
    ],
)
def test_memory_of_a_control_group_is_its_limit_less_what_is_used(
    tmp_path: Path, monkeypatch, limit: str | None, used: str, left: int | None
) -> None:
    """Linux, cgroup v2: memory.max and memory.current in bytes, "max" for no limit."""
    for name, text in (("memory.max", limit), ("memory.current", used)):
        if text is not None:
            (tmp_path / name).write_text(text + "\n")
    monkeypatch.setattr(memory, "Path", lambda _place: tmp_path)
    assert memory._from_control_group() == left


def test_a_refused_lattice_is_reported_what_it_needs_and_what_there_is() -> None:
    """Doubles take eight bytes (IEEE 754); 1 GiB is 2^30."""
    assert solve_bytes(2000) == pytest.approx(memory.MATRIX_SHARE * 8 * 2000**2)
    needed = f"{memory.MATRIX_SHARE * 8 * 20_000**2 / 2**30:.3g} GiB"
    with pytest.raises(ComputationFailed, match="3 GiB may be taken") as refused:
        refuse_too_large(20_000, 3 * 2**30)
    assert f"a lattice of 20000 panels needs {needed}" in str(refused.value)
    assert f"at most {largest_lattice(3 * 2**30)} panels fit" in str(refused.value)
    assert solve_bytes(largest_lattice(3 * 2**30)) <= 3 * 2**30
    assert solve_bytes(largest_lattice(3 * 2**30) + 1) > 3 * 2**30


def test_memory_that_is_free_is_read_in_kilobytes(tmp_path: Path, monkeypatch) -> None:
    """Linux, /proc/meminfo."""
    listed = tmp_path / "meminfo"
    listed.write_text("MemTotal: 9 kB\nMemAvailable:   123 kB\n")
    monkeypatch.setattr(memory, "Path", lambda _place: listed)
    assert memory._from_meminfo() == 123 * 1024
    listed.write_text("MemTotal: 9 kB\n")
    assert memory._from_meminfo() is None


def test_strict_ends_a_doubtful_point() -> None:
    arguments = ["point", "plank", "--alpha", "15", "--rows", "3", "--strips", "10"]
    assert CliRunner().invoke(foldspan, arguments).exit_code == 0
    assert main([*arguments, "--strict"]) == 3


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sweep over three folds, one of them a box."""
    out = tmp_path_factory.mktemp("saved") / "folds.nc"
    arguments = ["sweep", "tideline", "--fold", "-90:30:3", "--rows", "2", "--strips", "6"]
    assert main([*arguments, "--out", str(out)]) == 0
    return out


def test_a_saved_sweep_repeats_itself(saved: Path) -> None:
    done = CliRunner().invoke(foldspan, ["rerun", str(saved), "--json"])
    assert done.exit_code == 0
    assert json.loads(done.stdout)["agrees"] is True


def test_a_changed_number_is_found_by_repeating(saved: Path, tmp_path: Path, capsys) -> None:
    dataset = load_dataset(saved)
    lift = dataset["CL"]
    dataset["CL"] = lift.copy(data=lift.values * (1.0 + 1e-8))  # its attributes stay
    out = tmp_path / "changed.nc"
    save_dataset(dataset, out)
    assert main(["rerun", str(out)]) == 3
    assert "one thing differs from the sweep it says it is" in capsys.readouterr().err


PROJECT = Path(__file__).parents[2]
LINE = "x_c,z_c\n0.0,0.0\n0.5,0.02\n1.0,0.0\n"


def with_a_line(folder: Path, name: str = "line.csv") -> Path:
    """A shipped craft whose mean line is a table beside it."""
    text = (PROJECT / "geometries" / "turnstone.toml").read_text(encoding="utf-8")
    text, found = re.subn(r'camber = "[^"]*"', f'camber = "{name}"', text, count=1)
    assert found == 1
    craft = folder / "craft.toml"
    craft.write_text(text, encoding="utf-8")
    (folder / name).resolve().write_text(LINE, encoding="utf-8")
    return craft


@pytest.fixture(scope="module")
def with_tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sweep of that craft; what is done to it is done to a copy (:func:`changed`)."""
    folder = tmp_path_factory.mktemp("tables")
    out = folder / "folds.nc"
    arguments = ["sweep", str(with_a_line(folder)), "--fold", "0", "--rows", "2", "--strips", "8"]
    assert main([*arguments, "--out", str(out)]) == 0
    return out


def changed(source: Path, out: Path, **attributes: str) -> None:
    """A copy of a dataset with other attributes: in its file, as writing it anew takes a second."""
    if source != out:
        shutil.copy(source, out)
    with h5py.File(out, "r+") as file:
        file.attrs.update(attributes)


@pytest.mark.parametrize("name", ["line.csv", "../lines/deep/line.csv"])
def test_a_sweep_repeats_itself_away_from_its_tables(tmp_path: Path, name: str) -> None:
    """The mean line goes with the dataset: neither it nor the geometry file is needed again."""
    folder = tmp_path / "craft"
    for one in (folder, tmp_path / "lines/deep", tmp_path / "away"):
        one.mkdir(parents=True)
    craft, out = with_a_line(folder, name), tmp_path / "away" / "folds.nc"
    arguments = ["sweep", str(craft), "--fold", "0", "--rows", "2", "--strips", "8"]
    assert main([*arguments, "--out", str(out)]) == 0
    for one in (craft, folder / name):
        one.unlink()
    assert repeated(out, workers=2).agrees
    assert [path.name for path in (tmp_path / "away").iterdir()] == ["folds.nc"]


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        (json.dumps({"../" * 20 + "tmp/x.csv": "a"}), 'names the table "line.csv", which it does'),
        ('{"line.csv": 1}', "its tables are not what a sweep writes"),
        ("[", "its tables are not what a sweep writes"),
        ("[" * 100_000, "its tables are not what a sweep writes"),
        (json.dumps({"line.csv": LINE.replace("0.02", "0.03")}), "is not the one it was computed"),
        ('{"line.csv": "\\ud800"}', "is not UTF-8"),
    ],
)
def test_tables_in_a_result_write_nothing_and_change_nothing(
    with_tables: Path, tmp_path: Path, capsys, tables: str, told: str
) -> None:
    """A result may come from anybody: its paths lead nowhere, and its numbers are its own."""
    out = tmp_path / "folds.nc"
    changed(with_tables, out, tables=tables)
    capsys.readouterr()
    before = set(Path("/tmp").glob("*.csv"))
    assert main(["rerun", str(out)]) == 2
    assert told in capsys.readouterr().err
    assert set(Path("/tmp").glob("*.csv")) == before


@pytest.mark.parametrize(
    "name", ["{secret}", "../secret.csv", "secret.csv", "a\\u0000b.csv", "\\u200e.csv"]
)
def test_no_file_that_a_result_names_is_read(
    name: str, with_tables: Path, tmp_path: Path, capsys
) -> None:
    """Neither absolute, nor above, nor beside it; and no line of it is reported."""
    secret = tmp_path / "secret.csv"
    secret.write_text("password,hunter2\n1,2\n")
    (tmp_path / "deep").mkdir()
    out = tmp_path / "deep" / "folds.nc"
    named = name.format(secret=secret)
    geometry = load_dataset(with_tables).attrs["geometry"].replace("line.csv", named)
    changed(with_tables, out, geometry=geometry)
    capsys.readouterr()
    assert main(["rerun", str(out)]) == 2
    said = capsys.readouterr().err
    assert "which it does not carry" in said
    assert "hunter2" not in said
    carried = json.dumps({named.encode().decode("unicode_escape"): LINE})
    changed(out, out, tables=carried)
    assert main(["rerun", str(out)]) == 2  # carried under that name it is read, and not believed
    assert "is not the one it was computed from" in capsys.readouterr().err


def test_tables_named_from_the_root_of_the_disk_are_carried(tmp_path: Path) -> None:
    craft = with_a_line(tmp_path)
    line = tmp_path / "line.csv"
    craft.write_text(craft.read_text().replace('"line.csv"', f'"{line}"'))
    out = tmp_path / "folds.nc"
    arguments = ["sweep", str(craft), "--fold", "0", "--rows", "2", "--strips", "8"]
    assert main([*arguments, "--out", str(out)]) == 0
    line.unlink()
    assert repeated(out).agrees


def test_a_damaged_dataset_is_refused_in_one_line(tmp_path: Path, run_foldspan) -> None:
    """A byte of the head changed: its checksum tells (HDF5), and no library complains besides."""
    out = tmp_path / "folds.nc"
    arguments = ["sweep", "plank", "--folds", "0", "--rows", "1", "--strips", "4"]
    assert main([*arguments, "--out", str(out)]) == 0
    data = bytearray(out.read_bytes())
    data[120] ^= 0xFF
    out.write_bytes(data)
    done = run_foldspan("rerun", str(out))
    assert done.returncode == 2
    assert done.stderr.startswith("foldspan: ")
    assert done.stderr.count("\n") == 1

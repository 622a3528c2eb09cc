"""Loads kept from one command to the next are those that were solved, of that lattice alone."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import vlm
from vlm.chart.kept_arrays import OFF, PLACE, KeptArrays
from vlm.description import FoldAngles, load_biplane
from vlm.description.models import Biplane
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import Lattice, build_lattice
from vlm.loads import stream_tables as room
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import Loads
from vlm.loads.fold_engine import FoldEngine
from vlm.loads.loads_chart import ChartedLoads
from vlm.loads.many_wakes import stream_loads
from vlm.loads.soundness import residual
from vlm.loads.state import FlightState
from vlm.loads.stream_tables import stream_tables

GRID = Grid(2, 6)
SKEWED = FoldAngles(21.0, -38.0)
STATES = FlightState(alpha=np.radians([-3.0, 2.0, 9.0]), beta=np.radians([0.0, 4.0, -2.0]))


def lattice(name: str = "tideline", folds: FoldAngles = SKEWED, grid: Grid = GRID) -> Lattice:
    return build_lattice(load_biplane(name), folds, grid)


def kept_in(folder: Path) -> KeptArrays:
    return KeptArrays(folder / "kept", 10**9)


def no_solve(*_: object, **__: object) -> None:
    raise AssertionError("it was solved")


def numbers(loads: Loads) -> dict[str, np.ndarray]:
    found = coefficients(loads, STATES)
    known = {name: getattr(found, name) for name in ("CL", "CDi", "CY", "Cl", "Cm", "Cn")}
    known["best_span_efficiency"] = found.best_span_efficiency
    return known | dict(derivatives(loads, STATES)["body"])


def assert_alike(found: Loads, truth: Loads, rtol: float) -> None:
    known = numbers(truth)
    for name, value in numbers(found).items():
        np.testing.assert_allclose(value, known[name], rtol=rtol, atol=rtol, err_msg=name)


@pytest.mark.parametrize("name", ["tideline", "teasel"])
def test_tables_give_what_was_solved(name: str) -> None:
    here = lattice(name)
    found, truth = stream_tables(here, None, fold_rates=True, sideslip=True), stream_loads(here)
    assert_alike(found, truth, 0.0)
    assert_alike(found.mirrored(), truth.mirrored(), 1e-12)
    assert found.condition == truth.condition
    assert residual(found) < 1e-10


def test_a_mirror_image_is_that_of_the_other_sides_fold() -> None:
    other = stream_loads(lattice(folds=SKEWED.mirrored()))
    assert_alike(
        stream_tables(lattice(), None, fold_rates=True, sideslip=True).mirrored(), other, 1e-9
    )


@pytest.mark.parametrize("name", ["tideline", "teasel"])
def test_the_second_question_costs_no_solve_and_gives_the_same_bits(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, here = kept_in(tmp_path), lattice(name)
    first = stream_tables(here, kept, fold_rates=True, sideslip=True)
    monkeypatch.setattr(room, "stream_loads", no_solve)
    again = stream_tables(lattice(name), kept, fold_rates=True, sideslip=True)
    assert again.arrays.keys() == first.arrays.keys()
    for key, value in first.arrays.items():
        assert again.arrays[key].tobytes() == value.tobytes(), key
    assert again.errors == first.errors
    assert bool(first.errors) == (name == "teasel")  # a craft with fins


def test_what_sideslip_changes_is_kept_when_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, here = kept_in(tmp_path), lattice()
    first = stream_tables(here, kept, fold_rates=False, sideslip=False)
    assert "wrench aside" not in first.arrays
    slopes = derivatives(first, STATES)["body"]
    monkeypatch.setattr(room, "stream_loads", no_solve)
    again = stream_tables(here, kept, fold_rates=False, sideslip=False)
    np.testing.assert_array_equal(derivatives(again, STATES)["body"]["Cl_beta"], slopes["Cl_beta"])


def changed(**keys: object) -> Biplane:
    return load_biplane("tideline").overridden(keys)


OTHERS = {
    "fold": lambda: lattice(folds=FoldAngles(21.0, -38.0 + 1e-9)),
    "mirror image": lambda: lattice(folds=SKEWED.mirrored()),
    "rows": lambda: lattice(grid=Grid(3, 6)),
    "strips": lambda: lattice(grid=Grid(2, 7)),
    "gap": lambda: build_lattice(changed(**{"arrangement.gap_m": 0.41}), SKEWED, GRID),
    "camber": lambda: build_lattice(changed(**{"upper.camber": "2512"}), SKEWED, GRID),
    "moment point": lambda: build_lattice(
        changed(**{"reference.moment_point_m": [0.07, 0.0, -0.1]}), SKEWED, GRID
    ),
    "linkage": lambda: build_lattice(changed(**{"upper.tips.linkage": 0.9}), SKEWED, GRID),
}


@pytest.mark.parametrize("what", OTHERS)
def test_another_lattice_has_another_key(what: str) -> None:
    assert key_of(OTHERS[what]()) != key_of(lattice())


def key_of(here: Lattice, *, fold_rates: bool = True, sideslip: bool = True) -> str:
    return room._key(here, fold_rates=fold_rates, sideslip=sideslip)


def test_every_number_of_a_lattice_counts() -> None:
    here = lattice()
    known = {key_of(here)}
    for name in ("nodes", "controls", "normals", "station", "chord", "width", "span_position"):
        array = getattr(here.patches[1], name).copy()
        array.flat[-1] = np.nextafter(array.flat[-1], 9.0)
        patches = (here.patches[0], replace(here.patches[1], **{name: array}), *here.patches[2:])
        known.add(key_of(replace(here, patches=patches)))
    for name in ("area", "span", "chord"):
        other = replace(here.reference, **{name: np.nextafter(getattr(here.reference, name), 9.0)})
        known.add(key_of(replace(here, reference=other)))
    assert len(known) == 11


def test_what_the_lattice_does_not_hang_on_keeps_the_key() -> None:
    craft = load_biplane("tideline")
    title = replace_title(craft, "Another name")
    assert key_of(build_lattice(title, SKEWED, GRID)) == key_of(lattice())


def replace_title(craft: Biplane, title: str) -> Biplane:
    return craft.model_copy(update={"title": title})


def test_version_form_method_and_what_is_asked_for_have_keys_of_their_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    here = lattice()
    known = {key_of(here, fold_rates=f, sideslip=s) for f in (True, False) for s in (True, False)}
    monkeypatch.setattr(vlm, "__version__", "0.0.0.other")
    known.add(key_of(here))
    monkeypatch.setattr(room, "FORMAT", -1)
    known.add(key_of(here))
    monkeypatch.setattr(room, "fingerprint_of_code", lambda *_: "other code")
    known.add(key_of(here))
    monkeypatch.setattr(room, "ANGLES", room.ANGLES * 1.01)
    known.add(key_of(here))
    assert len(known) == 8


def test_the_code_that_solves_is_part_of_the_key() -> None:
    for place in ("flow/kernel.py", "lattice/lattice.py", "loads/craft_loads.py", "frames.py"):
        assert place in room.CODE or place.split("/")[0] in room.CODE


@pytest.mark.parametrize("words", [None, {"CL": "much"}, {"CL": -1.0}, {"CL": float("inf")}, [1]])
def test_errors_that_are_none_are_not_taken(words: object, tmp_path: Path) -> None:
    kept, here = kept_in(tmp_path), lattice()
    first = stream_tables(here, kept, fold_rates=False, sideslip=False)
    key = key_of(here, fold_rates=False, sideslip=False)
    kept.keep(key, {k: 2.0 * v for k, v in first.arrays.items()}, words)
    again = stream_tables(here, kept, fold_rates=False, sideslip=False)
    np.testing.assert_array_equal(again.arrays["wrench"], first.arrays["wrench"])


def test_a_damaged_file_is_solved_again_and_replaced(tmp_path: Path) -> None:
    kept, here = kept_in(tmp_path), lattice()
    first = stream_tables(here, kept, fold_rates=False, sideslip=False)
    (path,) = kept.folder.glob("*.npz")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2] + b"x" + whole[len(whole) // 2 + 1 :])
    again = stream_tables(here, kept, fold_rates=False, sideslip=False)
    np.testing.assert_array_equal(again.arrays["wrench"], first.arrays["wrench"])
    assert path.read_bytes() == whole


def test_a_chart_of_all_folds_is_taken_up_without_a_solve(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(OFF)
    monkeypatch.setenv(PLACE, str(tmp_path))

    def read(folds: FoldAngles) -> ChartedLoads:
        engine = FoldEngine(load_biplane("thistle"), GRID, fold_rates=False, charted="all folds")
        found = engine.loads(folds)
        assert isinstance(found, ChartedLoads)
        return found

    cold = numbers(read(FoldAngles(11.0, -19.0)))
    monkeypatch.setattr(room, "stream_loads", no_solve)
    warm = numbers(read(FoldAngles(11.0, -19.0)))
    for name, value in cold.items():
        np.testing.assert_array_equal(warm[name], value, err_msg=name)
    other = numbers(read(FoldAngles(3.0, 7.0)))  # another question
    assert not np.array_equal(other["Cl"], warm["Cl"])

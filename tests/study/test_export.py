"""Exported tables and linear models: against the lattice and the linear equations of motion."""

import json
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from flying_craft import biplane

from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.errors import InputRefused
from vlm.flight.craft.folding_craft import FoldingCraft
from vlm.flight.craft.level import level_flight, small_motion
from vlm.flight.craft.small_motions import coupled_matrix
from vlm.flight.simulation.building import Modelled, folding_craft, plant_of
from vlm.flight.simulation.task import Task
from vlm.lattice.cellule import Grid
from vlm.show.tables.export import export_table
from vlm.show.text.layout import number
from vlm.study.export.study import export_dataset, save_export, trim_points
from vlm.study.export.tables import ExportPlan, export_tables

MODELLED = Modelled(Grid(rows=2, strips=6), sections=False, lagged=False, apparent=False)
SPEED = 13.0


@pytest.fixture(scope="module")
def exported() -> tuple[xr.Dataset, FoldingCraft]:
    plan = ExportPlan(((SPEED, 0.0),), (0.0, 4.0), (-5.0, 0.0, 5.0), (-10.0, 10.0), MODELLED)
    return export_dataset(biplane(), plan), folding_craft(biplane(), MODELLED)


def test_tables_hold_the_lattices_own_coefficients(
    exported: tuple[xr.Dataset, FoldingCraft],
) -> None:
    dataset, folding = exported
    craft = folding.at(FoldAngles(10.0, -10.0))
    reference = craft.loads.reference
    motion = craft.motion(SPEED, np.radians(4.0), np.radians(5.0))
    wrench = craft.wrench(motion, 1.225)
    own = dataset.sel(fold_left=10.0, fold_right=-10.0, alpha=4.0, beta=5.0)
    scale = 0.5 * 1.225 * SPEED**2 * reference.area
    # The lattice's loads are about the centre of gravity and carry the drag area; the craft has
    # none, so that forces are the same and moments differ by the arm.
    force = scale * np.array([float(own[name]) for name in ("CX", "CY", "CZ")])
    assert force == pytest.approx(wrench[:3], rel=1e-6, abs=1e-6)
    moment = scale * np.array(
        [
            float(own["Cl"]) * reference.span,
            float(own["Cm"]) * reference.chord,
            float(own["Cn"]) * reference.span,
        ]
    )
    assert moment + np.cross(craft.offset, force) == pytest.approx(wrench[3:], rel=1e-6, abs=1e-6)


def test_linear_models_have_the_roots_of_the_linear_equations(
    exported: tuple[xr.Dataset, FoldingCraft],
) -> None:
    # Etkin and Reid's equations (vlm/flight/craft/small_motions.py).
    dataset, folding = exported
    craft = folding.at(FoldAngles(0.0, 0.0))
    level = level_flight(craft, SPEED, 1.225)
    assert level is not None
    expected = np.linalg.eigvals(coupled_matrix(small_motion(craft, level)))
    found = np.linalg.eigvals(dataset["A"].values[0])
    for root in expected[np.abs(expected) > 0.5]:
        assert float(np.abs(found - root).min()) < 0.01 * abs(root)
    assert float(dataset["trim_alpha_deg"][0]) == pytest.approx(np.degrees(level.alpha), abs=1e-5)


def test_a_raised_port_tip_rolls_to_port(exported: tuple[xr.Dataset, FoldingCraft]) -> None:
    # Both inputs do the same to mirrored states.
    dataset, _ = exported
    b = dataset["B"].sel(point=0, rate="rate of p_rad_s")
    assert float(b.sel(input="fold_left_rad")) == pytest.approx(
        -float(b.sel(input="fold_right_rad")), rel=1e-6
    )
    assert list(dataset["input"].values) == ["fold_left_rad", "fold_right_rad", "thrust_all_N"]


def test_tables_hold_the_folds_they_end_at() -> None:
    """12 degrees come back from radians as 12.000000000000002, beyond a fold of 12."""
    assert np.degrees(np.radians(12.0)) != 12.0
    plan = ExportPlan(((SPEED, 12.0),), (0.0, 4.0), (0.0, 5.0), (12.0, 29.0), MODELLED)
    coords = export_dataset(biplane(), plan).coords
    for side in ("fold_left", "fold_right"):
        assert {float(coords[side].min()), float(coords[side].max())} == {12.0, 29.0}


def test_files(exported: tuple[xr.Dataset, FoldingCraft], tmp_path: Path) -> None:
    dataset, _ = exported
    for ending in ("nc", "json", "csv"):
        save_export(dataset, tmp_path / f"a.{ending}")
    again = xr.load_dataset(tmp_path / "a.nc", engine="h5netcdf")
    assert again["A"].values == pytest.approx(dataset["A"].values)
    document = json.loads((tmp_path / "a.json").read_text())
    assert document["data_vars"]["CZ"]["dims"] == ["fold_left", "fold_right", "alpha", "beta"]
    assert "fold_left" in (tmp_path / "a.csv").read_text()


def test_half_widths_hold_a_finer_lattice() -> None:
    # The same coefficients on a lattice of six times the panels.
    modelled = Modelled(Grid(rows=4, strips=10), sections=False, lagged=False, apparent=False)
    plan = ExportPlan(((SPEED, 0.0),), (1.0, 6.0), (0.0, 6.0), (-1.0, 1.0), modelled)
    dataset = export_dataset(biplane(), plan)
    fine = folding_craft(biplane(), Modelled(Grid(rows=10, strips=24), sections=False))
    craft = fine.at(FoldAngles(1.0, -1.0))
    area = craft.loads.reference.area
    for alpha, beta in ((1.0, 6.0), (6.0, 0.0), (6.0, 6.0)):
        wrench = craft.wrench(craft.motion(SPEED, np.radians(alpha), np.radians(beta)), 1.225)
        own = dataset.sel(fold_left=1.0, fold_right=-1.0, alpha=alpha, beta=beta)
        scale = 0.5 * 1.225 * SPEED**2 * area
        for i, name in enumerate(("CX", "CY", "CZ")):
            width = float(own[f"{name}_half_width"])
            assert abs(float(own[name]) - wrench[i] / scale) < width
            assert width < 0.1


def test_slipstream_and_apparent_mass_are_those_of_the_motion() -> None:
    modelled = Modelled(Grid(rows=2, strips=6), lagged=False)
    plan = ExportPlan(((14.0, 0.0),), (3.0, 6.0), (0.0,), (-1.0, 1.0), modelled)
    folding = folding_craft(load_biplane("tideline"), modelled)
    task = Task("test", 14.0, 1.0, FoldAngles(-1.0, -1.0), target=FoldAngles(1.0, 1.0))
    plant = plant_of(folding, task, modelled)
    dataset = xr.Dataset(*export_tables(folding, plant, plant, plan))
    speeds, still = np.zeros(8), np.zeros(3)
    speeds[0], speeds[2] = 14.0 * np.cos(np.radians(6.0)), 14.0 * np.sin(np.radians(6.0))
    pose, thrusts = plant.posed(np.zeros(2)), np.array([0.5, 0.0, 0.0, 0.0])
    change = plant.air_loads(pose, speeds, still, thrusts).loads
    change = change - plant.air_loads(pose, speeds, still, np.zeros(4)).loads
    own = dataset["slipstream"].sel(fold_left=0.0, fold_right=0.0, alpha=6.0).values[0]
    assert 0.5 * own == pytest.approx(change, rel=1e-4, abs=1e-6)
    mass = dataset["apparent_mass"].sel(fold_left=0.0, fold_right=0.0)
    assert float(mass.sel(motion="w", rate_of="w")) == pytest.approx(pose.apparent[2, 2], rel=1e-6)
    assert float(mass.sel(motion="w", rate_of="w")) > 0.03


def test_trims_and_their_models_take_the_words_of_the_command() -> None:
    assert trim_points(biplane(), "11:15,20:-60", 1.225) == [(11.0, 15.0), (20.0, -60.0)]
    with pytest.raises(InputRefused, match="the word schedule"):
        trim_points(biplane(), "fast", 1.225)


@pytest.mark.parametrize("models", [True, False])
def test_the_text_says_where_the_tables_end(
    exported: tuple[xr.Dataset, FoldingCraft], models: bool
) -> None:
    dataset, _ = exported
    text = export_table(dataset, models=models)
    words = " ".join(text.split())
    low, high = float(dataset["fold_left"].min()), float(dataset["fold_left"].max())
    count = dataset.sizes["fold_left"]
    assert f"Tables over {count} folds of the port side, {low:g} to {high:g} deg;" in words
    assert f"{int(dataset['valid'].values.sum())} of their {dataset['valid'].size} set" in words
    assert ("Trims of the linear models" in text) == models
    assert max(map(len, text.splitlines())) <= 80
    alpha = float(dataset["trim_alpha_deg"].values[0])
    assert not models or number(alpha, 3) in text.split("Trims", 1)[1]

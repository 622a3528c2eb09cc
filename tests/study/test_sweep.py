"""Sweeps: what is planned, and the labelled datasets that come of it."""

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from core_craft import monoplane, with_moment_point
from sweep_cases import CRAFT, GRID, PAIRS, PLAN, dataset_of

import vlm
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane_text
from vlm.errors import ComputationFailed, InputRefused
from vlm.findings import Finding
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.coefficients import coefficients, derivatives
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.state import FlightState
from vlm.quantities import QUANTITIES
from vlm.study.point.errors import ESTIMATED, coarser, half_widths
from vlm.study.sweep import cases as cases_module
from vlm.study.sweep import running
from vlm.study.sweep.cases import solve_cases, units_of
from vlm.study.sweep.naming import described
from vlm.study.sweep.plan import KeyAxis, SweepPlan, as_document, axis_values, plan_from
from vlm.study.sweep.running import chunked


@pytest.fixture(scope="module")
def dataset() -> xr.Dataset:
    return dataset_of(CRAFT, PLAN)


# --- the plan --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("4", (4.0,)),
        ("-90:60:6", (-90.0, -60.0, -30.0, 0.0, 30.0, 60.0)),
        ("60:-60:3", (60.0, 0.0, -60.0)),
        ("8,0,4", (0.0, 4.0, 8.0)),
        ("0:0.3:4", (0.0, 0.1, 0.2, 0.3)),
        ("-0.0", (0.0,)),
    ],
)
def test_values_of_an_axis(text: str, values: tuple[float, ...]) -> None:
    assert axis_values(text, "--fold") == values
    assert str(axis_values(text, "--fold")) == str(values)  # no -0.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a", "write START:STOP:COUNT, a list A,B,C, or one number"),
        ("0:1", "write START:STOP:COUNT"),
        ("0:1:0", "write START:STOP:COUNT"),
        ("0:1:2.5", "write START:STOP:COUNT"),
        ("0:1:99999999", "write START:STOP:COUNT"),
        ("1,,2", "write START:STOP:COUNT"),
        ("nan", "only finite numbers"),
        ("0,inf", "only finite numbers"),
        ("3,4,3", "3 stands there more than once"),
        ("5:5:2", "5 stands there more than once"),
    ],
)
def test_values_that_are_none_are_refused(text: str, words: str) -> None:
    with pytest.raises(InputRefused) as refusal:
        axis_values(text, "--fold")
    assert str(refusal.value).startswith(f"--fold = {text}; ")
    assert words in str(refusal.value)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"folds_deg": ()}, "folds_deg must hold at least one number"),
        ({"alphas_deg": (float("nan"),)}, "alphas_deg must hold at least one number"),
        ({"alphas_deg": (0.0, -181.0)}, "alphas_deg holds -181; angles between -180 and 180"),
        ({"betas_deg": (91.0,)}, "betas_deg holds 91; angles between -90 and 90"),
        (
            {"keys": (KeyAxis("arrangement.gap_m", (0.2,)),) * 2},
            "arrangement.gap_m is swept over 2 times",
        ),
        (
            {"folds_deg": tuple(map(float, range(4000))), "asymmetric": True},
            "asks for 16000000 settings; at most 10000000",
        ),
    ],
)
def test_plans_that_cannot_be(keys: dict, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        SweepPlan(**{"folds_deg": (0.0,), **keys})


def test_a_fold_beyond_half_a_turn_is_refused_before_any_work() -> None:
    with pytest.raises(InputRefused, match="a fold must lie between -180 and 180"):
        SweepPlan((0.0, 190.0)).cases()


def test_plan_survives_its_document() -> None:
    plan = replace(PAIRS, keys=(KeyAxis("arrangement.gap_m", (0.2, 0.3)),), errors=True)
    assert plan_from(json.loads(json.dumps(as_document(plan)))) == plan


def test_every_case_is_worked_on_once_and_mirrored_pairs_are_neighbours() -> None:
    plan = replace(PAIRS, keys=(KeyAxis("arrangement.gap_m", (0.2, 0.3)),))
    order = plan.work_order()
    assert sorted(c.place for c in order) == sorted(c.place for c in plan.cases())
    units = units_of(order)
    assert sum(len(unit) for unit in units) == len(order)
    for unit in units:
        folds = unit[0].folds
        if folds.is_symmetric:
            assert len(unit) == 1
        else:
            assert [c.folds for c in unit] == [folds, folds.mirrored()]
            assert unit[0].changes == unit[1].changes


@pytest.mark.parametrize("size", [1, 2, 5])
def test_chunks_hold_every_case_and_never_cut_a_pair(size: int, monkeypatch) -> None:
    monkeypatch.setattr(running, "CHUNK", size)
    order = PAIRS.work_order()
    chunks = chunked(order)
    assert [case for chunk in chunks for case in chunk] == order
    assert all(0 < len(chunk) <= size + 1 for chunk in chunks)
    for before, after in pairwise(chunks):
        assert before[-1].folds != after[0].folds.mirrored() or before[-1].folds.is_symmetric


def test_digest_tells_craft_plan_and_mean_lines_apart(tmp_path: Path) -> None:
    text = 'title = "A"\n[upper]\nspan_m = 1\nroot_chord_m = 0.2\nend_chord_m = 0.2\n'
    line = tmp_path / "line.csv"
    line.write_text("0,0\n0.5,0.02\n1,0\n")
    craft = load_biplane_text(text + 'camber = "line.csv"\n', folder=tmp_path)
    first = PLAN.digest(craft)
    assert first == PLAN.digest(craft)
    line.write_text("0,0\n0.5,0.03\n1,0\n")
    assert PLAN.digest(craft) != first
    assert PLAN.digest(CRAFT) != PLAN.digest(monoplane())
    assert PLAN.digest(CRAFT) != replace(PLAN, airspeed=13.0).digest(CRAFT)


def test_a_changed_mean_line_is_solved_anew_in_the_same_process(tmp_path: Path) -> None:
    """Both craft are equal as descriptions; what their file holds is not."""
    text = 'title = "A"\n[upper]\nspan_m = 1\nroot_chord_m = 0.2\nend_chord_m = 0.2\n'
    text += 'camber = "line.csv"\n[upper.tips]\nspan_m = 0.2\nend_chord_m = 0.2\n'
    plan = SweepPlan((0.0,), (0.0,), grid=GRID)
    lifts = []
    for height in (0.02, 0.04):
        (tmp_path / "line.csv").write_text(f"0,0\n0.5,{height}\n1,0\n")
        craft = load_biplane_text(text, folder=tmp_path)
        lifts.append(float(dataset_of(craft, plan)["CL"].item()))
    assert lifts[1] == pytest.approx(2.0 * lifts[0], rel=0.01)


# --- what a dataset holds --------------------------------------------------------------------


def test_dimensions_and_coordinates(dataset: xr.Dataset) -> None:
    assert dataset["CL"].dims == ("fold", "alpha", "beta")
    assert dict(dataset.sizes) == {"fold": 4, "alpha": 2, "beta": 2}
    np.testing.assert_array_equal(dataset["fold"], PLAN.folds_deg)
    assert dataset["best_span_efficiency"].dims == ("fold", "alpha", "beta")
    assert dataset["condition"].dims == ("fold",)
    assert dataset["failure"].dims == ("fold",)
    pairs = dataset_of(CRAFT, PAIRS)
    assert pairs["Cl"].dims == ("fold_left", "fold_right", "alpha", "beta")
    for name in ("fold", "alpha", "beta"):
        assert dataset[name].attrs["units"] == "deg"


def test_every_coefficient_and_derivative_is_there(dataset: xr.Dataset) -> None:
    names = {
        "CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "span_efficiency",
        "best_span_efficiency", "CL_alpha", "Cm_alpha", "CY_beta", "Cl_beta", "Cn_beta", "CY_p",
        "Cl_p", "Cn_p", "CY_r", "Cl_r", "Cn_r", "CL_q", "Cm_q", "CL_fold_left", "Cl_fold_left",
        "Cn_fold_left", "CL_fold_right", "Cl_fold_right", "Cn_fold_right", "neutral_point_m",
        "static_margin", "Cl_beta_stability", "Cn_r_stability", "CY_p_stability", "Cl_stability",
        "hinge_moment_upper_left_N_m", "hinge_moment_coefficient_upper_right", "CL_upper",
        "CL_lower", "CDi_share_upper", "condition", "failure",
    }  # fmt: skip
    assert names <= set(dataset.data_vars)


def test_every_variable_has_a_unit_and_a_long_name(dataset: xr.Dataset) -> None:
    for name, variable in dataset.data_vars.items():
        assert variable.attrs["long_name"], name
        assert name == "failure" or variable.attrs["units"], name
    for name in set(dataset.data_vars) & set(QUANTITIES):
        assert dataset[name].attrs["units"] == QUANTITIES[name].unit
    assert dataset["hinge_moment_upper_left_N_m"].attrs["units"] == "N m"
    assert "upper port hinge" in dataset["hinge_moment_upper_left_N_m"].attrs["long_name"]


@pytest.mark.parametrize(
    ("name", "unit", "words"),
    [
        ("CL_error", "1", "half-width of the lattice's error of: lift"),
        ("CL_spread", "1", "half-width of what the model leaves open in: lift"),
        ("arrangement.gap_m", "m", "key of the geometry file, arrangement.gap_m"),
        ("upper.tips.flare_deg", "deg", "key of the geometry file"),
        ("reference.area_m2", "m^2", "key of the geometry file"),
        ("mass.body_kg", "kg", "key of the geometry file"),
        ("upper.tips.linkage", "1", "key of the geometry file"),
        ("CL_lower", "1", "lower wing on its own flat area"),
        ("CDi_share_upper", "1", "upper wing"),
        ("fold_left", "deg", "fold of the port side"),
    ],
)
def test_names_made_of_others_are_described(name: str, unit: str, words: str) -> None:
    said = described(name)
    assert said["units"] == unit
    assert words in said["long_name"]


def test_attributes_carry_what_made_the_numbers(dataset: xr.Dataset) -> None:
    said = dataset.attrs
    assert said["source"] == f"foldspan {vlm.__version__}"
    assert load_biplane_text(said["geometry"]) == CRAFT
    assert plan_from(json.loads(said["plan"])) == PLAN
    assert said["digest"] == PLAN.digest(CRAFT)
    assert "not a flight clearance" in said["caution"]
    reference = build_lattice(CRAFT, FoldAngles(), GRID).reference
    assert said["reference_area_m2"] == reference.area
    assert said["moment_point_m"] == list(reference.moment_point)
    assert (said["airspeed_m_s"], said["density_kg_m3"]) == (12.0, 1.225)


def test_numbers_are_those_of_single_solves(dataset: xr.Dataset) -> None:
    folds = FoldAngles(30.0, 30.0)
    state = FlightState(alpha=float(np.radians(4.0)), beta=float(np.radians(5.0)))
    loads = loads_of_state(build_lattice(CRAFT, folds, GRID), state)
    values, slopes = coefficients(loads, state), derivatives(loads, state)
    one = dataset.sel(fold=30.0, alpha=4.0, beta=5.0)
    for name in ("CL", "CDi", "CDi_surface", "CY", "Cl", "Cm", "Cn", "span_efficiency"):
        assert float(one[name]) == pytest.approx(getattr(values, name), rel=1e-9, abs=1e-12)
    for name, value in slopes["body"].items():
        assert float(one[name]) == pytest.approx(value, rel=1e-8, abs=1e-10)
    for name in ("Cl_beta", "Cn_beta", "CY_p", "Cl_p", "Cn_p", "CY_r", "Cl_r", "Cn_r"):
        expected = slopes["stability"][name]
        assert float(one[f"{name}_stability"]) == pytest.approx(expected, rel=1e-8, abs=1e-10)


def test_both_places_of_a_pair_hold_their_own_numbers() -> None:
    pairs = dataset_of(CRAFT, PAIRS)
    state = FlightState(alpha=float(np.radians(4.0)))
    for left in PAIRS.folds_deg:
        for right in PAIRS.folds_deg:
            lattice = build_lattice(CRAFT, FoldAngles(left, right), GRID)
            values = coefficients(loads_of_state(lattice, state, fold_rates=False), state)
            one = pairs.sel(fold_left=left, fold_right=right).squeeze()
            assert float(one["Cl"]) == pytest.approx(values.Cl, abs=1e-12)
            assert float(one["CL"]) == pytest.approx(values.CL, abs=1e-12)


def test_pairs_about_a_point_off_the_middle_are_no_mirror_images() -> None:
    craft = with_moment_point(CRAFT, (0.05, 0.1, -0.1))
    pairs = dataset_of(craft, SweepPlan((-20.0, 30.0), asymmetric=True, grid=GRID)).squeeze()
    state = FlightState(alpha=float(np.radians(4.0)))
    for left, right in ((-20.0, 30.0), (30.0, -20.0)):
        lattice = build_lattice(craft, FoldAngles(left, right), GRID)
        expected = coefficients(loads_of_state(lattice, state, fold_rates=False), state).Cl
        found = float(pairs["Cl"].sel(fold_left=left, fold_right=right))
        assert found == pytest.approx(expected, abs=1e-12)


def test_a_joined_fold_has_numbers_but_no_fold_derivative(dataset: xr.Dataset) -> None:
    one = dataset.sel(fold=-90.0)
    assert np.all(np.isfinite(one["CL"]))
    assert np.all(np.isnan(one["CL_fold_left"]))


def test_a_failed_case_stays_in_with_its_reason(dataset: xr.Dataset) -> None:
    one = dataset.sel(fold=-100.0)
    assert np.all(np.isnan(one["CL"]))
    assert "passes upper.tips.fold_min_deg = -95" in str(one["failure"].item())
    assert [str(text) for text in dataset.sel(fold=[-90.0, 0.0, 30.0])["failure"].values] == [
        ""
    ] * 3


def test_each_case_of_a_failed_pair_tells_its_own_side() -> None:
    pairs = dataset_of(CRAFT, SweepPlan((-100.0, 10.0), asymmetric=True, grid=GRID))
    failures = pairs["failure"]
    assert "on the port side" in str(failures.sel(fold_left=-100.0, fold_right=10.0).item())
    assert "on the starboard side" in str(failures.sel(fold_left=10.0, fold_right=-100.0).item())
    assert str(failures.sel(fold_left=10.0, fold_right=10.0).item()) == ""


def test_a_failed_computation_stays_in_too(monkeypatch) -> None:
    def fails(_loads):
        raise ComputationFailed("nothing left")

    monkeypatch.setattr(cases_module, "checked_residual", fails)
    values = solve_cases(CRAFT, PLAN, PLAN.cases()[-1:])
    assert values == [{"failure": "nothing left"}]


def test_a_sweep_in_which_all_fails_is_a_dataset_of_reasons() -> None:
    found = dataset_of(CRAFT, SweepPlan((-110.0, -100.0), grid=GRID))
    assert set(found.data_vars) == {"failure"}


def test_an_axis_over_a_key_of_the_file() -> None:
    plan = SweepPlan((0.0, 30.0), keys=(KeyAxis("arrangement.gap_m", (0.25, 0.4)),), grid=GRID)
    found = dataset_of(CRAFT, plan)
    assert found["CL"].dims == ("arrangement_gap_m", "fold", "alpha", "beta")
    for gap in (0.25, 0.4):
        alone = dataset_of(CRAFT.overridden({"arrangement.gap_m": gap}), replace(plan, keys=()))
        part = found.sel(arrangement_gap_m=gap)
        np.testing.assert_allclose(part["CL"], alone["CL"], rtol=1e-12)
        np.testing.assert_allclose(part["Cm_alpha"], alone["Cm_alpha"], rtol=1e-9)


def test_warnings_are_gathered_over_all_cases() -> None:
    plan = SweepPlan(
        (0.0, 10.0), (15.0,), keys=(KeyAxis("arrangement.gap_m", (0.03, 0.3)),), grid=GRID
    )
    found = [Finding(**f) for f in json.loads(dataset_of(CRAFT, plan).attrs["findings"])]
    by_code = {f.code: f for f in found}
    assert by_code["gap"].cases == 2
    assert by_code["angle_of_attack"].value == pytest.approx(15.0)


def test_a_sweep_with_the_wake_along_the_stream() -> None:
    plan = SweepPlan((0.0, 30.0), (6.0,), (3.0,), grid=GRID, wake="stream")
    found = dataset_of(CRAFT, plan).squeeze()
    state = FlightState(alpha=float(np.radians(6.0)), beta=float(np.radians(3.0)))
    lattice = build_lattice(CRAFT, FoldAngles(30.0, 30.0), GRID)
    loads = loads_of_state(lattice, state)
    assert float(found["CL"].sel(fold=30.0)) == pytest.approx(
        coefficients(loads, state).CL, rel=1e-11
    )
    expected = derivatives(loads, state)["body"]["Cl_beta"]
    assert float(found["Cl_beta"].sel(fold=30.0)) == pytest.approx(expected, rel=1e-9)
    plan = SweepPlan((0.0, 30.0), (6.0,), (3.0,), asymmetric=True, grid=GRID, wake="stream")
    pairs = dataset_of(CRAFT, plan).squeeze()
    for left, right in ((0.0, 30.0), (30.0, 0.0)):
        lattice = build_lattice(CRAFT, FoldAngles(left, right), GRID)
        one = coefficients(loads_of_state(lattice, state, fold_rates=False), state)
        found_roll = float(pairs["Cl"].sel(fold_left=left, fold_right=right))
        assert found_roll == pytest.approx(one.Cl, abs=1e-12)


# --- errors ----------------------------------------------------------------------------------


def test_true_errors_lie_within_the_estimates() -> None:
    """Against a lattice four times as fine, for what engineers read first."""
    plan = SweepPlan((-60.0, 0.0, 45.0), (5.0,), grid=Grid(4, 12), errors=True)
    found = dataset_of(CRAFT, plan).squeeze()
    fine = dataset_of(CRAFT, replace(plan, grid=Grid(12, 40), errors=False)).squeeze()
    for name in ("CL", "CDi", "CL_alpha", "Cl_p", "span_efficiency"):
        apart = np.abs(found[name] - fine[name])
        assert np.all(apart <= found[f"{name}_error"]), name


@pytest.mark.parametrize(("rows", "strips"), [(1, 4), (2, 6), (3, 7), (8, 20), (40, 100)])
def test_the_coarser_grid_is_nowhere_finer(rows: int, strips: int) -> None:
    other = coarser(Grid(rows, strips))
    assert 1 <= other.rows <= rows
    assert 4 <= other.strips <= strips


def test_where_no_lattice_is_coarser_there_is_no_estimate() -> None:
    grid, values = Grid(2, 6), dict.fromkeys(ESTIMATED, np.ones(3))
    assert coarser(grid) == grid
    found = half_widths(values, values, values, grid)
    assert all(np.all(np.isnan(width)) for width in found.values())
    ones, others = dict.fromkeys(ESTIMATED, 1.0), dict.fromkeys(ESTIMATED, 1.1)
    assert np.isnan(half_widths(ones, others, ones, grid)["CL"])

"""Convergence studies: orders, limits and sufficient lattices.

Power laws whose order and limit are known (Richardson 1911), the rectangular wing of aspect ratio
6 (lift slope 4.214635, CDi/CL^2 0.0539208, derived), and craft held against much finer lattices.
"""

import json
import re
from collections.abc import Sequence
from itertools import pairwise, product
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from random_craft import random_case

from vlm.cli.within import probe_folds, wanted_errors
from vlm.description.folds import FoldAngles
from vlm.description.loading import load_biplane
from vlm.description.models import Biplane, Wing
from vlm.errors import ComputationFailed, InputRefused
from vlm.lattice.cellule import Grid
from vlm.lattice.lattice import build_lattice
from vlm.loads.craft_loads import loads_of_state
from vlm.loads.state import FlightState
from vlm.show.plots.convergence import save_convergence_picture
from vlm.show.tables.convergence import convergence_answer, convergence_table
from vlm.study.convergence.extrapolation import fall_of, limit_of, observed_order
from vlm.study.convergence.report import convergence_document
from vlm.study.convergence.study import (
    Convergence,
    Levels,
    Wanted,
    required_lattice,
    study_convergence,
    sufficient_lattice,
)
from vlm.study.point.point import key_numbers
from vlm.study.sweep.plan import SweepPlan

SMALL = Levels((2, 4, 8), (8, 12, 18))
STATE = FlightState(alpha=0.07)
RECTANGLE = Biplane(title="A plank", upper=Wing(span_m=6.0, root_chord_m=1.0, end_chord_m=1.0))


def test_the_times_of_the_lattices_add_up_to_no_more_than_passed() -> None:
    before = perf_counter()
    study = study_convergence(RECTANGLE, FoldAngles(), STATE, levels=SMALL)
    passed = perf_counter() - before
    assert study.seconds.min() > 0.0
    assert study.seconds.sum() < passed


# --- power laws ------------------------------------------------------------------------------


@pytest.mark.parametrize("order", [0.7, 1.0, 4.0 / 3.0, 2.0, 8.0 / 3.0, 4.5])
@pytest.mark.parametrize("counts", [(4, 8, 16), (10, 14, 20), (3, 5, 12)])
def test_order_and_limit_of_a_power_law(order: float, counts: Sequence[int]) -> None:
    values = [3.0 - 0.4 * count**-order for count in counts]
    assert observed_order(counts, values) == pytest.approx(order, rel=1e-9)
    fall = fall_of(counts, values)
    assert values[-1] - fall.error == pytest.approx(3.0, rel=1e-12)
    assert fall.size_at(counts[0]) == pytest.approx(0.4 * counts[0] ** -order, rel=1e-9)
    assert 0.0 < fall.half_width <= abs(fall.error)


@pytest.mark.parametrize(
    "values", [(1.0, 1.2, 1.1), (1.0, 1.0, 1.0), (1.0, 1.1, 1.25), (1.0, 2.0, 2.0 + 1e-6)]
)
def test_no_order_is_clear_in_values_that_turn_stand_or_run_away(values: Sequence[float]) -> None:
    assert np.isnan(observed_order((4, 8, 16), values))
    fall = fall_of((4, 8, 16), values)
    assert fall.error == 0.0
    assert fall.half_width >= abs(values[2] - values[1])
    assert fall.size_at(32) < fall.size_at(16) or values[0] == values[2]


def test_rows_and_strips_have_falls_of_their_own() -> None:
    rows, strips = (4, 8, 16), (10, 20, 40)
    table = np.array([[2.0 + 0.3 * n**-1.5 - 4.0 * m**-2.5 for m in strips] for n in rows])
    limit = limit_of(rows, strips, table)
    assert limit.extrapolated == pytest.approx(2.0, abs=1e-12)
    assert limit.rows.order == pytest.approx(1.5)
    assert limit.strips.order == pytest.approx(2.5)
    for n, m in product((6, 12, 30), (15, 60)):
        parts = 0.3 * n**-1.5 + 4.0 * m**-2.5
        assert limit.error_at(n, m) == pytest.approx(parts + limit.half_width, rel=1e-9)


# --- studies ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plank() -> Convergence:
    """A flat plate at a small incidence, so that the lift goes with its sine alone."""
    return study_convergence(
        RECTANGLE, FoldAngles(), FlightState(alpha=1e-3), levels=Levels((3, 6, 12), (6, 12, 24))
    )


def test_plank_extrapolates_to_the_known_slope_and_drag(plank: Convergence) -> None:
    slope = plank.limits["CL_alpha"]
    assert slope.extrapolated == pytest.approx(4.214635, rel=1e-5)
    assert abs(slope.extrapolated - 4.214635) <= slope.half_width
    efficiency = plank.limits["span_efficiency"].extrapolated
    assert efficiency == pytest.approx(1.0 / (np.pi * 6.0 * 0.0539208), rel=2e-5)


def test_orders_of_the_plank(plank: Convergence) -> None:
    """About 2.8 in lift (measured on a flat plate before this project began)."""
    limit = plank.limits["CL_alpha"]
    assert 2.4 < limit.rows.order < 3.3
    assert 2.3 < limit.strips.order < 3.3


def test_what_symmetry_makes_zero_is_not_studied(plank: Convergence) -> None:
    assert {"CL", "CDi", "Cl_p", "Cm_alpha", "span_efficiency"} <= set(plank.limits)
    assert not {"Cl", "Cn"} & set(plank.limits)
    widths = plank.half_widths(dict.fromkeys(plank.limits, 0.1) | {"Cl": 0.0, "Cn": 0.0})
    assert widths["Cl"] == 0.0


def test_progress_reaches_the_whole() -> None:
    told: list[tuple[int, int]] = []
    levels = Levels((1, 2, 3), (6, 7, 8))
    study_convergence(
        RECTANGLE, FoldAngles(), STATE, levels=levels, report=lambda *done: told.append(done)
    )
    assert len(told) == 9
    assert told[-1] == (6 * 21, 6 * 21)
    assert all(a[0] < b[0] for a, b in pairwise(told))


def small_study(name: str, fold: float) -> Convergence:
    return study_convergence(
        load_biplane(name), FoldAngles(fold, fold), STATE, levels=Levels((4, 8, 12), (10, 16, 26))
    )


@pytest.mark.parametrize(("name", "fold"), [("tideline", 30.0), ("turnstone", 20.0)])
@pytest.mark.parametrize("share", [0.01, 0.003, 0.002])
def test_sufficient_lattices_keep_what_they_promise(name: str, fold: float, share: float) -> None:
    study = small_study(name, fold)
    wanted = Wanted({"CL": share, "CDi": share, "Cl_beta": 4.0 * share})
    grid = required_lattice([study], wanted)
    craft, folds = load_biplane(name), FoldAngles(fold, fold)
    found, exact = (
        key_numbers(loads_of_state(build_lattice(craft, folds, one), STATE), STATE)
        for one in (grid, Grid(16, 44, span_law="matched"))
    )
    for key, allowed in wanted.shares.items():
        assert abs(found[key] - exact[key]) <= allowed * study.sizes[key]


def test_no_smaller_lattice_is_predicted_to_do(plank: Convergence) -> None:
    wanted = Wanted({"CL": 1e-3, "span_efficiency": 1e-3})
    grid = sufficient_lattice([plank], wanted)
    assert grid is not None
    for rows, strips in product(
        range(plank.levels.rows[0], plank.levels.rows[-1] + 1),
        range(plank.levels.strips[0], plank.levels.strips[-1] + 1),
    ):
        if rows * strips < grid.rows * grid.strips:
            shares = {name: plank.share_at(name, rows, strips) for name in wanted.shares}
            assert any(shares[name] > share for name, share in wanted.shares.items())


def test_all_studies_count() -> None:
    flat, box = small_study("tideline", 0.0), small_study("tideline", -90.0)
    wanted = Wanted({"CL": 0.006})
    alone = [sufficient_lattice([one], wanted) for one in (flat, box)]
    both = sufficient_lattice([flat, box], wanted)
    assert both is not None
    assert all(one is not None for one in alone)
    panels = [one.rows * one.strips for one in alone if one is not None]
    assert both.rows * both.strips >= max(panels)
    for study in (flat, box):
        assert study.share_at("CL", both.rows, both.strips) <= 0.006


def test_out_of_reach_is_said_with_what_is_within(plank: Convergence) -> None:
    with pytest.raises(ComputationFailed, match=r"may still err in CL by 0\.\d+ %"):
        required_lattice([plank], Wanted({"CL": 1e-12}))
    assert sufficient_lattice([plank], Wanted({"CL": 1e-12})) is None
    assert plank.least_share("CL") > 1e-12


@pytest.mark.slow
def test_predicted_errors_cover_95_of_100_random_cases() -> None:
    """Shares predicted for a lattice between the levels, against a much finer one."""
    covered = total = 0
    for seed in range(2000, 2025):
        case = random_case(seed)
        levels = Levels((3, 6, 12), (8, 16, 32))
        study = study_convergence(case.craft, case.folds, case.state, levels=levels)
        lattices = (Grid(7, 20), Grid(20, 50, span_law="matched"))
        found, exact = (
            key_numbers(
                loads_of_state(build_lattice(case.craft, case.folds, one), case.state),
                case.state,
            )
            for one in lattices
        )
        for name in ("CL", "CDi", "Cl_beta", "span_efficiency"):
            error = abs(found[name] - exact[name]) / study.sizes[name]
            covered += error <= study.share_at(name, 7, 20)
            total += 1
    assert total == 100
    assert covered >= 92


# --- options ---------------------------------------------------------------------------------


def test_wanted_errors_read_percentages_and_names() -> None:
    assert wanted_errors(["0.1%"]).shares == {"CL": 0.001, "CDi": 0.001}
    assert wanted_errors(["0.002", "Cl_beta=1%", "CL=0.1 %"]).shares == pytest.approx(
        {"CL": 0.001, "CDi": 0.002, "Cl_beta": 0.01}
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("nothing", "write a share such as 0.1% or 0.001"),
        ("Cl_beat=1%", "did you mean Cl_beta"),
        ("xyzzy=1%", "known are CL, CDi"),
        ("0%", "write a share between 0 and 1"),
        ("150%", "write a share between 0 and 1"),
        ("-0.1", "write a share between 0 and 1"),
        ("nan", "write a share between 0 and 1"),
    ],
)
def test_wanted_errors_refuse_what_is_no_share(text: str, told: str) -> None:
    with pytest.raises(InputRefused, match=told):
        wanted_errors([text])


@pytest.mark.parametrize("rows", [(4, 8), (4, 8, 8), (8, 4, 2), (0, 1, 2)])
def test_levels_refuse_what_cannot_be_extrapolated(rows: tuple[int, ...]) -> None:
    with pytest.raises(InputRefused, match="three growing numbers or more"):
        Levels(rows, (10, 20, 40))


def test_levels_are_halved_from_the_finest() -> None:
    assert Levels.up_to(16, 40) == Levels()
    assert Levels.up_to(12, 30) == Levels((3, 6, 12), (8, 15, 30))


def test_folds_probed_for_a_sweep() -> None:
    plan = SweepPlan(folds_deg=(-30.0, 0.0, 20.0, 40.0, 60.0))
    assert probe_folds(plan) == [FoldAngles(f, f) for f in (-30.0, 20.0, 60.0)]
    both = SweepPlan(folds_deg=(-30.0, 60.0), asymmetric=True)
    assert FoldAngles(-30.0, 60.0) in probe_folds(both)


# --- document, table, picture ----------------------------------------------------------------


@pytest.fixture(scope="module")
def document() -> dict[str, object]:
    study = study_convergence(load_biplane("tideline"), FoldAngles(20.0, 10.0), STATE, levels=SMALL)
    return convergence_document(study, Wanted({"CL": 0.01, "CDi": 1e-9}))


def test_document_is_plain_and_whole(document: dict[str, object]) -> None:
    read = json.loads(json.dumps(document, allow_nan=False))
    assert len(read["lattices"]) == 9
    assert read["lattices"][-1]["rows"] == 8
    assert read["lattices"][-1]["strips"] == 18
    assert read["within"]["each"]["CL"]["panels"] > 0
    assert read["within"]["each"]["CDi"] is None
    assert read["within"]["lattice"] is None
    assert "flight clearance" in read["caution"]


def test_table_shows_every_lattice_and_what_is_out_of_reach(document: dict[str, object]) -> None:
    text = convergence_table(document)
    for words in ("extrapolated", "order in rows", "Cl_beta", "none known"):
        assert words in text
    assert re.search(r"^ +8 +18 ", text, re.M)
    assert "no lattice is known to reach all of it" in text


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_picture_is_written(document: dict[str, object], tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"errors.{ending}"
    save_convergence_picture(document, path)
    assert path.stat().st_size > 10_000


# --- commands --------------------------------------------------------------------------------


def test_command_converge(run_foldspan, tmp_path: Path) -> None:
    words = ("converge", "plank", "--rows", "8", "--strips", "16", "--within", "0.5%", "--json")
    done = run_foldspan(*words, "--plot", str(tmp_path / "p.png"), cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["levels"] == {"rows": [2, 4, 8], "strips": [4, 8, 16]}
    assert found["quantities"]["CL"]["order_rows"] > 1.0
    assert max(found["within"]["found_shares"].values()) <= 0.005
    assert (tmp_path / "p.png").exists()


def test_command_point_within(run_foldspan, tmp_path: Path) -> None:
    words = ("point", "tideline", "--alpha", "4", "--fold", "20", "--within", "0.2%", "--json")
    done = run_foldspan(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert f"{found['lattice']['rows']} rows x {found['lattice']['strips']} strips" in done.stderr
    estimate, values = found["error_estimate"], found["coefficients"]
    assert 0.0 < estimate["CL"] <= 0.003 * values["CL"]
    assert estimate["Cl"] == 0.0
    refused = run_foldspan(*words, "--rows", "4", cwd=tmp_path)
    assert refused.returncode == 2
    assert "--rows beside --within" in refused.stderr


def test_command_sweep_within(run_foldspan, tmp_path: Path) -> None:
    words = ("sweep", "tideline", "--fold", "-30:30:3", "--within", "0.5%", "--out", "s.csv")
    done = run_foldspan(*words, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "--within: " in done.stderr
    assert (tmp_path / "s.csv").exists()


@pytest.mark.parametrize("finest", [(4, 40), (16, 40)])
def test_what_is_said_of_the_default_lattice_holds_on_a_much_finer_one(
    finest: tuple[int, int],
) -> None:
    """Truth: 20 x 50 with other strips, as for half-widths. It holds from coarse lattices too."""
    craft, folds = load_biplane("tideline"), FoldAngles.symmetric(0.0)
    state = FlightState(alpha=np.radians(4.0))
    study = study_convergence(craft, folds, state, levels=Levels.up_to(*finest))
    said = convergence_answer(convergence_document(study))[0]
    name, worst, lift = re.match(
        r"Least sure on the default lattice, 8 x 20, is (\w+): within ([\d.]+) % of its natural"
        r" size; CL within ([\d.]+) %\.", said,
    ).groups()  # fmt: skip

    def solved_on(grid: Grid) -> dict[str, float]:
        loads = loads_of_state(build_lattice(craft, folds, grid), state, fold_rates=False)
        return key_numbers(loads, state)

    coarse, fine = solved_on(Grid()), solved_on(Grid(20, 50, span_law="cosine"))
    for key, share in ((name, worst), ("CL", lift)):
        assert abs(coarse[key] - fine[key]) <= 0.01 * float(share) * study.sizes[key]

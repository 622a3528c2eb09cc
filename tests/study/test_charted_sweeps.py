"""Sweeps read off polynomials against every fold solved."""

from dataclasses import replace

import numpy as np
import pytest
from wide_craft import wide_case

from vlm.description.loading import load_biplane
from vlm.lattice.cellule import Grid
from vlm.study.sweep import charted_values, running
from vlm.study.sweep.cases import solve_cases
from vlm.study.sweep.charted import BESIDE_DEG, fold_chart
from vlm.study.sweep.charted_values import LOOSER, tolerance_of
from vlm.study.sweep.dataset import sweep_dataset
from vlm.study.sweep.plan import SweepPlan

SMALL = Grid(2, 8)


def both(name: str, plan: SweepPlan):
    """The dataset as a sweep makes it, and with every fold solved."""
    craft = load_biplane(name)
    plans = plan, replace(plan, exact=True)
    return tuple(sweep_dataset(craft, p, running.run_plan(craft, p)[0]) for p in plans)


def largest_error(ours, exact, name: str) -> float:
    apart = np.abs(ours[name].values - exact[name].values)
    size = float(np.nanmax(np.abs(exact[name].values)))
    return float(np.nanmax(apart)) / size if size > 1e-9 else 0.0


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("tideline", -90.0, 100.0), pytest.param("winnow", -60, 60, marks=pytest.mark.slow)],
)
def test_a_symmetric_sweep_agrees_with_every_fold_solved(name, low, high) -> None:
    plan = SweepPlan(tuple(np.linspace(low, high, 39)), (-3.0, 4.0, 9.0), grid=SMALL, errors=True)
    assert fold_chart(load_biplane(name), plan) is not None
    ours, exact = both(name, plan)
    for one in exact.data_vars:
        if str(one).endswith(("_error", "_spread")) or one in ("failure", "condition", "residual"):
            continue
        # Held against two settings; elsewhere it may be a few times as much.
        assert largest_error(ours, exact, str(one)) <= 5.0 * tolerance_of(str(one)), one
    apart = np.abs(ours["CL"] - exact["CL"])
    assert bool((apart <= ours["CL_error"]).all())
    assert bool((ours["CL_error"] > 0.0).all())


def test_an_asymmetric_map_agrees_with_every_pair_solved(monkeypatch) -> None:
    """Wide steps, so that the small map repays; its ends touch and stand by themselves.

    Rates with fold are solved beside contact alone, and are slopes of the polynomials elsewhere.
    """
    asked: list[bool] = []

    def noted(craft, plan, cases):
        asked.extend(case.fold_rates for case in cases)
        return solve_cases(craft, plan, cases)

    monkeypatch.setattr(running, "solve_cases", noted)
    plan = SweepPlan(
        (-90.0, *np.linspace(-80.0, -10.0, 16)), (5.0,), asymmetric=True, grid=Grid(2, 8)
    )
    chart = fold_chart(load_biplane("tideline"), plan)
    assert chart is not None
    assert chart.alone[0] == -90.0
    assert chart.alone[-1] < chart.pieces[0].low
    ours, exact = both("tideline", plan)
    assert 0 < sum(asked) < len(asked)
    solved = len(asked) - len(plan.cases())  # all pairs are solved for the second dataset
    assert solved < len(plan.cases()) / 2
    names = ["CL", "CDi", "Cl", "Cn", "Cm", "Cl_beta", "hinge_moment_upper_left_N_m"]
    for side in ("left", "right"):
        names += [f"CL_fold_{side}", f"Cl_fold_{side}", f"Cn_fold_{side}_stability"]
    for name in names:
        known = np.isfinite(exact[name].values)
        assert np.array_equal(known, np.isfinite(ours[name].values)), name
        assert largest_error(ours, exact, name) <= 5.0 * tolerance_of(name), name
    closed = {"fold_left": -90.0, "fold_right": -90.0}
    one, other = (float(dataset["CL"].sel(closed).squeeze()) for dataset in (ours, exact))
    assert one == pytest.approx(other, rel=1e-9)


def checked_random_sweep(
    seed: int, low: float, high: float, *, asymmetric: bool, errors: bool = True
) -> bool:
    """Hold a random craft's sweep against every fold solved; False where no chart is made."""
    craft = wide_case(seed).craft
    count = 15 if asymmetric else 41
    folds = tuple(np.linspace(low, high, count))
    plan = SweepPlan(folds, (4.0,), asymmetric=asymmetric, grid=Grid(2, 8), errors=errors)
    if fold_chart(craft, plan) is None:
        return False
    ours, exact = (running.run_plan(craft, p)[0] for p in (plan, replace(plan, exact=True)))
    reasons = [{p: v.get("failure") for p, v in results.items()} for results in (ours, exact)]
    assert reasons[0] == reasons[1]
    numbers = {p: v for p, v in exact.items() if "failure" not in v}
    for name in next(iter(numbers.values())):
        if name.endswith(("_error", "_spread")) or name in ("condition", "residual", "findings"):
            continue
        size = max(float(np.nanmax(np.abs(v[name]), initial=0.0)) for v in numbers.values())
        apart = [np.abs(ours[p][name] - v[name]) for p, v in numbers.items()]
        open_ = [p for p, v in numbers.items() if np.isnan(v[name]).any()]
        assert open_ == [p for p in numbers if np.isnan(ours[p][name]).any()], name
        worst = float(np.nanmax(apart, initial=0.0))
        assert worst <= 10.0 * tolerance_of(name) * size or size < 1e-9, name
    if not errors:
        return True
    widths = [ours[p]["CL_error"] - np.abs(ours[p]["CL"] - v["CL"]) for p, v in numbers.items()]
    assert min(float(np.min(width)) for width in widths) >= 0.0
    return True


def test_a_sweep_up_to_folds_that_cannot_be_built_agrees_with_every_fold_solved() -> None:
    """A tip meets the other wing at 76.3 degrees; the fold below stands alone, those above fail.

    Its map of pairs is among those below.
    """
    assert checked_random_sweep(30004, -80.0, 80.0, asymmetric=False, errors=False)


@pytest.mark.slow
@pytest.mark.parametrize("asymmetric", [False, True])
@pytest.mark.parametrize("seed", range(30000, 30018))
def test_sweeps_of_random_craft_agree_with_every_fold_solved(seed: int, asymmetric: bool) -> None:
    low, high = (-80.0, 80.0) if seed < 30010 else (-83.0, 77.0)
    if wide_case(seed).craft.tips:
        assert checked_random_sweep(seed, low, high, asymmetric=asymmetric)


def test_a_run_stopped_while_every_fold_was_solved_goes_on(tmp_path, monkeypatch) -> None:
    """No chart holds; the next run finds the chunks of the last one and charts nothing."""
    monkeypatch.setattr(charted_values, "TOLERANCE", 1e-15)
    monkeypatch.setattr(running, "FIRST_CHUNK", 2)
    monkeypatch.setattr(running, "CHUNK", 2)
    craft, store = load_biplane("tideline"), tmp_path / "store"
    plan = SweepPlan(tuple(np.linspace(-20.0, 20.0, 21)), grid=Grid(2, 6))
    rounds = 0

    def stopped(done: int, total: int) -> None:
        nonlocal rounds
        rounds += total == len(plan.folds_deg)
        if rounds and done >= 6:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        running.run_plan(craft, plan, store=store, report=stopped)
    counts: list[int] = []
    results, _ = running.run_plan(
        craft, plan, store=store, report=lambda done, _: counts.append(done)
    )
    assert counts[0] == 6
    assert len(results) == len(plan.folds_deg)


def test_folds_beside_a_touching_one_are_solved_by_themselves() -> None:
    craft = load_biplane("tideline")
    plan = SweepPlan(tuple(np.linspace(-90.0, 60.0, 76)), grid=SMALL)
    chart = fold_chart(craft, plan)
    assert chart is not None
    # Its ends are joined at -90 and lie beside the other's, within a strip's width, a little above.
    assert chart.alone[:2] == (-90.0, -88.0)
    assert chart.pieces[0].low >= -90.0 + BESIDE_DEG
    assert set(chart.alone) < set(plan.folds_deg)
    assert max(chart.alone) < chart.pieces[0].low
    assert fold_chart(craft, replace(plan, exact=True)) is None
    assert fold_chart(craft, replace(plan, folds_deg=(-90.0, 0.0, 10.0, 20.0))) is None


def test_what_the_polynomials_miss_is_solved(monkeypatch) -> None:
    """With a tolerance that nothing meets every fold is solved, and the numbers are the same."""
    monkeypatch.setattr(charted_values, "TOLERANCE", 1e-15)
    monkeypatch.setattr(charted_values, "LOOSER", dict.fromkeys(LOOSER, 1e-15))
    plan = SweepPlan(tuple(np.linspace(-20.0, 20.0, 21)), grid=Grid(2, 6))
    ours, exact = both("tideline", plan)
    np.testing.assert_array_equal(ours["Cl_beta"].values, exact["Cl_beta"].values)


def test_folds_out_of_reach_keep_their_reason() -> None:
    plan = SweepPlan((-120.0, *np.linspace(-40.0, 40.0, 25)), grid=Grid(2, 6))
    ours, _ = both("tideline", plan)
    assert "fold_min_deg" in str(ours["failure"].sel(fold=-120.0).item())
    assert np.isnan(float(ours["CL"].sel(fold=-120.0).squeeze()))
    assert bool(np.isfinite(ours["CL"].isel(fold=slice(1, None))).all())

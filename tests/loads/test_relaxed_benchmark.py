"""The benchmarks of the relaxed wake run, small, so that they cannot rot."""

import pytest


@pytest.mark.slow
def test_the_table_of_straight_against_relaxed_runs(run_benchmark) -> None:
    printed = run_benchmark("relaxed_wake.py", "--quick")
    assert "| tideline | +20 | 4 |" in printed
    assert "| +20/-20 | half the core |" in printed


@pytest.mark.slow
def test_the_study_of_the_models_spread_runs(run_benchmark) -> None:
    printed = run_benchmark("model_spread.py", "--count", "2", "--rows", "3", "--strips", "10")
    assert "| span_efficiency | 2 |" in printed

"""The benchmark of whole commands runs to its end, at its smallest."""

import re

import pytest


@pytest.mark.slow
def test_a_line_is_printed(run_benchmark) -> None:
    printed = run_benchmark("bench_commands.py", "--quick")
    kept, ratio = r"\d+\.\d\d s from what is kept", r"\d+\.\d\d of --exact"
    assert re.search(rf"lateral, processor time .* \d+\.\d\d s {kept}; {ratio}", printed)

"""The benchmark of power curves runs to its end, at its smallest."""


def test_the_line_is_printed(run_benchmark) -> None:
    printed = run_benchmark("bench_power.py", "--quick")
    assert "trims from cold starts" in printed

"""Importing the package says nothing, sets nothing and loads nothing heavy; help answers soon."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping

import pytest

HEAVY = {
    "distributed",
    "h5py",
    "matplotlib",
    "numba",
    "pandas",
    "pyvista",
    "scipy",
    "vtk",
    "xarray",
}

SLOW = ("scipy.optimize", "scipy.interpolate")

PROBE = """
import json, os, sys, warnings
before = {name for name in sys.modules}, dict(os.environ), list(warnings.filters), sys.path[:]
import MODULE
after = dict(os.environ), list(warnings.filters), sys.path[:]
print(json.dumps({"loaded": sorted({name.split(".")[0] for name in sys.modules} - before[0]),
                  "unchanged": list(before[1:]) == list(after)}))
"""


def imported(module: str, environment: Mapping[str, str]) -> dict[str, object]:
    """What importing a module loads and changes; fails if it prints or warns."""
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", PROBE.replace("MODULE", module)],
        env=dict(environment),
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert run.stderr == ""
    answer = json.loads(run.stdout)  # fails if anything else was printed
    assert isinstance(answer, dict)
    return answer


def test_import_prints_sets_and_loads_nothing(command_environment: Mapping[str, str]) -> None:
    answer = imported("vlm", command_environment)
    assert answer["unchanged"]
    assert set(answer["loaded"]) == {"vlm"}


def test_the_way_into_the_command_loads_click_and_no_numerics(
    command_environment: Mapping[str, str],
) -> None:
    loaded = set(imported("vlm.cli.main", command_environment)["loaded"])
    assert "click" in loaded
    assert not loaded & (HEAVY | {"numpy", "pydantic"})


@pytest.mark.parametrize(
    "module", ["vlm.description", "vlm.lattice", "vlm.quantities", "vlm.air", "vlm.frames"]
)
def test_light_rooms_load_nothing_heavy(
    module: str, command_environment: Mapping[str, str]
) -> None:
    loaded = set(imported(module, command_environment)["loaded"])
    assert not loaded & HEAVY


def test_a_point_loads_nothing_that_trims_and_sections_need(
    command_environment: Mapping[str, str],
) -> None:
    """scipy's optimisers and splines take as long to load as a small lattice to solve."""
    for module in ("vlm.study.point.point", "vlm.study.sweep.cases"):
        probe = f"import sys, {module}; print({{*sys.modules}} & {{*{SLOW}}})"
        run = subprocess.run(
            [sys.executable, "-c", probe], env=dict(command_environment), capture_output=True,
            text=True, check=True,
        )  # fmt: skip
        assert run.stdout == "set()\n", module


def test_help_answers_in_under_a_second(command_environment) -> None:
    """Of the processor's time, so that a busy machine does not fail what is fast."""
    before = os.times()
    run = subprocess.run(
        ["foldspan", "--help"], env=dict(command_environment), capture_output=True, check=False
    )
    after = os.times()
    assert run.returncode == 0
    used = after.children_user + after.children_system
    assert used - before.children_user - before.children_system < 1.0
